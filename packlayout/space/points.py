"""Optimistic space: points of a regular grid that may lie in a part, and those that surely cannot.

The counterpart of the cells. A cell is free only when all of it surely is; a point is shut only when it surely
is: outside the zone, in a keep-out, or nearer to a surface than its clearance. A box that stands free, wherever
it stands, holds open points only, and at least floor(side / pitch) of them along each axis. So what finds no
place among the open points finds none at all.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numba
import numpy as np

from packlayout.model.geometry import Floats, TriMesh, Vec
from packlayout.space.cells import Bools
from packlayout.space.nearest import point_triangle

# points stand a little off round figures, so that columns of them miss the edges of surfaces drawn on such
OFF: Vec = (0.0137, 0.0219, 0.0181)


@dataclass(frozen=True, slots=True, eq=False)
class Points:
    """The points of one zone.

    Attributes:
        zone: Name of the zone.
        first: First point, mm, vehicle axes.
        pitch_mm: Between points.
        open: (nx, ny, nz) True unless a part can surely not hold the point.
    """

    zone: str
    first: Vec
    pitch_mm: float
    open: Bools


def open_points(
    zone: str, surface: TriMesh, clearance_mm: float, keep_outs: Sequence[tuple[TriMesh, float]], pitch_mm: float
) -> Points:  # fmt: skip
    """The points of a zone that a part may hold.

    Args:
        zone: Name of the zone.
        surface: Its closed surface.
        clearance_mm: Distance that parts keep from it.
        keep_outs: Closed surfaces with the distance to keep from each.
        pitch_mm: Between points.
    """
    bounds = surface.bounds
    x, y, z = (lo + off for lo, off in zip(bounds.lo, OFF, strict=True))
    first = (x, y, z)
    shape = tuple(max(1, int((hi - o) // pitch_mm) + 1) for hi, o in zip(bounds.hi, first, strict=True))
    good = within(surface, first, pitch_mm, shape)
    for mesh, distance in keep_outs:
        box = mesh.bounds.grown(distance)
        lo = [max(0, int((a - o) // pitch_mm)) for a, o in zip(box.lo, first, strict=True)]
        hi = [min(n, int((b - o) // pitch_mm) + 2) for b, o, n in zip(box.hi, first, shape, strict=True)]
        if any(a >= b for a, b in zip(lo, hi, strict=True)):
            continue
        start = (first[0] + lo[0] * pitch_mm, first[1] + lo[1] * pitch_mm, first[2] + lo[2] * pitch_mm)
        size = tuple(b - a for a, b in zip(lo, hi, strict=True))
        shut = within(mesh, start, pitch_mm, size) | _near(mesh, start, pitch_mm, size, distance)
        good[tuple(slice(a, b) for a, b in zip(lo, hi, strict=True))] &= ~shut
    return Points(zone, first, pitch_mm, good & ~_near(surface, first, pitch_mm, shape, clearance_mm))


def _near(mesh: TriMesh, first: Vec, pitch: float, shape: tuple[int, ...], distance: float) -> Bools:
    """Points nearer to a surface than a distance, exactly."""
    hit = np.zeros(shape, dtype=np.bool_)
    if distance > 0:
        _mark_near(np.ascontiguousarray(mesh.triangles), np.array(first), pitch, distance - 1e-6, hit)
    return hit


@numba.njit(cache=True)
def _mark_near(triangles: Floats, first: Floats, pitch: float, distance: float, hit: Bools) -> None:
    lo = np.empty(3, np.int64)
    hi = np.empty(3, np.int64)
    for t in range(triangles.shape[0]):
        for k in range(3):
            least = min(triangles[t, 0, k], min(triangles[t, 1, k], triangles[t, 2, k]))
            most = max(triangles[t, 0, k], max(triangles[t, 1, k], triangles[t, 2, k]))
            lo[k] = max(0, int(np.ceil((least - distance - first[k]) / pitch)))
            hi[k] = min(hit.shape[k] - 1, int(np.floor((most + distance - first[k]) / pitch)))
        for i in range(lo[0], hi[0] + 1):
            for j in range(lo[1], hi[1] + 1):
                for m in range(lo[2], hi[2] + 1):
                    if hit[i, j, m]:
                        continue
                    x, y, z = first[0] + i * pitch, first[1] + j * pitch, first[2] + m * pitch
                    if point_triangle(x, y, z, triangles[t]) < distance:
                        hit[i, j, m] = True


def within(mesh: TriMesh, first: Vec, pitch: float, shape: tuple[int, ...]) -> Bools:
    """Which points of a grid a closed surface encloses: by crossings of an upright line through each column."""
    flips = np.zeros(shape, dtype=np.int8)
    _cross(np.ascontiguousarray(mesh.triangles), np.array(first), pitch, flips)
    return np.cumsum(flips, axis=2, dtype=np.int64) % 2 == 1


@numba.njit(cache=True)
def _cross(triangles: Floats, first: Floats, pitch: float, flips: np.ndarray) -> None:  # type: ignore[type-arg]
    """Count, at the first point above it, each crossing of a column with a triangle."""
    for t in range(triangles.shape[0]):
        ax, ay, az = triangles[t, 0, 0], triangles[t, 0, 1], triangles[t, 0, 2]
        bx, by, bz = triangles[t, 1, 0], triangles[t, 1, 1], triangles[t, 1, 2]
        cx, cy, cz = triangles[t, 2, 0], triangles[t, 2, 1], triangles[t, 2, 2]
        area = (bx - ax) * (cy - ay) - (cx - ax) * (by - ay)
        if area == 0.0:
            continue
        i0 = max(0, int(np.ceil((min(ax, min(bx, cx)) - first[0]) / pitch)))
        i1 = min(flips.shape[0] - 1, int(np.floor((max(ax, max(bx, cx)) - first[0]) / pitch)))
        j0 = max(0, int(np.ceil((min(ay, min(by, cy)) - first[1]) / pitch)))
        j1 = min(flips.shape[1] - 1, int(np.floor((max(ay, max(by, cy)) - first[1]) / pitch)))
        for i in range(i0, i1 + 1):
            x = first[0] + i * pitch
            for j in range(j0, j1 + 1):
                y = first[1] + j * pitch
                u = ((bx - x) * (cy - y) - (cx - x) * (by - y)) / area
                v = ((cx - x) * (ay - y) - (ax - x) * (cy - y)) / area
                w = 1.0 - u - v
                if u < 0.0 or v < 0.0 or w < 0.0:
                    continue
                k = int(np.ceil((u * az + v * bz + w * cz - first[2]) / pitch))
                if k < flips.shape[2]:
                    flips[i, j, max(k, 0)] ^= 1
