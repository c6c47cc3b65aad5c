"""Cable runs: sizing, bundles, mass, drop, conduit, and the wiring as a whole."""

from dataclasses import replace
from math import dist, pi

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from packlayout.electrical.cables import BUNDLE, Run, bundle_circle, cable_items
from packlayout.electrical.copper import resistance_at
from packlayout.electrical.estimate import cable_alone
from packlayout.electrical.pack import pack_of
from packlayout.electrical.protection import protect
from packlayout.electrical.run_checks import check_runs
from packlayout.electrical.wanted import wanted_runs
from packlayout.electrical.wire import CAUTION, Surroundings, wire
from packlayout.export.electric_documents import drive_json, wire_json, wire_lines
from packlayout.model.brief import Case
from packlayout.model.geometry import Box
from packlayout.model.layout import Layout, Placement
from packlayout.model.vehicle import BoxShape, Zone
from packlayout.space.bends import Line
from packlayout.space.envelope import box_mesh
from packlayout.space.routes import End
from packlayout.units import Measured
from tests.bays import part
from tests.wiring_tables import MODULE, pack_job

BOX = part("junction box", (300, 200, 120), 6, ports=[
    {"name": "pack positive", "kind": "HV", "at": [0, 60, 50], "direction": "-x"},
    {"name": "pack negative", "kind": "HV", "at": [0, 140, 50], "direction": "-x"},
    {"name": "controller", "kind": "HV", "at": [300, 60, 50], "direction": "+x"},
])  # fmt: skip
CONTROLLER = part("controller", (380, 260, 130), 11, electrical={"min_v": 100, "max_v": 450, "continuous": 90, "peak": 150},
                  ports=[{"name": "supply", "kind": "HV", "at": [0, 130, 60], "direction": "-x"}])  # fmt: skip


def wired(max_v: float = 450, room: float = 1400) -> tuple[Case, Layout]:
    """Four modules in a row, a junction box and a controller behind them, in a wide bay."""
    box = BOX.model_copy(update={"electrical": BOX.electrical.model_copy(update={"max_v": max_v})})  # type: ignore[union-attr]
    case, layout = pack_job(4, parts={"box": box, "controller": CONTROLLER})
    moved: list[Placement] = [*layout.modules]
    moved.append(replace(layout.placements[4], at=(700.0, 200.0, 300.0)))
    moved.append(replace(layout.placements[5], at=(1400.0, 200.0, 300.0)))
    space = Box((-200.0, -200.0, 200.0), (700.0 + room, 1000.0, 800.0))
    zone = Zone(name="bay", use="engine bay", box=BoxShape(corner=space.lo, opposite=space.hi))
    vehicle = case.vehicle.model_copy(update={"zones": (zone,)})
    return replace(case, vehicle=vehicle, zones={"bay": box_mesh(space)}), Layout(tuple(moved))


def run(**changed: object) -> Run:
    end = End("a", "p", (0, 0, 500), (1, 0, 0))
    fields: dict[str, object] = {
        "name": "run", "kind": "HV", "start": end, "goal": end, "cores": 2, "area_mm2": 35.0, "diameter_mm": 25.6,
        "line": Line(((0, 0, 500), (1000, 0, 500)), 60.0), "blocked": None, "ampacity_a": 154.0, "load_a": 90.0,
        "fuse_a": 125.0, "drop_v": 0.2, "volts": 288.0, "mass": Measured(0.82, 0.07), "clips": 3, "conduit_mm": 0.0,
        "spare_mm": 2.0, "nearest": "x",
    }  # fmt: skip
    return Run(**{**fields, **changed})  # type: ignore[arg-type]


# ---- by hand


def test_which_runs_are_wanted() -> None:
    case, layout = wired()
    pack = pack_of(case, layout)
    runs = wanted_runs(case, layout, pack, protect(case, layout, pack))
    assert [(r.name, r.cores) for r in runs] == [
        ("pack positive", 1), ("pack negative", 1), ("junction box to controller", 2),
    ]  # fmt: skip
    assert runs[2].load_a == 90  # no motor: the controller's rating
    assert runs[2].fuse_a == 125  # 90 A x 1.25 = 112.5


def test_the_wiring_of_a_wide_bay() -> None:
    case, layout = wired()
    made = wire(case, layout, Surroundings())
    assert all(r.line is not None for r in made.runs)
    by_name = {r.name: r for r in made.runs}
    pair = by_name["junction box to controller"]
    # 125 A fuse at 40 C: 35 mm2 carries 154 A, 25 mm2 only 123 A
    assert pair.area_mm2 == 35
    assert pair.diameter_mm == pytest.approx(2 * 12.8)
    assert pair.line is not None
    assert pair.line.radius_mm == pytest.approx(4 * 12.8 + 12.8)
    # 400 mm from face to face and 70 mm aside, a slant with two bends
    assert 400 < pair.length_mm < 480
    ohms = resistance_at(0.554, 90) * pair.length_mm * 1e-6
    assert pair.drop_v == pytest.approx(2 * 150 * ohms)
    assert pair.mass.value == pytest.approx(2 * 0.41 * pair.length_mm / 1000)
    assert sum(i.mass.value for i in made.items) == pytest.approx(sum(r.mass.value for r in made.runs))
    assert {c.verdict for c in made.checks if c.id.startswith("cable.")} == {"pass"}


