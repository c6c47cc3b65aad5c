"""The statics of the frame in JSON, on the terminal and in the report, of a frame that was really designed."""

import json
import re
from collections.abc import Iterator
from dataclasses import replace
from functools import cache
from html.parser import HTMLParser
from typing import Any

import numpy as np
import pytest

from packlayout.export.charts import WIDTH, Stroke, Words
from packlayout.export.documents import frame_json, text_of
from packlayout.export.report import report
from packlayout.export.report_structure import (
    mass_table,
    reaction_table,
    sheet_table,
    structure,
    used,
    worst_checks,
    worst_table,
)
from packlayout.export.structure_charts import BANDS, case_chart, look_of, oblique, utilisation_chart
from packlayout.export.summary import check_lines, frame_lines
from packlayout.frame.checks import check_frame
from packlayout.frame.design import AID, Designed, design
from packlayout.frame.stiffness import Structure, solve
from packlayout.model.check import judge, unknown
from packlayout.study import Framed, Study
from packlayout.units import Measured
from tests.frames import small, small_job, small_layout
from tests.studies import study


@cache
def designed() -> Designed:
    """Four modules and a junction box on a frame whose sections were chosen."""
    case, layout, made = small()
    return design(case, layout, (), made)


@cache
def solved_study(done: Designed | None = None) -> Study:
    """A study that holds nothing but the case and its frame."""
    done = done or designed()
    checks = (*check_frame(done.case, small_layout(), done.made, ()), *done.checks)
    framed = Framed(done.case, done.made.frame, checks, done.made.legs, done)
    bare = study()
    return replace(
        bare, case=done.case, placed=None, layout=None, weighing=None, framed=framed, checks=checks
    )


@cache
def unsolved_study() -> Study:
    """The same frame under a design code without load cases: drawn, not solved."""
    case = small_job()
    code = case.design_code.model_copy(update={"load_cases": ()})
    return solved_study(design(replace(case, design_code=code), small_layout()))


class _Words(HTMLParser):
    def __init__(self, html: str) -> None:
        super().__init__()
        self.found: list[str] = []
        self.tags: list[str] = []
        self.feed(html)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append(tag)

    def handle_data(self, data: str) -> None:
        self.found.append(data)


def text_of_report(which: Study) -> str:
    return " ".join(" ".join(_Words(report(which, {})).found).split())


# ---------------------------------------------------------------- JSON


def test_members_and_mounts_bear_what_was_designed() -> None:
    d, found = designed(), frame_json(solved_study())
    for row, use in zip(found["members"], d.members, strict=True):
        assert (row["name"], row["utilisation"], row["load_case"], row["by"], row["shift_mm"]) == (
            use.name, use.utilisation, use.load_case, use.by, use.shift_mm,
        )  # fmt: skip
        assert row["utilisation_by_case"][use.load_case] == use.utilisation
        assert list(row["utilisation_by_case"]) == list(d.cases)
    for row, use in zip(found["mounts"], d.mounts, strict=True):
        assert [r["load_case"] for r in row["reactions"]] == list(d.cases)
        for one in row["reactions"]:
            assert one["size_n"] == pytest.approx(np.linalg.norm(one["force_n"]))
            assert one["size_n"] == pytest.approx(np.hypot(one["pull_n"], one["shear_n"]))
        assert row["bolts"]["utilisation"] == use.bolt_utilisation
        assert row["foot_plate"]["thickness_mm"] == use.plate_mm
    joint = found["joints"][0]
    assert set(joint) == {"member", "end", "onto", "at_mm", "throat_mm", "line_force_n_per_mm", "utilisation",
                          "wall_utilisation", "load_case"}  # fmt: skip
    assert len(found["joints"]) == len(d.joints)
    assert found["first_frequency_hz"] == d.first_frequency_hz
    assert [row["chosen"] for row in found["trade"]["rows"]].count(True) == 1
    assert [sheet["id"] for sheet in found["sheets"]] == [sheet.id for sheet in d.sheets]
    assert found["caution"] == AID
    assert json.loads(text_of(found)) == found


