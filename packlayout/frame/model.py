"""The generated frame as it is analysed: nodes, bars, supports, load cases, and what weighs where."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from packlayout.frame.generate import Generated
from packlayout.frame.loading import WAYS, Loading, centre_of, loading
from packlayout.frame.section import SectionValues, tube_values
from packlayout.frame.skeleton import Skeleton, skeleton
from packlayout.frame.stiffness import Floats, Ints, Structure, axes_of, held_as_a_body
from packlayout.model.brief import Case
from packlayout.model.catalogue import TubeSection
from packlayout.model.layout import Layout
from packlayout.model.loads import LoadCase
from packlayout.model.vehicle import MountPoint
from packlayout.units import G0_M_S2

POISSON = 0.3  # EN 1993-1-1 clause 3.2.6 and EN 1999-1-1 clause 3.2.5 (values from memory)
DIVIDE_MM = 150.0
"""Tubes are divided at least this often, so that a stretch between two joints can bow and swing."""


@dataclass(frozen=True, slots=True)
class Support:
    """One mounting point in the analysis.

    Attributes:
        mount: Its name.
        node: Index.
        landing: Index of the node where the leg meets the foot plate.
    """

    mount: str
    node: int
    landing: int


@dataclass(frozen=True, slots=True, eq=False)
class FrameModel:
    """A frame ready to be solved; c load cases, n nodes, m bars.

    Attributes:
        structure: Arrays of the solver.
        skeleton: Lines and joints they were made from.
        tube: (m,) index of the frame's member that each bar is a piece of.
        stretch: (m, 2) where the bar begins and ends along its line, mm.
        sections: Properties of each member.
        supports: Mounting points.
        cases: Load cases, in the order of the arrays.
        loads: (c, n, 6) N and N mm at the nodes.
        line_loads: (c, m, 3) N/mm on the bars, vehicle axes.
        masses: (n, 3) kg at the nodes, for vibration.
        loading: What was put on it.
        mass_kg: Of frame, modules and carried parts.
        pushed: (3,) centre of gravity of all that, mm.
        faults: (what, why) for what stands in the way of an analysis; with any, it is not to be solved.
    """

    structure: Structure
    skeleton: Skeleton
    tube: Ints
    stretch: Floats
    sections: tuple[SectionValues, ...]
    supports: tuple[Support, ...]
    cases: tuple[LoadCase, ...]
    loads: Floats
    line_loads: Floats
    masses: Floats
    loading: Loading
    mass_kg: float
    pushed: Floats
    faults: tuple[tuple[str, str], ...]


class _Nodes:
    def __init__(self) -> None:
        self.points: list[Floats] = []
        self._known: dict[tuple[int, int, int], int] = {}

    def at(self, point: Floats) -> int:
        """Index of the node at a point; two points within a hundredth of a millimetre are one."""
        x, y, z = (round(float(v) * 20) for v in point)
        for key in ((x + i, y + j, z + k) for i in (0, -1, 1) for j in (0, -1, 1) for k in (0, -1, 1)):
            if key in self._known and np.linalg.norm(self.points[self._known[key]] - point) < 0.01:
                return self._known[key]
        self.points.append(np.array(point, dtype=float))
        self._known[x, y, z] = len(self.points) - 1
        return len(self.points) - 1


def frame_model(
    case: Case, layout: Layout, made: Generated, sections: Mapping[str, TubeSection] | None = None
) -> FrameModel:
    """Make the analysis of a generated frame.

    Args:
        case: Supplies materials, mounting points, masses, load cases.
        layout: What it carries.
        made: The frame.
        sections: Name of a member -> another section of the same side; for a search over walls, which
            leaves the geometry as it is.

    Returns:
        The model. What cannot be analysed is told in `faults`, not raised.
    """
    members = made.core.members
    own = [(sections or {}).get(m.name, m.section) for m in members]
    put = loading(case, layout, made)
    marks: dict[int, list[float]] = {}
    for patch in put.patches:
        marks.setdefault(patch.member, []).extend((patch.begin, patch.end))
    for n, member in enumerate(members):
        pieces = int(member.length_mm // DIVIDE_MM) + 1
        marks.setdefault(n, []).extend(member.length_mm * k / pieces for k in range(1, pieces))
    feet = frozenset(leg.members[0].name for leg in made.legs)
    caps = [cap.name for c in made.cradles for cap in c.caps]
    capped = frozenset(name.rsplit(" end plate ", 1)[0] for name in caps)
    bones = skeleton(members, feet, marks, capped)
    nodes = _Nodes()
    bars: list[tuple[int, int]] = []
    tube: list[int] = []
    stretch: list[tuple[float, float]] = []
    for n, line in enumerate(bones.lines):
        for a, b in zip(line.at[:-1], line.at[1:], strict=True):
            bars.append((nodes.at(line.point(a)), nodes.at(line.point(b))))
            tube.append(n)
            stretch.append((a, b))
    links = _offsets(bones, nodes)
    supports: list[Support] = []
    by_name = {m.name: m for m in case.vehicle.mounts}
    rows: list[tuple[MountPoint, Support]] = []
    for leg in made.legs:
        node, landing = nodes.at(np.array(leg.load_point)), nodes.at(np.array(leg.members[0].start))
        links.append((node, landing))
        supports.append(Support(leg.mount, node, landing))
        rows.append((by_name[leg.mount], supports[-1]))
    points = np.array(nodes.points)
    fixed, springs = _held(rows, len(points))
    structure = _structure(
        case, np.array([m.side for m in members]), own, points, (bars, tube), (fixed, springs), links
    )
    lengths, _ = axes_of(structure)
    tube_array, stretch_array = np.array(tube), np.array(stretch)
    weights, at_nodes = _own_mass(case, made, own, bones, tube_array, lengths, nodes)
    unit_nodes, unit_lines = _unit_pushes(put, bones, points, structure.bars, tube_array, stretch_array)
    cases = case.design_code.load_cases
    loads, lines = _combine(cases, (unit_nodes, unit_lines), weights, at_nodes, points)
    masses = _masses(unit_nodes, unit_lines, weights, at_nodes, structure.bars, lengths)
    mass, centre = _total(case, layout, put, weights, at_nodes, structure, lengths)
    faults = (*put.loose, *_unheld(made, bones, structure, supports))
    return FrameModel(
        structure, bones, tube_array, stretch_array, tuple(tube_values(s) for s in own), tuple(supports), cases,
        loads, lines, masses, put, mass, centre, faults,
    )  # fmt: skip


def _offsets(bones: Skeleton, nodes: _Nodes) -> list[tuple[int, int]]:
    """(leading, following) nodes where the end of a tube is not on a node of what it stands on."""
    links: dict[int, int] = {}
    for joint in bones.joints:
        if joint.onto is None:
            continue
        line, onto = bones.lines[joint.member], bones.lines[joint.onto]
        end = line.end if joint.end else line.start
        spot = min((onto.point(a) for a in onto.at), key=lambda p: float(np.linalg.norm(p - end)))
        lead, follow = nodes.at(spot), nodes.at(end)
        if lead != follow:
            links[follow] = lead
    return [(lead, follow) for follow, lead in links.items()]


def _held(rows: Sequence[tuple[MountPoint, Support]], count: int) -> tuple[np.ndarray, Floats]:
    fixed, springs = np.zeros((count, 6), dtype=bool), np.zeros((count, 6))
    for mount, support in rows:
        if mount.rubber is not None:
            # the part of the stiffness tensor along each axis; exact where the face looks along an axis
            share = np.array(mount.face) ** 2
            springs[support.node, :3] = (
                share * mount.rubber.axial_n_per_mm + (1 - share) * mount.rubber.radial_n_per_mm
            )
        else:
            fixed[support.node, :3] = True
            fixed[support.node, 3:] = mount.fixing == "fixed"
            if len(mount.holes) > 1:
                # two bolts keep a plate from turning on its face; that axis is the vehicle's nearest to the normal
                fixed[support.node, 3 + int(np.abs(mount.face).argmax())] = True
    return fixed, springs


def _structure(
    case: Case, sides: Floats, own: Sequence[TubeSection], points: Floats,
    pieces: tuple[list[tuple[int, int]], list[int]], held: tuple[np.ndarray, Floats], links: list[tuple[int, int]],
) -> Structure:  # fmt: skip
    bars, tube = pieces
    e = case.materials[case.brief.frame.material].modulus_mpa
    values = [tube_values(own[n]) for n in tube]
    return Structure(
        nodes=points,
        bars=np.array(bars),
        up=sides[np.array(tube)],
        area=np.array([v.area_mm2 for v in values]),
        inertia_y=np.array([v.inertia_mm4 for v in values]),
        inertia_z=np.array([v.minor_inertia_mm4 for v in values]),
        torsion=np.array([v.torsion_mm4 for v in values]),
        shear_area=np.array([[v.minor_shear_area_mm2, v.shear_area_mm2] for v in values]),
        modulus=np.full(len(bars), e),
        shear_modulus=np.full(len(bars), e / (2 * (1 + POISSON))),
        fixed=held[0],
        springs=held[1],
        links=np.array(links, dtype=np.int64).reshape(-1, 2),
    )


def _own_mass(
    case: Case, made: Generated, own: Sequence[TubeSection], bones: Skeleton, tube: Ints, lengths: Floats, nodes: _Nodes
) -> tuple[Floats, list[tuple[int, float, Floats]]]:  # fmt: skip
    """kg/mm of each bar, the tube's overhang spread over it; (node, kg, centre) of each plate."""
    density = made.frame.material.density_kg_per_m3 * 1e-9
    per_tube = np.zeros(len(bones.lines))
    np.add.at(per_tube, tube, lengths)
    whole = np.array(
        [s.area_mm2 * m.length_mm * density for s, m in zip(own, made.core.members, strict=True)]
    )
    feet = {leg.plate.name: nodes.at(np.array(leg.load_point)) for leg in made.legs}
    points: list[tuple[int, float, Floats]] = []
    borne = [p for f in made.brackets if f.bracket.cradle is not None for p in f.bracket.plates]
    cradle_of = {f.bracket.group: f"cradle {f.bracket.cradle}" for f in made.brackets}
    for plate in (*made.core.plates, *borne):
        item = plate.mass_item(made.frame.material)
        centre = np.array([c.value for c in item.position])
        node = feet.get(plate.name, -1)
        if node < 0:
            node = _post_node(cradle_of.get(plate.group, plate.group), centre, bones, nodes)
        points.append((node, item.mass.value, centre))
    return (whole / per_tube)[tube], points


