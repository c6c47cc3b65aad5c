"""What can be done to a layout at the desk."""

from collections.abc import Callable
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from packlayout.desk import operations as ops
from packlayout.desk.numbers import corners
from packlayout.desk.snap import snapped
from packlayout.desk.state import Goods, RefusedError, State, first_state, state_json, state_of
from packlayout.model.geometry import Box
from packlayout.model.layout import Layout, Placement
from tests.desks import case_of, desk, layout

Make = Callable[..., Path]


def _state() -> State:
    from packlayout.model.brief import Aims, Clearances

    return State(layout(), (), Clearances(), Aims())


# by hand


def test_a_block_moves_as_one_and_its_modules_keep_their_distances(workshop: Make) -> None:
    case = case_of(workshop())
    after = ops.shift(case, _state(), "pack block 1", (40.0, -5.0, 2.5))
    for p, q in zip(layout().modules, after.layout.modules, strict=True):
        assert q.at == (p.at[0] + 40, p.at[1] - 5, p.at[2] + 2.5)
    assert after.layout.placements[4:] == layout().placements[4:]


def test_a_part_that_is_put_in_another_zone_belongs_to_it(workshop: Make) -> None:
    case = case_of(workshop())
    there = ops.put(case, _state(), "Wick 3 charger", (0.0, 0.0, 700.0))
    assert ops.members(there.layout, "Wick 3 charger")[0].zone == "bay"
    back = ops.put(case, there, "Wick 3 charger", (2400.0, -85.0, 350.0))
    assert ops.members(back.layout, "Wick 3 charger")[0].zone == "tank"


def test_a_quarter_turn_is_about_the_middle_anticlockwise_from_above() -> None:
    # 250 x 170 at (2400, -85): middle (2525, 0); turned it is 170 x 250 about the same middle
    turned = ops.turn(_state(), "Wick 3 charger", 1)
    charger = ops.members(turned.layout, "Wick 3 charger")[0]
    assert (charger.at, charger.turn_deg) == ((2440.0, -125.0, 350.0), 90)


def test_a_turned_block_takes_its_modules_round() -> None:
    # block of x -190..110, y -182..180: middle (-40, -1); the front left module's middle (-40, -92) goes
    # to (-40 + 91, -1): rearward
    block = ops.turn(_state(), "pack block 1", 1).layout.blocks[0]
    assert block.box.size[:2] == (362.0, 300.0)
    first = next(p for p in block.modules if p.name == "module 1")
    assert (first.box.centre[:2], first.turn_deg) == ((51.0, -1.0), 270)


def test_what_is_taken_out_comes_back_where_it_stood() -> None:
    out = ops.take_out(_state(), "pack block 1")
    assert [p.name for p in out.out] == [f"module {n}" for n in range(1, 5)]
    assert out.layout.modules == ()
    assert ops.put_in(out, "pack block 1").layout == layout()
    assert [p.name for p in ops.put_in(out, "module 3").layout.placements] == ["module 3", *_others()]


def _others() -> list[str]:
    return [p.name for p in layout().placements if p.block is None]


def test_it_snaps_to_the_clearance_beside_a_neighbour_and_flush_with_it() -> None:
    # held 6 mm off the right place along x, 9 mm off flush along y, far from everything along z
    box, neighbour = (
        Box((316.0, 9.0, 50.0), (416.0, 109.0, 150.0)),
        Box((0.0, 0.0, 0.0), (300.0, 200.0, 400.0)),
    )
    room = Box((-500.0, -500.0, -200.0), (900.0, 900.0, 900.0))
    assert snapped(box, corners([neighbour]), room, 10.0, 10.0) == (310.0, 0.0, 50.0)
    assert snapped(box, corners([]), room, 10.0, 10.0) == box.lo


def test_an_order_that_the_layout_lacks_is_out(workshop: Make) -> None:
    case = case_of(workshop())
    state = first_state(case, Layout(layout().placements[:3]))
    assert [p.name for p in state.out] == ["module 4", "Hartle M30 motor", "Wick 3 charger"]
    assert state.goods is None
    full = state
    for p in state.out:
        full = ops.put_in(full, p.name)
    assert {p.name for p in full.layout.placements} == {p.name for p in layout().placements}


def test_an_exchanged_part_stands_over_the_same_point(workshop: Make) -> None:
    other = (workshop() / "modules" / "charger.yaml").read_text().replace("[250, 170, 80]", "[300, 200, 90]")
    made = desk(workshop({"modules/bigger.yaml": other.replace("Wick 3", "Wick 6")}))
    made.exchange(made.revision, "Wick 3 charger", "bigger")
    charger = ops.members(made.state.layout, "Wick 6 charger")[0]
    assert charger.at == (2375.0, -100.0, 350.0)
    assert charger.part == "bigger"
    made.undo(made.revision)
    assert made.state.layout == layout()


# invariant


@given(st.integers(-3, 3), st.sampled_from(["pack block 1", "module 2", "Hartle M30 motor"]))
def test_four_quarters_are_none_and_the_middle_never_moves(quarters: int, target: str) -> None:
    before = ops.box_of(ops.members(layout(), target))
    after = ops.turn(_state(), target, quarters)
    box = ops.box_of(ops.members(after.layout, target))
    assert box.centre == pytest.approx(before.centre)
    assert box.lo[2] == before.lo[2]
    back = ops.turn(after, target, -quarters)
    for p, q in zip(back.layout.placements, layout().placements, strict=True):
        assert p.at == pytest.approx(q.at)
        assert p.turn_deg == q.turn_deg


@given(st.tuples(*[st.floats(-3000, 3000)] * 3), st.booleans())
def test_a_state_is_read_back_as_it_was_written(at: tuple[float, float, float], locked: bool) -> None:
    stood = Placement("<b>a</b>", "motor", "bay", at, "+z", 270, MOTOR_SIZE, None, locked)
    state = State(Layout((stood,), "título"), (stood,), _state().clearances, _state().aims, Goods(1.5, 2.0))
    assert state_of(state_json(state)) == state


MOTOR_SIZE = (260.0, 240.0, 240.0)


# refusal


def test_a_locked_thing_is_left_alone(workshop: Make) -> None:
    case = case_of(workshop())
    held = ops.lock(_state(), "pack block 1", True)
    for change in (
        lambda: ops.shift(case, held, "pack block 1", (1.0, 0.0, 0.0)),
        lambda: ops.shift(case, held, "module 1", (1.0, 0.0, 0.0)),
        lambda: ops.turn(held, "pack block 1", 1),
        lambda: ops.take_out(held, "pack block 1"),
    ):
        with pytest.raises(RefusedError, match="is locked; unlock it first"):
            change()
    assert ops.lock(held, "pack block 1", False) == _state()


def test_a_face_that_may_not_point_up_and_a_place_far_away_are_refused(workshop: Make) -> None:
    case = case_of(workshop())
    with pytest.raises(RefusedError, match=r"may not stand with -z up; allowed: \+z$"):
        ops.stand(case, _state(), "Hartle M30 motor", "-z")
    with pytest.raises(RefusedError, match="30000 mm is no place on a vehicle"):
        ops.put(case, _state(), "Hartle M30 motor", (0.0, 30000.0, 0.0))
    with pytest.raises(RefusedError, match="is not in the layout"):
        ops.turn(_state(), "nothing", 1)
    with pytest.raises(RefusedError, match="no load floor"):
        ops.with_goods(case, _state(), Goods(0.0, 10.0))
    with pytest.raises(RefusedError, match="a motor, Wick 3 charger a charger"):
        ops.exchange(case, _state(), "Hartle M30 motor", "charger")
