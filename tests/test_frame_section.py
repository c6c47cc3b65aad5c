"""Section values against the product standard's tables and a finite-element computation."""

from math import pi

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from pydantic import ValidationError

from packlayout.frame.section import outline, tube_values
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


def rectangular(side, width, wall):
    return TubeSection(
        name="x", kind="rectangular", side_mm=side, width_mm=width, wall_mm=wall, outer_radius_mm=2 * wall, area_mm2=1,
        inertia_mm4=1, modulus_mm3=1, minor_inertia_mm4=1, minor_modulus_mm3=1,
    )  # fmt: skip


def round_tube(diameter, wall):
    return TubeSection(
        name="x", kind="round", side_mm=diameter, wall_mm=wall, outer_radius_mm=diameter / 2, area_mm2=1, inertia_mm4=1,
        modulus_mm3=1,
    )  # fmt: skip


# ---------------------------------------------------------------- by hand


def test_a_tube_with_sharp_corners():
    sharp = tube(40, 3).model_copy(update={"outer_radius_mm": 0.0})
    v = tube_values(sharp)
    assert v.area_mm2 == pytest.approx(40**2 - 34**2)
    assert v.inertia_mm4 == pytest.approx((40**4 - 34**4) / 12)
    assert v.plastic_mm3 == pytest.approx((40**3 - 34**3) / 4)
    # Bredt: 4 Am2 t / s, and the wall's own share s t3 / 3
    assert v.torsion_mm4 == pytest.approx(37**4 * 4 * 3 / (4 * 37) + 4 * 37 * 27 / 3)


def test_a_round_tube_is_two_circles():
    v, d, i = tube_values(round_tube(48.3, 3)), 48.3, 42.3
    assert v.area_mm2 == pytest.approx(pi / 4 * (d**2 - i**2))
    assert v.inertia_mm4 == v.minor_inertia_mm4 == pytest.approx(pi / 64 * (d**4 - i**4))
    assert v.plastic_mm3 == pytest.approx((d**3 - i**3) / 6)
    assert v.torsion_mm4 == pytest.approx(pi / 32 * (d**4 - i**4))
    assert v.shear_area_mm2 == pytest.approx(2 * v.area_mm2 / pi)
    assert v.size == "CHS 48.3x3"


def test_a_rectangle_is_stiffer_along_its_longer_side():
    sharp = rectangular(60, 40, 3).model_copy(update={"outer_radius_mm": 0.0})
    v = tube_values(sharp)
    assert v.inertia_mm4 == pytest.approx((40 * 60**3 - 34 * 54**3) / 12)
    assert v.minor_inertia_mm4 == pytest.approx((60 * 40**3 - 54 * 34**3) / 12)
    assert v.shear_area_mm2 / v.minor_shear_area_mm2 == pytest.approx(1.5)
    assert v.size == "RHS 60x40x3"


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


# h, b, t -> A cm2, Iy Iz cm4, Wel,y Wel,z cm3, Wpl,y Wpl,z cm3, It cm4, Ct cm3. Source: table of cold-formed
# rectangular sections after EN 10219:2006 on b2bmetal.eu, "Rectangular structural hollow sections", with corners of 2 t.
RECTANGULAR = {
    (40, 20, 2): (2.14, 4.05, 1.34, 2.02, 1.34, 2.61, 1.60, 3.45, 2.36),
    (40, 20, 3): (3.01, 5.21, 1.68, 2.60, 1.68, 3.50, 2.12, 4.57, 3.00),
    (50, 30, 2): (2.94, 9.54, 4.29, 3.81, 2.86, 4.74, 3.33, 9.77, 4.84),
    (50, 30, 3): (4.21, 12.83, 5.70, 5.13, 3.80, 6.57, 4.58, 13.53, 6.49),
    (50, 30, 4): (5.35, 15.25, 6.69, 6.10, 4.46, 8.05, 5.58, 16.53, 7.71),
    (60, 40, 2): (3.74, 18.41, 9.83, 6.14, 4.92, 7.47, 5.65, 20.70, 8.12),
    (60, 40, 3): (5.41, 25.38, 13.44, 8.46, 6.72, 10.53, 7.94, 29.28, 11.17),
}
# D, T -> A cm2, I cm4, Wel cm3, Wpl cm3. Source: "Circular Hollow Sections - Cold Formed", a maker's tube table published
# on scribd.com (document 338559492).
ROUND = {
    (33.7, 2): (1.99, 2.51, 1.49, 2.01),
    (42.4, 3): (3.71, 7.25, 3.42, 4.67),
    (48.3, 3): (4.27, 11.0, 4.55, 6.17),
    (48.3, 4): (5.57, 13.8, 5.70, 7.87),
    (60.3, 3): (5.40, 22.2, 7.37, 9.86),
}


@pytest.mark.parametrize("size", RECTANGULAR)
def test_rectangular_values_of_the_standard(size):
    v = tube_values(rectangular(*size))
    found = (
        v.area_mm2 / 1e2, v.inertia_mm4 / 1e4, v.minor_inertia_mm4 / 1e4, v.elastic_mm3 / 1e3,
        v.minor_elastic_mm3 / 1e3, v.plastic_mm3 / 1e3, v.minor_plastic_mm3 / 1e3, v.torsion_mm4 / 1e4,
        v.torsion_modulus_mm3 / 1e3,
    )  # fmt: skip
    assert found == pytest.approx(RECTANGULAR[size], rel=6e-3)


