"""The desk's truth: revisions, history on disk, and figures equal to the command line's."""

import json
import os
import subprocess
import sys
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from packlayout.desk import operations as ops
from packlayout.desk.files import LAYOUT
from packlayout.desk.history import FILE, History
from packlayout.desk.numbers import Load, at_rest, moving
from packlayout.desk.session import Desk
from packlayout.desk.state import RefusedError
from packlayout.errors import InputError
from packlayout.inputs.layouts import read_layout, read_layout_case
from packlayout.mass.states import CONVERTED
from packlayout.mass.weigh import weigh
from packlayout.mass.weighing import State as Weighed
from packlayout.placement.verify import check_layout
from tests.desks import case_of, desk, layout
from tests.workshop_files import BRIEF_FILE, MOTOR

Make = Callable[..., Path]
FLOOR = """
load_floor: {begin_x: 1500, end_x: 2700, half_width: 500, height: 600}
seats: [{name: driver, at: [1200, -300, 700]}]
"""


def with_floor(workshop: Make) -> Path:
    root = workshop()
    file = root / "bays/corrow/vehicle.yaml"
    file.write_text(file.read_text() + FLOOR)
    return root


# by hand


def test_pushing_a_part_back_moves_its_share_of_the_rear_axle(workshop: Make) -> None:
    made = desk(workshop())
    before = made.rest.weighing.state(CONVERTED)
    made.begin(1, made.revision, "Hartle M30 motor")
    _, found = made.move(1, (280.0, -120.0, 400.0))
    # 38 kg pushed back by 100 mm of a wheelbase of 2300 mm
    rear = before.axle[1].value + 38 * 100 / 2300
    assert found.loads[0].axle[1].value == pytest.approx(rear, abs=1e-9)
    made.commit(1)
    assert made.rest.weighing.state(CONVERTED).axle[1].value == pytest.approx(rear, abs=1e-9)
    assert made.history.now.title == "moved Hartle M30 motor"


def test_a_drag_is_one_step_and_undo_and_redo_have_no_end(workshop: Make) -> None:
    made = desk(workshop())
    states = [made.state]
    for n in range(1, 31):
        made.begin(1, made.revision, "Wick 3 charger")
        for k in range(3):
            made.move(1, (2400.0 + n + k, -85.0, 350.0))
        made.commit(1)
        states.append(made.state)
    for state in reversed(states[:-1]):
        made.undo(made.revision)
        assert made.state == state
    with pytest.raises(RefusedError, match="nothing to undo"):
        made.undo(made.revision)
    for state in states[1:]:
        made.redo(made.revision)
        assert made.state == state
    with pytest.raises(RefusedError, match="nothing to do again"):
        made.redo(made.revision)


def test_two_tabs_do_not_overwrite_each_other(workshop: Make) -> None:
    made = desk(workshop())
    seen = made.revision
    made.begin(1, seen, "Hartle M30 motor")
    made.move(1, (200.0, -120.0, 400.0))
    made.edit(seen, "other tab", lambda case, s: ops.shift(case, s, "Wick 3 charger", (0.0, 5.0, 0.0)))
    after = made.state
    for late in (
        lambda: made.move(1, (210.0, -120.0, 400.0)),
        lambda: made.undo(seen),
        lambda: made.edit(seen, "late", lambda case, s: ops.turn(s, "Wick 3 charger", 1)),
        lambda: made.begin(2, seen, "Wick 3 charger"),
        lambda: made.move(1, (220.0, -120.0, 400.0)),
        lambda: made.commit(1),
    ):
        with pytest.raises(RefusedError, match="changed elsewhere"):
            late()
    with pytest.raises(RefusedError, match="nothing is held"):
        made.commit(1)
    assert made.state == after


def test_every_change_is_in_the_layout_file_at_once(workshop: Make) -> None:
    made = desk(workshop())
    made.edit(
        made.revision, "x", lambda case, s: ops.put(case, s, "Wick 3 charger", (2410.5, -80.25, 351.125))
    )
    read = read_layout(made.folder / LAYOUT, made.case)
    assert read == made.state.layout
    assert not list(made.folder.glob("*.tmp"))


