"""Layout files, written by the program or by hand."""

from collections.abc import Callable
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from packlayout.errors import InputError
from packlayout.inputs.case import read_case
from packlayout.inputs.layouts import read_layout, read_layout_case
from packlayout.model.brief import Aims, Case, Clearances
from tests.workshop_files import BRIEF_FILE, FILES, MODULE, MOTOR

LAYOUT = """\
vehicle: Corrow Two van
brief: first job
title: best for the front axle
placements:
  - {name: motor, part: motor, zone: bay, at: [200, -120, 320], up: "+z", turn: 90, locked: true}
  - {name: module 1, part: module, zone: bay, at: ["-10 in", -300, 320], block: 1}
  - {name: module 2, part: module, zone: bay, at: [-250, 50, 320], up: "+y", turn: 180, block: 1}
"""


@pytest.fixture
def case(workshop: Callable[..., Path]) -> Case:
    return read_case(workshop() / BRIEF_FILE)


def read(case: Case, text: str):  # type: ignore[no-untyped-def]
    file = case.root / "layout.yaml"
    file.write_text(text, encoding="utf-8")
    return read_layout(file, case)


def told(case: Case, old: str, new: str) -> list[str]:
    assert LAYOUT.count(old) >= 1
    with pytest.raises(InputError) as caught:
        read(case, LAYOUT.replace(old, new, 1))
    return [str(fault).replace(f"{case.root}/", "") for fault in caught.value.faults]


# ---- by hand


def test_modules_come_first(case: Case) -> None:
    layout = read(case, LAYOUT)
    assert layout.title == "best for the front axle"
    assert [placement.name for placement in layout.placements] == ["module 1", "module 2", "motor"]
    one, two, motor = layout.placements
    assert one.at == (-254, -300, 320)
    assert one.box.hi == (-254 + 300, -300 + 180, 320 + 120)
    assert two.box.size == pytest.approx((120, 300, 180))  # lies on its side: own y up
    assert motor.turn_deg == 90
    assert motor.locked
    assert motor.block is None


def test_a_part_of_modules_may_stand_in_place_of_one_of_the_brief(case: Case) -> None:
    other = MOTOR.replace("Hartle M30 motor", "Hartle M31 motor").replace("mass: 38", "mass: 41")
    (case.root / "modules/motor-31.yaml").write_text(other)
    file = case.root / "layout.yaml"
    file.write_text(LAYOUT.replace("part: motor", "part: motor-31"), encoding="utf-8")
    with_it, layout = read_layout_case(file, case)
    assert "motor-31" not in case.parts
    assert with_it.parts["motor-31"].mass_kg.value == 41
    assert layout.placements[2].part == "motor-31"
    assert "modules/motor-31.yaml" in dict(with_it.inputs)
    assert with_it.notes[-1] == f"{file} places motor-31, which the brief does not ask for"


def test_clearances_and_aims_of_a_layout_hold_in_place_of_the_briefs(case: Case) -> None:
    own = "clearances: {body: 0.5 in, parts: 6}\naims: {splitting: 2}\nplacements:"
    file = case.root / "layout.yaml"
    file.write_text(LAYOUT.replace("placements:", own), encoding="utf-8")
    judged, layout = read_layout_case(file, case)
    assert judged.brief.clearances == Clearances(body_mm=12.7, parts_mm=6)
    assert judged.brief.aims == Aims(splitting=2)
    assert (layout.clearances, layout.aims) == (judged.brief.clearances, judged.brief.aims)
    assert judged.notes[-1] == (
        "layout.yaml states clearances and aims of its own: they hold in place of the brief's"
    )
    plain, _ = read_layout_case(_plain(case), case)
    assert plain is case


def _plain(case: Case) -> Path:
    file = case.root / "plain.yaml"
    file.write_text(LAYOUT, encoding="utf-8")
    return file


# ---- invariant


