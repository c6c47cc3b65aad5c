"""Straight ways in and out of a zone: what stands between a box and the side that the zone opens to."""

from collections.abc import Sequence
from functools import lru_cache

import numpy as np

from packlayout.model.geometry import Box, Floats, TriMesh, Vec
from packlayout.space.cells import Bools, Space, Sums, near_surface, running_sums
from packlayout.space.touching import box_touches

OPEN_SLOPE = 0.5
"""A wall whose outward normal has this much of the open direction is part of the open side: bonnet, lid, hatch."""


@lru_cache(maxsize=64)
def triangles_of(mesh: TriMesh) -> Floats:
    """(m, 3, 3) corners of a surface, laid out once."""
    return np.ascontiguousarray(mesh.triangles)


@lru_cache(maxsize=32)
def walls_of(surface: TriMesh, way: Vec, lid_from_mm: float | None = None) -> Floats:
    """Triangles of a zone that stand in the way of leaving it in a direction.

    Args:
        surface: Closed surface of the zone.
        way: Unit vector along an axis.
        lid_from_mm: Coordinate along that axis from which on the walls come away with the lid.

    Returns:
        (m, 3, 3); those that face the open side are left out.
    """
    t = surface.triangles
    normal = np.cross(t[:, 1] - t[:, 0], t[:, 2] - t[:, 0])
    length = np.linalg.norm(normal, axis=1)
    facing = normal @ np.array(way) > OPEN_SLOPE * np.maximum(length, 1e-12)
    if lid_from_mm is not None:
        along = t @ np.array(way)
        facing |= along.min(axis=1) >= lid_from_mm * sum(way)
    return np.ascontiguousarray(t[~facing])


def way_sums(
    space: Space, surface: TriMesh, keep_outs: Sequence[TriMesh], way: Vec, lid_from_mm: float | None = None
) -> Sums:
    """Running sums of the cells that a part may pass through on its way out.

    Args:
        space: The cells of the zone.
        surface: Its closed surface.
        keep_outs: What stays in the vehicle.
        way: Unit vector along an axis.
        lid_from_mm: See `walls_of`.
    """
    shape, pitch = space.free.shape, space.pitch_mm
    x, y, z = (o + pitch / 2 for o in space.origin)
    shut = _shut(walls_of(surface, way, lid_from_mm), (x, y, z), pitch, shape)
    for mesh in keep_outs:
        shut |= _shut(mesh.triangles, (x, y, z), pitch, shape)
    return running_sums(~shut)


def _shut(triangles: Floats, first: Vec, pitch: float, shape: tuple[int, ...]) -> Bools:
    flat = TriMesh(triangles.reshape(-1, 3).copy(), np.arange(3 * len(triangles)).reshape(-1, 3))
    return near_surface(flat, first, pitch, shape, pitch / 2)


def swept(box: Box, way: Vec, end: Box) -> Box:
    """All that a box sweeps when it leaves another box in a direction, itself included."""
    lo = tuple(min(a, e) if w < 0 else a for a, e, w in zip(box.lo, end.lo, way, strict=True))
    hi = tuple(max(b, e) if w > 0 else b for b, e, w in zip(box.hi, end.hi, way, strict=True))
    return Box((lo[0], lo[1], lo[2]), (hi[0], hi[1], hi[2]))


def passes(box: Box, way: Vec, end: Box, walls: Floats, solids: Sequence[TriMesh]) -> int | None:
    """Whether a box leaves a zone straight.

    Args:
        box: The thing.
        way: Unit vector along an axis.
        end: Bounds of the zone.
        walls: Its triangles that stand in the way (`walls_of`).
        solids: What stays in the vehicle.

    Returns:
        None when nothing stands in the way; -1 for a wall; else the index of the solid.
    """
    path = swept(box, way, end).grown(-1e-3)
    lo, hi = np.array(path.lo), np.array(path.hi)
    if box_touches(walls, lo, hi):
        return -1
    for n, mesh in enumerate(solids):
        bounds = mesh.bounds
        if bounds.overlap_depth(path) > 0 and box_touches(triangles_of(mesh), lo, hi):
            return n
    return None
