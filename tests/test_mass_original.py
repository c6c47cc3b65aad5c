"""The original vehicle from scale readings and lifts."""

from math import asin, cos, hypot, radians, sin, sqrt, tan

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from packlayout.errors import GeometryError
from packlayout.mass.combine import combine
from packlayout.mass.ledger import base_items
from packlayout.mass.loads import axle_loads
from packlayout.mass.original import cg_height, original_inertia, original_kerb
from packlayout.mass.readings import lifted_height
from packlayout.model.weighed import CgHeight
from packlayout.units import Measured
from tests.cases import axles, case, corners, ledger_item, lift, stated, vehicle, weighed

PADS = corners("262 +/- 2", "258 +/- 2", "241 +/- 2", "239 +/- 2")


def height(*args: float) -> float:
    """`lifted_height` of plain numbers."""
    return float(lifted_height(*(np.array([a]) for a in args))[0])


def lifts(*given: object) -> CgHeight:
    return CgHeight.model_validate({"lifts": given})


# ---------------------------------------------------------------- by hand


def test_four_pads_at_kerb_state() -> None:
    """36 l are 90 % of 40 l: nothing to add."""
    found = combine(original_kerb(case()))
    assert found.mass_kg == 1000
    assert found.cg == pytest.approx((480 * 2.5, (258 + 239 - 262 - 241) / 1000 * 625, 550))


def test_things_aboard_are_taken_off_and_the_tank_is_filled() -> None:
    jack = ledger_item("jack", "10 +/- 0.5", (2500, 0, 550))
    state = weighed(PADS, fuel="16 +/- 2", aboard=(jack,))
    items = original_kerb(case(vehicle=vehicle(weighed=state)))
    off, fuel = items[4:]
    assert off.mass == Measured(-10, 0.5)
    assert fuel.mass.value == pytest.approx(20 * 0.745)
    assert fuel.mass.tolerance == pytest.approx(2 * 0.745)
    assert combine(items).mass_kg == pytest.approx(1000 - 10 + 14.9)


def test_a_weighbridge_knows_no_sides() -> None:
    state = weighed(ticket=axles("520 +/- 5", "480 +/- 5"))
    items = original_kerb(case(vehicle=vehicle(weighed=state)))
    assert [i.mass.value for i in items[:4]] == [260, 260, 240, 240]
    # half the axle's own 5 kg, and 2 % of the axle from side to side
    assert items[0].mass.tolerance == pytest.approx(hypot(2.5, 10.4))
    assert items[0].mass.tolerance > original_kerb(case())[0].mass.tolerance


def test_the_mean_of_two_lifts() -> None:
    # 250 mm over the hubs, raised by 700 of 2500 mm: 1000 x 250 / 2500 x tan(16.26 deg) = 29.17 kg
    pair = lifts(lift("rear", 700, 520, 549.17, 290), lift("front", 700, 480, 507.17, 310))
    c = case(vehicle=vehicle(cg_height=pair))
    one = 290 + 2500 * 29.17 / 1000 * sqrt(1 - 0.28**2) / 0.28
    two = 310 + 2500 * 27.17 / 1000 * sqrt(1 - 0.28**2) / 0.28
    assert one == pytest.approx(540, abs=0.1)
    assert cg_height(c).value == pytest.approx((one + two) / 2)


def test_the_tolerance_of_a_lift() -> None:
    # only the raised reading is out: 2500 / 1000 x cot = 8.571 mm for each kg
    c = case(vehicle=vehicle(weighed=weighed(corners(260, 260, 240, 240)), wheelbase_mm=Measured(2500.0),
             cg_height=lifts(lift("rear", 700, 520, "549 +/- 2"))))  # fmt: skip
    assert cg_height(c).tolerance == pytest.approx(2 * 8.5714, rel=1e-4)


def test_loose_springs_widen_the_tolerance() -> None:
    blocked, loose = (
        cg_height(case(vehicle=vehicle(cg_height=lifts(lift("rear", 700, 520, 549, blocked=b)))))
        for b in (True, False)
    )
    assert blocked.value == loose.value
    assert loose.tolerance == pytest.approx(hypot(blocked.tolerance, 25))


