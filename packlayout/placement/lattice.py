"""The most boxes on a lattice: set packing by an exact solver, over as few and as strong conditions as there are.

A box stands at a lattice point and holds points from there on; some boxes also ask for room in front of one side,
which such rooms may share but no box may hold. Boxes along the axes that meet two by two have a point in common,
so one condition for each point says all about boxes. A room is added to it likewise: two boxes that look the same
way and whose rooms share a point near enough to both meet each other. So at each point, for each way to look, at
most one of these stands: any box that holds it, or one whose room does. A condition that holds no more places than
that of a point beside it is left out.

What kind of proof: integers only. The solver's bound is reached by exact reasoning and does not hang on a
tolerance; a search that ends early leaves a bound that holds as well.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import product
from math import floor

import numpy as np

from packlayout.model.geometry import Ints
from packlayout.placement.tables import Cell
from packlayout.space.cells import Bools

NEIGHBOURS: tuple[Cell, ...] = tuple((i, j, k) for i, j, k in product((-1, 0, 1), repeat=3) if i or j or k)
Reach = tuple[Cell, Cell]
"""Points from a box's first one: lowest, and one past the highest."""


@dataclass(frozen=True, slots=True, eq=False)
class Stand:
    """One way a box may stand on a lattice.

    Attributes:
        holds: Points it holds along each axis.
        may: (nx, ny, nz) True at each first point from which it may stand.
        room: Points in front of one of its sides that no box may hold, as broad as that side; None without.
        value: What one of it counts.
    """

    holds: Cell
    may: Bools
    room: Reach | None = None
    value: int = 1


@dataclass(frozen=True, slots=True)
class Packing:
    """What the solver found.

    Attributes:
        chosen: Which stand, and its first point, of each box.
        value: What they count together.
        bound: No packing on this lattice counts more.
        places: Boxes it chose from.
        effort: Deterministic time taken, the solver's own unit.
    """

    chosen: tuple[tuple[int, Cell], ...]
    value: int
    bound: int
    places: int
    effort: float

    @property
    def proven(self) -> bool:
        """Whether nothing better stands on this lattice."""
        return self.value >= self.bound


def most(
    stands: Sequence[Stand], effort: float, hint: Sequence[tuple[int, Cell]] = (), seconds: float | None = None
) -> Packing:  # fmt: skip
    """The packing of most value, or the best found and a bound.

    Args:
        stands: Ways to stand; those of a lattice share its points.
        effort: Deterministic time to spend, near seconds and the same on every machine.
        hint: A packing to start from.
        seconds: A limit by the clock as well, for measurements only.
    """
    from ortools.sat.python import cp_model

    places, rows = conditions(stands)
    if not places:
        return Packing((), 0, 0, 0, 0.0)
    model = cp_model.CpModel()
    taken = [model.new_bool_var("") for _ in places]
    for row in rows:
        model.add_at_most_one([taken[n] for n in row.tolist()])
    model.maximize(sum(stands[s].value * var for (s, _), var in zip(places, taken, strict=True)))
    if hint:
        wanted = set(hint)
        for place, var in zip(places, taken, strict=True):
            model.add_hint(var, place in wanted)
    solver = cp_model.CpSolver()
    solver.parameters.num_workers = 1
    solver.parameters.random_seed = 1
    solver.parameters.max_deterministic_time = effort
    if seconds is not None:
        solver.parameters.max_time_in_seconds = seconds
    status = solver.solve(model)
    found = status in (cp_model.OPTIMAL, cp_model.FEASIBLE)
    chosen = tuple(p for p, var in zip(places, taken, strict=True) if found and solver.boolean_value(var))
    value = sum(stands[s].value for s, _ in chosen)
    every = sum(stands[s].value for s, _ in places)  # where the search ends before it knows better
    bound = min(every, floor(solver.best_objective_bound + 1e-6)) if found else every
    return Packing(chosen, value, bound, len(places), solver.response_proto.deterministic_time)


def conditions(stands: Sequence[Stand]) -> tuple[list[tuple[int, Cell]], list[Ints]]:
    """All places, and sets of them of which at most one may be taken; together these say which go together."""
    places = [(s, (i, j, k)) for s, stand in enumerate(stands) for i, j, k in np.argwhere(stand.may).tolist()]
    if not places:
        return [], []
    sums = [_sums(stand.may) for stand in stands]
    numbers: list[Ints] = []
    for stand in stands:
        count = sum(int((n >= 0).sum()) for n in numbers)
        number = np.full(stand.may.shape, -1, dtype=np.int64)
        number[stand.may] = np.arange(count, count + int(stand.may.sum()))
        numbers.append(number)
    lowest, size = _region(stands)
    rows: list[Ints] = []
    asked = np.zeros(size, dtype=np.bool_)
    for boxes, bare in _kinds(stands):
        joined = _joined(boxes)
        full = _shared(sums, joined, (0, 0, 0), lowest, size)
        if bare is None:  # the boxes alone: said already wherever a room was added
            keep = (full > 0) & ~asked
        else:
            roomy = full > _shared(sums, bare, (0, 0, 0), lowest, size)
            asked |= roomy
            keep = roomy.copy()
        for e in NEIGHBOURS:
            both, beside = _shared(sums, joined, e, lowest, size), _beside(full, e)
            # no more than the one beside it; of two alike the one that comes first stays
            keep &= ~((both == full) & ((beside > full) | (e < (0, 0, 0))))
        for cell in np.argwhere(keep):
            at = cell + np.array(lowest)
            rows.append(np.concatenate([_holders(numbers[s], at, reach) for s, reach in boxes]))
    return places, [row for row in rows if len(row) > 1]


