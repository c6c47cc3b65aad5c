"""Room for everything at once: things may stand in one another for a while, and are moved until none does.

Greedy insertion fails in a tight bay because what stands first takes the only place of what comes later. Here all
stand from the start; the two that reach furthest into each other are moved in turn to where they reach least into
the rest, and a pair that keeps coming back counts more each time, until the search leaves that corner.

Source: guided local search for packing, Faroe, Pisinger and Zachariasen, INFORMS J. Computing 15 (2003).
"""

from collections.abc import Sequence

import numba
import numpy as np

from packlayout.model.geometry import Floats, Ints
from packlayout.placement.board import RISE_MM, Board, Spot

KICK = 0.3  # chance of a move to anywhere, over the number of things that move
COVER = 0.75
"""Share of the smaller footprint that must lie over the other where a part stands on the pack."""


def untangled(board: Board, rng: np.random.Generator, moves: int) -> Board | None:
    """A full board on which nothing meets anything; None when the moves were not enough.

    Args:
        board: May be empty or full in part: what stands, stands there at the start; fixed things stay.
        rng: Source of variation.
        moves: How many things are moved at the most.
    """
    things = board.things
    if any(not len(t.pos) for t in things):
        return None
    forms = np.cumsum([0, *(len(t.forms) for t in things)])
    rows = np.cumsum([0, *(len(t.pos) for t in things)])
    slabs = _stacked([t.arrays[3] for t in things])
    reach = np.array([[board.reach(i, j) if j in t.links else np.inf for j in range(len(things))]
                      for i, t in enumerate(things)])  # fmt: skip
    on_pack = np.array(
        [t.order is not None and t.order.on_pack and t.order.fixed is None and not t.fixed for t in things]
    )
    now = np.array([_row(board, i, rng) for i in range(len(things))]) + rows[:-1]
    done = _untangle(
        np.concatenate([t.pos for t in things]),
        np.concatenate([t.form + f for t, f in zip(things, forms[:-1], strict=True)]),
        rows, np.concatenate([t.arrays[0] for t in things]), np.concatenate([t.arrays[2] for t in things]), slabs,
        np.concatenate([t.arrays[4] for t in things]), np.array([t.fixed for t in things]),
        np.array([t.modules > 0 for t in things]), on_pack, reach, board.gap, board.gap + RISE_MM, COVER, now, moves,
        int(rng.integers(2**31)),
    )  # fmt: skip
    if not done:
        return None
    made = Board(board.case, things, board.goal)
    for i, thing in enumerate(things):
        r = int(now[i] - rows[i])
        x, y, z = (float(v) for v in thing.pos[r])
        made.spots[i] = Spot((x, y, z), int(thing.form[r]), int(thing.zone[r]))
    return made


def _stacked(rooms: Sequence[Floats]) -> Floats:
    most = max(r.shape[1] for r in rooms)
    return np.concatenate([np.pad(r, ((0, 0), (0, most - r.shape[1]), (0, 0))) for r in rooms])


def _row(board: Board, i: int, rng: np.random.Generator) -> int:
    """Row of an anchor at or nearest to where a thing stands; any one when it stands nowhere."""
    thing = board.things[i]
    spot = board.spots.get(i)
    if spot is None:
        return int(rng.integers(len(thing.pos)))
    off = np.abs(thing.pos - np.array(spot.at)).sum(axis=1) + np.where(thing.form == spot.form, 0.0, 1e6)
    return int(np.argmin(off))


