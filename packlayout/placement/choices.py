"""The search over sides: one choice after another, each with what follows from it, back where none is left. Arrays only."""

import numba
import numpy as np

from packlayout.model.geometry import Floats, Ints
from packlayout.placement.narrowing import least, may, most, needed, settle, shrink
from packlayout.space.cells import Bools, Sums

FOUND, NONE, LEFT_OFF = 1, 0, 2
DEPTH = 240
FAR = 1e7
HIGH, LOW = (6, 4, 4), (2, 2, 0)
"""Which bounds of two things a plane parts: with the room behind the first, bare, with the room before the second."""


@numba.njit(cache=True)
def _choose(
    order: Ints,
    first: Ints,
    bound: Floats,
    live: Bools,
    side: Ints,
    apart: float,
    rest: float,
    what: Ints,
    where: Floats,
) -> int:
    """The next choice: 1 a way of standing, 2 the side of a pair, 3 a plane between a pair; 0 when none is open.

    What is chosen goes into `what`: the thing and its way, or the pair, axis and (into `where`) the plane.
    """
    m = len(order)
    for rank in range(m):
        i = order[rank]
        some = -1
        for f in range(first[i], first[i + 1]):
            if live[f]:
                if some >= 0:
                    what[0], what[1] = i, some
                    return 1
                some = f
        fewest, pair = 7, -1
        for before in range(rank):
            j = order[before]
            a, b = max(i, j), min(i, j)
            if side[a, b] == 0:
                ways = 0
                for k in range(3):
                    ways += may(bound, a, b, k, apart)
                    ways += may(bound, b, a, k, apart)
                if ways < fewest:
                    fewest, pair = ways, j
        if pair >= 0:
            what[0], what[1], what[2] = max(i, pair), min(i, pair), 0
            return 2
        widest = rest
        for one in range(rank + 1):
            for other in range(one):
                a, b = max(order[one], order[other]), min(order[one], order[other])
                c = side[a, b]
                k = int(c - 1) // 2
                x, y = (a, b) if c % 2 else (b, a)
                # how far an end of x, alone or with its room, may still reach beyond one of y
                gap = needed(bound, x, y, k, apart)
                for p in range(3):
                    if (p == 1) != (apart >= 0.0):
                        continue
                    reach = bound[x, k, HIGH[p] + 1] + gap - bound[y, k, LOW[p]]
                    if reach > widest:
                        widest = reach
                        what[0], what[1], what[2], what[3] = x, y, k, p
        if widest > rest:
            x, y, k, p = what[0], what[1], int(what[2]), what[3]
            end = bound[x, k, HIGH[p] + 1]
            gap = needed(bound, x, y, k, apart)
            where[0] = (max(bound[x, k, HIGH[p]], bound[y, k, LOW[p]] - gap) + end) / 2
            return 3
    return 0


