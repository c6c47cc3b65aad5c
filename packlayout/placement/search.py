"""The search: seeded starts, greedy insertion at the best anchor, then sweeps that take one out and put it back.

Budgets are counted in starts and sweeps, never in seconds, so that a seed gives one answer on any machine.
"""

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np

from packlayout.model.brief import Case
from packlayout.model.geometry import Floats, Ints, Vec
from packlayout.model.layout import Layout, Placement
from packlayout.placement import aims
from packlayout.placement.entities import Entity
from packlayout.placement.forms import Form
from packlayout.placement.kernel import best_anchor
from packlayout.space.cells import Space

SWEEPS = 3
RETRIES = 6
LEAST_GAIN = 0.01  # a thousandth part of a typical sum of aims: less is not worth a move


class Spot(NamedTuple):
    """Where an entity stands: its anchor, form, zone."""

    at: Vec
    form: int
    zone: int


class Board:
    """What stands where during one start. Lives inside one call of `run_start`; never leaves it."""

    def __init__(self, case: Case, things: Sequence[Entity], goal: aims.Targets) -> None:
        self.case, self.things = case, things
        self.spots: dict[int, Spot] = {}
        self.goal = goal
        w = case.brief.aims
        self.weight = np.array(
            [
                w.front_axle / aims.AXLE_KG, w.rear_axle / aims.AXLE_KG, w.side_balance / aims.SIDE_KG,
                w.cg_height / aims.HEIGHT_MM, w.compactness / aims.COMPACT_MM, w.cable_length / aims.CABLE_MM,
            ]
        )  # fmt: skip
        self.target = np.array(
            [goal.wheelbase_mm, goal.track_mm, goal.front_kg, goal.rear_kg, goal.cg_height_mm]
        )
        self.gap = case.brief.clearances.parts_mm

    def _box(self, i: int) -> tuple[float, ...]:
        spot = self.spots[i]
        size = self.things[i].forms[spot.form].size
        return (*spot.at, *(a + s for a, s in zip(spot.at, size, strict=True)))

    def insert(self, i: int, only_form: int | None, noise: Floats | None) -> bool:
        """Put entity i at its best anchor; False when every anchor meets something."""
        thing = self.things[i]
        pos, form, zone = thing.pos, thing.form, thing.zone
        if only_form is not None:
            keep = form == only_form
            pos, form, zone = pos[keep], form[keep], zone[keep]
        jitter = np.zeros(len(pos)) if noise is None else noise[: len(pos)]
        row, _ = self._best(i, pos, form, jitter)
        if row < 0:
            return False
        x, y, z = (float(v) for v in pos[row])
        self.spots[i] = Spot((x, y, z), int(form[row]), int(zone[row]))
        return True

    def improve(self, i: int) -> None:
        """Move entity i only to an anchor that is clearly better than where it stands."""
        spot, thing = self.spots[i], self.things[i]
        _, now = self._best(i, np.array([spot.at]), np.array([spot.form]), np.zeros(1))
        keep = (thing.form == spot.form) & (thing.zone == spot.zone)
        pos = thing.pos[keep]
        row, score = self._best(i, pos, thing.form[keep], np.zeros(len(pos)))
        if row >= 0 and score < now - LEAST_GAIN:
            x, y, z = (float(v) for v in pos[row])
            self.spots[i] = Spot((x, y, z), spot.form, spot.zone)

    def stands(self, i: int) -> bool:
        """Whether entity i meets nothing where it is."""
        spot = self.spots[i]
        return self._best(i, np.array([spot.at]), np.array([spot.form]), np.zeros(1))[0] >= 0

    def _best(self, i: int, pos: Floats, form: Ints, jitter: Floats) -> tuple[int, float]:
        """Row of the best of these anchors and its score, against all else on the board."""
        thing = self.things[i]
        others = [j for j in self.spots if j != i]
        boxes = np.array([self._box(j) for j in others]).reshape(-1, 6)
        rooms = np.array(
            [
                [*(a + o for a, o in zip(self.spots[j].at, slab.box.lo, strict=True)),
                 *(a + o for a, o in zip(self.spots[j].at, slab.box.hi, strict=True))]
                for j in others
                for slab in self.things[j].forms[self.spots[j].form].slabs
            ]
        ).reshape(-1, 6)  # fmt: skip
        tops = np.empty((0, 5))
        if thing.order is not None and thing.order.on_pack and thing.order.fixed is None:
            packs = [self._box(j) for j in others if self.things[j].modules]
            tops = np.array([[b[0], b[1], b[3], b[4], b[5]] for b in packs]).reshape(-1, 5)
        base = self._base(others)
        ends = np.array([self._port(j) for j in thing.links if j in self.spots and j != i]).reshape(-1, 3)
        centre = np.full(3, np.nan)
        if not thing.modules and 0 in self.spots:
            b = self._box(0)
            centre = np.array([(b[0] + b[3]) / 2, (b[1] + b[4]) / 2, (b[2] + b[5]) / 2])
        row, score = best_anchor(
            pos, form, *thing.arrays, boxes, rooms, self.gap, tops, self.gap + 40.0, thing.mass_kg, base,
            self.target, self.weight, ends, centre, jitter,
        )  # fmt: skip
        return int(row), float(score)

    def _base(self, others: Sequence[int]) -> Floats:
        sums = np.array([self.goal.mass_kg, *self.goal.moment])
        for j in others:
            spot, thing = self.spots[j], self.things[j]
            at = np.array(spot.at) + np.array(thing.forms[spot.form].cg)
            sums += thing.mass_kg * np.array([1.0, *at])
        return sums

    def _port(self, j: int) -> tuple[float, ...]:
        spot = self.spots[j]
        return tuple(a + p for a, p in zip(spot.at, self.things[j].forms[spot.form].port, strict=True))