def _post_node(group: str, centre: Floats, bones: Skeleton, nodes: _Nodes) -> int:
    """The node of its cradle that a lip, an end plate or a bracket hangs on."""
    spots = [
        line.point(a)
        for line in bones.lines
        if line.member.group == group and any(word in line.member.name for word in (" post ", " top rail "))
        for a in line.at
    ]
    return nodes.at(min(spots, key=lambda p: float(np.linalg.norm(p - centre))))


def _unit_pushes(
    put: Loading, bones: Skeleton, points: Floats, bars: Ints, tube: Ints, stretch: Floats
) -> tuple[Floats, Floats]:
    """(6, n, 6) and (6, m, 3): what 1 g each way does, in kg and kg mm, kg/mm."""
    at_nodes, lines = np.zeros((6, len(points), 6)), np.zeros((6, len(bars), 3))
    for patch in put.patches:
        line = bones.lines[patch.member]
        first = np.array(line.member.start)
        way = np.array(line.member.axis)
        begin, end = (line.place(first + way * p) for p in (patch.begin, patch.end))
        on = np.flatnonzero(tube == patch.member)
        spots = np.append(stretch[on, 0], stretch[on[-1], 1])
        a, b = int(np.abs(spots - begin).argmin()), int(np.abs(spots - end).argmin())
        ends = np.append(bars[on, 0], bars[on[-1], 1])
        if b > a:
            lines[patch.way, on[a:b]] += patch.push / (spots[b] - spots[a])
            middle = line.point((spots[a] + spots[b]) / 2)
        else:
            at_nodes[patch.way, ends[a], :3] += patch.push
            middle = points[ends[a]]
        turn = np.cross(patch.point - middle, patch.push)
        at_nodes[patch.way, ends[a], 3:] += turn / 2
        at_nodes[patch.way, ends[b], 3:] += turn / 2
    return at_nodes, lines


