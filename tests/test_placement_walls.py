"""Places close to walls: exact to the clearance, never nearer, and more than cells can tell."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from packlayout.mass.ledger import base_items
from packlayout.model.geometry import Box
from packlayout.placement.forms import block_forms
from packlayout.placement.place import place, spaces_of
from packlayout.placement.solve import first_valid, setting
from packlayout.placement.verify import check_layout
from packlayout.placement.walls import clear_of, close_places, room_open, shell
from packlayout.space.envelope import box_mesh
from packlayout.space.ways import triangles_of
from tests.bays import job
from tests.generated import job_in, known_bay, lofted_bay

# ---------------------------------------------------------------- by hand


def snug(spare, parts=()):
    """A bay with a few millimetres more than one upright module in its cradle and the clearances take."""
    # module 340 x 175 x 118, cradle 32 and clearance 10 on each side
    size = (340 + 84 + spare, 175 + 84 + spare, 118 + 84 + spare)
    lo = (3.3, -7.7, 301.1)
    hi = tuple(a + s for a, s in zip(lo, size, strict=True))
    return job(bay=Box(lo, (hi[0], hi[1], hi[2])), count=1, parts=parts)


def test_a_box_at_just_its_clearance_is_clear_and_nearer_it_is_not():
    walls = [(triangles_of(box_mesh(Box((0.0, 0.0, 0.0), (100.0, 100.0, 100.0)))), 10.0)]
    lo = np.array([[10.0, 10.0, 10.0], [9.99, 10.0, 10.0]])
    assert clear_of(walls, lo, np.full((2, 3), 90.0)).tolist() == [True, False]


def test_a_bay_with_a_millimetre_to_spare_takes_its_module():
    # terminals look along the length and want 70 mm there, so the module stands alone only without them
    case = snug(1.0)
    bare = case.parts["module"].model_copy(update={"access": ()})
    case = job(bay=case.zones["bay"].bounds, count=1, parts=(), known={**case.parts, "module": bare})
    assert first_valid(setting(case, base_items(case), 0), 1) is None  # cells of 10 mm cannot tell
    found = first_valid(setting(case, base_items(case), 0, close=True), 1)
    assert found is not None
    assert [c.id for c in check_layout(case, found.layout) if c.verdict == "fail"] == []
    assert place(case, base_items(case)).count.packed == 1


def test_a_bay_a_millimetre_short_takes_none():
    bay = snug(-1.0).zones["bay"].bounds
    bare = job().parts["module"].model_copy(update={"access": ()})
    case = job(bay=bay, count=1, parts=(), known={**job().parts, "module": bare})
    assert first_valid(setting(case, base_items(case), 0, close=True), 1) is None


def test_an_access_room_that_a_wall_fills_is_shut():
    case = job()
    lo, hi = np.array([[-340.0, -300.0, 400.0]]), np.array([[-300.0, -200.0, 500.0]])
    assert room_open(case, "bay", (1.0, 0.0, 0.0), lo, hi).tolist() == [True]
    assert room_open(case, "bay", (1.0, 0.0, 0.0), lo - 20.0, hi).tolist() == [False]
    # the bay opens upward: a room that reaches through its top is open
    up = np.array([[-300.0, -200.0, 950.0]])
    assert room_open(case, "bay", (0.0, 0.0, 1.0), lo, up).tolist() == [True]


# ---------------------------------------------------------------- reference: bays cut around loose modules


@pytest.mark.parametrize("seed", range(6))
def test_loose_modules_are_all_found_in_the_bays_cut_around_them(seed):
    case, count = known_bay(seed, loose=True)
    found = first_valid(setting(case, base_items(case), 0, close=True), count)
    assert found is not None
    assert len(found.layout.modules) == count


# ---------------------------------------------------------------- invariant


@settings(max_examples=6, deadline=None)
@given(st.integers(0, 10_000))
def test_places_close_to_walls_keep_every_clearance(seed):
    case = job_in(lofted_bay(seed), 2)
    (space,) = spaces_of(case)
    form = block_forms(case, 2)[0]
    at = close_places(case, space, form, 40.0)
    assert len(at)
    solids = shell(case, "bay")
    rng = np.random.default_rng(seed)
    for lo in at[rng.permutation(len(at))[:40]]:
        hi = lo + np.array(form.size)
        # points all over the box and its skin, by the exact distance to triangles
        points = lo + rng.random((30, 3)) * (hi - lo)
        points[:, seed % 3] = lo[seed % 3]
        for triangles, distance in solids:
            assert least_distance(points, triangles) >= distance - 1e-3


def least_distance(points, triangles):
    """Distance of the nearest of some points from the nearest triangle, by trimesh."""
    import trimesh

    _, away, _ = trimesh.proximity.closest_point(
        trimesh.Trimesh(
            triangles.reshape(-1, 3), np.arange(3 * len(triangles)).reshape(-1, 3), process=False
        ),
        points,
    )
    return float(away.min())
