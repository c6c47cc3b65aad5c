"""Jobs that contradict themselves: the two things that conflict are named, and by how much."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from packlayout.mass.ledger import base_items
from packlayout.model.brief import PartOrder
from packlayout.model.geometry import Box
from packlayout.model.layout import Layout
from packlayout.model.vehicle import Opening
from packlayout.placement.conflicts import conflicts, room_of
from packlayout.placement.place import place
from packlayout.placement.solve import first_valid, setting
from tests.bays import BAY, PARTS, job, part
from tests.generated import job_in, lofted_bay


def changed_zone(case, **fields):
    zone = case.vehicle.zones[0].model_copy(update=fields)
    return replace(case, vehicle=case.vehicle.model_copy(update={"zones": (zone,)}))


def fixed(name: str, at: tuple[float, float, float]) -> PartOrder:
    return PartOrder.model_validate({"part": name, "zones": ["bay"], "fixed": {"at": list(at)}})


# ---------------------------------------------------------------- by hand


def test_a_part_larger_than_its_zone_is_told_where_least_is_missing():
    """950 x 760 x 620 outside to outside leaves 930 x 740 x 600: 1000 long lacks 70 along x, 260 along y."""
    known = {**PARTS, "controller": part("controller", (1000, 240, 120), 11)}
    (found,) = conflicts(job(known=known, parts=(PartOrder(part="controller", zones=("bay",)),)))
    assert (found.id, found.value, found.limit, found.margin) == (
        "place.fits.controller",
        930.0,
        1000.0,
        -70.0,
    )
    assert found.note.startswith(
        "controller needs 1000 mm along x; bay within its clearances has 930 mm, so it is 70 mm"
    )


def test_a_module_in_its_cradle_against_the_zone():
    """118 high on its long side plus 32 of cradle each side: 182 of 180 mm."""
    low = Box((-350.0, -380.0, 300.0), (600.0, 380.0, 500.0))
    known = {**PARTS, "module": part("battery module", (340, 175, 118), 14, up=["+z"])}
    (found,) = conflicts(job(bay=low, known=known, parts=()))
    assert (found.id, found.value, found.limit) == ("place.fits.module", 180.0, 182.0)


def test_a_zone_that_nobody_can_enter():
    shut = changed_zone(job(parts=()), opens=())
    assert [c.id for c in conflicts(shut)] == ["place.enter.module"]
    hatch = Opening(corner=(0.0, -60.0, 900.0), opposite=(500.0, 60.0, 900.0))
    (found,) = conflicts(changed_zone(job(parts=()), opening=hatch))
    assert found.value == 120.0
    assert found.limit == 182.0  # standing on its side: 118 and the cradle
    assert "the opening of bay has 120 mm, so it is 62 mm short" in found.note


def test_two_parts_put_in_one_another():
    """The box is 300 long from -200, the controller begins at 60: 40 mm too deep."""
    orders = (fixed("box", (-200, 0, 300)), fixed("controller", (60, 0, 300)))
    (found,) = conflicts(job(parts=orders))
    assert (found.id, found.value) == ("place.fixed.junction-box.controller", -40.0)
    assert "reach 40.0 mm into each other" in found.note
    apart = (fixed("box", (-200, 0, 300)), fixed("controller", (110, 0, 300)))
    assert conflicts(job(parts=apart)) == ()


def test_a_reach_shorter_than_the_way_between_zones():
    case = job(parts=(PartOrder(part="charger", zones=("boot",), reach_mm=500),))
    boot = case.vehicle.zones[0].model_copy(update={"name": "boot"})
    vehicle = case.vehicle.model_copy(update={"zones": (*case.vehicle.zones, boot)})
    shift = BAY.hi[0] - BAY.lo[0] + 800.0
    mesh = case.zones["bay"]
    far = type(mesh)(mesh.vertices + np.array([shift, 0, 0]), mesh.faces)
    (found,) = conflicts(replace(case, vehicle=vehicle, zones={**case.zones, "boot": far}))
    assert (found.id, found.value, found.limit) == ("place.reach.charger", 800.0, 500.0)
    assert "300 mm more than its reach of 500 mm" in found.note


def test_more_locked_than_asked_for():
    case = job(count=2, parts=(), blocks_at_most=1)
    layout = place(case, base_items(case)).layouts[0].layout
    locked = Layout(tuple(replace(p, locked=True) for p in layout.placements))
    assert conflicts(case, locked) == ()
    one = job(count=1, parts=(), blocks_at_most=1)
    (found,) = conflicts(one, locked)
    assert (found.id, found.value, found.limit) == ("place.locked.modules", 2, 1)


def test_a_road_clearance_takes_from_below():
    case = job(parts=())
    low = case.brief.clearances.model_copy(update={"road_mm": 400.0})
    asked = replace(case, brief=case.brief.model_copy(update={"clearances": low}))
    assert room_of(asked, "bay").lo[2] == 400.0 + case.vehicle.laden_drop_mm
    assert room_of(case, "bay").lo[2] == 290.0


def test_the_answer_of_the_placement_is_the_conflict():
    known = {**PARTS, "controller": part("controller", (1000, 240, 120), 11)}
    case = job(known=known, parts=(PartOrder(part="controller", zones=("bay",)),))
    placed = place(case, base_items(case))
    assert placed.layouts == ()
    assert [c.id for c in placed.checks if c.verdict == "fail"] == ["place.count", "place.fits.controller"]
    assert "70 mm short" in placed.why_not_more[0]


# ---------------------------------------------------------------- invariant


@settings(max_examples=6, deadline=None)
@given(st.integers(0, 300), st.integers(1, 4))
def test_what_is_told_to_conflict_is_never_placed(seed, count):
    """A conflict is a proof: a job with a layout has none."""
    case = job_in(lofted_bay(seed), count, blocks_at_most=1)
    if first_valid(setting(case, base_items(case), seed), count) is not None:
        assert conflicts(case) == ()


# ---------------------------------------------------------------- refusal


@pytest.mark.parametrize("case", [job(), job_in(lofted_bay(1), 4, hardware=True)])
def test_a_job_without_conflicts(case):
    assert conflicts(case) == ()
