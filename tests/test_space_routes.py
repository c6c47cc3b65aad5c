"""Routes: distances, bends, search, smoothing, proof; and what is told where there is no way."""

from itertools import pairwise
from math import cos, pi, sin, tan

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from packlayout.model.geometry import Box, Floats, TriMesh
from packlayout.space.bars import bar_mesh
from packlayout.space.bends import Line, fits
from packlayout.space.clearance import gap, solid
from packlayout.space.course import OUTSIDE_MM, Barrier, Course
from packlayout.space.envelope import box_mesh, cylinder
from packlayout.space.fields import course
from packlayout.space.nearest import (
    last_crossing,
    line_to_line,
    point_triangle,
    segment_segment,
    segment_triangle,
)
from packlayout.space.routes import End, Need, NoRoute, Route, route
from packlayout.space.surface import surface

BAY = Box((0.0, 0.0, 0.0), (900.0, 600.0, 400.0))
WAY = Box((840.0, 240.0, 150.0), (1300.0, 330.0, 240.0))
NEED = Need(8.0, 50.0, 15.0)


def bay(
    *barriers: Barrier, ways: tuple[tuple[str, Box], ...] = (("way", WAY),), pitch: float = 10.0
) -> Course:
    return course([("bay", box_mesh(BAY), 4.0)], ways, barriers, pitch)


def end(
    part: str, at: tuple[float, float, float], way: tuple[float, float, float], fixed: bool = False
) -> End:
    return End(part, "port", at, way, fixed)


def block(
    name: str, lo: tuple[float, float, float], hi: tuple[float, float, float], gap_mm: float = 4.0
) -> Barrier:
    return Barrier(name, box_mesh(Box(lo, hi)), gap_mm)


PACK = block("pack", (150, 100, 50), (450, 500, 350))


def tube(found: Route, radius: float) -> list[TriMesh]:
    """The cable as short bars of a square that holds it, for an independent measure of distance."""
    points = found.line.points(5.0)
    made: list[TriMesh] = []
    for a, b in pairwise(points):
        along = (b - a) / np.linalg.norm(b - a)
        side = np.cross(along, np.eye(3)[int(np.argmin(np.abs(along)))])
        side /= np.linalg.norm(side)
        made.append(bar_mesh(tuple(a), tuple(b), tuple(side), radius))
    return made


# ---- by hand


def test_a_quarter_bend() -> None:
    line = Line(((0, 0, 0), (100, 0, 0), (100, 80, 0)), 30.0)
    assert line.length_mm == pytest.approx(180 - 2 * 30 + 30 * pi / 2)
    (arc,) = line.arcs
    assert arc.start == pytest.approx((70, 0, 0))
    assert arc.end == pytest.approx((100, 30, 0))
    assert arc.centre == pytest.approx((70, 30, 0))
    assert arc.middle == pytest.approx((70 + 30 / 2**0.5, 30 - 30 / 2**0.5, 0))
    assert line.tightest_mm == pytest.approx(30, rel=1e-6)


def test_a_piece_that_ends_within_a_bend() -> None:
    """From 30 mm before a quarter bend of 30 mm to half way round it."""
    line = Line(((0, 0, 0), (100, 0, 0), (100, 80, 0)), 30.0)
    piece = line.between(40.0, 70.0 + 30 * pi / 4)
    assert piece.length_mm == pytest.approx(30 + 30 * pi / 4)
    assert piece.corners[0] == pytest.approx((40, 0, 0))
    assert piece.corners[-1] == pytest.approx((70 + 30 * sin(pi / 4), 30 - 30 * cos(pi / 4), 0))
    assert piece.arcs[0].centre == pytest.approx((70, 30, 0))


def test_bends_must_find_room() -> None:
    corners = np.array([(0, 0, 0), (60, 0, 0), (60, 59, 0), (0, 59, 0)], dtype=float)
    assert not fits(corners, 30, 20)  # two quarter bends of 30 mm want 60 mm between their corners
    corners[2:, 1] = 60
    assert fits(corners, 30, 20)
    assert not fits(corners, 30, 31)


