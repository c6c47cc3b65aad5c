"""Kernels of the search over cells: the way still ahead, the way itself, the widest way.

Cells are told by their flat index; the border cells of the grid are never free, so that no neighbour lies outside.
Costs are whole tenths of a cell, so that a queue of buckets (Dial, 1969) does in place of a heap.
"""

import heapq
from typing import Any

import numba
import numpy as np

TENTHS = 10
"""Cost of one cell."""
FAR = 1 << 29
"""Cost of what is not reached."""
BUCKETS = 60_000
"""Costs told apart: ways of up to this many tenths of a cell."""
ROOM = 1 << 18
"""Entries a queue begins with; it doubles when they are used up."""


@numba.njit(cache=True)
def _grown(entries: Any) -> Any:
    out = np.empty(2 * len(entries), entries.dtype)
    out[: len(entries)] = entries
    return out


@numba.njit(cache=True)
def ahead(
    free: Any,
    numbers: Any,
    cells: Any,
    strides: Any,
    goals: Any,
    goal_costs: Any,
    starts: Any,
    slack: Any,
    crowd: Any,
) -> Any:
    """The way still ahead of each numbered cell to the goals, bends left out of account; `FAR` where none leads.

    Args:
        free: (n,) flags of all cells, flat.
        numbers: (n,) running numbers, flat.
        cells: (m,) flat index of each numbered cell.
        strides: (3,) of the flat index.
        goals: (g,) flat.
        goal_costs: (g,).
        starts: (s,) flat: once all are reached, cells farther off by more than a share and `slack` are left out;
            empty to reach all.
        slack: In tenths.
        crowd: (n,) how many times dearer a cell is than an empty one.
    """
    step = np.empty(26, np.int64)
    cost = np.empty(26, np.int64)
    count = 0
    for i in range(-1, 2):
        for j in range(-1, 2):
            for m in range(-1, 2):
                if i != 0 or j != 0 or m != 0:
                    step[count] = i * strides[0] + j * strides[1] + m * strides[2]
                    cost[count] = round(TENTHS * np.sqrt(i * i + j * j + m * m))
                    count += 1
    out = np.full(len(cells), FAR, np.int32)
    head: Any = np.full(BUCKETS, -1, np.int32)
    item: Any = np.empty(ROOM, np.int32)
    after: Any = np.empty(ROOM, np.int32)
    used = 0
    for k in range(len(goals)):
        n = numbers[goals[k]]
        if n >= 0 and free[goals[k]] and goal_costs[k] < out[n]:
            out[n] = goal_costs[k]
            item[used], after[used] = n, head[goal_costs[k]]
            head[goal_costs[k]] = used
            used += 1
    waiting = np.zeros(len(cells), np.bool_)
    left = 0
    for k in range(len(starts)):
        n = numbers[starts[k]]
        if n >= 0 and not waiting[n]:
            waiting[n] = True
            left += 1
    limit = BUCKETS if left > 0 or len(starts) == 0 else 0
    at = 0
    while at < limit:
        while head[at] >= 0:
            entry = head[at]
            head[at] = after[entry]
            n = item[entry]
            if out[n] != at:
                continue
            if waiting[n]:
                waiting[n] = False
                left -= 1
                if left == 0:
                    limit = min(BUCKETS, at + at // 2 + slack)
            here = cells[n]
            dear = 1 + crowd[here]
            for k in range(26):
                there = here + step[k]
                if not free[there]:
                    continue
                q = numbers[there]
                total = at + cost[k] * dear
                if q < 0 or total >= out[q] or total >= BUCKETS:
                    continue
                out[q] = total
                if used == len(item):
                    item, after = _grown(item), _grown(after)
                item[used], after[used] = q, head[total]
                head[total] = used
                used += 1
        at += 1
    return out


@numba.njit(cache=True)
def seek(
    free: Any,
    numbers: Any,
    cells: Any,
    coordinates: Any,
    shape: Any,
    first: Any,
    last: Any,
    move: Any,
    far: Any,
    heading: Any,
    cost: Any,
    swept: Any,
    begin: Any,
    starts: Any,
    start_costs: Any,
    goals: Any,
    goal_costs: Any,
    way_ahead: Any,
    eager_percent: Any,
    crowd: Any,
    most: Any,
) -> tuple[int, Any, Any]:
    """Best first from start states to goal states; a state is six times a cell's number and its heading.

    Args:
        free: (n,) flags, flat.
        numbers: (n,) running numbers, flat.
        cells: (m,) flat index of each numbered cell.
        coordinates: (m, 3) of each numbered cell.
        shape: (3,) cells along each axis.
        first: (6,) first step of each heading.
        last: One beyond the last.
        move: (s,) flat offset of each step's end.
        far: (s, 3) the same by axis.
        heading: (s,) after the step.
        cost: (s,) in tenths.
        swept: (w,) flat offsets of cells swept.
        begin: (s + 1,) where those of each step begin.
        starts: (a,) states.
        start_costs: (a,).
        goals: (g,) states.
        goal_costs: (g,).
        way_ahead: (m,) from `ahead`.
        eager_percent: By which the way ahead counts.
        crowd: (n,) how many times dearer a cell is than an empty one.
        most: Longest way, in tenths, that is looked at.

    Returns:
        The goal's state or -1, the states before each, the steps that led there.
    """
    total_states = 6 * len(cells)
    best = np.full(total_states, FAR, np.int32)
    parent = np.empty(total_states, np.int32)
    taken = np.empty(total_states, np.int16)
    head: Any = np.full(BUCKETS, -1, np.int32)
    item: Any = np.empty(ROOM, np.int32)
    after: Any = np.empty(ROOM, np.int32)
    used, at = 0, BUCKETS
    for k in range(len(starts)):
        s = starts[k]
        n = s // 6
        if not free[cells[n]] or way_ahead[n] >= FAR or start_costs[k] >= best[s]:
            continue
        f = start_costs[k] + way_ahead[n] * eager_percent // 100
        if f >= BUCKETS:
            continue
        best[s], parent[s] = start_costs[k], -2
        item[used], after[used] = s, head[f]
        head[f] = used
        used += 1
        at = min(at, f)
    while at < BUCKETS:
        if head[at] < 0:
            at += 1
            continue
        entry = head[at]
        head[at] = after[entry]
        state = item[entry]
        if state >= total_states:
            return state - total_states, parent, taken
        n, h = state // 6, state % 6
        here = best[state]
        if here + way_ahead[n] * eager_percent // 100 < at:
            continue
        for k in range(len(goals)):
            if goals[k] == state:
                f = min(here + goal_costs[k], BUCKETS - 1)
                if used == len(item):
                    item, after = _grown(item), _grown(after)
                item[used], after[used] = state + total_states, head[f]
                head[f] = used
                used += 1
                at = min(at, f)
        cell = cells[n]
        x, y, z = coordinates[n, 0], coordinates[n, 1], coordinates[n, 2]
        for k in range(first[h], last[h]):
            a, b, c = x + far[k, 0], y + far[k, 1], z + far[k, 2]
            if a < 0 or b < 0 or c < 0 or a >= shape[0] or b >= shape[1] or c >= shape[2]:
                continue
            there = cell + move[k]
            if not free[there]:
                continue
            q = numbers[there]
            if q < 0 or way_ahead[q] >= FAR:
                continue
            s = q * 6 + heading[k]
            total = here + cost[k] * (1 + crowd[there])
            if total >= best[s] or total + way_ahead[q] > most:
                continue
            f = total + way_ahead[q] * eager_percent // 100
            if f >= BUCKETS:
                continue
            # every cell a step sweeps lies in the box of its two ends, so none is beyond the grid
            blocked = False
            for w in range(begin[k], begin[k + 1]):
                if not free[cell + swept[w]]:
                    blocked = True
                    break
            if blocked:
                continue
            best[s], parent[s], taken[s] = total, state, k
            if used == len(item):
                item, after = _grown(item), _grown(after)
            item[used], after[used] = s, head[f]
            head[f] = used
            used += 1
            at = min(at, f)
    return -1, parent, taken


@numba.njit(cache=True)
def widest_way(clear: Any, strides: Any, start: Any, goal: Any, shut: Any) -> tuple[Any, Any]:
    """The way whose least clearance is greatest: that clearance and the cell that sets it, both flat."""
    done = np.zeros(len(clear), np.bool_)
    best = np.full(len(clear), np.inf, np.float32)
    tight = np.empty(len(clear), np.int32)
    tight[start] = start
    heap: Any = [(-float(clear[start]), np.int64(start))]
    while len(heap) > 0:
        width, here = heapq.heappop(heap)
        if done[here]:
            continue
        done[here] = True
        if here == goal:
            return -width, tight[here]
        for h in range(6):
            there = here + strides[h // 2] * (1 if h % 2 == 0 else -1)
            if there < 0 or there >= len(clear) or done[there] or clear[there] <= shut:
                continue
            own = -float(clear[there])
            found = max(own, width)
            if found >= best[there]:
                continue
            best[there] = found
            tight[there] = there if own > width else tight[here]
            heapq.heappush(heap, (found, np.int64(there)))
    return -1e9, start


@numba.njit(cache=True)
def least_shut(
    clear: Any, strides: Any, shape: Any, start: Any, goal: Any, shut: Any
) -> tuple[int, Any, Any]:
    """The way with the fewest shut cells on it, from face to face: their number, the first and the last of them.

    Args:
        clear: (n,) clearance of all cells, flat.
        strides: (3,) of the flat index.
        shape: (3,) cells along each axis.
        start: Flat.
        goal: Flat.
        shut: A cell with no more clearance than this is shut.
    """
    before = np.full(len(clear), -2, np.int32)
    before[start] = -1
    now: Any = [np.int32(start)]
    count = 0
    while len(now) > 0 and before[goal] == -2:
        # all that is reached through this many shut cells; the shut cells beside it wait
        later: Any = [np.int32(0)]
        later.pop()
        k = 0
        while k < len(now):
            here = now[k]
            k += 1
            for h in range(6):
                axis, way = h // 2, 1 if h % 2 == 0 else -1
                place = (here // strides[axis]) % shape[axis] + way
                if place < 0 or place >= shape[axis]:
                    continue
                there = np.int32(here + strides[axis] * way)
                if before[there] != -2:
                    continue
                before[there] = here
                if clear[there] <= shut:
                    later.append(there)
                else:
                    now.append(there)
        now = later
        count += 1
    first, last, crossed, here = -1, -1, 0, goal
    while here >= 0:
        if clear[here] <= shut:
            crossed += 1
            first = here
            if last < 0:
                last = here
        here = before[here]
    return crossed, first, last
