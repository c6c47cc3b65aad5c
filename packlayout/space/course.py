"""Where cables may run: the clearance at every cell of all zones and cable ways together, and exactly at any line.

The clearance at a point is what is left for a cable's radius: the distance to each solid less the gap kept
from it, and, of the zones and ways that hold the point, the greatest depth in one of them. It changes by no
more than a point moves, so a figure at a cell's middle bounds all points near it.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np

from packlayout.model.geometry import Box, Floats, Ints, TriMesh, Vec
from packlayout.space.cells import labelled, winding
from packlayout.space.lattice import numbered
from packlayout.space.nearest import (
    line_to_line,
    line_to_triangles,
    lower_to_line,
    lower_to_triangles,
)

CAP_MM = 45.0
"""Clearance beyond this is not told apart."""
LEAST_MM = 1.0
"""Radius of the thinnest cable that is routed."""
WALLS = "the walls"
"""Name by which the surfaces of zones and ways are asked for exemption."""
OUTSIDE_MM = -600.0
"""Of a cell in no zone, or within a solid: below the least clearance that any gap can lead to."""


@dataclass(frozen=True, slots=True, eq=False)
class Barrier:
    """Something cables keep clear of.

    Attributes:
        name: For messages.
        mesh: Its closed surface.
        gap_mm: Distance to keep.
        reach: Room of one part that only cables of that part may enter; empty for a solid.
    """

    name: str
    mesh: TriMesh
    gap_mm: float
    reach: str = ""


@dataclass(frozen=True, slots=True, eq=False)
class Laid:
    """A cable that is there already.

    Attributes:
        name: For messages.
        line: (n, 3) points along its middle, mm.
        radius_mm: Its own radius and the gap kept from it.
    """

    name: str
    line: Floats
    radius_mm: float


@dataclass(frozen=True, slots=True, eq=False)
class Course:
    """The space cables run in.

    Attributes:
        zones: Name, surface, gap to keep from it.
        ways: Name and box of each cable way.
        barriers: What to keep clear of.
        laid: Cables already there.
        origin: Lowest corner of the first cell.
        pitch_mm: Side of a cell.
        held: (nx, ny, nz) depth in the best zone or way.
        clear: The same, lowered by the barriers that stand in everybody's way and the cables laid.
        numbers: Running number of each cell that is in a zone or way, -1 for the others.
        reaches: For each barrier that only some may enter: where its cells are, and their clearance.
    """

    zones: tuple[tuple[str, TriMesh, float], ...]
    ways: tuple[tuple[str, Box], ...]
    barriers: tuple[Barrier, ...]
    laid: tuple[Laid, ...]
    origin: Vec
    pitch_mm: float
    held: Floats
    clear: Floats
    numbers: Ints
    reaches: tuple[tuple[str, tuple[slice, ...], Floats], ...] = ()

    def open_to(self, *parts: str) -> Floats:
        """Clearance for a cable between these parts: their own reach is open to it, that of others not."""
        clear = self.clear.copy()
        for reach, window, found in self.reaches:
            if reach not in parts:
                np.minimum(clear[window], found, out=clear[window])
        return clear

    def with_cable(self, name: str, line: Floats, radius_mm: float) -> "Course":
        """The same with one more cable in the way."""
        clear = self.clear.copy()
        lower_to_line(clear, line, radius_mm, np.array(self.origin), self.pitch_mm, CAP_MM)
        return replace(self, laid=(*self.laid, Laid(name, line, radius_mm)), clear=clear)

    def cell(self, point: Floats) -> tuple[int, int, int]:
        """The cell a point lies in."""
        a, b, c = np.floor((point - self.origin) / self.pitch_mm + 1e-9).astype(int)
        return int(a), int(b), int(c)

    def middle(self, cell: Sequence[int]) -> Floats:
        """Middle of a cell, mm."""
        return np.array(self.origin) + (np.array(cell, dtype=float) + 0.5) * self.pitch_mm

    def at(self, clear: Floats, points: Floats) -> Floats:
        """(n,) clearance at points, between the middles of eight cells; a guess that `worst` makes sure of."""
        from scipy.ndimage import map_coordinates

        where = ((points - self.origin) / self.pitch_mm - 0.5).T
        return np.asarray(map_coordinates(clear, where, order=1, mode="nearest"), dtype=np.float64)

    def worst(
        self, line: Floats, parts: tuple[str, ...], exempt: Callable[[str], Floats | None], enough_mm: float
    ) -> tuple[float, str, Vec]:
        """The least clearance along a line, exactly, what sets it, and where.

        Args:
            line: (n, 3) points no farther apart than a few mm.
            parts: Between whose ports it runs.
            exempt: For a barrier's name, which of the n - 1 segments need not keep from it (the stub out of a
                port need not keep from its own part); None for none.
            enough_mm: Clearance that is asked for: what surely has more is not worked out to the last digit.

        Returns:
            Clearance, mm: what the cable's radius may be at least; name; place.
        """
        found: list[tuple[float, str, int]] = []
        around = Box(_vec(line.min(axis=0)), _vec(line.max(axis=0)))
        for barrier in self.barriers:
            if barrier.reach in parts and barrier.reach:
                continue
            cap = enough_mm + 5.0 + barrier.gap_mm
            if around.distance(barrier.mesh.bounds) >= cap:
                continue
            free = exempt(barrier.name)
            if free is not None and free.all():
                continue
            distance = (
                line_to_triangles(line, np.ascontiguousarray(barrier.mesh.triangles), cap) - barrier.gap_mm
            )
            if free is not None:
                distance = np.where(free > 0, CAP_MM, distance)
            k = int(np.argmin(distance))
            found.append((float(distance[k]), barrier.name, k))
        for other in self.laid:
            distance = line_to_line(line, other.line, enough_mm + 5.0 + other.radius_mm) - other.radius_mm
            k = int(np.argmin(distance))
            found.append((float(distance[k]), other.name, k))
        depth, name, k = self._depth(line, enough_mm + 5.0, exempt(WALLS))
        found.append((depth, name, k))
        # of two that are as near, a thing is told rather than a wall
        clearance, name, k = min(found, key=lambda f: round(f[0], 1))
        return clearance, name, _vec(line[k])

    def _depth(self, line: Floats, enough_mm: float, free: Floats | None) -> tuple[float, str, int]:
        """The least depth of the points of a line in a zone or way, those between exempt segments left out."""
        deep = np.full(len(line), OUTSIDE_MM)
        for _, box in self.ways:
            deep = np.maximum(deep, np.minimum(line - box.lo, np.array(box.hi) - line).min(axis=1))
        # depth changes by no more than a point moves: a cell's figure bounds all points in it
        cells = np.floor((line - self.origin) / self.pitch_mm + 1e-9).astype(int)
        cells = np.clip(cells, 0, np.array(self.held.shape) - 1)
        off = np.linalg.norm(line - (np.array(self.origin) + (cells + 0.5) * self.pitch_mm), axis=1)
        bound = self.held[tuple(cells.T)] - off
        names = np.full(len(line), "the walls of the cable ways", dtype=object)
        sure = np.maximum(deep, bound)
        if free is not None:
            sure[np.append(free > 0, free[-1] > 0) | np.append(free[0] > 0, free > 0)] = enough_mm
        for k in np.flatnonzero(sure < enough_mm):
            for name, mesh, gap in self.zones:
                distance = _zone_depth(mesh, line[k], gap, enough_mm, bool(bound[k] > 0))
                if distance > sure[k]:
                    sure[k], names[k] = distance, name
        k = int(np.argmin(sure))
        return float(min(sure[k], enough_mm)), str(names[k]), k


def _zone_depth(mesh: TriMesh, point: Floats, gap: float, cap: float, known_inside: bool) -> float:
    """Distance of a point in a zone to its surface, less gap; `OUTSIDE_MM` for a point outside."""
    box = mesh.bounds
    if any(not lo <= p <= hi for lo, p, hi in zip(box.lo, point, box.hi, strict=True)):
        return OUTSIDE_MM
    line = np.stack([point, point])
    distance = float(line_to_triangles(line, np.ascontiguousarray(mesh.triangles), cap + gap)[0]) - gap
    return distance if known_inside or winding(mesh, point) > 0.5 else OUTSIDE_MM


def _vec(v: Floats) -> Vec:
    return float(v[0]), float(v[1]), float(v[2])


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
    boxes = [mesh.bounds for _, mesh, _ in zones] + [box for _, box in ways]
    lo = np.min([box.lo for box in boxes], axis=0) - 2 * pitch_mm
    hi = np.max([box.hi for box in boxes], axis=0) + 2 * pitch_mm
    lo = np.floor(lo / pitch_mm) * pitch_mm
    shape = tuple(int(n) for n in np.ceil((hi - lo) / pitch_mm))
    origin = (float(lo[0]), float(lo[1]), float(lo[2]))
    held = np.full(shape, OUTSIDE_MM)
    for _, mesh, gap in zones:
        _raise_to_zone(held, mesh, gap, origin, pitch_mm)
    for _, box in ways:
        _raise_to_box(held, box, origin, pitch_mm)
    # a cell is worth a number when a thin cable might pass it
    numbers = numbered(held > LEAST_MM)
    made = Course(
        tuple(zones), tuple(ways), tuple(barriers), (), origin, pitch_mm, held, held.copy(), numbers
    )
    reaches: list[tuple[str, tuple[slice, ...], Floats]] = []
    for barrier in barriers:
        if not barrier.reach:
            _lower(made.clear, barrier, made)
            continue
        window = _window(barrier.mesh.bounds.grown(CAP_MM), origin, pitch_mm, shape)
        if window is not None:
            reaches.append((barrier.reach, window, _room(barrier.mesh.bounds, window, origin, pitch_mm)))
    return replace(made, reaches=tuple(reaches))


def _room(box: Box, window: tuple[slice, ...], origin: Vec, pitch: float) -> Floats:
    """Distance to a box at the middles of cells; `OUTSIDE_MM` within it."""
    gaps: list[Floats] = []
    for s, lo, hi, o in zip(window, box.lo, box.hi, origin, strict=True):
        at = o + (np.arange(s.start, s.stop) + 0.5) * pitch
        gaps.append(np.maximum(np.maximum(lo - at, at - hi), 0.0))
    away = np.sqrt(gaps[0][:, None, None] ** 2 + gaps[1][None, :, None] ** 2 + gaps[2][None, None, :] ** 2)
    return np.where(away > 0, away, OUTSIDE_MM)


def _lower(clear: Floats, barrier: Barrier, course: Course) -> None:
    triangles = np.ascontiguousarray(barrier.mesh.triangles)
    lower_to_triangles(clear, triangles, barrier.gap_mm, np.array(course.origin), course.pitch_mm, CAP_MM)
    window = _window(barrier.mesh.bounds, course.origin, course.pitch_mm, clear.shape)
    if window is not None:
        _fill(clear, barrier.mesh, window, course)


def _fill(clear: Floats, mesh: TriMesh, window: tuple[slice, ...], course: Course) -> None:
    """No clearance within a solid: groups of cells away from its surface are in or out as a whole."""
    part = np.full(tuple(s.stop - s.start for s in window), CAP_MM)
    corner = np.array(course.origin) + np.array([s.start for s in window]) * course.pitch_mm
    lower_to_triangles(part, np.ascontiguousarray(mesh.triangles), 0.0, corner, course.pitch_mm, CAP_MM)
    labels, count = labelled(part > course.pitch_mm * 0.5)
    inside = np.zeros(part.shape, dtype=bool)
    for label in range(1, count + 1):
        cell = np.argwhere(labels == label)[0]
        if winding(mesh, corner + (cell + 0.5) * course.pitch_mm) > 0.5:
            inside |= labels == label
    for cell in np.argwhere((labels == 0) & (part < course.pitch_mm)):
        inside[tuple(cell)] = winding(mesh, corner + (cell + 0.5) * course.pitch_mm) > 0.5
    view = clear[window]
    view[inside] = np.minimum(view[inside], OUTSIDE_MM)


def _raise_to_zone(held: Floats, mesh: TriMesh, gap: float, origin: Vec, pitch: float) -> None:
    window = _window(mesh.bounds, origin, pitch, held.shape)
    assert window is not None
    deep = np.full(tuple(s.stop - s.start for s in window), CAP_MM)
    corner = np.array(origin) + np.array([s.start for s in window]) * pitch
    lower_to_triangles(deep, np.ascontiguousarray(mesh.triangles), gap, corner, pitch, CAP_MM)
    # between two neighbours that are both farther from the surface than half a cell no surface runs
    labels, count = labelled(deep + gap > pitch * 0.5)
    for label in range(1, count + 1):
        cells = labels == label
        cell = np.argwhere(cells)[0]
        if winding(mesh, corner + (cell + 0.5) * pitch) > 0.5:
            view = held[window]
            view[cells] = np.maximum(view[cells], deep[cells])


def _raise_to_box(held: Floats, box: Box, origin: Vec, pitch: float) -> None:
    window = _window(box, origin, pitch, held.shape)
    assert window is not None
    sides: list[Floats] = []
    for s, lo, hi, o in zip(window, box.lo, box.hi, origin, strict=True):
        at = o + (np.arange(s.start, s.stop) + 0.5) * pitch
        sides.append(np.minimum(at - lo, hi - at))
    depth = np.minimum(np.minimum(sides[0][:, None, None], sides[1][None, :, None]), sides[2][None, None, :])
    view = held[window]
    np.maximum(view, np.minimum(depth, CAP_MM), out=view)


def _window(box: Box, origin: Vec, pitch: float, shape: tuple[int, ...]) -> tuple[slice, ...] | None:
    made: list[slice] = []
    for lo, hi, o, n in zip(box.lo, box.hi, origin, shape, strict=True):
        a, b = max(0, int(np.floor((lo - o) / pitch)) - 1), min(n, int(np.ceil((hi - o) / pitch)) + 1)
        if a >= b:
            return None
        made.append(slice(a, b))
    return tuple(made)
