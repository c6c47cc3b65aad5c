"""Closer to what is left: proofs that points do not reach, layouts that anchors do not find, and nothing lost."""

from dataclasses import replace
from itertools import permutations, product

import manifold3d
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from packlayout.mass.ledger import base_items
from packlayout.model.brief import Case
from packlayout.model.geometry import Box, TriMesh
from packlayout.placement.forms import block_forms, part_forms
from packlayout.placement.proof import no_room, ruled_out, standing_room
from packlayout.placement.sides import FOUND, LEFT_OFF, NONE, left_over, sides, stand_at
from packlayout.placement.solve import first_valid, setting
from packlayout.placement.verify import check_layout
from packlayout.space.envelope import box_mesh
from packlayout.space.near_boxes import about, box_near, keep_far
from tests.generated import Bay, job_in, lofted_bay

ROOM = (10.0,) * 6


def boxes(places, size=(10.0, 10.0, 10.0)):
    return stand_at(0, 0, size, ROOM, np.array(places, dtype=np.float64))


# ---------------------------------------------------------------- by hand


def test_round_a_corner_a_box_is_as_far_as_its_corner():
    """A triangle 6 and 8 mm off an edge, 10 mm in all: the box grown by 9 along the axes meets it, and it is not near."""
    lo, hi = np.zeros(3), np.full(3, 20.0)
    there = np.array([[[26.0, 28.0, 0.0], [60.0, 28.0, 5.0], [26.0, 70.0, 9.0]]])
    assert not box_near(there, lo, hi, 9.99)
    assert box_near(there, lo, hi, 10.01)
    slanted = np.array([[[44.0, 0.0, -50.0], [0.0, 44.0, -50.0], [22.0, 22.0, 90.0]]])  # x + y = 44
    assert not box_near(slanted, lo, hi, 2.82)
    assert box_near(slanted, lo, hi, 2.83)


def test_a_range_is_shut_where_every_box_in_it_is_near():
    """A wall at 100 and a box of 10 at 5 mm: it stands up to 85, so the range from 84 to 86 stays, 86 to 88 does not."""
    wall = np.array([[[100.0, -500.0, -500.0], [100.0, 500.0, -500.0], [100.0, 0.0, 900.0]]])
    held = np.ones((3, 1, 1), dtype=np.bool_)
    first, step = np.array([82.0, 0.0, 0.0]), np.array([2.0, 1.0, 1.0])
    keep_far(wall, 5.0 - 1e-3, np.full(3, 10.0), first, step, step, held)
    assert held.ravel().tolist() == [True, True, False]
    keep_far(wall, 5.0 - 1e-3, np.full(3, 10.0), first, step, np.zeros(3), held)
    assert held.ravel().tolist() == [True, True, False]
    assert not len(about(wall, np.array([0.0, 0.0, 0.0]), np.array([90.0, 10.0, 10.0]), 5.0))


@pytest.mark.parametrize(
    ("at", "state"),
    [
        ((18.1, 16.0, 0.0), FOUND),  # eight along x and six along y are ten
        ((17.9, 16.0, 0.0), NONE),
        ((17.1, 17.1, 5.0), FOUND),
        ((16.0, 16.0, 15.2), NONE),
        ((16.0, 16.0, 15.4), FOUND),
    ],
)
def test_two_that_pass_each_other_round_a_corner(at, state):
    assert sides([[boxes([(0, 0, 0)])], [boxes([at])]], [], [0, 1], 100, 10.0).state == state


def test_what_is_left_is_what_some_layout_uses():
    """On a line of 40 two of ten with ten between them: the middle places are of no use to either."""
    line = [(x, 0.0, 0.0) for x in range(0, 31, 5)]
    found = left_over([[boxes(line)], [boxes(line)]], [], [0, 1], 1000, 10.0)
    assert found.state == FOUND
    (one,), (two,) = found.ranges
    assert one is not None
    assert two is not None
    assert one[0].tolist() == two[0].tolist() == [0.0, 30.0]
    short = left_over([[boxes(line[:4])], [boxes(line[:4])]], [], [0, 1], 1000, 10.0)
    assert short.state == NONE
    assert left_over([[boxes(line)], [boxes(line)]], [], [0, 1], 1, 10.0).state == LEFT_OFF


