"""Quantities as users write them."""

import math
import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from packlayout.units import G0_M_S2, LABEL, Measured, factor, parse

# ---- by hand


@pytest.mark.parametrize(
    ("text", "unit", "value", "tolerance"),
    [
        (612, "mm", 612, 0),
        ("612 +/- 3", "mm", 612, 3),
        ("612 ± 3", "mm", 612, 3),
        ("612±3", "mm", 612, 3),
        ("18.5 in", "mm", 469.9, 0),
        ("18 1/2 in", "mm", 469.9, 0),
        ("7/8 in", "mm", 22.225, 0),
        ("2 ft 3 in", "mm", 685.8, 0),
        ("3 1/4 in ± 1/16 in", "mm", 82.55, 1.5875),
        ("96 in +/- 1/8", "mm", 2438.4, 3.175),  # the bare tolerance is in the value's one unit word
        ("2.3 m +/- 5 mm", "mm", 2300, 5),
        ("-4", "mm", -4, 0),
        ("- 2 in", "mm", -50.8, 0),
        (".5 m", "mm", 500, 0),
        ("1e3", "mm", 1000, 0),
        ("1.5 t", "kg", 1500, 0),
        ("9.5 gal", "l", 43.187855, 0),
        ("1500 W", "kw", 1.5, 0),
        ("45", "deg", 45, 0),
    ],
)
def test_what_a_user_may_write(text: object, unit: str, value: float, tolerance: float) -> None:
    found = parse(text, unit)
    assert found.value == pytest.approx(value, rel=1e-12)
    assert found.tolerance == pytest.approx(tolerance, rel=1e-12)


def test_feet_and_inches_with_a_bare_tolerance_are_in_the_house_unit() -> None:
    assert parse("2 ft 3 in +/- 2", "mm").tolerance == 2


def test_written_out() -> None:
    assert str(Measured(612.0, 3.0)) == "612 +/- 3"
    assert str(Measured(612.0)) == "612"


# ---- reference


@pytest.mark.parametrize(
    ("word", "unit", "size"),
    [
        # exact by the international yard and pound agreement of 1959
        ("in", "mm", 25.4),
        ("ft", "mm", 304.8),
        ("lb", "kg", 0.45359237),
        # UK Weights and Measures Act 1985, schedule 1: hundredweight of 112 lb, gallon of 4.54609 litres
        ("cwt", "kg", 112 * 0.45359237),
        ("st", "kg", 14 * 0.45359237),
        ("gal", "l", 4.54609),
        # 550 ft lbf/s and 75 kgf m/s with the standard acceleration of free fall
        ("hp", "kw", 550 * 0.3048 * 0.45359237 * 9.80665 / 1000),
        ("PS", "kw", 75 * 9.80665 / 1000),
        ("lbf", "n", 0.45359237 * 9.80665),
        ("lbf ft", "nm", 0.3048 * 0.45359237 * 9.80665),
    ],
)
def test_factors(word: str, unit: str, size: float) -> None:
    assert factor(word, unit) == pytest.approx(size, rel=1e-9)


def test_standard_gravity() -> None:
    assert G0_M_S2 == 9.80665  # ISO 80000-3


# ---- invariant


@given(st.sampled_from(sorted(LABEL)), st.floats(-1e9, 1e9))
def test_a_bare_number_is_in_the_house_unit(unit: str, value: float) -> None:
    assert parse(value, unit) == Measured(value)


@given(st.floats(0.001, 1e6), st.sampled_from(["mm", "in", "ft", "m", "yd"]))
def test_text_and_factor_agree(value: float, word: str) -> None:
    assert parse(f"{value!r} {word}", "mm").value == pytest.approx(value * factor(word, "mm"), rel=1e-12)


@given(st.one_of(st.text(max_size=100), st.integers(), st.floats(), st.none(), st.lists(st.integers())))
def test_anything_else_is_refused_with_a_message(found: object) -> None:
    try:
        read = parse(found, "kg")
    except ValueError as error:
        message = str(error)
    else:
        assert math.isfinite(read.value)
        assert 0 <= read.tolerance < math.inf
        return
    assert 0 < len(message) < 500


# ---- refusal


@pytest.mark.parametrize(
    ("found", "unit", "message"),
    [
        ("12 stone", "mm", "unknown unit 'stone'; allowed: mm, cm, m, in"),
        ("2 tons", "kg", "say tonne (1000 kg) or cwt (112 lb)"),
        ("12 furlongs", "mm", "unknown unit 'furlongs'"),
        ("", "mm", "cannot read ''"),
        ("tall", "mm", "cannot read 'tall' as a quantity; allowed: a number in mm, or in quotes"),
        ("1/0 in", "mm", "divides by nought"),
        ("5 +/- 1 +/- 1", "mm", "more than one tolerance"),
        ("5 +/- -1", "mm", "the tolerance in '5 +/- -1' is negative"),
        ("3 in 4", "mm", "cannot read '3 in 4'"),
        (True, "mm", "True is not a quantity"),
        (None, "mm", "None is not a quantity"),
        ([1], "mm", "a list is not a quantity"),
        (math.nan, "mm", "nan is not a finite quantity"),
        (math.inf, "mm", "inf is not a finite quantity"),
        (10**400, "mm", "is not a finite quantity"),
        ("9" * 79, "mm", "is not a finite quantity"),
        ("9" * 90, "mm", "too long for a quantity"),
        ("5 mm", "1", "unknown unit 'mm'; allowed: a bare number"),
    ],
)
def test_refused(found: object, unit: str, message: str) -> None:
    with pytest.raises(ValueError, match=re.escape(message)):
        parse(found, unit)
