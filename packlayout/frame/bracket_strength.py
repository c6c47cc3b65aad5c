"""How far a bracket is used: strips, posts, end plates, the part's bolts and its own, in every load case.

The part is stiff: its push goes to its bolts as to an elastic bolt group. Strips and posts are bars of the frame
solver. A strip that is bolted at both ends rests there as on hinges; posts and end plates are clamped.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from packlayout.frame import joints
from packlayout.frame.bracket import Bracket, Hold, Strip
from packlayout.frame.section import tube_values
from packlayout.frame.stiffness import Floats, Solved, Structure, axes_of, section_forces, solve
from packlayout.frame.strength import Sections, Strength, buckling, cross_section
from packlayout.frame.tubes import Member, Plate
from packlayout.model.catalogue import Material, Thread
from packlayout.model.geometry import Vec

NUT_DIAMETERS = 1.4  # hole of a captive nut over its thread (common practice, no source)
POISSON = 0.3  # EN 1993-1-1 clause 3.2.6 (value from memory)


@dataclass(frozen=True, slots=True, eq=False)
class Pushed:
    """What pushes on a bracket; c load cases.

    Attributes:
        force: (c, 3) N, vehicle axes.
        moment: (c, 3) N mm about the vehicle's origin.
        thrown: (c, 3) m/s2 that the bracket's own metal is thrown with.
    """

    force: Floats
    moment: Floats
    thrown: Floats


@dataclass(frozen=True, slots=True, eq=False)
class Rules:
    """What a bracket is judged by."""

    strength: Strength
    material: Material
    weld_mpa: float | None
    throat_mm: float
    gamma: float
    bolt_class: str
    threads: dict[str, Thread]


@dataclass(frozen=True, slots=True, eq=False)
class BracketUse:
    """How far a bracket is used; c load cases, h holds.

    Attributes:
        used: What is used -> (c,): `strip`, `post`, `foot`, `weld`, `bolts of the part`, `bolts of the bracket`,
            `captive nuts` in the walls of the cradle's tubes.
        force: (c, h, 3) on what it is bolted to, N, vehicle axes.
        moment: (c, h, 3) about the middle of the bolts, N mm.
    """

    used: dict[str, Floats]
    force: Floats
    moment: Floats

    @property
    def worst(self) -> float:
        """The largest of all."""
        return max(float(v.max()) for v in self.used.values())

    @property
    def governing(self) -> tuple[str, int]:
        """What is used most, and the index of its load case."""
        by = max(self.used, key=lambda name: (float(self.used[name].max()), name))
        return by, int(self.used[by].argmax())


@dataclass(slots=True)
class _Net:
    """Nodes and bars as they are gathered."""

    points: list[Floats]
    bars: list[tuple[int, int]]
    strip: list[int]
    tube: list[Member | None]
    up: list[Vec]


def bracket_use(bracket: Bracket, pushes: Sequence[Pushed], rules: Rules) -> BracketUse:
    """Solve a bracket and judge it.

    Args:
        bracket: With its strips and where they are held.
        pushes: By each of the parts it carries.
        rules: Strengths.
    """
    net = _Net([], [], [], [], [])
    k = int(np.abs(bracket.normal).argmax())
    holes = [hole for strip in bracket.strips for hole in strip.holes]
    owners = np.array([owner for strip in bracket.strips for owner in strip.owners])
    pushed = pushes[0]
    at_holes, base, ends = _gather(bracket, net, k)
    points = np.array(net.points)
    fixed = np.zeros((len(points), 6), dtype=bool)
    for (strip, hold), node in zip(_held(bracket), base, strict=True):
        fixed[node, :3] = True
        fixed[node, 3 + strip.along] = True
        if hold.stiff:
            fixed[node, 3:] = True
    structure = _structure(net, points, fixed, bracket, rules.material.modulus_mpa)
    spots = np.array(holes)
    loads = np.zeros((len(pushed.force), len(points), 6))
    shared = np.zeros((len(loads), len(holes), 3))
    for owner, push in enumerate(pushes):
        own = np.flatnonzero(owners == owner)
        shared[:, own], left = joints.group_forces(
            spots[own], push.force, _about(push, spots[own].mean(axis=0))
        )
        for n in own:
            loads[:, at_holes[n], :3] += shared[:, n]
            loads[:, at_holes[n], 3:] += np.cross(spots[n] - points[at_holes[n]], shared[:, n]) + left / len(
                own
            )
    _own_weight(bracket, pushed, rules, loads, ends)
    solved = solve(structure, loads, np.zeros((len(loads), len(net.bars), 3)))
    used: dict[str, Floats] = {"strip": _strips(bracket, structure, solved, net, rules)}
    posts = _posts(structure, solved, net, rules)
    if posts is not None:
        used["post"] = posts
    reactions = solved.reactions[:, base]
    force, moment = -reactions[..., :3], -reactions[..., 3:]
    for n, (_, hold) in enumerate(_held(bracket)):
        moment[:, n] += np.cross(points[base[n]] - np.array(hold.point), force[:, n])
    _fixings(bracket, force, moment, used, rules)
    _part_bolts(bracket, shared, used, rules)
    return BracketUse(used, force, moment)


def _about(pushed: Pushed, point: Floats) -> Floats:
    return pushed.moment - np.cross(point, pushed.force)


def _held(bracket: Bracket) -> list[tuple[Strip, Hold]]:
    return [(strip, hold) for strip in bracket.strips for hold in strip.holds]


def _gather(bracket: Bracket, net: _Net, k: int) -> tuple[list[int], list[int], list[list[int]]]:
    """Node of each hole, supporting node of each hold, nodes of each strip."""
    at_holes: list[int] = []
    base: list[int] = []
    strips: list[list[int]] = []
    for number, strip in enumerate(bracket.strips):
        places = sorted(
            {round(h[strip.along], 2) for h in strip.holes} | {round(h.at, 2) for h in strip.holds}
        )
        first = len(net.points)
        for place in places:
            point = np.zeros(3)
            point[strip.along], point[strip.across] = place, strip.middle
            point[k] = strip.plane + bracket.normal[k] * strip.thick_mm / 2
            net.points.append(point)
        strips.append(list(range(first, len(net.points))))
        net.bars += [(n, n + 1) for n in range(first, len(net.points) - 1)]
        net.strip += [number] * (len(places) - 1)
        net.tube += [None] * (len(places) - 1)
        net.up += [bracket.normal] * (len(places) - 1)
        at_holes += [first + places.index(round(h[strip.along], 2)) for h in strip.holes]
        for hold in strip.holds:
            node = first + places.index(round(hold.at, 2))
            post = next((p for p in hold.pieces if isinstance(p, Member)), None)
            if post is not None:
                net.points.append(np.array(hold.point, dtype=float))
                net.bars.append((node, len(net.points) - 1))
                net.strip.append(-1)
                net.tube.append(post)
                net.up.append(post.side)
                node = len(net.points) - 1
            base.append(node)
    return at_holes, base, strips


def _structure(net: _Net, points: Floats, fixed: np.ndarray, bracket: Bracket, modulus: float) -> Structure:
    rows: list[tuple[float, float, float, float]] = []
    for number, tube in zip(net.strip, net.tube, strict=True):
        if tube is not None:
            v = tube_values(tube.section)
            rows.append((v.area_mm2, v.inertia_mm4, v.minor_inertia_mm4, v.torsion_mm4))
            continue
        strip = bracket.strips[number]
        w, t = strip.width_mm - strip.bore_mm, strip.thick_mm
        # torsion of a flat: w t3 / 3 less its ends, Roark's formulas, table of torsion constants (value from memory)
        rows.append((w * t, w * t**3 / 12, t * w**3 / 12, w * t**3 / 3 * (1 - 0.63 * min(t / w, w / t))))
    found = np.array(rows)
    count = len(rows)
    return Structure(
        points, np.array(net.bars), np.array(net.up), found[:, 0], found[:, 1], found[:, 2], found[:, 3],
        np.full((count, 2), np.inf), np.full(count, modulus), np.full(count, modulus / (2 * (1 + POISSON))),
        fixed, np.zeros((len(points), 6)), np.zeros((0, 2), dtype=np.int64),
    )  # fmt: skip


def _own_weight(
    bracket: Bracket, pushed: Pushed, rules: Rules, loads: Floats, nodes: Sequence[Sequence[int]]
) -> None:
    """Each strip's share of the bracket's own metal on its nodes."""
    for strip, own in zip(bracket.strips, nodes, strict=True):
        mass = sum(piece.mass_item(rules.material).mass.value for piece in strip.pieces)
        for node in own:
            loads[:, node, :3] += mass / len(own) * pushed.thrown


def _strips(bracket: Bracket, structure: Structure, solved: Solved, net: _Net, rules: Rules) -> Floats:
    """(c,) the worst strip, at its holes: the sum of clause 6.2.1 (7) of EN 1993-1-1, plastic, and shear."""
    flat = np.flatnonzero(np.array(net.strip) >= 0)
    length, _ = axes_of(structure)
    f = np.abs(section_forces(solved, length, np.array([0.0, 0.5, 1.0]))[:, flat])
    strips = [bracket.strips[net.strip[n]] for n in flat]
    t = np.array([s.thick_mm for s in strips])[None, :, None]
    hole = max((d for s in strips for _, _, d in s.plate.holes), default=0.0)
    net_w = np.array([s.width_mm - (s.bore_mm or hole) for s in strips])[None, :, None]
    part = 4.0 if rules.strength.steel else 6.0
    design, shear = rules.strength.design_mpa, rules.strength.shear_mpa
    bent = f[..., 4] / (net_w * t**2 / part) + f[..., 5] / (t * net_w**2 / part) + f[..., 0] / (net_w * t)
    # torque over w t2 / 3: the largest shear stress in the middle of the wide side
    sheared = np.maximum(f[..., 1], f[..., 2]) / (net_w * t) + f[..., 3] / (net_w * t**2 / 3)
    return np.maximum(bent / design, sheared / shear).max(axis=(1, 2))


def _posts(structure: Structure, solved: Solved, net: _Net, rules: Rules) -> Floats | None:
    """(c,) the worst post with the welds at its ends."""
    picked = [n for n, tube in enumerate(net.tube) if tube is not None]
    if not picked:
        return None
    length, _ = axes_of(structure)
    f = section_forces(solved, length, np.array([0.0, 1.0]))[:, picked]
    values = tuple(tube_values(tube.section) for tube in net.tube if tube is not None)
    own = Sections.of(values, rules.strength)
    spread = Sections(*(getattr(own, name)[:, None] for name in Sections.__slots__))
    used = cross_section(f, spread, rules.strength).worst.max(axis=2)
    pressed = np.maximum(-f[..., 0], 0.0).max(axis=2)
    # free at its head: twice its length
    bent = buckling(
        pressed,
        np.abs(f[..., 4]).max(axis=2),
        np.abs(f[..., 5]).max(axis=2),
        2 * length[picked],
        own,
        rules.strength,
    )
    used = np.maximum(used, bent.utilisation)
    if rules.weld_mpa:
        line = joints.weld_line_force(
            f, np.array([[v.side_mm] for v in values]), np.array([[v.radius_mm] for v in values]),
            np.array([[v.width_mm] for v in values]), np.array([[float(v.kind == "round")] for v in values]),
        )  # fmt: skip
        used = np.maximum(used, line.max(axis=2) / (rules.throat_mm * rules.weld_mpa))
    return used.max(axis=1)


def _fixings(bracket: Bracket, force: Floats, moment: Floats, used: dict[str, Floats], rules: Rules) -> None:
    """The bolts of each hold, and the plate they hold down."""
    for n, (strip, hold) in enumerate(_held(bracket)):
        away = -np.array(hold.normal)
        first = np.zeros(3)
        first[strip.across if abs(away[strip.across]) < 0.5 else strip.along] = 1.0
        rows = np.stack([first, np.cross(away, first), away])
        bolts = (np.array(hold.bolts) - np.array(hold.point)) @ rows.T
        f, m = force[:, n] @ rows.T, moment[:, n] @ rows.T
        shear, tension = joints.bolt_forces(bolts[:, :2], f, m, hold.edge_mm)
        plates = [p for p in hold.pieces if isinstance(p, Plate)]
        footed = hold.kind in ("post", "end")
        thick = plates[-1].size[2] if footed else strip.thick_mm
        _keep(used, "bolts of the bracket", _bolts(hold.thread, shear, tension, hold.edge_mm, thick, rules))
        if hold.wall_mm:
            nut = _bolts(hold.thread, shear, tension, hold.edge_mm, hold.wall_mm, rules, nut=True)
            _keep(used, "captive nuts", nut)
        if not footed:
            continue
        plate = plates[-1]
        # the plate bends between each bolt and what stands on it
        stands = np.array(hold.point)
        k = int(np.abs(bracket.normal).argmax())
        if hold.kind == "end":
            stands[strip.across] = strip.middle
            stands[k] = strip.plane + bracket.normal[k] * strip.thick_mm / 2
        outline = np.array(_outline(strip, hold)) / 2
        arm = np.maximum(
            (np.abs(bolts[:, :2] - ((stands - np.array(hold.point)) @ rows.T)[:2]) - outline).max(axis=1), 1.0
        )
        wide = min(plate.size[0], plate.size[1])
        resistance = wide * thick**2 / 4 * rules.strength.design_mpa
        _keep(used, "foot", (tension * arm).max(axis=1) / resistance)
        if hold.kind == "end" and rules.weld_mpa:
            _keep(used, "weld", _end_weld(strip, f, m, rules))


def _end_weld(strip: Strip, f: Floats, m: Floats, rules: Rules) -> Floats:
    """(c,) of the two fillets along a strip's end: resultant on a millimetre, simplified method."""
    w, t = strip.width_mm, strip.thick_mm
    # f: across, square to the strip, pull; m the same way round
    square = np.abs(f[:, 2]) / (2 * w) + np.abs(m[:, 0]) / (w * t) + np.abs(m[:, 1]) / (w**2 / 3)
    along = np.hypot(f[:, 0], f[:, 1]) / (2 * w) + np.abs(m[:, 2]) / (w * t)
    assert rules.weld_mpa is not None
    return np.hypot(square, along) / (rules.throat_mm * rules.weld_mpa)


