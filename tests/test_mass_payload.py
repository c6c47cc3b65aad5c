"""Payload along the load floor, movable parts, the ledger as steps, load states of the brief."""

from dataclasses import replace
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from packlayout.errors import GeometryError
from packlayout.mass.waterfall import waterfall
from packlayout.mass.weigh import weigh
from packlayout.model.brief import LoadState, PartOrder
from packlayout.model.geometry import MassItem, exact_point
from packlayout.model.layout import Layout, Placement
from packlayout.model.vehicle import BoxShape, Zone
from packlayout.units import Measured
from tests.cases import (
    CODE,
    MOTOR,
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
}
TAIL = Zone(name="tail", use="boot", box=BoxShape(corner=(2000, -400, 300), opposite=(3200, 400, 700)))
ORDERS = (PartOrder(part="motor", zones=("bay", "tail")),)


def motor_at(x: float, locked: bool = False) -> Layout:
    at = (x, -150.0, 300.0)
    return Layout((Placement("motor", "motor", "bay", at, "+z", 0, MOTOR.box_size, locked=locked),))


def payload_case(**changed: Any) -> Any:
    zones = (*vehicle().zones, TAIL)
    return case(vehicle=vehicle(**{**EXACT, "zones": zones, **changed}), brief=brief(parts=ORDERS))


# ---------------------------------------------------------------- by hand


def test_the_original_laden_rear_axle_bounds_too() -> None:
    # original with driver, 1075 kg, and 375 kg at 2250 mm: 480 + 39 + 337.5 on the rear axle, over its plate
    strong = vehicle().plated.model_copy(update={"rear_axle_kg": 900.0})
    code = CODE.model_copy(update={"limits": ()})
    found = weigh(case(vehicle=vehicle(**EXACT, plated=strong), design_code=code), layout())
    driver = found.state("driver").axle[1].value
    rear = 480 + 75 * 1300 / 2500 + 375 * 2250 / 2500
    last = found.payload[-1]
    assert last.bound_by == "laden rear axle of the original"
    assert last.allowed_kg.value == pytest.approx((rear - driver) * 2500 / 2900)


def test_every_limit_has_its_curve() -> None:
    found = weigh(case(vehicle=vehicle(**EXACT)), layout())
    names = [curve.name for curve in found.payload_curves]
    assert names == [
        "front axle plate", "rear axle plate", "plated gross mass", "front tyres", "rear tyres",
        "laden rear axle of the original", "least front axle share",
    ]  # fmt: skip
    for n, row in enumerate(found.payload):
        here = {c.name: kg for c in found.payload_curves for x, kg in c.points if x == row.x_mm}
        assert min(here.values()) == pytest.approx(row.allowed_kg.value), n
        assert here[row.bound_by] == pytest.approx(row.allowed_kg.value)


def test_goods_behind_the_rear_axle_unload_the_front() -> None:
    # a driver state of 513 and 497 kg or so, a share of 35 %: m at 2900 mm bears on the front by -0.16 m
    found = weigh(case(vehicle=vehicle(**EXACT)), layout())
    driver = found.state("driver")
    front, mass = driver.axle[0].value, driver.mass.value
    share = next(c for c in found.payload_curves if c.name == "least front axle share")
    x, kg = share.points[-1]
    assert x == 2900
    assert (front + kg * (1 - 2900 / 2500)) / (mass + kg) == pytest.approx(0.35)


def test_a_motor_moved_from_the_tail_leaves_more_payload() -> None:
    # 55 kg over and behind the rear axle, which is what bounds goods at 2250 mm
    found = weigh(payload_case(removed=()), motor_at(2500.0))
    (row,) = found.movables
    assert (row.name, row.zone, row.x_mm) == ("motor", "bay", 2710)
    assert row.allowed_kg == pytest.approx(found.payload[10].allowed_kg.value)
    assert row.best_x_mm < 2710
    assert row.best_allowed_kg > row.allowed_kg
    # there, the rear axle is no tighter than the next limit
    there = weigh(payload_case(removed=()), motor_at(row.best_x_mm - 210))
    assert there.payload[10].allowed_kg.value == pytest.approx(row.best_allowed_kg)
    assert there.payload[10].bound_by == row.bound_by


def test_fixed_parts_and_modules_stay() -> None:
    assert weigh(payload_case(), motor_at(2500.0, locked=True)).movables == ()
    assert weigh(case(), layout()).movables == ()


def test_the_ledger_as_steps() -> None:
    made = case(vehicle=vehicle(**EXACT))
    found = weigh(made, layout(), frame_items())
    steps = waterfall(made, layout(), found.ledger)
    assert [(s.name, round(s.change_kg, 2)) for s in steps] == [
        ("original kerb", 1000), ("engine", -150), ("gearbox", -32), ("fuel", -26.82), ("exhaust", -14),
        ("Module x 4", 96), ("Motor", 55), ("frame", 7),
    ]  # fmt: skip
    assert steps[-1].total_kg == pytest.approx(found.state("converted kerb").mass.value)