def _again(model: dict[str, Any]) -> tuple[Structure, np.ndarray, np.ndarray]:
    """Structure, nodal loads and line loads, made from the document alone."""
    members, nodes, loads = model["members"], np.array(model["nodes_mm"]), model["loads"]

    def column(key: str) -> np.ndarray:
        return np.array([m[key] for m in members], dtype=float)

    fixed, springs = np.zeros((len(nodes), 6), dtype=bool), np.zeros((len(nodes), 6))
    for s in model["supports"]:
        fixed[s["node"]] = s["held"]
        springs[s["node"]] = [*s["spring_n_per_mm"], *s["spring_n_mm_per_rad"]]
    at_nodes, lines = np.zeros((len(loads), len(nodes), 6)), np.zeros((len(loads), len(members), 3))
    for n, case in enumerate(loads):
        for row in case["nodes"]:
            at_nodes[n, row["node"]] = [*row["force_n"], *row["moment_n_mm"]]
        for row in case["members"]:
            lines[n, row["member"]] = row["line_load_n_per_mm"]
    made = Structure(
        nodes=nodes, bars=np.array([m["nodes"] for m in members]), up=column("up"), area=column("area_mm2"),
        inertia_y=column("inertia_y_mm4"), inertia_z=column("inertia_z_mm4"), torsion=column("torsion_mm4"),
        shear_area=column("shear_area_mm2"), modulus=column("modulus_mpa"), shear_modulus=column("shear_modulus_mpa"),
        fixed=fixed, springs=springs, links=np.array(model["links"], dtype=np.int64).reshape(-1, 2),
    )  # fmt: skip
    return made, at_nodes, lines


def test_the_model_as_written_gives_the_reactions_as_written() -> None:
    found = json.loads(text_of(frame_json(solved_study())))
    answer = solve(*_again(found["model"]))
    nodes = {s["mount"]: s["node"] for s in found["model"]["supports"]}
    for mount in found["mounts"]:
        written = [[*r["force_n"], *r["moment_n_mm"]] for r in mount["reactions"]]
        assert -answer.reactions[:, nodes[mount["name"]]] == pytest.approx(
            np.array(written), rel=1e-9, abs=1e-6
        )
    carried = found["model"]["mass_kg"]
    assert carried > found["mass_kg"]["value"] + 4 * 14


def _leaves(value: Any, key: str = "") -> Iterator[tuple[str, Any]]:
    if isinstance(value, dict):
        for name, member in value.items():
            yield from _leaves(member, name)
    elif isinstance(value, list):
        for member in value:
            yield from _leaves(member, key)
    else:
        yield key, value


def test_every_figure_of_the_model_has_its_unit_in_its_key() -> None:
    units = ("_mm", "_mm2", "_mm4", "_mpa", "_n", "_n_mm", "_n_per_mm", "_n_mm_per_rad", "_g", "_kg")
    bare = {key for key, value in _leaves(frame_json(solved_study())["model"]) if type(value) is float}
    assert {key for key in bare if not key.endswith(units)} == {"up", "factor"}


def test_what_was_not_solved_is_null() -> None:
    drawn, found = frame_json(study()), frame_json(unsolved_study())
    for one in (drawn, found):
        assert [one[key] for key in ("joints", "model", "first_frequency_hz", "sheets")] == [None] * 4
        assert {row["utilisation"] for row in one["members"]} == {None}
        assert {row["reactions"] for row in one["mounts"]} == {None}
    assert drawn["trade"] is None
    assert found["trade"]["rows"] == []


# ---------------------------------------------------------------- terminal


def test_lines_tell_utilisation_reactions_frequency_and_trade() -> None:
    d, text = designed(), "\n".join(frame_lines(solved_study()))
    worst = max(d.members, key=lambda use: use.utilisation)
    assert re.search(rf"^{worst.name} .* {worst.utilisation:.2f} +{worst.load_case}$", text, re.MULTILINE)
    for mount in d.mounts:
        load = max(mount.loads, key=lambda one: one.size_n)
        assert re.search(rf"^{mount.mount} +{load.load_case} .* {load.size_n:.0f} ", text, re.MULTILINE)
    assert f"loaded frame: {d.first_frequency_hz:.1f} Hz." in text
    taken = next(row for row in d.trade if row.chosen)
    assert re.search(rf"{taken.mass_kg:.1f} kg, used {taken.worst:.2f}.*<- taken", text)
    assert AID in text


