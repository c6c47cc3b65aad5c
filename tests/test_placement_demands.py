"""Axle loads that cannot be had together: the two things that conflict are named, and by how much."""

from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from packlayout.mass.ledger import base_items
from packlayout.model.brief import Aims, Case
from packlayout.model.geometry import MassItem, exact_point
from packlayout.model.vehicle import Plated
from packlayout.placement.demands import check_demands, reach_of
from packlayout.placement.place import place
from packlayout.units import Measured
from tests.bays import PARTS, job, part

BARE = (MassItem("vehicle", Measured(800.0), exact_point((1250.0, 0.0, 500.0)), "vehicle"),)
"""800 kg in the middle of a wheelbase of 2500 mm: 400 kg on each axle."""


def aimed(**fields: float) -> Case:
    """Four modules of 14 kg in the bay between x = -350 and 600, no other part."""
    return job(count=4, parts=(), aims=Aims(**fields))


# ---------------------------------------------------------------- by hand


def test_the_reach_of_the_axle_loads():
    """118 mm on its side, 10 mm to the body, 32 mm of cradle: the middle of a module goes from x = -249 to 499."""
    upright = {**PARTS, "module": part("battery module", (340, 175, 118), 14, up=["+y"])}
    case = job(count=4, parts=(), known=upright)
    found = reach_of(case, BARE)
    low, high = -350 + 10 + 32 + 175 / 2, 600 - 10 - 32 - 175 / 2  # the shortest side along x, 118 up
    low, high = min(low, -350 + 42 + 118 / 2), max(high, 600 - 42 - 118 / 2)
    assert found.mass_kg == 856.0
    assert found.rear_kg[0] >= 400 + 56 * low / 2500 - 1e-9
    assert found.rear_kg[1] <= 400 + 56 * high / 2500 + 1e-9
    assert found.front_kg == pytest.approx((856 - found.rear_kg[1], 856 - found.rear_kg[0]))


def test_two_targets_that_are_less_than_the_vehicle():
    """300 + 400 = 700 kg for 856 kg: 156 kg are left that no axle is to bear."""
    found = {c.id: c for c in check_demands(aimed(front_target_kg=300, rear_target_kg=400), BARE)}
    total = found["place.targets.sum"]
    assert (total.verdict, total.value, total.limit, total.margin) == ("fail", 700.0, 856.0, -156.0)
    assert "front_target 300 kg and rear_target 400 kg are 700 kg together" in total.note
    assert "conflict by 156.0 kg" in total.note


def test_two_targets_that_are_more_than_the_vehicle_with_any_frame():
    """600 + 500 = 1100 kg for 856 kg and at the most 28 kg of frame."""
    found = {c.id: c for c in check_demands(aimed(front_target_kg=600, rear_target_kg=500), BARE)}
    assert found["place.targets.sum"].limit == 884.0
    assert "conflict by 216.0 kg" in found["place.targets.sum"].note


def test_a_target_that_no_place_reaches():
    """The pack may take 400 kg at the front to some 470 at the most, never down to 350."""
    (found,) = check_demands(aimed(front_target_kg=350), BARE)
    least = reach_of(aimed(), BARE).front_kg[0]
    assert (found.id, found.limit, found.sense) == ("place.targets.front", 350.0, "max")
    assert found.value == pytest.approx(least, abs=1e-3)
    assert f"conflict by {least - 350:.1f} kg" in found.note
    (rear,) = check_demands(aimed(rear_target_kg=500), BARE)
    assert (rear.id, rear.sense) == ("place.targets.rear", "min")


def test_a_band_about_a_target_and_an_aim_without_weight():
    assert check_demands(aimed(front_target_kg=350, front_axle=0), BARE) == ()
    assert check_demands(aimed(front_target_kg=350, axle_band_kg=120), BARE) == ()


def test_a_target_above_the_plate_and_a_plate_below_the_vehicle():
    case = aimed(front_target_kg=560)
    plate = Plated(front_axle_kg=530, rear_axle_kg=850, gross_kg=1150)
    heavy = (replace(BARE[0], mass=Measured(1100.0)),)
    low = replace(case, vehicle=case.vehicle.model_copy(update={"plated": plate}))
    found = {c.id: c for c in check_demands(low, heavy)}
    assert found["place.targets.front.plated"].note == (
        "front_target 560 kg and the plated front axle load of 530 kg conflict by 30.0 kg"
    )
    assert found["place.plated.gross-mass"].margin == -6.0
    assert {c.verdict for c in found.values()} == {"fail"}


# ---------------------------------------------------------------- invariant


@settings(max_examples=15, deadline=None)
@given(front=st.floats(350, 600), rear=st.floats(300, 600))
def test_what_is_told_holds_for_the_layouts_that_are_found(front: float, rear: float):
    """No layout of the search lies beyond the reach, so none meets a target that is told to be out of reach."""
    case = aimed(front_target_kg=front, rear_target_kg=rear)
    reach = reach_of(case, BARE)
    for scored in FOUND:
        mass, at = loads(case, scored.layout)
        assert reach.front_kg[0] - 1e-6 <= mass - at <= reach.front_kg[1] + 1e-6
        assert reach.rear_kg[0] - 1e-6 <= at <= reach.rear_kg[1] + 1e-6
    for check in check_demands(case, BARE):
        assert check.margin is not None
        assert check.margin < 0
        assert "conflict by" in check.note


def loads(case: Case, layout) -> tuple[float, float]:
    """Mass and rear axle load without end plates, by moments."""
    kg = case.parts["module"].mass_kg.value
    own = case.parts["module"].centre_of_gravity
    xs = [p.pose.point((own[0].value, own[1].value, own[2].value))[0] for p in layout.modules]
    return 800 + kg * len(xs), 400 + kg * sum(xs) / 2500


FOUND = place(aimed(), BARE).layouts


# ---------------------------------------------------------------- refusal


def test_place_answers_with_the_failed_check_and_its_layouts():
    case = aimed(front_target_kg=60, rear_target_kg=60)
    placed = place(case, base_items(case))
    failed = {c.id for c in placed.checks if c.verdict == "fail"}
    assert {"place.targets.sum", "place.targets.front", "place.targets.rear"} <= failed
    assert placed.layouts