def _region(stands: Sequence[Stand]) -> Reach:
    """Lowest point that any box or its room holds, and how many there are from it on along each axis."""
    low: list[Ints] = []
    high: list[Ints] = []
    for stand in stands:
        at = np.argwhere(stand.may)
        if len(at):
            ends = [((0, 0, 0), stand.holds), *([stand.room] if stand.room else [])]
            low += [at.min(axis=0) + np.array(lo) for lo, _ in ends]
            high += [at.max(axis=0) + np.array(hi) for _, hi in ends]
    lo, hi = np.min(low, axis=0), np.max(high, axis=0)
    x, y, z = (int(b - a) for a, b in zip(lo, hi, strict=True))
    return (int(lo[0]), int(lo[1]), int(lo[2])), (x, y, z)


def _kinds(
    stands: Sequence[Stand],
) -> Iterator[tuple[list[tuple[int, Reach]], list[tuple[int, Reach]] | None]]:
    """For each way to look: boxes with their rooms, and boxes without; at last the boxes alone, and None."""
    bare = [(s, ((0, 0, 0), stand.holds)) for s, stand in enumerate(stands)]
    parts: dict[tuple[int, int, int, int], list[tuple[int, Reach]]] = {}
    for s, stand in enumerate(stands):
        if stand.room is None:
            continue
        (lo, hi), holds = stand.room, stand.holds
        k = next(k for k in range(3) if lo[k] < 0 or hi[k] > holds[k])
        side, length = (1, holds[k]) if hi[k] > holds[k] else (-1, holds[k])
        deep = hi[k] - holds[k] if side > 0 else -lo[k]
        # rooms that share a point belong to boxes that meet only where they lie within a box's length of it
        for g in range(-(-deep // length)):
            a, b = g * length, min(deep, (g + 1) * length)
            low, high = [0, 0, 0], [*holds]
            low[k], high[k] = (holds[k] + a, holds[k] + b) if side > 0 else (-b, -a)
            part = (low[0], low[1], low[2]), (high[0], high[1], high[2])
            parts.setdefault((k, side, g, length), []).append((s, part))
    for made in parts.values():
        yield [*bare, *made], bare
    yield bare, None


def _sums(good: Bools) -> Ints:
    s = np.zeros(tuple(n + 1 for n in good.shape), dtype=np.int64)
    s[1:, 1:, 1:] = good.cumsum(0).cumsum(1).cumsum(2)
    return s


def _shared(
    sums: Sequence[Ints], boxes: Sequence[tuple[int, Reach]], e: Cell, lowest: Cell, size: Cell
) -> Ints:
    """How many places hold each point of a region and the one `e` beside it, both within one of the boxes."""
    total = np.zeros(size, dtype=np.int64)
    for s, (lo, hi) in boxes:
        ends: list[tuple[Ints, Ints]] = []
        for k in range(3):
            points = np.arange(lowest[k], lowest[k] + size[k])
            first, past = points + max(0, e[k]) - hi[k] + 1, points + min(0, e[k]) - lo[k] + 1
            most_ = sums[s].shape[k] - 1
            past = np.maximum(past, first)  # none where the two lie too far apart
            ends.append((np.clip(first, 0, most_), np.clip(past, 0, most_)))
        for corner in product((0, 1), repeat=3):
            part = sums[s][np.ix_(*(ends[k][c] for k, c in enumerate(corner)))]
            total += part if sum(corner) % 2 else -part
    return total


def _joined(boxes: Sequence[tuple[int, Reach]]) -> list[tuple[int, Reach]]:
    """The boxes, one and its room made one where they touch."""
    made: list[tuple[int, Reach]] = []
    for s, (lo, hi) in boxes:
        same = next((n for n, (t, _) in enumerate(made) if t == s), None)
        if same is not None:
            a, b = made[same][1]
            if any(hi[k] == a[k] or lo[k] == b[k] for k in range(3)):
                low = tuple(min(p, q) for p, q in zip(a, lo, strict=True))
                high = tuple(max(p, q) for p, q in zip(b, hi, strict=True))
                made[same] = s, ((low[0], low[1], low[2]), (high[0], high[1], high[2]))
                continue
        made.append((s, (lo, hi)))
    return made


def _beside(values: Ints, e: Cell) -> Ints:
    """The value at the point `e` beside each; nothing beyond the ends."""
    out = np.zeros_like(values)
    here = tuple(slice(max(0, -d), n - max(0, d)) for d, n in zip(e, values.shape, strict=True))
    there = tuple(slice(max(0, d), n - max(0, -d)) for d, n in zip(e, values.shape, strict=True))
    out[here] = values[there]
    return out


def _holders(number: Ints, cell: Ints, reach: Reach) -> Ints:
    """Numbers of the places from which a box of this reach holds a point."""
    cut = [
        slice(max(0, int(c) - b + 1), max(0, int(c) - a + 1)) for c, a, b in zip(cell, *reach, strict=True)
    ]
    window = number[tuple(cut)]
    return window[window >= 0]