def test_straight_across_an_empty_bay() -> None:
    found = route(
        bay(), end("a", (0, 300, 200), (1, 0, 0), True), end("b", (900, 300, 200), (-1, 0, 0), True), NEED
    )
    assert isinstance(found, Route)
    assert found.line.length_mm == pytest.approx(900, abs=0.01)
    assert found.elbows == ()


def test_out_through_a_cable_way() -> None:
    found = route(
        bay(PACK), end("pack", (450, 300, 200), (1, 0, 0)), end("b", (1300, 285, 195), (-1, 0, 0), True), NEED
    )
    assert isinstance(found, Route)
    assert 850 <= found.line.length_mm <= 1000
    points = found.line.points()
    beyond = points[points[:, 0] > 900]
    assert (beyond >= np.array(WAY.lo) + 8 - 1e-6)[:, 1:].all()
    assert (beyond <= np.array(WAY.hi) - 8 + 1e-6)[:, 1:].all()


def test_an_elbow_where_there_is_no_room_to_bend() -> None:
    wall = block("wall", (490, 0, 0), (500, 600, 300))  # 40 mm in front of the port
    found = route(bay(PACK, wall), end("pack", (450, 300, 200), (1, 0, 0)),
                  end("b", (900, 300, 200), (-1, 0, 0), True), NEED)  # fmt: skip
    assert isinstance(found, Route)
    assert len(found.elbows) == 1
    port, above = found.elbows[0]
    assert above == pytest.approx((port[0] + 25, port[1], port[2]))


def test_another_cable_is_kept_clear_of() -> None:
    a, b = end("a", (0, 300, 200), (1, 0, 0), True), end("b", (900, 300, 200), (-1, 0, 0), True)
    there = np.array([(450.0, 0.0, 200.0), (450.0, 600.0, 200.0)])
    found = route(bay().with_cable("first", there, 10.0), a, b, NEED)
    assert isinstance(found, Route)
    points = found.line.points(2.0)
    away = np.hypot(points[:, 0] - 450, points[:, 2] - 200)
    assert away.min() >= 18 - 0.1


def test_access_room_of_others_is_not_crossed_but_ones_own_is() -> None:
    room = Barrier("room of pack", box_mesh(Box((450, 0, 0), (560, 600, 400))), 0.0, reach="pack")
    goal = end("b", (900, 300, 200), (-1, 0, 0), True)
    assert isinstance(route(bay(PACK, room), end("pack", (450, 300, 200), (1, 0, 0)), goal, NEED), Route)
    other = route(bay(PACK, room), end("c", (20, 300, 200), (1, 0, 0)), goal, NEED)
    assert isinstance(other, NoRoute)


# ---- reference


def test_distance_of_a_point_to_a_triangle() -> None:
    """Right triangle of legs 3 and 4 in the plane z = 0: over its inside, an edge, a corner; by Pythagoras."""
    t = np.array([(0, 0, 0), (3, 0, 0), (0, 4, 0)], dtype=float)
    assert point_triangle(1, 1, 2, t) == pytest.approx(2)
    assert point_triangle(1, -3, 4, t) == pytest.approx(5)
    assert point_triangle(-3, -4, 12, t) == pytest.approx(13)
    assert point_triangle(3, 4, 0, t) == pytest.approx(
        12 / 5
    )  # height over the hypotenuse of a 3-4-5 triangle


def test_distance_of_segments() -> None:
    """Skew edges of a cube of side 7: 7; a segment through a triangle: 0."""
    a = np.array([(0, 0, 0), (7, 0, 0)], dtype=float)
    b = np.array([(0, 7, 0), (0, 7, 7)], dtype=float)
    assert segment_segment(a[0], a[1], b[0], b[1]) == pytest.approx(7)
    t = np.array([(0, 0, 0), (9, 0, 0), (0, 9, 0)], dtype=float)
    assert segment_triangle(np.array([1.0, 1, -1]), np.array([1.0, 1, 1]), t) == 0
    assert segment_triangle(np.array([1.0, 1, 2]), np.array([1.0, 1, 5]), t) == pytest.approx(2)


