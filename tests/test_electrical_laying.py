"""Taking up and laying again: runs that stand in one another's way in a room too low for one to cross another."""

from dataclasses import replace

import numpy as np
import pytest

from packlayout.electrical.cables import Run
from packlayout.electrical.laying import lay
from packlayout.electrical.wanted import Wanted
from packlayout.model.geometry import Box
from packlayout.space.course import Barrier, Course
from packlayout.space.ends import End
from packlayout.space.envelope import box_mesh
from packlayout.space.fields import course
from tests.wiring_tables import pack_job

CASE, _ = pack_job(4)
HIGH = 44.0
GAP_MM = 4.0


def room(*slits: tuple[float, float]) -> Course:
    """900 x 600 mm and 44 mm high, parted at x 440 to 460 by a wall with slits: middle of each, and how wide."""
    edges = [0.0, *(y + side * wide / 2 for y, wide in sorted(slits) for side in (-1, 1)), 600.0]
    walls = [
        Barrier(f"wall {k}", box_mesh(Box((440, a, 0), (460, b, HIGH))), GAP_MM)
        for k, (a, b) in enumerate(zip(edges[::2], edges[1::2], strict=True), start=1)
    ]
    return course([("room", box_mesh(Box((0, 0, 0), (900, 600, HIGH))), GAP_MM)], (), walls, 5.0)


def across(name: str, y: float, **more: object) -> Wanted:
    """A run from one side of the room straight to the other."""
    ends = [
        End(f"{name} {k}", "port", (x, y, HIGH / 2), (way, 0, 0), True)
        for k, x, way in ((1, 0, 1), (2, 900, -1))
    ]
    fields: dict[str, object] = {"kind": "coolant", "cores": 0, **more}
    return Wanted(name, start=ends[0], goal=ends[1], **fields)  # type: ignore[arg-type]


CABLE = across("cable", 260.0, kind="HV", cores=1, load_a=280.0, peak_a=280.0, volts=300.0)
"""95 mm2: 19 mm thick and bent no tighter than 86 mm, so it is laid first."""
HOSE = across("hose", 300.0)
"""25 mm thick, bent at 60 mm."""
WIDE, NARROW = (300.0, 42.0), (110.0, 36.0)
"""The hose fits the wide slit alone; the cable either; both together fit none."""


def y_in_the_wall(run: Run) -> float:
    assert run.line is not None
    points = run.line.points(2.0)
    return float(points[int(np.argmin(np.abs(points[:, 0] - 450))), 1])


# ---- by hand


def test_a_cable_alone_takes_the_near_slit() -> None:
    (run,), _ = lay(CASE, room(WIDE, NARROW), [CABLE])
    assert (run.area_mm2, run.diameter_mm) == (95, pytest.approx(19.2))
    assert y_in_the_wall(run) == pytest.approx(300, abs=8)


def test_a_cable_in_the_way_of_a_hose_is_taken_up_and_laid_elsewhere() -> None:
    (cable, hose), laid = lay(CASE, room(WIDE, NARROW), [CABLE, HOSE])
    assert y_in_the_wall(hose) == pytest.approx(300, abs=6)
    assert y_in_the_wall(cable) == pytest.approx(110, abs=6)
    assert {c.name for c in laid.laid} == {"cable", "hose"}
    assert cable.line is not None
    assert hose.line is not None
    apart = np.linalg.norm(cable.line.points(3.0)[:, None] - hose.line.points(3.0)[None], axis=2).min()
    assert apart >= (19.2 + 25) / 2


# ---- invariant


def test_runs_come_back_in_the_order_wanted() -> None:
    for wanted in ([CABLE, HOSE], [HOSE, CABLE]):
        runs, _ = lay(CASE, room(WIDE, NARROW), wanted)
        assert [run.name for run in runs] == [w.name for w in wanted]
        assert all(run.line is not None for run in runs)


def test_the_same_question_has_the_same_answer() -> None:
    assert lay(CASE, room(WIDE, NARROW), [CABLE, HOSE])[0] == lay(CASE, room(WIDE, NARROW), [CABLE, HOSE])[0]


# ---- refusal


def test_two_runs_for_one_slit_end_with_one_that_names_the_other() -> None:
    """Each is taken up twice for the other at most; then the one without a way says what stands there."""
    runs, _ = lay(CASE, room(WIDE), [CABLE, HOSE])
    laid, stuck = sorted(runs, key=lambda run: run.line is None)
    assert laid.line is not None
    assert stuck.blocked is not None
    assert stuck.blocked.missing_mm is not None
    assert stuck.blocked.missing_mm > 0
    assert stuck.blocked.near in (laid.name, "wall 1", "wall 2", "room")
    assert stuck.blocked.at[0] == pytest.approx(450, abs=40)


def test_reasons_may_be_left_out() -> None:
    thick = replace(HOSE, name="thick", start=replace(HOSE.start, at=(0.0, 500.0, HIGH / 2)))
    (full,), _ = lay(CASE, room((300.0, 20.0)), [thick])
    (quick,), _ = lay(CASE, room((300.0, 20.0)), [thick], reasons=False)
    assert full.blocked is not None
    assert quick.blocked is not None
    assert "as searched on cells of 5 mm" in full.blocked.why
    assert "as searched" not in quick.blocked.why
