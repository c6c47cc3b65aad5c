"""The search over sides: what it finds stands, what it rules out cannot, against trying every place."""

from dataclasses import replace
from itertools import product

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from packlayout.mass.ledger import base_items
from packlayout.model.brief import PartOrder
from packlayout.model.geometry import Box
from packlayout.placement.entities import block_entities, joined
from packlayout.placement.proof import crowded, limit, no_room, ruled_out
from packlayout.placement.sides import FOUND, LEFT_OFF, NONE, OnTop, sides, stand, stand_at
from packlayout.placement.solve import first_valid, setting
from packlayout.placement.together import together
from packlayout.placement.verify import check_layout
from tests.bays import PARTS, job, part
from tests.generated import job_in, known_bay, lofted_bay

NO_ROOM = (0.0,) * 6


def boxes(places, size, room=NO_ROOM):
    return stand_at(0, 0, size, room, np.array(places, dtype=np.float64))


def meets(p, a, q, b, gap):
    return all(x < y + s + gap and y < x + r + gap for x, r, y, s in zip(p, a, q, b, strict=True))


# ---------------------------------------------------------------- by hand


def test_two_that_fit_in_one_order_only():
    """30 and 20 long on a line of 50: the first at nought, the second at 30."""
    one = boxes([(x, 0, 0) for x in range(0, 21, 5)], (30.0, 10.0, 10.0))
    two = boxes([(30, 0, 0)], (20.0, 10.0, 10.0))
    found = sides([[one], [two]], [], [0, 1], 100)
    assert found.state == FOUND
    assert found.at.tolist() == [[0, 0, 0], [30, 0, 0]]
    wider = boxes([(x, 0, 0) for x in range(0, 21, 5)], (31.0, 10.0, 10.0))
    assert sides([[wider], [two]], [], [0, 1], 100).state == NONE


def test_room_in_front_of_one_is_kept_from_the_other():
    one = boxes([(0, 0, 0)], (30.0, 10.0, 10.0), (0, 25.0, 0, 0, 0, 0))
    assert sides([[one], [boxes([(54, 0, 0)], (5.0,) * 3)]], [], [0, 1], 100).state == NONE
    assert sides([[one], [boxes([(55, 0, 0)], (5.0,) * 3)]], [], [0, 1], 100).state == FOUND
    behind = boxes([(55, 0, 0)], (5.0,) * 3, (26.0, 0, 0, 0, 0, 0))
    assert sides([[one], [behind]], [], [0, 1], 100).state == NONE


def test_what_passes_aslant_needs_less_along_each_axis():
    """Ten millimetres apart, corner to corner: 5.8 along each of three axes is enough, along one axis it is not."""
    one = boxes([(0, 0, 0)], (10.0,) * 3, (10.0,) * 6)
    aslant = boxes([(15.8, 15.8, 15.8)], (10.0,) * 3, (10.0,) * 6)
    beside = boxes([(15.8, 0, 0)], (10.0,) * 3, (10.0,) * 6)
    assert sides([[one], [aslant]], [], [0, 1], 100, 10.0).state == FOUND
    assert sides([[one], [beside]], [], [0, 1], 100, 10.0).state == NONE
    assert sides([[one], [aslant]], [], [0, 1], 100).state == NONE


def test_on_top_within_a_rise_and_over_the_edge_no_further_than_allowed():
    base = boxes([(0, 0, 0)], (40.0, 40.0, 10.0))
    for at, state in (((0, 0, 10), FOUND), ((0, 0, 16), NONE), ((20, 0, 10), FOUND), ((21, 0, 10), NONE)):
        top = boxes([at], (30.0, 30.0, 10.0))
        assert sides([[base], [top]], [OnTop(1, 0, 5.0, (20.0, 20.0))], [0, 1], 100).state == state


def test_a_spent_budget_proves_nothing():
    every = [[boxes([(x, y, 0) for x in range(6) for y in range(6)], (3.0, 3.0, 1.0))] for _ in range(5)]
    assert sides(every, [], range(5), 1).state == LEFT_OFF
    assert sides(every, [], range(5), 10**6).state == NONE
    assert sides(every[:4], [], range(4), 10**6).state == FOUND


def test_lines_with_a_breadth_stand_for_any_place_on_them():
    """Four steps of 3.5: low ends anywhere from 0 to 14, so two of 14 fit and two of 15 do not."""
    at = np.ones((4, 1, 1), dtype=np.bool_)
    for side, state in ((14.0, FOUND), (15.0, NONE)):
        wide = [stand(0, 0, (side, 5.0, 5.0), NO_ROOM, (3.5, 0.0, 0.0), 3.5, 3.5, at)]
        assert sides([wide, wide], [], [0, 1], 1000, rest_mm=1.0).state == state
        places = [stand(0, 0, (side, 5.0, 5.0), NO_ROOM, (3.5, 0.0, 0.0), 3.5, 0.0, at)]
        assert sides([places, places], [], [0, 1], 1000).state == NONE


