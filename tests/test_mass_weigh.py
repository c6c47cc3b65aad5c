"""The weighing as a whole: states, change, payload, checks, and tolerances."""

from math import hypot
from time import perf_counter
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from packlayout.mass.combine import combine
from packlayout.mass.ledger import base_items, part_items
from packlayout.mass.weigh import weigh
from packlayout.mass.weighing import Weighing
from packlayout.model.catalogue import CodeLimit
from packlayout.model.check import Check
from packlayout.model.geometry import MassItem, exact_point
from packlayout.model.layout import Layout, Placement
from packlayout.model.weighed import LedgerItem
from packlayout.units import Measured
from tests.cases import (
    CODE,
    MODULE,
    MOTOR,
    axles,
    brief,
    case,
    corners,
    frame_items,
    layout,
    ledger_item,
    stated,
    vehicle,
    weighed,
)

EXACT: dict[str, Any] = {
    "wheelbase_mm": Measured(2500.0),
    "track_front_mm": Measured(1250.0),
    "track_rear_mm": Measured(1250.0),
    "weighed": weighed(corners(260, 260, 240, 240)),
    "cg_height": stated(550),
    "removed": (),
}


def check(found: Weighing, id: str) -> Check:
    return next(c for c in found.checks if c.id == id)


# ---------------------------------------------------------------- by hand


def test_states_in_order() -> None:
    names = [s.name for s in weigh(case(), layout(), frame_items()).states]
    assert names == ["original kerb", "converted kerb", "driver", "driver and passenger", "full load"]


def test_one_block_of_modules_over_the_front_axle() -> None:
    # four modules of 24 kg with their middle at x = 0: -200 + 200 and 210 + 200; the motor at 650 + 210
    found = weigh(case(vehicle=vehicle(**EXACT)), layout())
    after = found.state("converted kerb")
    fuel = 0.9 * 40 * 0.745
    assert after.mass.value == pytest.approx(1000 + 4 * 24 + 55 - fuel)
    moment = 2 * 24 * 0 + 2 * 24 * 410 + 55 * 860 - fuel * 2700
    assert found.change.axle[1].value == pytest.approx(moment / 2500)
    assert after.cg[0].value == pytest.approx((480 * 2500 + moment) / after.mass.value)


def test_the_driver_sits_on_the_right() -> None:
    found = weigh(case(vehicle=vehicle(**EXACT)), Layout(()))
    kerb, driver = found.state("converted kerb"), found.state("driver")
    assert driver.mass.value - kerb.mass.value == pytest.approx(75)
    left = driver.corner[0].value + driver.corner[2].value
    right = driver.corner[1].value + driver.corner[3].value
    assert right - left == pytest.approx(75 * 350 / 625)


def test_full_load_comes_up_to_the_plate() -> None:
    found = weigh(case(vehicle=vehicle(**EXACT)), layout()).state("full load")
    assert found.mass == Measured(1450)
    goods = 1450 - weigh(case(vehicle=vehicle(**EXACT)), layout()).state("driver").mass.value
    driver = weigh(case(vehicle=vehicle(**EXACT)), layout()).state("driver")
    assert found.axle[1].value == pytest.approx(driver.axle[1].value + goods * 2250 / 2500)


def test_payload_by_place() -> None:
    plate = vehicle().plated.model_copy(update={"front_axle_kg": 760.0})
    found = weigh(case(vehicle=vehicle(**EXACT, plated=plate)), Layout(()))
    driver = found.state("driver")
    first, last = found.payload[0], found.payload[-1]
    assert (first.x_mm, first.bound_by) == (1600, "plated gross mass")
    assert first.allowed_kg.value == pytest.approx(1450 - driver.mass.value)
    assert (last.x_mm, last.bound_by) == (2900, "rear axle plate")
    assert last.allowed_kg.value == pytest.approx((850 - driver.axle[1].value) * 2500 / 2900)


def test_nothing_left_to_carry_is_nought() -> None:
    heavy = vehicle(**{**EXACT, "added": (ledger_item("lead", 400, (1900, 0, 500)),)})
    rows = weigh(case(vehicle=heavy), layout()).payload
    assert {row.allowed_kg.value for row in rows} == {0.0}
    assert check(weigh(case(vehicle=heavy), layout()), "gross.max.full-load").verdict == "fail"