def _outline(strip: Strip, hold: Hold) -> tuple[float, float]:
    """Sides of what stands on a foot, mm."""
    post = next((p for p in hold.pieces if isinstance(p, Member)), None)
    if post is not None:
        return post.section.narrow_mm, post.section.side_mm
    return strip.width_mm, strip.thick_mm


def _bolts(
    name: str, shear: Floats, tension: Floats, edge: float, thick: float, rules: Rules, *, nut: bool = False
) -> Floats | None:
    thread = rules.threads.get(name)
    if thread is None or not thread.diameter_mm or not thread.stress_area_mm2 or not thread.head_flats_mm:
        return None
    resistance = joints.bolt_resistance(
        diameter=thread.diameter_mm, hole=thread.clearance_hole_mm, stress_area=thread.stress_area_mm2,
        bolt_class=rules.bolt_class, edge=edge, pitch=None, thick=thick,
        head_mean=NUT_DIAMETERS * thread.diameter_mm if nut else thread.head_flats_mm * (1 + 2 / 3**0.5) / 2,
        plate_ultimate=rules.material.ultimate_mpa,
        gamma=rules.gamma,
    )  # fmt: skip
    each = joints.bolt_utilisations(shear, tension, resistance)
    return np.max([value.max(axis=1) for value in each.values()], axis=0)


def _part_bolts(bracket: Bracket, shared: Floats, used: dict[str, Floats], rules: Rules) -> None:
    normal = np.array(bracket.normal)
    pull = -(shared @ normal)
    flat = shared + pull[..., None] * normal
    thin = min(strip.thick_mm for strip in bracket.strips)
    edge = min(strip.width_mm for strip in bracket.strips) / 2
    shear = np.linalg.norm(flat, axis=2)
    found = _bolts(bracket.thread, shear, np.maximum(pull, 0.0), edge, thin, rules)
    _keep(used, "bolts of the part", found)


def _keep(used: dict[str, Floats], name: str, found: Floats | None) -> None:
    if found is not None:
        used[name] = np.maximum(used[name], found) if name in used else found
