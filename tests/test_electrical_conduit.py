"""Conduit under the floor: chosen, made room for, weighed; and told where it finds no room."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from pydantic import ValidationError

from packlayout.electrical.cables import Run, cable_items, need_of, size_of
from packlayout.electrical.laying import lay
from packlayout.electrical.run_checks import check_runs
from packlayout.electrical.sleeves import conduit_for
from packlayout.electrical.wanted import Wanted
from packlayout.model.brief import Case
from packlayout.model.electrics import Conduit, SignalRun, WayBox
from packlayout.model.geometry import Box
from packlayout.space.course import Course, stretches
from packlayout.space.ends import End
from packlayout.space.envelope import box_mesh
from packlayout.space.fields import course
from tests.wiring_tables import pack_job, tables

ENDS = (
    End("a", "port", (0.0, 152.5, 302.5), (1, 0, 0), True),
    End("b", "port", (1500.0, 152.5, 302.5), (-1, 0, 0), True),
)
WANTED = Wanted("pair", "HV", *ENDS, 2, load_a=15.0, peak_a=15.0, volts=300.0, fuse_a=20.0)
"""Two cables of 1.5 mm2, 4 mm each: a bundle of 8 mm."""


def job(side: float) -> tuple[Case, Course]:
    """Two rooms 400 mm apart, joined by a square way under the floor between x 480 and 1020."""
    case, _ = pack_job(4)
    rooms = [(f"room {x:.0f}", box_mesh(Box((x, 0, 200), (x + 550, 300, 400))), 4.0) for x in (0.0, 950.0)]
    lo, hi = (480.0, 152.5 - side / 2, 302.5 - side / 2), (1020.0, 152.5 + side / 2, 302.5 + side / 2)
    way = WayBox(name="way", where="under floor", corner=lo, opposite=hi)
    vehicle = case.vehicle.model_copy(update={"cable_ways": (way,)})
    space = course(rooms, [("way", Box(lo, hi))], [], 5.0)
    return replace(case, vehicle=vehicle), replace(space, sleeves=(Box(lo, hi),))


def laid(side: float) -> Run:
    case, space = job(side)
    (run,), _ = lay(case, space, [WANTED])
    assert run.line is not None
    return run


# ---- by hand


def test_a_run_with_room_for_its_conduit() -> None:
    """8 mm x 1.1 = 8.8 mm go into 9.8 mm; 540 mm of it weigh 18 g a metre."""
    run = laid(40.0)
    assert run.conduit == "corrugated 10"
    assert run.conduit_mm == pytest.approx(540, abs=12)
    rules = tables().cables
    assert rules is not None
    bare = 2 * rules.sizes[0].mass_kg_per_m * run.length_mm / 1000
    assert run.mass.value == pytest.approx(bare + 0.018 * run.conduit_mm / 1000)


def test_its_conduit_is_a_piece_of_its_own() -> None:
    """From where the middle line enters the way at x 480 to where it leaves it at x 1020, at its own place in the weighing."""
    run = laid(40.0)
    (sleeve,) = run.sleeves
    assert sleeve.name == "conduit of pair"
    assert (sleeve.conduit.inside_mm, sleeve.conduit.outside_mm) == (9.8, 13.0)
    assert run.diameter_mm == pytest.approx(8.0)
    assert sorted((sleeve.line.corners[0][0], sleeve.line.corners[-1][0])) == pytest.approx(
        [480, 1020], abs=2
    )
    assert sleeve.line.radius_mm >= 20
    cable, tube = cable_items([run])
    assert tube.mass.value == pytest.approx(0.018 * sleeve.line.length_mm / 1000)
    assert cable.mass.value + tube.mass.value == pytest.approx(run.mass.value)
    assert tube.position[0].value == pytest.approx(750, abs=3)


def test_the_road_is_kept_by_the_conduit() -> None:
    """Its outside hangs 2.5 mm lower than the bundle's."""
    case, _ = job(40.0)
    run = laid(40.0)
    assert run.line is not None
    check = next(c for c in check_runs(case, [run]) if c.id == "cable.road.pair")
    inside = [p for p in run.line.points() if 480 < p[0] < 1020]
    assert check.value == pytest.approx(min(p[2] for p in inside) - 6.5, abs=0.1)


def test_a_signal_cable_in_a_steel_tube_from_end_to_end() -> None:
    case, space = job(40.0)
    order = SignalRun.model_validate(
        {"name": "sense", "start": ["a"], "goal": ["b"], "diameter": 7, "mass": 0.07, "conduit": "steel tube 12x1.5"}
    )  # fmt: skip
    (run,), after = lay(case, space, [Wanted("sense", "signal", *ENDS, 4, cable=order)])
    (sleeve,) = run.sleeves
    assert (run.conduit, run.diameter_mm, sleeve.line) == ("steel tube 12x1.5", 7, run.line)
    assert {cable.radius_mm for cable in after.laid} == {6.0}
    assert run.line is not None
    assert run.line.radius_mm >= 36
    assert run.mass.value == pytest.approx((0.07 + 0.39) * run.length_mm / 1000)


