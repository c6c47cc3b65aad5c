"""What tubes bear: each formula by hand, published buckling figures, and how utilisations behave."""

from math import pi, sqrt

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from packlayout.frame.section import tube_values
from packlayout.frame.strength import Sections, buckling, cross_section, overload, section_class, strength_of
from packlayout.model.loads import PartialFactors
from tests.demo import table
from tests.test_frame_section import rectangular, round_tube, tube

METALS = {m.name: m for m in table("materials").materials}
S235 = strength_of(METALS["S235"], PartialFactors())
S355 = strength_of(METALS["S355"], PartialFactors())
ALU = strength_of(METALS["6082-T6"], PartialFactors())
V = tube_values(tube(40, 3))


def judged(forces, strength=S235, values=V):
    return cross_section(np.array([forces], dtype=float), Sections.of((values,), strength), strength)


# ---------------------------------------------------------------- by hand


def test_each_force_alone_uses_its_own_resistance():
    assert judged((V.area_mm2 * 235, 0, 0, 0, 0, 0)).bending[0] == pytest.approx(1.0)
    assert judged((0, V.area_mm2 / 2 * 235 / sqrt(3), 0, 0, 0, 0)).shear[0] == pytest.approx(1.0)
    assert judged((0, 0, 0, V.torsion_modulus_mm3 * 235 / sqrt(3), 0, 0)).torsion[0] == pytest.approx(1.0)
    assert judged((0, 0, 0, 0, V.plastic_mm3 * 235, 0)).bending[0] == pytest.approx(1.0)
    assert judged((0, 0, 0, 0, 0, -V.plastic_mm3 * 235)).bending[0] == pytest.approx(1.0)


def test_two_moments_are_less_than_their_sum():
    m = V.plastic_mm3 * 235 / 2
    assert judged((0, 0, 0, 0, m, m)).bending[0] == pytest.approx((2 * 0.5**1.66) ** (1 / 1.66))


def test_half_the_axial_resistance_leaves_this_much_moment():
    """(6.39): MN = Mpl (1 - n)/(1 - 0.5 aw), aw = (A - 2 b t)/A = 0.4297 for 40x3."""
    aw = (V.area_mm2 - 2 * 40 * 3) / V.area_mm2
    assert aw == pytest.approx(0.4297, abs=1e-4)
    found = judged((V.area_mm2 * 235 / 2, 0, 0, 0, V.plastic_mm3 * 235 * 0.5 / (1 - 0.5 * aw), 0))
    assert found.bending[0] == pytest.approx(1.0)


def test_shear_beyond_half_weakens_bending():
    shear = 0.75 * V.area_mm2 / 2 * 235 / sqrt(3)
    found = judged((0, 0, shear, 0, V.plastic_mm3 * 235 * 0.75, 0))
    assert found.weaker[0] == pytest.approx(1 - 0.5**2)
    assert found.bending[0] == pytest.approx(1.0)


def test_torsion_and_shear_together():
    """V <= (1 - tau/strength) Vpl, formula 6.28."""
    torque, shear = V.torsion_modulus_mm3 * 235 / sqrt(3) * 0.4, V.area_mm2 / 2 * 235 / sqrt(3) * 0.6
    assert judged((0, shear, 0, torque, 0, 0)).shear[0] == pytest.approx(1.0)


def test_aluminium_is_judged_beside_its_weld_and_elastically():
    assert ALU.yield_mpa == 125
    m = V.elastic_mm3 * 125 / 1.1
    found = judged((V.area_mm2 * 125 / 1.1 * 0.2, 0, 0, 0, 0.5 * m, 0.3 * m), ALU)
    assert found.bending[0] == pytest.approx(1.0)


def test_overload_grows_evenly():
    forces = np.array([[4000.0, 900, 300, 300_000, 700_000, 200_000]])
    own = Sections.of((V,), S235)
    just = overload(forces * 10, own, S235, cross_section(forces * 10, own, S235).worst)
    twice = overload(forces * 20, own, S235, cross_section(forces * 20, own, S235).worst)
    assert twice / just == pytest.approx(2, rel=1e-3)
    assert cross_section(forces * 10 / just, own, S235).worst == pytest.approx(1, abs=1e-3)


def test_a_rectangle_bears_more_along_its_longer_side():
    v = tube_values(rectangular(60, 40, 3))
    along, across = judged((0, 0, 0, 0, 1e6, 0), values=v), judged((0, 0, 0, 0, 0, 1e6), values=v)
    assert along.bending[0] == pytest.approx(1e6 / (v.plastic_mm3 * 235))
    assert across.bending[0] == pytest.approx(1e6 / (v.minor_plastic_mm3 * 235))
    assert judged((0, 0, 1000, 0, 0, 0), values=v).shear[0] == pytest.approx(
        1000 / (v.area_mm2 * 0.6 * 235 / sqrt(3))
    )
    slender = buckling(
        np.array([[1000.0]]),
        np.zeros((1, 1)),
        np.zeros((1, 1)),
        np.array([2000.0]),
        Sections.of((v,), S235),
        S235,
    )
    assert slender.slenderness[1][0, 0] > slender.slenderness[0][0, 0]
    assert slender.sums[1][0, 0] > slender.sums[0][0, 0]


