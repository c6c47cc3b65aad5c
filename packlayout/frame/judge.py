"""How far each tube, weld, bolt and foot plate of a solved frame is used, in every load case."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from packlayout.frame import joints
from packlayout.frame.generate import Generated
from packlayout.frame.joint_uses import CapUse, ChordUse, WeldUse, cap_use, chord_use, joint_forces, weld_use
from packlayout.frame.legs import Leg
from packlayout.frame.lips import LipUse, lip_use
from packlayout.frame.model import FrameModel
from packlayout.frame.stiffness import Floats, Ints, Solved, axes_of, section_forces
from packlayout.frame.strength import (
    Buckling,
    CrossSection,
    Sections,
    Strength,
    buckling,
    cross_section,
    overload,
    strength_of,
)
from packlayout.model.brief import Case
from packlayout.model.catalogue import Thread
from packlayout.model.vehicle import MountPoint

STATIONS = np.linspace(0.0, 1.0, 5)


@dataclass(frozen=True, slots=True, eq=False)
class TubeUse:
    """All tubes; c cases, t tubes, m bars, p stations.

    Attributes:
        forces: (c, m, p, 6) between the faces of the joints.
        section: Cross-sections, (c, m, p).
        stations: (c, m, p) their utilisation.
        buckling: Whole tubes, (c, t).
        by_section: (c, t) worst cross-section of each tube.
        worst: (c, t) the larger of that and buckling.
    """

    forces: Floats
    section: CrossSection
    stations: Floats
    buckling: Buckling
    by_section: Floats
    worst: Floats


@dataclass(frozen=True, slots=True, eq=False)
class FootUse:
    """One mounting point; c cases, b bolts.

    Attributes:
        leg: What stands on it.
        mount: As surveyed.
        reaction: (c, 6) of the mounting point on the frame, N and N mm, vehicle axes.
        shear: (c, b) of each bolt, N.
        tension: (c, b).
        resistance: Of one bolt; None when the fastener table lacks its figures.
        bolts: Name of a resistance -> (c,) worst bolt.
        plate: (c,) bending of the foot plate.
    """

    leg: Leg
    mount: MountPoint
    reaction: Floats
    shear: Floats
    tension: Floats
    resistance: joints.BoltResistance | None
    bolts: dict[str, Floats]
    plate: Floats


@dataclass(frozen=True, slots=True, eq=False)
class Uses:
    """Everything of one frame.

    Attributes:
        strength: What tubes are judged with.
        tubes: Tubes.
        welds: Welds; None when the material has no figures for them.
        feet: Mounting points.
        caps: Bars that are bolted in; None where there are none or the thread has no figures.
        chords: Walls of tubes beneath others.
        lips: Lips of the posts; None where no module leans on one.
    """

    strength: Strength
    tubes: TubeUse
    welds: WeldUse | None
    feet: tuple[FootUse, ...]
    caps: CapUse | None = None
    chords: ChordUse | None = None
    lips: LipUse | None = None

    @property
    def worst(self) -> float:
        """The largest utilisation of all."""
        found = [float(self.tubes.worst.max())]
        if self.welds is not None:
            found.append(float(self.welds.worst.max()))
        if self.chords is not None:
            found.append(float(self.chords.worst.max()))
        if self.lips is not None:
            found.append(float(self.lips.worst.max()))
        if self.caps is not None:
            found += [float(v.max()) for v in self.caps.bolts.values()]
        for foot in self.feet:
            found += [float(foot.plate.max()), *(float(v.max()) for v in foot.bolts.values())]
        return max(found)


def uses(case: Case, made: Generated, model: FrameModel, solved: Solved) -> Uses | None:
    """Judge a solved frame; None when its material has no figures for what is beside a weld."""
    material = case.materials[case.brief.frame.material]
    strength = strength_of(material, case.design_code.factors)
    if strength is None:
        return None
    tubes = _tubes(model, solved, strength)
    by_name = {m.name: m for m in case.vehicle.mounts}
    feet = tuple(
        _foot(case, leg, by_name[leg.mount], solved.reactions[:, support.node], strength)
        for leg, support in zip(made.legs, model.supports, strict=True)
    )
    at_faces = joint_forces(model, solved)
    welds = weld_use(case, model, at_faces, material)
    caps = cap_use(case, made, model, at_faces, material)
    chords, lips = chord_use(made, model, at_faces, strength), lip_use(case, model, strength)
    return Uses(strength, tubes, welds, feet, caps, chords, lips)


def _per_tube(values: Floats, tube: Ints, count: int) -> Floats:
    """(c, m) -> (c, t) largest of each tube's bars."""
    out = np.zeros((len(values), count))
    for n, column in zip(tube, values.T, strict=True):
        np.maximum(out[:, n], column, out=out[:, n])
    return out


