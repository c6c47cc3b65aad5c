"""The analysis model of a generated frame: joints, masses, loads, balance, and a second solver on the same frame."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from packlayout.frame import stiffness as solver
from packlayout.frame.generate import generate
from packlayout.frame.loading import WAYS, centre_of, loading
from packlayout.frame.model import frame_model, push_of
from packlayout.model.layout import Layout
from packlayout.model.vehicle import MountPoint
from packlayout.units import G0_M_S2
from tests.bays import MOUNTS
from tests.frames import RESTRAINT, block, demo, small, small_job, small_layout


def solved(model):
    return solver.solve(model.structure, model.loads, model.line_loads)


# ---------------------------------------------------------------- by hand


def test_tubes_meet_on_their_centre_lines():
    case, layout, made = small()
    bones = frame_model(case, layout, made).skeleton
    by_name = {line.member.name: line for line in bones.lines}
    cross, post = by_name["cradle 1 bottom rail front"], by_name["cradle 1 post 1"]
    corner = (-17.0, -192.0, 403.0)  # block from 0, -175, 420; liner 2, half a tube 15
    assert cross.start == pytest.approx(corner)
    assert post.start == pytest.approx(corner)
    # what hangs over beyond the corner bears nothing; the weld is where the tube really begins
    assert by_name["cradle 1 bottom rail left"].start == pytest.approx(corner)
    assert cross.faces == pytest.approx((15, cross.length - 15))


def test_every_end_is_welded_but_the_overhangs_of_the_long_rails():
    case, layout, made = small()
    bones = frame_model(case, layout, made).skeleton
    welded = {(j.member, j.end) for j in bones.joints}
    for joint in bones.joints:
        if joint.corner:  # both tubes end here: the weld is told once
            line, other = bones.lines[joint.member], made.frame.members[joint.onto]
            spot = line.point(line.faces[joint.end])
            ends = [np.abs(np.array(p) - spot).max() for p in (other.start, other.end)]
            welded.add((joint.onto, int(np.argmin(ends))))
    free = {
        made.frame.members[n].name
        for n in range(len(bones.lines))
        for end in (0, 1)
        if (n, end) not in welded
    }
    assert free == {
        f"cradle 1 {level} rail {side}" for level in ("bottom", "top") for side in ("left", "right")
    }
    assert sum(j.onto is None for j in bones.joints) == len(made.legs)


def test_a_module_stands_on_two_bars_and_hangs_on_one():
    case, layout, made = small()
    put = loading(case, layout, made)
    down = [p for p in put.patches if p.what == "module 1" and WAYS[p.way] == (2, -1)]
    assert ["bar under" in made.frame.members[p.member].name for p in down] == [True, True]
    assert sum(p.push[2] for p in down) == pytest.approx(-14)
    assert put.loose == ()
    assert put.carried == ("box",)


def test_a_part_that_is_not_over_a_cradle_is_left_to_the_vehicle():
    case, layout, made = small()
    aside = replace(layout.placements[-1], at=(500.0, -80.0, 700.0))
    put = loading(case, Layout((*layout.modules, aside)), made)
    assert put.carried == ()
    assert put.elsewhere == ("box",)


# ---------------------------------------------------------------- reference


def test_mass_of_the_analysis_is_that_of_frame_and_parts():
    case, layout, made = small()
    model = frame_model(case, layout, made)
    parts = 4 * 14 + 6
    assert model.mass_kg == pytest.approx(made.frame.mass_kg + parts, rel=1e-9)
    assert model.masses[:, 0].sum() == pytest.approx(model.mass_kg, rel=1e-9)
    assert model.masses[:, 2].sum() == pytest.approx(model.mass_kg, rel=1e-9)


@pytest.mark.parametrize("which", [small, demo], ids=["invented bay", "demo vehicle"])
def test_every_mass_acts_at_its_own_centre_of_gravity(which):
    """Force and moment of each load case are those of the masses as points, by hand from their centres."""
    case, layout, third = which()
    made = generate(case, layout, third) if isinstance(third, tuple) else third
    model = frame_model(case, layout, made)
    lengths, _ = solver.axes_of(model.structure)
    middle = model.structure.nodes[model.structure.bars].mean(axis=1)
    for n, load_case in enumerate(model.cases):
        push = push_of(load_case)
        lines = model.line_loads[n] * lengths[:, None]
        force = model.loads[n, :, :3].sum(axis=0) + lines.sum(axis=0)
        assert force == pytest.approx(model.mass_kg * push, rel=1e-9, abs=1e-6)
        moment = model.loads[n, :, 3:].sum(axis=0) + np.cross(
            model.structure.nodes, model.loads[n, :, :3]
        ).sum(axis=0)
        moment = moment + np.cross(middle, lines).sum(axis=0)
        items = [(i.mass.value, np.array([c.value for c in i.position])) for i in made.frame.mass_items]
        carried = [p for p in layout.placements if p.block or p.name in model.loading.carried]
        items += [(case.parts[p.part].mass_kg.value, centre_of(case, p)) for p in carried]
        by_hand = np.sum([np.cross(at, mass * push) for mass, at in items], axis=0)
        # stretches are snapped to nodes within half a millimetre, overhangs spread over their tube
        assert np.abs(moment - by_hand).max() < 0.5 * model.mass_kg * np.linalg.norm(push)


@pytest.mark.parametrize("which", [small, demo], ids=["invented bay", "demo vehicle"])
def test_a_second_solver_agrees_on_the_generated_frame(which):
    """PyNite on the same nodes, bars and loads: reactions to 0.1 %, bending stress to 1 % of the largest."""
    from Pynite import FEModel3D

    case, layout, third = which()
    made = generate(case, layout, third) if isinstance(third, tuple) else third
    model = frame_model(case, layout, made)
    s, answer = model.structure, solved(model)
    stiff = max(s.modulus) * 1e3
    other = FEModel3D()
    other.add_material("steel", float(s.modulus[0]), float(s.shear_modulus[0]), 0.3, 0.0)
    other.add_material("rigid", stiff, stiff / 2.6, 0.3, 0.0)
    other.add_section("link", 500.0, 3e5, 3e5, 5e5)
    for n, at in enumerate(s.nodes):
        other.add_node(f"n{n}", *at)
        if s.fixed[n].any():
            other.def_support(f"n{n}", *(bool(v) for v in s.fixed[n]))
    for n, (lead, follow) in enumerate(s.links):
        other.add_member(f"link{n}", f"n{lead}", f"n{follow}", "rigid", "link")
    length, _ = solver.axes_of(s)
    for k, (a, b) in enumerate(s.bars):
        name = f"t{model.tube[k]}"
        if name not in other.sections:
            other.add_section(name, s.area[k], s.inertia_y[k], s.inertia_z[k], s.torsion[k])
        other.add_member(f"m{k}", f"n{a}", f"n{b}", "steel", name)
    picked = [0, 2, 4]
    for c in picked:
        other.add_load_combo(f"c{c}", {f"c{c}": 1.0})
        for n, row in enumerate(model.loads[c]):
            for word, value in zip(("FX", "FY", "FZ", "MX", "MY", "MZ"), row, strict=True):
                if value:
                    other.add_node_load(f"n{n}", word, float(value), f"c{c}")
        for k, row in enumerate(model.line_loads[c]):
            for word, value in zip(("FX", "FY", "FZ"), row, strict=True):
                if value:
                    other.add_member_dist_load(
                        f"m{k}", word, float(value), float(value), 0, float(length[k]), f"c{c}"
                    )
    other.analyze_linear()
    # theirs has no shear deformation: ours without it, for the same theory
    plain = replace(s, shear_area=np.full_like(s.shear_area, np.inf))
    answer = solver.solve(plain, model.loads, model.line_loads)
    modulus = np.array([model.sections[t].elastic_mm3 for t in model.tube])
    for c in picked:
        size = np.abs(answer.reactions[c, :, :3]).max()
        for support in model.supports:
            node = other.nodes[f"n{support.node}"]
            theirs = [node.RxnFX[f"c{c}"], node.RxnFY[f"c{c}"], node.RxnFZ[f"c{c}"]]
            assert answer.reactions[c, support.node, :3] == pytest.approx(theirs, abs=1e-3 * size)
        ours = np.hypot(answer.end_forces[c, :, 4], answer.end_forces[c, :, 5]) / modulus
        forces = [other.members[f"m{k}"].f(f"c{c}").ravel() for k in range(len(s.bars))]
        theirs = np.array([np.hypot(f[4], f[5]) for f in forces]) / modulus
        assert np.abs(ours - theirs).max() < 0.01 * ours.max()


# ---------------------------------------------------------------- invariant


@pytest.mark.parametrize("code", [None, RESTRAINT], ids=["default", "restraint"])
@pytest.mark.parametrize("which", [small, demo], ids=["invented bay", "demo vehicle"])
def test_reactions_balance_loads_in_every_case(which, code):
    case, layout, third = which()
    case = replace(case, design_code=code) if code else case
    made = generate(case, layout, third) if isinstance(third, tuple) else third
    model = frame_model(case, layout, made)
    answer = solved(model)
    rest = solver.balance(model.structure, answer, model.loads, model.line_loads)
    size = np.abs(answer.reactions[..., :3]).sum(axis=(1, 2))
    assert (np.abs(rest[:, :3]).max(axis=1) < 1e-6 * size).all()
    assert (np.abs(rest[:, 3:]).max(axis=1) < 1e-6 * size * 1000).all()
    for n, load_case in enumerate(model.cases):
        total = answer.reactions[n, :, :3].sum(axis=0)
        assert total == pytest.approx(-model.mass_kg * push_of(load_case), rel=1e-6, abs=1e-3)


@settings(max_examples=25, deadline=None)
@given(st.floats(-40, 40), st.floats(-195, -155), st.floats(400, 440))
def test_a_frame_is_one_piece_wherever_its_block_stands(x, y, z):
    """Joints that all but meet the end of a stretch under load are kept, not snapped away."""
    case = small_job()
    layout = Layout(block((x, y, z)))
    made = generate(case, layout)
    if len(made.legs) < 3:
        return
    model = frame_model(case, layout, made)
    assert model.faults == ()
    answer = solved(model)
    assert answer.reactions[0, :, :3].sum(axis=0) == pytest.approx(
        -model.mass_kg * push_of(model.cases[0]), rel=1e-6, abs=1e-3
    )
    assert np.abs(answer.displacements).max() < 100


def test_fixed_mounts_are_stiffer_than_pins_and_rubber_is_softer():
    layout = small_layout()
    rubber = {"axial": 400, "radial": 120, "source": "invented"}
    found = []
    for change in ({"fixing": "fixed"}, {}, {"rubber": rubber}):
        mounts = tuple(
            MountPoint.model_validate(
                {"name": m.name, "face": m.face, "holes": m.holes, "thread": m.thread, **change}
            )
            for m in MOUNTS
        )
        case = small_job(mounts=mounts)
        model = frame_model(case, layout, generate(case, layout))
        found.append(solver.lowest_modes(model.structure, model.masses)[0])
        answer = solved(model)
        assert answer.reactions[0, :, :3].sum(axis=0) == pytest.approx(
            -model.mass_kg * push_of(model.cases[0]), rel=1e-6, abs=1e-3
        )
    assert found[0] > 1.05 * found[1] > found[2]


def test_a_thicker_wall_changes_no_geometry_and_adds_its_mass():
    case, layout, made = small()
    thick = {m.name: case.sections["SHS 30x3"] for m in made.frame.members}
    one, two = frame_model(case, layout, made), frame_model(case, layout, made, thick)
    assert np.array_equal(one.structure.nodes, two.structure.nodes)
    length = sum(m.length_mm for m in made.frame.members)
    assert two.mass_kg - one.mass_kg == pytest.approx(length * (300.8 - 213.7) * 7850e-9, rel=1e-6)


def test_gravity_acts_besides_a_crash():
    crash = next(c for c in small()[0].design_code.load_cases if c.name == "crash forward")
    assert push_of(crash) == pytest.approx([-20 * G0_M_S2, 0, -G0_M_S2])


# ---------------------------------------------------------------- refusal


def faults(mounts, layout=None):
    case = small_job(mounts=mounts)
    layout = layout or small_layout()
    return frame_model(case, layout, generate(case, layout)).faults


def test_two_mounting_points_are_named_not_solved():
    ((what, why),) = faults(MOUNTS[:2])
    assert what.startswith("cradle 1")
    assert "engine left, engine right, it can still move" in why


def test_mounting_points_in_one_line_are_named():
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
    assert "three mounting points off one line" in faults(row)[0][1]


def test_no_mounting_point_at_all():
    assert "held by no mounting point" in faults(())[0][1]


def test_a_module_that_nothing_holds_is_named():
    case, layout, made = small()
    kept = tuple(m for m in made.frame.members if " bar over " not in m.name)
    bare = replace(made, frame=replace(made.frame, members=kept))
    put = loading(case, layout, bare)
    assert ("module 1", "no bars of its cradle hold it upward") in put.loose
