"""Places for all things at once by the search over sides, on the anchors that each has."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from packlayout.model.brief import Case
from packlayout.model.geometry import Vec
from packlayout.placement import aims
from packlayout.placement.anchors import side_rooms
from packlayout.placement.bearers import MOST_BEARERS, bearers
from packlayout.placement.board import Board, Spot
from packlayout.placement.closer import fine_places
from packlayout.placement.entities import Entity, named_orders
from packlayout.placement.proof import standing_room
from packlayout.placement.sides import FOUND, NONE, Before, Stand, sides, stand_at

CHOICES, MOST_THINGS = 4000, 14
"""Choices looked at, and things that this is tried with."""
FINE = 6000
"""Fine places tried in each range."""


@dataclass(frozen=True, slots=True, eq=False)
class Together:
    """What came of it.

    Attributes:
        board: Everything stands on it; None when no such was found.
        near: Everything but for a cable's reach or the footprint on a block; None when there is none.
        sure: Whether there is no board on these anchors.
    """

    board: Board | None
    near: Board | None
    sure: bool


def together(
    case: Case,
    things: Sequence[Entity],
    goal: aims.Targets,
    given: Sequence[Before] = (),
    choices: int = CHOICES,
    fine: bool = True,
) -> Together:
    """A board with everything on it, or the proof that these anchors allow none.

    Room in front of part of a face is first kept over all of it, which may be too much; then not at all, for a board
    that is nearly one, or the proof that there is none. Where the anchors were asked of the surfaces and allow none,
    fine places are tried in what the optimistic ranges leave (`closer`).

    Args:
        case: The case.
        things: What to place; fixed things stay.
        goal: Of the board.
        given: Sides that are settled before.
        choices: Most choices of a side looked at, for each way of sharing out what stands on a block.
        fine: Whether fine places are tried, which takes longer.
    """
    if len(things) > MOST_THINGS:
        return Together(None, None, False)
    made = _on_anchors(case, things, [t.stands for t in things], goal, given, choices)
    if made.board is not None or given or not fine or not all(s.anywhere for t in things for s in t.stands):
        return made
    # where the surfaces themselves were asked for places, the last millimetres may tell
    sets = _fine(case, things)
    finer = _on_anchors(case, things, sets, goal, given, choices) if all(sets) else made
    return finer if finer.board is not None else made


def _on_anchors(
    case: Case,
    things: Sequence[Entity],
    sets: Sequence[tuple[Stand, ...]],
    goal: aims.Targets,
    given: Sequence[Before],
    choices: int,
) -> Together:
    """The same on some sets of anchors."""
    gap = case.brief.clearances.parts_mm
    forms, upper = [t.forms for t in things], _upper(things)
    alike: list[object] = [t.names if t.fixed else t.modules for t in things if t.modules]
    near, sure = None, False
    wide = any(slab.depth_mm > gap for t in things for form in t.forms for slab in form.slabs)
    for every in (sets, [tuple(replace(s, room=(gap,) * 6) for s in ways) for ways in sets])[: 1 + wide]:
        sure = all(s.whole for ways in every for s in ways)
        for n, tops in enumerate(bearers(case, forms, upper, alike)):
            if n == MOST_BEARERS:
                sure = False  # ways that are not looked at prove nothing
                break
            found = sides(every, tops, by_bulk(things), choices, given=given)
            sure = sure and found.state == NONE
            if found.state == FOUND:
                board = Board(case, things, goal)
                for i, ways in enumerate(every):
                    at = ways[int(found.spots[i, 0])]
                    x, y, z = (float(v) for v in found.at[i])
                    board.spots[i] = Spot((x, y, z), at.form, at.zone)
                if all(board.stands(i) for i in board.spots):
                    return Together(board, None, False)
                near = near or board
        if sure and every is not sets:
            return Together(None, near, True)
    return Together(None, near, sure and not wide)


def _fine(case: Case, things: Sequence[Entity]) -> list[tuple[Stand, ...]]:
    """Fine places of all things in the ranges that `closer` leaves to them; none where there is a proof or too much."""
    if any(t.fixed and (t.order is None or t.order.fixed is None) for t in things):
        return [() for _ in things]  # what is held from another layout is not known here
    split = tuple(t.modules for t in things if t.modules)
    named = tuple(t.name for t in things if not t.modules)
    every = named == tuple(name for _, name in named_orders(case))
    left = standing_room(case, split, None, None if every else named).sets
    return [
        thing.stands if thing.fixed else _fine_stands(case, thing, ways)
        for thing, ways in zip(things, left or [()] * len(things), strict=True)
    ]


def _fine_stands(case: Case, thing: Entity, left: Sequence[Stand]) -> tuple[Stand, ...]:
    """Those of one thing: in each range each form that takes its room."""
    on_line = thing.order is not None and thing.order.on_line is not None
    number = None if thing.order is None else case.brief.parts.index(thing.order)
    made: list[Stand] = []
    for way in left:
        low, high = _ends(way)
        seen: set[object] = set()
        for f, form in enumerate(thing.forms):
            key = (form.slabs, f) if on_line else form.slabs
            if form.size != way.size or key in seen:
                continue
            seen.add(key)
            at = fine_places(case, form, number, way.zone, low, high, FINE)
            one = stand_at(f, way.zone, form.size, side_rooms(form, case.brief.clearances.parts_mm), at)
            made += [one] if one is not None else []
    return tuple(made)


def _ends(way: Stand) -> tuple[Vec, Vec]:
    """Lowest and highest coordinates of the lowest corner in one way of standing."""
    a, b, c = (float(lines[0]) for lines in way.low)
    d, e, f = (float(lines[-1]) for lines in way.high)
    return (a, b, c), (d, e, f)


def held_to(thing: Entity, form: int) -> tuple[Stand, ...]:
    """The sets of one form, which may be kept under another one that takes the same room."""
    wanted = thing.forms[form]
    return tuple(
        Stand(form, s.zone, s.size, s.room, s.low, s.high, s.sums, s.whole)
        for s in thing.stands
        if (thing.forms[s.form].size, thing.forms[s.form].slabs) == (wanted.size, wanted.slabs)
    )


def by_bulk(things: Sequence[Entity]) -> list[int]:
    """Numbers of the things, blocks first, the largest first."""
    bulk = [max((float(np.prod(s.size)) for s in t.stands), default=0.0) for t in things]
    return sorted(range(len(things)), key=lambda i: (not things[i].modules, -bulk[i], i))


def _upper(things: Sequence[Entity]) -> list[int]:
    """Numbers of the things that are to stand on a block."""
    return [
        i
        for i, t in enumerate(things)
        if t.order is not None and t.order.on_pack and t.order.fixed is None and not t.fixed
    ]