def _combine(
    cases: Sequence[LoadCase], unit: tuple[Floats, Floats], weights: Floats,
    plates: Sequence[tuple[int, float, Floats]], points: Floats,
) -> tuple[Floats, Floats]:  # fmt: skip
    loads = np.zeros((len(cases), len(points), 6))
    lines = np.zeros((len(cases), len(weights), 3))
    for n, case in enumerate(cases):
        push = push_of(case)
        for way, (axis, sign) in enumerate(WAYS):
            size = max(push[axis] * sign, 0.0)
            loads[n] += size * unit[0][way]
            lines[n] += size * unit[1][way]
        lines[n] += weights[:, None] * push
        for node, mass, centre in plates:
            loads[n, node, :3] += mass * push
            loads[n, node, 3:] += np.cross(centre - points[node], mass * push)
    return loads, lines


def push_of(case: LoadCase) -> Floats:
    """(3,) m/s2 that everything is thrown with in a load case, its factor and gravity included."""
    return np.array(case.thrown_g) * G0_M_S2


def _masses(
    unit_nodes: Floats, unit_lines: Floats, weights: Floats, plates: Sequence[tuple[int, float, Floats]], bars: Ints,
    lengths: Floats,
) -> Floats:  # fmt: skip
    """(n, 3) kg: along x and y half on either side, along z where things stand; tubes by halves at their ends."""
    masses = np.zeros((unit_nodes.shape[1], 3))
    for axis, ways in ((0, (0, 1)), (1, (2, 3)), (2, (4,))):
        for way in ways:
            sign = WAYS[way][1] / len(ways)
            masses[:, axis] += np.maximum(unit_nodes[way, :, axis] * sign, 0.0)
            half = unit_lines[way, :, axis] * sign * lengths / 2
            np.add.at(masses[:, axis], bars[:, 0], half)
            np.add.at(masses[:, axis], bars[:, 1], half)
    for end in (0, 1):
        np.add.at(masses, bars[:, end], (weights * lengths / 2)[:, None])
    for node, mass, _ in plates:
        masses[node] += mass
    return masses