@settings(max_examples=60, deadline=None)
@given(data=st.data())
def test_any_edited_layout_is_read_or_refused(
    data: st.DataObject, tmp_path_factory: pytest.TempPathFactory
) -> None:
    root = tmp_path_factory.getbasetemp() / "layout-fuzz"
    for name, text in FILES.items():
        (root / name).parent.mkdir(parents=True, exist_ok=True)
        (root / name).write_text(text, encoding="utf-8")
    case = read_case(root / BRIEF_FILE)
    cut = data.draw(st.integers(0, len(LAYOUT)))
    junk = data.draw(
        st.text(max_size=8) | st.sampled_from(["[", "{", "*a", "-1", ": ", "\n", "block: 2", "null"])
    )
    try:
        layout = read(case, LAYOUT[:cut] + junk + LAYOUT[cut + data.draw(st.integers(0, 12)) :])
    except InputError as error:
        faults = error.faults
    else:
        assert len({placement.name for placement in layout.placements}) == len(layout.placements)
        return
    assert all(fault.found for fault in faults)


# ---- refusal


@pytest.mark.parametrize(
    ("old", "new", "fault"),
    [
        ("zone: bay", "zone: by", "layout.yaml:5: placements.motor.zone: unknown zone 'by'; allowed: bay, tank; "
         "did you mean 'bay'?"),
        ("part: motor", "part: engine", "layout.yaml:5: placements.motor.part: neither the brief nor modules/ has a "
         "part 'engine'; allowed: "),
        ("name: module 2", "name: module 1", "layout.yaml:7: placements.module 1.name: a second placement called "
         "'module 1'; allowed: each name once"),
        ('up: "+z"', "up: -z", "layout.yaml:5: placements.motor.up: 'motor' may not stand with -z up; allowed: +z"),
        (", block: 1", "", "layout.yaml:6: placements.module 1.block: a battery module without a block; allowed: "
         "the number of its block, from 1"),
        ("locked: true", "block: 1", "layout.yaml:5: placements.motor.block: a block for a motor; allowed: no block"),
        ("turn: 90", "turn: 45", "layout.yaml:5: placements.motor.turn: 45 is not a quarter turn; "
         "allowed: 0, 90, 180, 270"),
        ("turn: 90", "turn: true", "layout.yaml:5: placements.motor.turn: True is not a quarter turn"),
        ("vehicle: Corrow Two van", "vehicle: Corrow One van", "layout.yaml:1: vehicle: a layout for "
         "'Corrow One van'; allowed: Corrow Two van"),
        ("locked: true", "lokced: true", "layout.yaml:5: placements.motor.lokced: unknown field 'lokced'; allowed: "
         "name, part, zone, at, up, turn, block, locked; did you mean 'locked'?"),
        ("placements:", "placement:", "layout.yaml:1: placements: missing; allowed: "),
        ("at: [200, -120, 320]", "at: [200, -120]", "layout.yaml:5: placements.motor.at: [200, -120] is not a point"),
    ],
)  # fmt: skip
def test_refused(case: Case, old: str, new: str, fault: str) -> None:
    found = told(case, old, new)
    assert [line for line in found if line.startswith(fault)], found


def test_another_module_than_the_briefs_and_a_part_with_faults_are_told(case: Case) -> None:
    (case.root / "modules/module-b.yaml").write_text(MODULE)
    (case.root / "modules/spoilt.yaml").write_text(MOTOR.replace("mass: 38", "mass: -38"))
    (line,) = told(case, "part: module,", "part: module-b,")
    assert line == (
        "layout.yaml:6: placements.module 1.part: 'module-b' is another module than the brief's; allowed: module; "
        "modules are asked for in the brief"
    )
    (line,) = told(case, "part: motor", "part: spoilt")
    assert "modules/spoilt.yaml" in line
    assert "mass" in line


def test_a_clearance_that_cannot_be_is_told_at_its_line(case: Case) -> None:
    (line,) = told(case, "placements:", "clearances: {body: -5}\nplacements:")
    assert line.startswith("layout.yaml:4: clearances.body: ")


def test_no_such_file(case: Case) -> None:
    with pytest.raises(InputError, match=r"none\.yaml: no such file"):
        read_layout(case.root / "none.yaml", case)