def test_the_inertia_of_the_original_is_the_estimate() -> None:
    found = weigh(case(vehicle=vehicle(**EXACT)), layout()).state("original kerb")
    assert found.inertia[2].value == pytest.approx(3.176 * 1000 - 1754.2)
    assert found.inertia[2].tolerance == pytest.approx(0.3 * found.inertia[2].value)
    assert "estimate" in found.note


def test_a_front_axle_over_its_plate_fails() -> None:
    low = vehicle(**EXACT).plated.model_copy(update={"front_axle_kg": 560.0})
    found = check(weigh(case(vehicle=vehicle(**{**EXACT, "plated": low})), layout()), "axle.front.max.driver")
    assert (found.verdict, found.limit, found.unit) == ("fail", 560, "kg")


def test_code_limits_are_held() -> None:
    weighing = weigh(case(), layout(), frame_items())
    found = {c.id: c for c in weighing.checks if c.id.startswith("code.")}
    after, before = weighing.state("converted kerb"), weighing.state("original kerb")
    ratio = found["code.kerb-mass-ratio.max"]
    assert ratio.value == pytest.approx(100 * after.mass.value / before.mass.value)
    right, left = after.corner[1].value + after.corner[3].value, after.corner[0].value + after.corner[2].value
    side = found["code.side-difference.max"]
    assert side.value == pytest.approx(100 * abs(right - left) / after.mass.value)
    assert side.tolerance > 0
    share = found["code.front-axle-share.min.full-load"]
    laden = weighing.state("full load")
    assert share.value == pytest.approx(100 * laden.axle[0].value / laden.mass.value)
    assert found["code.cg-height-change.max"].value == pytest.approx(after.cg[2].value - before.cg[2].value)


def test_a_limit_in_a_strange_unit_is_unknown() -> None:
    odd = CodeLimit(quantity="CG height", sense="max", value=50, unit="percent", source="x")
    found = weigh(case(design_code=CODE.model_copy(update={"limits": (odd,)})), layout())
    assert check(found, "code.cg-height.max").verdict == "unknown"
    assert "it can be held in mm" in check(found, "code.cg-height.max").note


def test_a_missing_seat_and_floor_are_said() -> None:
    found = weigh(case(vehicle=vehicle(seats=(), load_floor=None), brief=brief(load_states=())), layout())
    assert [s.name for s in found.states] == ["original kerb", "converted kerb"]
    assert check(found, "gross.max.driver").verdict == "unknown"
    assert "seat called 'driver'" in check(found, "gross.max.driver").note
    assert "load_floor" in check(found, "axle.rear.max.full-load").note
    assert found.payload == ()


# ---------------------------------------------------------------- tolerances, by hand


def test_the_stated_height_is_shared_by_all_corners() -> None:
    """Four corners at one height of +/- 30 mm make a CG of +/- 30 mm, not 15."""
    found = weigh(case(vehicle=vehicle(**{**EXACT, "cg_height": stated("550 +/- 30")})), Layout(()))
    assert found.state("original kerb").cg[2].tolerance == pytest.approx(30, rel=1e-6)


def test_scale_errors_cancel_in_the_change() -> None:
    rough = {**EXACT, "weighed": weighed(corners("260 +/- 9", "260 +/- 9", "240 +/- 9", "240 +/- 9"))}
    found = weigh(case(vehicle=vehicle(**rough)), layout())
    assert found.state("converted kerb").mass.tolerance > 18
    # left are the four modules of one catalogue figure, 4 x 0.5 kg, and the motor
    assert found.change.mass.tolerance == pytest.approx(hypot(4 * 0.5, 1.0), rel=1e-6)


def test_fuel_weighed_and_then_taken_out_counts_once() -> None:
    """The converted car has no fuel: only what was in the tank on the scales matters to it."""
    rough = {**EXACT, "weighed": weighed(corners(260, 260, 240, 240), fuel="20 +/- 4")}
    found = weigh(case(vehicle=vehicle(**rough)), Layout(()))
    assert found.state("original kerb").mass.tolerance == pytest.approx(4 * 0.745)
    assert found.state("converted kerb").mass.value == pytest.approx(1000 - 20 * 0.745)
    assert found.state("converted kerb").mass.tolerance == pytest.approx(4 * 0.745)
    assert found.change.mass.tolerance == pytest.approx(0, abs=1e-9)