@numba.njit(cache=True)
def _untangle(
    pos: Floats, form: Ints, rows: Ints, size: Floats, port: Floats, slabs: Floats, slab_count: Ints,
    fixed: np.ndarray, packs: np.ndarray, on_pack: np.ndarray, reach: Floats, gap: float, rise: float, cover: float,
    now: Ints, moves: int, seed: int,
) -> bool:  # type: ignore[type-arg]  # fmt: skip
    """Move things until none meets another; `now` holds the row of each and is changed.

    Args:
        pos: (r, 3) anchors of all things, one after the other.
        form: (r,) form at each.
        rows: (n + 1,) where the anchors of each thing begin.
        size: (f, 3) sides of the forms, mm.
        port: (f, 3) offset of their cable ports.
        slabs: (f, s, 6) access rooms.
        slab_count: (f,) how many count.
        fixed: (n,) things that stay.
        packs: (n,) blocks of modules.
        on_pack: (n,) things that stand on a block.
        reach: (n, n) longest cable, mm.
        gap: Between things, mm.
        rise: How far above a block a thing on it may stand, mm.
        cover: Share of the smaller footprint that lies over the other then.
        now: (n,) row at which each stands.
        moves: Most moves.
        seed: Of the draws.
    """
    n = len(now)
    np.random.seed(seed)
    weight = np.ones((n, n))
    meet = np.zeros((n, n))
    bounds = np.zeros((len(size), 6))  # of each form with its access rooms
    for f in range(len(size)):
        for k in range(3):
            bounds[f, k + 3] = size[f, k]
            for m in range(slab_count[f]):
                bounds[f, k] = min(bounds[f, k], slabs[f, m, k])
                bounds[f, k + 3] = max(bounds[f, k + 3], slabs[f, m, k + 3])
    for i in range(n):
        for j in range(i):
            meet[i, j] = _pair(i, now[i], j, now[j], pos, form, size, port, slabs, slab_count, reach, gap)
            meet[j, i] = meet[i, j]
    for i in range(n):
        meet[i, i] = _off_pack(i, now, -1, 0, pos, form, size, packs, on_pack, rise, cover)
    kick = KICK / max(1, n - np.sum(fixed))
    for _ in range(moves):
        worst, a, b = 0.0, -1, -1
        for i in range(n):
            for j in range(i + 1):
                if meet[i, j] > 0.0 and not (fixed[i] and fixed[j]):
                    use = meet[i, j] / weight[i, j] * (0.9 + 0.2 * np.random.random())
                    if use > worst:
                        worst, a, b = use, i, j
        if a < 0:
            return True
        weight[a, b] += 1.0
        weight[b, a] = weight[a, b]
        if fixed[a] or (not fixed[b] and np.random.random() < 0.5):
            a, b = b, a
        if np.random.random() < kick:
            # anywhere at all: two things alone would else push each other to and fro between the same places
            now[a] = rows[a] + np.random.randint(rows[a + 1] - rows[a])
        else:
            _move(
                a, now, pos, form, rows, size, port, slabs, slab_count, packs, on_pack, reach, gap, rise, cover,
                weight, bounds,
            )  # fmt: skip
        for j in range(n):
            if j != a:
                meet[a, j] = _pair(a, now[a], j, now[j], pos, form, size, port, slabs, slab_count, reach, gap)
                meet[j, a] = meet[a, j]
        for i in range(n):
            meet[i, i] = _off_pack(i, now, -1, 0, pos, form, size, packs, on_pack, rise, cover)
    return False


@numba.njit(cache=True)
def _move(
    a: int, now: Ints, pos: Floats, form: Ints, rows: Ints, size: Floats, port: Floats, slabs: Floats,
    slab_count: Ints, packs: np.ndarray, on_pack: np.ndarray, reach: Floats, gap: float, rise: float, cover: float,
    weight: Floats, bounds: Floats,
) -> None:  # type: ignore[type-arg]  # fmt: skip
    """Put thing a where it reaches least into the rest; among equals the first from a drawn row on."""
    n = len(now)
    first, last = rows[a], rows[a + 1]
    count = last - first
    start = np.random.randint(count)
    best, at = np.inf, now[a]
    boxes = np.empty((n, 6))
    whole = np.empty((n, 6))
    room = np.empty(n)
    plain = np.zeros(n, dtype=np.bool_)
    for j in range(n):
        g = form[now[j]]
        room[j] = 0.0 if j == a else -size[g, 0] * size[g, 1] * size[g, 2] * weight[a, j]
        plain[j] = slab_count[g] == 0
        for k in range(3):
            boxes[j, k] = pos[now[j], k] - gap
            boxes[j, k + 3] = pos[now[j], k] + size[g, k] + gap
            whole[j, k] = pos[now[j], k] + bounds[g, k] - gap
            whole[j, k + 3] = pos[now[j], k] + bounds[g, k + 3] + gap
    # what is large or was met often is asked first: most anchors are then given up early
    order = np.argsort(room)
    for m in range(count):
        r = first + start + m
        if r >= last:
            r -= count
        if r == now[a]:
            continue
        f = form[r]
        x0, y0, z0 = pos[r, 0], pos[r, 1], pos[r, 2]
        x1, y1, z1 = x0 + size[f, 0], y0 + size[f, 1], z0 + size[f, 2]
        total = 0.0
        for q in range(n - 1):
            j = int(order[q])
            if reach[a, j] < np.inf:
                total += weight[a, j] * _pair(
                    a, r, j, now[j], pos, form, size, port, slabs, slab_count, reach, gap
                )
            elif plain[j] and slab_count[f] == 0:
                dx = min(x1, boxes[j, 3]) - max(x0, boxes[j, 0])
                if dx <= 1e-9:
                    continue
                dy = min(y1, boxes[j, 4]) - max(y0, boxes[j, 1])
                if dy <= 1e-9:
                    continue
                dz = min(z1, boxes[j, 5]) - max(z0, boxes[j, 2])
                if dz <= 1e-9:
                    continue
                total += weight[a, j] * min(dx, min(dy, dz))
            else:
                # with their access rooms; most pairs are far apart
                if x0 + bounds[f, 0] >= whole[j, 3] or x0 + bounds[f, 3] <= whole[j, 0]:
                    continue
                if y0 + bounds[f, 1] >= whole[j, 4] or y0 + bounds[f, 4] <= whole[j, 1]:
                    continue
                if z0 + bounds[f, 2] >= whole[j, 5] or z0 + bounds[f, 5] <= whole[j, 2]:
                    continue
                total += weight[a, j] * _pair(
                    a, r, j, now[j], pos, form, size, port, slabs, slab_count, reach, gap
                )
            if total >= best:
                break
        if total < best and on_pack[a]:
            total += weight[a, a] * _off_pack(a, now, a, r, pos, form, size, packs, on_pack, rise, cover)
        if total < best and packs[a]:
            for j in range(n):
                if on_pack[j]:
                    w = weight[j, j]
                    total += w * _off_pack(j, now, a, r, pos, form, size, packs, on_pack, rise, cover)
        if total < best:
            best, at = total, r
            if best == 0.0:
                break
    now[a] = at


