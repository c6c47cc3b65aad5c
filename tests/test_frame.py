"""The frame: its tubes and plates, its legs, and what is judged of it."""

from dataclasses import replace
from functools import cache
from itertools import combinations
from math import pi, sqrt

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from packlayout.frame.checks import check_frame
from packlayout.frame.cradle import cradle
from packlayout.frame.generate import generate
from packlayout.frame.shapes import member_mesh, plate_mesh
from packlayout.frame.tubes import Member, Plate, TubeFrame, member_box
from packlayout.model.geometry import Box, Pose
from packlayout.model.layout import Layout, Placement
from packlayout.model.vehicle import MountPoint
from tests.bays import M10, MODULE, MOUNTS, S235, SHS30, job
from tests.frames import small_job

NEAR_TOP = 420.0


def block(at=(0.0, -175.0, NEAR_TOP), counts=(1, 2, 2), number=1, first=1):
    """Modules two millimetres apart in one block."""
    made = []
    for i in range(counts[0]):
        for j in range(counts[1]):
            for k in range(counts[2]):
                spot = (at[0] + 342 * i, at[1] + 177 * j, at[2] + 120 * k)
                name = f"module {first + len(made)}"
                made.append(Placement(name, "module", "bay", spot, "+z", 0, MODULE.box_size, block=number))
    return tuple(made)


@cache
def usual():
    """One block over four mounting points, and its frame."""
    case = job(count=4)
    layout = Layout(block())
    return case, layout, generate(case, layout)


def overlap_mm3(a, b):
    """Common volume of two closed surfaces, by manifold3d."""
    import manifold3d

    def solid(mesh):
        return manifold3d.Manifold(
            manifold3d.Mesh(
                np.asarray(mesh.vertices, dtype=np.float32), np.asarray(mesh.faces, dtype=np.uint32)
            )
        )

    return (solid(a) ^ solid(b)).volume()


# ---------------------------------------------------------------- by hand


def test_a_mitred_tube_has_its_longest_side_and_its_mass():
    h = sqrt(0.5)
    tube = Member("t", "g", SHS30, (0, 0, 0), (500, 0, 0), (0, 0, 1), (-1, 0, 0), (h, h, 0))
    assert tube.length_mm == 500
    assert tube.longest_mm == pytest.approx(515)
    item = tube.mass_item(S235)
    assert item.mass.value == pytest.approx(213.7 * 500 * 7850e-9)
    # the shorter side is at +y: the metal leans to -y, by I / (A L) for a cut of 45 degrees
    assert item.position[1].value == pytest.approx(-27220 / (213.7 * 500))
    assert item.position[0].value == pytest.approx(250 + 27220 / (2 * 213.7 * 500))
    box = member_box(tube)
    assert box.lo == pytest.approx((0, -15, -15))
    assert box.hi == pytest.approx((515, 15, 15))


def test_a_plate_with_a_hole_off_centre_has_its_centre_away_from_it():
    plate = Plate("p", "g", Pose((0, 0, 0)), (100, 50, 8), ((20, 25, 11),))
    hole = pi / 4 * 11**2
    assert plate.volume_mm3 == pytest.approx((5000 - hole) * 8)
    item = plate.mass_item(S235)
    assert item.position[0].value == pytest.approx((5000 * 50 - hole * 20) / (5000 - hole))
    assert item.position[1].value == pytest.approx(25)
    assert item.position[2].value == pytest.approx(4)


def test_the_cradle_goes_round_the_block_a_liner_away():
    case, layout, _ = usual()
    made = cradle(case, layout.blocks[0])
    assert made.box == layout.blocks[0].box.grown(32)
    rails = [m for m in made.members if "rail" in m.name]
    assert len(rails) == 8
    assert sum(m.length_mm for m in rails) == pytest.approx(4 * 404 + 4 * 356)
    assert len([m for m in made.members if "post" in m.name]) == 4


def test_every_mounting_point_gets_a_leg_and_holds():
    case, layout, made = usual()
    assert [leg.mount for leg in made.legs] == [m.name for m in MOUNTS]
    checks = check_frame(case, layout, made)
    assert [c.id for c in checks if c.verdict != "pass"] == []
    assert next(c for c in checks if c.id == "frame.support.1").value == 4


def test_a_leg_begins_on_its_plate_and_ends_on_a_cradle_tube():
    _, layout, made = usual()
    outer = layout.blocks[0].box.grown(32)
    for leg in made.legs:
        assert leg.members[0].start[2] == pytest.approx(338)  # mount at 330, plate of 8
        end = leg.members[-1].end
        gaps = [abs(end[k] - side[k]) for k in range(3) for side in (outer.lo, outer.hi)]
        assert min(gaps) < 1e-6


def test_holes_are_drilled_where_the_mount_has_them():
    _, _, made = usual()
    for leg, mount in zip(made.legs, MOUNTS, strict=True):
        holes = [leg.plate.pose.point((x, y, 0.0)) for x, y, _ in leg.plate.holes]
        assert np.allclose(sorted(holes), sorted(mount.holes))
        assert {d for _, _, d in leg.plate.holes} == {11}


