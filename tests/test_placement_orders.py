"""What a brief may ask of single parts and of the search: reach, shaft line, plates, locks, targets, limits."""

from dataclasses import replace
from functools import cache

import pytest

from packlayout.mass.ledger import base_items
from packlayout.model.brief import Aims, Clearances, Fixed, ModuleOrder, PartOrder
from packlayout.model.geometry import Box
from packlayout.model.layout import Layout
from packlayout.model.vehicle import Driveline
from packlayout.placement import place as placing
from packlayout.placement.forms import block_forms
from packlayout.placement.orders import check_orders
from packlayout.placement.place import place
from packlayout.placement.verify import check_layout
from tests.bays import BAY, PARTS, job, part


def failed(checks):
    """Ids of the checks that fail."""
    return [c.id for c in checks if c.verdict == "fail"]


def briefed(case, **changed):
    """The same case with fields of its brief changed."""
    return replace(case, brief=case.brief.model_copy(update=changed))


@cache
def small():
    """Four modules and two parts, and where they stand."""
    case = job(count=4)
    return case, place(case, base_items(case))


MOTOR = part(
    "motor", (280, 240, 240), 37, up=["+z"],
    ports=[{"name": "shaft", "kind": "shaft", "at": [280, 120, 120], "direction": "+x"}],
)  # fmt: skip


def with_motor(**wanted):
    """A motor that must stand on the shaft line."""
    order = PartOrder.model_validate({"part": "motor", "zones": ["bay"], "on_line": wanted})
    case = job(count=2, parts=(order,), known={**PARTS, "motor": MOTOR})
    drive = Driveline(gearbox_output=(700.0, 20.0, 440.0), axle_input=(2300.0, 0.0, 400.0), axle_ratio=4.0)
    return replace(case, vehicle=case.vehicle.model_copy(update={"driveline": drive}))


# ---------------------------------------------------------------- by hand


def test_a_motor_on_the_line_has_its_shaft_on_it():
    case = with_motor(offset=1.0, angle=3.0)
    layout = place(case, base_items(case)).layouts[0].layout
    p = next(p for p in layout.placements if p.name == "motor")
    x, y, z = p.pose.point((280, 120, 120))
    assert y == pytest.approx(20 - 20 * (x - 700) / 1600, abs=0.01)
    assert z == pytest.approx(440 - 40 * (x - 700) / 1600, abs=0.01)
    assert p.turn_deg == 0
    assert failed(check_orders(case, layout)) == []


def test_a_plate_between_layers_lifts_the_upper_one():
    case = job()
    plated = briefed(case, modules=case.brief.modules.model_copy(update={"plate_between_mm": 8.0}))
    plain = {f.label: f.size for f in block_forms(case, 8)}
    for form in block_forms(plated, 8):
        layers = int(form.label.split(",")[0].split(" x ")[2])
        assert form.size[2] == pytest.approx(plain[form.label][2] + 8.0 * (layers - 1))


def test_reach_holds_the_junction_box_near_the_blocks():
    order = PartOrder(part="box", zones=("bay",), reach_mm=420.0)
    case = job(count=4, parts=(order,), aims=Aims(cable_length=0, compactness=0))
    placed = place(case, base_items(case))
    check = next(c for c in placed.checks if c.id == "place.reach.junction-box")
    assert check.verdict == "pass"
    assert check.value is not None
    assert check.value <= 420.0


def test_the_road_at_full_load_keeps_parts_up():
    case = job(count=2, parts=(), clearances=Clearances(road_mm=200.0))
    case = replace(case, vehicle=case.vehicle.model_copy(update={"laden_drop_mm": 130.0}))
    placed = place(case, base_items(case))
    assert min(b.box.lo[2] - 32 for b in placed.layouts[0].layout.blocks) >= 330.0 - 1e-6
    assert any(c.title.startswith("Ground clearance") for c in placed.checks)


@pytest.mark.parametrize(("word", "share"), [("nominal", 0.0), ("95 %", 1.0), ("worst case", 1.5)])
def test_the_tolerance_of_a_surface_adds_to_its_clearance(word, share):
    case = job(count=2, parts=(), clearances=Clearances(surface=word))
    zone = case.vehicle.zones[0].model_copy(update={"tolerance_mm": 12.0})
    case = replace(case, vehicle=case.vehicle.model_copy(update={"zones": (zone,)}))
    check = next(c for c in place(case, base_items(case)).checks if c.id == "place.clear.body")
    assert check.limit == pytest.approx(10.0 + 12.0 * share)
    assert check.verdict == "pass"