def test_distances_agree_with_the_collision_library() -> None:
    """python-fcl measures the finished cable, as bars, against the real solids."""
    bar = Barrier("bar", cylinder((500, 50, 60), (700, 560, 300), 60), 6.0)
    found = route(bay(PACK, bar), end("pack", (450, 300, 200), (1, 0, 0)), end("b", (1300, 285, 195), (-1, 0, 0), True),
                  NEED)  # fmt: skip
    assert isinstance(found, Route)
    obstacle = solid("bar", bar.mesh)
    # a square of side r holds nothing beyond r / sqrt 2 of the middle line
    nearest = min(gap(solid("cable", piece), obstacle).distance_mm for piece in tube(found, 8.0))
    assert nearest >= 6.0 + 8.0 - 8.0 / 2**0.5 - 0.2
    for piece in tube(found, 8.0):
        assert piece.bounds.overlap_depth(PACK.mesh.bounds) <= 4.1  # only at its own port


# ---- invariant


@settings(max_examples=40, deadline=None)
@given(st.lists(st.tuples(*[st.floats(-500, 500)] * 3), min_size=3, max_size=6), st.floats(20, 90))
def test_bend_radius_is_nowhere_below_its_minimum(
    corners: list[tuple[float, float, float]], radius: float
) -> None:
    points = np.array(corners)
    if np.linalg.norm(np.diff(points, axis=0), axis=1).min() < 1 or not fits(points, radius, 10):
        return
    line = Line(tuple(corners), radius)
    assert line.tightest_mm >= radius * (1 - 1e-6)
    sampled = np.linalg.norm(np.diff(line.points(0.5), axis=0), axis=1).sum()
    assert sampled == pytest.approx(line.length_mm, rel=2e-3)
    for arc in line.arcs:
        assert np.linalg.norm(np.array(arc.middle) - arc.centre) == pytest.approx(radius)


@settings(max_examples=60, deadline=None)
@given(
    st.lists(st.tuples(*[st.floats(-500, 500)] * 3), min_size=2, max_size=6), st.floats(5, 60), st.floats(0, 1),
    st.floats(0, 1),
)  # fmt: skip
def test_a_piece_of_a_line_lies_on_it(
    corners: list[tuple[float, float, float]], radius: float, one: float, other: float
) -> None:
    points = np.array(corners)
    if np.linalg.norm(np.diff(points, axis=0), axis=1).min() < 1 or not fits(points, radius, 0):
        return
    way = np.diff(points, axis=0) / np.linalg.norm(np.diff(points, axis=0), axis=1)[:, None]
    if ((way[1:] * way[:-1]).sum(axis=1) < -0.9).any():
        return  # a cable never turns back on itself
    line = Line(tuple(corners), radius)
    begin, end = sorted((one * line.length_mm, other * line.length_mm))
    if end - begin < 1:
        return
    piece = line.between(begin, end)
    assert piece.length_mm == pytest.approx(end - begin, abs=1e-3)
    assert float(line_to_line(piece.points(1.0), line.points(1.0), 5.0).max()) < 0.1


def test_a_shunned_place_is_gone_round_and_stays_so_when_smoothed() -> None:
    """A strip across the middle of an empty bay counts 20 times: the line crosses it where it is narrow."""
    space = bay()
    middles = (
        (np.arange(n) + 0.5) * space.pitch_mm + o
        for n, o in zip(space.clear.shape, space.origin, strict=True)
    )
    x, y, z = np.meshgrid(*middles, indexing="ij")
    strip = (np.abs(x - 450) < np.where(y < 450, 150, 15)) & (z < 1000)
    shun = (20 * strip).astype(np.uint8).ravel()
    ends = end("a", (40, 300, 200), (1, 0, 0), True), end("b", (860, 300, 200), (-1, 0, 0), True)
    plain, found = route(space, *ends, NEED), route(space, *ends, NEED, shun=shun)
    assert isinstance(plain, Route)
    assert isinstance(found, Route)

    def inside(made: Route) -> float:
        p = made.line.points(2.0)
        m, steps = (p[1:] + p[:-1]) / 2, np.linalg.norm(np.diff(p, axis=0), axis=1)
        return float(steps[np.abs(m[:, 0] - 450) < np.where(m[:, 1] < 450, 150, 15)].sum())

    assert inside(plain) == pytest.approx(300, abs=5)
    assert inside(found) < 60
    assert plain.line.length_mm < found.line.length_mm < 1300