def test_lines_say_what_was_not_solved() -> None:
    assert "the frame was not solved, so its strength is not known" in "\n".join(frame_lines(study()))
    text = "\n".join(frame_lines(unsolved_study()))
    assert "Not solved: strength, stiffness and reactions are not known" in text
    assert "mounting point " not in text


def test_shares_and_newtons_are_written_as_such() -> None:
    lines = check_lines(
        (judge("a", "Tube", Measured(1.26, 0.02), 1.0, "max", "1", "b"),
         judge("c", "Mount", Measured(5200.4, 100.0), 5000.0, "max", "N", "d")), True,
    )  # fmt: skip
    assert lines[0] == "FAIL  Tube: 1.26 +/- 0.02, at most 1.00"
    assert lines[1] == "FAIL  Mount: 5200 +/- 100, at most 5000 N"


# ---------------------------------------------------------------- report


def test_worst_checks_by_hand() -> None:
    a = judge("a", "a", Measured(0.9), 1.0, "max", "1", "x")
    b = judge("b", "b", Measured(25.0), 20.0, "min", "Hz", "x")
    c = judge("c", "c", Measured(2.0), 1.0, "max", "1", "x")
    d = unknown("d", "d", "1", "x", "y")
    e = judge("e", "e", Measured(4.0), 3.0, "min", "legs", "x")
    f = judge("f", "f", Measured(2.0), 0.0, "min", "mm", "x")
    assert [used(check) for check in (a, b, c, f)] == [0.9, 0.8, 2.0, 0.0]
    assert [check.id for check in worst_checks((f, e, b, a, d, c))] == ["c", "d", "a", "b", "f"]
    table = worst_table([replace(a, id=str(n), title=f"t{n}", value=n / 100) for n in range(20)])
    assert [row[1] for row in table.rows] == [f"t{n}" for n in range(19, 9, -1)]
    assert table.rows[0] == ("pass", "t19", "0.19", "≤ 1.00", "", "19 %", "x")


def test_every_mount_and_case_is_in_the_reactions() -> None:
    d = designed()
    table = reaction_table(d)
    assert [row[:2] for row in table.rows] == [(m.mount, c) for m in d.mounts for c in d.cases]
    assert [row[-1] for row in table.rows].count("largest") == len(d.mounts)


def test_masses_add_up() -> None:
    d = designed()
    rows = {row[0]: float(row[3].split(" ± ")[0]) for row in mass_table(d).rows}
    parts = [kg for name, kg in rows.items() if name not in ("frame", "as solved") and "carried" not in name]
    assert sum(parts) == pytest.approx(rows["frame"], abs=0.005 * (len(parts) + 1))
    assert rows["frame"] == pytest.approx(d.made.frame.mass_kg, abs=0.005)
    # four modules of 14 kg and a box of 6 kg
    assert rows["carried: modules and box"] == pytest.approx(4 * 14 + 6, abs=0.011)


def test_sheets_line_by_line() -> None:
    d, text = designed(), text_of_report(solved_study())
    for sheet in d.sheets:
        table = sheet_table(sheet)
        assert [row[1] for row in table.rows] == [row.what for row in sheet.rows]
        assert [row[-1] for row in table.rows] == [row.clause for row in sheet.rows]
        for cells, row in zip(table.rows, sheet.rows, strict=True):
            assert float(cells[4].replace("−", "-")) == pytest.approx(row.value, rel=0.01, abs=5e-4)
        assert sheet.about in text
        assert f"Utilisation {sheet.utilisation:.3f}, 1 is the limit" in text
    weld = sheet_table(next(s for s in d.sheets if s.id == "frame.weld.worst"))
    assert "√(square² + along²)" in {row[2] for row in weld.rows}


