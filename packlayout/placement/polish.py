"""Continuous shifts: a linear programme moves everything a little, so that the aims are met to the last kilogram.

Each thing may move within a box of free cells about it; each pair keeps the plane that parts it now. Within that
the axle loads, the side-to-side difference, the height of the centre of gravity and the cables are linear in the
shifts, so the answer is the exact optimum of that neighbourhood. The distances of parts from the pack are
replaced by their slopes.
"""

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np

from packlayout.model.geometry import Floats, Vec
from packlayout.model.layout import axis
from packlayout.placement.board import RISE_MM, Board, Spot
from packlayout.placement.walls import clear_of, room_open, shell
from packlayout.space.cells import Space, all_set

REACH_CELLS = 3
STEPS_MM = (16.0, 8.0, 4.0, 2.0, 1.0, 0.5)
STEP_MM = 0.1  # a workshop's rule is not read closer
SLACK_MM = 2 * STEP_MM  # kept beyond each distance, so that rounding to a step uses none of it


@dataclass(slots=True)
class _Rows:
    """Constraints a x <= b of a linear programme, gathered."""

    width: int
    entries: list[tuple[dict[int, float], float]] = field(default_factory=list)

    def add(self, terms: dict[int, float], most: float) -> None:
        self.entries.append((terms, most))

    def arrays(self) -> tuple[Floats, Floats]:
        a = np.zeros((len(self.entries), self.width))
        for r, (terms, _) in enumerate(self.entries):
            for column, factor in terms.items():
                a[r, column] += factor
        return a, np.array([most for _, most in self.entries])


def polished(board: Board, spaces: Sequence[Space]) -> Board:
    """The board with everything shifted to the best place nearby.

    Args:
        board: Full; not changed.
        spaces: Cells of the zones.

    Returns:
        A board whose sum of aims is smaller, or the same board. Shifts are in steps of a tenth of a millimetre.
    """
    movable = [
        i for i, t in enumerate(board.things) if not t.fixed and (t.order is None or t.order.on_line is None)
    ]
    if not movable:
        return board
    column = {i: 3 * n for n, i in enumerate(movable)}
    links = [(i, j) for i in board.spots for j in board.things[i].links if j > i]
    n = 3 * len(movable)
    # after the shifts: over and under of front, rear, side; height; three lengths for each cable
    size = n + 4 + 3 * len(links)
    rows = _Rows(size)
    cost = np.zeros(size)
    low, high = np.full(size, 0.0), np.full(size, np.inf)
    for i in movable:
        lo, hi = _free_shift(board, i, spaces)
        low[column[i] : column[i] + 3], high[column[i] : column[i] + 3] = lo, hi
    _part(board, column, rows)
    _aim(board, column, rows, cost, n)
    _wire(board, column, rows, cost, n + 4, links)
    _gather(board, column, cost)
    from scipy.optimize import linprog

    a, b = rows.arrays()
    answer = linprog(cost, A_ub=a, b_ub=b, bounds=np.stack([low, high], axis=1), method="highs-ds")
    if answer.x is None:
        return board
    shift = np.round(answer.x[:n] / STEP_MM) * STEP_MM
    moved = board.copy()
    for i, c in column.items():
        spot = board.spots[i]
        x, y, z = (round(float(v), 6) for v in np.array(spot.at) + shift[c : c + 3])
        moved.spots[i] = Spot((x, y, z), spot.form, spot.zone)
    better = moved.total() < board.total() - 1e-9 and all(moved.stands(i) for i in moved.spots)
    return moved if better else board


def _free_shift(board: Board, i: int, spaces: Sequence[Space]) -> tuple[Floats, Floats]:
    """How far a thing may go along each axis, any mixture of the three, within free room and with open access."""
    spot, thing = board.spots[i], board.things[i]
    space, form = spaces[spot.zone], thing.forms[spot.form]
    lo, hi = np.array(spot.at), np.array(spot.at) + np.array(form.size)
    walls = shell(board.case, space.zone)
    a, b = _room_by_walls(walls, lo, hi) if walls else _room_on_cells(space, lo, hi)
    down, up = np.minimum(a - lo, 0.0), np.maximum(b - hi, 0.0)
    for slab in form.slabs:
        first, last = np.array(slab.box.lo) + lo + down, np.array(slab.box.hi) + lo + up
        if walls:
            clear = room_open(board.case, space.zone, slab.face, first[None], last[None])[0]
        else:
            clear = _open_on_cells(board, space, slab.face, first, last)
        if not clear:
            return np.zeros(3), np.zeros(3)
    return down, up


