"""Electrics and driving as files: cable schedule, old dials, harness solids, the report's sections, danger first."""

import csv
import io
import json
import re
import subprocess
from dataclasses import replace
from math import pi
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import trimesh
from hypothesis import given
from hypothesis import strategies as st

from packlayout.drive.gauge import gauge_table, speed_table
from packlayout.electrical.cables import Run, cable_items
from packlayout.electrical.sleeves import sleeves_of
from packlayout.electrical.wire import Surroundings, Wiring, wire
from packlayout.export.bill import bill
from packlayout.export.blocks import Danger, Facts, Table, Text
from packlayout.export.documents import fit_json, place_json, text_of, write_checks
from packlayout.export.electric_lists import SCHEDULE, gauge_chart, shown_rows, write_electrics
from packlayout.export.glb import glb
from packlayout.export.meshes import pipe
from packlayout.export.palette import RUN_COLOURS
from packlayout.export.report import report
from packlayout.export.report_content import content
from packlayout.export.report_electrics import cables as cables_section
from packlayout.export.report_front import front
from packlayout.export.solids import solid, volume
from packlayout.export.step import write_step
from packlayout.export.summary import headline
from packlayout.export.svg import svg
from packlayout.export.tree import Leaf
from packlayout.model.driving import Sender, Speedometer
from packlayout.model.electrics import SignalRun
from packlayout.space.bends import Line
from packlayout.space.routes import End, NoRoute
from packlayout.stages import driven
from packlayout.study import Study
from packlayout.units import Measured
from tests.step_reading import read_step
from tests.studies import study
from tests.test_electrical_cables import run, wired
from tests.wiring_tables import demo

BOX = End("junction box", "charger", (0.0, 0.0, 700.0), (1.0, 0.0, 0.0))
CHARGER = End("charger", "DC in", (500.0, 300.0, 700.0), (0.0, 1.0, 0.0))
BENT = Line(((0.0, 0.0, 700.0), (500.0, 0.0, 700.0), (500.0, 300.0, 700.0)), 60.0)
LAID = run(name="junction box to charger", start=BOX, goal=CHARGER, line=BENT, diameter_mm=20.0)
STUCK = run(
    name="pack positive", line=None, start=BOX, goal=CHARGER, clips=0, mass=Measured(0.0),
    blocked=NoRoute(4.0, (10.0, 20.0, 30.0), "front axle", "the tightest spot is 4 mm too narrow"),
)  # fmt: skip
HOSE = run(
    name="hose pump to motor", kind="coolant", cores=0, area_mm2=0.0, diameter_mm=25.0, fuse_a=None, mass=Measured(0.5, 0.04),
    line=Line(((0.0, 0.0, 400.0), (0.0, 800.0, 400.0)), 60.0),
)  # fmt: skip
_RULES = demo("quillon-estate/piano-tuner").tables.electrical
assert _RULES is not None
_TUBE = next(c for c in _RULES.conduits if c.name == "corrugated 29")
SLEEVED = replace(
    LAID, conduit=_TUBE.name, conduit_mm=400 + 30 * pi,
    sleeves=sleeves_of(LAID.name, _TUBE, (BENT.between(100, 400), BENT.between(390 + 50, 390 + 50 + 100 + 30 * pi))),
)  # fmt: skip
"""300 mm of straight, then a quarter bend and 100 mm of straight."""
SENSE = run(
    name="sense", kind="signal", cores=4, area_mm2=0.5, diameter_mm=7.0, mass=Measured(0.05), fuse_a=None,
    line=Line(((0.0, 0.0, 500.0), (0.0, 700.0, 500.0)), 40.0),
    signal=SignalRun.model_validate({"name": "sense", "start": ["a"], "goal": ["b"], "screen": "d"}),
)  # fmt: skip
SENDER = Sender.model_validate(
    {"quantity": "ohm", "points": [[0, 240], [50, 90], [100, 33]], "source": "invented for the tests"}
)
METER = Speedometer.model_validate(
    {
        "cable_turns": 620,
        "sensor": "wheel",
        "pulses_per_turn": 4,
        "largest_km_per_h": 120,
        "source": "invented",
    }
)


def made(*runs: Run) -> Study:
    """The made study with hand-made runs and measured dials."""
    whole = study()
    assert whole.layout is not None
    assert whole.weighing is not None
    driving = driven(whole.case, whole.layout, whole.weighing)
    dials = replace(driving, gauge=gauge_table(SENDER), speedometer=speed_table(METER, whole.case.vehicle))
    return replace(whole, wiring=Wiring(None, None, runs, cable_items(runs), ()), driving=dials)