def test_a_very_light_car_keeps_half_the_inertia_of_its_box() -> None:
    # body of 4.0 x 1.6 x 1.4 m; at 500 kg the regression of the yaw inertia is below nought
    found = original_inertia(case(), np.array([500.0]), np.ones((3, 1)))[:, 0]
    assert found[2] == pytest.approx(500 * (4.0**2 + 1.6**2) / 24)


# ---------------------------------------------------------------- reference


def test_the_formula_on_a_published_evaluation() -> None:
    """A worked evaluation, 37.6153671776983 m: formuladen.com, formula 32033.

    "Height of center of gravity of vehicle by method of jacking vehicle from rear": front wheels of 11 in and
    rear wheels of 15 in loaded radius, CG 30 in before the rear axle and 27 in behind the front one, wheelbase
    2.7 m, 55 kg, 150 kg on the front with the rear raised, 10 degrees. No vehicle has such figures, but each
    term of the formula is in them.
    """
    inch, wheelbase = 25.4, 2700.0
    radius = 11 * inch * (30 * inch / wheelbase) + 15 * inch * (27 * inch / wheelbase)
    level = 55 * 30 * inch / wheelbase
    found = height(level, 150, 55, wheelbase, wheelbase * sin(radians(10)), radius)
    assert found / 1000 == pytest.approx(37.6153671776983, rel=1e-12)


def test_a_published_exercise_level() -> None:
    """Exercise "determine the centre of gravity of a car": askfilo.com, question 3430373733313132.

    Pads of 290, 330, 210 and 220 kg on 2550 mm of wheelbase and 1800 mm of track put the CG 0.2307 m before
    and 0.900 x 50 / 1050 m to the right of the geometric centre.
    """
    c = case(
        vehicle=vehicle(
            wheelbase_mm=Measured(2550.0),
            track_front_mm=Measured(1800.0),
            track_rear_mm=Measured(1800.0),
            weighed=weighed(corners(290, 330, 210, 220)),
        )
    )
    found = combine(original_kerb(c))
    assert 2550 / 2 - found.cg[0] == pytest.approx(230.7, abs=0.05)
    assert found.cg[1] == pytest.approx(42.86, abs=0.01)


def test_a_published_exercise_lifted() -> None:
    """The readings of that exercise, reckoned by another published way.

    Front axle raised by 1.5 m: 680 kg on the rear axle, loaded radius 353 mm. A van maker's body builders'
    guide (Crafter, section 3.5, equations 1 to 10) works with the wheelbase as it looks from above after the
    lift, and with the shift of the line of gravity along the body.
    """
    total, wheelbase, front, rear, raised, lift_mm = 1050.0, 2550.0, 620.0, 430.0, 680.0, 1500.0
    # from the axle that stays on the ground
    x1 = front * wheelbase / total
    shortened = sqrt(wheelbase**2 - lift_mm**2)
    x2 = (total - raised) * shortened / total
    u = lift_mm * x2 / shortened
    y = x1 - sqrt(u**2 + x2**2)
    guide = y / tan(asin(lift_mm / wheelbase))
    assert height(rear, raised, total, wheelbase, lift_mm, 353.0) - 353 == pytest.approx(guide, rel=1e-9)


def test_regressions_stand_as_published() -> None:
    """Ixx 0.497 m - 181.4, Iyy 3.079 m - 1728.8, Izz 3.176 m - 1754.2: 73 cars of SAE 1999-01-1336."""
    found = original_inertia(case(), np.array([1310.0]), np.ones((3, 1)))[:, 0]
    assert found == pytest.approx([469.67, 2304.69, 2406.36])


# ---------------------------------------------------------------- invariants


@given(
    st.floats(200, 1200),
    st.floats(0.35, 0.65),
    st.floats(1800, 3500),
    st.floats(0.06, 0.4),
    st.floats(240, 380),
)
def test_a_tilted_rigid_body_gives_its_height_back(
    h: float, share: float, wheelbase: float, lift: float, r: float
) -> None:
    """Readings made by turning a rigid body about the hubs of the axle on the ground, moments in the turned picture."""
    total, up = 1000.0, lift * wheelbase
    theta = asin(up / wheelbase)
    ahead = (1 - share) * wheelbase  # level distance from the axle on the ground to the centre of gravity
    # the raised end lifts the body: its centre of gravity moves towards the axle on the ground
    line_of_gravity = ahead * cos(theta) - (h - r) * sin(theta)
    lifted = total * (1 - line_of_gravity / (wheelbase * cos(theta)))
    level = total * (1 - ahead / wheelbase)
    assert height(level, lifted, total, wheelbase, up, r) == pytest.approx(h, abs=1e-6)


