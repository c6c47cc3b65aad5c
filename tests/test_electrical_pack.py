"""The pack, the order of its string, and what protects it."""

from itertools import pairwise, permutations
from math import exp, log

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from packlayout.electrical.copper import (
    adiabatic_k,
    ampacity,
    drop,
    resistance_at,
    smallest,
    withstand_a2s,
)
from packlayout.electrical.pack import OVERVOLTAGE, check_pack, pack_of
from packlayout.electrical.protection import (
    choose_fuse,
    discharge_time,
    precharge_time,
    protect,
    stock_resistor,
)
from packlayout.electrical.string import _exact, _improved, _length
from packlayout.errors import GeometryError
from packlayout.model.check import Check
from tests.bays import part
from tests.wiring_tables import MODULE, pack_job, tables

MOTOR = part("motor", (300, 270, 270), 46)  # 25 and 50 kW, 100 to 450 V


def checks(found: tuple[Check, ...]) -> dict[str, Check]:
    return {check.id: check for check in found}


# ---- by hand


def test_eight_in_series() -> None:
    case, layout = pack_job(8, parts={"motor": MOTOR})
    pack = pack_of(case, layout)
    assert (pack.series, pack.strings) == (8, 1)
    assert (pack.min_v, pack.nominal_v, pack.max_v) == (264, 352, 400)
    assert pack.energy_kwh.value == pytest.approx(19.2)
    assert pack.usable_kwh.value == pytest.approx(19.2 * 0.85)  # 10 to 95 %
    assert (pack.continuous_a, pack.peak_a) == (100, 200)
    assert pack.demand_continuous_a == pytest.approx(25_000 / 0.88 / 352)
    assert pack.demand_peak_a == pytest.approx(50_000 / 0.88 / 264)  # 215 A
    found = checks(check_pack(case, layout, pack))
    assert found["electrical.current.continuous"].verdict == "pass"
    assert found["electrical.current.peak"].verdict == "fail"
    assert "200 A" in found["electrical.current.peak"].note


def test_two_strings_halve_the_voltage_and_double_the_current() -> None:
    case, layout = pack_job(8, wiring={"strings": 2})
    pack = pack_of(case, layout)
    assert (pack.series, pack.max_v, pack.capacity_ah, pack.peak_a) == (4, 200, 108, 400)
    assert pack.energy_kwh.value == pytest.approx(19.2)
    assert [len(string) for string in pack.order.strings] == [4, 4]
    assert len({name for string in pack.order.strings for name in string}) == 8


def test_the_string_runs_along_the_row_and_the_disconnect_is_in_its_middle() -> None:
    case, layout = pack_job(6)
    order = pack_of(case, layout).order
    names = [f"module {n}" for n in range(1, 7)]
    assert list(order.strings[0]) in (names, names[::-1])
    # terminals are 95 mm apart, modules 177: the way round with 82 mm busbars is the shorter one
    assert [bar.length_mm for bar in order.busbars] == pytest.approx([82.0] * 5)
    assert set(order.disconnect) == {"module 3", "module 4"}
    # unlike terminals side by side are at one potential; like ones, 177 mm apart, differ by one module
    assert order.adjacent_v == 50
    assert order.halves_v == (150, 150)


def test_precharge_and_discharge_of_a_small_bus() -> None:
    controller = part("controller", (380, 260, 130), 11,
                      electrical={"min_v": 100, "max_v": 450, "capacitance": 600})  # fmt: skip
    box = part("junction box", (300, 200, 120), 6,
               electrical={"min_v": 100, "max_v": 450, "continuous": 200, "peak": 400, "precharge": 100,
                           "discharge": 22_000})  # fmt: skip
    case, layout = pack_job(8, parts={"motor": MOTOR, "controller": controller, "box": box},
                            wiring={"insulation_alarm": 150_000})  # fmt: skip
    pack = pack_of(case, layout)
    made = protect(case, layout, pack)
    assert made.precharge is not None
    assert made.precharge.time_s == pytest.approx(0.06 * log(20))  # RC = 60 ms, to 95 %
    assert made.precharge.energy_j == pytest.approx(48)  # 600 uF, 400 V
    assert made.precharge.peak_w == pytest.approx(1600)
    assert made.discharge_s == pytest.approx(13.2 * log(400 / 60))
    assert made.insulation_ohm == 200_000
    found = checks(made.checks)
    assert found["electrical.precharge.time"].verdict == "pass"
    assert found["electrical.insulation"].verdict == "fail"  # 150 of 200 kohm
    assert found["electrical.fuse.breaking"].verdict == "unknown"  # the module's resistance is not given
    assert made.fuse is not None
    assert made.fuse.rating_a == 125  # 80.7 A x 1.25 = 100.9; 215 / 2 = 107.6


