"""Layout files: written for people, read back exactly."""

from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from ruamel.yaml import YAML

from packlayout.export.layout_file import SCHEMA_LINE, layout_text, write_layouts
from packlayout.inputs.layouts import read_layout
from packlayout.model.brief import Aims, Clearances
from packlayout.model.layout import Layout, Placement
from packlayout.study import Study
from tests.studies import study

STUDY = study()


def parsed(text: str) -> dict[str, Any]:
    return YAML(typ="safe", pure=True).load(text)


def test_by_hand() -> None:
    motor = Placement("motor", "fen-motor-80", "engine bay", (340.0, -120.25, 1 / 3), "+z", 270,
                      (320.0, 240.0, 240.0), None, True)  # fmt: skip
    text = layout_text(STUDY, Layout((motor,), "lowest centre of gravity"))
    lines = text.splitlines()
    assert lines[0] == SCHEMA_LINE
    assert lines[0].startswith("# yaml-language-server: $schema=")
    body = [line for line in lines if line and not line.startswith("#")]
    assert body == [
        "vehicle: Heron Estate",
        "brief: Piano tuner",
        "title: lowest centre of gravity",
        "placements:",
        "  - name: motor",
        "    part: fen-motor-80",
        "    zone: engine bay",
        "    at: [340, -120.25, 0.333333]",
        '    up: "+z"',
        "    turn: 270",
        "    locked: true",
    ]


def test_one_file_for_each_layout(tmp_path: Path) -> None:
    made = write_layouts(STUDY, tmp_path, ())
    assert [path.name for path in made.files] == ["layout-1.yaml", "layout-2.yaml"]
    assert parsed(made.files[1].read_text(encoding="utf-8"))["title"] == "lowest centre of gravity"


def test_the_reader_gives_the_same_layout_back(tmp_path: Path) -> None:
    file = write_layouts(STUDY, tmp_path, ()).files[0]
    assert read_layout(file, STUDY.case) == STUDY.layout


def test_clearances_and_aims_of_a_layouts_own_come_back(tmp_path: Path) -> None:
    assert STUDY.layout is not None
    own = replace(
        STUDY.layout, clearances=Clearances(body_mm=12.5, surface="95 %"), aims=Aims(front_target_kg=512.25)
    )
    given_one = replace(STUDY, placed=None, layout=own)
    file = write_layouts(given_one, tmp_path, ()).files[0]
    assert (
        'clearances: {body: 12.5, parts: 10, moving: 25, hot: 50, surface: "95 %"}  # in place of the brief\'s'
        in file.read_text(encoding="utf-8")
    )
    assert read_layout(file, STUDY.case) == own


def test_a_given_layout_is_the_only_one(tmp_path: Path) -> None:
    given_one = replace(STUDY, placed=None)
    assert len(write_layouts(given_one, tmp_path, ()).files) == 1


def test_nothing_placed(tmp_path: Path) -> None:
    made = write_layouts(replace(STUDY, placed=None, layout=None), tmp_path, ())
    assert made.files == ()
    assert made.notes == ("no layout written: nothing was placed",)


NAMES = st.text(min_size=1, max_size=40).filter(lambda s: s.isprintable() or "\n" in s) | st.sampled_from(
    [
        "no",
        "Null",
        "1e3",
        "12 V battery",
        "- a",
        "a: b",
        "#x",
        "<b>",
        "~",
        "2001-01-01",
        "=",
        "\u2028",
        "\x85",
        "é\t",
    ]
)


@given(
    name=NAMES, title=st.text(st.characters(exclude_categories=["Cs"]), max_size=40),
    at=st.tuples(*[st.floats(-20_000, 20_000)] * 3), turn=st.sampled_from([0, 90, 180, 270]),
    up=st.sampled_from(["+x", "-x", "+y", "-y", "+z", "-z"]), locked=st.booleans(),
    block=st.none() | st.integers(1, 9),
)  # fmt: skip
def test_what_is_written_is_read(
    name: str, title: str, at: tuple[float, float, float], turn: int, up: Any, locked: bool, block: int | None
) -> None:
    one = Placement(name, "fen-motor-80", "engine bay", at, up, turn, (1.0, 1.0, 1.0), block, locked)
    found = parsed(layout_text(STUDY, Layout((one,), title)))
    assert found["title"] == title
    (row,) = found["placements"]
    assert row["at"] == pytest.approx(at, abs=6e-7)
    assert (row["name"], row["up"], row["turn"], row["locked"]) == (name, up, turn, locked)
    assert row.get("block") == block


def _with_names(name: str) -> Study:
    car = STUDY.case.vehicle.model_copy(update={"name": name})
    return replace(STUDY, case=replace(STUDY.case, vehicle=car))


@pytest.mark.parametrize("name", ["yes", "a'b\"c\\d", "- [x]", "%TAG", "&a *b", "1_000", "0x1F", "1:30"])
def test_awkward_names_stay_text(name: str) -> None:
    assert parsed(layout_text(_with_names(name), Layout(())))["vehicle"] == name
