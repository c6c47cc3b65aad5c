"""Layout files, written by the program or by hand."""

from collections.abc import Callable
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from packlayout.errors import InputError
from packlayout.inputs.case import read_case
from packlayout.inputs.layouts import read_layout
from packlayout.model.brief import Case
from tests.workshop_files import BRIEF_FILE, FILES

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
        ("part: motor", "part: engine", "layout.yaml:5: placements.motor.part: the brief has no part 'engine'; "
         "allowed: "),
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


def test_no_such_file(case: Case) -> None:
    with pytest.raises(InputError, match=r"none\.yaml: no such file"):
        read_layout(case.root / "none.yaml", case)