@numba.njit(cache=True)
def _take(
    kind: int, what: Ints, where: Floats, first: Ints, bound: Floats, live: Bools, side: Ints, apart: float,
    dirty: Bools,
) -> int:  # fmt: skip
    """Take the next branch of a choice; the kind of choice that is left after it, -1 when there was none."""
    if kind == 1 or kind == 4:
        i = what[0]
        for f in range(first[i], first[i + 1]):
            live[f] = live[f] and (f == what[1]) == (kind == 1)
        dirty[i] = True
        return 4 if kind == 1 else 0
    if kind == 2:
        i, j = what[0], what[1]
        for c in range(what[2], 6):
            a, b = (i, j) if c % 2 == 0 else (j, i)
            if may(bound, a, b, c // 2, apart):
                side[i, j], what[2] = c + 1, c + 1
                return 2
        return -1
    x, y, k, p, plane = what[0], what[1], what[2], what[3], where[0]
    if kind == 3:
        most(bound, x, k, HIGH[p] + 1, plane, dirty)
        return 5
    # the end of x beyond the plane: so is that of y
    gap = needed(bound, x, y, k, apart)
    least(bound, x, k, HIGH[p], plane, dirty)
    least(bound, y, k, LOW[p], plane + gap, dirty)
    return 0


@numba.njit(cache=True)
def search(
    s: Sums, offset: Ints, dims: Ints, low: Floats, high: Floats, lines: Ints, size: Floats, room: Floats, first: Ints,
    order: Ints, tops: Ints, rules: Floats, given: Ints, apart: float, rest: float, budget: int, spots: Ints, at: Floats,
    over: Floats,
) -> tuple[int, int]:  # fmt: skip
    """Look for places of all things at once; see `sides`, `left_over` and, for the arrays, `narrowing`.

    Args:
        s: All running sums, one after the other.
        offset: Where those of each way of standing begin.
        dims: Their shapes.
        low: Lowest coordinates of all lines.
        high: Highest.
        lines: Where the lines of each way begin along each axis.
        size: Sides of each way.
        room: Kept before and behind.
        first: Where the ways of each thing begin.
        order: Things, those first that are to be settled first.
        tops: (t, 2) what stands on what.
        rules: (t, 3) rise and least shares of x and y.
        given: (g, 3) of two things the first before the second along an axis.
        apart: See `sides`.
        rest: See `sides`.
        budget: Most choices.
        spots: Filled with what is found.
        at: The same.
        over: (ways, 3, 2) widened to hold all that any answer leaves to the lowest corner of each way: none is then
            taken, all are gone through, and the state is never `FOUND`. Of length nought: the first is taken.

    Returns:
        State and the number of choices looked at.
    """
    m, ways = len(first) - 1, len(offset)
    bound = np.zeros((DEPTH, m, 3, 8))
    span = np.zeros((DEPTH, ways, 3, 2))
    index = np.zeros((DEPTH, ways, 3, 2), dtype=np.int64)
    live = np.ones((DEPTH, ways), dtype=np.bool_)
    side = np.zeros((DEPTH, m, m), dtype=np.int64)
    kind = np.zeros(DEPTH, dtype=np.int64)
    what = np.zeros((DEPTH, 4), dtype=np.int64)
    where = np.zeros((DEPTH, 1))
    dirty = np.ones(m, dtype=np.bool_)
    new, r = np.zeros((3, 8)), np.zeros((3, 2), dtype=np.int64)
    for q in range(4):
        bound[0, :, :, 2 * q], bound[0, :, :, 2 * q + 1] = -FAR, FAR
    for f in range(ways):
        for k in range(3):
            n = dims[f, k] - 1
            index[0, f, k, 1] = n
            span[0, f, k, 0], span[0, f, k, 1] = low[lines[f, k]], high[lines[f, k] + n - 1]
    for g in range(given.shape[0]):
        i, j, k = given[g, 0], given[g, 1], given[g, 2]
        side[0, max(i, j), min(i, j)] = 2 * k + 1 if i > j else 2 * k + 2
    d, nodes = 0, 0
    good = settle(
        s, offset, dims, low, high, lines, size, room, first, tops, rules, apart, bound[0], span[0], index[0], live[0],
        side[0], dirty, new, r,
    )  # fmt: skip
    while True:
        kind[d] = 0
        if good:
            nodes += 1
            kind[d] = _choose(order, first, bound[d], live[d], side[d], apart, rest, what[d], where[d])
            if kind[d] == 0 and len(over) == 0:
                _read(s, offset, dims, high, lines, first, index[d], live[d], spots, at)
                return FOUND, nodes
            if kind[d] == 0:
                _widen(span[d], live[d], over)
            if nodes >= budget or d + 2 >= DEPTH:
                return LEFT_OFF, nodes
        while True:
            while d >= 0 and kind[d] == 0:
                d -= 1
            if d < 0:
                return NONE, nodes
            bound[d + 1], span[d + 1], index[d + 1] = bound[d], span[d], index[d]
            live[d + 1], side[d + 1] = live[d], side[d]
            dirty[:] = False
            left = _take(
                kind[d], what[d], where[d], first, bound[d + 1], live[d + 1], side[d + 1], apart, dirty
            )
            kind[d] = max(left, 0)
            if left >= 0:
                break
        d += 1
        good = settle(
            s, offset, dims, low, high, lines, size, room, first, tops, rules, apart, bound[d], span[d], index[d],
            live[d], side[d], dirty, new, r,
        )  # fmt: skip


@numba.njit(cache=True)
def _widen(span: Floats, live: Bools, left: Floats) -> None:
    """Have ranges hold what an answer leaves to each way of standing that it takes."""
    for f in range(len(live)):
        if live[f]:
            for k in range(3):
                left[f, k, 0] = min(left[f, k, 0], span[f, k, 0])
                left[f, k, 1] = max(left[f, k, 1], span[f, k, 1])


@numba.njit(cache=True)
def _read(
    s: Sums, offset: Ints, dims: Ints, high: Floats, lines: Ints, first: Ints, index: Ints, live: Bools, spots: Ints,
    at: Floats,
) -> None:  # fmt: skip
    """The first anchor left of each thing."""
    for i in range(len(first) - 1):
        for f in range(first[i], first[i + 1]):
            if not live[f]:
                continue
            r = index[f].copy()
            for k in range(3):
                shrink(s, offset[f], dims[f], r)
                r[k, 1] = r[k, 0] + 1
            spots[i, 0] = f - first[i]
            for k in range(3):
                at[i, k] = high[lines[f, k] + r[k, 0]]
            break
