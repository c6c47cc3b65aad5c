"""Shortest way through cells for something that bends no tighter than a radius.

A state is a cell and one of six headings. A step goes straight on by one cell, round a quarter bend, or
aside by two equal bends; every cell a step sweeps must be clear. Best-first search (A*, Hart, Nilsson and
Raphael, 1968), made eager: what is found may be longer than the shortest way through the cells, and is smoothed after.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from math import acos, ceil, pi, sin, tan

import numpy as np
from numpy.typing import NDArray

from packlayout.model.geometry import Floats, Ints
from packlayout.space.seek import FAR, TENTHS, ahead, seek, widest_way

HEADINGS: Ints = np.array([[1, 0, 0], [-1, 0, 0], [0, 1, 0], [0, -1, 0], [0, 0, 1], [0, 0, -1]])
BEND_COST = 1.2
"""What a bend is worth in cells of length: cables are laid straight where they can be (common practice, no source)."""
EAGER_PERCENT, EAGER_FAR_PERCENT, FAR_CELLS = 115, 140, 100
"""By which the way ahead counts: of a run in one bay, and of one through the length of the vehicle."""
SLACK_CELLS = 60
"""How much farther off than half as far again as the start a cell may lie and still be looked at first."""
LONGEST_SHARE, LONGEST_CELLS = 3, 150
"""A way dearer than three times the shortest one without bends and 150 cells is not looked for."""
ASIDE = (1, 2, 3, 5, 8, 12)


@dataclass(frozen=True, slots=True, eq=False)
class Steps:
    """All steps for one bend radius.

    Attributes:
        first: (6,) index of the first step of each heading.
        last: One beyond the last.
        move: (s, 3) cells to the end of the step.
        heading: (s,) heading there.
        cost: (s,) length in cells, and a little for bends.
        swept: (w, 3) cells the steps sweep, one step after the other.
        begin: (s + 1,) where the swept cells of each step begin.
        corners: Corners of each step's middle line, in cells from its start.
    """

    first: Ints
    last: Ints
    move: Ints
    heading: Ints
    cost: Floats
    swept: Ints
    begin: Ints
    corners: tuple[Floats, ...]


@lru_cache(maxsize=32)
def steps(radius_mm: float, pitch_mm: float) -> Steps:
    """Steps for a bend radius on cells of a size."""
    # half a cell more, because ports do not lie on the middles of cells
    r = radius_mm / pitch_mm + 0.5
    first, last, move, heading, cost, swept, begin, corners = [], [], [], [], [], [], [0], []
    for h, d in enumerate(HEADINGS):
        first.append(len(move))
        made = [(d, h, 1.0, np.array([d]), np.empty((0, 3)))]
        for side in range(6):
            if HEADINGS[side] @ d == 0:
                made += [_quarter(d, side, r), *_asides(d, HEADINGS[side], h, r)]
        for step, after, length, cells, bent in made:
            move.append(step)
            heading.append(after)
            cost.append(length)
            swept.append(cells)
            begin.append(begin[-1] + len(cells))
            corners.append(bent)
        last.append(len(move))
    return Steps(
        np.array(first), np.array(last), np.array(move), np.array(heading), np.array(cost, dtype=float),
        np.concatenate(swept), np.array(begin), tuple(corners),
    )  # fmt: skip


Step = tuple[Ints, int, float, Ints, Floats]


def _quarter(d: Ints, side: int, r: float) -> Step:
    e = HEADINGS[side]
    n = ceil(r - 1e-9)
    t = np.linspace(0, pi / 2, 8 * n)
    arc = n * (np.sin(t)[:, None] * d + (1 - np.cos(t))[:, None] * e)
    return n * (d + e), side, n * pi / 2 + BEND_COST, _cells(arc), n * d[None, :].astype(float)


def _asides(d: Ints, e: Ints, h: int, r: float) -> list[Step]:
    made: list[Step] = []
    for k in ASIDE:
        if k >= 2 * r:
            break
        angle = acos(1 - k / (2 * r))
        t = r * tan(angle / 2)
        ahead = 2 * r * sin(angle)
        n = ceil(ahead - 1e-9)
        u = np.linspace(0, angle, 8 * n)
        first = r * (np.sin(u)[:, None] * d + (1 - np.cos(u))[:, None] * e)
        end = ahead * d + k * e
        second = end - first[::-1]
        line = np.concatenate([first, second, [n * d + k * e]])
        corners = np.array([t * d, end - t * d], dtype=float)
        made.append(
            (
                n * d + k * e,
                h,
                2 * r * angle + (n - ahead) + 2 * BEND_COST,
                _cells(np.asarray(line, dtype=np.float64)),
                corners,
            )
        )
    return made


def _cells(line: Floats) -> Ints:
    cells = np.unique(np.round(line).astype(np.int64), axis=0)
    return cells[np.any(cells != 0, axis=1)]


State = tuple[tuple[int, int, int], int]
"""A cell and the index of a heading."""
Field = NDArray[np.float32]
"""Clearance of each cell, mm."""
Flags = NDArray[np.bool_]
Numbers = NDArray[np.int32]
Crowd = NDArray[np.uint8]


@dataclass(frozen=True, slots=True, eq=False)
class Grid:
    """The cells that may be clear, by number.

    Attributes:
        shape: Cells along each axis.
        strides: (3,) of the flat index.
        numbers: (n,) running number of each cell, flat; -1 for those that are shut for good.
        cells: (m,) flat index of each numbered cell.
        coordinates: (m, 3) of each numbered cell.
    """

    shape: tuple[int, int, int]
    strides: Ints
    numbers: Numbers
    cells: Ints
    coordinates: Ints

    def flat(self, cell: Sequence[int]) -> int:
        """Flat index of a cell."""
        return int(np.dot(np.array(cell), self.strides))

    def cell(self, flat: int) -> tuple[int, int, int]:
        """Cell of a flat index."""
        x, y, z = (int(v) for v in np.unravel_index(flat, self.shape))
        return x, y, z

    def free(self, clear: Field, need_mm: float) -> Flags:
        """(n,) which cells have a clearance, flat; those of the border never."""
        out = clear >= need_mm
        for axis in range(3):
            out[(slice(None),) * axis + (0,)] = False
            out[(slice(None),) * axis + (-1,)] = False
        return out.ravel()


def grid_of(may_be_clear: Flags) -> Grid:
    """Number the cells that may be clear."""
    a, b, c = may_be_clear.shape
    cells = np.flatnonzero(may_be_clear)
    numbers = np.full(may_be_clear.size, -1, dtype=np.int32)
    numbers[cells] = np.arange(len(cells), dtype=np.int32)
    coordinates = np.stack(np.unravel_index(cells, may_be_clear.shape), axis=1).astype(np.int64)
    return Grid((a, b, c), np.array([b * c, c, 1]), numbers, cells.astype(np.int64), coordinates)


@dataclass(frozen=True, slots=True, eq=False)
class Ahead:
    """What a search goes by.

    Attributes:
        cells: Way still ahead of each numbered cell, in tenths of a cell.
        free: Which cells were clear enough.
        whole: True when no cell was left out for being far off.
    """

    cells: Numbers
    free: Flags
    whole: bool


def ways_ahead(
    grid: Grid, clear: Field, need_mm: float, starts: list[tuple[State, float]], goals: list[tuple[State, float]],
    crowd: Crowd, whole: bool = False,
) -> Ahead:  # fmt: skip
    """The way from each numbered cell to the goals, bends left out.

    Args:
        grid: Of the cells.
        clear: (nx, ny, nz) clearance of each cell, mm.
        need_mm: Least clearance.
        starts: What must be reached.
        goals: States to end at, each with its own cost in cells.
        crowd: (n,) how many times dearer each cell is than an empty one, flat.
        whole: Reach all cells, also those far off any near way.
    """
    free = grid.free(clear, need_mm)
    ends, costs = _flat(grid, goals)
    begins = np.empty(0, dtype=np.int64) if whole else _flat(grid, starts)[0]
    found = ahead(
        free, grid.numbers, grid.cells, grid.strides, ends, costs, begins, SLACK_CELLS * TENTHS, crowd
    )
    return Ahead(found, free, whole)


def search(
    grid: Grid, clear: Field, need_mm: float, made: Steps, starts: list[tuple[State, float]],
    goals: list[tuple[State, float]], far: Ahead, crowd: Crowd,
) -> list[tuple[State, int]] | None:  # fmt: skip
    """A short way from any of some states to any of some others.

    Args:
        grid: Of the cells.
        clear: (nx, ny, nz) clearance of each cell, mm.
        need_mm: Least clearance.
        made: Steps for the bend radius.
        starts: States to begin at, each with its own cost in cells.
        goals: States to end at, heading on arrival, each with its own cost.
        far: Way still ahead, from `ways_ahead` at no greater need.
        crowd: (n,) how many times dearer each cell is than an empty one, flat.

    Returns:
        (state, number of the step taken from it), the goal last with step -1; None when there is no way of up to
        three times the cost of the shortest one without bends.
    """
    known = [(state, cost) for state, cost in starts if grid.numbers[grid.flat(state[0])] >= 0]
    ends = [(state, cost) for state, cost in goals if grid.numbers[grid.flat(state[0])] >= 0]
    if not known or not ends:
        return None
    begin, begin_costs = _states(grid, known)
    end, end_costs = _states(grid, ends)
    first = int(min(far.cells[s // 6] for s in begin))
    if first >= FAR:
        return None
    eager = EAGER_PERCENT if first < FAR_CELLS * TENTHS else EAGER_FAR_PERCENT
    most = LONGEST_SHARE * first + LONGEST_CELLS * TENTHS if far.whole else 2 * first + SLACK_CELLS * TENTHS
    found, parent, taken = seek(
        grid.free(clear, need_mm), grid.numbers, grid.cells, grid.coordinates, np.array(grid.shape), made.first,
        made.last, made.move @ grid.strides, made.move, made.heading, np.round(made.cost * TENTHS).astype(np.int64),
        made.swept @ grid.strides, made.begin, begin, begin_costs, end, end_costs, far.cells, eager, crowd,
        most,
    )  # fmt: skip
    if found < 0:
        return None
    way: list[tuple[State, int]] = [(_state(grid, int(found)), -1)]
    while parent[found] != -2:
        before = int(parent[found])
        way.append((_state(grid, before), int(taken[found])))
        found = before
    return way[::-1]


def _flat(grid: Grid, states: list[tuple[State, float]]) -> tuple[Ints, Ints]:
    cells = np.array([grid.flat(cell) for (cell, _), _ in states], dtype=np.int64)
    return cells, np.array([round(TENTHS * cost) for _, cost in states], dtype=np.int64)


def _states(grid: Grid, states: list[tuple[State, float]]) -> tuple[Ints, Ints]:
    cells, costs = _flat(grid, states)
    return grid.numbers[cells].astype(np.int64) * 6 + np.array([heading for (_, heading), _ in states]), costs


def _state(grid: Grid, state: int) -> State:
    return grid.cell(int(grid.cells[state // 6])), state % 6


def widest(
    grid: Grid, clear: Field, start: tuple[int, int, int], goal: tuple[int, int, int], shut_mm: float
) -> tuple[float, tuple[int, int, int]] | None:
    """How wide the widest way between two cells is at its tightest, bends left out of account, and where.

    Args:
        grid: Of the cells.
        clear: (nx, ny, nz) clearance of each cell, mm.
        start: Cell.
        goal: Cell.
        shut_mm: A cell with no more clearance than this is shut: in a solid, or in no zone.

    Returns:
        Clearance there, mm, and the cell; None when no way leads there at all.
    """
    width, cell = widest_way(clear.ravel(), grid.strides, grid.flat(start), grid.flat(goal), shut_mm)
    return None if width <= -1e8 else (float(width), grid.cell(int(cell)))
