"""Shortest way through cells for something that bends no tighter than a radius.

A state is a cell and one of six headings. A step goes straight on by one cell, round a quarter bend, or
aside by two equal bends; every cell a step sweeps must be clear. Best-first search (A*, Hart, Nilsson and
Raphael, 1968), made eager: what is found may be longer than the shortest way through the cells, and is smoothed after.
"""

import heapq
from dataclasses import dataclass
from functools import lru_cache
from math import acos, ceil, pi, sin, tan
from typing import Any

import numba
import numpy as np
from numpy.typing import NDArray

from packlayout.model.geometry import Floats, Ints
from packlayout.space.cells import Bools

HEADINGS: Ints = np.array([[1, 0, 0], [-1, 0, 0], [0, 1, 0], [0, -1, 0], [0, 0, 1], [0, 0, -1]])
BEND_COST = 1.2
"""What a bend is worth in cells of length: cables are laid straight where they can be (common practice, no source)."""
EAGER, EAGER_FAR, FAR_CELLS = 1.15, 1.25, 100
"""On the way ahead: of a run in one bay, and of one through the length of the vehicle."""
ASIDE = (1, 2, 3, 4, 6, 8, 10, 12, 15)


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


def search(
    clear: Floats, numbers: Ints, need_mm: float, made: Steps, starts: list[tuple[State, float]],
    goals: list[tuple[State, float]], ahead: Floats,
) -> list[tuple[State, int]] | None:  # fmt: skip
    """A short way from any of some states to any of some others.

    Args:
        clear: (nx, ny, nz) clearance of each cell, mm.
        numbers: (nx, ny, nz) running number of each cell that may be clear, -1 for the others.
        need_mm: Least clearance.
        made: Steps for the bend radius.
        starts: States to begin at, each with its own cost in cells.
        goals: States to end at, heading on arrival, each with its own cost.
        ahead: Way still ahead of each numbered cell, from `ways_ahead` at no greater need.

    Returns:
        (state, number of the step taken from it), the goal last with step -1; None when there is no way.
    """
    free = clear >= need_mm
    cells = np.argwhere(numbers >= 0)
    first = min(float(ahead[numbers[cell]]) for (cell, _), _ in starts)
    eager = ahead * (EAGER if first < FAR_CELLS else EAGER_FAR)
    found, parent, step = _search(
        free, numbers, cells, made.first, made.last, made.move, made.heading, made.cost, made.swept, made.begin,
        *_rows(starts), *_rows(goals), eager,
    )  # fmt: skip
    if found < 0:
        return None
    way: list[tuple[State, int]] = [(_state(int(found), cells), -1)]
    while parent[found] != -2:
        before = int(parent[found])
        way.append((_state(before, cells), int(step[found])))
        found = before
    return way[::-1]


def ways_ahead(clear: Floats, numbers: Ints, need_mm: float, goals: list[tuple[State, float]]) -> Floats:
    """The way from each numbered cell to the goals, in cells, bends left out; infinite where none leads there."""
    return _ahead(clear >= need_mm, numbers, np.argwhere(numbers >= 0), *_rows(goals))


def _rows(states: list[tuple[State, float]]) -> tuple[Ints, Floats]:
    rows = np.array([[*cell, heading] for (cell, heading), _ in states], dtype=np.int64)
    return rows, np.array([cost for _, cost in states], dtype=np.float64)


def numbered(may_be_clear: Bools) -> Ints:
    """Running numbers of cells, -1 for those that are shut for good."""
    numbers = np.full(may_be_clear.shape, -1, dtype=np.int64)
    numbers[may_be_clear] = np.arange(int(may_be_clear.sum()))
    return numbers


