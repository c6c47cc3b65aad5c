"""Tolerances, readings held against predictions, the stripped and the finished vehicle on the scales."""

from collections.abc import Mapping
from math import hypot, sqrt
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from packlayout.errors import GeometryError
from packlayout.mass.adjust import Reading, adjust
from packlayout.mass.as_built import as_built
from packlayout.mass.propagate import Inputs, Register, propagate
from packlayout.mass.weigh import weigh
from packlayout.model.geometry import Floats
from packlayout.model.layout import Layout
from packlayout.model.weighed import AsBuilt, Stripped
from packlayout.units import Measured
from tests.cases import axles, case, corners, frame_items, layout, ledger_item, stated, vehicle, weighed

EXACT: dict[str, Any] = {
    "wheelbase_mm": Measured(2500.0),
    "track_front_mm": Measured(1250.0),
    "track_rear_mm": Measured(1250.0),
    "weighed": weighed(corners(260, 260, 240, 240)),
    "cg_height": stated(550),
}


def register(*values: Measured) -> Inputs:
    made = Register()
    for n, value in enumerate(values):
        made.add(f"x{n}", "kg", value)
    return made.inputs()


def stripped(**given: Any) -> Stripped:
    return Stripped.model_validate(given)


# ---------------------------------------------------------------- by hand


def test_tolerances_add_in_quadrature() -> None:
    inputs = register(Measured(3, 0.3), Measured(4, 0.4))
    figures = propagate(lambda x: {"sum": x[0] + x[1], "product": x[0] * x[1]}, inputs)
    assert figures.measured("sum").value == 7
    assert figures.measured("sum").tolerance == pytest.approx(0.5)
    # 4 x 0.3 and 3 x 0.4
    assert figures.measured("product").value == 12
    assert figures.measured("product").tolerance == pytest.approx(1.2 * sqrt(2))


def test_what_is_shared_cancels() -> None:
    inputs = register(Measured(100, 9), Measured(10, 1))
    figures = propagate(lambda x: {"before": x[0], "after": x[0] + x[1], "change": x[1] + 0 * x[0]}, inputs)
    assert figures.measured("after").tolerance == pytest.approx(hypot(9, 1))
    assert figures.measured("change").tolerance == pytest.approx(1)
    # standard deviations are half the tolerances
    assert figures.covariance("before", "after") == pytest.approx(np.array([[81, 81], [81, 82]]) / 4)


def test_two_ways_to_know_one_thing() -> None:
    """100 +/- 2 and a reading of 103 +/- 1: the mean weighted by 1/4 and 1/1, and its tolerance."""
    figures = propagate(lambda x: {"m": x[0]}, register(Measured(100, 2)))
    found = adjust(lambda x: {"m": x[0]}, figures, [Reading("m", "scale", Measured(103, 1))])
    assert found.difference([1]).value == 3
    assert found.difference([1]).tolerance == pytest.approx(sqrt(5))
    after = found.figures.measured("m")
    assert after.value == pytest.approx((100 / 4 + 103) / (1 / 4 + 1))
    assert after.tolerance == pytest.approx(1 / sqrt(1 / 4 + 1))
    catalogue, scale = found.suspects
    assert (catalogue.about, catalogue.share) == ("x0", pytest.approx(0.8))
    assert catalogue.off_by == pytest.approx(2.4)
    assert (scale.about, scale.share) == ("scale reading", pytest.approx(0.2))
    assert scale.off_by == pytest.approx(-0.6)


def test_a_stripped_vehicle_that_adds_up() -> None:
    # 150 kg of engine, 32 of gearbox, 14 of exhaust and 26.82 of fuel leave 777.18
    rear = 480 - (150 * 50 + 32 * 650 + 14 * 1600 + 26.82 * 2700) / 2500
    readings = stripped(axles=axles(f"{777.18 - rear:.2f} +/- 2", f"{rear:.2f} +/- 2"))
    found = weigh(case(vehicle=vehicle(**EXACT, stripped=readings)), layout())
    assert found.stripped is not None
    assert [row.within for row in found.stripped.rows] == [True, True, True]
    assert found.stripped.rows[-1].predicted.value == pytest.approx(777.18)
    assert found.stripped.unlisted is None
    checks = [c for c in found.checks if c.id.startswith("ledger.stripped.")]
    assert [c.verdict for c in checks] == ["pass"] * 3


