"""The tray of layouts on disk, and the whole calculations that frame and cables are drawn from."""

import json
from collections.abc import Callable
from dataclasses import replace
from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from packlayout.desk import operations as ops
from packlayout.desk.drawn_view import drawn_view, groups, run_view, thinned_line
from packlayout.desk.state import RefusedError, State, state_json
from packlayout.desk.studies import Studies
from packlayout.desk.tray import FILE, MOST, Tray
from packlayout.desk.view import state_view, tray_view
from packlayout.drive.drive import Driving, Range
from packlayout.drive.road import Used
from packlayout.units import Measured
from tests.desks import desk, study_of

Make = Callable[..., Path]


# by hand


def test_the_tray_is_there_again_after_the_desk_was_closed(workshop: Make) -> None:
    root = workshop()
    made = desk(root)
    made.keep(made.state, "as it was", "by hand")
    pushed = ops.shift(made.case, made.state, "Wick 3 charger", (15.0, 0.0, 0.0))
    made.keep(pushed, "pushed", "search", 0.25)
    made.tray.discard(1)
    again = desk(root, begun=False)
    assert again.resume()
    (kept,) = again.tray.layouts.values()
    assert (kept.number, kept.title, kept.source, kept.score) == (2, "pushed", "search", 0.25)
    assert kept.state == pushed
    assert again.kept_rest(kept).weighing == made.kept_rest(made.tray.get(2)).weighing
    # a number is never given twice, so that two tabs mean the same layout by it
    again.tray.discard(2)
    assert again.keep(pushed, "once more", "by hand").number == 3
    assert desk(root, begun=False).keep(pushed, "and more", "by hand").number == 4
    assert not list(made.folder.glob("*.tmp"))


def test_the_best_layout_of_the_searches_is_marked(workshop: Make) -> None:
    made = desk(workshop())
    for score in (0.5, 0.25, 0.75):
        made.keep(made.state, "found", "search", score)
    made.keep(made.state, "mine", "by hand")
    assert [row["best"] for row in tray_view(made)["layouts"]] == [False, True, False, False]


def test_cables_are_out_of_date_once_a_part_has_moved_and_no_longer_when_it_is_undone(workshop: Make) -> None:
    made = desk(workshop())
    bare = made.rest.weighing.state("converted kerb").mass.value
    assert drawn_view(made)["number"] == 0
    assert made.take_study(made.state, study_of(made))
    assert made.rest.weighing.state("converted kerb").mass.value == pytest.approx(bare + 2.0)
    view = state_view(made)
    assert (view["drawn"], view["outdated"], view["whole"], view["made_kg"]) == (1, [], True, 2.0)
    made.edit(made.revision, "lock", lambda _, s: ops.lock(s, "Hartle M30 motor", True))
    assert state_view(made)["outdated"] == []
    assert made.study is not None
    made.edit(made.revision, "x", lambda case, s: ops.shift(case, s, "module 1", (0.0, 0.0, 5.0)))
    made.set_aims(made.revision, made.state.aims.model_copy(update={"splitting": 3.0}))
    view = state_view(made)
    assert (view["drawn"], view["outdated"], view["whole"]) == (1, ["pack block 1", "aims"], False)
    assert view["made_kg"] == 2.0
    made.edit(made.revision, "y", lambda _, s: ops.take_out(s, "Wick 3 charger"))
    assert state_view(made)["outdated"] == ["pack block 1", "Wick 3 charger", "aims"]
    assert made.take_study(made.state, study_of(made, 3.0))
    assert (state_view(made)["drawn"], state_view(made)["made_kg"]) == (2, 3.0)
    for _ in range(3):
        made.undo(made.revision)
    view = state_view(made)
    assert (view["drawn"], view["outdated"], view["made_kg"]) == (1, [], 2.0)


def test_a_calculation_that_comes_late_is_drawn_and_marked(workshop: Make) -> None:
    made = desk(workshop())
    before = made.state
    late = study_of(made)
    made.edit(made.revision, "x", lambda case, s: ops.shift(case, s, "Wick 3 charger", (5.0, 0.0, 0.0)))
    assert not made.take_study(before, late)
    view = state_view(made)
    assert (view["drawn"], view["outdated"], view["whole"]) == (1, ["Wick 3 charger"], False)


def test_a_cable_is_told_with_its_line_and_its_figures(workshop: Make) -> None:
    made = desk(workshop())
    study = study_of(made)
    made.take_study(made.state, study)
    (run,) = drawn_view(made)["runs"]
    assert (run["name"], run["kind"], run["diameter_mm"], run["blocked"]) == ("charger lead", "HV", 20.0, "")
    assert run["points"][0] == [2400.0, 0.0, 350.0]
    assert run["points"][-1] == [2500.0, 200.0, 350.0]
    # 60 mm straight, a quarter of a circle of 40 mm, 160 mm straight
    assert run["length_mm"] == pytest.approx(60 + 160 + np.pi / 2 * 40, abs=1e-6)
    steps = np.linalg.norm(np.diff(np.array(run["points"]), axis=0), axis=1).sum()
    assert steps == pytest.approx(run["length_mm"], abs=0.5)
    rows = {row["name"]: row for group in groups(study) for row in group["rows"]}
    assert rows["Cables and hoses"]["value"] == [2.0, 0.1]
    assert rows["High-voltage cable"]["value"][0] == pytest.approx(run["length_mm"] / 1000)