# ---------------------------------------------------------------- invariant


@settings(max_examples=40, deadline=None)
@given(st.data())
def test_no_layout_lies_outside_what_is_left(data: st.DataObject):
    """Three boxes on small sets of places at a distance, corner to corner: against trying every place."""
    apart = data.draw(st.sampled_from([0.0, 1.0, 2.2]))
    sizes = data.draw(st.lists(st.tuples(*[st.integers(1, 4)] * 3), min_size=3, max_size=3))
    places = [data.draw(st.lists(st.tuples(*[st.integers(0, 5)] * 3), min_size=1, max_size=8)) for _ in sizes]
    ways = [[boxes(p, tuple(map(float, s)))] for p, s in zip(places, sizes, strict=True)]
    found = left_over(ways, [], [0, 1, 2], 10**6, apart)
    layouts = [
        spot
        for spot in product(*places)
        if all(
            _far(spot[i], sizes[i], spot[j], sizes[j], apart) for i in range(3) for j in range(i)
        )
    ]  # fmt: skip
    if layouts:
        assert found.state == FOUND
    for spot in layouts:
        for at, (range_,) in zip(spot, found.ranges, strict=True):
            assert range_ is not None
            assert (range_[:, 0] - 1e-6 <= at).all()
            assert (range_[:, 1] + 1e-6 >= at).all()


def _far(p, a, q, b, apart):
    gaps = [max(x - y - s, y - x - r) for x, r, y, s in zip(p, a, q, b, strict=True)]
    return max(gaps) >= 0 and sum(max(0.0, g) ** 2 for g in gaps) >= apart**2


@pytest.mark.parametrize("seed", range(4))
def test_nearness_is_that_of_many_points_of_the_triangle(seed: int):
    rng = np.random.default_rng([7, seed])
    u, v = np.meshgrid(np.linspace(0, 1, 60), np.linspace(0, 1, 60))
    u, v = u[u + v <= 1][:, None], v[u + v <= 1][:, None]
    for _ in range(200):
        corners = rng.uniform(-60, 60, 3) + rng.normal(size=(3, 3)) * rng.choice([3, 30, 80])
        lo = rng.uniform(-40, 0, 3)
        hi, distance = lo + rng.uniform(0, 60, 3), float(rng.choice([1.0, 5.0, 25.0]))
        at = corners[0] + u * (corners[1] - corners[0]) + v * (corners[2] - corners[0])
        off = np.maximum(0, np.maximum(lo - at, at - hi))
        least = float(np.sqrt((off**2).sum(axis=1)).min())
        near = box_near(corners[None], lo, hi, distance)
        # points of the triangle are no nearer than it is, and one lies within a step of its nearest
        assert near or least >= distance - 1e-9
        assert not near or least <= distance + float(np.ptp(corners, axis=0).max()) / 30


def tight_bay(seed: int, slack_mm: float = 0.1) -> tuple[Case, tuple[int, ...], list[Box]]:
    """A bay cut round a full layout at its clearance, rounded at the corners; its shares and its boxes.

    Things stand at their distance from each other, often corner to corner, so that nothing is left to spare.
    """
    rng = np.random.default_rng([5, seed])
    blank = job_in(Bay(box_mesh(Box((0, 0, 0), (2000, 2000, 2000))), (), 500.0), 8, hardware=True)
    split = ((2, 1), (2, 2), (4,), (2, 1, 1), (3, 1))[int(rng.integers(5))]
    ways = [block_forms(blank, n, (900.0, 900.0, 900.0)) for n in split]
    ways += [part_forms(blank.parts[name]) for name in ("motor", "controller", "charger", "box")]
    made: list[Box] = []
    while len(made) < len(ways):
        made = _grown(rng, ways, len(split), blank.brief.clearances.parts_mm)
    motor = made[len(split)]
    off, up = (float(v) for v in rng.uniform(-1.4, 1.4, 2))
    aside = -motor.lo[1] - 115 + off
    made = [
        Box((b.lo[0], b.lo[1] + aside, b.lo[2]), (b.hi[0], b.hi[1] + aside, b.hi[2])) for b in made
    ]  # fmt: skip
    # a sphere of flat faces dips below its radius between its corners
    ball = manifold3d.Manifold.sphere(
        (blank.brief.clearances.body_mm + slack_mm) / np.cos(np.pi / 16) ** 2, 16
    )
    solid = manifold3d.Manifold()
    for b in made:
        solid += manifold3d.Manifold.batch_hull(
            [ball.translate(at) for at in product(*zip(b.lo, b.hi, strict=True))]
        )
    mesh = solid.to_mesh()
    surface = TriMesh(
        np.array(mesh.vert_properties[:, :3], dtype=np.float64), np.array(mesh.tri_verts, dtype=np.int64)
    )
    case = job_in(Bay(surface, (), motor.lo[2] + 115 + up), sum(split), hardware=True)
    return replace(case, key=f"tight-{seed}"), split, made