Where = st.tuples(st.floats(520, 800), st.floats(60, 540), st.floats(60, 340))


@settings(max_examples=25, deadline=None)
@given(
    Where,
    st.tuples(st.floats(20, 120), st.floats(20, 200), st.floats(20, 200)),
    st.sampled_from([5.0, 8.0, 13.0]),
)
def test_a_route_never_comes_nearer_than_its_gap(
    at: tuple[float, float, float], size: tuple[float, float, float], radius: float
) -> None:
    lo = tuple(a - s / 2 for a, s in zip(at, size, strict=True))
    hi = tuple(a + s / 2 for a, s in zip(at, size, strict=True))
    stone = block("stone", lo, hi, 6.0)  # type: ignore[arg-type]
    need = Need(radius, 6 * radius, 15.0)
    found = route(bay(PACK, stone), end("pack", (450, 300, 200), (1, 0, 0)),
                  end("b", (1300, 285, 195), (-1, 0, 0), True), need)  # fmt: skip
    if isinstance(found, NoRoute):
        assert found.why
        return
    assert found.line.tightest_mm >= need.bend_mm * (1 - 1e-6)
    points = found.line.points(2.0)
    assert distance_to_box(points, stone.mesh.bounds).min() >= 6.0 + radius - 1e-6
    own = distance_to_box(points, PACK.mesh.bounds)
    beyond = np.linalg.norm(points - np.array((450, 300, 200)), axis=1) > radius + 4 + 10
    assert own[beyond].min() >= 4.0 + radius - 1e-6
    assert found.clearance_mm >= 0


def distance_to_box(points: Floats, box: Box) -> Floats:
    gaps = np.maximum(np.maximum(np.array(box.lo) - points, points - np.array(box.hi)), 0)
    return np.linalg.norm(gaps, axis=1)


def test_the_same_question_has_the_same_answer() -> None:
    ask = (end("pack", (450, 300, 200), (1, 0, 0)), end("b", (1300, 285, 195), (-1, 0, 0), True), NEED)
    assert route(bay(PACK), *ask) == route(bay(PACK), *ask)


def test_field_is_the_distance_less_the_gap() -> None:
    found = bay(PACK)
    for cell in ((60, 30, 20), (80, 10, 10), (47, 55, 30)):
        point = found.middle(cell)
        walls = min(*(point - BAY.lo), *(np.array(BAY.hi) - point)) - 4
        pack = distance_to_box(point[None, :], PACK.mesh.bounds)[0] - 4
        assert found.clear[cell] == pytest.approx(min(walls, pack, 45), abs=1e-6)
    assert found.clear[found.cell(np.array((300.0, 300, 200)))] == OUTSIDE_MM


@given(st.floats(1, 60), st.floats(0.2, 1.2))
def test_last_crossing_of_a_tilted_ray(depth: float, tilt: float) -> None:
    box = box_mesh(Box((0, 0, 0), (100, 100, depth)))
    way = np.array([np.sin(tilt), 0, np.cos(tilt)])
    assert last_crossing(np.array([20.0, 50, 0]), way, box.triangles) == pytest.approx(
        min(depth / np.cos(tilt), 80 / np.sin(tilt))
    )
    assert tan(tilt) > 0


# ---- refusal


