"""Places for all things at once by the search over sides, on the anchors that each has."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import product

import numpy as np

from packlayout.model.brief import Case
from packlayout.placement import aims
from packlayout.placement.board import RISE_MM, Board, Spot
from packlayout.placement.entities import Entity
from packlayout.placement.forms import Form
from packlayout.placement.sides import FOUND, NONE, Before, OnTop, Stand, sides
from packlayout.placement.untangle import COVER

CHOICES, MOST_THINGS, MOST_BEARERS = 4000, 14, 60
"""Choices looked at, things that this is tried with, and ways of sharing out what stands on a block."""


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
) -> Together:
    """A board with everything on it, or the proof that these anchors allow none.

    Room in front of part of a face is first kept over all of it, which may be too much; then not at all, for a board
    that is nearly one, or the proof that there is none.

    Args:
        case: The case.
        things: What to place; fixed things stay.
        goal: Of the board.
        given: Sides that are settled before.
        choices: Most choices of a side looked at, for each way of sharing out what stands on a block.
    """
    if len(things) > MOST_THINGS:
        return Together(None, None, False)
    gap = case.brief.clearances.parts_mm
    forms, upper = [t.forms for t in things], _upper(things)
    alike: list[object] = [t.names if t.fixed else t.modules for t in things if t.modules]
    near, sure = None, False
    sets = [t.stands for t in things]
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


def bearers(
    case: Case, forms: Sequence[Sequence[Form]], upper: Sequence[int], alike: Sequence[object]
) -> Iterator[tuple[OnTop, ...]]:
    """Every way of sharing out what is to stand on a block, among blocks that differ.

    Args:
        case: The case.
        forms: Of all things, the blocks first.
        upper: Numbers of the things that are to stand on a block.
        alike: A key for each block; blocks of one key may change places.
    """
    # blocks that are alike are so until one of them bears something
    blocks = [b for b in range(len(alike)) if len(upper) != 1 or alike.index(alike[b]) == b]
    rise = case.brief.clearances.parts_mm + RISE_MM
    for choice in product(blocks, repeat=len(upper)):
        yield tuple(
            OnTop(u, b, rise, least_over(forms[u], forms[b])) for u, b in zip(upper, choice, strict=True)
        )


def least_over(upper: Sequence[Form], lower: Sequence[Form]) -> tuple[float, float]:
    """By how much two footprints share x and y at the least where enough of the smaller lies over the larger."""
    a, b = (np.array([f.size[:2] for f in forms], dtype=np.float64) for forms in (upper, lower))
    if not len(a) or not len(b):
        return 0.0, 0.0
    least = COVER * np.minimum(a.prod(axis=1)[:, None], b.prod(axis=1)[None])
    x = least / np.minimum(a[:, None, 1], b[None, :, 1])
    y = least / np.minimum(a[:, None, 0], b[None, :, 0])
    return float(x.min()), float(y.min())