def test_work_goes_on_where_it_was_left(workshop: Make) -> None:
    root = workshop()
    made = desk(root)
    made.edit(made.revision, "one", lambda case, s: ops.shift(case, s, "Wick 3 charger", (5.0, 0.0, 0.0)))
    one = made.state
    made.edit(made.revision, "two", lambda case, s: ops.lock(s, "pack block 1", True))
    made.undo(made.revision)
    # no farewell: the process is gone, and the last line was cut short
    with (made.folder / FILE).open("ab") as file:
        file.write(b'{"n":9,"from":2,"ti')
    again = desk(root, begun=False)
    assert again.resume()
    assert again.state == one
    assert (again.history.undo_title, again.history.redo_title) == ("one", "two")
    again.redo(again.revision)
    assert all(p.locked for p in again.state.layout.modules)
    third = desk(root, begun=False)
    assert third.resume()
    assert third.state == again.state


def test_a_layout_file_that_was_edited_by_hand_is_a_step_of_its_own(workshop: Make) -> None:
    root = workshop()
    made = desk(root)
    file = made.folder / LAYOUT
    file.write_text(file.read_text().replace("at: [2400, -85, 350]", "at: [2444, -85, 350]"))
    again = desk(root, begun=False)
    assert again.resume()
    assert ops.members(again.state.layout, "Wick 3 charger")[0].at == (2444.0, -85.0, 350.0)
    again.undo(again.revision)
    assert again.state.layout == layout()


def test_the_tray_keeps_a_layout_and_gives_it_back_as_a_step(workshop: Make) -> None:
    made = desk(workshop())
    kept = made.keep(made.state, "as it was", "by hand")
    made.edit(made.revision, "x", lambda case, s: ops.take_out(s, "Wick 3 charger"))
    made.take(made.revision, kept.number)
    assert made.state.layout == layout()
    made.undo(made.revision)
    assert len(made.state.out) == 1
    made.tray.discard(kept.number)
    with pytest.raises(RefusedError, match="no layout 1 on the tray"):
        made.take(made.revision, kept.number)


# reference: the functions of the command line


def test_at_rest_all_figures_are_those_of_weigh_and_check_layout(workshop: Make) -> None:
    made = desk(with_floor(workshop))
    weighing = weigh(made.case, made.state.layout, ())
    assert made.rest.weighing == weighing
    assert made.rest.checks == (*check_layout(made.case, made.state.layout), *weighing.checks)
    assert made.rest.payload is not None
    row = min(weighing.payload, key=lambda row: abs(row.x_mm - 2100))
    assert (made.rest.payload.allowed, made.rest.payload.bound_by) == (row.allowed_kg, row.bound_by)


def test_clearances_of_the_desk_judge_like_those_of_a_brief(workshop: Make) -> None:
    made = desk(workshop())
    wide = made.state.clearances.model_copy(update={"body_mm": 45.0})
    made.set_clearances(made.revision, wide)
    brief = made.case.brief.model_copy(update={"clearances": wide})
    expected = check_layout(replace(made.case, brief=brief), made.state.layout)
    assert made.rest.checks[: len(expected)] == expected
    assert any(c.verdict == "fail" for c in expected)


def _changed_by_hand(workshop: Make) -> Desk:
    """A desk with another motor of modules/ in it, and with clearances and aims of its own."""
    root = workshop({"modules/motor-31.yaml": MOTOR.replace("M30", "M31").replace("mass: 38", "mass: 41")})
    made = desk(root)
    made.exchange(made.revision, "Hartle M30 motor", "motor-31")
    made.set_clearances(made.revision, made.state.clearances.model_copy(update={"body_mm": 45.0}))
    made.set_aims(made.revision, made.state.aims.model_copy(update={"splitting": 2.5}))
    return made


def test_the_layout_file_carries_all_that_the_command_line_needs(workshop: Make) -> None:
    made = _changed_by_hand(workshop)
    case, given = read_layout_case(made.folder / LAYOUT, case_of(made.case.root))
    assert given.placements == made.state.layout.placements
    assert (case.brief.clearances, case.brief.aims) == (made.state.clearances, made.state.aims)
    assert weigh(case, given, ()) == made.rest.weighing
    found = check_layout(case, given)
    assert found == made.rest.checks[: len(found)]
    assert any(c.limit == 45.0 and c.verdict == "fail" for c in found)
    made.undo(made.revision)
    made.undo(made.revision)
    assert "clearances" not in (made.folder / LAYOUT).read_text()