def _room_by_walls(walls: Sequence[tuple[Floats, float]], lo: Floats, hi: Floats) -> tuple[Floats, Floats]:
    """The box grown as far as it keeps its clearances, a little on each side in turn, large steps first."""
    a, b = lo.copy(), hi.copy()
    if not clear_of(walls, lo[None], hi[None])[0]:
        return a, b
    for step in STEPS_MM:
        for side in range(6):
            k = side % 3
            trial_a, trial_b = a.copy(), b.copy()
            (trial_a if side < 3 else trial_b)[k] += -step if side < 3 else step
            if clear_of(walls, trial_a[None], trial_b[None])[0]:
                a, b = trial_a, trial_b
    return a, b


def _room_on_cells(space: Space, lo: Floats, hi: Floats) -> tuple[Floats, Floats]:
    """The box grown over free cells."""
    pitch = space.pitch_mm
    if not all_set(space, space.free_sums, lo[None], hi[None])[0]:
        return lo, hi
    a = np.floor((lo - space.origin) / pitch + 1e-9) * pitch + space.origin
    b = np.ceil((hi - space.origin) / pitch - 1e-9) * pitch + space.origin
    for _ in range(REACH_CELLS):
        for k in range(3):
            for sign in (-1.0, 1.0):
                trial_a, trial_b = a.copy(), b.copy()
                (trial_a if sign < 0 else trial_b)[k] += sign * pitch
                if all_set(space, space.free_sums, trial_a[None], trial_b[None])[0]:
                    a, b = trial_a, trial_b
    most = REACH_CELLS * pitch
    return np.maximum(a, lo - most), np.minimum(b, hi + most)


def _open_on_cells(board: Board, space: Space, face: Vec, first: Floats, last: Floats) -> bool:
    opens = next(z.opens for z in board.case.vehicle.zones if z.name == space.zone)
    outward = any(axis(a) == face for a in opens)
    if outward:
        edge = np.array(space.origin) + np.array(space.free.shape) * space.pitch_mm
        first, last = np.maximum(first, space.origin), np.minimum(last, edge)
    return bool(all_set(space, space.open_sums if outward else space.air_sums, first[None], last[None])[0])


def _part(board: Board, column: dict[int, int], rows: _Rows) -> None:
    """Each pair of things, and each access room and thing, keeps its distance along the axis that parts it best."""
    ids = list(board.spots)
    boxes = {i: np.array(board.box(i)).reshape(2, 3) for i in ids}
    for n, i in enumerate(ids):
        for j in ids[n + 1 :]:
            if i in column or j in column:
                _apart(rows, column, i, boxes[i], j, boxes[j], board.gap)
    for i in ids:
        spot = board.spots[i]
        for slab in board.things[i].forms[spot.form].slabs:
            room = np.array([slab.box.lo, slab.box.hi]) + np.array(spot.at)
            for j in ids:
                if j != i and (i in column or j in column):
                    _apart(rows, column, i, room, j, boxes[j], 0.0)
    for i in ids:
        order = board.things[i].order
        if order is not None and order.on_pack and not board.things[i].fixed:
            _stay_on_top(board, rows, column, i, boxes)


def _apart(rows: _Rows, column: dict[int, int], i: int, p: Floats, j: int, q: Floats, gap: float) -> None:
    room = np.concatenate([q[0] - p[1], p[0] - q[1]])
    k = int(np.argmax(room))
    first, second = (i, j) if k < 3 else (j, i)
    k %= 3
    terms: dict[int, float] = {}
    if first in column:
        terms[column[first] + k] = 1.0
    if second in column:
        terms[column[second] + k] = terms.get(column[second] + k, 0.0) - 1.0
    spare = float(room.max()) - gap
    rows.add(terms, spare - SLACK_MM if spare > SLACK_MM else 0.0)


