"""Brackets: strips under the parts, what holds them, what they bear, and parts that none is found for."""

from dataclasses import replace
from functools import cache

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from packlayout.frame.bracket import Bracket, Hold, Strip
from packlayout.frame.bracket_strength import Pushed, Rules, bracket_use
from packlayout.frame.brackets import fixing_of, pushed_by
from packlayout.frame.checks import check_frame
from packlayout.frame.design import design
from packlayout.frame.generate import generate
from packlayout.frame.joints import group_forces
from packlayout.frame.shapes import member_mesh, plate_mesh
from packlayout.frame.strength import strength_of
from packlayout.frame.tubes import flat_plate
from packlayout.model.geometry import Box
from packlayout.model.layout import Layout, Placement
from packlayout.model.loads import PartialFactors
from packlayout.space.envelope import box_mesh
from tests.bays import part
from tests.frames import METALS, THREADS, block, demo, small_job

HOLES = [{"at": [x, y, 0], "diameter": 9} for x in (20, 280) for y in (20, 180)]
BOX = part("junction box", (300, 200, 120), 6, holes=HOLES)
RULES = Rules(strength_of(METALS["S355"], PartialFactors()), METALS["S355"], 261.7, 3.0, 1.25, "8.8", THREADS)


def job(boxed=BOX, **frame):
    case = small_job(**frame)
    return replace(case, parts={**case.parts, "box": boxed})


def on_top(x=20.0, y=-80.0, z=720.0):
    size = (300.0, 200.0, 120.0)
    return Layout((*block(), Placement("box", "box", "bay", (x, y, z), "+z", 0, size)))


@cache
def made_on_top():
    case, layout = job(), on_top()
    return case, layout, generate(case, layout)


def strip_of(span=400.0, holes=(200.0,), clamped=False):
    """A flat 30 x 6 along x, held at its ends; the part above it."""
    plate = flat_plate(
        "s", "g", Box((0.0, -15.0, -6.0), (span, 15.0, 0.0)), 2, [((h, 0, 0), 9) for h in holes]
    )
    holds = tuple(
        Hold("clamp" if clamped else "cradle", at, "tube", (at, 0.0, -6.0), (0.0, 0.0, -1.0),
             tuple((at + d, 0.0, -6.0) for d in ((-10, 10) if clamped else (0,))), "M8", 15.0, cradle=1)
        for at in (0.0, span)
    )  # fmt: skip
    at = tuple((h, 0.0, 0.0) for h in holes)
    return Strip(plate, 0, 1, 0.0, 0.0, 30.0, 6.0, at, (0,) * len(at), holds)


def pushed(force, at=(200.0, 0.0, 0.0)):
    f = np.array([force], dtype=float)
    return Pushed(f, np.cross(np.array(at), f), np.zeros((1, 3)))


# ---------------------------------------------------------------- by hand


def test_a_strip_on_two_bolts_is_a_beam_on_two_supports():
    bracket = Bracket(("box",), "bracket box", (0.0, 0.0, -1.0), "M8", (strip_of(),), 1)
    use = bracket_use(bracket, [pushed((0, 0, -1000))], RULES)
    # F L / 4 over the plastic modulus of what the holes leave, 21 x 6^2 / 4
    assert use.used["strip"][0] == pytest.approx(1000 * 400 / 4 / (21 * 36 / 4) / 355)
    assert use.force[0, :, 2] == pytest.approx([-500, -500])


def test_a_clamped_strip_has_half_the_moment():
    bracket = Bracket(("box",), "bracket box", (0.0, 0.0, -1.0), "M8", (strip_of(clamped=True),), 1)
    use = bracket_use(bracket, [pushed((0, 0, -1000))], RULES)
    assert use.used["strip"][0] == pytest.approx(1000 * 400 / 8 / (21 * 36 / 4) / 355)
    # F L / 8 on two bolts 20 mm apart, and none pulls by the load, which presses
    assert np.abs(use.moment[0, :, 1]) == pytest.approx([50_000, 50_000])