def test_an_engine_heavier_than_it_was_said_to_be() -> None:
    """20 kg less on the scales than the ledger has it: the engine is out by five of its tolerances."""
    base = vehicle(**EXACT)
    rear = 480 - (150 * 50 + 32 * 650 + 14 * 1600 + 26.82 * 2700) / 2500 - 20 * 50 / 2500
    readings = stripped(axles=axles(f"{757.18 - rear:.2f} +/- 2", f"{rear:.2f} +/- 2"))
    with_it = weigh(case(vehicle=vehicle(**EXACT, stripped=readings)), layout())
    without = weigh(case(vehicle=base), layout())
    assert with_it.stripped is not None
    total = with_it.stripped.rows[-1]
    assert total.difference.value == pytest.approx(-20)
    assert total.difference.tolerance == pytest.approx(sqrt(16 + 4 + 1 + 8))
    assert not total.within
    assert with_it.stripped.suspects[0].about == "engine"
    assert with_it.stripped.unlisted is not None
    assert with_it.stripped.unlisted.mass.value == pytest.approx(-20)
    assert with_it.stripped.unlisted.x.value == pytest.approx(50, abs=1)
    failed = [c.id for c in with_it.checks if c.id.startswith("ledger.") and c.verdict == "fail"]
    assert failed == ["ledger.stripped.front-axle", "ledger.stripped.total"]
    # the total alone, 16 + 4 + 1 of variance against 8, would move it by 20 x 21 / 29; two axles say where, too
    before, after = without.state("converted kerb").mass, with_it.state("converted kerb").mass
    assert 20 * 21 / 29 < before.value - after.value < 20
    assert after.tolerance < before.tolerance


def test_things_aboard_the_stripped_vehicle() -> None:
    trolley = ledger_item("trolley jack", 30, (1250, 0, 500))
    rear = 480 - (150 * 50 + 32 * 650 + 14 * 1600 + 26.82 * 2700) / 2500
    readings = stripped(axles=axles(777.18 - rear + 15, rear + 15), aboard=(trolley,))
    found = weigh(case(vehicle=vehicle(**EXACT, stripped=readings)), layout()).stripped
    assert found is not None
    assert [row.difference.value for row in found.rows] == pytest.approx([0, 0, 0], abs=0.01)


def predicted_corners(state: str) -> list[float]:
    found = weigh(case(vehicle=vehicle(**EXACT)), layout(), frame_items()).state(state)
    return [c.value for c in found.corner]


def built(values: list[float], tolerance: float = 1.0, **more: Any) -> AsBuilt:
    a, b, c, d = (f"{v:.3f} +/- {tolerance}" for v in values)
    return AsBuilt.model_validate({"corners": corners(a, b, c, d), **more})


def test_a_car_that_came_out_as_predicted() -> None:
    made = case(vehicle=vehicle(**EXACT))
    found = as_built(made, layout(), frame_items(), built(predicted_corners("converted kerb")))
    assert [row.name for row in found.rows] == [
        "front left", "front right", "rear left", "rear right", "total",
    ]  # fmt: skip
    assert all(row.within for row in found.rows)
    assert [row.difference.value for row in found.rows] == pytest.approx([0] * 5, abs=0.01)
    assert [c.id for c in found.checks][:2] == ["as-built.front-left", "as-built.front-right"]
    assert found.unlisted is None


