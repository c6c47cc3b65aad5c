"""Cells and exact clearances."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from packlayout.model.geometry import Box, TriMesh
from packlayout.space.cells import all_set, anchors, free_space, near_surface, winding
from packlayout.space.clearance import gap, inside, solid
from packlayout.space.envelope import box_mesh
from packlayout.space.touching import box_touches

ROOM = Box((0.0, 0.0, 0.0), (500.0, 400.0, 300.0))


def sphere(centre: tuple[float, float, float], radius: float, steps: int = 24) -> TriMesh:
    """A closed ball of triangles whose corners lie on the sphere."""
    import trimesh

    ball = trimesh.creation.uv_sphere(radius=radius, count=[steps, steps])
    return TriMesh(np.array(ball.vertices) + np.array(centre), np.array(ball.faces, dtype=np.int64))


# ---------------------------------------------------------------- by hand


def test_a_box_room_is_free_less_its_clearance():
    space = free_space("bay", box_mesh(ROOM), 10.0, [], 10.0)
    assert space.free_volume_mm3 == pytest.approx(480 * 380 * 280)


def test_anchors_count_positions_of_a_box_on_cell_corners():
    space = free_space("bay", box_mesh(ROOM), 10.0, [], 10.0)
    # cells from 10 to 490: a box of 400 may begin at 10, 20 ... 90
    at = anchors(space, (400.0, 380.0, 280.0))
    assert sorted(set(at[:, 0])) == pytest.approx([10, 20, 30, 40, 50, 60, 70, 80, 90])
    assert set(at[:, 1]) == {10.0}
    assert set(at[:, 2]) == {10.0}


def test_a_box_larger_than_the_room_has_no_anchor():
    space = free_space("bay", box_mesh(ROOM), 0.0, [], 10.0)
    assert len(anchors(space, (501.0, 10.0, 10.0))) == 0


def test_distance_between_boxes_and_touching():
    a = solid("a", box_mesh(Box((0, 0, 0), (10, 10, 10))))
    assert gap(a, solid("b", box_mesh(Box((13, 14, 0), (20, 20, 10))))).distance_mm == pytest.approx(5.0)
    assert gap(a, solid("c", box_mesh(Box((5, 5, 5), (20, 20, 10))))).distance_mm == 0.0


def test_winding_number_inside_and_outside():
    mesh = box_mesh(ROOM)
    assert winding(mesh, np.array([1.0, 1.0, 1.0])) == pytest.approx(1.0)
    assert winding(mesh, np.array([-1.0, 1.0, 1.0])) == pytest.approx(0.0, abs=1e-12)
    assert inside((250.0, 200.0, 150.0), mesh)


# ---------------------------------------------------------------- reference


def test_box_and_triangle_against_the_collision_library():
    """Separating axes against python-fcl, 400 random triangles and boxes."""
    rng = np.random.default_rng(3)
    seen = {True: 0, False: 0}
    for _ in range(400):
        triangle = rng.uniform(-30, 30, (3, 3))
        lo = rng.uniform(-20, 0, 3)
        hi = lo + rng.uniform(2, 20, 3)
        ours = bool(box_touches(triangle[None], lo, hi))
        flat = TriMesh(triangle, np.array([[0, 1, 2]]))
        theirs = gap(solid("t", flat), solid("b", box_mesh(Box(tuple(lo), tuple(hi))))).distance_mm
        # fcl knows surfaces only: a triangle wholly within the box is apart from its faces
        within = bool(np.all((triangle > lo) & (triangle < hi)))
        assert ours == (theirs == 0.0 or within)
        seen[ours] += 1
    assert min(seen.values()) > 50


# ---------------------------------------------------------------- invariant


@settings(max_examples=40, deadline=None)
@given(
    corners=st.lists(st.tuples(*[st.integers(-30, 60)] * 3), min_size=3, max_size=3),
    half=st.sampled_from([2.5, 5.0, 8.3]),
)
def test_the_cubes_a_triangle_touches_are_those_that_each_cube_alone_says(
    corners: list[tuple[int, int, int]], half: float
):
    """All columns at once against the test of one box, for slanted, upright and flat triangles, needles and points."""
    mesh = TriMesh(np.array(corners, dtype=np.float64), np.array([[0, 1, 2]]))
    shape = (6, 7, 8)
    hit = near_surface(mesh, (0.0, -10.0, 5.0), 5.0, shape, half)
    for index in np.ndindex(shape):
        middle = np.array([0.0, -10.0, 5.0]) + 5.0 * np.array(index)
        # a hair of rounding either way where they just touch
        if hit[index]:
            assert box_touches(mesh.triangles, middle - half - 1e-6, middle + half + 1e-6)
        else:
            assert not box_touches(mesh.triangles, middle - half + 1e-6, middle + half - 1e-6)


@settings(max_examples=25, deadline=None)
@given(
    st.tuples(st.floats(120, 380), st.floats(120, 280), st.floats(100, 200)),
    st.floats(30, 90),
    st.floats(0, 30),
    st.sampled_from([7.0, 10.0, 20.0]),
)
def test_every_free_cell_keeps_its_clearance(centre, radius, clearance, pitch):
    """Random points in free cells are inside, and at their distance from walls and from a round keep-out."""
    ball = sphere(centre, radius)
    space = free_space("bay", box_mesh(ROOM), 12.0, [(ball, clearance)], pitch)
    cells = np.argwhere(space.free)
    if not len(cells):
        return
    rng = np.random.default_rng(0)
    points = (
        np.array(space.origin) + (cells[rng.integers(len(cells), size=200)] + rng.random((200, 3))) * pitch
    )
    walls = np.minimum(points - np.array(ROOM.lo), np.array(ROOM.hi) - points).min(axis=1)
    assert walls.min() >= 12.0 - 1e-5
    # the true surface of the faceted ball lies within its sphere, at cos(pi/24)^2 of the radius at the deepest
    from scipy.spatial import cKDTree

    a, b = ball.triangles[:, 0], ball.triangles[:, 1]
    dense = np.concatenate([a, (a + b) / 2])
    assert cKDTree(dense).query(points)[0].min() >= clearance - 1e-5


@settings(max_examples=25, deadline=None)
@given(st.tuples(*[st.floats(20, 300)] * 3), st.sampled_from([5.0, 10.0]))
def test_every_anchor_is_a_box_of_free_cells(size, pitch):
    keep = [(box_mesh(Box((200, 100, 0), (260, 300, 150))), 15.0)]
    space = free_space("bay", box_mesh(ROOM), 5.0, keep, pitch)
    at = anchors(space, size)
    if len(at):
        assert all_set(space, space.free_sums, at, at + np.array(size)).all()
        block = solid("keep", keep[0][0])
        rng = np.random.default_rng(1)
        for row in at[rng.integers(len(at), size=5)]:
            hi = tuple(row + np.array(size))
            assert gap(solid("part", box_mesh(Box(tuple(row), hi))), block).distance_mm >= 15.0 - 1e-6
