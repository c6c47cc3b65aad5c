"""Ways in and out: what overhangs shuts, openings, lids, what comes off first."""

from dataclasses import replace
from functools import cache

from packlayout.mass.ledger import base_items
from packlayout.model.brief import PartOrder
from packlayout.model.geometry import Box
from packlayout.model.layout import Layout
from packlayout.placement.paths import check_ways, in_order, service_of, things, ways_out
from packlayout.placement.place import place
from packlayout.space.envelope import loft
from packlayout.space.ways import passes, walls_of
from tests.bays import BAY, PARTS, job, part

UP = (0.0, 0.0, 1.0)


@cache
def stacked():
    """A pack with the junction box on it, serviced controller."""
    parts = (
        PartOrder(part="box", zones=("bay",), on_pack=True),
        PartOrder(part="controller", zones=("bay",), serviced=True),
    )
    case = job(count=4, parts=parts)
    return case, place(case, base_items(case)).layouts[0].layout


def zone_with(case, **changed):
    """The same case with fields of its one zone changed."""
    zone = case.vehicle.zones[0].model_copy(update=changed)
    return replace(case, vehicle=case.vehicle.model_copy(update={"zones": (zone,)}))


# ---------------------------------------------------------------- by hand


def test_what_sits_on_the_pack_comes_off_before_it():
    case, layout = stacked()
    ways = {w.name: w for w in ways_out(case, layout)}
    assert "junction box" in ways["pack block 1"].first
    assert ways["junction box"].way == UP
    order = in_order(tuple(ways.values()))
    assert order.index("pack block 1") < order.index("junction box")


def test_a_wall_that_leans_in_shuts_the_way_up_and_one_that_leans_out_does_not():
    box = Box((100.0, -90.0, 10.0), (200.0, 90.0, 50.0))
    for top, shut in ((60, True), (140, False)):
        outline = [(-100, 0), (100, 0), (100, 60), (top, 200), (-top, 200), (-100, 60)]
        surface = loft([(0.0, outline), (300.0, outline)])
        hit = passes(box, UP, surface.bounds, walls_of(surface, UP), [])
        assert (hit == -1) == shut
        assert (
            passes(box, UP, surface.bounds, walls_of(surface, UP, 60.0), []) is None
        )  # the lid takes them away


def test_a_keep_out_above_is_named_and_a_removable_one_comes_off():
    case, layout = stacked()
    block = layout.blocks[0].box
    over = Box((block.lo[0], block.lo[1], BAY.hi[2] - 20), (block.hi[0], block.hi[1], BAY.hi[2] - 5))
    shut = job(count=4, parts=case.brief.parts, keep_outs=(("shelf", "solid", over),))
    found = {w.name: w for w in ways_out(shut, layout)}["pack block 1"]
    assert found.way is None
    assert found.shut_by == "shelf"
    failed = [c for c in check_ways(shut, layout) if c.verdict == "fail"]
    assert any("shelf" in c.title and "pack block 1" in c.title for c in failed)
    keep = shut.vehicle.keep_outs[0].model_copy(update={"removable": True})
    loose = replace(shut, vehicle=shut.vehicle.model_copy(update={"keep_outs": (keep,)}))
    assert {w.name: w for w in ways_out(loose, layout)}["pack block 1"].first[0] == "shelf"


def test_a_serviced_part_is_told_with_what_comes_off():
    case, layout = stacked()
    check = next(c for c in check_ways(case, layout) if c.id == "place.service.controller")
    assert check.verdict == "pass"
    assert check.title.startswith("Reaching controller upward")


# ---------------------------------------------------------------- invariant


def test_every_layout_offered_through_a_narrow_opening_passes_it():
    case = job(count=4, parts=())
    opening = {"corner": (-350.0, -200.0, 900.0), "opposite": (600.0, 250.0, 900.0)}
    from packlayout.model.vehicle import Opening

    narrow = zone_with(case, opening=Opening.model_validate(opening))
    placed = place(narrow, base_items(narrow))
    assert placed.layouts
    for scored in placed.layouts:
        for block in scored.layout.blocks:
            assert block.box.lo[1] - 32 >= -200.0 - 1e-6
            assert block.box.hi[1] + 32 <= 250.0 + 1e-6


# ---------------------------------------------------------------- refusal


def test_a_zone_nobody_can_enter_places_nothing_and_says_so():
    case = zone_with(job(count=2, known={**PARTS, "box": part("junction box", (300, 200, 120), 6)}), opens=())
    placed = place(case, base_items(case))
    assert placed.layouts == ()
    assert any("cannot be brought into bay, which opens to no side" in why for why in placed.why_not_more)


def test_a_part_pushed_under_an_overhang_by_hand_fails():
    case, layout = stacked()
    shut = zone_with(case, opens=("-x",))
    moved = Layout(layout.placements)
    assert any(c.id.startswith("place.way.") and c.verdict == "fail" for c in check_ways(shut, moved)) or all(
        w.way == (-1.0, 0.0, 0.0) for w in ways_out(shut, moved)
    )


# ---------------------------------------------------------------- the order as data


def test_the_order_of_assembly_is_the_order_of_removal_backward():
    """The junction box stands on the pack: the pack goes in first and comes off last."""
    case, layout = stacked()
    found = service_of(case, layout)
    names = [name for name, _, _ in things(case, layout)]
    assert sorted(found.put_in) == sorted(names)
    assert found.put_in.index("pack block 1") < found.put_in.index("junction box")
    assert found.removals[0].name == "controller"
    assert found.removals[0].serviced
    assert [r.serviced for r in found.removals] == sorted((r.serviced for r in found.removals), reverse=True)
    pack = next(r for r in found.removals if r.name == "pack block 1")
    assert pack.way == "upward"
    assert "junction box" in pack.first


def test_each_thing_goes_in_before_all_that_must_come_off_before_it():
    case, layout = stacked()
    found = service_of(case, layout)
    for removal in found.removals:
        for other in removal.first:
            assert found.put_in.index(removal.name) < found.put_in.index(other)


def test_a_thing_without_a_way_says_what_shuts_it_in():
    case, layout = stacked()
    zone = case.vehicle.zones[0].model_copy(update={"opens": ()})
    shut = replace(case, vehicle=case.vehicle.model_copy(update={"zones": (zone,)}))
    assert all(r.way == "" and r.shut_by == "bay opens to no side" for r in service_of(shut, layout).removals)