def test_a_resistor_is_chosen_where_none_is_fitted() -> None:
    assert stock_resistor((1.0, 2.2, 4.7), 417) == 220
    assert stock_resistor((1.0, 2.2, 4.7), 470) == pytest.approx(470)


# ---- reference


@pytest.mark.parametrize(
    ("initial", "final", "k"),
    [(70, 160, 115), (90, 250, 143), (60, 200, 141), (85, 220, 134), (180, 350, 132)],
)
def test_adiabatic_k_of_copper(initial: float, final: float, k: float) -> None:
    """IEC 60364-5-54 tables A.54.2 to A.54.6, rounded there to whole numbers."""
    assert adiabatic_k(initial, final) == pytest.approx(k, abs=0.6)


def test_resistance_of_50_mm2_class_5_at_90_degrees() -> None:
    """IEC 60228 table 3 gives 0.386 ohm/km at 20 C; R_t = R_20 (234.5 + t) / 254.5."""
    table = tables().cables
    assert table is not None
    size = next(row for row in table.sizes if row.area_mm2 == 50)
    assert size.resistance_ohm_per_km == 0.386
    assert resistance_at(0.386, 90) == pytest.approx(0.4922, abs=5e-5)


def test_cable_table_holds_the_published_resistances() -> None:
    """IEC 60228 table 3, class 5, plain copper, ohm/km at 20 C."""
    table = tables().cables
    assert table is not None
    published = {1.5: 13.3, 2.5: 7.98, 4: 4.95, 6: 3.30, 10: 1.91, 16: 1.21, 25: 0.780, 35: 0.554, 50: 0.386,
                 70: 0.272, 95: 0.206}  # fmt: skip
    assert {row.area_mm2: row.resistance_ohm_per_km for row in table.sizes} == published


@pytest.mark.parametrize(
    ("area", "row"),
    [(25, (135, 123, 117, 110, 103)), (35, (169, 154, 147, 139, 128)), (50, (207, 188, 180, 170, 157)),
     (70, (268, 244, 233, 220, 204)), (95, (328, 298, 285, 269, 249))],
)  # fmt: skip
def test_ampacity_over_air_temperature(area: float, row: tuple[int, ...]) -> None:
    """IEC 60364-5-52 method F at 30, 40, 45, 50 and 55 C, conductor 90 C, as a compressor manual prints it.

    The standard's factors are rounded to two figures: within 1 %.
    """
    table = tables().cables
    assert table is not None
    size = next(s for s in table.sizes if s.area_mm2 == area)
    for ambient, amps in zip((30, 40, 45, 50, 55), row, strict=True):
        assert ampacity(table, size, ambient) == pytest.approx(amps, rel=0.01)


def test_adiabatic_equation_example() -> None:
    """S = sqrt(I2 t) / k: 1000 A for 1 s needs 7.0 mm2 at k = 143 (worked from IEC 60364-5-54 clause 543.1.2)."""
    table = tables().cables
    assert table is not None
    sizes = [s.area_mm2 for s in table.sizes if withstand_a2s(table, s) >= 1000.0**2]
    assert min(sizes) == 10  # the next size above 7.0 mm2
    assert 1000 / adiabatic_k(90, 250) == pytest.approx(7.0, abs=0.02)


# ---- invariant


@given(st.floats(1, 1e4), st.floats(10, 1e4), st.floats(0.5, 0.999))
def test_precharge_closed_form(resistor: float, capacitance: float, share: float) -> None:
    time = precharge_time(resistor, capacitance, share)
    assert 1 - exp(-time / (resistor * capacitance * 1e-6)) == pytest.approx(share)