def _total(
    case: Case, layout: Layout, put: Loading, weights: Floats, plates: Sequence[tuple[int, float, Floats]],
    structure: Structure, lengths: Floats,
) -> tuple[float, Floats]:  # fmt: skip
    middle = structure.nodes[structure.bars].mean(axis=1)
    rows = [(float(w * length), m) for w, length, m in zip(weights, lengths, middle, strict=True)]
    rows += [(mass, centre) for _, mass, centre in plates]
    held = [p for p in layout.placements if p.block is not None or p.name in put.carried]
    rows += [(case.parts[p.part].mass_kg.value, centre_of(case, p)) for p in held]
    mass = sum(m for m, _ in rows)
    return mass, np.sum([m * at for m, at in rows], axis=0) / mass


def _unheld(
    made: Generated, bones: Skeleton, structure: Structure, supports: Sequence[Support]
) -> list[tuple[str, str]]:
    """(what, why) for each piece of the frame that its mounting points do not hold as a rigid body."""
    root = np.arange(len(structure.nodes))

    def top(n: int) -> int:
        while root[n] != n:
            n = int(root[n])
        return n

    for a, b in (*structure.bars, *structure.links):
        root[top(int(a))] = top(int(b))
    pieces: dict[int, list[str]] = {}
    first = {n: int(structure.bars[k, 0]) for k, n in reversed(list(enumerate(_tubes(bones))))}
    for n, line in enumerate(bones.lines):
        pieces.setdefault(top(first[n]), []).append(line.member.group)
    faults: list[tuple[str, str]] = []
    stiff = structure.fixed.astype(float) + structure.springs
    for piece, groups in pieces.items():
        nodes = [s.node for s in supports if top(s.node) == piece]
        held = held_as_a_body(structure.nodes[nodes], stiff[nodes]) if nodes else 0
        if held < 6:
            names = ", ".join(s.mount for s in supports if top(s.node) == piece) or "no mounting point"
            what = " and ".join(dict.fromkeys(groups))
            why = f"held by {names}, it can still move; three mounting points off one line hold it"
            faults.append((what, why))
    return faults


def _tubes(bones: Skeleton) -> list[int]:
    return [n for n, line in enumerate(bones.lines) for _ in range(len(line.at) - 1)]