def test_it_keeps_the_conduits_radius_within_the_way() -> None:
    """13 mm of conduit in a way 20 mm square: its middle lies within 3.5 mm of the way's; the bundle alone within 6."""
    run = laid(20.0)
    assert run.line is not None
    points = run.line.points(3.0)
    inside = points[(points[:, 0] > 560) & (points[:, 0] < 940)]
    assert run.conduit == "corrugated 10"
    assert np.abs(inside[:, 1:] - (152.5, 302.5)).max() <= 3.5 + 1e-6


def test_a_way_too_thin_for_the_conduit_holds_the_bundle_alone() -> None:
    """12 mm hold the bundle of 8 and not the 13 mm of its conduit: laid, and its check fails."""
    case, _ = job(12.0)
    run = laid(12.0)
    assert (run.conduit, run.conduit_mm > 400) == ("", True)
    check = next(c for c in check_runs(case, [run]) if c.id == "cable.conduit.pair")
    assert (check.verdict, check.value) == ("fail", 0)
    assert "no conduit in stock is wide enough, or one finds no way" in check.note


def test_no_run_goes_without_its_way_for_the_conduit_of_another() -> None:
    """A hose of 25 mm and a conduit of 13 find no room in a way 43 mm wide as searched; the hose and the bundle of 8 do."""
    case, space = job(40.0)
    lo, hi = (480.0, 132.0, 286.5), (1020.0, 175.0, 318.5)
    way = WayBox(name="way", where="under floor", corner=lo, opposite=hi)
    case = replace(case, vehicle=case.vehicle.model_copy(update={"cable_ways": (way,)}))
    rooms = [(body.name, body.mesh, gap) for body, gap in space.zones]
    low = replace(course(rooms, [("way", Box(lo, hi))], [], 5.0), sleeves=(Box(lo, hi),))

    def between(name: str, y: float) -> tuple[End, End]:
        return (
            End(f"{name} 1", "port", (0.0, y, 302.5), (1, 0, 0), True),
            End(f"{name} 2", "port", (1500.0, y, 302.5), (-1, 0, 0), True),
        )

    hose, (start, goal) = Wanted("hose", "coolant", *between("hose", 154.0), 0), between("pair", 90.0)
    (pair,), _ = lay(case, low, [replace(WANTED, start=start, goal=goal)])
    assert pair.conduit == "corrugated 10"
    runs, _ = lay(case, low, [hose, replace(WANTED, start=start, goal=goal)])
    assert [run.line is not None for run in runs] == [True, True]
    assert runs[1].conduit == ""
    check = next(c for c in check_runs(case, runs) if c.id == "cable.conduit.pair")
    assert check.verdict == "fail"


def test_conduit_everywhere_is_the_runs_own_radius() -> None:
    rules, table = tables().electrical, tables().cables
    assert rules is not None
    assert table is not None
    case, _ = job(40.0)
    everywhere = rules.model_copy(update={"conduit": ("everywhere",)})
    size = size_of(case, table, WANTED)
    assert need_of(everywhere, WANTED, size).radius_mm == pytest.approx(6.5)
    assert need_of(everywhere, WANTED, size).sleeve_mm == 0
    under = need_of(rules, WANTED, size)
    assert (under.radius_mm, under.sleeve_mm) == (pytest.approx(4), pytest.approx(2.5))


def test_another_cable_keeps_clear_of_the_conduit() -> None:
    case, space = job(40.0)
    (run,), after = lay(case, space, [WANTED])
    assert {cable.radius_mm for cable in after.laid if cable.name == run.name} == {4.0, 6.5}
    across = np.array([(750.0, 100.0, 302.5), (750.0, 200.0, 302.5)])
    assert after.met(across, 5.0) == (run.name,)  # once, though it is there with and without its conduit
    assert after.without(run.name).laid == ()


# ---- invariant


@given(st.lists(st.booleans(), max_size=30))
def test_stretches_hold_all_that_is_set_and_nothing_else(flags: list[bool]) -> None:
    made = np.zeros(len(flags), dtype=bool)
    for begin, end in stretches(np.array(flags, dtype=bool)):
        assert begin < end
        made[begin:end] = True
    assert made.tolist() == flags


@given(st.floats(3, 60))
def test_the_conduit_chosen_is_the_thinnest_that_holds(bundle: float) -> None:
    rules = tables().electrical
    assert rules is not None
    found = conduit_for(rules, bundle)
    fit = [c.outside_mm for c in rules.conduits if c.inside_mm >= 1.1 * bundle and c.metal == "no"]
    assert (found.outside_mm if found is not None else None) == min(fit, default=None)


# ---- refusal


def test_a_conduit_without_a_wall_is_refused() -> None:
    with pytest.raises(
        ValidationError, match="outside not above inside; allowed: an outside diameter above the inside"
    ):
        Conduit.model_validate({"name": "x", "inside": 20, "outside": 20, "bend": 30, "mass": 0.1})