def test_a_socket_reaches_every_bolt():
    """No tube stands over a hole or within the washer."""
    _, _, made = usual()
    for leg in made.legs:
        foot = member_box(leg.members[0])
        for x, y, _ in leg.plate.holes:
            hole = leg.plate.pose.point((x, y, leg.plate.size[2]))
            away = max(foot.lo[0] - hole[0], hole[0] - foot.hi[0], foot.lo[1] - hole[1], hole[1] - foot.hi[1])
            assert away >= M10.washer_diameter_mm / 2


def test_a_sloping_face_gets_a_plate_on_the_slope_and_an_oblique_cut():
    holes = [[210, -300, 330], [270, -300, 330]]
    slope = {"name": "slope", "face": [0, 0.5, 0.8660254], "thread": "M10", "holes": holes}
    mounts = (MountPoint.model_validate(slope), *MOUNTS[1:])
    case = job(count=4, mounts=mounts)
    layout = Layout(block())
    made = generate(case, layout)
    leg = next(x for x in made.legs if x.mount == "slope")
    normal = np.array(mounts[0].face)
    corners = plate_mesh(leg.plate).vertices @ normal
    assert corners.max() - corners.min() == pytest.approx(8)
    assert np.array(leg.members[0].start_cut) == pytest.approx(-normal)
    # the cut end lies on the plate: all four corners of it
    ends = member_mesh(leg.members[0]).vertices @ normal
    assert sorted(ends)[:4] == pytest.approx([corners.max()] * 4)
    assert [c.id for c in check_frame(case, layout, made) if c.verdict != "pass"] == []


# ---------------------------------------------------------------- reference


def test_shapes_hold_the_volume_that_the_mass_says():
    """Prism between two cuts: side^2 times centre line, against manifold3d's volume of the eight corners."""
    import manifold3d

    _, _, made = usual()
    for member in made.frame.members:
        mesh = member_mesh(member)
        body = manifold3d.Manifold(
            manifold3d.Mesh(
                np.asarray(mesh.vertices, dtype=np.float32), np.asarray(mesh.faces, dtype=np.uint32)
            )
        )
        assert body.volume() == pytest.approx(30 * 30 * member.length_mm, rel=1e-4)


# ---------------------------------------------------------------- invariant


@settings(max_examples=12, deadline=None)
@given(
    st.tuples(st.integers(-150, 250), st.integers(-200, -150), st.integers(370, 500)),
    st.sampled_from([(1, 2, 2), (1, 1, 3), (1, 2, 1), (2, 1, 2)]),
)
def test_no_two_pieces_of_a_frame_share_volume(at, counts):
    case = job(count=counts[0] * counts[1] * counts[2])
    layout = Layout(block(tuple(float(v) for v in at), counts))
    made = generate(case, layout)
    pieces = [(m.name, member_mesh(m)) for m in made.frame.members]
    pieces += [(p.name, plate_mesh(p)) for p in made.frame.plates]
    for (a, p), (b, q) in combinations(pieces, 2):
        if p.bounds.overlap_depth(q.bounds) > 1e-3:
            assert overlap_mm3(p, q) < 1.0, (a, b)
    for name, mesh in pieces:
        for m in layout.modules:
            assert mesh.bounds.overlap_depth(m.box) < 1e-6, (name, m.name)


def test_mass_does_not_depend_on_where_the_block_stands():
    case = job(count=4, mounts=())
    one = generate(case, Layout(block((0.0, -175.0, 420.0)))).frame.mass_kg
    two = generate(case, Layout(block((50.0, -100.0, 500.0)))).frame.mass_kg
    assert one == pytest.approx(two)


def test_two_blocks_are_linked_into_one_frame():
    case = job(count=4)
    layout = Layout(
        (*block((-260.0, -175.0, 420.0), (1, 2, 1)), *block((220.0, -175.0, 420.0), (1, 2, 1), 2, 3))
    )
    made = generate(case, layout)
    assert made.linked == ((1, 2),)
    support = [c for c in check_frame(case, layout, made) if c.id.startswith("frame.support")]
    assert [c.id for c in support] == ["frame.support.1-2"]
    assert support[0].verdict == "pass"


# bars in rectangular tube; legs in rectangular and in round, and with knee braces
OTHER = (
    small_job(cradle_tube="SHS 40x3", bar_tube="RHS 40x20x2", leg_tube="RHS 40x20x2.5"),
    small_job(cradle_tube="SHS 40x3", bar_tube="RHS 40x20x2", leg_tube="CHS 33.7x2.5"),
    small_job(cradle_tube="SHS 40x3", bar_tube="SHS 30x2", leg_tube="SHS 25x2", leg_braces=True),
)
ASIDE = Layout(block((60.0, -60.0, 480.0)))
"""A block to one side, so that two legs have a corner."""