STUDY = made(LAID, STUCK, HOSE)
LENGTH = 440 + 240 + 30 * pi  # 500 and 300 less 60 at the bend, and a quarter turn of 60


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    target = tmp_path_factory.mktemp("electrics")
    write_electrics(STUDY, target, ())
    return target


def overvoltage() -> Study:
    """A pack of 200 V on a junction box for 150 V."""
    case, layout = wired(max_v=150)
    wiring = wire(case, layout, Surroundings())
    return replace(study(), case=case, layout=layout, placed=None, framed=None, weighing=None, wiring=wiring,
                   checks=wiring.checks)  # fmt: skip


# ---- by hand


def test_schedule_by_hand(folder: Path) -> None:
    rows = list(csv.DictReader(io.StringIO((folder / SCHEDULE).read_bytes().decode())))
    laid, stuck, hose = rows
    assert {k: laid[k] for k in ("run", "from", "from_port", "to", "kind", "area_mm2", "cores", "fuse_a", "bend_mm")} == {
        "run": "junction box to charger", "from": "junction box", "from_port": "charger", "to": "charger", "kind": "HV",
        "area_mm2": "35", "cores": "2", "fuse_a": "125", "bend_mm": "60",
    }  # fmt: skip
    assert laid["length_mm"] == f"{LENGTH:.0f}" == "774"
    assert (laid["mass_kg"], laid["clips"]) == ("0.820", "3")
    assert stuck["remark"] == "NO WAY: the tightest spot is 4 mm too narrow; 4 mm more on each side would do"
    assert (stuck["length_mm"], stuck["mass_kg"]) == ("", "")
    assert (hose["cores"], hose["load_a"], hose["length_mm"]) == ("", "", "800")


def test_gauge_tables_by_hand(folder: Path) -> None:
    """Half full, between 10 and 95 % of charge, is 52.5 %, where the sender gave 90 ohm."""
    rows = list(csv.DictReader(io.StringIO((folder / "gauge-table.csv").read_bytes().decode())))
    middle = next(r for r in rows if r["soc_percent"] == "52.5")
    assert (middle["level_percent"], middle["reading_ohm"]) == ("50.00", "90.000")
    header = (folder / "gauge-table.h").read_text()
    assert "#define GAUGE_ROWS 41" in header
    assert "240000" in header
    assert (folder / "speedometer-table.csv").read_text().startswith("speed_kmh,")


def test_the_header_is_c(folder: Path, tmp_path: Path) -> None:
    """A compiler takes both headers, and the table holds what the CSV says."""
    from shutil import which

    compiler = which("cc") or which("gcc")
    if compiler is None:
        pytest.skip("no C compiler")
    source = tmp_path / "main.c"
    source.write_text(
        f'#include "{folder}/gauge-table.h"\n#include "{folder}/speedometer-table.h"\n#include <stdio.h>\n'
        'int main(void) { printf("%d %d", (int)gauge_milliohm[21], SPEED_PULSES_PER_KM); return 0; }\n'
    )
    subprocess.run([compiler, str(source), "-o", str(tmp_path / "main")], check=True)
    out = subprocess.run([str(tmp_path / "main")], check=True, capture_output=True, text=True).stdout
    assert out == f"90000 {round(4e6 / (2 * pi * 315))}"


def test_the_curve_goes_through_the_points(folder: Path) -> None:
    text = (folder / "gauge-curve.svg").read_text()
    points = re.findall(r'<polyline points="([^"]*)" fill="none" stroke="#0072b2"', text)
    assert len(points) == 1
    assert len(points[0].split()) == 41
    assert svg(gauge_chart(gauge_table(SENDER))) == text
    assert shown_rows([(float(k), 0.0, 0.0) for k in range(41)])[-1][0] == 40


def test_harness_solid_by_hand() -> None:
    """A round bar along straights and a quarter turn holds its section times the length of its middle line."""
    shape = solid(Leaf("cable", "HV cable", LAID), STUDY.case)
    assert volume(shape) == pytest.approx(pi * 10**2 * LENGTH, rel=1e-6)