def run_start(
    case: Case, things: Sequence[Entity], goal: aims.Targets, rng: np.random.Generator, block_form: int | None
) -> Board | tuple[str, ...]:
    """One start: insert all, then sweep.

    Args:
        case: The case.
        things: What to place.
        goal: What to aim at.
        rng: Source of variation.
        block_form: Form the first block is held to; None: any.

    Returns:
        The board with everything on it, or the names of what found no room.
    """
    fixed = [i for i, t in enumerate(things) if t.order is not None and t.order.fixed is not None]
    blocks = [i for i, t in enumerate(things) if t.modules]
    loose = [i for i in range(len(things)) if i not in fixed and i not in blocks]
    loose.sort(key=lambda i: (not _on_pack(things[i]), len(things[i].pos), i))
    left: tuple[str, ...] = ()
    for attempt in range(RETRIES):
        board = Board(case, things, goal)
        order = [*fixed, *blocks, *loose]
        if attempt:
            some = [i for i in loose if not _on_pack(things[i])]
            rest = [i for i in loose if _on_pack(things[i])]
            rng.shuffle(some)
            order = [*fixed, *blocks, *rest, *some]
        left = ()
        for i in order:
            form = block_form if i == 0 and i not in fixed else None
            scale = 0.0 if i in fixed else 0.6 * (attempt + 1)
            noise = rng.random(len(things[i].pos)) * scale
            if not board.insert(i, form, noise):
                left = (things[i].name,)
                break
        if left:
            continue
        movable = [i for i in order if i not in fixed]
        for _ in range(SWEEPS):
            before = dict(board.spots)
            for i in movable:
                form = board.spots[i].form if i == 0 else None
                board.insert(i, form, None)
            if board.spots == before:
                break
        return board
    return left


def board_of(
    case: Case, things: Sequence[Entity], goal: aims.Targets, layout: Layout, spaces: Sequence[Space]
) -> Board | None:
    """A layout put back on a board; None when it holds something that is not one of these things."""
    board = Board(case, things, goal)
    zones = [s.zone for s in spaces]
    for i, thing in enumerate(things):
        stand = [
            p for p in layout.placements if (p.block == i + 1 if thing.modules else p.name == thing.name)
        ]
        if not stand or stand[0].zone not in zones:
            return None
        for f, form in enumerate(thing.forms):
            at = _origin(form, stand)
            if at is not None:
                board.spots[i] = Spot(at, f, zones.index(stand[0].zone))
                break
        else:
            return None
    return board


