"""Signal cables: laid where the brief lists them, weighed, kept apart from high voltage."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from pydantic import ValidationError

from packlayout.electrical.apart import gap_of, length_beside, remedy
from packlayout.electrical.cables import Run
from packlayout.electrical.laying import lay
from packlayout.electrical.run_checks import check_runs
from packlayout.electrical.wanted import Wanted
from packlayout.electrical.wire import Surroundings, Wiring, wire
from packlayout.export.electric_documents import wire_json
from packlayout.model.brief import Case
from packlayout.model.catalogue import Port
from packlayout.model.electrics import SignalRun
from packlayout.model.geometry import Box
from packlayout.model.layout import Layout
from packlayout.space.bends import Line
from packlayout.space.course import Course
from packlayout.space.ends import End
from packlayout.space.envelope import box_mesh
from packlayout.space.fields import course
from packlayout.units import Measured
from tests.test_electrical_cables import run, wired
from tests.wiring_tables import pack_job

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
        beside = length_beside(signal, [signal, straight(y, name="live")], 50.0)
        assert beside.length_mm == pytest.approx(length)
        assert (beside.name, beside.at is None) == (("live", False) if length else ("", True))
    # hoses and 12 V do not count
    assert (
        length_beside(
            signal, [signal, straight(60.0, kind="coolant"), straight(60.0, kind="12 V")], 50.0
        ).length_mm
        == 0
    )


def test_too_long_beside_high_voltage_fails() -> None:
    case, _ = job()
    signal = straight(0.0, name="sense", kind="signal", diameter_mm=8.0)
    check = next(c for c in check_runs(case, [signal, straight(40.0)]) if c.id == "cable.apart.sense")
    assert (check.verdict, check.value, check.limit) == ("fail", pytest.approx(1000), 400)
    assert "EN 50174-2" in check.basis
    assert check.note == "gap 50 mm; longest beside run; lay it elsewhere"
    told = SENSE.model_copy(update={"diameter_mm": 8.0})
    check = next(
        c
        for c in check_runs(case, [replace(signal, signal=told), straight(40.0)])
        if c.id == "cable.apart.sense"
    )
    assert check.note == (
        "gap 50 mm; longest beside run; in the brief, conduit: steel tube 12x1.5 for this signal cable would do on this way"
    )


def test_gap_by_class_and_conduit() -> None:
    """EN 50174-2, separation of screened (c) and other classes, value from memory: a solid metal tube does away with it."""
    case, _ = job()
    rules = case.tables.electrical
    assert rules is not None
    for screen, conduit, gap in (
        ("a", None, 300), ("b", None, 100), ("c", None, 50), ("d", None, 10), ("c", "steel tube 12x1.5", 0),
        ("c", "corrugated 10", 50),
    ):  # fmt: skip
        assert gap_of(rules, SENSE.model_copy(update={"screen": screen, "conduit": conduit})) == gap
    mesh = rules.conduits[0].model_copy(update={"name": "braid", "metal": "open"})
    with_mesh = rules.model_copy(update={"conduits": (*rules.conduits, mesh)})
    assert gap_of(with_mesh, SENSE.model_copy(update={"conduit": "braid"})) == 38
    signal = straight(0.0, name="sense", kind="signal", diameter_mm=8.0)
    assert length_beside(signal, [signal, straight(20.0)], 0.0).length_mm == 0


def test_a_remedy_is_a_remedy() -> None:
    """With what the check names in the brief, the same line passes it; where nothing does, it says so."""
    case, _ = job()
    rules = case.tables.electrical
    assert rules is not None
    signal = straight(0.0, name="sense", kind="signal", diameter_mm=7.0, signal=SENSE)
    runs = [signal, straight(30.0)]
    words = remedy(rules, signal, runs)
    assert "conduit: steel tube 12x1.5" in words
    kept = replace(signal, signal=SENSE.model_copy(update={"conduit": "steel tube 12x1.5"}))
    check = next(c for c in check_runs(case, [kept, runs[1]]) if c.id == "cable.apart.sense")
    assert (check.verdict, check.value) == ("pass", 0)
    bare = rules.model_copy(update={"conduits": ()})
    assert "screen: d" in remedy(bare, signal, runs)  # 16 mm between the jackets
    assert "a cable way apart is wanted" in remedy(bare, signal, [signal, straight(15.0)])


def corridor(height: float) -> tuple[Case, Course]:
    """Two rooms 1.2 m apart, joined by a corridor 110 mm wide."""
    case, _ = pack_job(4)
    rooms = [(f"room {x:.0f}", box_mesh(Box((x, 0, 200), (x + 500, 400, 500))), 4.0) for x in (0.0, 1640.0)]
    way = Box((480.0, 145.0, 300.0), (1660.0, 255.0, 300.0 + height))
    return case, course(rooms, [("way", way)], [], 10.0)


def ends(y: float) -> tuple[End, End]:
    return (
        End(f"a {y:.0f}", "port", (0.0, y, 350.0), (1, 0, 0), True),
        End(f"b {y:.0f}", "port", (2140.0, y, 350.0), (-1, 0, 0), True),
    )


LIVE_RUN = Wanted("live", "HV", *ends(200.0), 2, load_a=15.0, peak_a=15.0, volts=300.0, fuse_a=20.0)
SIGNAL = SignalRun.model_validate(
    {"name": "sense", "start": ["a"], "goal": ["b"], "diameter": 7, "mass": 0.07}
)


def test_the_live_run_makes_way_for_a_signal_cable() -> None:
    """Straight through the corridor's middle it leaves no 50 mm on either side; along one wall it does."""
    case, space = corridor(100.0)
    (alone,), _ = lay(case, space, [LIVE_RUN])
    assert alone.line is not None
    assert np.abs(alone.line.points()[:, 1] - 200).max() < 2
    runs, after = lay(case, space, [LIVE_RUN, Wanted("sense", "signal", *ends(120.0), 4, cable=SIGNAL)])
    live, sense = runs
    assert sense.line is not None
    assert live.line is not None
    assert length_beside(sense, runs, 50.0).length_mm < 400
    assert {cable.name for cable in after.laid} == {"live", "sense"}
    middle = [run.line.points(5.0) for run in (live, sense) if run.line is not None]
    inside = [p[(p[:, 0] > 800) & (p[:, 0] < 1400)] for p in middle]
    apart = np.linalg.norm(inside[0][:, None] - inside[1][None], axis=2).min()
    assert apart > 50 + 3.5 + 4