def _tubes(model: FrameModel, solved: Solved, strength: Strength) -> TubeUse:
    length, _ = axes_of(model.structure)
    lines, tube = model.skeleton.lines, model.tube
    faces = np.array([line.faces for line in lines])[tube]
    lo = np.clip((faces[:, 0] - model.stretch[:, 0]) / length, 0.0, 1.0)
    hi = np.clip((faces[:, 1] - model.stretch[:, 0]) / length, 0.0, 1.0)
    forces = section_forces(solved, length, lo[:, None] + (hi - lo)[:, None] * STATIONS)
    own = Sections.of(model.sections, strength)
    bars = own.at(tube)
    spread = Sections(*(getattr(bars, name)[:, None] for name in Sections.__slots__))
    section = cross_section(forces, spread, strength)
    count = len(lines)
    worst = section.worst
    over = np.nonzero(worst > 1.0)
    worst[over] = overload(forces[over], bars.at(over[1]), strength, worst[over])
    by_section = _per_tube(worst.max(axis=2), tube, count)
    compression = _per_tube(np.maximum(-forces[..., 0], 0.0).max(axis=2), tube, count)
    my, mz = (_per_tube(np.abs(forces[..., k]).max(axis=2), tube, count) for k in (4, 5))
    lengths = np.array([line.length for line in lines])
    bent = buckling(compression, my, mz, lengths, own, strength)
    return TubeUse(forces, section, worst, bent, by_section, np.maximum(by_section, bent.utilisation))


def head_mean_mm(thread: Thread) -> float | None:
    """Mean of the widths across flats and across corners of a hexagon, dm of EN 1993-1-8."""
    return thread.head_flats_mm * (1 + 2 / 3**0.5) / 2 if thread.head_flats_mm else None


def _foot(case: Case, leg: Leg, mount: MountPoint, reaction: Floats, strength: Strength) -> FootUse:
    plate, material = leg.plate, case.materials[case.brief.frame.material]
    rotation = np.array(plate.pose.rotation)
    # the plate's own axes: two in its plane, z away from the face; what the plate does to its bolts and the face
    force, moment = -reaction[:, :3] @ rotation, -reaction[:, 3:] @ rotation
    holes = np.array([(x, y) for x, y, _ in plate.holes])
    gaps = np.concatenate([holes, np.array(plate.size[:2]) - holes], axis=1)
    edge = float(gaps.min())
    shear, tension = joints.bolt_forces(holes, force, moment, edge)
    thread, frame, factors = case.threads[mount.thread], case.brief.frame, case.design_code.factors
    head = head_mean_mm(thread)
    resistance: joints.BoltResistance | None = None
    bolts: dict[str, Floats] = {}
    if thread.diameter_mm and thread.stress_area_mm2 and head:
        pitch = least_pitch(holes)
        resistance = joints.bolt_resistance(
            diameter=thread.diameter_mm, hole=thread.clearance_hole_mm, stress_area=thread.stress_area_mm2,
            bolt_class=frame.bolt_class, edge=edge, pitch=pitch, thick=plate.size[2], head_mean=head,
            plate_ultimate=material.ultimate_mpa, gamma=factors.joints,
        )  # fmt: skip
        each = joints.bolt_utilisations(shear, tension, resistance)
        bolts = {name: value.max(axis=1) for name, value in each.items()}
    # what presses bends the plate as what pulls does
    square = np.where(force[:, 2:3] >= 0, tension, force[:, 2:3] / len(holes))
    bent = joints.plate_bending(
        holes, square, outline(leg), plate.size[:2], plate.size[2], strength.design_mpa
    )
    return FootUse(leg, mount, reaction, shear, tension, resistance, bolts, bent)


def least_pitch(holes: Floats) -> float | None:
    """Least distance between two of some holes, mm; None for a single one."""
    apart = [float(np.linalg.norm(a - b)) for n, a in enumerate(holes) for b in holes[n + 1 :]]
    return min(apart) if apart else None


def outline(leg: Leg) -> tuple[float, float, float, float]:
    """The box around the tube on its foot plate, in the plate's axes: x from, x to, y from, y to, mm."""
    rotation = np.array(leg.plate.pose.rotation)
    tube = leg.members[0]
    at = (np.array(tube.start) - np.array(leg.plate.pose.origin)) @ rotation
    axis, side = np.array(tube.axis), np.array(tube.side)
    normal = rotation[:, 2]
    high, wide = tube.section.side_mm / 2, tube.section.narrow_mm / 2
    corners = [side * a + np.cross(axis, side) * b for a in (-high, high) for b in (-wide, wide)]
    flat = np.array([(c - axis * (c @ normal) / (axis @ normal)) @ rotation for c in corners])
    x, y = at[0] + flat[:, 0], at[1] + flat[:, 1]
    return float(x.min()), float(x.max()), float(y.min()), float(y.max())


def governing(values: Floats) -> tuple[int, ...]:
    """Index of the largest value of an array."""
    return tuple(int(k) for k in np.unravel_index(int(values.argmax()), values.shape))


def names_of(cases: Sequence[object], index: Ints) -> list[str]:
    """Names of load cases by index."""
    return [getattr(cases[int(k)], "name") for k in index]  # noqa: B009
