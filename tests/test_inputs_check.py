"""Reading whatever one is pointed at."""

from collections.abc import Callable
from pathlib import Path

import pytest

from packlayout.inputs.check import check_paths
from tests.test_inputs_layouts import LAYOUT
from tests.workshop_files import BRIEF, BRIEF_FILE, CODE, MOTOR, VEHICLE, VEHICLE_FILE

Workshop = Callable[..., Path]


def told(*paths: Path) -> list[str]:
    root = next(parent for path in paths for parent in (path, *path.parents) if parent.name == "shop")
    return [str(fault).replace(f"{root}/", "") for fault in check_paths(list(paths))[0]]


# ---- by hand


def test_a_workshop_without_faults(workshop: Workshop) -> None:
    root = workshop({"bays/corrow/layout-mine.yaml": LAYOUT, "exports/corrow-first/layout-1.yaml": LAYOUT})
    assert check_paths([root]) == ([], [])
    assert check_paths([root / "modules", root / VEHICLE_FILE, root / "exports"]) == ([], [])


def test_what_a_file_is_follows_from_its_place(workshop: Workshop) -> None:
    root = workshop({
        "modules/bad.yaml": MOTOR.replace("mass: 38", "mass: -38"),
        "bays/other/vehicle.yaml": VEHICLE.replace("thread: M10", "thread: M99", 1),
        "bays/other/job.yaml": BRIEF.replace("[tank]", "[boot]"),
        "bays/other/second.yaml": VEHICLE.replace("fuel: 20 +/- 2", "fuel: -20"),
        "bays/other/kept.yaml": LAYOUT.replace("turn: 90", "turn: 91"),
        "shared/tubes.yaml": "source: none\nsections: []\n",
        "shared/design-codes/odd.yaml": CODE.replace("max", "most"),
    })  # fmt: skip
    found = told(root)
    assert [line.split(": ")[0] for line in found] == [
        "bays/other/job.yaml:6",
        "bays/other/kept.yaml:5",
        "bays/other/second.yaml:10",
        "bays/other/vehicle.yaml:17",
        "modules/bad.yaml:5",
        "shared/design-codes/odd.yaml:4",
        "shared/tubes.yaml:2",
    ]


def test_a_fault_seen_from_two_files_is_told_once(workshop: Workshop) -> None:
    root = workshop({VEHICLE_FILE: VEHICLE.replace("fuel: 20 +/- 2", "fuel: -20")})
    assert len(told(root, root / BRIEF_FILE)) == 1


def test_a_file_of_no_known_kind_is_noted(workshop: Workshop) -> None:
    root = workshop({"bays/corrow/photos/list.yaml": "a: 1\n"})
    faults, notes = check_paths([root])
    assert faults == []
    assert len(notes) == 1
    assert notes[0].endswith("list.yaml: read as YAML only: no part, vehicle, brief or table has this place")


# ---- refusal


def test_paths_that_are_none(workshop: Workshop, tmp_path: Path) -> None:
    root = workshop({"modules/motor.yml": MOTOR})
    faults, _ = check_paths([root / "none.yaml", root, tmp_path / "elsewhere.yaml"])
    assert [fault.found for fault in faults] == [
        "is in no workshop folder",
        "a .yml file",
        "no such file or folder",
    ]


def test_a_design_code_that_no_brief_names_is_read_too(workshop: Workshop) -> None:
    root = workshop({"shared/design-codes/spare.yaml": CODE.replace("value: 110", "value: lots")})
    assert told(root)[0].startswith("shared/design-codes/spare.yaml:4: limits[1].value: cannot read 'lots'")


@pytest.mark.parametrize("name", ["modules/motor.yaml", VEHICLE_FILE, BRIEF_FILE, "shared/conventions.yaml"])
def test_an_empty_file_is_told_once(workshop: Workshop, name: str) -> None:
    root = workshop({name: ""})
    assert told(root / name) == [f"{name}:1: the file is empty; allowed: `field: value` lines"]
