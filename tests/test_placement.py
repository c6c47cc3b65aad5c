"""Placement: what is placed is placed rightly, what does not fit is said."""

from dataclasses import replace
from functools import cache
from itertools import combinations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from packlayout.mass.ledger import base_items
from packlayout.model.brief import Clearances, Fixed, PartOrder
from packlayout.model.geometry import Box
from packlayout.model.layout import Layout
from packlayout.placement import aims
from packlayout.placement.again import refine
from packlayout.placement.forms import block_forms, block_margin, part_forms, reserve
from packlayout.placement.place import judge_layout, place, splits
from packlayout.placement.verify import check_layout
from tests.bays import PARTS, job, part


def run(case, seed=0):
    """Place with the vehicle's own masses."""
    return place(case, base_items(case), seed)


@cache
def usual():
    """The roomy job and its answer, worked out once."""
    case = job()
    return case, run(case)


def failed(checks):
    """Ids of the checks that fail."""
    return [c.id for c in checks if c.verdict == "fail"]


# ---------------------------------------------------------------- by hand


def test_eight_modules_and_two_parts_fit_a_roomy_bay():
    _, placed = usual()
    assert placed.count.packed == 8
    assert placed.count.proven
    assert placed.why_not_more == ()
    names = [p.name for p in placed.layouts[0].layout.placements]
    assert names == [*(f"module {n}" for n in range(1, 9)), "junction box", "controller"]
    assert failed(placed.checks) == []


def test_the_junction_box_stands_on_the_pack():
    case, placed = usual()
    layout = placed.layouts[0].layout
    top = reserve(case, layout.blocks[0]).hi[2]
    box = next(p for p in layout.placements if p.name == "junction box").box
    assert 10.0 <= box.lo[2] - top <= 50.0


def test_a_low_bay_takes_fewer_modules_and_says_so():
    # 280 mm high: one layer of modules in its cradle is 182, two are 302
    case = job(bay=Box((-350.0, -380.0, 280.0), (350.0, 380.0, 560.0)), parts=(), blocks_at_most=1)
    placed = run(case)
    assert 0 < placed.count.packed < 8
    check = next(c for c in placed.checks if c.id == "place.count")
    assert check.verdict == "fail"
    assert check.value == placed.count.packed
    assert any(why.startswith("No layout can hold more than 5 modules") for why in placed.why_not_more)
    assert placed.count.proven


def test_nothing_fits_a_cupboard():
    placed = run(job(bay=Box((0.0, 0.0, 300.0), (300.0, 150.0, 500.0))))
    assert placed.layouts == ()
    assert placed.count.packed == 0
    short = ["place.fits.module", "place.fits.junction-box", "place.fits.controller"]
    assert failed(placed.checks) == ["place.count", *short]


def test_a_part_larger_than_every_zone_is_named():
    case = job(known={**PARTS, "controller": part("controller", (1200, 240, 120), 11)})
    placed = run(case)
    assert failed(placed.checks) == ["place.count", "place.fits.controller"]
    # the bay is 950 mm long, 10 mm clear of its surface at both ends
    assert placed.why_not_more[0].startswith(
        "controller needs 1200 mm along x; bay within its clearances has 930 mm"
    )
    assert placed.layouts == ()


def test_energy_asks_for_the_least_number_that_holds_it():
    case = job()
    order = case.brief.modules.model_copy(update={"count": None, "energy_kwh": 10.0})
    brief = case.brief.model_copy(update={"modules": order})
    assert replace(case, brief=brief).modules_wanted == 5  # 4 x 2.4 = 9.6


def test_terminals_of_a_block_face_outward():
    forms = block_forms(job(), 8)
    two_deep = [f for f in forms if f.label.startswith("2 x 2 x 2, +z up, 0 deg")]
    assert two_deep
    for form in two_deep:
        looks = {(m.at[0] > 100, m.turn_deg) for m in form.members}
        assert looks == {(False, 180), (True, 0)}
    # four deep along the terminals: the inner ones could not be reached
    assert not [f for f in forms if f.label.startswith("4 x 2 x 1, +z up, 0 deg")]


