"""A layout taken up again: shifted to better places, its pack stood elsewhere nearby, one part put elsewhere."""

from collections.abc import Iterator, Sequence
from dataclasses import replace

import numpy as np

from packlayout.model.brief import Case
from packlayout.model.geometry import MassItem
from packlayout.model.layout import Layout
from packlayout.placement import aims
from packlayout.placement.archive import structure
from packlayout.placement.board import Board, board_of, to_layout
from packlayout.placement.clear import spaces_of
from packlayout.placement.entities import block_entities, joined, locked_blocks, part_entities
from packlayout.placement.polish import polished
from packlayout.placement.result import Scored
from packlayout.placement.search import settle, shifted
from packlayout.placement.solve import only_fixed
from packlayout.placement.verify import check_layout
from packlayout.space.cells import Space

REFINE_STEPS = 20
REFINE_GAIN = 0.02
NEARBY_STEP_MM, NEARBY_MM = 20.0, 60.0
ELSEWHERE, ELSEWHERE_MM, SHUT = 12, 40.0, 1e9
"""Other places of one part that are tried, how far they are from each other, and what keeps it from the others."""


def refine(case: Case, layout: Layout, burden: Sequence[MassItem]) -> Layout:
    """The same layout with each part shifted to a better place of the same form and zone, until none gains.

    Used when the burden has changed a little, by the mass of a frame: nothing moves for a gain too small to
    matter, so that going round with the frame comes to rest.
    """
    spaces = spaces_of(case)
    goal = aims.targets(case, burden)
    for _ in range(REFINE_STEPS):
        better = _better(case, layout, spaces, goal)
        if better is None:
            break
        layout = better
    return layout


def _better(case: Case, layout: Layout, spaces: tuple[Space, ...], goal: aims.Targets) -> Layout | None:
    """One descent from a layout; None when it gains too little or what it finds does not hold."""
    board = _board(case, layout, spaces, goal)
    if board is None:
        return None
    before = board.total()
    settle(board)
    after = polished(board, spaces)
    if before - after.total() < REFINE_GAIN:
        return None
    for tried in (after, board):
        better = replace(to_layout(case, tried, spaces), title=layout.title)
        failed = [c for c in check_layout(case, better) if c.verdict == "fail"]
        if not failed or only_fixed(case, failed, better):
            return better
    return None


def nearby(case: Case, layout: Layout, burden: Sequence[MassItem]) -> tuple[Scored, ...]:
    """The same structure with the pack stood elsewhere close by, best first.

    For the study, when no leg reaches a mounting point from where the pack stands: a shift of a few
    centimetres often lets one in.
    """
    spaces = spaces_of(case)
    goal = aims.targets(case, burden)
    board = _board(case, layout, spaces, goal)
    boards = shifted(board, NEARBY_STEP_MM, NEARBY_MM) if board is not None else []
    made: list[Scored] = []
    for other in boards:
        moved = replace(to_layout(case, other, spaces), title=layout.title)
        figures = aims.objectives(case, moved, goal)
        made.append(Scored(moved, figures, aims.score(case, figures), structure(moved)))
    return tuple(sorted(made, key=lambda s: s.score))


def elsewhere(case: Case, layout: Layout, burden: Sequence[MassItem], name: str) -> Iterator[Layout]:
    """The same layout with one part put elsewhere, best first; no two places of it lie close to each other.

    For the study, when what carries a part finds no room where it stands.

    Args:
        case: The case.
        layout: Whole.
        burden: Masses that are not placed.
        name: Of a part that is no module and not held.
    """
    spaces = spaces_of(case)
    board = _board(case, layout, spaces, aims.targets(case, burden))
    number = next((i for i, t in enumerate(board.things) if t.name == name), None) if board else None
    if board is None or number is None or board.things[number].fixed:
        return
    thing, spot = board.things[number], board.spots[number]
    shut = np.zeros(len(thing.pos))
    for _ in range(ELSEWHERE):
        away = np.abs(thing.pos - np.array(spot.at)).max(axis=1)
        shut[(thing.zone == spot.zone) & (away < ELSEWHERE_MM)] = SHUT
        board = board.copy()
        del board.spots[number]
        if not board.insert(number, None, shut):
            return
        spot = board.spots[number]
        if (shut[(thing.pos == np.array(spot.at)).all(axis=1)] > 0).all():
            return
        other = replace(to_layout(case, board, spaces), title=layout.title)
        failed = [c for c in check_layout(case, other) if c.verdict == "fail"]
        if not failed or only_fixed(case, failed, other):
            yield other


def _board(case: Case, layout: Layout, spaces: tuple[Space, ...], goal: aims.Targets) -> Board | None:
    names = {p.name for p in layout.placements}
    parts = [p for p in part_entities(case, spaces, layout) if p.name in names]
    locked = {b.number for b in locked_blocks(layout)}
    if any(b.number > len(locked) for b in layout.blocks if b.number in locked):
        return None
    rest = [len(block.modules) for block in layout.blocks if block.number not in locked]
    things = joined(block_entities(case, spaces, rest, layout), parts)
    return board_of(case, things, goal, layout, spaces)
