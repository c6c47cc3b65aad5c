"""Makes the space that cables run in: all zones and cable ways cut into cells, and the clearance of each."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np

from packlayout.model.geometry import Box, Floats, TriMesh, Vec
from packlayout.space.cells import labelled, windings
from packlayout.space.course import CAP_MM, OUTSIDE_MM, Barrier, Course, window_of
from packlayout.space.lattice import Field, Flags, Grid, grid_of
from packlayout.space.surface import Surface, surface

LEAST_MM = 1.0
"""Radius of the thinnest cable that is routed."""


@dataclass(frozen=True, slots=True, eq=False)
class _Ground:
    """Zones and ways cut into cells: the part of a course that all layouts of a vehicle share."""

    bodies: tuple[tuple[Surface, float], ...]
    origin: Vec
    held: Field
    grid: Grid


@lru_cache(maxsize=2)
def _ground(
    zones: tuple[tuple[str, TriMesh, float], ...], ways: tuple[tuple[str, Box], ...], pitch_mm: float
) -> _Ground:
    """Depth of each cell in the best zone or way; kept, since many layouts of one vehicle are routed in turn."""
    boxes = [mesh.bounds for _, mesh, _ in zones] + [box for _, box in ways]
    lo = np.min([box.lo for box in boxes], axis=0) - 2 * pitch_mm
    hi = np.max([box.hi for box in boxes], axis=0) + 2 * pitch_mm
    lo = np.floor(lo / pitch_mm) * pitch_mm
    shape = tuple(int(n) for n in np.ceil((hi - lo) / pitch_mm))
    origin = (float(lo[0]), float(lo[1]), float(lo[2]))
    held = np.full(shape, OUTSIDE_MM, dtype=np.float32)
    bodies = tuple((surface(name, mesh), gap) for name, mesh, gap in zones)
    for body, gap in bodies:
        _raise_to_zone(held, body, gap, origin, pitch_mm)
    for _, box in ways:
        _raise_to_box(held, box, origin, pitch_mm)
    held.setflags(write=False)
    # a cell is worth a number when a thin cable might pass it
    return _Ground(bodies, origin, held, grid_of(held > LEAST_MM))


def course(
    zones: Sequence[tuple[str, TriMesh, float]],
    ways: Sequence[tuple[str, Box]],
    barriers: Sequence[Barrier],
    pitch_mm: float,
) -> Course:
    """Cut all zones and ways into cells and reckon the clearance of each.

    Args:
        zones: Name, closed surface, gap to keep from it.
        ways: Name and box; nothing is kept from their own faces but the cable's radius.
        barriers: What to keep clear of.
        pitch_mm: Side of a cell.

    Returns:
        The course.
    """
    ground = _ground(tuple(zones), tuple(ways), pitch_mm)
    origin, shape, held = ground.origin, ground.held.shape, ground.held
    bare = held.copy()
    solids = tuple(surface(b.name, b.mesh) for b in barriers)
    made = Course(ground.bodies, tuple(ways), tuple(barriers), solids, (), origin, pitch_mm, held, bare, bare,
                  ground.grid)  # fmt: skip
    reaches: list[tuple[str, tuple[slice, ...], Field]] = []
    for barrier, body in zip(barriers, solids, strict=True):
        window = window_of(body.box.grown(CAP_MM + barrier.gap_mm), origin, pitch_mm, shape)
        if window is None:
            continue
        if barrier.reach:
            reaches.append((barrier.reach, window, _room(body.box, window, origin, pitch_mm)))
        else:
            _lower(bare, body, barrier.gap_mm, window, made)
    return replace(made, reaches=tuple(reaches))


def _room(box: Box, window: tuple[slice, ...], origin: Vec, pitch: float) -> Field:
    """Distance to a box at the middles of cells; `OUTSIDE_MM` within it."""
    gaps: list[Floats] = []
    for s, lo, hi, o in zip(window, box.lo, box.hi, origin, strict=True):
        at = o + (np.arange(s.start, s.stop) + 0.5) * pitch
        gaps.append(np.maximum(np.maximum(lo - at, at - hi), 0.0))
    away = np.sqrt(gaps[0][:, None, None] ** 2 + gaps[1][None, :, None] ** 2 + gaps[2][None, None, :] ** 2)
    return np.where(away > 0, away, OUTSIDE_MM).astype(np.float32)


def _lower(clear: Field, body: Surface, gap: float, window: tuple[slice, ...], course: Course) -> None:
    """Distance less gap round a solid, and no clearance within it."""
    found, inside = _distances(body, window, course.origin, course.pitch_mm, CAP_MM + gap)
    view = clear[window]
    np.minimum(view, found - np.float32(gap), out=view)
    view[inside] = np.minimum(view[inside], OUTSIDE_MM)


def _raise_to_zone(held: Field, body: Surface, gap: float, origin: Vec, pitch: float) -> None:
    window = window_of(body.box, origin, pitch, held.shape)
    assert window is not None
    found, inside = _distances(body, window, origin, pitch, CAP_MM + gap)
    view = held[window]
    view[inside] = np.maximum(view[inside], found[inside] - np.float32(gap))


def _distances(
    body: Surface, window: tuple[slice, ...], origin: Vec, pitch: float, cap: float
) -> tuple[Field, Flags]:
    """Distance of the middles of cells to a surface, and which lie within it."""
    corner = np.array(origin) + np.array([s.start for s in window]) * pitch
    found = body.field(tuple(s.stop - s.start for s in window), corner, pitch, cap)
    # between two neighbours that are both farther from the surface than half a cell no surface runs
    labels, count = labelled(found > pitch / 2 + body.guess_mm)
    groups: Flags = np.zeros(count + 1, dtype=np.bool_)
    _, first = np.unique(labels.ravel(), return_index=True)
    cells = np.stack(np.unravel_index(first, labels.shape), axis=1)
    known = labels.ravel()[first]
    groups[known] = windings(body.mesh, corner + (cells + 0.5) * pitch) > 0.5
    inside: Flags = groups[labels]
    near = np.argwhere(labels == 0)
    if body.guess_mm:
        # too many triangles to ask for each cell: what lies beside the surface counts as outside
        inside[tuple(near.T)] = False
    else:
        inside[tuple(near.T)] = windings(body.mesh, corner + (near + 0.5) * pitch) > 0.5
    return found, inside


def _raise_to_box(held: Field, box: Box, origin: Vec, pitch: float) -> None:
    window = window_of(box, origin, pitch, held.shape)
    assert window is not None
    sides: list[Floats] = []
    for s, lo, hi, o in zip(window, box.lo, box.hi, origin, strict=True):
        at = o + (np.arange(s.start, s.stop) + 0.5) * pitch
        sides.append(np.minimum(at - lo, hi - at))
    depth = np.minimum(np.minimum(sides[0][:, None, None], sides[1][None, :, None]), sides[2][None, None, :])
    view = held[window]
    np.maximum(view, np.minimum(depth, CAP_MM), out=view)