def test_ways_to_share_out_modules():
    assert splits(5, 2) == [(5,), (3, 2), (4, 1)]
    assert splits(3, 1) == [(3,)]


# ---------------------------------------------------------------- reference: the kernel against whole-layout sums


def test_the_kernels_score_is_the_score_of_the_layout():
    """The search's own arithmetic against the sums over mass items, which share no code."""
    import numpy as np

    from packlayout.placement.board import Board, to_layout
    from packlayout.placement.entities import block_entities, joined, part_entities
    from packlayout.placement.place import spaces_of
    from packlayout.placement.search import run_start

    case = job()
    spaces = spaces_of(case)
    goal = aims.targets(case, base_items(case))
    things = joined(block_entities(case, spaces, (8,)), part_entities(case, spaces))
    board, _ = run_start(case, things, goal, np.random.default_rng(0), None, 100)
    assert isinstance(board, Board)
    last = len(things) - 1
    spot = board.spots[last]
    _, partial = board._best(last, np.array([spot.at]), np.array([spot.form]), np.zeros(1))
    layout = to_layout(case, board, spaces)
    found = aims.objectives(case, layout, goal)
    # the kernel scores one part: leave out what the others add to compactness and cables
    box = next(p for p in layout.placements if p.name == "junction box")
    centre = aims.pack_centre(layout)
    others = sum((a - b) ** 2 for a, b in zip(box.box.centre, centre, strict=True)) ** 0.5
    found["compactness_mm"] -= others
    top = (centre[0], centre[1], layout.blocks[0].box.hi[2])
    to_pack = sum(abs(a - b) for a, b in zip(box.pose.point((150, 100, 60)), top, strict=True))
    found["cable_length_mm"] -= to_pack
    assert partial == pytest.approx(aims.score(case, found), rel=1e-9)
    whole = aims.objectives(case, layout, goal)
    assert board.total() == pytest.approx(aims.score(case, whole), rel=1e-9)


# ---------------------------------------------------------------- invariant


def independent_faults(case, layout):
    """Overlaps, gaps and walls by plain interval arithmetic on the boxes, sharing no code with the solver."""
    c = case.brief.clearances
    zone = case.zones["bay"].bounds
    things = [(f"block {b.number}", reserve(case, b)) for b in layout.blocks]
    things += [(p.name, p.box) for p in layout.placements if p.block is None]
    bad = []
    for name, box in things:
        low = min(a - z for a, z in zip(box.lo, zone.lo, strict=True))
        room = min(low, min(z - a for a, z in zip(box.hi, zone.hi, strict=True)))
        if room < c.body_mm - 1e-6:
            bad.append((name, "wall", room))
    for (a, p), (b, q) in combinations(things, 2):
        gap = max(max(x0 - y1, y0 - x1) for x0, x1, y0, y1 in zip(p.lo, p.hi, q.lo, q.hi, strict=True))
        if gap < c.parts_mm - 1e-6:
            bad.append((a, b, gap))
    for keep in case.vehicle.keep_outs:
        k = case.keep_outs[keep.name].bounds
        need = {"solid": c.body_mm, "moving": c.moving_mm, "hot": c.hot_mm}[keep.kind]
        for name, box in things:
            gap = max(
                max(x0 - y1, y0 - x1) for x0, x1, y0, y1 in zip(box.lo, box.hi, k.lo, k.hi, strict=True)
            )
            if gap < need / 3**0.5 - 1e-6:  # per-axis gap; the distance over a corner is longer
                bad.append((name, keep.name, gap))
    return bad


@settings(max_examples=12, deadline=None)
@given(
    st.integers(2, 9),
    st.tuples(st.integers(-200, 300), st.integers(-250, 100), st.integers(300, 700)),
    st.sampled_from(["solid", "moving", "hot"]),
    st.integers(0, 5),
)
def test_every_offered_layout_keeps_its_clearances(count, corner, kind, seed):
    lo = tuple(float(v) for v in corner)
    keep = Box(lo, (lo[0] + 150.0, lo[1] + 120.0, lo[2] + 90.0))
    case = job(count=count, keep_outs=(("thing", kind, keep),))
    placed = run(case, seed)
    for scored in placed.layouts:
        assert independent_faults(case, scored.layout) == []
        assert failed(check_layout(case, scored.layout)) == []
        assert len(scored.layout.modules) == placed.count.packed
    assert placed.count.packed <= placed.count.upper_bound