@pytest.mark.parametrize("case", OTHER, ids=["rectangular", "round", "braced"])
def test_other_shapes_share_no_volume_and_weigh_what_they_hold(case):
    layout = ASIDE
    made = generate(case, layout)
    assert [leg.mount for leg in made.legs] == [m.name for m in MOUNTS]
    pieces = [(m.name, member_mesh(m)) for m in made.frame.members]
    pieces += [(p.name, plate_mesh(p)) for p in made.frame.plates]
    for (a, p), (b, q) in combinations(pieces, 2):
        if p.bounds.overlap_depth(q.bounds) > 1e-3:
            # a round tube is taken as the prism around it, which stands proud of it at its cut
            assert overlap_mm3(p, q) < 1.0, (a, b)
    for member in made.frame.members:
        assert member_mesh(member).volume > 0
        box, bounds = member_box(member), member_mesh(member).bounds
        # of a slanting tube the box is one around it, with room
        if member.section.kind != "round" and max(abs(v) for v in member.axis) > 0.99:
            assert box.lo == pytest.approx(bounds.lo)
            assert box.hi == pytest.approx(bounds.hi)
    assert [c.id for c in check_frame(case, layout, made) if c.verdict != "pass"] == []


def test_knee_braces_stand_in_the_corners_of_legs():
    case = OTHER[2]
    made = generate(case, ASIDE)
    braced = [leg for leg in made.legs if leg.braces]
    assert braced
    for leg in braced:
        for brace in leg.braces:
            assert brace in made.frame.members
            # at 45 degrees, cut flush with the sides of both tubes
            assert sorted(abs(v) for v in brace.axis) == pytest.approx([0, sqrt(0.5), sqrt(0.5)])
            ends = [np.array(brace.start), np.array(brace.end)]
            for tube, end in zip(leg.members, ends, strict=False):
                off = end - np.array(tube.start)
                off -= np.array(tube.axis) * (off @ np.array(tube.axis))
                assert np.linalg.norm(off) == pytest.approx(tube.section.side_mm / 2)
    plain = generate(other_brief(case, leg_braces=False), ASIDE)
    assert {m.name for m in made.frame.members} - {m.name for m in plain.frame.members} == {
        b.name for leg in braced for b in leg.braces
    }


def other_brief(case, **changed):
    order = case.brief.frame.model_copy(update=changed)
    return replace(case, brief=case.brief.model_copy(update={"frame": order}))


# ---------------------------------------------------------------- refusal


def test_two_mounting_points_do_not_carry_a_frame():
    case = job(count=4, mounts=MOUNTS[:2])
    layout = Layout(block())
    checks = check_frame(case, layout, generate(case, layout))
    bad = next(c for c in checks if c.id == "frame.support.1")
    assert (bad.verdict, bad.value) == ("fail", 2)
    assert "add a mounting point" in bad.note


def test_mounting_points_in_one_line_are_told():
    row = tuple(
        MountPoint.model_validate(
            {
                "name": f"m{n}",
                "face": "+z",
                "thread": "M10",
                "holes": [[x - 30, -300, 330], [x + 30, -300, 330]],
            }
        )
        for n, x in enumerate((-100, 150, 400))
    )
    case = job(count=4, mounts=row)
    layout = Layout(block())
    checks = check_frame(case, layout, generate(case, layout))
    bad = next(c for c in checks if c.id == "frame.spread.1")
    assert bad.verdict == "fail"
    assert bad.value == pytest.approx(0, abs=1e-6)


def test_a_mounting_point_behind_a_wall_is_named_with_why():
    wall = Box((-80.0, -345.0, 285.0), (80.0, -250.0, 890.0))
    case = job(count=4, keep_outs=(("heater", "solid", wall),))
    layout = Layout(block())
    made = generate(case, layout)
    checks = check_frame(case, layout, made)
    bad = next(c for c in checks if c.id == "frame.reach.engine-left")
    assert bad.verdict == "fail"
    assert "paths tried" in bad.note


def test_a_mounting_point_outside_every_zone_is_named():
    out = MountPoint.model_validate(
        {"name": "chassis rail", "face": "+z", "thread": "M10", "holes": [[0, 900, 330], [60, 900, 330]]}
    )
    case = job(count=4, mounts=(*MOUNTS, out))
    layout = Layout(block())
    check = next(
        c for c in check_frame(case, layout, generate(case, layout)) if c.id == "frame.reach.chassis-rail"
    )
    assert check.verdict == "fail"
    assert "no measured zone" in check.note


def test_tubes_across_access_room_are_counted():
    case, layout, made = usual()
    top = layout.blocks[0].box.hi[2]
    room = Box((0.0, -100.0, top + 1), (100.0, 100.0, top + 60))
    check = next(c for c in check_frame(case, layout, made, (room,)) if c.id == "frame.access")
    assert check.verdict == "fail"
    assert "bar over" in check.note


def test_an_empty_frame_weighs_nothing():
    assert TubeFrame((), (), S235).mass_kg == 0
