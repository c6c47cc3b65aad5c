"""Springs, ride height and frequency, braking, hill starts, stability."""

from math import atan, degrees, hypot, pi, sqrt
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from packlayout.mass.ride import height_change_mm, natural_frequency_hz
from packlayout.mass.road import braked_axle_loads, graded_axle_loads, hill_adhesion, stability_factor
from packlayout.mass.springs import leaf_rate
from packlayout.mass.weigh import weigh
from packlayout.mass.weighing import Weighing
from packlayout.model.brief import Road
from packlayout.model.catalogue import CodeLimit
from packlayout.model.layout import Layout, Placement
from packlayout.model.weighed import Suspension
from packlayout.units import G0_M_S2, Measured
from tests.cases import (
    CODE,
    MODULE,
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

SPRINGS = Suspension.model_validate(
    {
        "front": {"spring": {"rate": "60 +/- 3", "motion_ratio": 0.6}, "unsprung": 70},
        "rear": {
            "leaf": {"leaves": 6, "width": 50, "thickness": "5.5 +/- 0.1", "length": 1150},
            "spring_base": 1000,
            "unsprung": 90,
        },
    }
)
EXACT: dict[str, Any] = {
    "wheelbase_mm": Measured(2500.0),
    "track_front_mm": Measured(1250.0),
    "track_rear_mm": Measured(1250.0),
    "weighed": weighed(corners(260, 260, 240, 240)),
    "cg_height": stated(550),
    "removed": (),
}


def sprung(front: object, rear: object, **changed: Any) -> Weighing:
    """The exact car on given springs, nothing placed."""
    springs = Suspension.model_validate({"front": front, "rear": rear})
    return weigh(case(vehicle=vehicle(**{**EXACT, "suspension": springs, **changed})), Layout(()))


# ---------------------------------------------------------------- by hand


def test_lead_over_the_front_axle() -> None:
    # 40 kg over the front axle; the fuel of kerb state leaves, 26.82 kg at 2700 mm
    lead = (ledger_item("lead", 40, (0, 0, 500)),)
    found = sprung({"wheel_rate": 20}, {"wheel_rate": 25}, added=lead)
    fuel_front, fuel_rear = -26.82 * (1 - 2700 / 2500), -26.82 * 2700 / 2500
    after = found.rides[1]
    assert after.state == "converted kerb"
    front, rear = (c.value for c in after.height_change_mm)
    assert front == pytest.approx(-(40 + fuel_front) * 9.80665 / 40)
    assert rear == pytest.approx(-fuel_rear * 9.80665 / 50)
    assert after.pitch_deg.value == pytest.approx(degrees(atan((front - rear) / 2500)))
    assert found.rides[0].height_change_mm == (Measured(0), Measured(0))


def test_what_restores_the_height() -> None:
    lead = (ledger_item("lead", 52, (0, 0, 500)),)
    found = sprung({"wheel_rate": 20, "unsprung": 60}, {"wheel_rate": 25}, added=lead)
    front = found.restores[0]
    load = 520 + 52 - 26.82 * (1 - 2700 / 2500)
    assert front.rate_n_per_mm[0].value == 20
    assert front.rate_n_per_mm[1].value == pytest.approx(20 * (load - 60) / (520 - 60))
    assert front.rate_change_percent.value == pytest.approx(100 * ((load - 60) / 460 - 1))
    assert front.packing_mm.value == pytest.approx(-found.rides[1].height_change_mm[0].value)


def test_the_tolerance_of_a_rate_is_felt() -> None:
    lead = (ledger_item("lead", 40, (0, 0, 500)),)
    found = sprung({"wheel_rate": "20 +/- 2"}, {"wheel_rate": 25}, added=lead).rides[1]
    front, frequency = found.height_change_mm[0], found.frequency_hz[0]
    # as 1/k: a tenth of the rate is a tenth of the travel; as sqrt(k): half that of the frequency
    assert front.tolerance == pytest.approx(abs(front.value) / 10, rel=0.01)
    assert frequency.tolerance == pytest.approx(frequency.value / 20, rel=0.01)


def test_stability_factor() -> None:
    # mean track 1.3 m, half of it over 0.5 m
    assert stability_factor(1250.0, 1350.0, 500.0) == pytest.approx(1.3)


def test_braking_at_one_g() -> None:
    # 1000 kg, 550 mm high on 2500 mm: 220 kg go forward
    found = braked_axle_loads((520.0, 480.0), 550.0, 2500.0, G0_M_S2)
    assert found == pytest.approx((740, 260))


def test_the_deceleration_and_the_gradient_of_the_brief() -> None:
    road = Road(deceleration_m_per_s2=0.5 * G0_M_S2, gradient_percent=10)
    found = weigh(case(vehicle=vehicle(**EXACT), brief=brief(road=road)), Layout(())).road[0]
    assert found.state == "original kerb"
    assert [a.value for a in found.braked_axle_kg] == pytest.approx([630, 370])
    assert found.moved_kg.value == pytest.approx(110)
    assert found.stability_factor.value == pytest.approx(1250 / 1100)
    assert found.hill_adhesion.value == pytest.approx(0.1 * 2500 / (1200 + 0.1 * 550))


def test_limits_on_clearance_and_the_rest() -> None:
    limits = tuple(
        CodeLimit.model_validate({"quantity": q, "sense": s, "value": v, "unit": u, "source": "test"})
        for q, s, v, u in (
            ("ground clearance", "min", 140, "mm"), ("ride height change", "max", 15, "mm"),
            ("static stability factor", "min", 1.0, "1"), ("hill-start adhesion", "max", 0.5, "1"),
            ("payload", "min", 300, "kg"),
        )
    )  # fmt: skip
    code = CODE.model_copy(update={"limits": limits})
    low = Placement("module 1", "module", "bay", (1050.0, -100.0, 170.0), "+z", 0, MODULE.box_size, block=1)
    found = weigh(
        case(vehicle=vehicle(**EXACT, suspension=SPRINGS), design_code=code), Layout((low,)), frame_items()
    )
    checks = {c.id: c for c in found.checks}
    # the lowest edge is that of the module, 170 mm up, half way between the axles
    for ride in found.rides[1:]:
        name = ride.state.replace(" ", "-")
        sunk = sum(c.value for c in ride.height_change_mm) / 2
        assert checks[f"code.ground-clearance.min.{name}"].value == pytest.approx(170 + sunk)
        assert f"code.static-stability-factor.min.{name}" in checks
        assert f"code.hill-start-adhesion.max.{name}" in checks
    greater = max(abs(c.value) for c in found.rides[1].height_change_mm)
    assert checks["code.ride-height-change.max"].value == pytest.approx(greater)
    middle = found.payload[10]
    assert middle.x_mm == 2250
    assert checks["code.payload.min"].value == pytest.approx(middle.allowed_kg.value)


def test_clearance_at_the_front_sinks_with_the_front() -> None:
    limit = CodeLimit(quantity="ground clearance", sense="min", value=140, unit="mm", source="test")
    code = CODE.model_copy(update={"limits": (limit,)})
    low = Placement("module 1", "module", "bay", (300.0, -100.0, 170.0), "+z", 0, MODULE.box_size, block=1)
    found = weigh(case(vehicle=vehicle(**EXACT, suspension=SPRINGS), design_code=code), Layout((low,)))
    front, rear = (c.value for c in found.rides[1].height_change_mm)
    assert abs(front - rear) > 1
    check = next(c for c in found.checks if c.id == "code.ground-clearance.min.converted-kerb")
    # the middle of the module is at x 500, a fifth of the wheelbase
    assert check.value == pytest.approx(170 + 0.8 * front + 0.2 * rear)


def test_with_springs_the_original_still_reads_as_weighed() -> None:
    uneven = {**EXACT, "suspension": SPRINGS, "weighed": weighed(corners(262, 258, 236, 249))}
    found = weigh(case(vehicle=vehicle(**uneven)), layout()).state("original kerb")
    assert [c.value for c in found.corner] == pytest.approx([262, 258, 236, 249])


def test_without_springs_nothing_is_made_up() -> None:
    limit = CodeLimit(quantity="ground clearance", sense="min", value=140, unit="mm", source="x")
    code = CODE.model_copy(update={"limits": (limit,)})
    found = weigh(case(design_code=code), layout())
    assert (found.rides, found.restores) == ((), ())
    (check,) = (c for c in found.checks if c.id.startswith("code."))
    assert (check.verdict, check.note) == (
        "unknown", "no suspension in the vehicle, so how far it sinks is not known",
    )  # fmt: skip


# ---------------------------------------------------------------- reference


def test_wheel_rate_and_frequency() -> None:
    """50 N/mm at a motion ratio of 0.75 is 28.125 N/mm at the wheel; under 350 kg 1.427 Hz.

    Barton and Fieldhouse, Automotive Chassis Engineering, ride of a quarter vehicle.
    """
    assert natural_frequency_hz(np.array(50 * 0.75**2), np.array(350.0)) == pytest.approx(1.427, abs=5e-4)
    half = 350.0
    found = sprung(
        {"spring": {"rate": 50, "motion_ratio": 0.75}}, {"wheel_rate": 25},
        weighed=weighed(corners(half, half, 240, 240)),
        plated=vehicle().plated.model_copy(update={"front_axle_kg": 900.0}),
    )  # fmt: skip
    assert found.rides[0].frequency_hz[0].value == pytest.approx(1.427, abs=5e-4)


def test_ride_height() -> None:
    """936 N more on 35.2 N/mm sink a corner by 26.6 mm: Barton and Fieldhouse."""
    assert height_change_mm(2 * 936 / G0_M_S2, 35.2) == pytest.approx(-26.6, abs=0.02)


def test_leaf_spring() -> None:
    """8 E n b t3 / (3 L3), any machine-design textbook: 206 GPa, 5 leaves 60 x 6 mm, 1200 mm: 20.6 N/mm."""
    assert leaf_rate(206_000, 5, 60.0, 6.0, 1200.0) == pytest.approx(20.6, abs=0.01)
    leaf = {"leaves": 5, "width": 60, "thickness": 6, "length": 1200}
    found = sprung({"wheel_rate": 25}, {"leaf": leaf})
    assert found.restores[1].rate_n_per_mm[0].value == pytest.approx(20.6, abs=0.01)


def test_frequency_from_static_deflection() -> None:
    """A spring that sinks by 250 mm under its load swings at sqrt(g / d) / 2 pi = 0.997 Hz. Value from memory."""
    kg, deflection = np.array(300.0), 0.250
    rate = kg * G0_M_S2 / (1000 * deflection)
    assert natural_frequency_hz(rate, kg) == pytest.approx(0.997, abs=5e-4)
    assert natural_frequency_hz(rate, kg) == pytest.approx(sqrt(G0_M_S2 / deflection) / (2 * pi))


def test_a_truck_that_accelerates_up_a_slope() -> None:
    """Meriam and Kraige, Dynamics, sample problem 6/1: 3220 lb, 10 % slope, 4.84 ft/s2: 1441 and 1763 lb.

    Centre of gravity 24 in above the road and 60 in from either axle. Values from memory; they meet both
    equilibrium conditions of the problem.
    """
    foot = 0.3048
    parked = graded_axle_loads(3220.0, 60.0, 24.0, 120.0, 10.0)
    found = braked_axle_loads(parked, 24.0, 120.0, -4.84 * foot)
    # braking and driving act on the whole weight, not on what presses square on the road
    correction = 3220 / sum(parked)
    moved = (found[0] - parked[0]) * correction
    assert (parked[0] + moved, parked[1] - moved) == pytest.approx((1441, 1763), abs=0.7)


@given(st.floats(500, 2500), st.floats(300, 900), st.floats(2000, 3500), st.floats(2, 50))
def test_the_steepest_slope_by_jazar(x: float, z: float, wheelbase: float, gradient: float) -> None:
    """Tan of the steepest slope held by the rear wheels is a1 mu / (l - mu h): Jazar, equation 2.53."""
    adhesion = hill_adhesion(x, z, wheelbase, gradient)
    assert 100 * x * adhesion / (wheelbase - adhesion * z) == pytest.approx(gradient)


# ---------------------------------------------------------------- invariants

loads = st.floats(100, 1500)


@given(loads, loads, st.floats(300, 900), st.floats(1800, 3500), st.floats(0, 10))
def test_braking_moves_and_loses_nothing(a: float, b: float, z: float, wheelbase: float, d: float) -> None:
    front, rear = braked_axle_loads((a, b), z, wheelbase, d)
    assert front + rear == pytest.approx(a + b)
    assert front >= a


@given(loads, st.floats(0.2, 0.8), st.floats(300, 900), st.floats(1800, 3500), st.floats(1, 50))
def test_a_slope_takes_its_cosine(
    kg: float, share: float, z: float, wheelbase: float, gradient: float
) -> None:
    front, rear = graded_axle_loads(kg, share * wheelbase, z, wheelbase, gradient)
    assert front + rear == pytest.approx(kg / hypot(1, gradient / 100))


rates = st.floats(8, 60)


@given(rates, rates, st.floats(600, 1300), st.floats(10, 150), st.floats(-300, 2600), st.floats(-500, 500))
def test_a_rigid_body_on_four_springs(
    kf: float, kr: float, base: float, kg: float, x: float, y: float
) -> None:
    """What an added mass puts on the four corners, against heave, pitch and roll solved as a linear system."""
    lead = (ledger_item("lead", kg, (x, y, 500)),)
    springs = Suspension.model_validate(
        {"front": {"wheel_rate": kf}, "rear": {"wheel_rate": kr, "spring_base": base}}
    )
    light = {**EXACT, "suspension": springs}
    with_it, without = (
        weigh(case(vehicle=vehicle(**light, added=added)), Layout(())).state("converted kerb").corner
        for added in (lead, ())
    )
    # springs at x, y; loads at the wheels follow from the spring forces by the moment they put on each axle
    at = [(0.0, -625.0, kf), (0.0, 625.0, kf), (2500.0, -base / 2, kr), (2500.0, base / 2, kr)]
    stiffness, load = np.zeros((3, 3)), kg * np.array([1.0, x, y])
    for sx, sy, k in at:
        arm = np.array([1.0, sx, sy])
        stiffness += k * np.outer(arm, arm)
    heave = np.linalg.solve(stiffness, load)
    forces = [k * float(np.array([1.0, sx, sy]) @ heave) for sx, sy, k in at]
    for end, (left, right) in enumerate(((0, 1), (2, 3))):
        total = forces[left] + forces[right]
        moment = forces[right] * at[right][1] + forces[left] * at[left][1]
        gained = [with_it[k].value - without[k].value for k in (left, right)]
        assert gained[0] == pytest.approx(total / 2 - moment / 1250, abs=1e-6 * (1 + kg)), end
        assert gained[1] == pytest.approx(total / 2 + moment / 1250, abs=1e-6 * (1 + kg)), end
    note = weigh(case(vehicle=vehicle(**light)), Layout(())).state("driver").note
    assert "rigid body on four springs" in note


# ---------------------------------------------------------------- refusals


@pytest.mark.parametrize(
    ("front", "said"),
    [
        ({}, "none of them given; allowed: exactly one of"),
        (
            {"wheel_rate": 20, "leaf": {"leaves": 5, "width": 60, "thickness": 6, "length": 1200}},
            "exactly one of",
        ),
        ({"wheel_rate": "20 lb"}, "unknown unit 'lb'"),
        ({"leaf": {"leaves": 0, "width": 60, "thickness": 6, "length": 1200}}, "greater than or equal to 1"),
    ],
)
def test_springs_that_cannot_be(front: object, said: str) -> None:
    with pytest.raises(ValueError, match=said):
        Suspension.model_validate({"front": front, "rear": {"wheel_rate": 20}})