def _state(state: int, cells: Ints) -> State:
    x, y, z = (int(v) for v in cells[state // 6])
    return (x, y, z), state % 6


@numba.njit(cache=True)
def _ahead(free, numbers, cells, goals, goal_costs):  # type: ignore[no-untyped-def]
    """The way still ahead of each cell through clear cells, bends left out of account."""
    nx, ny, nz = free.shape
    out = np.full(len(cells), np.inf)
    heap: Any = [(0.0, np.int64(-1))]
    heapq.heappop(heap)
    for k in range(len(goals)):
        n = numbers[goals[k, 0], goals[k, 1], goals[k, 2]]
        if n >= 0 and free[goals[k, 0], goals[k, 1], goals[k, 2]]:
            out[n] = min(out[n], goal_costs[k])
            heapq.heappush(heap, (out[n], n))
    while len(heap) > 0:
        far, n = heapq.heappop(heap)
        if far > out[n]:
            continue
        x, y, z = cells[n, 0], cells[n, 1], cells[n, 2]
        for i in range(-1, 2):
            for j in range(-1, 2):
                for m in range(-1, 2):
                    a, b, c = x + i, y + j, z + m
                    if a < 0 or b < 0 or c < 0 or a >= nx or b >= ny or c >= nz or not free[a, b, c]:
                        continue
                    q = numbers[a, b, c]
                    if q < 0:
                        continue
                    total = far + np.sqrt(i * i + j * j + m * m)
                    if total < out[q]:
                        out[q] = total
                        heapq.heappush(heap, (total, q))
    return out


@numba.njit(cache=True)
def _search(
    free: Bools, numbers: Ints, cells: Ints, first: Ints, last: Ints, move: Ints, heading: Ints, cost: Floats,
    swept: Ints, begin: Ints, starts: Ints, costs: Floats, goals: Ints, goal_costs: Floats, ahead: Floats,
) -> tuple[int, Ints, NDArray[np.int16]]:  # fmt: skip
    nx, ny, nz = free.shape
    count = len(cells)
    best = np.full(count * 6, np.inf)
    parent = np.full(count * 6, -1, np.int64)
    taken = np.full(count * 6, -1, np.int16)
    at_goal = np.full(count * 6, np.inf)
    for k in range(len(goals)):
        n = numbers[goals[k, 0], goals[k, 1], goals[k, 2]]
        if n >= 0:
            at_goal[n * 6 + goals[k, 3]] = goal_costs[k]
    heap: Any = [(0.0, np.int64(-1))]
    heapq.heappop(heap)
    for k in range(len(starts)):
        n = numbers[starts[k, 0], starts[k, 1], starts[k, 2]]
        if n < 0 or not free[starts[k, 0], starts[k, 1], starts[k, 2]]:
            continue
        s = n * 6 + starts[k, 3]
        if costs[k] < best[s]:
            best[s] = costs[k]
            parent[s] = -2
            if np.isfinite(ahead[n]):
                heapq.heappush(heap, (costs[k] + ahead[n], s))
    while len(heap) > 0:
        bound, state = heapq.heappop(heap)
        if state >= count * 6:
            return state - count * 6, parent, taken
        h = state % 6
        x, y, z = cells[state // 6, 0], cells[state // 6, 1], cells[state // 6, 2]
        here = best[state]
        if bound > here + ahead[state // 6] + 1e-3:
            continue
        if np.isfinite(at_goal[state]):
            heapq.heappush(heap, (here + at_goal[state], state + count * 6))
        for k in range(first[h], last[h]):
            a, b, c = x + move[k, 0], y + move[k, 1], z + move[k, 2]
            if a < 0 or b < 0 or c < 0 or a >= nx or b >= ny or c >= nz or not free[a, b, c]:
                continue
            if numbers[a, b, c] < 0:
                continue
            after = numbers[a, b, c] * 6 + heading[k]
            total = here + cost[k]
            if total >= best[after]:
                continue
            blocked = False
            for w in range(begin[k], begin[k + 1]):
                i, j, m = x + swept[w, 0], y + swept[w, 1], z + swept[w, 2]
                if i < 0 or j < 0 or m < 0 or i >= nx or j >= ny or m >= nz or not free[i, j, m]:
                    blocked = True
                    break
            if blocked:
                continue
            best[after] = total
            parent[after] = state
            taken[after] = k
            heapq.heappush(heap, (total + ahead[numbers[a, b, c]], after))
    return -1, parent, taken


@numba.njit(cache=True)
def _widest(clear, start, goal, shut):  # type: ignore[no-untyped-def]
    """The way whose least clearance is greatest: that clearance and the cell that sets it."""
    nx, ny, nz = clear.shape
    done = np.zeros(clear.shape, np.bool_)
    best = np.full(clear.shape, np.inf)
    tight = np.zeros((nx, ny, nz, 3), np.int32)
    first = clear[start[0], start[1], start[2]]
    tight[start[0], start[1], start[2]] = start
    heap = [(-float(first), start[0], start[1], start[2])]
    while len(heap) > 0:
        width, x, y, z = heapq.heappop(heap)
        if done[x, y, z]:
            continue
        done[x, y, z] = True
        if x == goal[0] and y == goal[1] and z == goal[2]:
            return -width, tight[x, y, z]
        for h in range(6):
            a, b, c = x + (h == 0) - (h == 1), y + (h == 2) - (h == 3), z + (h == 4) - (h == 5)
            if a < 0 or b < 0 or c < 0 or a >= nx or b >= ny or c >= nz or done[a, b, c]:
                continue
            if clear[a, b, c] <= shut:
                continue
            found = max(-float(clear[a, b, c]), width)
            if found >= best[a, b, c]:
                continue
            best[a, b, c] = found
            if found > width:
                tight[a, b, c, 0], tight[a, b, c, 1], tight[a, b, c, 2] = a, b, c
            else:
                tight[a, b, c] = tight[x, y, z]
            heapq.heappush(heap, (found, a, b, c))
    return -1e9, start.astype(np.int32)


def widest(
    clear: Floats, start: tuple[int, int, int], goal: tuple[int, int, int], shut_mm: float
) -> tuple[float, tuple[int, int, int]] | None:
    """How wide the widest way between two cells is at its tightest, bends left out of account, and where.

    Args:
        clear: (nx, ny, nz) clearance of each cell, mm.
        start: Cell.
        goal: Cell.
        shut_mm: A cell with no more clearance than this is shut: in a solid, or in no zone.

    Returns:
        Clearance there, mm, and the cell; None when no way leads there at all.
    """
    width, cell = _widest(clear, np.array(start), np.array(goal), shut_mm)
    if width <= -1e8:
        return None
    return float(width), (int(cell[0]), int(cell[1]), int(cell[2]))
