"""The sum of masses, axle and corner loads."""

from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from packlayout.errors import GeometryError
from packlayout.mass.combine import combine
from packlayout.mass.loads import axle_loads, corner_loads, cross_moment
from packlayout.model.geometry import MassItem, Vec, exact_point
from packlayout.units import Measured


def item(kg: float, at: Vec, size: Vec | None = None) -> MassItem:
    return MassItem("thing", Measured(kg), exact_point(at), "added", size)


masses = st.floats(0.1, 500)
places = st.tuples(*[st.floats(-3000, 5000)] * 3)
sizes = st.none() | st.tuples(*[st.floats(1, 2000)] * 3)
items = st.lists(st.builds(item, masses, places, sizes), min_size=1)

# ---------------------------------------------------------------- by hand


def test_two_points() -> None:
    found = combine([item(10, (0, 0, 100)), item(30, (1000, 0, 500))])
    assert found.mass_kg == 40
    assert found.cg == pytest.approx((750, 0, 400))
    # m1 m2 / (m1 + m2) d2 = 7.5 kg; d2 in the plane across each axis: 0.16, 1.16 and 1.00 m2
    assert found.inertia_kg_m2 == pytest.approx((1.2, 8.7, 7.5))


def test_corner_loads_of_a_mass_off_the_middle() -> None:
    # 1000 kg, 125 mm to the right on tracks of 1250 mm: a tenth of each axle's load goes over
    front, rear = axle_loads(1000.0, 1000.0, 2500.0)
    assert (front, rear) == (600, 400)
    assert corner_loads((front, rear), 125.0, (1250.0, 1250.0), 0.0) == pytest.approx((240, 360, 160, 240))


def test_a_twisted_car_keeps_its_twist() -> None:
    # 10 kg more on the front right and rear left pads: 5 kg from left to right on each axle
    pads = (295.0, 305.0, 205.0, 195.0)
    assert cross_moment(pads, (1250.0, 1250.0)) == pytest.approx(5 * 1250)
    y = (305 + 195 - 295 - 205) / 1000 * 625
    loads = corner_loads((600.0, 400.0), y, (1250.0, 1250.0), cross_moment(pads, (1250.0, 1250.0)))
    assert loads == pytest.approx(pads)


# ---------------------------------------------------------------- reference


def test_box_inertia() -> None:
    """A car-sized box of 1100 kg; Jazar, Vehicle Dynamics, example on the mass moments of a car as a box."""
    found = combine([item(1100, (1234, 5, 600), (4300, 1700, 1470))]).inertia_kg_m2
    assert found == pytest.approx((463.0, 1893.0, 1959.8), abs=0.06)


def test_rod_about_its_end() -> None:
    """About the end of a rod m L2/3: its own m L2/12 and m (L/2)2; any textbook. Value from memory."""
    rod = item(12, (1000, 0, 0), (2000, 1e-3, 1e-3))
    # a heavy point holds the centre of gravity at the end
    anchor = item(1e12, (0, 0, 0))
    assert combine([rod, anchor]).inertia_kg_m2[2] == pytest.approx(12 * 2.0**2 / 3, rel=1e-3)


def test_jazar_axle_loads() -> None:
    """Jazar, Vehicle Dynamics, chapter 2, car on level pavement.

    Wheel loads of 2000 N front and 1800 N rear on 2.34 m put the CG 1.1084 m behind the front axle and
    1.2316 m before the rear one.
    """
    total, wheelbase = 2 * (2000.0 + 1800.0), 2340.0
    assert axle_loads(total, 1108.4, wheelbase) == pytest.approx((4000, 3600), abs=0.2)
    assert axle_loads(total, wheelbase - 1231.6, wheelbase) == pytest.approx((4000, 3600), abs=0.2)


# ---------------------------------------------------------------- invariants