def test_a_bay_in_which_the_motor_leaves_no_room_for_eight():
    """Proven, with the part that is in the way named, and no layout of eight is found on any cells."""
    case = job_in(lofted_bay(2), 8, hardware=True)
    assert no_room(case, 8) == 5.0
    assert crowded(case, 8) == ("motor",)
    found = limit(case, 8, 7)
    assert found is not None
    assert found.modules == 7
    assert found.basis.startswith("8 modules in up to 3 blocks and motor leave each other no room")
    assert first_valid(setting(case, base_items(case), 0), 8) is None


# ---------------------------------------------------------------- invariant


@settings(max_examples=60, deadline=None)
@given(st.data())
def test_it_answers_as_trying_every_place_does(data: st.DataObject):
    """Three boxes on small sets of places, with gaps: found where some choice of places keeps all apart."""
    gap = data.draw(st.sampled_from([0, 1, 2]))
    sizes = data.draw(st.lists(st.tuples(*[st.integers(1, 4)] * 3), min_size=3, max_size=3))
    places = [data.draw(st.lists(st.tuples(*[st.integers(0, 5)] * 3), min_size=1, max_size=9)) for _ in sizes]
    things = [[boxes(p, tuple(map(float, s)), (float(gap),) * 6)] for p, s in zip(places, sizes, strict=True)]
    able = any(
        not any(meets(spot[i], sizes[i], spot[j], sizes[j], gap) for i in range(3) for j in range(i))
        for spot in product(*places)
    )
    found = sides(things, [], [0, 1, 2], 10**6)
    assert found.state == (FOUND if able else NONE)
    if able:
        spot = [tuple(round(v) for v in row) for row in found.at.tolist()]
        assert all(s in p for s, p in zip(spot, places, strict=True))
        assert not any(meets(spot[i], sizes[i], spot[j], sizes[j], gap) for i in range(3) for j in range(i))


@pytest.mark.parametrize("seed", [0, 3, 5, 8])
def test_nothing_that_is_known_to_stand_is_ruled_out(seed: int):
    """Bays cut around their blocks: the count they were cut for is never proven to have no room."""
    case, count = known_bay(seed)
    assert not no_room(case, count)


@pytest.mark.parametrize("number", [1, 7, 16, 24])
def test_a_layout_that_stands_is_not_ruled_out_and_holds_outside(number: int):
    case = job_in(lofted_bay(number), 8, hardware=True)
    now = setting(case, base_items(case), 0)
    found = first_valid(now, 8)
    assert found is not None
    assert not [c for c in check_layout(case, found.layout) if c.verdict == "fail"]
    split = tuple(sorted((len(b.modules) for b in found.layout.blocks), reverse=True))
    assert not ruled_out(case, split)


def test_plug_rooms_over_part_of_a_face_do_not_make_a_proof():
    """A port near one edge: the room in front of it may be passed, so only the bare boxes prove anything."""
    plugged = part(
        "controller", (360, 240, 120), 11,
        ports=[{"name": "in", "kind": "HV", "at": [0, 10, 60], "direction": "-x", "room": 300}],
    )  # fmt: skip
    tight = Box((-350.0, -380.0, 280.0), (75.0, 380.0, 900.0))
    case = job(bay=tight, count=1, known={**PARTS, "controller": plugged},
               parts=(PartOrder(part="controller", zones=("bay",)),))  # fmt: skip
    now = setting(case, base_items(case), 0)
    things = joined(block_entities(case, now.spaces, (1,)), now.parts)
    made = together(case, things, now.goal)
    assert made.board is not None or not made.sure


def test_what_was_not_looked_at_proves_nothing(monkeypatch: pytest.MonkeyPatch):
    """A block and what stands on it in a bay too low for both: a proof, unless ways or anchors were left out."""
    case = job(bay=Box((-350.0, -380.0, 280.0), (350.0, 380.0, 500.0)), count=1,
               parts=(PartOrder(part="box", zones=("bay",), on_pack=True),))  # fmt: skip
    now = setting(case, base_items(case), 0)
    things = joined(block_entities(case, now.spaces, (1,)), now.parts)
    assert together(case, things, now.goal).sure
    some = tuple(replace(t, stands=tuple(replace(s, whole=False) for s in t.stands)) for t in things)
    assert not together(case, some, now.goal).sure
    monkeypatch.setattr("packlayout.placement.together.MOST_BEARERS", 0)
    assert not together(case, things, now.goal).sure