def _grown(rng, ways, blocks, gap) -> list[Box]:
    """Boxes put against each other one by one; fewer than all when one found no place."""
    made: list[Box] = []
    for n, forms in enumerate(ways):
        for _ in range(400):
            size = np.array(forms[0 if n == blocks else int(rng.integers(len(forms)))].size)
            on_pack = n == len(ways) - 1
            base = (
                made[int(rng.integers(blocks if on_pack else len(made)))] if made else Box((0,) * 3, (1,) * 3)
            )
            lo, far = np.array(base.lo), np.array(base.hi)
            at = lo + rng.uniform(-0.9, 0.9, 3) * size + (rng.random(3) < 0.5) * (far - lo) * rng.random(3)
            if not made:
                at = np.array([0.0, 0.0, 300.0])
            elif on_pack:
                at[2] = far[2] + gap + rng.choice([0.0, rng.uniform(0, 40)])
            else:
                axes = rng.permutation(3)[: rng.integers(1, 4)]
                room = np.abs(rng.normal(size=len(axes)))
                for k, r in zip(axes, room * (gap + 1e-4) / np.linalg.norm(room), strict=True):
                    at[k] = far[k] + r if rng.random() < 0.5 else lo[k] - r - size[k]
            box = Box((at[0], at[1], at[2]), (at[0] + size[0], at[1] + size[1], at[2] + size[2]))
            if on_pack:
                shared = np.minimum(box.hi, base.hi)[:2] - np.maximum(box.lo, base.lo)[:2]
                if (
                    shared.min() <= 0
                    or shared.prod() < 0.75 * min(size[0] * size[1], np.prod((far - lo)[:2])) + 1
                ):
                    continue
            if all(box.overlap_depth(b) <= 0 and box.distance(b) >= gap for b in made):
                made.append(box)
                break
        else:
            return made
    return made


@pytest.mark.slow
@pytest.mark.parametrize("seed", [1, 4])
def test_a_layout_that_is_known_is_neither_ruled_out_nor_cut_off(seed: int):
    case, split, known = tight_bay(seed)
    assert not ruled_out(case, split)
    left = standing_room(case, split).sets
    assert left
    orders = [p for p in permutations(range(len(split))) if tuple(split[i] for i in p) == split]
    assert any(
        all(any(_within(way, box) for way in ways) for ways, box in zip(left, placed, strict=True))
        for placed in ([known[i] for i in p] + known[len(split) :] for p in orders)
    )


def _within(way, box: Box) -> bool:
    return np.allclose(way.size, box.size) and all(
        way.low[k][0] - 1e-6 <= box.lo[k] <= way.high[k][-1] + 1e-6 for k in range(3)
    )


# ---------------------------------------------------------------- tight bays


@pytest.mark.slow
def test_a_proof_that_points_do_not_reach():
    """Six and two single modules with all parts in a tight bay: open on points of 4 mm, proven closer."""
    case = job_in(lofted_bay(18), 8, hardware=True)
    assert not ruled_out(case, (6, 1, 1), deep=False)
    assert 0 < ruled_out(case, (6, 1, 1)) < 4
    assert no_room(case, 8) > 0


@pytest.mark.slow
def test_a_layout_that_needs_the_last_millimetres():
    """No anchors on cells or close to walls allow eight; by exact distances round corners they stand, and hold."""
    case = job_in(lofted_bay(0), 8, hardware=True)
    found = first_valid(setting(case, base_items(case), 0, close=True), 8)
    assert found is not None
    assert len(found.layout.modules) == 8
    assert not [c for c in check_layout(case, found.layout) if c.verdict == "fail"]