def test_harness_in_step_and_glb(tmp_path: Path) -> None:
    """Another reader finds each run by its name, as large as laid; what found no way is not there."""
    write_step(STUDY, tmp_path, ())
    nodes = {node.name: node for node in read_step(tmp_path / "assembly.step")}
    assert nodes["harness"].children == ["HV cables", "coolant hoses"]
    assert nodes["junction box to charger"].volume == pytest.approx(pi * 10**2 * LENGTH, rel=1e-6)
    assert nodes["junction box to charger"].valid
    assert nodes["junction box to charger"].hi == pytest.approx((510.0, 300.0, 710.0), abs=0.01)
    assert "pack positive" not in nodes
    scene = trimesh.load_scene(trimesh.util.wrap_as_stream(glb(STUDY)), file_type="glb")
    assert {"junction box to charger", "hose pump to motor"} <= set(scene.geometry)
    assert scene.graph.transforms.parents["hose pump to motor"] == "coolant hoses"


def test_conduit_is_a_tube_of_its_own_in_step_and_glb(tmp_path: Path) -> None:
    """Another reader finds each piece by its name: hollow, as wide as its conduit, and the cable goes through it free."""
    found = made(SLEEVED)
    write_step(found, tmp_path, ())
    nodes = {node.name: node for node in read_step(tmp_path / "assembly.step")}
    assert nodes["harness"].children == ["HV cables", "conduits"]
    assert nodes["conduits"].children == [s.name for s in SLEEVED.sleeves]
    ring = pi * (17.25**2 - 14.15**2)
    for sleeve, length in zip(SLEEVED.sleeves, (300, 100 + 30 * pi), strict=True):
        node = nodes[sleeve.name]
        assert node.volume == pytest.approx(ring * length, rel=1e-5)
        assert node.valid
        assert node.colour == RUN_COLOURS["conduit"]
    assert nodes[SLEEVED.sleeves[0].name].lo == pytest.approx((100, -17.25, 700 - 17.25), abs=0.01)
    scene = trimesh.load_scene(trimesh.util.wrap_as_stream(glb(found)), file_type="glb")
    for sleeve in SLEEVED.sleeves:
        body = scene.geometry[sleeve.name]
        body.merge_vertices()
        assert body.is_watertight
        share = body.volume * 1e9 / (ring * sleeve.line.length_mm)
        assert share == pytest.approx(5 * np.sin(2 * pi / 10) / pi, rel=0.01)  # ten corners for a circle
        assert scene.graph.transforms.parents[sleeve.name] == "conduits"


def test_conduit_in_the_schedule_the_bill_and_the_report(tmp_path: Path) -> None:
    found = made(SLEEVED, SENSE)
    assert found.layout is not None
    stock = demo("quillon-estate/piano-tuner")
    found = replace(found, case=replace(stock, parts={**stock.parts, **found.case.parts}))
    write_electrics(found, tmp_path, ())
    rows = list(csv.DictReader(io.StringIO((tmp_path / SCHEDULE).read_bytes().decode())))
    named = ("conduit", "conduit_pieces", "conduit_outside_mm", "conduit_cut_mm", "conduit_kg", "screen")
    assert [rows[0][k] for k in named] == ["corrugated 29", "2", "34.5", "300 + 194", "0.032", ""]
    assert [rows[1][k] for k in named] == ["", "", "", "", "", "d"]
    assert [rows[1][k] for k in ("load_a", "ampacity_a", "fuse_a", "drop_v")] == ["", "", "", ""]
    cables = {row.what: row for row in bill(found).rows if row.sort in ("cable", "conduit")}
    assert list(cables) == ["cable 35 mm2", "signal cable 4 x 0.5 mm2", "conduit corrugated 29"]
    tube = cables["conduit corrugated 29"]
    assert (tube.sort, tube.source, tube.quantity, tube.unit) == (
        "conduit",
        "shared/electrical.yaml",
        0.49,
        "m",
    )
    assert tube.mass is not None
    assert tube.mass.value == pytest.approx(0.065 * (400 + 30 * pi) / 1000)
    (words,) = [b.text for b in cables_section(found) if isinstance(b, Text)]
    assert "Conduit: 0.49 m of corrugated 29 (Ø 34.5 mm)" in words


def test_first_page_by_hand() -> None:
    (facts,) = [b for b in front(STUDY) if isinstance(b, Facts)]
    told = {fact.name: fact.figure for fact in facts.facts}
    assert list(told) == ["range", "payload", "price", "battery", "charging", "top speed"]
    assert told["payload"] == "229 ± 7 kg"
    assert told["price"] == told["range"] == told["battery"] == "not done"


