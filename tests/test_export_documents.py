"""JSON: plain values in the shape that others rely on."""

import json
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from packlayout.export.documents import (
    export_json,
    fit_json,
    frame_json,
    place_json,
    text_of,
    weigh_json,
    write_checks,
)  # fmt: skip
from packlayout.export.pack import Written
from packlayout.export.plain import check_json
from packlayout.model.check import Check, judge, unknown
from packlayout.units import Measured
from tests.studies import study

STUDY = study()
BARE = replace(STUDY, placed=None, layout=None, framed=None, weighing=None, checks=())


def _only_plain(value: Any) -> None:
    if isinstance(value, dict):
        for key, member in value.items():
            assert type(key) is str
            _only_plain(member)
    elif isinstance(value, list):
        for member in value:
            _only_plain(member)
    else:
        assert value is None or type(value) in (str, bool, int, float), type(value)


def test_a_check_by_hand() -> None:
    found = judge(
        "axle.rear.max",
        "Rear axle",
        Measured(571.25, 9.0),
        640.0,
        "max",
        "kg",
        "plate",
        where=(1.0, 2.0, 3.0),
    )
    assert check_json(found) == {
        "id": "axle.rear.max", "title": "Rear axle", "value": 571.25, "tolerance": 9.0, "limit": 640.0,
        "sense": "max", "unit": "kg", "margin": 68.75, "verdict": "pass", "confidence": 1.0, "basis": "plate",
        "note": "", "where_mm": [1.0, 2.0, 3.0],
    }  # fmt: skip
    missing = check_json(unknown("a", "A", "kg", "plate", "no tyre load"))
    assert [missing[key] for key in ("value", "limit", "margin", "confidence", "verdict", "where_mm")] == [
        None, None, None, None, "unknown", None,
    ]  # fmt: skip


def test_place_by_hand() -> None:
    found = place_json(STUDY, elapsed_s=1.5)
    assert [(one["file"], one["count"], one["energy_kwh"]) for one in found["layouts"]] == [
        ("layout-1.yaml", 10, 24.0), ("layout-2.yaml", 10, 24.0),
    ]  # fmt: skip
    assert found["layouts"][0]["objectives"] == {"front_axle_change_kg": -16.7, "cg_height_mm": 531.0}
    assert found["layouts"][0]["placements"][0] == {
        "name": "module 1", "part": "marsh-module-12", "zone": "engine bay",
        # turned a quarter, the own origin is at the right end of the width
        "origin_mm": [-100.0, -195.0, 385.0], "rotation": [[0.0, -1.0, 0.0], [1.0, 0.0, 0.0], [0.0, 0.0, 1.0]],
        "size_mm": [390.0, 150.0, 110.0],
        "box_mm": {"min": [-250.0, -195.0, 385.0], "max": [-100.0, 195.0, 495.0]},
        "up": "+z", "turn": 90, "block": 1, "locked": False,
    }  # fmt: skip
    count = found["count"]
    assert (count["wanted"], count["packed"], count["upper_bound"], count["proven"]) == (10, 10, 12, True)
    assert (found["why_not_more"], found["seed"], found["elapsed_s"]) == ([], 1, 1.5)
    assert [check["id"] for check in found["checks"]] == ["count.modules"]


def test_box_and_pose_say_the_same() -> None:
    for one in place_json(STUDY)["layouts"][0]["placements"]:
        corner = np.array(one["origin_mm"]) + np.array(one["rotation"]) @ np.array(one["size_mm"])
        lo, hi = np.minimum(one["origin_mm"], corner), np.maximum(one["origin_mm"], corner)
        assert lo.tolist() == pytest.approx(one["box_mm"]["min"])
        assert hi.tolist() == pytest.approx(one["box_mm"]["max"])


def test_weigh_by_hand() -> None:
    found = weigh_json(STUDY)
    state = found["states"][0]
    assert state["name"] == "original kerb"
    assert state["mass_kg"] == {"value": 979.0, "tolerance": pytest.approx(4.2)}
    assert state["axle_kg"]["rear"] == {"value": 465.0, "tolerance": 3.0}
    assert list(state["corner_kg"]) == ["front_left", "front_right", "rear_left", "rear_right"]
    assert state["cg_mm"]["tolerance"] == [6.0, 5.0, 25.0]
    assert state["inertia_kg_m2"]["value"] == [390.0, 1480.0, 1630.0]
    assert found["change"]["axle_kg"]["front"]["value"] == -16.7
    assert found["payload"][1] == {"x_mm": 2600.0, "allowed_kg": {"value": 229.0, "tolerance": 7.0},
                                   "bound_by": "rear axle plate"}  # fmt: skip
    assert [item["name"] for item in found["ledger"]["removed"]] == ["engine"]
    assert found["ledger"]["removed"][0]["position_mm"] == {
        "value": [60.0, 0.0, 560.0],
        "tolerance": [20.0, 0.0, 20.0],
    }
    assert len(found["ledger"]["added"]) == 1 + 17 + 13
    assert found["ledger"]["other"] == []


