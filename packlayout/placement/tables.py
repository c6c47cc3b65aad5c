"""Exact best of up to three blocks on cells, by tables over half-spaces. Arrays only.

Two disjoint boxes along the axes are always parted by a plane square to an axis. So three disjoint boxes are
parted by two or three such planes, and each box lies in the meeting of at most two half-spaces. One table for
each pair of half-spaces, holding the most valuable block within them, makes the best of up to three blocks a
maximum over planes: exact on the cells, in the time of a few sweeps.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import permutations, product

import numba
import numpy as np
from numpy.typing import NDArray

from packlayout.space.cells import Sums

Cell = tuple[int, int, int]
Table = NDArray[np.int32]
NONE = -1_000_000
"""Value of a half-space that holds no block; three of them still lie far below nought."""

PAIRS = ((0, 1), (0, 2), (1, 2))
LEFT, RIGHT = 0, 1


@dataclass(frozen=True, slots=True)
class Kind:
    """One kind of block on cells.

    Attributes:
        value: What it counts.
        cells: Sides of the box of cells that must all be free.
        before: How far the room it claims from other blocks begins before its lowest corner, cells.
        after: How far that room reaches beyond its lowest corner, cells.
        rooms: (which sums, lowest corner, highest corner) of cells that must be set besides, from its own
            lowest corner; sums 0 end at the grid, sums above are held at its edge.
    """

    value: int
    cells: Cell
    before: Cell
    after: Cell
    rooms: tuple[tuple[int, Cell, Cell], ...] = ()


@dataclass(frozen=True, slots=True, eq=False)
class Tables:
    """The most valuable block within half-spaces.

    Attributes:
        best: Of all.
        half: axis, side -> (n,) by the place of the plane.
        between: axis -> (n, n) between two planes square to it.
        corner: axis, side, other axis, its side -> (n, m); axis < other axis.
    """

    best: int
    half: dict[tuple[int, int], Table]
    between: dict[int, Table]
    corner: dict[tuple[int, int, int, int], Table]


@dataclass(frozen=True, slots=True)
class Span:
    """Planes that hold one block: what it claims lies within [lo, hi) along each axis, cells."""

    lo: Cell
    hi: Cell


@dataclass(frozen=True, slots=True)
class Split:
    """The best value, and for each block the planes that hold it; no spans when nothing stands."""

    value: int
    spans: tuple[Span, ...]


def spots(free: Sums, others: Sequence[Sums] | NDArray[np.int32], kind: Kind) -> NDArray[np.bool_]:
    """(nx, ny, nz) True at each cell where a kind of block may have its lowest corner."""
    shape = tuple(n - 1 for n in free.shape)
    out = np.zeros(shape, dtype=np.bool_)
    rooms = np.array([[w, *lo, *hi] for w, lo, hi in kind.rooms], dtype=np.int64).reshape(-1, 7)
    stack = (
        others
        if isinstance(others, np.ndarray)
        else np.array([*others], dtype=np.int32).reshape(-1, *free.shape)
    )
    _spots(free, stack, np.array(kind.cells), rooms, out)
    return out


@numba.njit(cache=True)
def _spots(
    free: Sums, others: NDArray[np.int32], n: NDArray[np.int64], rooms: NDArray[np.int64], out: NDArray[np.bool_]
) -> None:  # fmt: skip
    a, b, c = n[0], n[1], n[2]
    full = a * b * c
    last = (free.shape[0] - 1, free.shape[1] - 1, free.shape[2] - 1)
    below = np.empty(free.shape[2], dtype=np.int64)  # free cells under each height of one upright column
    for i in range(last[0] - a + 1):
        for j in range(last[1] - b + 1):
            for k in range(last[2] + 1):
                below[k] = free[i + a, j + b, k] - free[i, j + b, k] - free[i + a, j, k] + free[i, j, k]
            if below[last[2]] < full:
                continue
            for k in range(last[2] - c + 1):
                if below[k + c] - below[k] != full:
                    continue
                good = True
                for r in range(rooms.shape[0]):
                    w = rooms[r, 0]
                    x0, y0, z0 = i + rooms[r, 1], j + rooms[r, 2], k + rooms[r, 3]
                    x1, y1, z1 = i + rooms[r, 4], j + rooms[r, 5], k + rooms[r, 6]
                    if w > 0:
                        x0, y0, z0 = max(x0, 0), max(y0, 0), max(z0, 0)
                        x1, y1, z1 = min(x1, last[0]), min(y1, last[1]), min(z1, last[2])
                        if x1 <= x0 or y1 <= y0 or z1 <= z0:
                            continue
                    elif x0 < 0 or y0 < 0 or z0 < 0 or x1 > last[0] or y1 > last[1] or z1 > last[2]:
                        good = False
                        break
                    s = others[w]
                    if (
                        s[x1, y1, z1] - s[x0, y1, z1] - s[x1, y0, z1] - s[x1, y1, z0]
                        + s[x0, y0, z1] + s[x0, y1, z0] + s[x1, y0, z0] - s[x0, y0, z0]
                    ) != (x1 - x0) * (y1 - y0) * (z1 - z0):  # fmt: skip
                        good = False
                        break
                out[i, j, k] = good


def tables(free: Sums, others: Sequence[Sums], kinds: Sequence[Kind]) -> Tables:
    """Tables for a set of kinds of block.

    Args:
        free: Running sums of the free cells.
        others: Running sums that rooms refer to.
        kinds: Any of them may be taken.
    """
    n = list(free.shape)
    half = {(k, s): np.full(n[k], NONE, dtype=np.int32) for k in range(3) for s in (LEFT, RIGHT)}
    between = {k: np.full((n[k], n[k]), NONE, dtype=np.int32) for k in range(3)}
    corner = {
        (k, s, m, t): np.full((n[k], n[m]), NONE, dtype=np.int32)
        for k, m in PAIRS for s in (LEFT, RIGHT) for t in (LEFT, RIGHT)
    }  # fmt: skip
    best = NONE
    # a block that finds no place rules out all that are larger in each side and ask for no less room
    dead: list[Cell] = []
    for kind in sorted(kinds, key=lambda q: q.cells):
        if any(all(a <= b for a, b in zip(small, kind.cells, strict=True)) for small in dead):
            continue
        at = spots(free, others, kind)
        if not at.any():
            if not kind.rooms:
                dead.append(kind.cells)
            continue
        best = max(best, kind.value)
        _enter(at, kind, half, between, corner)
    for (_, s), table in half.items():
        _sweep(table, 0, s)
    for table in between.values():
        _sweep(table, 0, RIGHT)
        _sweep(table, 1, LEFT)
    for (_, s, _, t), table in corner.items():
        _sweep(table, 0, s)
        _sweep(table, 1, t)
    return Tables(best, half, between, corner)


def _ends(kind: Kind, axis: int, side: int, index: NDArray[np.int64]) -> NDArray[np.int64]:
    return index + kind.after[axis] if side == LEFT else index - kind.before[axis]


def _enter(
    at: NDArray[np.bool_], kind: Kind, half: dict[tuple[int, int], Table], between: dict[int, Table],
    corner: dict[tuple[int, int, int, int], Table],
) -> None:  # fmt: skip
    flat = {pair: at.any(axis=3 - pair[0] - pair[1]) for pair in PAIRS}
    for k in range(3):
        plane = flat[0, 1] if k == 0 else flat[0, 1].T if k == 1 else flat[0, 2].T
        (index,) = np.nonzero(np.logical_or.reduce(plane, axis=1))
        lo, hi = _ends(kind, k, RIGHT, index), _ends(kind, k, LEFT, index)
        for s, ends in ((LEFT, hi), (RIGHT, lo)):
            table = half[k, s]
            ok = (ends >= 0) & (ends < len(table))
            table[ends[ok]] = np.maximum(table[ends[ok]], kind.value)
        ok = (lo >= 0) & (hi < len(half[k, LEFT]))
        between[k][lo[ok], hi[ok]] = np.maximum(between[k][lo[ok], hi[ok]], kind.value)
    for (k, m), both in flat.items():
        i, j = np.nonzero(both)
        for s, t in product((LEFT, RIGHT), repeat=2):
            table = corner[k, s, m, t]
            a, b = _ends(kind, k, s, i), _ends(kind, m, t, j)
            ok = (a >= 0) & (a < table.shape[0]) & (b >= 0) & (b < table.shape[1])
            table[a[ok], b[ok]] = np.maximum(table[a[ok], b[ok]], kind.value)


def _sweep(table: Table, axis: int, side: int) -> None:
    """Running maximum: a block left of a plane is left of every plane beyond."""
    view = table if side == LEFT else np.flip(table, axis)
    np.maximum.accumulate(view, axis=axis, out=view)


def _corner(t: Tables, k: int, s: int, m: int, u: int) -> Table:
    """(plane on k, plane on m), in that order of the axes."""
    return t.corner[k, s, m, u] if k < m else t.corner[m, u, k, s].T


def best_split(sets: Sequence[Tables]) -> Split:
    """One block of each set, disjoint, with the greatest sum of values.

    Args:
        sets: One to three tables, all on the same cells.
    """
    found = Split(NONE, ())
    if len(sets) == 1:
        return Split(sets[0].best, (Span(_LOW, _HIGH),)) if sets[0].best > 0 else found
    if len(sets) == 2:
        return max((_two(sets, order) for order in permutations(range(2))), key=lambda s: s.value)
    for order in permutations(range(3)):
        for made in (_row(sets, order), _branch(sets, order), _wheel(sets, order)):
            found = max(found, made, key=lambda s: s.value)
    return found


_FAR = 10**6
_LOW: Cell = (-_FAR, -_FAR, -_FAR)
_HIGH: Cell = (_FAR, _FAR, _FAR)


def _span(*limits: tuple[int, int, int]) -> Span:
    """From (axis, side, plane) triples."""
    lo, hi = list(_LOW), list(_HIGH)
    for axis, side, plane in limits:
        if side == LEFT:
            hi[axis] = min(hi[axis], plane)
        else:
            lo[axis] = max(lo[axis], plane)
    return Span((lo[0], lo[1], lo[2]), (hi[0], hi[1], hi[2]))


def _in_order(order: tuple[int, ...], spans: Sequence[Span]) -> tuple[Span, ...]:
    back: list[Span] = [spans[0]] * len(order)
    for place, span in zip(order, spans, strict=True):
        back[place] = span
    return tuple(back)


def _two(sets: Sequence[Tables], order: tuple[int, ...]) -> Split:
    a, b = (sets[i] for i in order)
    found = Split(NONE, ())
    for k in range(3):
        sums = a.half[k, LEFT] + b.half[k, RIGHT]
        t = int(np.argmax(sums))
        if sums[t] > max(found.value, 0):
            spans = (_span((k, LEFT, t)), _span((k, RIGHT, t)))
            found = Split(int(sums[t]), _in_order(order, spans))
    return found


def _row(sets: Sequence[Tables], order: tuple[int, ...]) -> Split:
    """Three in a row along one axis."""
    a, b, c = (sets[i] for i in order)
    found = Split(NONE, ())
    for k in range(3):
        sums = a.half[k, LEFT][:, None] + b.between[k] + c.half[k, RIGHT][None, :]
        t, u = (int(v) for v in np.unravel_index(np.argmax(sums), sums.shape))
        if sums[t, u] > max(found.value, 0):
            spans = (_span((k, LEFT, t)), _span((k, RIGHT, t), (k, LEFT, u)), _span((k, RIGHT, u)))
            found = Split(int(sums[t, u]), _in_order(order, spans))
    return found


def _branch(sets: Sequence[Tables], order: tuple[int, ...]) -> Split:
    """One on one side of a plane, two on the other that a plane square to it parts."""
    a, b, c = (sets[i] for i in order)
    found = Split(NONE, ())
    for k, m, s in product(range(3), range(3), (LEFT, RIGHT)):
        if k == m:
            continue
        far = 1 - s
        sums = a.half[k, s][:, None] + _corner(b, k, far, m, LEFT) + _corner(c, k, far, m, RIGHT)
        t, u = (int(v) for v in np.unravel_index(np.argmax(sums), sums.shape))
        if sums[t, u] > max(found.value, 0):
            spans = (
                _span((k, s, t)), _span((k, far, t), (m, LEFT, u)), _span((k, far, t), (m, RIGHT, u)),
            )  # fmt: skip
            found = Split(int(sums[t, u]), _in_order(order, spans))
    return found


def _wheel(sets: Sequence[Tables], order: tuple[int, ...]) -> Split:
    """Three that no single plane parts: each pair lies on the two sides of a plane square to another axis."""
    a, b, c = (sets[i] for i in order)
    found = Split(NONE, ())
    for sx, sy, sz in product((LEFT, RIGHT), repeat=3):
        one, two, three = (
            _corner(a, 0, sx, 2, sz),
            _corner(b, 0, 1 - sx, 1, sy),
            _corner(c, 1, 1 - sy, 2, 1 - sz),
        )
        value, t, u, w = _cycle(one, two, three)
        if value > max(found.value, 0):
            spans = (
                _span((0, sx, t), (2, sz, w)), _span((0, 1 - sx, t), (1, sy, u)),
                _span((1, 1 - sy, u), (2, 1 - sz, w)),
            )  # fmt: skip
            found = Split(int(value), _in_order(order, spans))
    return found


@numba.njit(cache=True)
def _cycle(one: Table, two: Table, three: Table) -> tuple[int, int, int, int]:
    best, bt, bu, bw = -3_000_000, 0, 0, 0
    for t in range(one.shape[0]):
        for u in range(two.shape[1]):
            if two[t, u] < 0:
                continue
            for w in range(one.shape[1]):
                v = one[t, w] + two[t, u] + three[u, w]
                if v > best:
                    best, bt, bu, bw = v, t, u, w
    return best, bt, bu, bw


def standing(
    free: Sums, others: Sequence[Sums], kinds: Sequence[Kind], value: int, span: Span
) -> tuple[Kind, Cell]:
    """A kind of a value and where it stands within its planes; there must be one."""
    for kind in kinds:
        if kind.value != value:
            continue
        at = np.argwhere(spots(free, others, kind))
        lo, hi = at - np.array(kind.before), at + np.array(kind.after)
        ok = np.all((lo >= np.array(span.lo)) & (hi <= np.array(span.hi)), axis=1)
        if ok.any():
            i, j, k = (int(v) for v in at[np.argmax(ok)])
            return kind, (i, j, k)
    raise AssertionError("no block of this value within these planes")