def test_where_there_is_no_room_the_rule_fails_and_a_tube_helps() -> None:
    """A corridor 40 mm wide cannot part them: told, and with the tube that the check names it passes."""
    case, space = corridor(100.0)
    narrow = course(
        [(name.name, name.mesh, 4.0) for name, _ in space.zones],
        [("way", Box((480.0, 180.0, 320.0), (1660.0, 220.0, 360.0)))], [], 10.0,
    )  # fmt: skip
    for conduit, verdict in ((None, "fail"), ("steel tube 12x1.5", "pass")):
        order = SIGNAL.model_copy(update={"conduit": conduit})
        runs, _ = lay(case, narrow, [LIVE_RUN, Wanted("sense", "signal", *ends(120.0), 4, cable=order)])
        assert all(run.line is not None for run in runs)
        check = next(c for c in check_runs(case, runs) if c.id == "cable.apart.sense")
        assert check.verdict == verdict
        assert ("conduit: steel tube 12x1.5" in check.note) == (verdict == "fail")


# ---- invariant


@given(st.floats(0, 200), st.floats(10, 120))
def test_a_greater_gap_never_counts_less(y: float, gap: float) -> None:
    signal = straight(0.0, name="sense", kind="signal", diameter_mm=8.0)
    runs = [signal, straight(y + 20, name="live")]
    assert length_beside(signal, runs, gap + 10).length_mm >= length_beside(signal, runs, gap).length_mm


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
