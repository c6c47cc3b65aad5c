"""Measured shapes -> closed surfaces."""

from math import cos, pi, sin

import numpy as np
import pytest
import trimesh
from hypothesis import given, settings
from hypothesis import strategies as st

from packlayout.model.geometry import TriMesh
from packlayout.space.envelope import EnvelopeError, box, check_outline, cylinder, extruded, is_closed, loft

SQUARE = [(-400.0, 200.0), (400.0, 200.0), (400.0, 800.0), (-400.0, 800.0)]
SMALL = [(-300.0, 200.0), (300.0, 200.0), (300.0, 700.0), (-300.0, 700.0)]


def sealed(mesh: TriMesh) -> bool:
    """Closed and outward, told by trimesh, which shares no code with the maker."""
    other = trimesh.Trimesh(mesh.vertices, mesh.faces, process=False)
    return bool(other.is_watertight and other.is_winding_consistent and other.volume > 0)


# ---- by hand


def test_box() -> None:
    mesh = box((10, 0, 30), (0, 20, 0))
    assert mesh.volume == pytest.approx(10 * 20 * 30)
    assert mesh.bounds.lo == (0, 0, 0)
    assert sealed(mesh)


def test_a_bar_lies_within_its_prism() -> None:
    mesh = cylinder((0, 0, 0), (100, 0, 0), 50)
    # area of a polygon of n sides about a circle: n r2 tan(pi / n)
    assert mesh.volume == pytest.approx(100 * 32 * 25**2 * np.tan(pi / 32))
    assert mesh.bounds.hi == pytest.approx((100, 25, 25))
    assert sealed(mesh)


def test_extruded_triangle_along_each_axis() -> None:
    for along, size in (("x", (30, 10, 20)), ("y", (10, 30, 20)), ("z", (10, 20, 30))):
        mesh = extruded(along, [(0, 0), (10, 0), (10, 20)], 5, 35)
        assert mesh.volume == pytest.approx(30 * 100)
        assert mesh.bounds.size == size
        assert mesh.bounds.lo["xyz".index(along)] == 5
        assert sealed(mesh)


def test_loft_between_two_rectangles() -> None:
    # widths 800 to 600 and heights 600 to 500 change evenly: integral of their product over 500 mm
    volume = 500 * ((800 * 600 + 600 * 500) / 3 + (800 * 500 + 600 * 600) / 6)
    mesh = loft([(0, SQUARE), (500, SMALL)])
    assert mesh.volume == pytest.approx(volume)
    assert sealed(mesh)


def test_loft_of_an_l_shape_is_not_filled_up() -> None:
    shape = [(0.0, 0.0), (300.0, 0.0), (300.0, 100.0), (100.0, 100.0), (100.0, 300.0), (0.0, 300.0)]
    assert loft([(0, shape), (200, shape)]).volume == pytest.approx(200 * (300 * 100 + 200 * 100))


def test_a_point_more_on_a_side_changes_nothing() -> None:
    more = [(-400.0, 200.0), (0.0, 200.0), (400.0, 200.0), (400.0, 800.0), (-400.0, 800.0)]
    mesh = loft([(0, SQUARE), (500, more)])
    assert mesh.volume == pytest.approx(800 * 600 * 500)
    assert sealed(mesh)


def test_equal_counts_go_point_to_point() -> None:
    # a corner moved along the outline would shift every share of the length, yet the other corners stay joined
    moved = [(-400.0, 200.0), (100.0, 200.0), (400.0, 800.0), (-400.0, 800.0)]
    mesh = loft([(0, SQUARE), (100, moved)])
    edges = {frozenset(map(int, edge)) for face in mesh.faces for edge in (face[:2], face[1:], face[[2, 0]])}
    assert all(frozenset((k, k + 4)) in edges for k in range(4))


def test_where_four_points_are_not_in_one_plane_the_inner_way_is_taken() -> None:
    tilted = [(-400.0, 200.0), (400.0, 200.0), (400.0, 700.0), (-400.0, 800.0)]
    here, there = loft([(0, SQUARE), (500, tilted)]), loft([(0, tilted), (500, SQUARE)])
    # the ruled surface through the same points holds the mean of the two ways
    ruled = 500 * (800 * 600 - 800 * 100 / 2 / 2)
    assert here.volume == pytest.approx(ruled - 500 * 800 * 100 / 12)
    assert there.volume == pytest.approx(here.volume)


def test_a_torn_surface_is_not_closed() -> None:
    mesh = box((0, 0, 0), (1, 1, 1))
    assert is_closed(mesh.faces)
    assert not is_closed(mesh.faces[1:])
    assert not is_closed(np.concatenate([mesh.faces[:1, ::-1], mesh.faces[1:]]))


# ---- invariant


def blob(count: int, size: float, bumps: int, start: float) -> list[tuple[float, float]]:
    turns = [start + 2 * pi * k / count for k in range(count)]
    return [(size * (1 + 0.2 * sin(bumps * t)) * cos(t), 500 + size * sin(t)) for t in turns]


blobs = st.builds(blob, st.integers(5, 30), st.floats(150, 400), st.integers(0, 4), st.floats(-0.2, 0.2))