@pytest.mark.parametrize("size", ROUND)
def test_round_values_of_the_standard(size):
    v = tube_values(round_tube(*size))
    found = v.area_mm2 / 1e2, v.inertia_mm4 / 1e4, v.elastic_mm3 / 1e3, v.plastic_mm3 / 1e3
    assert found == pytest.approx(ROUND[size], rel=6e-3)


def test_the_stock_table_is_what_the_formulae_give():
    for section in table("tubes").sections:
        v = tube_values(section)
        assert section.area_mm2 == pytest.approx(v.area_mm2, abs=0.06), section.name
        assert section.inertia_mm4 == pytest.approx(v.inertia_mm4, abs=5.1), section.name
        assert section.modulus_mm3 == pytest.approx(v.elastic_mm3, abs=0.6), section.name
        if section.kind == "rectangular":
            assert section.minor_inertia_mm4 == pytest.approx(v.minor_inertia_mm4, abs=5.1), section.name
            assert section.minor_modulus_mm3 == pytest.approx(v.minor_elastic_mm3, abs=0.6), section.name


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


@pytest.mark.slow
@pytest.mark.parametrize("kind", ["rectangular", "round"])
def test_other_shapes_against_a_finite_element_computation(kind):
    """Library sectionproperties (MIT licence): warping analysis of the same outline."""
    from sectionproperties.analysis import Section
    from sectionproperties.pre.library import circular_hollow_section, rectangular_hollow_section

    if kind == "round":
        shape, v = circular_hollow_section(d=48.3, t=3, n=96), tube_values(round_tube(48.3, 3))
    else:
        shape = rectangular_hollow_section(d=60, b=40, t=3, r_out=6, n_r=16)
        v = tube_values(rectangular(60, 40, 3))
    shape.create_mesh(mesh_sizes=[2.0])
    section = Section(shape)
    section.calculate_geometric_properties()
    section.calculate_warping_properties()
    section.calculate_plastic_properties()
    assert section.get_area() == pytest.approx(v.area_mm2, rel=3e-3)
    assert section.get_ic()[:2] == pytest.approx((v.inertia_mm4, v.minor_inertia_mm4), rel=4e-3)
    assert section.get_s()[:2] == pytest.approx((v.plastic_mm3, v.minor_plastic_mm3), rel=4e-3)
    assert section.get_j() == pytest.approx(v.torsion_mm4, rel=0.03)


# ---------------------------------------------------------------- invariant


@pytest.mark.parametrize("section", [tube(40, 3), rectangular(60, 40, 3), round_tube(48.3, 3)])
def test_the_outline_encloses_the_area(section):
    def area(points):
        x, y = points.T
        return float(np.sum(x * np.roll(y, -1) - y * np.roll(x, -1))) / 2

    outer, inner = outline(section, steps=60), outline(section, inner=True, steps=60)
    v = tube_values(section)
    assert area(outer) - area(inner) == pytest.approx(v.area_mm2, rel=2e-3)
    assert outer[:, 0].max() == pytest.approx(section.side_mm / 2)
    assert outer[:, 1].max() == pytest.approx(section.narrow_mm / 2)


@given(st.floats(30, 80), st.floats(0.4, 0.9), st.floats(0.06, 0.1))
def test_a_rectangle_lies_between_two_squares(side, ratio, share):
    width = ratio * side
    wall = share * width
    small, large = tube_values(tube(width, wall)), tube_values(tube(side, wall))
    v = tube_values(rectangular(side, width, wall))
    for name in ("area_mm2", "inertia_mm4", "minor_inertia_mm4", "plastic_mm3", "torsion_mm4"):
        assert getattr(small, name) <= getattr(v, name) * (1 + 1e-9)
        assert getattr(v, name) <= getattr(large, name) * (1 + 1e-9)
    assert v.minor_inertia_mm4 < v.inertia_mm4


@given(st.floats(15, 100), st.floats(0.05, 0.12))
def test_a_thicker_wall_is_stronger_and_plastic_exceeds_elastic(side, share):
    thin, thick = tube_values(tube(side, share * side)), tube_values(tube(side, share * side * 1.1))
    assert thin.elastic_mm3 < thin.plastic_mm3 < 1.5 * thin.elastic_mm3
    for name in ("area_mm2", "inertia_mm4", "plastic_mm3", "torsion_mm4"):
        assert getattr(thin, name) < getattr(thick, name)


# ---------------------------------------------------------------- refusal


@pytest.mark.parametrize(
    ("changed", "words"),
    [
        ({"kind": "rectangular"}, "a rectangular tube lacks figures"),
        ({"width_mm": 20}, "a square tube has no other side"),
        ({"kind": "round"}, "is not that of a round tube; allowed: half the diameter, 20"),
        ({"wall_mm": 20}, "nothing is left inside"),
        (
            {"kind": "rectangular", "width_mm": 50, "minor_inertia_mm4": 1, "minor_modulus_mm3": 1},
            "side larger than",
        ),
    ],
)
def test_a_section_that_contradicts_itself(changed, words):
    with pytest.raises(ValidationError, match=words):
        TubeSection.model_validate({**tube(40, 3).model_dump(), **changed})
