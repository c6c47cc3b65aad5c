"""How far the joints of a solved frame are used: fillet welds, the walls beneath tubes, the bolts of bars."""

from dataclasses import dataclass

import numpy as np

from packlayout.frame import joints
from packlayout.frame.generate import Generated
from packlayout.frame.model import FrameModel
from packlayout.frame.stiffness import Floats, Ints, Solved, axes_of, section_forces
from packlayout.frame.strength import Strength
from packlayout.frame.welding import throat_of as throat_of
from packlayout.frame.welding import weld_mpa
from packlayout.model.brief import Case
from packlayout.model.catalogue import Material

TORQUE_FACTOR = 0.2
NUT_DIAMETERS = 1.4  # hole of a captive nut over its thread (common practice, no source)


@dataclass(frozen=True, slots=True, eq=False)
class WeldUse:
    """All welded ends; c cases, j joints.

    Attributes:
        forces: (c, j, 6) at the face.
        line_force: (c, j) N/mm.
        throat: (j,) mm.
        strength_mpa: Of the weld.
        worst: (c, j).
    """

    forces: Floats
    line_force: Floats
    throat: Floats
    strength_mpa: float
    worst: Floats


@dataclass(frozen=True, slots=True, eq=False)
class ChordUse:
    """The walls of tubes that others stand on; c cases, k joints.

    Attributes:
        joint: (k,) index of the joint in the skeleton.
        worst: (c, k) axial force and both moments together.
    """

    joint: Ints
    worst: Floats


@dataclass(frozen=True, slots=True, eq=False)
class CapUse:
    """The bolts of the bars that are bolted in; c cases, k ends of bars.

    Attributes:
        bars: Name of the bar of each end.
        thread: Of the bolts, two at each end, into captive nuts in the upper rails.
        bolts: Name of a resistance -> (c, k) worst bolt; pull-through is that of the nut through the tube's wall,
            opening is the tension over the preload that clamps the bar down on the rails.
        preload_n: Of each bolt, EN 1993-1-8 clause 3.6.1 (2): 0.7 fub As / gamma M7 of 1.1 (value from memory).
        torque_n_m: That tightens it so far, 0.2 d F for bolts as bought (common practice, no source).
    """

    bars: tuple[str, ...]
    thread: str
    bolts: dict[str, Floats]
    preload_n: float = 0.0
    torque_n_m: float = 0.0


def joint_forces(model: FrameModel, solved: Solved) -> Floats:
    """(c, j, 6) internal forces of each welded end, where the real tube ends."""
    length, _ = axes_of(model.structure)
    picked: list[int] = []
    share: list[float] = []
    for joint in model.skeleton.joints:
        line = model.skeleton.lines[joint.member]
        on = np.flatnonzero(model.tube == joint.member)
        spots = np.append(model.stretch[on, 0], model.stretch[on[-1], 1])
        face = line.faces[joint.end]
        k = int(np.clip(np.searchsorted(spots, face, side="right") - 1, 0, len(on) - 1))
        picked.append(int(on[k]))
        share.append((face - spots[k]) / (spots[k + 1] - spots[k]))
    index = np.array(picked)
    part = Solved(
        solved.displacements, solved.reactions, solved.end_forces[:, index], solved.line_loads[:, index]
    )
    return section_forces(part, length[index], np.array(share)[:, None])[:, :, 0]


def weld_use(case: Case, model: FrameModel, forces: Floats, material: Material) -> WeldUse | None:
    """Each fillet weld all round the end of a tube; None when the material has no figures for it."""
    strength = weld_mpa(case, material)
    if strength is None:
        return None
    values = [model.sections[j.member] for j in model.skeleton.joints]
    line_force = joints.weld_line_force(
        forces, np.array([v.side_mm for v in values]), np.array([v.radius_mm for v in values]),
        np.array([v.width_mm for v in values]), np.array([float(v.kind == "round") for v in values]),
    )  # fmt: skip
    throat = np.array([throat_of(case, v.wall_mm) for v in values])
    return WeldUse(forces, line_force, throat, strength, line_force / (throat * strength))