@settings(max_examples=60, deadline=None)
@given(st.lists(blobs, min_size=2, max_size=6), st.floats(20, 400), st.data())
def test_lofts_are_closed_and_do_not_depend_on_direction(
    outlines: list[list[tuple[float, float]]], step: float, data: st.DataObject
) -> None:
    stations = [(k * step, outline) for k, outline in enumerate(outlines)]
    turned = [
        (x, [outline[0], *outline[:0:-1]] if data.draw(st.booleans()) else outline) for x, outline in stations
    ]
    mesh = loft(stations)
    assert sealed(mesh)
    assert loft(turned).volume == pytest.approx(mesh.volume)
    assert mesh.bounds.lo[0] == 0
    assert mesh.bounds.hi[0] == pytest.approx(step * (len(outlines) - 1))
    # every taped point is a corner of the surface
    assert len(mesh.vertices) == sum(map(len, outlines))


@settings(max_examples=60, deadline=None)
@given(st.lists(blobs, min_size=2, max_size=4))
def test_a_mirrored_vehicle_has_the_mirrored_envelope(outlines: list[list[tuple[float, float]]]) -> None:
    stations = [(100.0 * k, outline) for k, outline in enumerate(outlines)]
    mirrored = [(x, [(-y, z) for y, z in outline]) for x, outline in stations]
    one, other = loft(stations), loft(mirrored)
    assert other.volume == pytest.approx(one.volume, rel=1e-9)


points = st.tuples(*[st.floats(-1000, 1000)] * 3)


@settings(max_examples=60, deadline=None)
@given(points, points, st.floats(5, 300))
def test_cylinders_hold_their_bar(start: tuple[float, ...], end: tuple[float, ...], diameter: float) -> None:
    a, b = np.array(start), np.array(end)
    length = float(np.linalg.norm(b - a))
    if length < 1:
        return
    mesh = cylinder((a[0], a[1], a[2]), (b[0], b[1], b[2]), diameter)
    assert sealed(mesh)
    solid = pi / 4 * diameter**2 * length
    assert solid < mesh.volume < 1.004 * solid
    # no side plane comes nearer to the axis than the radius
    triangles = mesh.triangles
    normal = np.cross(triangles[:, 1] - triangles[:, 0], triangles[:, 2] - triangles[:, 0])
    normal /= np.linalg.norm(normal, axis=1)[:, None]
    side = np.abs(normal @ (b - a) / length) < 0.5
    reach = ((triangles[side, 0] - a) * normal[side]).sum(axis=1)
    assert reach.min() > diameter / 2 * (1 - 1e-6)


# ---- refusal


@pytest.mark.parametrize(
    ("stations", "where", "message"),
    [
        ([(0, SQUARE)], ("stations",), "1 stations; allowed: two or more"),
        ([(0, SQUARE), (0.5, SMALL)], ("stations", 1, "x"), "x 0.5 after x 0"),
        ([(0, SQUARE), (-100, SMALL)], ("stations", 1, "x"), "x -100 after x 0"),
        ([(0, SQUARE), (100, SQUARE[:2])], ("stations", 1, "outline"), "an outline of 2 points"),
        ([(0, [SQUARE[0], SQUARE[2], SQUARE[1], SQUARE[3]]), (100, SMALL)], ("stations", 0, "outline"),
         "the outline crosses or touches itself at (0, 500), between points 1-2 and 3-4"),
        ([(0, SQUARE), (100, [*SMALL, SMALL[0]])], ("stations", 1, "outline", 4),
         "point 5 repeats the first; allowed: each point once; leave it out: the outline closes by itself"),
        ([(0, SQUARE), (100, [*SMALL[:2], SMALL[1], *SMALL[2:]])], ("stations", 1, "outline", 2),
         "point 3 repeats the one before"),
        ([(0, SQUARE), (100, [(0, 0), (0.4, 0), (0.4, 0.6)])], ("stations", 1, "outline"),
         "an outline of 0.12 mm2; allowed: at least 1 mm2; are the points in mm?"),
        ([(0, SQUARE), (100, [*SMALL[1:], SMALL[0]])], ("stations", 1, "outline"),
         "the surface between x 0 and x 100 is twisted: the outlines begin at different corners; "
         "allowed: outlines that all begin at the same corner; begin this one at (-300, 200)"),
        ([(0, SQUARE), (100, [*SMALL[2:], (-310.0, 450.0), *SMALL[:2]])], ("stations", 1),
         "between x 0 and x 100 the surface crosses itself"),
    ],
)  # fmt: skip
def test_bad_stations(stations: list, where: tuple, message: str) -> None:  # type: ignore[type-arg]
    with pytest.raises(EnvelopeError) as caught:
        loft(stations)
    assert caught.value.where == where
    assert str(caught.value).startswith(message)


def test_shapes_without_volume() -> None:
    with pytest.raises(EnvelopeError, match="a box without volume"):
        box((0, 0, 0), (10, 0, 10))
    with pytest.raises(EnvelopeError, match="a cylinder without volume"):
        cylinder((1, 2, 3), (1, 2, 3), 10)
    with pytest.raises(EnvelopeError, match="nothing between begin and end"):
        extruded("x", SQUARE, 10, 10)


def test_an_outline_that_touches_itself() -> None:
    with pytest.raises(EnvelopeError, match="crosses or touches itself"):
        check_outline([(0, 0), (100, 0), (100, 100), (50, 0), (0, 100)], ())