def test_the_split_of_a_weighbridge_is_felt_by_corners_alone() -> None:
    rough = {**EXACT, "weighed": weighed(ticket=axles("520 +/- 5", "480 +/- 5"))}
    found = weigh(case(vehicle=vehicle(**rough)), Layout(())).state("original kerb")
    assert [a.tolerance for a in found.axle] == pytest.approx([5, 5])
    # half of the axle's 5 kg, and 2 % of its load
    expected = [hypot(2.5, 10.4), hypot(2.5, 10.4), hypot(2.5, 9.6), hypot(2.5, 9.6)]
    assert [c.tolerance for c in found.corner] == pytest.approx(expected, rel=1e-3)


def test_lengths_of_one_stock_are_heavy_together() -> None:
    found = weigh(case(vehicle=vehicle(**EXACT)), Layout(()), frame_items())
    # two rails of 3 kg at 6 % share one deviation, the plate has its own
    assert found.change.mass.tolerance == pytest.approx(hypot(0.36, 0.05), rel=1e-6)


def test_the_wheelbase_is_felt_by_the_axles() -> None:
    long = {
        **EXACT,
        "wheelbase_mm": Measured(2500.0, 25.0),
        "added": (ledger_item("lead", 100, (1250, 0, 500)),),
    }
    found = weigh(case(vehicle=vehicle(**long)), Layout(()))
    # d(m x / L) = m x / L2 dL for the lead, and the fuel the other way; the pads do not care for the wheelbase
    fuel = 0.9 * 40 * 0.745
    expected = (100 * 1250 - fuel * 2700) / 2500**2 * 25
    assert found.change.axle[1].tolerance == pytest.approx(expected, rel=1e-3)


# ---------------------------------------------------------------- invariants


def test_the_ledger_sums_to_the_converted_vehicle() -> None:
    found = weigh(case(), layout(), frame_items())
    total, after = combine(found.ledger), found.state("converted kerb")
    assert total.mass_kg == pytest.approx(after.mass.value)
    assert total.cg == pytest.approx(tuple(c.value for c in after.cg))
    assert found.ledger == (*base_items(case()), *part_items(case(), layout()), *frame_items())


@pytest.mark.parametrize("up", ["+z", "+x", "-y"])
@pytest.mark.parametrize("turn", [90, 180, 270])
def test_turned_parts_are_weighed_as_the_ledger_has_them(up: Any, turn: int) -> None:
    at, size = (100.0, -200.0, 300.0), MODULE.box_size
    placed = Layout((Placement("module 1", "module", "bay", at, up, turn, size, block=1),))
    found = weigh(case(), placed)
    total, after = combine(found.ledger), found.state("converted kerb")
    assert total.cg == pytest.approx(tuple(c.value for c in after.cg))


def test_an_empty_state_is_the_state_below() -> None:
    found = weigh(case(), layout(), frame_items())
    for state in found.states:
        assert sum(c.value for c in state.corner) == pytest.approx(state.mass.value)
        assert sum(a.value for a in state.axle) == pytest.approx(state.mass.value)


@pytest.mark.parametrize("pads", [True, False])
def test_the_original_reads_as_weighed(pads: bool) -> None:
    state = weighed(corners(262, 258, 236, 244)) if pads else weighed(ticket=axles(520, 480))
    found = weigh(case(vehicle=vehicle(weighed=state)), layout()).state("original kerb")
    expected = (262, 258, 236, 244) if pads else (260, 260, 240, 240)
    assert [c.value for c in found.corner] == pytest.approx(expected)


where = (st.floats(-400, 3000), st.floats(-600, 600), st.floats(200, 900))
things = st.lists(st.tuples(st.floats(0.1, 60), st.floats(0, 8), *where), min_size=1, max_size=6)


def ledger(rows: list[tuple[float, ...]], wider: float = 0.0) -> tuple[LedgerItem, ...]:
    return tuple(
        LedgerItem.model_validate(
            {
                "name": f"thing {n}",
                "mass": Measured(kg, tol + wider),
                "at": [Measured(c, tol + wider) for c in at],
            }
        )
        for n, (kg, tol, *at) in enumerate(rows)
    )


def all_measured(found: Weighing) -> list[Measured]:
    rows: list[Measured] = []
    for state in found.states:
        rows += [state.mass, *state.cg, *state.inertia, *state.axle, *state.corner]
    return [*rows, found.change.mass, *found.change.cg, *found.change.axle, *found.change.corner]


