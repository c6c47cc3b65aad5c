"""What is offered and why not more: different layouts, none beaten; changes that were solved again."""

from dataclasses import replace
from functools import cache
from itertools import combinations

import pytest

from packlayout.mass.ledger import base_items
from packlayout.model.geometry import Box
from packlayout.placement import aims
from packlayout.placement.archive import APART_MM, FEWEST, beaten, choice, ranked, structure, titled, unbeaten
from packlayout.placement.explain import changes, explain, nothing_helps
from packlayout.placement.levers import (
    clearances,
    other_blocks,
    other_sides_up,
    other_zones,
    shifts,
    surfaces,
)
from packlayout.placement.place import place
from packlayout.placement.result import Scored
from packlayout.placement.solve import Deadline, first_valid, setting
from tests.bays import PARTS, job, part
from tests.generated import job_in, lofted_bay

AIMS = {
    "front_axle_change_kg": 1.0, "rear_axle_change_kg": 1.0, "side_difference_kg": 1.0, "cg_height_change_mm": 5.0,
    "compactness_mm": 500.0, "cable_length_mm": 900.0, "further_blocks": 0.0,
}  # fmt: skip


@cache
def usual():
    """A roomy job and its answer."""
    case = job()
    return case, place(case, base_items(case))


# ---------------------------------------------------------------- by hand


def test_a_layout_worse_in_one_aim_and_better_in_none_is_beaten():
    layout = usual()[1].layouts[0].layout
    good, bad = Scored(layout, AIMS, 1.0, "a"), Scored(layout, {**AIMS, "cable_length_mm": 1200.0}, 2.0, "b")
    other = Scored(layout, {**AIMS, "cable_length_mm": 1200.0, "front_axle_change_kg": 0.0}, 2.0, "c")
    assert beaten(bad, good)
    assert not beaten(good, bad)
    assert [s.structure for s in ranked(unbeaten([bad, good, other]))] == ["a", "c"]


def test_fewer_than_three_that_differ_are_filled_up_by_parts_in_another_place():
    case, placed = usual()
    layout = placed.layouts[0].layout

    def shifted(by_mm: float, score: float) -> Scored:
        moved = tuple(
            replace(p, at=(p.at[0] + by_mm, *p.at[1:])) if p.name == "controller" else p
            for p in layout.placements
        )
        return Scored(
            replace(layout, placements=moved), {**AIMS, "compactness_mm": 500.0 - score}, score, "a"
        )

    # the second is where a shop would say the first is
    near, far, further, last = APART_MM / 2, 1.5 * APART_MM, 3 * APART_MM, 5 * APART_MM
    pool = [
        shifted(0.0, 1.0),
        shifted(near, 2.0),
        shifted(far, 3.0),
        shifted(further, 4.0),
        shifted(last, 5.0),
    ]
    assert [s.score for s in choice(case, unbeaten(pool))] == [1.0, 3.0, 4.0]
    assert FEWEST == 3


def test_what_is_known_of_cables_shaft_and_price_counts_and_is_told():
    case, placed = usual()
    layout, base = placed.layouts[0].layout, aims.score(usual()[0], AIMS)
    more = {"routed_cable_length_mm": 2900.0, "shaft_angle_deg": 4.0, "price_over_least_percent": 2.0}
    weights = case.brief.aims
    # the routed length in place of the 900 mm along the axes; 2 degrees and 1 percent are a unit each
    by_hand = base + weights.cable_length * 2.0 + weights.shaft_angle * 2.0 + weights.price * 2.0
    assert aims.score(case, AIMS | more) == pytest.approx(by_hand, rel=1e-12)
    dear = Scored(layout, AIMS | more, 2.0, "a")
    cheap = Scored(
        layout, {**AIMS, **more, "price_over_least_percent": 0.0, "front_axle_change_kg": 3.0}, 3.0, "b"
    )
    titles = [s.layout.title for s in titled(case, (dear, cheap))]
    assert titles[1] == "In one block, it is cheapest."
    assert not beaten(dear, cheap)
    assert not beaten(cheap, dear)
    assert beaten(Scored(layout, dear.objectives | {"cables_without_way": 1.0}, 2.0, "c"), dear)


def test_a_low_keep_out_is_moved_up_as_far_as_needed():
    """Two layers need 302 mm and the clearances 20; a beam across the bay leaves 300: 20 to 25 mm are missing."""
    bay = Box((0.0, 0.0, 300.0), (240.0, 440.0, 680.0))
    beam = (("beam", "solid", Box((0.0, 0.0, 600.0), (240.0, 440.0, 620.0))),)
    known = {**PARTS, "module": part("battery module", (340, 150, 118), 14)}
    case = job(bay=bay, count=2, parts=(), blocks_at_most=1, keep_outs=beam, known=known)
    zone = case.vehicle.zones[0].model_copy(update={"opens": ("-z",)})
    case = replace(case, vehicle=case.vehicle.model_copy(update={"zones": (zone,)}))
    placed = place(case, base_items(case))
    assert placed.count.packed == 1
    first = next(c for c in placed.changes if c.kind == "keep-out")
    assert first.words.startswith("Move beam ")
    assert 20.0 <= first.size_mm <= 30.0
    assert placed.why_not_more[0] == placed.changes[0].words