def _stay_on_top(board: Board, rows: _Rows, column: dict[int, int], i: int, boxes: dict[int, Floats]) -> None:
    """What sits on a block goes with it: height within the rise, footprint as far over it as now."""
    under = [
        j
        for j in boxes
        if board.things[j].modules and 0 <= boxes[i][0, 2] - boxes[j][1, 2] <= board.gap + RISE_MM
    ]
    for j in under:
        for k in (0, 1):
            for sign in (1.0, -1.0):
                _follow(rows, column, i, j, k, sign, _inner_room(boxes[i], boxes[j], k, sign))
        spare = board.gap + RISE_MM - SLACK_MM - float(boxes[i][0, 2] - boxes[j][1, 2])
        _follow(rows, column, i, j, 2, 1.0, max(0.0, spare))


def _follow(rows: _Rows, column: dict[int, int], i: int, j: int, k: int, sign: float, most: float) -> None:
    terms = {column[i] + k: sign}
    if j in column:
        terms[column[j] + k] = -sign
    rows.add(terms, most)


def _inner_room(top: Floats, base: Floats, k: int, sign: float) -> float:
    """How far a footprint may still go along an axis before it reaches over the edge; nought when it does."""
    return max(0.0, float(base[1, k] - top[1, k]) if sign > 0 else float(top[0, k] - base[0, k]))


def _aim(board: Board, column: dict[int, int], rows: _Rows, cost: Floats, at: int) -> None:
    """Bounds on front, rear, side and height: each variable is at least the figure, and costs its weight."""
    g, w = board.target, board.weight
    mass, mx, my, mz = (float(v) for v in board.sums())
    own = {i: float(board.things[i].masses_kg[board.spots[i].form]) for i in column}
    rear = mx / g[0]
    figures = (
        (0, w[0], mass - rear - g[2], {c: -own[i] / g[0] for i, c in column.items()}, g[5]),
        (1, w[1], rear - g[3], {c: own[i] / g[0] for i, c in column.items()}, g[5]),
        (2, w[2], 2 * my / g[1], {c + 1: 2 * own[i] / g[1] for i, c in column.items()}, 0.0),
    )
    for n, weight, now, slope, band in figures:
        cost[at + n] = weight
        for sign in (1.0, -1.0):
            rows.add({**{c: sign * f for c, f in slope.items()}, at + n: -1.0}, band - sign * now)
    cost[at + 3] = w[3]
    rise = {c + 2: own[i] / mass for i, c in column.items()}
    rows.add({**rise, at + 3: -1.0}, float(g[4]) - mz / mass)


def _wire(
    board: Board, column: dict[int, int], rows: _Rows, cost: Floats, at: int, links: list[tuple[int, int]]
) -> None:
    for n, (i, j) in enumerate(links):
        p, q = board.port(i), board.port(j)
        for k in range(3):
            length = at + 3 * n + k
            cost[length] = board.weight[5]
            for sign in (1.0, -1.0):
                terms = {length: -1.0}
                if i in column:
                    terms[column[i] + k] = sign
                if j in column:
                    terms[column[j] + k] = -sign
                rows.add(terms, -sign * (p[k] - q[k]))
        most = board.reach(i, j)
        if np.isfinite(most):
            rows.add({at + 3 * n + k: 1.0 for k in range(3)}, most - SLACK_MM)


def _gather(board: Board, column: dict[int, int], cost: Floats) -> None:
    """Slopes of the distances of the other parts from the first block."""
    if 0 not in board.spots or not board.things[0].modules:
        return
    centre = {i: (np.array(board.box(i)[:3]) + np.array(board.box(i)[3:])) / 2 for i in board.spots}
    for i in board.spots:
        if board.things[i].modules:
            continue
        d = centre[i] - centre[0]
        length = float(np.linalg.norm(d))
        if length < 1e-9:
            continue
        for who, sign in ((i, 1.0), (0, -1.0)):
            if who in column:
                cost[column[who] : column[who] + 3] += sign * board.weight[4] * d / length
