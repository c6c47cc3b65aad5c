"""Signal cables: laid where the brief lists them, weighed, kept apart from high voltage."""

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st
from pydantic import ValidationError

from packlayout.electrical.cables import Run, check_runs, length_beside
from packlayout.electrical.wire import Surroundings, Wiring, wire
from packlayout.export.electric_documents import wire_json
from packlayout.model.brief import Case
from packlayout.model.catalogue import Port
from packlayout.model.electrics import SignalRun
from packlayout.model.layout import Layout
from packlayout.space.bends import Line
from packlayout.units import Measured
from tests.test_electrical_cables import run, wired

SENSE = SignalRun.model_validate(
    {
        "name": "sense",
        "start": ["box", "sense"],
        "goal": ["controller", "control"],
        "cores": 8,
        "diameter": 8,
        "mass": 0.09,
    }
)
PORTS = {
    "box": {"name": "sense", "kind": "signal", "at": [300, 150, 60], "direction": "+x"},
    "controller": {"name": "control", "kind": "signal", "at": [0, 220, 60], "direction": "-x"},
}


def job(*orders: SignalRun) -> tuple[Case, Layout]:
    """The wide bay of the cable tests, with a signal port on the junction box and one on the controller."""
    case, layout = wired()
    parts = dict(case.parts)
    for name, port in PORTS.items():
        parts[name] = parts[name].model_copy(
            update={"ports": (*parts[name].ports, Port.model_validate(port))}
        )
    wiring = case.brief.wiring.model_copy(update={"signals": orders})
    return replace(case, parts=parts, brief=case.brief.model_copy(update={"wiring": wiring})), layout


def made(*orders: SignalRun) -> Wiring:
    case, layout = job(*orders)
    return wire(case, layout, Surroundings())


def straight(y: float, **changed: object) -> Run:
    """A run one metre long along x."""
    return run(**{"line": Line(((0.0, y, 500.0), (1000.0, y, 500.0)), 60.0), "diameter_mm": 20.0, **changed})


# ---- by hand


def test_a_signal_cable_is_laid_and_weighed() -> None:
    found = made(SENSE)
    sense = next(r for r in found.runs if r.name == "sense")
    assert sense.line is not None
    assert (sense.kind, sense.cores, sense.area_mm2, sense.diameter_mm) == ("signal", 8, 0.5, 8)
    assert sense.mass.value == pytest.approx(0.09 * sense.length_mm / 1000)
    assert sense.line.radius_mm >= 3.5 * 8
    assert any(item.name == "sense" for item in found.items)
    ids = {c.id for c in found.checks if c.id.endswith(".sense")}
    assert ids == {"cable.way.sense", "cable.apart.sense"}  # no current, no drop
    assert next(r for r in wire_json(found)["runs"] if r["name"] == "sense")["kind"] == "signal"


def test_it_is_laid_after_the_high_voltage_which_stays_where_it_was() -> None:
    without = {r.name: r for r in made().runs}
    assert all(r == without[r.name] for r in made(SENSE).runs if r.name != "sense")


def test_length_beside_high_voltage() -> None:
    """Jackets of 20 and 8 mm, middles 60 mm apart: 46 mm between them, nearer than 50 all along; at 70 mm, nowhere."""
    signal = straight(0.0, name="sense", kind="signal", diameter_mm=8.0)
    for y, length in ((60.0, 1000.0), (70.0, 0.0)):
        beside, name, at = length_beside(signal, [signal, straight(y, name="live")], 50.0)
        assert beside == pytest.approx(length)
        assert (name, at is None) == (("live", False) if length else ("", True))
    # hoses and 12 V do not count
    assert (
        length_beside(signal, [signal, straight(60.0, kind="coolant"), straight(60.0, kind="12 V")], 50.0)[0]
        == 0
    )


def test_too_long_beside_high_voltage_fails() -> None:
    case, _ = job()
    signal = straight(0.0, name="sense", kind="signal", diameter_mm=8.0)
    check = next(c for c in check_runs(case, [signal, straight(40.0)]) if c.id == "cable.apart.sense")
    assert (check.verdict, check.value, check.limit) == ("fail", pytest.approx(1000), 400)
    assert "EN 50174-2" in check.basis
    assert check.note == "gap 50 mm; longest beside run"


# ---- invariant


@given(st.floats(0, 200), st.floats(10, 120))
def test_a_greater_gap_never_counts_less(y: float, gap: float) -> None:
    signal = straight(0.0, name="sense", kind="signal", diameter_mm=8.0)
    runs = [signal, straight(y + 20, name="live")]
    assert length_beside(signal, runs, gap + 10)[0] >= length_beside(signal, runs, gap)[0]


# ---- refusal


def test_an_end_that_is_not_there_is_told() -> None:
    lost = SENSE.model_copy(update={"name": "lost", "goal": ("controller", "throttle")})
    found = made(lost)
    assert not any(r.name == "lost" for r in found.runs)
    check = next(c for c in found.checks if c.id == "cable.way.lost")
    assert check.verdict == "unknown"
    assert check.note.startswith(
        "box / sense or controller / throttle is no port of a placed part; fixed points: "
    )


def test_without_the_rule_it_is_unknown() -> None:
    case, _ = job()
    assert case.tables.electrical is not None
    rules = case.tables.electrical.model_copy(update={"signal_gap_mm": None})
    bare = replace(case, tables=replace(case.tables, electrical=rules))
    signal = straight(0.0, name="sense", kind="signal", mass=Measured(0.1))
    check = next(c for c in check_runs(bare, [signal]) if c.id == "cable.apart.sense")
    assert (check.verdict, check.note) == ("unknown", "signal_gap is not given in shared/electrical.yaml")


def test_three_words_for_an_end_are_refused() -> None:
    with pytest.raises(ValidationError):
        SignalRun.model_validate({"name": "x", "start": ["a", "b", "c"], "goal": ["a"]})