@given(items, st.randoms())
def test_order_is_irrelevant(things: list[MassItem], random: object) -> None:
    mixed = list(things)
    random.shuffle(mixed)  # type: ignore[attr-defined]
    a, b = combine(things), combine(mixed)
    assert a.mass_kg == pytest.approx(b.mass_kg)
    assert a.cg == pytest.approx(b.cg, abs=1e-6)
    assert a.inertia_kg_m2 == pytest.approx(b.inertia_kg_m2, rel=1e-6, abs=1e-4)


@given(items, masses, places)
def test_removing_and_adding_back_changes_nothing(things: list[MassItem], kg: float, at: Vec) -> None:
    a, b = combine(things), combine([*things, item(kg, at), item(-kg, at)])
    assert a.mass_kg == pytest.approx(b.mass_kg, abs=1e-9)
    # a light rest of heavy comings and goings keeps their rounding
    rounding = 1e-9 * (1 + kg / a.mass_kg)
    assert a.cg == pytest.approx(b.cg, abs=1e4 * rounding)
    assert a.inertia_kg_m2 == pytest.approx(b.inertia_kg_m2, rel=1e-6, abs=1e-3)


@given(items)
def test_inertia_is_that_of_a_body(things: list[MassItem]) -> None:
    """No moment of inertia is negative or above the sum of the other two."""
    x, y, z = combine(things).inertia_kg_m2
    for a, b, c in ((x, y, z), (y, z, x), (z, x, y)):
        assert a >= -1e-6
        assert a <= b + c + 1e-6 * (1 + b + c)


@given(masses, st.floats(-500, 4000), st.floats(1500, 4000), st.floats(1, 500))
def test_moving_one_mass_moves_the_axle_load(kg: float, x: float, wheelbase: float, by: float) -> None:
    rest = item(1000, (1200, 0, 500))
    loads = []
    for place in (x, x + by):
        whole = combine([rest, item(kg, (place, 0, 500))])
        loads.append(axle_loads(whole.mass_kg, whole.cg[0], wheelbase)[1])
    assert loads[1] - loads[0] == pytest.approx(kg * by / wheelbase, abs=1e-7)


loads = st.floats(50, 2000)


@given(loads, loads, st.floats(-200, 200), st.floats(1000, 2000), st.floats(1000, 2000), st.floats(-1e5, 1e5))
def test_corners_hold_the_vehicle(a: float, b: float, y: float, tf: float, tr: float, cross: float) -> None:
    """Sum, axle loads and the moment about the centre plane come out whatever the twist."""
    fl, fr, rl, rr = corner_loads((a, b), y, (tf, tr), cross)
    assert fl + fr == pytest.approx(a)
    assert rl + rr == pytest.approx(b)
    assert (fr - fl) * tf / 2 + (rr - rl) * tr / 2 == pytest.approx((a + b) * y, abs=1e-6 * (a + b))
    assert cross_moment((fl, fr, rl, rr), (tf, tr)) == pytest.approx(cross, abs=1e-4)


def test_arrays_give_what_floats_give() -> None:
    mass, x, wheelbase = np.array([900.0, 1100.0]), np.array([1100.0, 1300.0]), np.array([2400.0, 2600.0])
    both = axle_loads(mass, x, wheelbase)
    for k in range(2):
        single = axle_loads(float(mass[k]), float(x[k]), float(wheelbase[k]))
        assert (both[0][k], both[1][k]) == pytest.approx(single)
    assert all(p != q for p, q in pairwise(both[1]))


# ---------------------------------------------------------------- refusals


@pytest.mark.parametrize(
    ("things", "said"),
    [
        ([], "the total mass of no items is 0.0 kg; allowed: more than 0 kg"),
        ([item(5, (0, 0, 0)), item(-8, (0, 0, 0))], "the total mass of 2 items is -3.0 kg"),
    ],
)
def test_no_mass_is_refused(things: list[MassItem], said: str) -> None:
    with pytest.raises(GeometryError, match=said):
        combine(things)
