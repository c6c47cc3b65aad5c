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

__all__ = [
    "FOUND", "LEFT_OFF", "NONE", "Before", "Left", "OnTop", "Sides", "Stand", "left_over", "sides", "stand", "stand_at",
]  # fmt: skip

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
        anywhere: True for places that need not stand on a regular grid: the surfaces themselves were asked for them.
    """

    form: int
    zone: int
    size: Vec
    room: tuple[float, float, float, float, float, float]
    low: tuple[Floats, Floats, Floats]
    high: tuple[Floats, Floats, Floats]
    sums: Sums
    whole: bool = True
    anywhere: bool = False


def stand(
    form: int, zone: int, size: Vec, room: tuple[float, ...], first: Vec, step_mm: float | Floats,
    wide_mm: float | Floats, at: Bools,
) -> Stand | None:  # fmt: skip
    """A way of standing from anchors on a regular grid, cut down to those that are set.

    Args:
        form: See `Stand`.
        zone: See `Stand`.
        size: See `Stand`.
        room: See `Stand`.
        first: Highest coordinates of the first line of each axis, mm.
        step_mm: Between lines, of each axis where they differ.
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
    steps, wide = np.broadcast_to(step_mm, 3), np.broadcast_to(wide_mm, 3)
    x, y, z = (
        f + step * np.arange(a, b, dtype=np.float64)
        for f, step, (a, b) in zip(first, steps, ends, strict=True)
    )
    kept = at[tuple(slice(a, b) for a, b in ends)]
    a, b, c, d, e, f = room
    low = (x - wide[0], y - wide[1], z - wide[2]) if wide.any() else (x, y, z)
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
    return Stand(
        form, zone, size, (a, b, c, d, e, f), (x, y, z), (x, y, z), running_sums(held), every == 1, True
    )


Arrays = tuple[Sums, Ints, Ints, Floats, Floats, Ints, Floats, Floats, Ints, Ints, Ints, Floats, Ints]
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
    things: Sequence[Sequence[Stand]], on_top: Sequence[OnTop], order: Sequence[int], most: int, apart_mm: float = -1.0,
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
        apart_mm: Distance between any two things, corner to corner as well, in place of the room of each; none: that.

    Returns:
        With places, one of all anchors left for each thing, none of which meets any of another thing's.
    """
    spots, at = np.zeros((len(things), 2), dtype=np.int64), np.zeros((len(things), 3))
    if any(not len(ways) for ways in things):
        return Sides(NONE, 0, spots, at)
    arrays = _arrays(things, on_top, order, given)
    state, nodes = search(*arrays, apart_mm, rest_mm, most, spots, at, np.zeros((0, 3, 2)))
    return Sides(int(state), int(nodes), spots, at)


@dataclass(frozen=True, slots=True)
class Left:
    """What all choices of sides together leave.

    Attributes:
        state: `FOUND` (something is left), `NONE` or `LEFT_OFF` (the budget was spent, the ranges say nothing).
        ranges: For each thing and each of its ways of standing (3, 2) lowest and highest coordinates of its lowest
            corner, mm; None where it cannot stand so.
    """

    state: int
    ranges: tuple[tuple[Floats | None, ...], ...]


def left_over(
    things: Sequence[Sequence[Stand]],
    on_top: Sequence[OnTop],
    order: Sequence[int],
    most: int,
    apart_mm: float,
) -> Left:
    """Go through all choices of sides, for the ranges within which everything stands in any layout.

    Args:
        things: See `sides`.
        on_top: See `sides`.
        order: See `sides`.
        most: See `sides`.
        apart_mm: See `sides`.
    """
    if any(not len(ways) for ways in things):
        return Left(NONE, ())
    left = np.tile(np.array([np.inf, -np.inf]), (sum(len(ways) for ways in things), 3, 1))
    spots, at = np.zeros((len(things), 2), dtype=np.int64), np.zeros((len(things), 3))
    state, _ = search(*_arrays(things, on_top, order, ()), apart_mm, np.inf, most, spots, at, left)
    every = iter(None if np.isinf(range_).any() else range_ for range_ in left)
    ranges = tuple(tuple(next(every) for _ in ways) for ways in things)
    return Left(FOUND if state == NONE and np.isfinite(left).any() else int(state), ranges)


def _arrays(
    things: Sequence[Sequence[Stand]], on_top: Sequence[OnTop], order: Sequence[int], given: Sequence[Before]
) -> Arrays:
    """The first arguments of `search`."""
    every = [way for ways in things for way in ways]
    return (
        np.concatenate([w.sums.ravel() for w in every]),
        np.cumsum([0, *(w.sums.size for w in every)])[:-1],
        np.array([w.sums.shape for w in every], dtype=np.int64),
        np.concatenate([w.low[k] for w in every for k in range(3)]),
        np.concatenate([w.high[k] for w in every for k in range(3)]),
        np.cumsum([0, *(len(w.low[k]) for w in every for k in range(3))])[:-1].reshape(-1, 3),
        np.array([w.size for w in every]),
        np.array([w.room for w in every]),
        np.cumsum([0, *(len(ways) for ways in things)]),
        np.array(order, dtype=np.int64),
        np.array([[t.upper, t.lower] for t in on_top], dtype=np.int64).reshape(-1, 2),
        np.array([[t.rise_mm, *t.over_mm] for t in on_top], dtype=np.float64).reshape(-1, 3),
        np.array(given, dtype=np.int64).reshape(-1, 3),
    )