def _origin(form: Form, stand: Sequence[Placement]) -> Vec | None:
    """Anchor at which a form puts its members just where these placements stand; None when it does not."""
    if len(form.members) != len(stand):
        return None
    lowest = min(p.at for p in stand)
    first = min(form.members, key=lambda m: m.at)
    at = (lowest[0] - first.at[0], lowest[1] - first.at[1], lowest[2] - first.at[2])
    there = {(_micro(p.at), p.up, p.turn_deg) for p in stand}
    mine = {
        (_micro((at[0] + m.at[0], at[1] + m.at[1], at[2] + m.at[2])), m.up, m.turn_deg) for m in form.members
    }
    return at if there == mine else None


def _micro(v: Vec) -> tuple[int, int, int]:
    return round(v[0] * 1e3), round(v[1] * 1e3), round(v[2] * 1e3)


def shifted(board: Board, step_mm: float, reach_mm: float) -> list[Board]:
    """The board with its first block stood elsewhere nearby, all that is not fixed put back round it.

    Args:
        board: Full.
        step_mm: Between the places tried, along each axis.
        reach_mm: How far from where it stands.

    Returns:
        Full boards, nearest places first.
    """
    block, spot = board.things[0], board.spots[0]
    same = (block.form == spot.form) & (block.zone == spot.zone)
    pos = block.pos[same]
    away = np.abs(pos - np.array(spot.at))
    near = pos[(away.max(axis=1) <= reach_mm) & (away.max(axis=1) > 1e-6)]
    cells = np.unique(np.round((near - np.array(spot.at)) / step_mm).astype(np.int64), axis=0)
    wanted = sorted(map(tuple, cells.tolist()), key=lambda c: (sum(v * v for v in c), c))
    loose = [i for i, t in enumerate(board.things) if i and (t.order is None or t.order.fixed is None)]
    loose.sort(
        key=lambda i: (
            not board.things[i].modules,
            not _on_pack(board.things[i]),
            len(board.things[i].pos),
            i,
        )
    )
    made: list[Board] = []
    for cell in wanted:
        target = np.array(spot.at) + np.array(cell) * step_mm
        x, y, z = (float(v) for v in near[np.argmin(np.abs(near - target).sum(axis=1))])
        other = Board(board.case, board.things, board.goal)
        other.spots = {i: s for i, s in board.spots.items() if i not in loose and i}
        other.spots[0] = Spot((x, y, z), spot.form, spot.zone)
        if other.stands(0) and all(other.insert(i, None, None) for i in loose):
            settle(other, 1, hold=(0,))
            made.append(other)
    return made


def settle(board: Board, sweeps: int = SWEEPS, hold: Sequence[int] = ()) -> None:
    """Sweep a full board: each movable thing goes to a better anchor of the form it has, when there is one."""
    movable = [
        i for i, t in enumerate(board.things) if i not in hold and (t.order is None or t.order.fixed is None)
    ]
    for _ in range(sweeps):
        before = dict(board.spots)
        for i in movable:
            board.improve(i)
        if board.spots == before:
            return


def _on_pack(thing: Entity) -> bool:
    return thing.order is not None and thing.order.on_pack


def to_layout(case: Case, board: Board, spaces: Sequence[Space]) -> tuple[Layout, str]:
    """The board as a layout, and the words that tell its structure."""
    made: list[Placement] = []
    words: list[str] = []
    number = 0
    for i, thing in enumerate(board.things):
        spot = board.spots[i]
        form, zone = thing.forms[spot.form], spaces[spot.zone].zone
        words.append(f"{thing.name}: {zone}" + (f", {form.label}" if thing.modules else ""))
        for member in form.members:
            at = tuple(a + m for a, m in zip(spot.at, member.at, strict=True))
            if thing.modules:
                number += 1
            part = case.brief.modules.part if thing.order is None else thing.order.part
            made.append(
                Placement(
                    name=f"module {number}" if thing.modules else thing.name,
                    part=part,
                    zone=zone,
                    at=(round(at[0], 6), round(at[1], 6), round(at[2], 6)),
                    up=member.up,
                    turn_deg=member.turn_deg,
                    size=case.parts[part].box_size,
                    block=i + 1 if thing.modules else None,
                    locked=thing.order is not None and thing.order.fixed is not None,
                )
            )
    made.sort(key=lambda p: p.block is None)
    return Layout(tuple(made)), "; ".join(words)
