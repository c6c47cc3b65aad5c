"""The inner loop of the search over sides: bounds of all things narrowed together. Arrays only.

For each thing, along each axis, the least and the most of four coordinates: its low end less the room kept before it,
its low end, its high end, its high end with the room kept behind it.
"""

import numba
import numpy as np

from packlayout.model.geometry import Floats, Ints
from packlayout.space.cells import Bools, Sums

EPS = 1e-6


@numba.njit(cache=True)
def _count(s: Sums, o: int, n: Ints, r: Ints) -> int:
    """Anchors within ranges (3, 2) of lines."""
    plane, row = n[1] * n[2], n[2]
    i0, i1 = o + r[0, 0] * plane, o + r[0, 1] * plane
    j0, j1 = r[1, 0] * row, r[1, 1] * row
    k0, k1 = r[2, 0], r[2, 1]
    return int(
        s[i1 + j1 + k1] - s[i0 + j1 + k1] - s[i1 + j0 + k1] - s[i1 + j1 + k0]
        + s[i0 + j0 + k1] + s[i0 + j1 + k0] + s[i1 + j0 + k0] - s[i0 + j0 + k0]
    )  # fmt: skip


@numba.njit(cache=True)
def shrink(s: Sums, o: int, n: Ints, r: Ints) -> bool:
    """Cut ranges down to the anchors in them; False when there is none."""
    if _count(s, o, n, r) == 0:
        return False
    for k in range(3):
        lo, hi = r[k, 0], r[k, 1]
        a, b = lo, hi - 1
        while a < b:
            m = (a + b) // 2
            r[k, 1] = m + 1
            if _count(s, o, n, r) > 0:
                b = m
            else:
                a = m + 1
        r[k, 1] = hi
        lo = a
        b = hi - 1
        while a < b:
            m = (a + b + 1) // 2
            r[k, 0] = m
            if _count(s, o, n, r) > 0:
                a = m
            else:
                b = m - 1
        r[k, 0] = lo
        r[k, 1] = a + 1
    return True


@numba.njit(cache=True)
def _first_from(values: Floats, o: int, n: int, least: float) -> int:
    """First line whose coordinate is not below a bound."""
    a, b = 0, n
    while a < b:
        m = (a + b) // 2
        if values[o + m] < least:
            a = m + 1
        else:
            b = m
    return a