def test_bolts_share_a_push_and_its_moment():
    at = np.array([[-100.0, -50, 0], [100, -50, 0], [100, 50, 0], [-100, 50, 0]])
    shared, left = group_forces(at, np.array([[400.0, 0, 0]]), np.array([[0, 40_000.0, 0]]))
    # a quarter each; the moment about y as pushes along z, an arm of 100 mm: 40000 / (4 x 100)
    assert shared[0, :, 0] == pytest.approx([100] * 4)
    assert shared[0, :, 2] == pytest.approx([100, -100, -100, 100])
    assert left[0] == pytest.approx([0, 0, 0])


def test_the_fixing_face_is_where_the_holes_are():
    case, layout = job(), on_top()
    fixing = fixing_of(case, layout.placements[-1])
    assert (fixing.axis, fixing.sign, fixing.plane, fixing.thread.thread) == (2, -1, 720.0, "M8")
    assert sorted(fixing.holes)[0] == pytest.approx((40, -60, 720))
    wall = Placement("box", "box", "bay", (0.0, 0.0, 700.0), "+x", 0, (300.0, 200.0, 120.0))
    turned = fixing_of(case, wall)
    assert turned.axis != 2
    assert all(hole[turned.axis] == turned.plane for hole in turned.holes)


def test_a_box_on_the_pack_stands_on_the_cradle():
    case, layout, made = made_on_top()
    (found,) = made.brackets
    assert found.bracket.cradle == 1
    assert made.unborne == ()
    assert found.use.worst <= 0.9
    # every hole of the part is drilled in a strip, where the part has it
    drilled = {
        tuple(np.round(strip.plate.pose.point((x, y, 0.0))[:2], 3))
        for strip in found.bracket.strips
        for x, y, d in strip.plate.holes
        if d == 9
    }
    wanted = {tuple(np.round(layout.placements[-1].pose.point(h.at)[:2], 3)) for h in case.parts["box"].holes}
    assert wanted <= drilled


def test_what_a_bracket_weighs_is_in_the_frame_and_in_the_analysis():
    case, layout, made = made_on_top()
    mass = made.brackets[0].mass_kg(made.frame.material)
    without = generate(case, layout, brackets=False)
    assert made.frame.mass_kg == pytest.approx(without.frame.mass_kg + mass)
    d = design(case, layout, (), made)
    held = sum(case.parts[p.part].mass_kg.value for p in layout.placements)
    assert d.model.mass_kg == pytest.approx(d.made.frame.mass_kg + held, rel=1e-3)
    assert [b.parts for b in d.brackets] == [("box",)]
    assert next(c for c in d.checks if c.id == "frame.bracket.box").value == d.brackets[0].utilisation


# ---------------------------------------------------------------- reference


@pytest.mark.slow
def test_torsion_of_a_flat():
    """Library sectionproperties (MIT licence) against w t3/3 (1 - 0.63 t/w)."""
    from sectionproperties.analysis import Section
    from sectionproperties.pre.library import rectangular_section

    for w, t in ((30, 5), (60, 8)):
        outline = rectangular_section(d=w, b=t)
        outline.create_mesh(mesh_sizes=[0.5])
        section = Section(outline)
        section.calculate_geometric_properties()
        section.calculate_warping_properties()
        assert section.get_j() == pytest.approx(w * t**3 / 3 * (1 - 0.63 * t / w), rel=5e-3)


# ---------------------------------------------------------------- invariant


@settings(max_examples=25, deadline=None)
@given(
    st.tuples(*[st.floats(-3000, 3000)] * 3),
    st.tuples(st.floats(0, 400), st.floats(-100, 100), st.floats(0, 100)),
    st.booleans(),
)
def test_what_goes_in_comes_out(force, at, clamped):
    """Force and moment on what the bracket is bolted to are those of the part."""
    strips = (strip_of(holes=(60.0, 340.0), clamped=clamped),)
    use = bracket_use(
        Bracket(("b",), "bracket b", (0.0, 0.0, -1.0), "M8", strips, 1), [pushed(force, at)], RULES
    )
    points = np.array([h.point for h in strips[0].holds])
    total = use.force[0].sum(axis=0)
    turn = (use.moment[0] + np.cross(points, use.force[0])).sum(axis=0)
    size = 1e-6 * (1 + np.abs(force).max())
    assert total == pytest.approx(np.array(force), abs=size)
    assert turn == pytest.approx(np.cross(at, force), abs=1e3 * size)