def test_frame_by_hand() -> None:
    found = frame_json(STUDY)
    post = next(member for member in found["members"] if member["name"] == "cradle 1 post")
    assert post["ends_mm"] == [[-265.0, -210.0, 385.0], [-265.0, -210.0, 600.0]]
    assert (post["section"], post["length_mm"], post["longest_mm"]) == ("SHS 30x2", 215.0, 215.0)
    assert post["mass_kg"]["value"] == pytest.approx(213.7 * 215 * 7850e-9)
    pieces = [*found["members"], *found["plates"]]
    assert found["mass_kg"]["value"] == pytest.approx(sum(piece["mass_kg"]["value"] for piece in pieces))
    assert found["mass_kg"]["tolerance"] == pytest.approx(
        sum(piece["mass_kg"]["tolerance"] for piece in pieces)
    )
    assert found["plates"][0]["holes_mm"][1] == {"x": 90.0, "y": 30.0, "diameter": 11.0}
    assert [mount["name"] for mount in found["mounts"]] == ["engine mount left", "engine mount right"]


def test_what_was_not_computed_is_null_and_said() -> None:
    found = frame_json(STUDY)
    assert [found[key] for key in ("joints", "model", "first_frequency_hz")] == [None, None, None]
    assert found["members"][0]["utilisation"] is None
    assert found["mounts"][0]["reactions"] is None
    assert "strength of the frame and of its welds" in found["not_done"]
    bare = weigh_json(BARE)
    assert [bare[key] for key in ("states", "change", "payload", "ledger", "checks")] == [None] * 5
    assert frame_json(BARE)["members"] is None
    assert place_json(BARE)["layouts"] == []
    assert place_json(BARE)["count"]["packed"] == 0


def test_a_layout_of_the_user_has_no_bound() -> None:
    found = place_json(replace(STUDY, placed=None))
    assert len(found["layouts"]) == 1
    assert found["layouts"][0]["objectives"] is None
    assert found["count"] == {
        "wanted": 10,
        "packed": 10,
        "upper_bound": None,
        "proven": None,
        "bound_basis": None,
    }
    assert [check["id"] for check in found["checks"]] == ["count.modules"]


@pytest.mark.parametrize("which", [STUDY, BARE, replace(STUDY, placed=None), replace(STUDY, framed=None)])
def test_plain_values_only(which: Any) -> None:
    document = fit_json(which, [Written(Path("exports/a/layout-1.yaml"), "layout", "0" * 64)])
    _only_plain(document)
    assert json.loads(text_of(document)) == document
    assert document["files"] == [{"path": "exports/a/layout-1.yaml", "kind": "layout", "sha256": "0" * 64}]
    assert export_json([]) == {"files": []}


def test_figures_of_numpy_become_plain() -> None:
    odd = Check(
        "a", "A", np.float64(1.5), np.float32(0.5), np.int64(2), "max", "kg", float("nan"), "pass", -0.0, "b"
    )  # type: ignore[arg-type]
    found = check_json(odd)
    _only_plain(found)
    assert (found["value"], found["tolerance"], found["limit"], found["margin"]) == (1.5, 0.5, 2, None)
    assert text_of({"a": found["confidence"]}) == '{\n "a": 0.0\n}\n'


def test_checks_file(tmp_path: Path) -> None:
    made = write_checks(STUDY, tmp_path, ("pictures left out: no screen",))
    found = json.loads(made.files[0].read_text(encoding="utf-8"))
    assert len(found["checks"]) == 6
    assert found["checks"][0]["verdict"] == "fail"
    assert found["left_out"] == ["pictures left out: no screen"]
    assert found["inputs"][0] == {"path": "bays/heron-estate/vehicle.yaml", "sha256": "1" * 64}
    assert found["not_done"] == list(STUDY.not_done)
