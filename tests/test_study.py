"""The whole calculation: the loop between layout, frame and weighing comes to rest, and a given layout is kept."""

from dataclasses import replace
from functools import cache

import pytest

from packlayout import choosing, study
from packlayout.export.summary import headline
from packlayout.mass.ledger import base_items
from packlayout.model.geometry import Box
from packlayout.model.layout import Layout
from packlayout.placement.again import refine
from packlayout.placement.archive import structure
from packlayout.placement.place import place
from packlayout.stages import silent
from tests.bays import MOUNTS, job


@cache
def placed():
    """The layouts of the roomy job."""
    case = job()
    return case, place(case, base_items(case))


@cache
def usual():
    """The roomy job, worked out once."""
    case, found = placed()
    return case, study.complete(case, 0, found)


@cache
def without_mounts() -> study.Study:
    """One module in a vehicle without one mounting point."""
    return study.run(job(mounts=(), count=1))


# ---------------------------------------------------------------- by hand


def test_the_frame_is_weighed_with_the_parts():
    case, done = usual()
    assert done.weighing is not None
    assert done.framed is not None
    assert done.framed.frame is not None
    change = done.weighing.change.mass.value
    parts = 8 * 14 + 6 + 11
    out = 150 + 32 + 14 + 40 * 0.9 * 0.745
    assert change == pytest.approx(parts + done.framed.frame.mass_kg - out, abs=1e-6)
    feet = [p for p in done.framed.frame.plates if p.name.startswith("foot plate")]
    assert len(feet) == len(case.vehicle.mounts)


def test_checks_come_failures_first():
    order = [c.verdict for c in without_mounts().checks]
    rank = {"fail": 0, "unknown": 1, "marginal": 2, "pass": 3}
    assert {"fail", "pass"} <= set(order)
    assert [rank[v] for v in order] == sorted(rank[v] for v in order)


def test_the_first_layout_offered_is_the_one_all_else_belongs_to():
    _, done = usual()
    assert done.placed is not None
    assert done.placed.layouts[0].layout == done.layout


def test_price_and_cables_decide_between_layouts(monkeypatch: pytest.MonkeyPatch):
    """The layout that comes first by itself gives place when it is dear, and comes last when a cable has no way."""
    case, found = placed()
    best = structure(found.layouts[0].layout)
    assert len(found.layouts) > 2

    def dear(_: object, layout: Layout, __: object) -> dict[str, float]:
        return {"price": 2000.0 if structure(layout) == best else 1000.0, "shaft_angle_deg": 3.0}

    def blocked(_: object, layout: Layout, __: object) -> dict[str, float]:
        return {"cables_without_way": float(structure(layout) == best), "routed_cable_length_mm": 3000.0}

    monkeypatch.setattr(choosing, "outcome", dear)
    beside = choosing.side_by_side(case, found.layouts, choosing.drawn_for(case, found.layouts), silent)
    assert min(beside, key=lambda s: s.score).structure != best
    assert [s.objectives["price_over_least_percent"] for s in beside] == [
        pytest.approx(100.0 if s.structure == best else 0.0) for s in beside
    ]

    monkeypatch.setattr(choosing, "outcome", blocked)
    made = study.complete(case, 0, found)
    assert made.layout is not None
    assert made.placed is not None
    assert structure(made.layout) != best
    rows = {s.structure: s.objectives["cables_without_way"] for s in made.placed.layouts}
    assert rows[structure(made.layout)] == 0.0
    assert rows.get(best, 1.0) == 1.0


def test_what_is_not_computed_is_said():
    _, done = usual()
    assert any("old body" in words for words in done.not_done)
    assert not any("search" in words for words in done.not_done)
    assert not any("search" in line for line in headline(done))


def test_a_search_that_was_ended_early_says_so():
    case, found = placed()
    cut = study.complete(case, 0, replace(found, layouts=found.layouts[:1], stopped="time limit"))
    assert any("search to its end (time limit)" in words for words in cut.not_done)
    assert any("time limit ended the search" in line for line in headline(cut))


# ---------------------------------------------------------------- invariant


def test_going_round_with_the_frames_mass_has_come_to_rest():
    case, done = usual()
    assert done.layout is not None
    burden = (*base_items(case), *study.made_items(done))
    again = refine(case, done.layout, burden)
    assert study.moved(done.layout, again) <= study.STILL_MM


def test_a_given_layout_is_taken_as_it_is_and_gives_the_same_figures():
    case, done = usual()
    given = study.run(case, layout=done.layout)
    assert given.layout == done.layout
    assert given.weighing == done.weighing


def test_same_case_and_seed_same_study():
    _, done = usual()
    again = study.run(job())
    assert again.layout == done.layout
    assert again.checks == done.checks


# ---------------------------------------------------------------- refusal


def test_a_job_that_cannot_be_done_is_a_study_with_failed_checks():
    done = study.run(job(bay=Box((0.0, 0.0, 300.0), (300.0, 150.0, 500.0))))
    assert done.layout is None
    assert done.weighing is None
    assert done.checks[0].verdict == "fail"


def test_a_vehicle_without_mounting_points_fails_for_want_of_support():
    done = without_mounts()
    support = next(c for c in done.checks if c.id.startswith("frame.support"))
    assert support.verdict == "fail"


def test_the_pack_is_shifted_when_a_leg_finds_no_way():
    """A bulkhead close to one mounting point: the first places of the pack leave no room for its leg."""
    case = job(keep_outs=(("scuttle box", "solid", Box((420.0, -345.0, 420.0), (560.0, -240.0, 600.0))),))
    done = study.run(case)
    assert done.framed is not None
    assert [c.id for c in done.framed.checks if c.verdict == "fail"] == []
    assert len(done.framed.legs) == len(MOUNTS)