def test_an_orientation_that_would_help_is_named():
    bay = Box((0.0, 0.0, 300.0), (430.0, 215.0, 570.0))
    flat = {**PARTS, "module": part("battery module", (340, 175, 118), 14, up=["+z"])}
    case = job(bay=bay, count=1, parts=(), blocks_at_most=1, known=flat)
    found = changes(case, base_items(case), 0, 1, Deadline(None))
    assert any(c.kind == "orientation" and "+y face up" in c.words for c in found)


# ---------------------------------------------------------------- reference: solved again


def test_a_surface_raised_by_what_is_said_does_let_one_more_in():
    case = job(bay=Box((-350.0, -380.0, 280.0), (350.0, 380.0, 560.0)), parts=(), blocks_at_most=1)
    placed = place(case, base_items(case))
    raised = next(c for c in placed.changes if c.kind == "surface")
    higher = job(
        bay=Box((-350.0, -380.0, 280.0), (350.0, 380.0, 560.0 + raised.size_mm)), parts=(), blocks_at_most=1
    )
    assert raised.modules == placed.count.packed + 1
    assert first_valid(setting(higher, base_items(higher), 0), raised.modules) is not None


@pytest.mark.parametrize(("seed", "count"), [(2, 6), (3, 8)])
def test_each_change_that_is_told_lets_one_more_in_when_it_is_made(seed, count):
    """Bays that held one less: the change is made by its own lever at the size told, and the job solved again."""
    case = job_in(lofted_bay(seed), count, hardware=True, blocks_at_most=2)
    told = explain(case, base_items(case), 0, count, Deadline(None)).changes
    assert len(told) >= 3
    sized = [c.size_mm for c in told if c.size_mm > 0]
    assert sized == sorted(sized)
    levers = [*clearances(case), *other_sides_up(case), *other_blocks(case), *other_zones(case)]
    levers += [lever for name in case.keep_outs for lever in shifts(case, name)]
    made = 0
    for change in told:
        lever = next((v for v in levers if change.words.startswith(v.say(change.size_mm))), None)
        if lever is not None and change.size_mm <= 40:
            changed = lever.make(change.size_mm)
            assert first_valid(setting(changed, base_items(changed), 0), count) is not None
            made += 1
    assert made >= 1


# ---------------------------------------------------------------- invariant


def test_levers_do_what_they_say():
    """A clearance comes down by the size, a keep-out moves by it, a side of a zone grows the zone only."""
    case = job_in(lofted_bay(2), 4)
    for lever in clearances(case):
        assert lever.kind == "clearance"
        before, after = case.brief.clearances, lever.make(5.0).brief.clearances
        drops = [getattr(before, k) - getattr(after, k) for k in ("body_mm", "parts_mm", "moving_mm")]
        assert sorted(drops) == [0.0, 0.0, 5.0]
    up = shifts(case, "cross-member")[0].make(30.0).keep_outs["cross-member"].bounds
    assert up.lo[2] - case.keep_outs["cross-member"].bounds.lo[2] == pytest.approx(30.0)
    for surface in surfaces(case):
        grown = surface.between(surface.stops[0], surface.stops[-1]).make(25.0).zones["bay"]
        assert grown.volume > case.zones["bay"].volume


def test_layouts_offered_differ_in_structure_and_none_is_beaten():
    placed = usual()[1]
    assert 3 <= len(placed.layouts) <= 8
    assert len({s.structure for s in placed.layouts}) == len(placed.layouts)
    assert all(s.structure == structure(s.layout) for s in placed.layouts)
    assert not any(beaten(a, b) or beaten(b, a) for a, b in combinations(placed.layouts, 2))


def test_each_has_one_sentence_and_the_first_is_best_on_all_aims():
    titles = [s.layout.title for s in usual()[1].layouts]
    assert titles[0].startswith("Best on all aims together")
    assert all(t.endswith(".") and t.count(". ") == 0 for t in titles)
    assert len(set(titles)) == len(titles)


def test_a_shift_keeps_the_structure():
    layout = usual()[1].layouts[0].layout
    moved = replace(
        layout, placements=tuple(replace(p, at=(p.at[0] + 7, p.at[1], p.at[2])) for p in layout.placements)
    )
    assert structure(moved) == structure(layout)


# ---------------------------------------------------------------- refusal


def test_nothing_to_offer_has_no_titles():
    assert titled(usual()[0], ()) == ()


def test_no_change_is_told_where_none_helps():
    case = job(bay=Box((0.0, 0.0, 300.0), (150.0, 100.0, 420.0)), count=1, parts=(), blocks_at_most=1)
    found = explain(case, base_items(case), 0, 1, Deadline(None))
    assert found.changes == ()
    assert found.tried.startswith("the clearance to the body down to nothing; ")
    assert nothing_helps(1, found.tried).startswith(
        "No single change was found that lets 1 modules in. Tried, each by"
    )
    with pytest.raises(StopIteration):
        next(iter(changes(case, base_items(case), 0, 1, Deadline(0.0))))
