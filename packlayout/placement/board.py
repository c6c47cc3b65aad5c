"""The board of a search: what stands where, where a thing would stand best, and the way to a layout and back."""

from collections.abc import Sequence
from functools import lru_cache, reduce
from itertools import count
from typing import NamedTuple

import numpy as np

from packlayout.model.brief import Case
from packlayout.model.geometry import Box, Floats, Ints, Vec
from packlayout.model.layout import Layout, Placement
from packlayout.placement import aims
from packlayout.placement.entities import Entity
from packlayout.placement.forms import Form
from packlayout.placement.kernel import best_anchor
from packlayout.space.cells import Space

LEAST_GAIN = 0.01  # a thousandth part of a typical sum of aims: less is not worth a move
RISE_MM = 40.0  # how far above the pack's clearance a part on the pack may stand


class Spot(NamedTuple):
    """Where an entity stands: its anchor, form, zone."""

    at: Vec
    form: int
    zone: int


class Board:
    """What stands where during one start. Lives inside one search; never leaves it."""

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
            [goal.wheelbase_mm, goal.track_mm, goal.front_kg, goal.rear_kg, goal.cg_height_mm, w.axle_band_kg]
        )
        self.gap = case.brief.clearances.parts_mm

    def box(self, i: int) -> tuple[float, float, float, float, float, float]:
        """Lowest and highest corner of entity i where it stands."""
        at, form, _ = self.spots[i]
        size = self.things[i].forms[form].size
        return (*at, at[0] + size[0], at[1] + size[1], at[2] + size[2])

    def modules_box(self) -> Box | None:
        """The modules of the first block, without their cradle; None when there is no block."""
        if 0 not in self.spots or not self.things[0].modules:
            return None
        at, form, _ = self.spots[0]
        lo, hi = _within(self.things[0].forms[form], self.case.parts[self.case.brief.modules.part].box_size)
        return Box(
            (at[0] + lo[0], at[1] + lo[1], at[2] + lo[2]), (at[0] + hi[0], at[1] + hi[1], at[2] + hi[2])
        )

    def insert(self, i: int, only_form: int | None, noise: Floats | None) -> bool:
        """Put entity i at its best anchor; False, and as before, when every anchor meets something."""
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
        boxes = np.array([self.box(j) for j in others]).reshape(-1, 6)
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
            packs = [self.box(j) for j in others if self.things[j].modules]
            tops = np.array([[b[0], b[1], b[3], b[4], b[5]] for b in packs]).reshape(-1, 5)
        base = self._base(others)
        linked = [j for j in thing.links if j in self.spots and j != i]
        ends = np.array([self.port(j) for j in linked]).reshape(-1, 3)
        limits = np.array([self.reach(i, j) for j in linked], dtype=np.float64)
        centre = np.full(3, np.nan)
        if not thing.modules and 0 in self.spots:
            b = self.box(0)
            centre = np.array([(b[0] + b[3]) / 2, (b[1] + b[4]) / 2, (b[2] + b[5]) / 2])
        row, score = best_anchor(
            pos, form, *thing.arrays, boxes, rooms, self.gap, tops, self.gap + RISE_MM, thing.masses_kg, base,
            self.target, self.weight, ends, limits, centre, jitter,
        )  # fmt: skip
        return int(row), float(score)

    def total(self) -> float:
        """The weighed sum of the aims over all that stands; the same figure as `aims.score` of the layout."""
        g, w = self.target, self.weight
        mass, mx, my, mz = (float(v) for v in self._base(list(self.spots)))
        rear = mx / g[0]
        out = w[0] * max(0.0, abs(mass - rear - g[2]) - g[5]) + w[1] * max(0.0, abs(rear - g[3]) - g[5])
        out += w[2] * abs(2 * my / g[1]) + w[3] * max(0.0, mz / mass - g[4])
        boxes = {i: self.box(i) for i in self.spots}
        if 0 in boxes and self.things[0].modules:
            c = [(boxes[0][k] + boxes[0][k + 3]) / 2 for k in range(3)]
            for i, b in boxes.items():
                if not self.things[i].modules:
                    out += w[4] * sum(((b[k] + b[k + 3]) / 2 - c[k]) ** 2 for k in range(3)) ** 0.5
        for i in self.spots:
            for j in self.things[i].links:
                if j > i and j in self.spots:
                    out += w[5] * sum(abs(a - b) for a, b in zip(self.port(i), self.port(j), strict=True))
        return float(
            out
            + self.case.brief.aims.splitting
            * max(0, sum(bool(self.things[i].modules) for i in self.spots) - 1)
        )

    def sums(self) -> Floats:
        """Mass and moments of all: M, Mx, My, Mz."""
        return self._base(list(self.spots))

    def copy(self) -> "Board":
        """Another board with the same things in the same places."""
        other = Board(self.case, self.things, self.goal)
        other.spots, other.weight = dict(self.spots), self.weight.copy()
        return other

    def _base(self, others: Sequence[int]) -> Floats:
        sums = np.array([self.goal.mass_kg, *self.goal.moment])
        for j in others:
            spot, thing = self.spots[j], self.things[j]
            at = np.array(spot.at) + np.array(thing.forms[spot.form].cg)
            sums += thing.masses_kg[spot.form] * np.array([1.0, *at])
        return sums

    def reach(self, i: int, j: int) -> float:
        """Longest cable allowed between two things, mm: a part's own reach counts towards blocks."""
        for a, b in ((i, j), (j, i)):
            order = self.things[a].order
            if order is not None and order.reach_mm is not None and self.things[b].modules:
                return order.reach_mm
        return np.inf

    def port(self, j: int) -> tuple[float, ...]:
        """High-voltage port of entity j where it stands."""
        spot = self.spots[j]
        return tuple(a + p for a, p in zip(spot.at, self.things[j].forms[spot.form].port, strict=True))


@lru_cache(maxsize=1024)
def _within(form: Form, size: Vec) -> tuple[Vec, Vec]:
    """Lowest and highest corner of the members of a form, all of one size."""
    made = reduce(Box.joined, (Placement("", "", "", m.at, m.up, m.turn_deg, size).box for m in form.members))
    return made.lo, made.hi


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


def to_layout(case: Case, board: Board, spaces: Sequence[Space]) -> Layout:
    """The board as a layout, modules first; its title is left open."""
    made: list[Placement] = []
    taken = {name for thing in board.things for name in thing.names}
    numbers = (f"module {n}" for n in count(1))
    free_names = (name for name in numbers if name not in taken)
    for i, thing in enumerate(board.things):
        spot = board.spots[i]
        form, zone = thing.forms[spot.form], spaces[spot.zone].zone
        for m, member in enumerate(form.members):
            at = tuple(a + b for a, b in zip(spot.at, member.at, strict=True))
            part = case.brief.modules.part if thing.order is None else thing.order.part
            name = thing.name if not thing.modules else thing.names[m] if thing.names else next(free_names)
            made.append(
                Placement(
                    name=name,
                    part=part,
                    zone=zone,
                    at=(round(at[0], 6), round(at[1], 6), round(at[2], 6)),
                    up=member.up,
                    turn_deg=member.turn_deg,
                    size=case.parts[part].box_size,
                    block=i + 1 if thing.modules else None,
                    locked=thing.fixed,
                )
            )
    made.sort(key=lambda p: p.block is None)
    return Layout(tuple(made))