def test_a_round_tube_bears_a_moment_alike_whichever_way():
    v = tube_values(round_tube(48.3, 3))
    straight = judged((0, 0, 0, 0, 5e5, 0), values=v).bending[0]
    assert judged((0, 0, 0, 0, 3e5, 4e5), values=v).bending[0] == pytest.approx(straight)
    # half the axial resistance leaves 1 - 0.5^1.7 of the moment
    half = judged((v.area_mm2 * 235 / 2, 0, 0, 0, 9e5, 0), values=v).bending[0]
    assert half == pytest.approx(1.8 * straight / (1 - 0.5**1.7))
    assert section_class(tube_values(round_tube(60.3, 2)), S355) == 1
    assert section_class(tube_values(round_tube(60.3, 0.7)), S355) == 4


# ---------------------------------------------------------------- reference


def test_classes_of_sections():
    """EN 1993-1-1 table 5.2: 33, 38 and 42 epsilon (values from memory)."""
    assert section_class(tube_values(tube(60, 2)), S235) == 1
    assert section_class(tube_values(tube(60, 2)), S355) == 2
    assert section_class(tube_values(tube(60, 1.5)), S235) == 2
    assert section_class(tube_values(tube(60, 1.2)), S235) == 4


@pytest.mark.parametrize(("slender", "chi"), [(0.5, 0.8430), (1.0, 0.5399), (1.5, 0.3145), (2.0, 0.1962)])
def test_buckling_curve_c(slender, chi):
    """EN 1993-1-1 figure 6.4 and tables made of it, curve c (values from memory)."""
    length = slender * pi * sqrt(210_000 * V.inertia_mm4 / (V.area_mm2 * 235))
    one = np.array([[1000.0]])
    found = buckling(one, 0 * one, 0 * one, np.array([length]), Sections.of((V,), S235), S235)
    assert found.slenderness[0][0, 0] == pytest.approx(slender)
    assert found.chi[0][0, 0] == pytest.approx(chi, abs=2e-4)
    assert found.utilisation[0, 0] == pytest.approx(1000 / (chi * V.area_mm2 * 235), rel=1e-3)


def test_a_slender_strut_bears_less_than_euler_and_approaches_it():
    own, one = Sections.of((V,), S235), np.array([[1000.0]])
    for length, share in ((1500.0, 0.55), (9000.0, 0.92)):
        used = buckling(one, 0 * one, 0 * one, np.array([length]), own, S235).utilisation[0, 0]
        euler = 1000 / (pi**2 * 210_000 * V.inertia_mm4 / length**2)
        assert share < euler / used < 1


# ---------------------------------------------------------------- invariant

FORCE = st.floats(-20_000, 20_000)
MOMENT = st.floats(-9e5, 9e5)


@given(FORCE, FORCE, FORCE, MOMENT, MOMENT, MOMENT, st.floats(1.01, 3))
def test_more_load_is_never_better_and_signs_do_not_matter(n, vy, vz, t, my, mz, factor):
    one, more = judged((n, vy, vz, t, my, mz)), judged(tuple(factor * v for v in (n, vy, vz, t, my, mz)))
    assert more.worst[0] >= one.worst[0] - 1e-12
    assert judged((-n, vy, -vz, -t, my, -mz)).worst[0] == pytest.approx(one.worst[0])
    assert judged((n, vz, vy, t, mz, my)).worst[0] == pytest.approx(one.worst[0])


@given(st.floats(10, 4000))
def test_a_longer_strut_is_never_better(length):
    own, one = Sections.of((V,), S355), np.array([[9000.0]])
    args = (one, 1e5 * one / 9000, 0 * one)
    a = buckling(*args, np.array([length]), own, S355).utilisation[0, 0]
    b = buckling(*args, np.array([length * 1.1]), own, S355).utilisation[0, 0]
    assert b >= a - 1e-12


# ---------------------------------------------------------------- refusal


def test_a_wall_too_thin_for_these_rules_fails():
    thin = tube_values(tube(60, 1.2))
    assert judged((10.0, 0, 0, 0, 0, 0), S235, thin).bending[0] >= 9


def test_aluminium_without_its_heat_affected_zone_is_not_judged():
    bare = METALS["6082-T6"].model_copy(update={"weld_yield_mpa": None})
    assert strength_of(bare, PartialFactors()) is None
