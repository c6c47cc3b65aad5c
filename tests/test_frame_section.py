"""Section values against the product standard's tables and a finite-element computation."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from packlayout.frame.section import tube_values
from packlayout.model.catalogue import TubeSection
from tests.demo import table


def tube(side, wall):
    """Cold formed: corners of 2 T, EN 10219-2 annex B for T up to 6 mm."""
    return TubeSection(
        name="x",
        side_mm=side,
        wall_mm=wall,
        outer_radius_mm=2 * wall,
        area_mm2=1,
        inertia_mm4=1,
        modulus_mm3=1,
    )


# ---------------------------------------------------------------- by hand


def test_a_tube_with_sharp_corners():
    sharp = tube(40, 3).model_copy(update={"outer_radius_mm": 0.0})
    v = tube_values(sharp)
    assert v.area_mm2 == pytest.approx(40**2 - 34**2)
    assert v.inertia_mm4 == pytest.approx((40**4 - 34**4) / 12)
    assert v.plastic_mm3 == pytest.approx((40**3 - 34**3) / 4)
    # Bredt: 4 Am2 t / s, and the wall's own share s t3 / 3
    assert v.torsion_mm4 == pytest.approx(37**4 * 4 * 3 / (4 * 37) + 4 * 37 * 27 / 3)


# ---------------------------------------------------------------- reference

# EN 10219-2 table B.2: side, wall -> A cm2, I cm4, Wel cm3, Wpl cm3, It cm4, Ct cm3 (values from memory)
PRINTED = {
    (40, 3): (4.21, 9.32, 4.66, 5.72, 15.8, 7.07),
    (50, 3): (5.41, 19.5, 7.79, 9.39, 32.1, 11.8),
    (60, 3): (6.61, 35.1, 11.7, 14.0, 57.1, 17.7),
}


@pytest.mark.parametrize("size", PRINTED)
def test_values_of_the_standard(size):
    v = tube_values(tube(*size))
    found = (
        v.area_mm2 / 1e2, v.inertia_mm4 / 1e4, v.elastic_mm3 / 1e3, v.plastic_mm3 / 1e3, v.torsion_mm4 / 1e4,
        v.torsion_modulus_mm3 / 1e3,
    )  # fmt: skip
    assert found == pytest.approx(PRINTED[size], rel=6e-3)  # three digits are printed


def test_the_stock_table_is_what_the_formulae_give():
    for section in table("tubes").sections:
        v = tube_values(section)
        assert section.area_mm2 == pytest.approx(v.area_mm2, abs=0.06), section.name
        assert section.inertia_mm4 == pytest.approx(v.inertia_mm4, abs=5.1), section.name
        assert section.modulus_mm3 == pytest.approx(v.elastic_mm3, abs=0.6), section.name


@pytest.mark.slow
@pytest.mark.parametrize("size", [(25, 2), (40, 3), (50, 5)])
def test_values_of_a_finite_element_computation(size):
    """Library sectionproperties (MIT licence): warping analysis of the same outline."""
    from sectionproperties.analysis import Section
    from sectionproperties.pre.library import rectangular_hollow_section

    side, wall = size
    outline = rectangular_hollow_section(d=side, b=side, t=wall, r_out=2 * wall, n_r=16)
    outline.create_mesh(mesh_sizes=[wall**2 / 4])
    section = Section(outline)
    section.calculate_geometric_properties()
    section.calculate_warping_properties()
    section.calculate_plastic_properties()
    v = tube_values(tube(side, wall))
    assert section.get_area() == pytest.approx(v.area_mm2, rel=1e-3)
    assert section.get_ic()[0] == pytest.approx(v.inertia_mm4, rel=2e-3)
    assert section.get_z()[0] == pytest.approx(v.elastic_mm3, rel=2e-3)
    assert section.get_s()[0] == pytest.approx(v.plastic_mm3, rel=2e-3)
    # the closed formula is that of a thin wall
    assert section.get_j() == pytest.approx(v.torsion_mm4, rel=0.03)


# ---------------------------------------------------------------- invariant


@given(st.floats(15, 100), st.floats(0.05, 0.12))
def test_a_thicker_wall_is_stronger_and_plastic_exceeds_elastic(side, share):
    thin, thick = tube_values(tube(side, share * side)), tube_values(tube(side, share * side * 1.1))
    assert thin.elastic_mm3 < thin.plastic_mm3 < 1.5 * thin.elastic_mm3
    for name in ("area_mm2", "inertia_mm4", "plastic_mm3", "torsion_mm4"):
        assert getattr(thin, name) < getattr(thick, name)