@given(st.floats(100, 1e5), st.floats(10, 1e4), st.floats(61, 900))
def test_discharge_closed_form(resistor: float, capacitance: float, volts: float) -> None:
    time = discharge_time(resistor, capacitance, volts, 60)
    assert volts * exp(-time / (resistor * capacitance * 1e-6)) == pytest.approx(60)


@settings(max_examples=30, deadline=None)
@given(st.integers(2, 6), st.integers(0, 10_000))
def test_the_exact_string_is_the_shortest(count: int, seed: int) -> None:
    cost = np.random.default_rng(seed).uniform(10, 400, (count, count))
    shortest = min(sum(cost[a, b] for a, b in pairwise(path)) for path in permutations(range(count)))
    assert min(_length(path, cost) for path in _exact(cost)) == pytest.approx(shortest)
    assert sorted(_improved(cost)) == list(range(count))


@settings(max_examples=60, deadline=None)
@given(st.floats(1, 250), st.floats(0, 80))
def test_the_fuse_protects_the_cable_and_bears_the_load(load: float, ambient: float) -> None:
    case, _ = pack_job(2)
    fuse = choose_fuse(case, load, 1.5 * load, 450)
    table = tables().cables
    assert table is not None
    if fuse is None:
        assert 1.25 * load > 315
        return
    size = smallest(table, ambient, load, fuse.rating_a, fuse.clearing_a2s)
    if size is not None:
        assert load <= fuse.rating_a <= ampacity(table, size, ambient)  # IB <= In <= Iz
        assert fuse.clearing_a2s <= withstand_a2s(table, size)


@given(st.floats(1, 500), st.floats(1, 10_000))
def test_drop_is_ohm(current: float, length: float) -> None:
    table = tables().cables
    assert table is not None
    ohms = 0.78 / 1e6 * length  # 25 mm2 at 20 C
    assert drop(table.sizes[6], length, current, 20) == pytest.approx(ohms * current)


# ---- refusal


def test_overvoltage_is_told_first_and_in_plain_words() -> None:
    charger = part("charger", (330, 230, 95), 7, electrical={"min_v": 100, "max_v": 390, "power": 3.3})
    case, layout = pack_job(8, parts={"charger": charger})
    found = check_pack(case, layout, pack_of(case, layout))
    assert found[0].id == f"{OVERVOLTAGE}charger"
    assert found[0].verdict == "fail"
    assert found[0].note.startswith("DANGER: the fully charged pack gives 400 V and charger stands 390 V")
    assert "fewer modules in series" in found[0].note


def test_a_pack_below_the_window_says_that_energy_is_lost() -> None:
    controller = part("controller", (380, 260, 130), 11, electrical={"min_v": 280, "max_v": 450})
    case, layout = pack_job(8, parts={"controller": controller})
    found = checks(check_pack(case, layout, pack_of(case, layout)))
    assert found["electrical.undervoltage.controller"].verdict == "fail"
    assert "before the pack is empty" in found["electrical.undervoltage.controller"].note


def test_modules_left_over_fail() -> None:
    case, layout = pack_job(7, wiring={"strings": 2})
    pack = pack_of(case, layout)
    assert pack.series == 3
    assert checks(check_pack(case, layout, pack))["electrical.strings"].verdict == "fail"


def test_fewer_modules_than_strings_is_refused() -> None:
    case, layout = pack_job(2, wiring={"strings": 3})
    with pytest.raises(GeometryError, match="2 modules placed for 3 strings"):
        pack_of(case, layout)


def test_without_rules_protection_is_unknown() -> None:
    case, layout = pack_job(4, with_tables=False)
    (check,) = protect(case, layout, pack_of(case, layout)).checks
    assert check.verdict == "unknown"
    assert "shared/electrical.yaml" in check.note


def test_missing_data_is_unknown_and_named() -> None:
    case, layout = pack_job(4, parts={"motor": MOTOR})
    found = checks(protect(case, layout, pack_of(case, layout)).checks)
    assert "no junction box" in found["electrical.contactor.peak"].note
    assert "capacitance" in found["electrical.precharge.time"].note
    assert "insulation_alarm" in found["electrical.insulation"].note
    assert MODULE.electrical.resistance_ohm is None  # type: ignore[union-attr]