@pytest.mark.slow
def test_the_command_line_gives_the_figures_of_the_desk(workshop: Make) -> None:
    made = _changed_by_hand(workshop)
    said = subprocess.run(
        [sys.executable, "-m", "packlayout.cli", "weigh", str(made.case.root / BRIEF_FILE), "--layout",
         str(made.folder / LAYOUT), "--json"],
        capture_output=True, text=True, check=False, env={**os.environ, "PYTHONPATH": os.pathsep.join(sys.path)},
    )  # fmt: skip
    assert said.returncode in (0, 1), said.stderr
    assert "motor-31, which the brief does not ask for" in said.stderr
    assert "states clearances and aims of its own" in said.stderr
    from packlayout.study import run

    study = run(made.judged_case, 0, made.state.layout)
    assert study.weighing is not None
    made.take_study(made.state, study)
    document = json.loads(said.stdout)
    told = next(s for s in document["states"] if s["name"] == CONVERTED)
    mine = made.rest.weighing.state(CONVERTED)
    assert [a["value"] for a in told["axle_kg"].values()] == pytest.approx(
        [a.value for a in mine.axle], abs=1e-6
    )
    assert told["mass_kg"]["value"] == pytest.approx(mine.mass.value, abs=1e-6)


# invariant


@pytest.fixture(scope="module")
def floored(tmp_path_factory: pytest.TempPathFactory) -> Desk:
    from tests.workshop_files import FILES

    root = tmp_path_factory.mktemp("desk")
    for name, text in FILES.items():
        file = root / name
        file.parent.mkdir(parents=True, exist_ok=True)
        file.write_text(text + (FLOOR if name.endswith("vehicle.yaml") else ""))
    return desk(root)


@settings(max_examples=40, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(
    target=st.sampled_from(["pack block 1", "module 4", "Hartle M30 motor", "Wick 3 charger"]),
    by=st.tuples(st.floats(-400, 400), st.floats(-300, 300), st.floats(-150, 300)),
)
def test_what_follows_the_hand_equals_what_stands(
    floored: Desk, target: str, by: tuple[float, float, float]
) -> None:
    made = floored
    state = ops.shift(made.case, made.state, target, by)
    quick = moving(made.case, state, target, made.rest)
    exact = at_rest(made.case, state, ())
    states = {s.name: s for s in exact.weighing.states}
    for load in quick.loads:
        whole = states.get(load.name) or exact.goods
        assert whole is not None
        assert _values(load) == pytest.approx(_values(whole), abs=1e-7)
    assert quick.payload is not None
    assert exact.payload is not None
    assert quick.payload.allowed.value == pytest.approx(exact.payload.allowed.value, abs=1e-7)
    checks = [c for c in check_layout(made.case, state.layout) if c.id.startswith("place.clear.")]
    found = {c.title: c.value for c in checks}
    for row in quick.near:
        if row.title in found and row.id.startswith("place.clear."):
            assert row.distance_mm == pytest.approx(found[row.title], abs=1.1e-3)
    # nothing that fails for the held thing is missing while it is held
    own = "pack block 1" if target.startswith("module") else target
    failing = [c for c in checks if c.verdict == "fail" and own in c.title]
    alone = {c.title for c in failing if not c.id.startswith("place.clear.parts")}
    assert alone <= {row.title for row in quick.near if row.verdict == "fail"}
    between = sorted(c.value for c in failing if c.id.startswith("place.clear.parts") and c.value is not None)
    held = sorted(
        r.distance_mm for r in quick.near if r.id.startswith("place.clear.parts") and r.verdict == "fail"
    )
    assert held == pytest.approx(between, abs=1.1e-3)


def _values(load: Load | Weighed) -> list[float]:
    return [figure.value for figure in (load.mass, *load.cg, *load.axle, *load.corner)]


# refusal


def test_a_spoilt_layout_file_is_told_at_its_line(workshop: Make) -> None:
    root = workshop()
    made = desk(root)
    file = made.folder / LAYOUT
    file.write_text(file.read_text().replace("zone: tank", "zone: tnak"))
    with pytest.raises(InputError, match=r"desk-layout.yaml:\d+: placements\[?.*zone: unknown zone 'tnak'"):
        desk(root, begun=False).resume()


def test_the_history_of_another_job_is_set_aside(tmp_path: Path) -> None:
    History(tmp_path / FILE, "one")
    text = (tmp_path / FILE).read_text()
    other = History(tmp_path / FILE, "two")
    assert other.at == 0
    assert (tmp_path / "desk-history-1.jsonl").read_text() == text
    assert json.loads((tmp_path / FILE).read_text())["about"] == "two"


def test_a_part_nobody_has_is_refused(workshop: Make) -> None:
    made = desk(workshop())
    with pytest.raises(
        RefusedError, match=r"no good part called '\.\./\.\./etc/passwd'; there are: charger, module, motor"
    ):
        made.exchange(made.revision, "Wick 3 charger", "../../etc/passwd")
    assert made.state.layout == layout()
    assert case_of(workshop()).parts.keys() == made.case.parts.keys()
