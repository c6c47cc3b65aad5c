"""Which side of each other things stand on: a complete search, whose end without an answer is a proof.

Two boxes that do not meet are parted by a plane square to an axis: one stands before the other along x, y or z. So
every layout is a choice of one of six sides for each pair. For each thing the search keeps how far it may still
reach along each axis; a choice for a pair narrows both, a pair with one side left is settled, one with none ends the
branch. Once all pairs are settled, the planes between them are narrowed by halves.

Where each thing may stand is a set of anchors on lines along each axis, one set for each way of standing, with
running sums: the ends of what is left of it within any bounds are found by halving. A line is a range of
coordinates. Where it has no breadth, the anchors are places, and what is found stands; where a line is as wide as
the step to the next, the anchors are all that may be, and what is not found cannot stand.

Source: packing by the relative places of pairs, with bounds narrowed at each choice, after Martello, Pisinger, Vigo,
den Boef and Korst, General three-dimensional bin packing, ACM Trans. Math. Software 33 (2007).
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from packlayout.model.geometry import Floats, Ints, Vec
from packlayout.placement.choices import FOUND, LEFT_OFF, NONE, search
from packlayout.placement.narrowing import EPS
from packlayout.space.cells import Bools, Sums, running_sums

__all__ = ["FOUND", "LEFT_OFF", "NONE", "Before", "OnTop", "Sides", "Stand", "sides", "stand", "stand_at"]

MOST_LINED = 3_000_000
"""Lines of the three axes multiplied with each other, for places anywhere."""


@dataclass(frozen=True, slots=True, eq=False)
class Stand:
    """One way of standing in one zone, with every anchor that has it.

    Attributes:
        form: Number of the form among those of the thing.
        zone: Number of the zone.
        size: Sides of the box, mm.
        room: Kept free before and behind it along each axis: x before, x behind, y before ..., mm.
        low: For each axis the lowest coordinate of each line, mm, ascending.
        high: The highest; the same as `low` where anchors are places.
        sums: (nx+1, ny+1, nz+1) running sums of the anchors.
        whole: False where some anchors were left out.
    """

    form: int
    zone: int
    size: Vec
    room: tuple[float, float, float, float, float, float]
    low: tuple[Floats, Floats, Floats]
    high: tuple[Floats, Floats, Floats]
    sums: Sums
    whole: bool = True


def stand(
    form: int, zone: int, size: Vec, room: tuple[float, ...], first: Vec, step_mm: float, wide_mm: float, at: Bools
) -> Stand | None:  # fmt: skip
    """A way of standing from anchors on a regular grid, cut down to those that are set.

    Args:
        form: See `Stand`.
        zone: See `Stand`.
        size: See `Stand`.
        room: See `Stand`.
        first: Highest coordinates of the first line of each axis, mm.
        step_mm: Between lines.
        wide_mm: Breadth of a line below its highest coordinate: nought for places.
        at: (nx, ny, nz) the anchors.

    Returns:
        None when no anchor is set.
    """
    flat = np.logical_or.reduce(at, axis=0)
    ends: list[tuple[int, int]] = []
    for line in (at.any(axis=(1, 2)), np.logical_or.reduce(flat, axis=1), np.logical_or.reduce(flat, axis=0)):
        held = np.flatnonzero(line)
        if not len(held):
            return None
        ends.append((int(held[0]), int(held[-1]) + 1))
    x, y, z = (f + step_mm * np.arange(a, b, dtype=np.float64) for f, (a, b) in zip(first, ends, strict=True))
    kept = at[tuple(slice(a, b) for a, b in ends)]
    a, b, c, d, e, f = room
    low = (x - wide_mm, y - wide_mm, z - wide_mm) if wide_mm else (x, y, z)
    return Stand(form, zone, size, (a, b, c, d, e, f), low, (x, y, z), running_sums(kept))


def stand_at(form: int, zone: int, size: Vec, room: tuple[float, ...], at: Floats) -> Stand | None:
    """A way of standing from places anywhere; see `stand`.

    Args:
        form: See `Stand`.
        zone: See `Stand`.
        size: See `Stand`.
        room: See `Stand`.
        at: (n, 3) lowest corners, mm. Where their coordinates make too many lines, every so many-th is taken.
    """
    if not len(at):
        return None
    every = 1
    while True:
        some = at[::every]
        parts = [np.unique(some[:, k], return_inverse=True) for k in range(3)]
        shape = tuple(len(values) for values, _ in parts)
        if int(np.prod(shape)) <= MOST_LINED:
            break
        every += 1
    held = np.zeros(shape, dtype=np.bool_)
    held[tuple(index.ravel() for _, index in parts)] = True
    x, y, z = (values for values, _ in parts)
    a, b, c, d, e, f = room
    return Stand(form, zone, size, (a, b, c, d, e, f), (x, y, z), (x, y, z), running_sums(held), every == 1)


Before = tuple[int, int, int]
"""Of two things, by number, the first before the second along an axis."""


@dataclass(frozen=True, slots=True)
class OnTop:
    """One thing that stands on another: from above within a rise, its footprint over the other's by so much.

    Attributes:
        upper: Number of the thing on top.
        lower: Number of the one below.
        rise_mm: How far above the other's top it may stand at the most.
        over_mm: By how much the footprints must share x and y at the least.
    """

    upper: int
    lower: int
    rise_mm: float
    over_mm: tuple[float, float]


@dataclass(frozen=True, slots=True)
class Sides:
    """What came of a search.

    Attributes:
        state: `FOUND`, `NONE` (no choice of sides is left) or `LEFT_OFF` (the budget was spent).
        nodes: Choices looked at.
        spots: (m, 2) number of the stand of each thing and ...
        at: (m, 3) ... its lowest corner, mm; the highest coordinates of its lines where these have breadth.
    """

    state: int
    nodes: int
    spots: Ints
    at: Floats


def sides(
    things: Sequence[Sequence[Stand]], on_top: Sequence[OnTop], order: Sequence[int], most: int, slant_mm: float = -1.0,
    rest_mm: float = EPS, given: Sequence[Before] = (),
) -> Sides:  # fmt: skip
    """Look for places of all things at once.

    Args:
        things: Ways of standing of each.
        on_top: What must stand on what.
        order: Numbers of the things, those first that are to be settled first.
        most: Most choices looked at.
        given: Sides that are settled before.
        rest_mm: A plane between a pair is narrowed down to this.
        slant_mm: Room enough along an axis between two things that pass each other aslant; none: as between others.

    Returns:
        With places, one of all anchors left for each thing, none of which meets any of another thing's.
    """
    m = len(things)
    spots, at = np.zeros((m, 2), dtype=np.int64), np.zeros((m, 3))
    if any(not len(ways) for ways in things):
        return Sides(NONE, 0, spots, at)
    every = [way for ways in things for way in ways]
    first = np.cumsum([0, *(len(ways) for ways in things)])
    sums = np.concatenate([w.sums.ravel() for w in every])
    offset = np.cumsum([0, *(w.sums.size for w in every)])[:-1]
    dims = np.array([w.sums.shape for w in every], dtype=np.int64)
    low = np.concatenate([w.low[k] for w in every for k in range(3)])
    high = np.concatenate([w.high[k] for w in every for k in range(3)])
    lines = np.cumsum([0, *(len(w.low[k]) for w in every for k in range(3))])[:-1].reshape(-1, 3)
    tops = np.array([[t.upper, t.lower] for t in on_top], dtype=np.int64).reshape(-1, 2)
    rules = np.array([[t.rise_mm, *t.over_mm] for t in on_top], dtype=np.float64).reshape(-1, 3)
    settled = np.array(given, dtype=np.int64).reshape(-1, 3)
    state, nodes = search(
        sums, offset, dims, low, high, lines, np.array([w.size for w in every]), np.array([w.room for w in every]),
        first, np.array(order, dtype=np.int64), tops, rules, settled, slant_mm, rest_mm, most, spots, at,
    )  # fmt: skip
    return Sides(int(state), int(nodes), spots, at)