def test_same_seed_same_layouts():
    assert run(job()) == usual()[1]


def test_orientations_are_kept():
    for p in usual()[1].layouts[0].layout.placements:
        assert p.up in PARTS[p.part].up


def test_a_fixed_part_stays_to_the_micrometre():
    at = (123.456, -40.321, 700.125)
    order = PartOrder(part="controller", zones=("bay",), fixed=Fixed(at=at, up="+z", turn_deg=90))
    placed = run(job(parts=(order,)))
    p = next(p for p in placed.layouts[0].layout.placements if p.name == "controller")
    assert p.at == at
    assert p.locked


def test_refining_with_the_same_burden_moves_nothing_that_is_settled():
    case, placed = usual()
    burden = base_items(case)
    once = refine(case, placed.layouts[0].layout, burden)
    twice = refine(case, once, burden)
    assert [p.at for p in once.placements] == [p.at for p in twice.placements]


# ---------------------------------------------------------------- refusal


def test_an_edited_layout_that_overlaps_is_judged_not_dropped():
    case, placed = usual()
    layout = placed.layouts[0].layout
    box = next(p for p in layout.placements if p.name == "junction box")
    pushed = replace(box, at=(box.at[0], box.at[1], box.at[2] - 60.0))
    edited = Layout(tuple(pushed if p is box else p for p in layout.placements))
    checks = judge_layout(case, edited, base_items(case)).checks
    bad = next(c for c in checks if c.id == "place.clear.parts")
    assert bad.verdict == "fail"
    assert "junction box" in bad.title
    assert "pack block 1" in bad.title


def test_a_part_outside_its_zone_fails_by_how_far():
    case, placed = usual()
    layout = placed.layouts[0].layout
    ctl = next(p for p in layout.placements if p.name == "controller")
    out = replace(ctl, at=(ctl.at[0], 500.0, ctl.at[2]))
    edited = Layout(tuple(out if p is ctl else p for p in layout.placements))
    bad = next(c for c in check_layout(case, edited) if c.id == "place.clear.body")
    assert bad.verdict == "fail"
    assert bad.value is not None
    assert bad.value < 0


def test_two_fixed_parts_that_overlap_are_named_with_the_depth():
    first = PartOrder(part="controller", name="first", zones=("bay",), fixed=Fixed(at=(-300, -300, 300)))
    second = PartOrder(part="controller", name="second", zones=("bay",), fixed=Fixed(at=(-100, -300, 300)))
    placed = run(job(count=2, parts=(first, second)))
    assert placed.layouts == ()
    assert any("first" in why or "second" in why for why in placed.why_not_more)


def test_clearance_between_parts_is_the_briefs():
    wide = run(job(clearances=Clearances(parts_mm=40)))
    layout = wide.layouts[0].layout
    case = job(clearances=Clearances(parts_mm=40))
    things = [reserve(case, b) for b in layout.blocks]
    things += [p.box for p in layout.placements if p.block is None]
    for p, q in combinations(things, 2):
        assert p.distance(q) >= 40.0 - 1e-6


@pytest.mark.parametrize("up", ["+z", "+x", "-x", "+y", "-y", "-z"])
def test_forms_of_a_part_stand_on_the_side_they_say(up):
    thing = part("other", (300, 200, 100), 5, up=[up])
    sizes = {form.size for form in part_forms(thing)}
    tall = {"z": 100, "x": 300, "y": 200}[up[1]]
    assert {round(s[2]) for s in sizes} == {tall}
    assert len(sizes) == 2


def test_the_cradles_room_is_tube_and_liner():
    assert block_margin(job()) == 32.0