def _volume(a, b):
    import manifold3d

    def solid(mesh):
        return manifold3d.Manifold(
            manifold3d.Mesh(np.asarray(mesh.vertices, np.float32), np.asarray(mesh.faces, np.uint32))
        )

    return (solid(a) ^ solid(b)).volume()


def pieces_of(made, *, brackets):
    def mine(group):
        return group.startswith("bracket ") == brackets

    return [
        *((m.name, member_mesh(m)) for m in made.frame.members if mine(m.group)),
        *((p.name, plate_mesh(p)) for p in made.frame.plates if mine(p.group)),
    ]


@pytest.mark.parametrize("which", ["box", "demo"])
def test_brackets_share_no_volume_with_anything(which):
    _, layout, made = made_on_top() if which == "box" else (*demo()[:2], generate(*demo()))
    own, others = pieces_of(made, brackets=True), pieces_of(made, brackets=False)
    assert own
    for n, (a, p) in enumerate(own):
        for b, q in (*own[n + 1 :], *others):
            if p.bounds.overlap_depth(q.bounds) > 1e-3:
                assert _volume(p, q) < 1.0, (a, b)
        for placed in layout.placements:
            assert p.bounds.overlap_depth(placed.box) < 1e-6, (a, placed.name)


@settings(max_examples=8, deadline=None)
@given(st.integers(-60, 60), st.integers(-60, 40), st.integers(0, 25))
def test_a_box_anywhere_over_the_pack_is_carried_or_told(dx, dy, dz):
    case, layout = job(), on_top(20.0 + dx, -80.0 + dy, 700.0 + dz)
    made = generate(case, layout)
    checks = {c.id: c for c in check_frame(case, layout, made)}
    if made.brackets:
        assert made.unborne == ()
        assert "frame.bracket.box" not in checks
        for hold in made.brackets[0].bracket.holds:
            assert hold.onto in {m.name for m in made.core.members} or "wall" in hold.onto
    else:
        assert checks["frame.bracket.box"].verdict == "fail"


def test_a_heavier_part_uses_its_bracket_more():
    case, layout, made = made_on_top()
    bracket = made.brackets[0].bracket
    heavy = job(part("junction box", (300, 200, 120), 12, holes=HOLES))
    one, two = (bracket_use(bracket, [pushed_by(c, layout.placements[-1])], RULES) for c in (case, heavy))
    assert two.used["bolts of the part"].max() == pytest.approx(2 * one.used["bolts of the part"].max())
    assert one.worst < two.worst < 2 * one.worst + 1e-9


# ---------------------------------------------------------------- refusal


def test_a_part_without_holes_is_unknown_by_name():
    case, layout = job(part("junction box", (300, 200, 120), 6)), on_top()
    made = generate(case, layout)
    assert made.brackets == ()
    check = next(c for c in check_frame(case, layout, made) if c.id == "frame.bracket.box")
    assert check.verdict == "unknown"
    assert "state them in the part's file" in check.note


def test_holes_in_no_one_face_are_told():
    odd = [{"at": [20, 20, 0], "diameter": 9}, {"at": [20, 20, 60], "diameter": 9}]
    case = job(part("junction box", (300, 200, 120), 6, holes=odd))
    assert "do not lie in one face" in fixing_of(case, on_top().placements[-1])


def test_a_part_far_from_wall_and_cradle_fails_by_name():
    """In mid air, two metres from every wall."""
    case = job()
    case = replace(case, zones={"bay": box_mesh(Box((-2e3, -2e3, -2e3), (3e3, 3e3, 3e3)))})
    size = (300.0, 200.0, 120.0)
    layout = Layout((*block(), Placement("box", "box", "bay", (0.0, -100.0, 1400.0), "+z", 0, size)))
    made = generate(case, layout)
    assert made.brackets == ()
    check = next(c for c in check_frame(case, layout, made) if c.id == "frame.bracket.box")
    assert check.verdict == "fail"
    assert check.note.startswith("no strip can be held")
    assert "turn the part" in check.note