@numba.njit(cache=True)
def _pair(
    i: int, r: int, j: int, s: int, pos: Floats, form: Ints, size: Floats, port: Floats, slabs: Floats,
    slab_count: Ints, reach: Floats, gap: float,
) -> float:  # fmt: skip
    """How far two things reach into each other or into each other's access room, or are out of reach, mm."""
    f, g = form[r], form[s]
    out = _depth(pos[r], size[f], pos[s], size[g], gap)
    for k in range(slab_count[f]):
        out += _into(pos[r], slabs[f, k], pos[s], size[g])
    for k in range(slab_count[g]):
        out += _into(pos[s], slabs[g, k], pos[r], size[f])
    if reach[i, j] < np.inf:
        long = 0.0
        for k in range(3):
            long += abs(pos[r, k] + port[f, k] - pos[s, k] - port[g, k])
        out += max(0.0, long - reach[i, j])
    return out


@numba.njit(cache=True)
def _depth(p: Floats, a: Floats, q: Floats, b: Floats, gap: float) -> float:
    out = np.inf
    for k in range(3):
        d = min(p[k] + a[k], q[k] + b[k]) - max(p[k], q[k]) + gap
        if d <= 1e-9:
            return 0.0
        out = min(out, d)
    return out


@numba.njit(cache=True)
def _into(p: Floats, room: Floats, q: Floats, b: Floats) -> float:
    out = np.inf
    for k in range(3):
        d = min(p[k] + room[k + 3], q[k] + b[k]) - max(p[k] + room[k], q[k])
        if d <= 1e-9:
            return 0.0
        out = min(out, d)
    return out


@numba.njit(cache=True)
def _off_pack(
    i: int, now: Ints, moved: int, to: int, pos: Floats, form: Ints, size: Floats, packs: np.ndarray,
    on_pack: np.ndarray, rise: float, cover: float,
) -> float:  # type: ignore[type-arg]  # fmt: skip
    """How far a thing is from standing on a block, mm, were one thing moved to another row."""
    if not on_pack[i]:
        return 0.0
    r = to if moved == i else now[i]
    f = form[r]
    best = np.inf
    for j in range(len(now)):
        if not packs[j]:
            continue
        s = to if moved == j else now[j]
        g = form[s]
        above = pos[r, 2] - pos[s, 2] - size[g, 2]
        off = max(0.0, -above) + max(0.0, above - rise)
        wide = min(pos[r, 0] + size[f, 0], pos[s, 0] + size[g, 0]) - max(pos[r, 0], pos[s, 0])
        deep = min(pos[r, 1] + size[f, 1], pos[s, 1] + size[g, 1]) - max(pos[r, 1], pos[s, 1])
        least = min(size[f, 0] * size[f, 1], size[g, 0] * size[g, 1])
        over = wide * deep if wide > 0.0 and deep > 0.0 else 0.0
        off += max(0.0, cover * least - over) / np.sqrt(least)
        off += max(0.0, -wide) + max(0.0, -deep)
        best = min(best, off)
    return 0.0 if best < 1e-9 else best