def test_what_is_too_light_to_show_is_one_step() -> None:
    made = case(vehicle=vehicle(**EXACT))
    light = tuple(
        MassItem(f"clip {n}", Measured(0.03), exact_point((0, 0, 0)), "added", (1.0, 1.0, 1.0), "test")
        for n in range(3)
    )
    ledger = weigh(made, layout(), frame_items()).ledger
    told = {s.name: s.change_kg for s in waterfall(made, layout(), (*ledger, *light))}
    assert told["3 under 0.05 kg each"] == pytest.approx(0.09)
    assert not any(name.startswith("clip") for name in told)
    alone = waterfall(made, layout(), (*ledger, light[0]))
    assert "clip 0" in [s.name for s in alone]
    assert alone[-1].total_kg == pytest.approx(sum(item.mass.value for item in (*ledger, light[0])))


def test_a_full_load_of_the_brief_takes_the_place_of_ours() -> None:
    goods = LoadState(name="full load", aboard=(ledger_item("goods", 300, (2200, 0, 700)),))
    found = weigh(case(vehicle=vehicle(**EXACT), brief=brief(load_states=(goods,))), layout())
    assert [s.name for s in found.states] == ["original kerb", "converted kerb", "driver", "full load"]
    kerb, full = found.state("converted kerb"), found.state("full load")
    assert full.mass.value - kerb.mass.value == pytest.approx(300)
    assert [c.verdict for c in found.checks if c.id == "gross.max.full-load"] == ["pass"]


def test_a_trailer_on_the_tow_ball_unloads_the_front() -> None:
    # 75 kg of nose load 700 mm behind the rear axle: 21 kg off the front, 96 kg on the rear
    nose = LoadState(name="trailer", aboard=(ledger_item("nose load", 75, (3200, 0, 400)),))
    found = weigh(case(vehicle=vehicle(**EXACT), brief=brief(load_states=(nose,))), layout())
    kerb, towing = found.state("converted kerb"), found.state("trailer")
    gained = [t.value - k.value for t, k in zip(towing.axle, kerb.axle, strict=True)]
    assert gained == pytest.approx([-21, 96])


def test_states_bear_their_terms_and_shares() -> None:
    found = weigh(case(), layout())
    assert found.state("converted kerb").term == "complete vehicle kerb mass (ISO 1176)"
    driver = found.state("driver")
    assert "running order" in driver.term
    assert driver.front_percent is not None
    assert driver.front_percent.value == pytest.approx(100 * driver.axle[0].value / driver.mass.value)


def test_the_ellipse_of_the_centre_of_gravity() -> None:
    for state in weigh(case(), layout()).states:
        assert state.cg_covariance is not None
        for k in range(3):
            assert 2 * state.cg_covariance[k][k] ** 0.5 == pytest.approx(state.cg[k].tolerance)
            assert state.cg_covariance[k][k - 1] == pytest.approx(state.cg_covariance[k - 1][k])


# ---------------------------------------------------------------- invariants


@settings(max_examples=25, deadline=None)
@given(st.integers(0, 20), st.floats(0.0, 1.0))
def test_the_allowed_mass_is_allowed_and_no_more(place: int, over: float) -> None:
    """Goods of the allowed mass keep every limit; a kilogram more breaks the one that is named."""
    row = weigh(case(vehicle=vehicle(**EXACT)), layout()).payload[place]

    def laden(kg: float) -> dict[str, bool]:
        load = (
            ledger_item("driver", 75, (1300, 350, 600)),
            ledger_item("goods", kg, (row.x_mm, 0, 750)),
        )
        state = LoadState(name="laden", aboard=load)
        weighing = weigh(case(vehicle=vehicle(**EXACT), brief=brief(load_states=(state,))), layout())
        found, plate = weighing.state("laden"), vehicle().plated
        front, rear, mass = found.axle[0].value, found.axle[1].value, found.mass.value
        original = 480 + 75 * 1300 / 2500 + 375 * 2250 / 2500
        slack = 1e-6
        return {
            "front axle plate": front <= plate.front_axle_kg + slack,
            "rear axle plate": rear <= plate.rear_axle_kg + slack,
            "plated gross mass": mass <= plate.gross_kg + slack,
            "front tyres": front <= 800 + slack,
            "rear tyres": rear <= 900 + slack,
            "laden rear axle of the original": rear <= original + slack,
            "least front axle share": front >= 0.35 * mass - slack,
        }

    assert all(laden(row.allowed_kg.value).values())
    assert not laden(row.allowed_kg.value + 1 + over)[row.bound_by]


# ---------------------------------------------------------------- refusals


@pytest.mark.parametrize("name", ["original kerb", "converted kerb", "change", "stripped"])
def test_a_kerb_state_is_no_load_state(name: str) -> None:
    state = LoadState(name=name, aboard=())
    with pytest.raises(GeometryError, match=f"load_states: '{name}' is not a laden state"):
        weigh(replace(case(), brief=brief(load_states=(state,))), layout())
