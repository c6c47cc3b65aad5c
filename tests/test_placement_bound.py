"""Upper bounds and what surely stands: bays with a known answer, and points against exact distances."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from packlayout.mass.ledger import base_items
from packlayout.model.geometry import Box
from packlayout.placement.blocks import may_stand, splits
from packlayout.placement.bound import (
    by_lattice,
    by_room,
    by_weights,
    in_blocks,
    lattice_pitch,
    points_of,
    upper_bound,
)
from packlayout.placement.clear import spaces_of
from packlayout.placement.place import place
from packlayout.placement.solve import first_valid, setting
from packlayout.space.clearance import gap, inside, solid
from packlayout.space.envelope import box_mesh
from packlayout.space.points import open_points
from tests.bays import PARTS, job, part
from tests.generated import job_in, known_bay, lofted_bay

# ---------------------------------------------------------------- by hand


def test_a_low_bay_holds_five_modules_and_that_is_proven():
    """280 mm high leaves 260 between clearances: one layer, 178 or 239 high with its cradle, no second one.

    Standing on their sides, 118 wide, 5 in a row take 5 x 118 + 4 x 2 + 64 = 662 of 680 mm; two rows back to
    back take 2 x 340 + 2 + 64 = 746 of 740 mm.
    """
    case = job(bay=Box((-350.0, -380.0, 280.0), (350.0, 380.0, 560.0)), parts=(), blocks_at_most=1)
    bound = upper_bound(case, packed=5)
    assert bound.modules == 5
    assert "optimistic points" in bound.basis


def test_ways_to_share_out_modules():
    assert splits(5, 2) == [(5,), (3, 2), (4, 1)]
    assert splits(3, 1) == [(3,)]
    assert splits(4, 3) == [(4,), (2, 2), (3, 1), (2, 1, 1)]


def test_points_of_a_box_lie_within_its_clearance():
    room = Box((0.0, 0.0, 0.0), (300.0, 200.0, 100.0))
    points = open_points("bay", box_mesh(room), 10.0, [], 10.0)
    at = np.argwhere(points.open) * 10.0 + np.array(points.first)
    assert at.min(axis=0) == pytest.approx([10.0, 10.0, 10.0], abs=0.1)
    assert len(at) == 28 * 18 * 8


def test_blocks_that_pass_corner_to_corner_are_not_ruled_out():
    """Two cubes of 60, 124 with their cradles, 6 mm apart along each axis, keep 10.4 mm of the 10 that are asked for.

    A bay of 254 and the clearances has room for just that; 134 from each to the next would ask for 258.
    """
    known = {**PARTS, "module": part("battery module", (60, 60, 60), 2)}
    case = job(bay=Box((0.0, 0.0, 300.0), (274.0, 274.0, 574.0)), count=2, parts=(), known=known)
    assert in_blocks(case, 2.0).modules >= 2
    assert may_stand(case, points_of(case, 2.0), (1, 1))


def test_a_lattice_whose_step_divides_a_module():
    """302 x 182 x 122 hold 5 x 3 x 2 steps of 60.3 and lose least."""
    pitch = lattice_pitch([(302.0, 182.0, 122.0)])
    assert 60.0 <= pitch <= 60.5


def test_the_lattice_bound_of_a_box_by_hand():
    """Room for two modules in a row and no third: 2 x 340 + 2 between + 64 of cradle + 20 of clearance, 10 spare."""
    case = job(bay=Box((0.0, 0.0, 300.0), (776.0, 270.0, 512.0)), parts=(), count=6)
    case = replace(case, brief=case.brief.model_copy(
        update={"modules": case.brief.modules.model_copy(update={"loose": True})}))  # fmt: skip
    assert by_lattice(case).modules == 2


# ---------------------------------------------------------------- reference: bays with a known answer


@pytest.mark.parametrize("seed", range(4))
def test_no_bound_for_loose_modules_undercuts_a_bay_cut_around_them(seed):
    case, count = known_bay(seed, loose=True)
    assert by_lattice(case).modules >= count
    assert by_lattice(case, finer=True).modules >= count
    assert by_weights(case, 80).modules >= count
    assert upper_bound(case, count).modules >= count


@pytest.mark.parametrize("seed", range(6))
def test_bays_cut_around_blocks_are_filled_and_the_bound_never_undercuts_them(seed):
    case, count = known_bay(seed)
    assert upper_bound(case, count).modules >= count
    found = None
    for pitch in (10.0, 5.0):
        found = found or first_valid(setting(case, base_items(case), 0, pitch_mm=pitch), count)
    assert found is not None
    assert len(found.layout.modules) == count


def test_every_bound_holds_for_what_was_placed():
    case = job(bay=Box((-250.0, -260.0, 280.0), (300.0, 260.0, 600.0)), parts=(), count=9)
    placed = place(case, base_items(case))
    assert placed.count.packed > 0
    for bound in (in_blocks(case, 10.0), in_blocks(case, 5.0), by_room(case), by_weights(case, 80)):
        assert bound.modules >= placed.count.packed


# ---------------------------------------------------------------- invariant


@settings(max_examples=6, deadline=None)
@given(st.integers(0, 500))
def test_open_points_are_those_inside_and_clear(seed):
    """Against the collision library: a point is open exactly when it is inside and at its distance."""
    bay = lofted_bay(seed)
    keep = [(mesh, 25.0) for _, _, mesh, _ in bay.keep_outs]
    points = open_points("bay", bay.surface, 10.0, keep, 40.0)
    walls = [(solid("wall", bay.surface), 10.0), *((solid("keep", m), d) for m, d in keep)]
    rng = np.random.default_rng(seed)
    for cell in rng.permutation(np.argwhere(np.ones(points.open.shape)))[:60]:
        x, y, z = (float(v) for v in np.array(points.first) + cell * 40.0)
        speck = solid("point", box_mesh(Box((x, y, z), (x + 1e-3, y + 1e-3, z + 1e-3))))
        clear = all(gap(speck, body).distance_mm >= distance - 0.01 for body, distance in walls)
        near = any(abs(gap(speck, body).distance_mm - distance) < 0.02 for body, distance in walls)
        within = inside((x, y, z), bay.surface) and not any(inside((x, y, z), m) for m, _ in keep)
        if not near:
            assert bool(points.open[tuple(cell)]) == (clear and within)


@settings(max_examples=8, deadline=None)
@given(st.integers(0, 500), st.integers(2, 10))
def test_what_may_not_stand_on_the_cells_is_never_found(seed, count):
    case = job_in(lofted_bay(seed), count, blocks_at_most=2)
    spaces = spaces_of(case)
    now = setting(case, base_items(case), seed)
    possible = any(may_stand(case, spaces, s) for s in splits(count, 2))
    if not possible:
        assert first_valid(now, count) is None
    else:
        assert in_blocks(case, 10.0).modules >= count


# ---------------------------------------------------------------- refusal


def test_a_zone_too_small_for_one_module_is_bound_to_none():
    case = job(bay=Box((0.0, 0.0, 300.0), (300.0, 150.0, 500.0)), parts=())
    assert upper_bound(case).modules == 0
    assert by_weights(case, 40).modules == 0
    assert by_room(case).modules == 0