@settings(max_examples=25, deadline=None)
@given(things, st.randoms())
def test_the_order_of_the_ledger_is_irrelevant(rows: list[tuple[float, ...]], random: Any) -> None:
    mixed = list(ledger(rows))
    random.shuffle(mixed)
    a, b = (weigh(case(vehicle=vehicle(added=added)), layout()) for added in (ledger(rows), tuple(mixed)))
    for one, two in zip(all_measured(a), all_measured(b), strict=True):
        assert one.value == pytest.approx(two.value, rel=1e-9, abs=1e-7)
        assert one.tolerance == pytest.approx(two.tolerance, rel=1e-6, abs=1e-7)


@settings(max_examples=25, deadline=None)
@given(things, st.floats(0.5, 20))
def test_tolerances_grow_with_those_of_the_inputs(rows: list[tuple[float, ...]], wider: float) -> None:
    a, b = (weigh(case(vehicle=vehicle(added=ledger(rows, w))), layout()) for w in (0.0, wider))
    for one, two in zip(all_measured(a), all_measured(b), strict=True):
        # second-order terms of the central difference leave a trace
        assert two.tolerance >= one.tolerance * (1 - 1e-6) - 1e-7


@settings(max_examples=25, deadline=None)
@given(things)
def test_removing_and_adding_back_changes_nothing(rows: list[tuple[float, ...]]) -> None:
    exact = ledger([(kg, 0.0, *at) for kg, _, *at in rows])
    base = vehicle()
    both = vehicle(removed=(*base.removed, *exact), added=exact)
    a, b = weigh(case(vehicle=base), layout()), weigh(case(vehicle=both), layout())
    for one, two in zip(all_measured(a), all_measured(b), strict=True):
        assert one.value == pytest.approx(two.value, rel=1e-9, abs=1e-6)
        assert one.tolerance == pytest.approx(two.tolerance, rel=1e-6, abs=1e-6)


@settings(max_examples=25, deadline=None)
@given(st.floats(-500, 2500), st.floats(-300, 300))
def test_moving_the_motor_moves_the_rear_axle(x: float, by: float) -> None:
    def placed(at: float) -> Layout:
        return Layout((Placement("motor", "motor", "bay", (at, -150.0, 300.0), "+z", 0, MOTOR.box_size),))

    a, b = (weigh(case(), placed(at)).state("converted kerb").axle[1].value for at in (x, x + by))
    assert b - a == pytest.approx(55 * by / 2500, abs=1e-7)


@pytest.mark.parametrize("up", ["+z", "+x", "-y"])
@pytest.mark.parametrize("turn", [0, 90, 180, 270])
def test_a_part_is_weighed_where_its_own_centre_is(up: Any, turn: int) -> None:
    placed = Placement(
        "module 1", "module", "bay", (100.0, -200.0, 300.0), up, turn, MODULE.box_size, block=1
    )
    found = part_items(case(), Layout((placed,)))[0]
    assert MODULE.cg is not None
    own = (MODULE.cg[0].value, MODULE.cg[1].value, MODULE.cg[2].value)
    assert tuple(c.value for c in found.position) == pytest.approx(placed.pose.point(own))
    assert found.size == placed.box.size
    assert sorted(c.tolerance for c in found.position) == pytest.approx([5, 5, 10])
    # the loose axis of the part is the loose axis of the vehicle it points along
    upward = placed.pose.direction((0.0, 0.0, 1.0))
    loose = max(range(3), key=lambda k: abs(upward[k]))
    assert found.position[loose].tolerance == pytest.approx(10)


# ---------------------------------------------------------------- time


@pytest.mark.benchmark
def test_two_hundred_items_in_fifty_milliseconds() -> None:
    """All states and tolerances with 200 ledger items of which each mass and place may be out."""
    added = ledger([(1.0 + n / 100, 0.5, 10.0 * n, 0.0, 400.0) for n in range(200)])
    made = case(vehicle=vehicle(added=added))
    weigh(made, layout(), frame_items())
    begin = perf_counter()
    weigh(made, layout(), frame_items())
    assert perf_counter() - begin < 0.05


def test_items_without_mass_do_not_divide() -> None:
    nothing = MassItem("note", Measured(0.0), exact_point((0, 0, 0)), "frame")
    with_it, without = (weigh(case(), layout(), items) for items in ((nothing,), ()))
    assert with_it.state("driver").mass == without.state("driver").mass