def test_charts_tell_by_words_too_and_stay_on_the_page() -> None:
    d = designed()
    worst = max(use.utilisation for use in d.members)
    for chart in (utilisation_chart(d), case_chart(d)):
        said = [mark for mark in chart.marks if isinstance(mark, Words)]
        assert any(f"{worst:.2f}" in mark.text for mark in said)
        for mark in said:
            left, top, right, bottom = mark.box
            assert 0 <= left < right <= WIDTH, mark
            assert 0 <= top < bottom <= chart.height, mark
        for mark in chart.marks:
            if isinstance(mark, Stroke):
                assert all(0 <= x <= WIDTH and 0 <= y <= chart.height for x, y in mark.points)
    for name in d.cases:
        assert any(mark.text.startswith(name) for mark in case_chart(d).marks if isinstance(mark, Words))
    assert [look_of(u) for u in (0.0, 0.25, 0.26, 1.0, 1.001, 50.0)] == [
        "use-1", "use-1", "use-2", "use-4", "use-5", "use-5",
    ]  # fmt: skip


def test_figures_in_the_chart_do_not_lie_on_each_other() -> None:
    boxes = [m.box for m in utilisation_chart(designed()).marks if isinstance(m, Words)]
    for n, a in enumerate(boxes):
        assert not [b for b in boxes[:n] if a[0] < b[2] and b[0] < a[2] and a[1] < b[3] and b[1] < a[3]]


def test_bands_stay_apart_in_grey() -> None:
    """Lightness alone tells the bands up to the limit apart; what fails is the widest and has its own words."""
    style = report(study(), {})
    for shades in re.findall(r"--use-1: (#\w+); --use-2: (#\w+); --use-3: (#\w+); --use-4: (#\w+)", style):
        light = [
            sum(w * int(s[k : k + 2], 16) for w, k in ((0.299, 1), (0.587, 3), (0.114, 5))) for s in shades
        ]
        steps = np.diff(light)
        assert (np.abs(steps) > 20).all()
    widths = [
        float(re.findall(rf"\.{look} {{ [^}}]*stroke-width: ([\d.]+)", style)[0]) for _, look, _ in BANDS
    ]
    assert widths == sorted(set(widths))


def test_the_oblique_view_is_from_the_front_left_above() -> None:
    """What is nearer to the eye lies lower: left of the vehicle, and the front is to the left."""
    assert oblique((0, -100, 0))[1] > oblique((0, 100, 0))[1]
    assert oblique((-100, 0, 0))[0] < oblique((100, 0, 0))[0]
    assert oblique((0, 0, 100))[1] < oblique((0, 0, 0))[1]


def test_the_report_has_the_section_and_its_caution() -> None:
    text = text_of_report(solved_study())
    at = text.index("Strength of the frame")
    heads = ["The ten worst checks", "How far the tubes are used", "What the mounting points have to take", "Masses",
             "Mass against the number of different sections", "Calculation sheets"]  # fmt: skip
    places = [text.index(head, at) for head in heads]
    assert places == sorted(places)
    assert AID in text[at : places[0]]
    assert "The old body behind the mounting points was not computed" in text


def test_the_report_says_what_was_not_solved() -> None:
    for which in (study(), unsolved_study(), replace(study(), framed=None)):
        said = [block.text for block in structure(which) if hasattr(block, "text")]
        assert AID in said
        assert any(words.startswith("Not computed: the frame was not solved") for words in said)
    assert "states no load_cases" in text_of_report(unsolved_study())


def test_names_come_out_as_text() -> None:
    bad, done = '<img src=x onerror="alert(1)">', designed()
    hostile = replace(
        done,
        cases=(bad, *done.cases[1:]),
        members=tuple(replace(use, name=bad, load_case=bad) for use in done.members),
        mounts=tuple(replace(mount, mount=bad) for mount in done.mounts),
        carried=(bad,),
    )
    page = _Words(report(solved_study(hostile), {}))
    assert "img" not in page.tags
    assert " ".join(page.found).count(bad) > 40
