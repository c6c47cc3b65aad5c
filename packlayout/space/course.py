"""Where cables may run: the clearance at every cell of all zones and cable ways together, and exactly at any line.

The clearance at a point is what is left for a cable's radius: the distance to each solid less the gap kept
from it, and, of the zones and ways that hold the point, the greatest depth in one of them. It changes by no
more than a point moves, so a figure at a cell's middle bounds all points near it.
"""

from collections.abc import Callable, Collection, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from packlayout.model.geometry import Box, Floats, TriMesh, Vec
from packlayout.space.cells import windings
from packlayout.space.lattice import Crowd, Field, Flags, Grid
from packlayout.space.nearest import (
    least_between,
    line_to_line,
    line_to_triangles,
    lower_to_line,
)
from packlayout.space.surface import Surface

CAP_MM = 45.0
"""Clearance beyond this is not told apart."""
CABLE_CAP_MM = 30.0
"""Clearance to other cables likewise: more than any bundle's radius."""
SHARED_MM = 100.0
"""How far from its own port a cable may lie in another part's reach (common practice, no source)."""
MOST_DEAR = 60
EVERY_MM = 40.0
"""Pieces of a cable from which others are kept by a price: coarse, since a few millimetres do not matter there."""
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
        window: The cells near it.
        found: Their clearance to it.
        fixed: True for what cannot be laid elsewhere, such as a busbar.
    """

    name: str
    line: Floats
    radius_mm: float
    window: tuple[slice, ...]
    found: Field
    fixed: bool = False


@dataclass(frozen=True, slots=True, eq=False)
class Course:
    """The space cables run in.

    Attributes:
        zones: Surface, gap to keep from it.
        ways: Name and box of each cable way.
        barriers: What to keep clear of.
        solids: Surface of each of them.
        laid: Cables already there.
        origin: Lowest corner of the first cell.
        pitch_mm: Side of a cell.
        held: (nx, ny, nz) depth in the best zone or way.
        bare: The same, lowered by the barriers that stand in everybody's way.
        clear: The same, lowered by the cables laid as well.
        grid: Numbers of the cells that are in a zone or way.
        sleeves: Boxes in which a cable that wants conduit is thicker by it.
        reaches: For each barrier that only some may enter: where its cells are, and their clearance.
    """

    zones: tuple[tuple[Surface, float], ...]
    ways: tuple[tuple[str, Box], ...]
    barriers: tuple[Barrier, ...]
    solids: tuple[Surface, ...]
    laid: tuple[Laid, ...]
    origin: Vec
    pitch_mm: float
    held: Field
    bare: Field
    clear: Field
    grid: Grid
    reaches: tuple[tuple[str, tuple[slice, ...], Field], ...] = ()
    sleeves: tuple[Box, ...] = ()

    def open_to(self, parts: Sequence[str], ports: Sequence[Vec]) -> Field:
        """Clearance for a cable between these parts: their own reach is open to it, that of others not.

        Where the room in front of one of its ports lies in another part's reach, the two share it.
        """
        clear = self.clear.copy()
        for reach, window, found in self.reaches:
            if reach in parts:
                continue
            shared = found
            for port in ports:
                lo = np.array([s.start for s in window])
                near = np.array(self.cell(np.array(port))) - lo
                n = int(np.ceil(SHARED_MM / self.pitch_mm))
                if ((near >= -n) & (near < np.array(found.shape) + n)).all():
                    cube = tuple(slice(max(0, int(v) - n), max(0, int(v) + n + 1)) for v in near)
                    shared = shared.copy() if shared is found else shared
                    shared[cube] = CAP_MM
            np.minimum(clear[window], shared, out=clear[window])
        return clear

    def sleeved(self, points: Floats) -> Flags:
        """(n,) which points lie in a box for sleeves."""
        inside = np.zeros(len(points), dtype=np.bool_)
        for box in self.sleeves:
            inside |= ((points >= box.lo) & (points <= box.hi)).all(axis=1)
        return inside

    @property
    def rooms(self) -> tuple[str, ...]:
        """Names of the barriers that are rooms of a part, not solids."""
        return tuple(barrier.name for barrier in self.barriers if barrier.reach)

    def with_cable(self, name: str, line: Floats, radius_mm: float, fixed: bool = False) -> "Course":
        """The same with one more cable in the way."""
        lo, hi = line.min(axis=0), line.max(axis=0)
        around = Box(_vec(lo), _vec(hi)).grown(CABLE_CAP_MM + radius_mm)
        window = window_of(around, self.origin, self.pitch_mm, self.clear.shape)
        if window is None:
            window = (slice(0, 0),) * 3
        found = np.full(tuple(s.stop - s.start for s in window), CAP_MM, dtype=np.float32)
        corner = np.array(self.origin) + np.array([s.start for s in window]) * self.pitch_mm
        lower_to_line(found, line, radius_mm, corner, self.pitch_mm, CABLE_CAP_MM)
        clear = self.clear.copy()
        np.minimum(clear[window], found, out=clear[window])
        return replace(
            self, laid=(*self.laid, Laid(name, line, radius_mm, window, found, fixed)), clear=clear
        )

    def without(self, *names: str) -> "Course":
        """The same with some cables taken out again."""
        return self._with_only(tuple(cable for cable in self.laid if cable.name not in names))

    @property
    def cleared(self) -> "Course":
        """The same without any cable that can be laid elsewhere."""
        return self._with_only(tuple(cable for cable in self.laid if cable.fixed))

    def _with_only(self, kept: tuple[Laid, ...]) -> "Course":
        clear = self.bare.copy()
        for cable in kept:
            np.minimum(clear[cable.window], cable.found, out=clear[cable.window])
        return replace(self, laid=kept, clear=clear)

    def crowd(self, need_mm: float, weights: Mapping[str, int]) -> Crowd:
        """How many times dearer each cell is made by the cables laid, flat, where they leave less than a clearance."""
        made = np.zeros(self.clear.shape, dtype=np.int32)
        for cable in self.laid:
            made[cable.window] += np.where(cable.found < need_mm, weights.get(cable.name, 0), 0)
        return np.minimum(made.ravel(), MOST_DEAR).astype(np.uint8)

    def beside(self, names: Collection[str], within_mm: float, weight: int) -> Crowd:
        """How many times dearer each cell is made by lying within a distance of some cables laid, flat.

        Args:
            names: Of those cables; their conduit does not count.
            within_mm: From their jackets.
            weight: Of a cell that lies just within; twice that beside the jacket, so that there is always a way away.
        """
        made = np.zeros(self.clear.shape, dtype=np.int32)
        for cable in {
            cable.name: cable for cable in reversed(self.laid)
        }.values():  # the first of each name is bare
            around = Box(_vec(cable.line.min(axis=0)), _vec(cable.line.max(axis=0)))
            window = window_of(
                around.grown(within_mm + cable.radius_mm), self.origin, self.pitch_mm, made.shape
            )
            if cable.name not in names or window is None:
                continue
            found = np.full(tuple(s.stop - s.start for s in window), within_mm, dtype=np.float32)
            corner = np.array(self.origin) + np.array([s.start for s in window]) * self.pitch_mm
            lower_to_line(found, _evenly(cable.line), cable.radius_mm, corner, self.pitch_mm, within_mm)
            nearer = weight + np.ceil(weight * (within_mm - np.maximum(found, 0.0)) / max(within_mm, 1e-9))
            made[window] += np.where(found < within_mm, nearer, 0).astype(np.int32)
        return np.minimum(made.ravel(), MOST_DEAR).astype(np.uint8)

    def met(self, line: Floats, radius_mm: float) -> tuple[str, ...]:
        """Names of the cables laid that one along a line would touch."""
        touched = (
            cable.name
            for cable in self.laid
            if not cable.fixed
            and float(line_to_line(line, cable.line, radius_mm + cable.radius_mm + 1.0).min())
            < radius_mm + cable.radius_mm
        )
        return tuple(dict.fromkeys(touched))  # a cable in conduit is there twice

    def cell(self, point: Floats) -> tuple[int, int, int]:
        """The cell a point lies in."""
        a, b, c = np.floor((point - self.origin) / self.pitch_mm + 1e-9).astype(int)
        return int(a), int(b), int(c)

    def middle(self, cell: Sequence[int]) -> Floats:
        """Middle of a cell, mm."""
        return np.array(self.origin) + (np.array(cell, dtype=float) + 0.5) * self.pitch_mm

    def least_at(self, clear: Field, points: Floats) -> float:
        """The least clearance at points, between the middles of eight cells; a guess that `worst` makes sure of."""
        return float(least_between(clear, (points - self.origin) / self.pitch_mm - 0.5))

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
        for barrier, body in zip(self.barriers, self.solids, strict=True):
            if barrier.reach in parts and barrier.reach:
                continue
            cap = enough_mm + 5.0 + barrier.gap_mm
            if around.distance(body.box) >= cap:
                continue
            free = exempt(barrier.name)
            if free is not None and free.all():
                continue
            distance = line_to_triangles(line, body.triangles, cap) - barrier.gap_mm
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
        held = self.held[tuple(cells.T)]
        names = np.full(len(line), "the walls of the cable ways", dtype=object)
        sure = np.maximum(deep, held - off - max((body.guess_mm for body, _ in self.zones), default=0.0))
        if free is not None:
            sure[np.append(free > 0, free[-1] > 0) | np.append(free[0] > 0, free > 0)] = enough_mm
        asked = np.flatnonzero(sure < enough_mm)
        for body, gap in self.zones:
            found = _zone_depths(
                body, line[asked], gap, enough_mm, np.where(held[asked] > OUTSIDE_MM, off[asked], np.inf)
            )
            better = found > sure[asked]
            sure[asked[better]], names[asked[better]] = found[better], body.name
        k = int(np.argmin(sure))
        return float(min(sure[k], enough_mm)), str(names[k]), k


def _zone_depths(body: Surface, points: Floats, gap: float, cap: float, near: Floats) -> Floats:
    """Distance of points in a zone to its surface, less gap; `OUTSIDE_MM` for a point outside.

    A point that is farther from the surface than from a cell's middle that lies inside (`near`) lies inside too.
    """
    box, out = body.box, np.full(len(points), OUTSIDE_MM)
    within = np.flatnonzero(((points >= box.lo) & (points <= box.hi)).all(axis=1))
    if not len(within):
        return out
    found = body.distances(points[within], max(cap + gap, 20.0))
    doubtful = found <= near[within]
    inside = ~doubtful
    inside[doubtful] = windings(body.mesh, points[within][doubtful]) > 0.5
    out[within[inside]] = np.minimum(found[inside] - gap, cap)
    return out


def _evenly(line: Floats) -> Floats:
    """Points of a line, `EVERY_MM` apart at the most: pieces of one length cost least, where a few mm do not matter."""
    far = np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(line, axis=0), axis=1))])
    at = np.linspace(0.0, far[-1], int(far[-1] / EVERY_MM) + 2)
    return np.stack([np.interp(at, far, line[:, k]) for k in range(3)], axis=1)


def _vec(v: Floats) -> Vec:
    return float(v[0]), float(v[1]), float(v[2])


def window_of(box: Box, origin: Vec, pitch: float, shape: tuple[int, ...]) -> tuple[slice, ...] | None:
    """The cells of a grid that a box touches, and one more all round; None for none."""
    made: list[slice] = []
    for lo, hi, o, n in zip(box.lo, box.hi, origin, shape, strict=True):
        a, b = max(0, int(np.floor((lo - o) / pitch)) - 1), min(n, int(np.ceil((hi - o) / pitch)) + 1)
        if a >= b:
            return None
        made.append(slice(a, b))
    return tuple(made)


def stretches(flags: Flags) -> list[tuple[int, int]]:
    """Begin and end (one beyond) of each run of set flags."""
    edges = np.flatnonzero(np.diff(np.concatenate([[0], flags.astype(np.int8), [0]])))
    return [(int(a), int(b)) for a, b in edges.reshape(-1, 2)]