def test_centre_of_gravity_of_a_straight_run() -> None:
    (item,) = cable_items([run()])
    assert tuple(c.value for c in item.position) == pytest.approx((500, 0, 500))
    assert item.mass.value == 0.82


# ---- reference


def test_circles_round_equal_circles() -> None:
    """Packing of circles in a circle: 2, 1 + 2/sqrt 3, 1 + sqrt 2 (Graham and others, 1998; closed forms)."""
    for cores, factor in BUNDLE.items():
        assert factor == pytest.approx(bundle_circle(cores), abs=1e-3)


# ---- invariant


@given(st.floats(60, 400), st.floats(60, 400), st.floats(20, 59))
def test_mass_lies_within_the_run(a: float, b: float, radius: float) -> None:
    line = Line(((0, 0, 0), (a, 0, 0), (a, b, 0)), min(radius, a, b))
    x, y, z = line.centroid
    assert 0 <= x <= a
    assert 0 <= y <= b
    assert z == 0
    assert line.length_mm == pytest.approx(a + b - (2 - pi / 2) * min(radius, a, b))


def test_runs_keep_clear_of_one_another() -> None:
    case, layout = wired()
    lines = [
        (r.line.points(3.0), r.diameter_mm / 2) for r in wire(case, layout, Surroundings()).runs if r.line
    ]
    for n, (one, r) in enumerate(lines):
        for other, s in lines[n + 1 :]:
            gap = np.linalg.norm(one[:, None, :] - other[None, :, :], axis=2).min()
            assert gap >= r + s - 0.5  # chords stand off their arcs


def test_cables_alone_have_the_length_of_those_laid_where_none_is_in_the_way() -> None:
    case, layout = wired()
    alone = cable_alone(case, layout, Surroundings())
    laid = wire(case, layout, Surroundings())
    assert alone is not None
    assert alone.without_way == ()
    straight = sum(dist(r.start.at, r.goal.at) for r in laid.runs if r.kind == "HV")
    assert straight <= alone.length_mm == pytest.approx(laid.cable_mm, rel=0.1)
    assert len(alone.cables) == sum(r.kind == "HV" for r in laid.runs)
    assert cable_alone(case, Layout(()), Surroundings()) is None


def test_a_run_without_a_way_even_alone_is_named() -> None:
    case, layout = wired()
    wall = (("wall", box_mesh(Box((1200.0, -200.0, 200.0), (1210.0, 1000.0, 800.0)))),)
    walled = cable_alone(case, layout, Surroundings(frame=wall))
    assert walled is not None
    assert walled.without_way == ("junction box to controller",)


# ---- refusal


def test_overvoltage_stands_at_the_top_of_every_output() -> None:
    case, layout = wired(max_v=150)
    made = wire(case, layout, Surroundings())
    assert made.checks[0].verdict == "fail"
    assert made.overvoltage[0].note.startswith(
        "DANGER: the fully charged pack gives 200 V and box stands 150 V"
    )
    document = wire_json(made)
    assert next(iter(document)) == "danger"
    assert document["danger"] == [made.overvoltage[0].note]
    assert wire_lines(made)[0].startswith("Pack: 4 in series")  # the headline of the command tells it first
    assert wire_lines(made)[-1] == CAUTION
    assert "only qualified people" in document["caution"]


def test_no_way_fails_with_the_spot() -> None:
    case, layout = wired()
    wall = (("wall", box_mesh(Box((1200.0, -200.0, 200.0), (1210.0, 1000.0, 800.0)))),)
    made = wire(case, layout, Surroundings(frame=wall))
    check = next(c for c in made.checks if c.id == "cable.way.junction box to controller")
    assert check.verdict == "fail"
    assert "no way" in check.note
    assert check.where is not None
    blocked = next(r for r in wire_json(made)["runs"] if r["name"] == "junction box to controller")["blocked"]
    assert blocked["why"]


def test_too_thin_a_cable_and_too_great_a_drop_fail() -> None:
    case, _ = wired()
    found = {c.id: c for c in check_runs(case, [run(ampacity_a=100.0, drop_v=9.0)])}
    assert found["cable.current.run"].verdict == "fail"
    assert found["cable.drop.run"].verdict == "fail"
    assert found["cable.drop.run"].value == pytest.approx(3.125)


def test_without_modules_or_tables_it_is_unknown() -> None:
    case, layout = wired()
    assert wire(case, Layout(()), Surroundings()).checks[0].verdict == "unknown"
    bare, rest = pack_job(4, with_tables=False)
    assert any("shared/" in c.note for c in wire(bare, rest, Surroundings()).checks)
    assert drive_json(None)["shaft"] is None
    assert layout.modules
    assert MODULE.kind == "battery module"