@numba.njit(cache=True)
def _tighten(
    i: int, s: Sums, offset: Ints, dims: Ints, low: Floats, high: Floats, lines: Ints, size: Floats, room: Floats,
    first: Ints, bound: Floats, span: Floats, index: Ints, live: Bools, new: Floats, r: Ints,
) -> int:  # fmt: skip
    """Bring the bounds of a thing and what is left of its ways of standing together.

    Args:
        i: The thing.
        s: All running sums, one after the other.
        offset: Where those of each way begin.
        dims: Their shapes.
        low: Lowest coordinates of all lines.
        high: Highest.
        lines: Where the lines of each way begin along each axis.
        size: Sides of each way.
        room: Kept before and behind.
        first: Where the ways of each thing begin.
        bound: (m, 3, 8) least and most of: its low end less room, low end, high end, high end with room.
        span: (f, 3, 2) range of the lowest corner left to each way, mm.
        index: (f, 3, 2) lines left to each way.
        live: Which ways are left.
        new: Room to work in.
        r: The same.

    Returns:
        0 when nothing is left, 2 when the bounds changed, else 1.
    """
    for k in range(3):
        for q in range(4):
            new[k, 2 * q], new[k, 2 * q + 1] = np.inf, -np.inf
    some = False
    for f in range(first[i], first[i + 1]):
        if not live[f]:
            continue
        changed, dead = False, False
        for k in range(3):
            z, rb, ra = size[f, k], room[f, 2 * k], room[f, 2 * k + 1]
            a = max(
                bound[i, k, 2], max(bound[i, k, 4] - z, max(bound[i, k, 6] - z - ra, bound[i, k, 0] + rb))
            )
            b = min(
                bound[i, k, 3], min(bound[i, k, 5] - z, min(bound[i, k, 7] - z - ra, bound[i, k, 1] + rb))
            )
            if a > span[f, k, 0] + EPS or b < span[f, k, 1] - EPS:
                changed = True
            span[f, k, 0], span[f, k, 1] = max(a, span[f, k, 0]), min(b, span[f, k, 1])
            if span[f, k, 0] > span[f, k, 1] + EPS:
                dead = True
                break
        if not dead and changed:
            for k in range(3):
                o, n = lines[f, k], dims[f, k] - 1
                r[k, 0] = max(index[f, k, 0], _first_from(high, o, n, span[f, k, 0] - EPS))
                r[k, 1] = min(index[f, k, 1], _first_from(low, o, n, span[f, k, 1] + EPS))
                if r[k, 0] >= r[k, 1]:
                    dead = True
                    break
            if not dead and shrink(s, offset[f], dims[f], r):
                for k in range(3):
                    o = lines[f, k]
                    index[f, k, 0], index[f, k, 1] = r[k, 0], r[k, 1]
                    span[f, k, 0] = max(span[f, k, 0], low[o + r[k, 0]])
                    span[f, k, 1] = min(span[f, k, 1], high[o + r[k, 1] - 1])
            else:
                dead = True
        if dead:
            live[f] = False
            continue
        some = True
        for k in range(3):
            z, rb, ra = size[f, k], room[f, 2 * k], room[f, 2 * k + 1]
            a, b = span[f, k, 0], span[f, k, 1]
            new[k, 0], new[k, 1] = min(new[k, 0], a - rb), max(new[k, 1], b - rb)
            new[k, 2], new[k, 3] = min(new[k, 2], a), max(new[k, 3], b)
            new[k, 4], new[k, 5] = min(new[k, 4], a + z), max(new[k, 5], b + z)
            new[k, 6], new[k, 7] = min(new[k, 6], a + z + ra), max(new[k, 7], b + z + ra)
    if not some:
        return 0
    found = 1
    for k in range(3):
        for q in range(8):
            if abs(bound[i, k, q] - new[k, q]) > EPS:
                found = 2
            bound[i, k, q] = new[k, q]
    return found


@numba.njit(cache=True)
def may(bound: Floats, i: int, j: int, k: int, apart: float) -> bool:
    """Whether thing i may stand before thing j along axis k; see `needed` for things a distance apart."""
    if apart >= 0.0:
        return bound[i, k, 4] + needed(bound, i, j, k, apart) <= bound[j, k, 3] + EPS
    return bound[i, k, 6] <= bound[j, k, 3] + EPS and bound[i, k, 4] <= bound[j, k, 1] + EPS


@numba.njit(cache=True)
def needed(bound: Floats, i: int, j: int, k: int, apart: float) -> float:
    """Least room between two things a distance apart along the axis along which they have the most, mm.

    The squares of the rooms along the three axes add up to that of the distance at the least; along the other two
    there is no more room than along this one, and no more than the bounds of the two things leave. Nought where no
    distance is given.
    """
    if apart < 0.0:
        return 0.0
    a, b = _most_room(bound, i, j, (k + 1) % 3), _most_room(bound, i, j, (k + 2) % 3)
    a, b = min(a, b), max(a, b)
    if 3.0 * a * a >= apart * apart:
        return apart / np.sqrt(3.0)
    left = apart * apart - a * a
    return np.sqrt(left / 2.0) if 2.0 * b * b >= left else np.sqrt(left - b * b)


@numba.njit(cache=True)
def _most_room(bound: Floats, i: int, j: int, k: int) -> float:
    """The most room there may be between two things along an axis, whichever stands first."""
    return max(0.0, max(bound[j, k, 3] - bound[i, k, 4], bound[i, k, 3] - bound[j, k, 4]))


@numba.njit(cache=True)
def _apart(bound: Floats, i: int, j: int, k: int, apart: float) -> bool:
    """Whether thing i stands before thing j along axis k wherever the two stand."""
    if apart >= 0.0:
        return bound[i, k, 5] + apart <= bound[j, k, 2] + EPS
    return bound[i, k, 7] <= bound[j, k, 2] + EPS and bound[i, k, 5] <= bound[j, k, 0] + EPS