def test_no_way_names_the_tightest_spot_and_what_is_missing() -> None:
    # a wall with a slit 20 mm wide: less 2 x 4 mm gap it holds a radius of 6 mm, and 8 are asked for
    left, right = (
        block("left wing", (600, 0, 0), (620, 290, 400)),
        block("right wing", (600, 310, 0), (620, 600, 400)),
    )
    found = route(bay(PACK, left, right, pitch=5.0), end("pack", (450, 300, 200), (1, 0, 0)),
                  end("b", (1300, 285, 195), (-1, 0, 0), True), NEED)  # fmt: skip
    assert isinstance(found, NoRoute)
    assert found.missing_mm == pytest.approx(2, abs=2.6)  # half a cell
    assert 595 <= found.at[0] <= 625
    assert found.near
    assert "too narrow" in found.why


def test_spaces_that_are_not_joined_ask_for_a_cable_way() -> None:
    far = Box((1200.0, 0.0, 0.0), (1500.0, 300.0, 300.0))
    two = course([("bay", box_mesh(BAY), 4.0), ("tank", box_mesh(far), 4.0)], (), (), 10.0)
    found = route(two, end("a", (100, 300, 200), (1, 0, 0)), end("b", (1400, 150, 150), (-1, 0, 0)), NEED)
    assert isinstance(found, NoRoute)
    assert "a cable way is wanted" in found.why


def test_a_port_against_a_wall_is_told() -> None:
    wall = block("wall", (455, 0, 0), (500, 600, 400))
    found = route(bay(PACK, wall), end("pack", (450, 300, 200), (1, 0, 0)), end("b", (900, 300, 200), (-1, 0, 0), True),
                  NEED)  # fmt: skip
    assert isinstance(found, NoRoute)
    assert found.why == "no room in front of pack port"


def test_a_bend_that_finds_no_room_is_told() -> None:
    # a shaft 60 mm wide with a dead end: the cable must turn within it
    narrow = Box((0.0, 0.0, 0.0), (500.0, 60.0, 60.0))
    tall = Box((440.0, 0.0, 0.0), (500.0, 60.0, 500.0))
    bent = course([], [("floor", narrow), ("riser", tall)], [], 10.0)
    a, b = end("a", (0, 30, 30), (1, 0, 0), True), end("b", (470, 30, 500), (0, 0, -1), True)
    assert isinstance(route(bent, a, b, Need(8, 20, 10)), Route)
    found = route(bent, a, b, Need(8, 200, 10, 300))
    assert isinstance(found, NoRoute)
    assert "finds no room" in found.why


def test_a_surface_of_many_triangles_is_as_far_as_its_box() -> None:
    """A box cut into 6000 triangles against the closed form; the field is off by no more than it says."""
    box = Box((0.0, 0.0, 0.0), (120.0, 100.0, 80.0))
    mesh = box_mesh(box)
    triangles = mesh.triangles
    for _ in range(5):
        a, b, c = triangles[:, 0], triangles[:, 1], triangles[:, 2]
        ab, bc, ca = (a + b) / 2, (b + c) / 2, (c + a) / 2
        triangles = np.concatenate(
            [np.stack(t, axis=1) for t in ((a, ab, ca), (ab, b, bc), (ca, bc, c), (ab, bc, ca))]
        )
    fine = surface("fine", TriMesh(triangles.reshape(-1, 3), np.arange(len(triangles) * 3).reshape(-1, 3)))
    points = np.array([(-10.0, 50, 40), (130, 110, 40), (60, 50, 95), (60, 50, 40)])
    assert fine.distances(points, 60.0) == pytest.approx([10, 200**0.5, 15, 40])
    field = fine.field((4, 4, 4), np.array((-40.0, -40, -40)), 10.0, 60.0)
    exact = np.array(
        [distance_to_box(np.array([[-35 + 10 * i, -35 + 10 * i, -35 + 10 * i]]), box)[0] for i in range(4)]
    )
    assert np.abs(field[range(4), range(4), range(4)] - exact).max() <= fine.guess_mm
