"""Room for everything at once: what it finds stands, what cannot stand it does not claim."""

from dataclasses import replace
from itertools import combinations, product

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from packlayout.mass.ledger import base_items
from packlayout.model.geometry import Box
from packlayout.placement.aims import targets
from packlayout.placement.board import Board
from packlayout.placement.entities import block_entities, joined, part_entities
from packlayout.placement.place import spaces_of
from packlayout.placement.untangle import untangled
from tests.bays import job

SIDES = (364.0, 199.0, 142.0)
SNUG = Box((0.0, 0.0, 300.0), (2 * 414.0, 2 * 249.0 + 40, 300 + 210.0))


def board_of(case, split):
    """An empty board with blocks of these counts and the other parts."""
    spaces = spaces_of(case)
    things = joined(block_entities(case, spaces, split), part_entities(case, spaces))
    return Board(case, things, targets(case, base_items(case)))


def overlaps(board):
    """Pairs on the board that are nearer than the clearance, by the boxes alone."""
    boxes = {i: board.box(i) for i in board.spots}
    return [
        (i, j)
        for i, j in combinations(boxes, 2)
        if all(
            min(boxes[i][k + 3], boxes[j][k + 3]) - max(boxes[i][k], boxes[j][k]) > -board.gap + 1e-6
            for k in range(3)
        )
    ]


# ---------------------------------------------------------------- by hand


def test_two_blocks_change_places_where_one_stood_in_the_way():
    case = job(parts=(), count=4)
    board = board_of(case, (2, 2))
    # both on one and the same anchor
    for i in (0, 1):
        board.spots[i] = replace_spot(board, i, 0)
    assert overlaps(board) == [(0, 1)]
    full = untangled(board, np.random.default_rng(0), 50)
    assert full is not None
    assert overlaps(full) == []
    assert all(full.stands(i) for i in full.spots)


def replace_spot(board, i, row):
    """The spot of one row of a thing."""
    from packlayout.placement.board import Spot

    thing = board.things[i]
    x, y, z = (float(v) for v in thing.pos[row])
    return Spot((x, y, z), int(thing.form[row]), int(thing.zone[row]))


def test_what_has_no_anchor_is_not_placed():
    board = board_of(job(bay=Box((0.0, 0.0, 300.0), (300.0, 150.0, 500.0)), parts=()), (1,))
    assert untangled(board, np.random.default_rng(0), 50) is None


def test_a_fixed_thing_stays():
    case = job(count=4)
    board = board_of(case, (4,))
    first = untangled(board, np.random.default_rng(1), 200)
    assert first is not None
    row = next(r for r in range(len(first.things[0].pos)) if replace_spot(first, 0, r) == first.spots[0])
    held = first.things[0]
    keep = replace(held, pos=held.pos[[row]], form=held.form[[row]], zone=held.zone[[row]], fixed=True)
    board = Board(case, (keep, *first.things[1:]), first.goal)
    again = untangled(board, np.random.default_rng(2), 200)
    assert again is not None
    assert again.spots[0] == first.spots[0]


# ---------------------------------------------------------------- reference: brute force


def pair_exists(board):
    """Whether any two anchors of the two things stand clear of each other."""
    a, b = board.things
    for r, s in product(range(len(a.pos)), range(len(b.pos))):
        board.spots = {0: replace_spot(board, 0, r), 1: replace_spot(board, 1, s)}
        if board.stands(0):
            return True
    return False


@pytest.mark.parametrize("wide", [900.0, 960.0, 470.0])
def test_two_blocks_are_found_just_where_some_pair_of_anchors_stands(wide):
    case = job(bay=Box((-350.0, -240.0, 280.0), (wide - 350.0, 0.0, 500.0)), parts=(), count=2)
    board = board_of(case, (1, 1))
    few = tuple(replace(t, pos=t.pos[::7], form=t.form[::7], zone=t.zone[::7]) for t in board.things)
    board = Board(case, few, board.goal)
    found = untangled(board, np.random.default_rng(0), 400)
    assert (found is not None) == pair_exists(Board(case, few, board.goal))


# ---------------------------------------------------------------- invariant


@settings(max_examples=12, deadline=None)
@given(seed=st.integers(0, 10_000), split=st.sampled_from([(8,), (4, 4), (5, 3), (2, 2, 2, 2)]))
def test_what_is_found_stands(seed, split):
    board = board_of(job(), split)
    full = untangled(board, np.random.default_rng(seed), 300)
    if full is not None:
        assert overlaps(full) == []
        assert all(full.stands(i) for i in full.spots)


def test_same_seed_same_board():
    board = board_of(job(), (4, 4))
    one, two = (untangled(board, np.random.default_rng(5), 300) for _ in range(2))
    assert one is not None
    assert two is not None
    assert one.spots == two.spots