def test_an_unlisted_thing_is_found_where_it_is() -> None:
    """A toolbox of 25 kg at x 2000, 400 mm to the right: what the four pads would say, and what is made of it."""
    values = predicted_corners("converted kerb")
    front, rear, lean = 25 * 500 / 2500, 25 * 2000 / 2500, 400 / 1250
    gained = [front * (0.5 - lean), front * (0.5 + lean), rear * (0.5 - lean), rear * (0.5 + lean)]
    readings = built([v + g for v, g in zip(values, gained, strict=True)])
    found = as_built(case(vehicle=vehicle(**EXACT)), layout(), frame_items(), readings)
    assert found.unlisted is not None
    assert found.unlisted.y is not None
    assert found.unlisted.mass.value == pytest.approx(25, abs=0.01)
    assert found.unlisted.x.value == pytest.approx(2000, abs=1)
    assert found.unlisted.y.value == pytest.approx(400, abs=1)
    assert not found.rows[-1].within


def test_how_well_an_unlisted_thing_is_placed() -> None:
    """10 kg more on each axle, pads good for 1 kg: half way, to (1250 / 20) for each of the two."""
    exact = {**EXACT, "removed": ()}
    fuel_front, fuel_rear = 26.82 * (1 - 2700 / 2500), 26.82 * 2700 / 2500
    ticket = axles(f"{530 - fuel_front:.4f} +/- 1", f"{490 - fuel_rear:.4f} +/- 1")
    found = as_built(case(vehicle=vehicle(**exact)), Layout(()), (), AsBuilt(axles=ticket)).unlisted
    assert found is not None
    assert found.y is None
    assert (found.mass.value, found.mass.tolerance) == pytest.approx((20, sqrt(2)), abs=1e-3)
    assert (found.x.value, found.x.tolerance) == pytest.approx((1250, sqrt(2) * 1250 / 20), abs=0.1)


def test_aboard_beyond_the_state_is_allowed_for() -> None:
    values = predicted_corners("driver")
    bag = ledger_item("tool bag", 20, (1250, 0, 600))
    readings = built([v + 5 for v in values], state="driver", aboard=(bag,))
    found = as_built(case(vehicle=vehicle(**EXACT)), layout(), frame_items(), readings)
    assert found.state == "driver"
    # 1250 mm is half the wheelbase, but the fair split leans with the driver: the sum and the axles are exact
    assert found.rows[-1].difference.value == pytest.approx(0, abs=0.01)
    assert all(row.within for row in found.rows)


def test_the_loosest_figure_is_suspected_first() -> None:
    """10 kg too much, spread as the modules are: their catalogue figure of +/- 0.5 kg each is to blame."""
    made = case(vehicle=vehicle(**{**EXACT, "removed": ()}))
    values = [c.value for c in weigh(made, layout()).state("converted kerb").corner]
    # four modules with their centres at x 0 and 410: a mean of 205 mm
    front, rear = 10 * (1 - 205 / 2500), 10 * 205 / 2500
    readings = built(
        [values[0] + front / 2, values[1] + front / 2, values[2] + rear / 2, values[3] + rear / 2]
    )
    found = as_built(made, layout(), (), readings)
    assert found.suspects[0].about == "Module"
    assert found.suspects[0].name == "mass of Module"
    assert found.suspects[0].off_by > 0


# ---------------------------------------------------------------- reference

small = st.floats(-5, 5).map(lambda x: round(x, 3))