pad = st.floats(150, 350)


@given(pad, pad, pad, pad)
def test_the_corners_are_the_vehicle(a: float, b: float, c: float, d: float) -> None:
    front, rear = a + b, c + d
    twisted = abs((b - a) / front - (d - c) / rear) > 0.3 or abs(b + d - a - c) / (front + rear) > 0.25
    made = case(vehicle=vehicle(weighed=weighed(corners(a, b, c, d)), plated=vehicle().plated.model_copy(
        update={"gross_kg": 2000.0, "front_axle_kg": 1200.0, "rear_axle_kg": 1200.0})))  # fmt: skip
    if twisted:
        with pytest.raises(GeometryError):
            original_kerb(made)
        return
    found = combine(original_kerb(made))
    assert axle_loads(found.mass_kg, found.cg[0], 2500.0) == pytest.approx((front, rear))


# ---------------------------------------------------------------- refusals


def test_pounds_for_kilograms() -> None:
    pads = corners(578, 569, 531, 527)
    with pytest.raises(GeometryError) as told:
        original_kerb(case(vehicle=vehicle(weighed=weighed(pads))))
    assert str(told.value) == (
        "weighed.corners: a kerb mass of 2205 kg: no payload at all on a plated gross mass of 1450 kg; "
        "allowed: less than 1450 kg; likely slip: lb for kg (2205 lb is 1000 kg)"
    )


@pytest.mark.parametrize(
    ("changed", "said"),
    [
        ({"weighed": weighed(corners(390, 380, 365, 360))}, "likely slip: laden for kerb: name what"),
        ({"weighed": weighed(corners(100, 90, 80, 80))}, "a kerb mass of 350 kg.*slip: kg written as lb"),
        ({"weighed": weighed(PADS, fuel=55)}, "weighed.fuel: 55 l: more than the tank of 40 l holds"),
        ({"weighed": weighed(corners(330, 190, 190, 290))}, "left and right swapped on one axle"),
        ({"weighed": weighed(corners(350, 170, 320, 160))}, "left wheels would carry 34 % of the mass more"),
        ({"weighed": weighed(corners(390, 390, 110, 110))}, "likely slip: front and rear swapped"),
        (
            {"weighed": weighed(PADS, aboard=(ledger_item("sandbags", 560, (100, 0, 500)),))},
            "outside the wheelbase; allowed: 0 to 2500 mm; likely slip: a thing in weighed.aboard in lb",
        ),
        (
            {
                "weighed": weighed(corners(282, 278, 221, 219)),
                "cg_height": lifts(lift("front", 700, 560, 589)),
            },
            "560 kg under the rear axle: the weighing put 440 kg there; .*wrong axle named: the rear one was",
        ),
        ({"cg_height": lifts(lift("rear", 700, 1146, 1211))}, "cg_height.lifts.0.level: .*slip: lb for kg"),
        ({"cg_height": lifts(lift("rear", 700, 400, 430))}, "the lift was done in another state"),
        (
            {"cg_height": lifts(lift("rear", 700, 549, 490))},
            "centre of gravity -206 mm above the ground; allowed: 200 to 1500 mm; likely slip: level and lifted",
        ),
        ({"cg_height": lifts(lift("rear", 1400, 520, 549))}, "more than half the wheelbase of 2500 mm"),
    ],
)  # fmt: skip
def test_impossible_readings(changed: dict[str, object], said: str) -> None:
    with pytest.raises(GeometryError, match=said):
        original_kerb(case(vehicle=vehicle(**changed)))


def test_more_removed_than_there_was() -> None:
    engine = ledger_item("engine", 640, (50, 0, 600))
    with pytest.raises(GeometryError) as told:
        base_items(case(vehicle=vehicle(removed=(engine,), cg_height=stated(550))))
    assert str(told.value) == (
        "removed: 1 items of 640 kg in all, the heaviest engine of 640 kg: they would leave -105 kg on the "
        "front axle; allowed: more than 0 kg; likely slip: lb for kg, or a wrong x"
    )
