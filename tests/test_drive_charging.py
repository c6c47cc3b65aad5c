"""Charging: what sets its power, and what the cells stand while they are charged."""

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st
from pydantic import ValidationError

from packlayout.drive.charging import Charging, charge_hours, charger_amps, charging
from packlayout.model.brief import Case
from packlayout.model.catalogue import ModuleData, PoweredData
from packlayout.model.layout import Layout
from tests.bays import part
from tests.wiring_tables import MODULE, pack_job

CHARGER = {"min_v": 100, "max_v": 450, "power": 6.6, "efficiency": 100}
CELLS = {"energy": 2.4, "capacity": 54, "min": 33, "nominal": 44, "max": 50, "continuous": 100, "peak": 200}


def charged(
    cells: dict[str, object] | None = None, charger: dict[str, object] | None = None,
    driving: dict[str, object] | None = None, count: int = 8, strings: int = 1,
) -> Charging:  # fmt: skip
    """Modules of 33, 44, 50 V and 54 Ah with one charger; 10 kWh are wanted a day."""
    data = ModuleData.model_validate({**CELLS, **(cells or {})})
    known = {"charger": part("charger", (300, 200, 90), 7, electrical={**CHARGER, **(charger or {})})}
    job: tuple[Case, Layout] = pack_job(
        count, parts=known, module=MODULE.model_copy(update={"electrical": data}), wiring={"strings": strings}
    )
    case, layout = job
    order = case.brief.driving.model_copy(
        update={"supply_kw": 22.0, "plugged_s": 36_000.0, **(driving or {})}
    )
    brief = case.brief.model_copy(update={"driving": order})
    found = charging(replace(case, brief=brief), layout, 16.0, None, 10.0)
    assert found is not None
    return found


def verdicts(found: Charging) -> dict[str, str]:
    return {check.id: check.verdict for check in found.checks}


# ---- by hand


def test_the_charger_sets_the_power() -> None:
    """6.6 kW into 8 modules: 6600 / 264 V = 25 A empty, and 15 A at 440 V; the cells take 0.7 x 54 = 37.8 A."""
    found = charged({"charge_rate": 0.7})
    assert (found.bound, found.battery_kw) == ("charger", pytest.approx(6.6))
    assert found.current_a == pytest.approx(25)
    assert found.cells_a == pytest.approx(37.8)
    assert verdicts(found)["drive.charging.current"] == "pass"


def test_the_chargers_own_bound_on_current() -> None:
    """12 A into 352 V nominal are 4.224 kW of the 6.6."""
    found = charged({"charge": 60}, {"continuous": 12})
    assert found.battery_kw == pytest.approx(12 * 8 * 44 / 1000)
    assert found.current_a == pytest.approx(12)
    assert found.daily_h == pytest.approx(10 / 4.224)


def test_the_socket_sets_the_power() -> None:
    found = charged({"charge_rate": 0.7}, driving={"supply_kw": 2.3})
    assert (found.bound, found.battery_kw) == ("socket", pytest.approx(2.3))


def test_cells_that_take_less_than_the_charger_gives() -> None:
    """0.2 C of 54 Ah are 10.8 A against 25: it fails, and the time is reckoned with 10.8 A at 352 V."""
    found = charged({"charge_rate": 0.2})
    assert (found.bound, found.battery_kw) == ("cells", pytest.approx(10.8 * 352 / 1000))
    assert found.full_h == pytest.approx(charge_hours(16.0, (10, 95), 10.8 * 0.352))
    check = next(c for c in found.checks if c.id == "drive.charging.current")
    assert (check.verdict, check.value, check.limit) == ("fail", pytest.approx(25), pytest.approx(10.8))
    assert check.note == "set the charger to 11 A: charging is reckoned with that"


def test_strings_in_parallel_share_the_current() -> None:
    """Two strings of four take twice 10.8 A, at half the voltage."""
    found = charged({"charge_rate": 0.2}, strings=2)
    assert found.cells_a == pytest.approx(21.6)
    assert found.battery_kw == pytest.approx(21.6 * 176 / 1000)


@pytest.mark.parametrize(("coldest", "verdict"), [(5.0, "pass"), (-8.0, "fail"), (None, "unknown")])
def test_cold(coldest: float | None, verdict: str) -> None:
    found = charged({"charge_rate": 0.7, "lowest_charge": 0}, driving={"coldest_degc": coldest})
    assert verdicts(found)["drive.charging.cold"] == verdict


# ---- invariant


@given(st.floats(0.5, 22), st.floats(5, 60), st.floats(60, 450))
def test_no_charger_gives_more_than_its_power_or_its_current(kw: float, amps: float, volts: float) -> None:
    data = PoweredData.model_validate({"min_v": 50, "max_v": 450, "power": kw, "continuous": amps})
    found = charger_amps(data, volts)
    assert found <= amps
    assert found * volts <= 1000 * kw * (1 + 1e-12)


@given(st.floats(0.05, 2.0))
def test_less_charging_current_never_charges_sooner(rate: float) -> None:
    assert charged({"charge_rate": rate}).full_h >= charged({"charge_rate": 2.0}).full_h - 1e-12


# ---- refusal


def test_what_is_not_stated_is_unknown_not_passed() -> None:
    found = charged()
    check = next(c for c in found.checks if c.id == "drive.charging.current")
    assert (check.verdict, found.cells_a) == ("unknown", None)
    assert "charge or charge_rate is not given in the file of" in check.note
    assert "drive.charging.cold" not in verdicts(found)  # the part names no limit


def test_two_limits_for_one_current_are_refused() -> None:
    with pytest.raises(ValidationError, match=r"charge and charge_rate are both given; allowed: one of them"):
        ModuleData.model_validate({**CELLS, "charge": 50, "charge_rate": 1})