def test_range_is_told_as_the_calculation_has_it(workshop: Make) -> None:
    made = desk(workshop())
    used = Used("round", 10.0, 30.0, 1.5, 0.15, 0.1, 0.0)
    trip = Range("round", used, Measured(101.4, 8.3), 80.6, 95.2)
    driving = Driving(None, (), (trip,), None, None, None, (), ())
    (group,) = [g for g in groups(replace(study_of(made), driving=driving)) if g["title"].startswith("Range")]
    assert group["rows"] == [
        {
            "name": "Range, round", "value": [101.4, 8.3], "unit": "km", "places": 0,
            "note": "with the heater 81, fully laden 95 km",
        }
    ]  # fmt: skip


# invariant


@given(st.lists(st.tuples(*[st.integers(-500, 500)] * 3), min_size=2, max_size=30, unique=True))
def test_a_thinned_line_keeps_its_ends_and_its_corners(corners: list[tuple[int, int, int]]) -> None:
    points = np.array(corners, dtype=float)
    dense = np.concatenate([np.linspace(a, b, 9)[:-1] for a, b in pairwise(points)])
    dense = np.vstack([dense, points[-1]])
    thin = thinned_line(dense)
    assert (thin[0] == points[0]).all()
    assert (thin[-1] == points[-1]).all()
    length = np.linalg.norm(np.diff(points, axis=0), axis=1).sum()
    assert np.linalg.norm(np.diff(thin, axis=0), axis=1).sum() == pytest.approx(length, rel=1e-2, abs=0.5)


def test_only_the_last_few_calculations_are_kept(workshop: Make) -> None:
    made = desk(workshop())
    kept = Studies()
    states: list[State] = []
    for n in range(20):
        states.append(ops.shift(made.case, made.state, "Wick 3 charger", (float(n), 0.0, 0.0)))
        kept.take(states[-1], study_of(made))
    assert [kept.of(s) is not None for s in states] == [False] * 8 + [True] * 12


# refusal


def test_a_full_tray_takes_no_more(workshop: Make) -> None:
    made = desk(workshop())
    for _ in range(MOST):
        made.keep(made.state, "one more", "by hand")
    with pytest.raises(RefusedError, match="no more than 40 layouts: discard some first"):
        made.keep(made.state, "too many", "by hand")
    assert len(json.loads((made.folder / FILE).read_text())["layouts"]) == MOST


@pytest.mark.parametrize(
    "text", ["", "{", "[]", '{"format":1,"about":"another job","layouts":[]}', '{"format":9}']
)
def test_a_file_that_is_no_tray_of_this_job_is_set_aside(workshop: Make, text: str) -> None:
    root = workshop()
    made = desk(root)
    (made.folder / FILE).write_text(text)
    again = Tray(made.folder / FILE, "this job")
    assert again.layouts == {}
    assert (made.folder / "desk-tray-1.json").read_text() == text
    again.add(made.state, "new", "by hand")
    assert (made.folder / FILE).is_file()


def test_a_layout_whose_part_is_gone_can_be_discarded_and_nothing_else(workshop: Make) -> None:
    root = workshop()
    made = desk(root)
    kept = made.keep(made.state, "as it was", "by hand")
    document = json.loads((made.folder / FILE).read_text())
    assert document["layouts"][0]["state"] == json.loads(json.dumps(state_json(made.state)))
    document["layouts"][0]["state"]["placements"][5]["part"] = "gone"
    (made.folder / FILE).write_text(json.dumps(document))
    again = desk(root, begun=False)
    assert again.resume()
    (row,) = tray_view(again)["layouts"]
    assert "modules/ holds no good part called 'gone'" in row["fault"]
    with pytest.raises(RefusedError, match="gone"):
        again.take(again.revision, kept.number)
    again.tray.discard(kept.number)
    assert tray_view(again)["layouts"] == []


def test_a_run_without_a_way_says_why(workshop: Make) -> None:
    from packlayout.space.routes import NoRoute

    made = desk(workshop())
    wiring = study_of(made).wiring
    assert wiring is not None
    blocked = NoRoute(12.0, (1.0, 2.0, 3.0), "the bulkhead", "no room")
    view = run_view(replace(wiring.runs[0], line=None, blocked=blocked))
    assert view["points"] == []
    assert (view["blocked"], view["at"]) == ("no room, near the bulkhead", [1.0, 2.0, 3.0])