def cap_use(
    case: Case, made: Generated, model: FrameModel, forces: Floats, material: Material
) -> CapUse | None:
    """Bolts of end plates: the plate pries about its edge, the nut may pull through the wall it sits in."""
    plates = {cap.name.rsplit(" end plate ", 1)[0]: cap for c in made.cradles for cap in c.caps}
    ends = [
        (n, j, j.onto)
        for n, j in enumerate(model.skeleton.joints)
        if j.onto is not None and model.skeleton.lines[j.member].member.name in plates
    ]
    name = next((c.cap_thread for c in made.cradles if c.caps), "")
    thread = case.threads.get(name)
    if not ends or thread is None or not thread.diameter_mm or not thread.stress_area_mm2:
        return None
    found: dict[str, list[Floats]] = {}
    preload = joints.preload(thread.stress_area_mm2, case.brief.frame.bolt_class)
    for n, joint, onto in ends:
        bar, wall = model.skeleton.lines[joint.member].member, model.sections[onto].wall_mm
        plate = plates[bar.name]
        off = abs(plate.holes[1][0] - plate.holes[0][0]) / 2
        f = forces[:, n]
        # local y of a bar lies level, z upward: the bolts stand beside it
        force, moment = f[:, [1, 2, 0]], f[:, [4, 5, 3]]
        holes = np.array([[-off, 0.0], [off, 0.0]])
        shear, tension = joints.bolt_forces(holes, force, moment, plate.size[1] / 2)
        resistance = joints.bolt_resistance(
            diameter=thread.diameter_mm, hole=thread.clearance_hole_mm, stress_area=thread.stress_area_mm2,
            bolt_class=case.brief.frame.bolt_class, edge=plate.size[1] / 2, pitch=2 * off,
            thick=min(wall, plate.size[2]), head_mean=NUT_DIAMETERS * thread.diameter_mm,
            plate_ultimate=material.ultimate_mpa, gamma=case.design_code.factors.joints,
        )  # fmt: skip
        each = joints.bolt_utilisations(shear, tension, resistance)
        each["opening"] = tension / preload
        for key, value in each.items():
            found.setdefault(key, []).append(value.max(axis=1))
    bars = tuple(model.skeleton.lines[j.member].member.name for _, j, _ in ends)
    torque = TORQUE_FACTOR * thread.diameter_mm * preload / 1000
    return CapUse(bars, name, {key: np.stack(rows, axis=1) for key, rows in found.items()}, preload, torque)


def chord_use(made: Generated, model: FrameModel, forces: Floats, strength: Strength) -> ChordUse | None:
    """Each tube that stands square on another; mitres and bolted ends have no chord."""
    bolted = {cap.name.rsplit(" end plate ", 1)[0] for c in made.cradles for cap in c.caps}
    picked: list[int] = []
    rows: list[Floats] = []
    for n, joint in enumerate(model.skeleton.joints):
        line = model.skeleton.lines[joint.member]
        if joint.onto is None or joint.corner or line.member.name in bolted:
            continue
        chord, brace = model.sections[joint.onto], model.sections[joint.member]
        onto = model.skeleton.lines[joint.onto].member
        x, up = np.array(line.member.axis), np.array(line.member.side)
        y, along = np.cross(up, x), np.array(onto.axis)
        upright = bool(abs(up @ along) > 0.5)  # the longer side of what stands lies along the chord
        deep = bool(abs(np.array(onto.side) @ x) > 0.5)  # the longer side of the chord lies along what stands
        r = joints.chord_resistance(
            chord.width_mm if deep else chord.side_mm, chord.wall_mm, brace.width_mm if upright else brace.side_mm,
            strength.design_mpa, strength.modulus_mpa, chord_depth=chord.side_mm if deep else chord.width_mm,
            brace_along=brace.side_mm if upright else brace.width_mm, ring=brace.kind == "round",
        )  # fmt: skip
        # shares of the chord's way in the local y and z of the tube that stands
        cy, cz = float(along @ y), float(along @ np.cross(x, y))
        my, mz = forces[:, n, 4], forces[:, n, 5]
        across, inside = np.abs(my * cy + mz * cz), np.abs(-my * cz + mz * cy)
        used = np.abs(forces[:, n, 0]) / r.axial_n + inside / r.in_plane_n_mm + across / r.out_of_plane_n_mm
        picked.append(n)
        rows.append(used)
    return ChordUse(np.array(picked), np.stack(rows, axis=1)) if rows else None