@settings(max_examples=40)
@given(st.lists(small, min_size=12, max_size=12), st.lists(small, min_size=2, max_size=2))
def test_against_the_normal_equations(entries: list[float], misfit: list[float]) -> None:
    """The textbook solution (A' R^-1 A + P^-1)^-1 of least squares with prior knowledge, solved densely."""
    a = np.array(entries[:8]).reshape(2, 4)
    b = np.array(entries[8:])
    prior, noise = np.array([1.0, 2.0, 0.5, 3.0]), np.array([0.8, 1.5])
    x0 = np.array([10.0, 20.0, 30.0, 40.0])

    def evaluate(x: Floats) -> Mapping[str, Floats]:
        return {"p": a[0] @ x, "q": a[1] @ x, "other": b @ x}

    figures = propagate(evaluate, register(*(Measured(v, t) for v, t in zip(x0, prior, strict=True))))
    found = [float(v) for v in a @ x0 + np.array(misfit)]
    readings = [Reading(n, n, Measured(v, t)) for n, v, t in zip("pq", found, noise, strict=True)]
    after = adjust(evaluate, figures, readings).figures
    covariance = np.linalg.inv(a.T @ np.diag(1 / noise**2) @ a + np.diag(1 / prior**2))
    x = x0 + covariance @ a.T @ np.diag(1 / noise**2) @ np.array(misfit)
    assert after.inputs.nominal == pytest.approx(x, abs=1e-6)
    assert after.measured("other").value == pytest.approx(b @ x, abs=1e-6)
    assert after.measured("other").tolerance == pytest.approx(sqrt(b @ covariance @ b), rel=1e-6, abs=1e-7)
    # one reading after the other comes to the same
    first = adjust(evaluate, figures, readings[:1]).figures
    both = adjust(evaluate, first, readings[1:]).figures
    assert both.inputs.nominal == pytest.approx(x, abs=1e-6)
    assert both.measured("other").tolerance == pytest.approx(sqrt(b @ covariance @ b), rel=1e-6, abs=1e-7)


# ---------------------------------------------------------------- invariants


@settings(max_examples=20, deadline=None)
@given(st.floats(0.5, 10), st.floats(-15, 15))
def test_a_reading_never_widens_a_tolerance(tolerance: float, off: float) -> None:
    rear = 480 - (150 * 50 + 32 * 650 + 14 * 1600 + 26.82 * 2700) / 2500
    pair = axles(f"{777.18 - rear + off:.2f} +/- {tolerance:.2f}", f"{rear:.2f} +/- {tolerance:.2f}")
    with_it = weigh(case(vehicle=vehicle(stripped=stripped(axles=pair))), layout(), frame_items())
    without = weigh(case(), layout(), frame_items())
    for one, two in zip(with_it.states, without.states, strict=True):
        for a, b in zip((one.mass, *one.axle, *one.corner), (two.mass, *two.axle, *two.corner), strict=True):
            # the readings move the nominal values a little, and the sensitivities with them
            assert a.tolerance <= b.tolerance * 1.01 + 1e-6


def test_pads_read_the_wrong_way_round() -> None:
    a, b, c, d = predicted_corners("driver")
    found = as_built(
        case(vehicle=vehicle(**EXACT)), layout(), frame_items(), built([b, a, c, d], state="driver")
    )
    assert (
        found.note
        == "every corner would be within tolerance if left and right of the front axle were swapped"
    )


# ---------------------------------------------------------------- refusals


def test_pounds_on_the_finished_car() -> None:
    readings = built([2.2046 * v for v in predicted_corners("converted kerb")])
    with pytest.raises(GeometryError) as told:
        as_built(case(vehicle=vehicle(**EXACT)), layout(), frame_items(), readings)
    assert str(told.value) == (
        "as-built: readings of 2062 kg in all: 935 kg were predicted; allowed: 561 to 1496 kg; "
        "likely slip: lb for kg (2062 lb is 935 kg)"
    )


def test_a_stripped_vehicle_read_by_halves() -> None:
    readings = stripped(axles=axles(370, 60))
    with pytest.raises(GeometryError, match=r"ledger\.stripped: readings of 430 kg.*one axle or side read"):
        weigh(case(vehicle=vehicle(stripped=readings)), layout())


@pytest.mark.parametrize("state", ["full load", "original kerb", "holiday"])
def test_a_state_that_cannot_be_held_against_scales(state: str) -> None:
    readings = built([250, 250, 230, 230], state=state)
    with pytest.raises(GeometryError, match="allowed: converted kerb, driver, driver and passenger"):
        as_built(case(), Layout(()), (), readings)