def test_sections_tell_every_run_and_what_is_missing() -> None:
    sections = {s.anchor: s for s in content(STUDY, {}, ())}
    (table,) = [b for b in sections["cables"].blocks if isinstance(b, Table)]
    assert [row[0].split("\n")[0] for row in table.rows] == [
        "junction box to charger",
        "pack positive",
        "hose pump to motor",
    ]
    page = report(STUDY, {})
    assert "pack positive: the tightest spot is 4 mm too narrow, at 10, 20, 30, beside front axle" in page
    for anchor in ("electrics", "driving", "as-built"):
        assert any("Not done" in getattr(b, "text", "") for b in sections[anchor].blocks), anchor
    bare = {s.anchor: s for s in content(replace(STUDY, wiring=None, driving=None), {}, ())}
    for anchor in ("electrics", "cables", "driving", "shaft", "dials"):
        assert any(getattr(b, "text", "").startswith("Not done") for b in bare[anchor].blocks), anchor


# ---- danger


def test_overvoltage_stands_before_all_else(tmp_path: Path) -> None:
    bad = overvoltage()
    assert bad.wiring is not None
    (words,) = [c.note for c in bad.wiring.overvoltage]
    assert headline(bad)[0] == words
    for document in (fit_json(bad, []), place_json(bad)):
        assert next(iter(document)) == "danger"
        assert document["danger"] == [words]
    write_checks(bad, tmp_path, ())
    assert json.loads((tmp_path / "checks.json").read_text())["danger"] == [words]
    first = content(bad, {}, ())[0].blocks[0]
    assert isinstance(first, Danger)
    assert first.lines == (words,)
    page = report(bad, {})
    assert page.index('role="alert"') < page.index("Does it fit?")
    from pypdf import PdfReader

    from packlayout.export.report_pdf import report_pdf

    text = PdfReader(io.BytesIO(report_pdf(bad, content(bad, {}, ())))).pages[0].extract_text()
    assert "DANGER" in text.split("Does it fit?")[0]


def test_without_danger_nothing_cries_wolf() -> None:
    assert fit_json(STUDY, [])["danger"] == []
    assert 'role="alert"' not in report(STUDY, {})


def test_the_whole_job_holds_wire_and_drive() -> None:
    document: dict[str, Any] = fit_json(STUDY, [])
    assert [r["name"] for r in document["wire"]["runs"]] == [
        "junction box to charger",
        "pack positive",
        "hose pump to motor",
    ]
    assert document["drive"]["gauge"]["quantity"] == "ohm"
    assert json.loads(text_of(document)) == document


# ---- invariant


@given(
    st.lists(st.tuples(*[st.floats(-300, 300)] * 3), min_size=2, max_size=6, unique=True), st.floats(2, 20)
)
def test_a_pipe_is_closed(points: list[tuple[float, float, float]], radius: float) -> None:
    line = np.array(points)
    step = np.linalg.norm(np.diff(line, axis=0), axis=1)
    way = np.diff(line, axis=0) / np.maximum(step, 1e-9)[:, None]
    if step.min() < 1 or ((way[1:] * way[:-1]).sum(axis=1) < -0.9).any():
        return  # a cable never turns back on itself
    mesh = pipe(line, radius)
    edges = np.sort(
        np.concatenate([mesh.faces[:, [0, 1]], mesh.faces[:, [1, 2]], mesh.faces[:, [2, 0]]]), axis=1
    )
    assert (np.unique(edges, axis=0, return_counts=True)[1] == 2).all()


def test_a_straight_pipe_holds_its_section() -> None:
    """Ten corners on a circle: the polygon's area times the length, looking outward."""
    mesh = pipe(np.array([[0.0, 0, 0], [100.0, 0, 0], [250.0, 0, 0]]), 10.0)
    body = trimesh.Trimesh(mesh.vertices, mesh.faces)
    assert body.volume == pytest.approx(5 * 100 * np.sin(2 * pi / 10) * 250)


# ---- refusal


def test_what_is_not_there_is_said(tmp_path: Path) -> None:
    found = write_electrics(study(), tmp_path, ())
    assert found.files == ()
    assert found.notes == (
        "cable-schedule.csv left out: electrics not done",
        "gauge-table.csv and .h left out: the old fuel gauge was not measured",
        "speedometer-table.csv and .h left out: the old speedometer was not measured",
    )


def test_a_name_is_never_a_formula(tmp_path: Path) -> None:
    write_electrics(made(replace(LAID, name="=cmd()")), tmp_path, ())
    assert "'=cmd()" in (tmp_path / SCHEDULE).read_text()


def test_the_demo_tables_read() -> None:
    case = demo("quillon-estate/piano-tuner")
    assert case.tables.stock.bar_mm == 6000
    assert case.threads["M8"].blind_nut_bore_mm == 11