def test_a_front_axle_target_is_aimed_at():
    case = job(count=4, aims=Aims(rear_axle=0, cg_height=0, compactness=0, cable_length=0, splitting=0))
    base = place(case, base_items(case)).layouts[0].objectives["front_axle_change_kg"]
    from packlayout.placement.aims import targets

    wanted = targets(case, base_items(case)).front_kg + base - 4.0
    aimed = briefed(case, aims=case.brief.aims.model_copy(update={"front_target_kg": wanted}))
    found = place(aimed, base_items(aimed)).layouts[0].objectives
    assert abs(found["front_axle_change_kg"]) < 0.5
    assert abs(found["side_difference_kg"]) < 0.5


# ---------------------------------------------------------------- invariant


def test_locked_parts_stay_to_the_micrometre_and_the_rest_is_solved_anew():
    case, placed = small()
    first = placed.layouts[0].layout
    shifted = [
        replace(p, at=(p.at[0] + 0.1234567, p.at[1], p.at[2]), locked=True) if p.block == 1 else p
        for p in first.placements
    ]
    again = place(case, base_items(case), 5, held=Layout(tuple(shifted)))
    assert again.layouts
    for scored in again.layouts:
        kept = {p.name: p for p in scored.layout.placements}
        for p in shifted:
            if p.locked:
                assert kept[p.name].at == pytest.approx(p.at, abs=1e-6)
                assert kept[p.name].locked
        assert len(scored.layout.modules) == 4


def test_a_part_is_kept_out_of_a_zone():
    _, placed = small()
    assert {p.zone for p in placed.layouts[0].layout.placements} == {"bay"}


def test_a_time_limit_returns_something_whole_and_says_so():
    case = briefed(small()[0], time_limit_s=0.1)
    placed = place(case, base_items(case))
    assert placed.stopped in ("", "time limit")
    assert placed.layouts
    assert failed(c for c in check_layout(case, placed.layouts[0].layout)) == []


def test_an_interruption_returns_the_best_so_far(monkeypatch):
    case, whole = small()
    real = placing.explore

    def cut_short(*given):
        real(*given)
        raise KeyboardInterrupt

    monkeypatch.setattr(placing, "explore", cut_short)
    placed = place(case, base_items(case))
    assert placed.stopped == "interrupted"
    assert len(placed.layouts[0].layout.modules) == whole.count.packed
    assert failed(check_layout(case, placed.layouts[0].layout)) == []


def test_an_interruption_while_it_improves_keeps_what_was_found():
    case, whole = small()

    def impatient(line):
        if "best score" in line:
            raise KeyboardInterrupt

    placed = place(case, base_items(case), 0, impatient)
    assert placed.stopped == "interrupted"
    assert len(placed.layouts[0].layout.modules) == whole.count.packed
    assert len(placed.layouts) >= 2  # more than the first that was met
    assert failed(check_layout(case, placed.layouts[0].layout)) == []


def test_loose_modules_fill_what_blocks_do_not():
    bay = Box((0.0, 0.0, 280.0), (430.0, 560.0, 900.0))
    order = ModuleOrder(part="module", count=3, zones=("bay",), blocks_at_most=1, loose=True)
    known = {**PARTS, "module": part("battery module", (340, 175, 118), 14)}
    wall = (("wall", "solid", Box((0.0, 270.0, 280.0), (430.0, 290.0, 900.0))),)
    case = job(bay=bay, parts=(), known=known, keep_outs=wall)
    tight = briefed(case, modules=order)
    placed = place(tight, base_items(tight))
    assert placed.count.packed == 3
    assert failed(placed.checks) == []


# ---------------------------------------------------------------- refusal


def test_two_locked_parts_that_overlap_are_told_with_the_depth():
    first = PartOrder(part="controller", name="first", zones=("bay",), fixed=Fixed(at=(-300, -300, 300)))
    second = PartOrder(part="controller", name="second", zones=("bay",), fixed=Fixed(at=(-100, -300, 300)))
    case = job(count=2, parts=(first, second))
    placed = place(case, base_items(case))
    assert placed.layouts == ()
    assert any("first and second" in why and "120.0 mm into each other" in why for why in placed.why_not_more)


def test_a_shaft_off_its_line_fails_by_how_much():
    case = with_motor(offset=1.0, angle=3.0)
    layout = place(case, base_items(case)).layouts[0].layout
    p = next(p for p in layout.placements if p.name == "motor")
    off = replace(p, at=(p.at[0], p.at[1] + 30.0, p.at[2]))
    checks = check_orders(case, Layout(tuple(off if q is p else q for q in layout.placements)))
    bad = next(c for c in checks if c.verdict == "fail")
    assert bad.id == "place.line.motor.offset"
    assert bad.value == pytest.approx(30.0, abs=0.05)


def test_a_shaft_line_that_is_not_known_is_unknown_not_passed():
    case = with_motor(offset=1.0)
    blind = replace(case, vehicle=case.vehicle.model_copy(update={"driveline": None}))
    layout = place(case, base_items(case)).layouts[0].layout
    assert [c.verdict for c in check_orders(blind, layout)] == ["unknown"]
    assert BAY.lo[0] < 0