@numba.njit(cache=True)
def least(bound: Floats, i: int, k: int, q: int, value: float, dirty: Bools) -> None:
    """Raise one of the lower bounds of a thing."""
    if value > bound[i, k, q] + EPS:
        bound[i, k, q] = value
        dirty[i] = True


@numba.njit(cache=True)
def most(bound: Floats, i: int, k: int, q: int, value: float, dirty: Bools) -> None:
    """Lower one of the upper bounds of a thing."""
    if value < bound[i, k, q] - EPS:
        bound[i, k, q] = value
        dirty[i] = True


@numba.njit(cache=True)
def _put_before(bound: Floats, i: int, j: int, k: int, apart: float, dirty: Bools) -> bool:
    """Narrow the bounds of two things of which one is to stand before the other; False when it cannot."""
    if not may(bound, i, j, k, apart):
        return False
    if apart >= 0.0:
        room = needed(bound, i, j, k, apart)
        most(bound, i, k, 5, bound[j, k, 3] - room, dirty)
        least(bound, j, k, 2, bound[i, k, 4] + room, dirty)
        return True
    most(bound, i, k, 7, bound[j, k, 3], dirty)
    most(bound, i, k, 5, bound[j, k, 1], dirty)
    least(bound, j, k, 2, bound[i, k, 6], dirty)
    least(bound, j, k, 0, bound[i, k, 4], dirty)
    return True


@numba.njit(cache=True)
def _put_on_top(bound: Floats, tops: Ints, rules: Floats, dirty: Bools) -> bool:
    """Narrow the bounds of what stands on what; False when it cannot."""
    for t in range(tops.shape[0]):
        a, b, rise = tops[t, 0], tops[t, 1], rules[t, 0]
        if bound[b, 2, 4] > bound[a, 2, 3] + EPS or bound[a, 2, 2] > bound[b, 2, 5] + rise + EPS:
            return False
        least(bound, a, 2, 2, bound[b, 2, 4], dirty)
        most(bound, a, 2, 3, bound[b, 2, 5] + rise, dirty)
        most(bound, b, 2, 5, bound[a, 2, 3], dirty)
        least(bound, b, 2, 4, bound[a, 2, 2] - rise, dirty)
        for k in range(2):
            over = rules[t, 1 + k]
            most(bound, a, k, 3, bound[b, k, 5] - over, dirty)
            least(bound, b, k, 4, bound[a, k, 2] + over, dirty)
            least(bound, a, k, 4, bound[b, k, 2] + over, dirty)
            most(bound, b, k, 3, bound[a, k, 5] - over, dirty)
    return True


@numba.njit(cache=True)
def settle(
    s: Sums, offset: Ints, dims: Ints, low: Floats, high: Floats, lines: Ints, size: Floats, room: Floats, first: Ints,
    tops: Ints, rules: Floats, apart: float, bound: Floats, span: Floats, index: Ints, live: Bools, side: Ints,
    dirty: Bools, new: Floats, r: Ints,
) -> bool:  # fmt: skip
    """Narrow until nothing changes; False when some pair has no side left, or some thing no place."""
    m = len(first) - 1
    while True:
        for i in range(m):
            if dirty[i]:
                dirty[i] = False
                if not _tighten(
                    i, s, offset, dims, low, high, lines, size, room, first, bound, span, index, live, new, r
                ):
                    return False
        for i in range(m):
            for j in range(i):
                c = side[i, j]
                if c == 0:
                    ways, last = 0, 0
                    for k in range(3):
                        if _apart(bound, i, j, k, apart):
                            c = 2 * k + 1
                        elif _apart(bound, j, i, k, apart):
                            c = 2 * k + 2
                        if may(bound, i, j, k, apart):
                            ways, last = ways + 1, 2 * k + 1
                        if may(bound, j, i, k, apart):
                            ways, last = ways + 1, 2 * k + 2
                    if ways == 0:
                        return False
                    c = last if c == 0 and ways == 1 else c
                    side[i, j] = c
                if c > 0:
                    a, b = (i, j) if c % 2 else (j, i)
                    if not _put_before(bound, a, b, (c - 1) // 2, apart, dirty):
                        return False
        if not _put_on_top(bound, tops, rules, dirty):
            return False
        if not dirty.any():
            return True
