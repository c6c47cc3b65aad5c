"""How everything that has a mass pushes on the frame, for a push of 1 g along each axis either way.

A module stands on the bars under it and is held down by the bars over it; sideways it leans on the studs and lips at
the edges of the side it is pushed to, through the modules beside it. Friction is left out. The parts on top of a
cradle push on the tubes beneath them. Every push acts at the centre of gravity of what makes it.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from packlayout.frame.bracket import Bracket
from packlayout.frame.cradle import LIP_OVER_MM, bar_axes
from packlayout.frame.generate import Generated
from packlayout.frame.joints import group_forces
from packlayout.frame.stiffness import Floats
from packlayout.frame.tubes import Member
from packlayout.model.brief import Case
from packlayout.model.geometry import Vec
from packlayout.model.layout import Block, Layout, Placement

WAYS = ((0, -1), (0, 1), (1, -1), (1, 1), (2, -1), (2, 1))
"""Axis and sign of the six pushes."""


@dataclass(frozen=True, slots=True, eq=False)
class Patch:
    """A mass that pushes on a stretch of a tube.

    Attributes:
        what: What pushes.
        way: Index into `WAYS`.
        member: Index of the tube.
        begin: Start of the stretch, a coordinate along the tube, mm from its first end.
        end: End of the stretch.
        push: (3,) the push, kg times the direction of 1 g.
        point: Where it acts, mm, vehicle axes.
    """

    what: str
    way: int
    member: int
    begin: float
    end: float
    push: Floats
    point: Floats


@dataclass(frozen=True, slots=True, eq=False)
class Loading:
    """All pushes on a frame.

    Attributes:
        patches: Of modules and carried parts.
        loose: (what, why) for each push that nothing takes.
        carried: Names of the parts on the cradles.
        elsewhere: Names of the parts that are not: the vehicle carries them.
    """

    patches: tuple[Patch, ...]
    loose: tuple[tuple[str, str], ...]
    carried: tuple[str, ...]
    elsewhere: tuple[str, ...]


def centre_of(case: Case, placement: Placement) -> Floats:
    """Centre of gravity of a placed part, vehicle axes."""
    own = case.parts[placement.part].centre_of_gravity
    return np.array(placement.pose.point((own[0].value, own[1].value, own[2].value)))


def loading(case: Case, layout: Layout, made: Generated) -> Loading:
    """Every push of every module and every part on top of a cradle."""
    patches: list[Patch] = []
    loose: list[tuple[str, str]] = []
    members = made.core.members
    for block in layout.blocks:
        own = [n for n, m in enumerate(members) if m.group == f"cradle {block.number}"]
        for module in block.modules:
            mass, cg = case.parts[module.part].mass_kg.value, centre_of(case, module)
            for way in range(6):
                found = (
                    _standing(module, mass, cg, way, members, own, block)
                    if WAYS[way][0] == 2
                    else _leaning(module, mass, cg, way, members, own)
                )
                patches += found
                if not found:
                    loose.append((module.name, _missing(way)))
    carried: list[str] = []
    elsewhere: list[str] = []
    held = {name: f.bracket for f in made.brackets for name in f.bracket.parts}
    for part in (p for p in layout.placements if p.block is None):
        bracket = held.get(part.name)
        tops = _tops(part, made) if bracket is None else _feet(bracket, members)
        if len(tops) < (2 if bracket is None else 1):
            elsewhere.append(part.name)
            continue
        carried.append(part.name)
        mass = case.parts[part.part].mass_kg.value
        patches += _on_top(part, mass, centre_of(case, part), members, tops)
    return Loading(tuple(patches), tuple(loose), tuple(carried), tuple(elsewhere))


def _missing(way: int) -> str:
    axis, sign = WAYS[way]
    word = (("forward", "rearward"), ("to the left", "to the right"), ("downward", "upward"))[axis][sign > 0]
    thing = ("posts or studs", "posts or studs", "bars")[axis]
    return f"no {thing} of its cradle hold it {word}"


def _along(member: Member) -> int:
    return max(range(3), key=lambda k: abs(member.axis[k]))


def _stretch(cg: float, lo: float, hi: float, member: Member) -> tuple[float, float] | None:
    """The longest stretch with its middle at `cg` that lies within lo..hi and on the tube, from its first end."""
    axis = _along(member)
    first, last = sorted((member.start[axis], member.end[axis]))
    half = min(cg - max(lo, first), min(hi, last) - cg)
    if half < 2.0:
        return None
    a, b = cg - half, cg + half
    if member.axis[axis] > 0:
        return a - member.start[axis], b - member.start[axis]
    return member.start[axis] - b, member.start[axis] - a


def _shares(at: float, places: Sequence[float]) -> list[float]:
    """How a force at `at` is shared by one or two supports: the lever rule."""
    if len(places) == 1:
        return [1.0]
    a, b = places
    return [(b - at) / (b - a), (at - a) / (b - a)]


def _standing(
    module: Placement, mass: float, cg: Floats, way: int, members: Sequence[Member], own: Sequence[int], block: Block
) -> list[Patch]:  # fmt: skip
    across, along = bar_axes(block)
    word = " bar under " if WAYS[way][1] < 0 else " bar over "
    box = module.box
    bars = [
        n for n in own if word in members[n].name and box.lo[along] < members[n].start[along] < box.hi[along]
    ]
    bars = sorted(bars, key=lambda n: members[n].start[along])
    if not bars:
        return []
    picked = [bars[0], bars[-1]] if len(bars) > 1 else bars
    places = [members[n].start[along] for n in picked]
    made: list[Patch] = []
    for n, place, share in zip(picked, places, _shares(float(cg[along]), places), strict=True):
        stretch = _stretch(float(cg[across]), box.lo[across], box.hi[across], members[n])
        if stretch is None:
            return []
        point = cg.copy()
        point[along] = place if len(picked) > 1 else cg[along]
        made.append(Patch(module.name, way, n, *stretch, _push(way, mass * share), point))
    return made


def _leaning(
    module: Placement, mass: float, cg: Floats, way: int, members: Sequence[Member], own: Sequence[int]
) -> list[Patch]:
    axis, sign = WAYS[way]
    other, box = 1 - axis, module.box
    uprights = [n for n in own if " stud " in members[n].name or " post " in members[n].name]
    if not uprights:
        return []
    edge = (max if sign > 0 else min)(members[n].start[axis] for n in uprights)
    inner = max(members[n].section.side_mm for n in uprights)
    row = [n for n in uprights if abs(members[n].start[axis] - edge) < inner]
    found: list[tuple[int, float]] = []
    for lean, inward in ((box.lo[other], 1), (box.hi[other], -1)):
        # a stud in front of the edge, or the post beside it with its lip
        reach = [n for n in row if abs(members[n].start[other] - lean) < members[n].section.side_mm]
        if not reach:
            return []
        nearest = min(reach, key=lambda n: abs(members[n].start[other] - lean))
        found.append((nearest, lean + inward * LIP_OVER_MM / 2))
    made: list[Patch] = []
    for (n, place), share in zip(found, _shares(float(cg[other]), [p for _, p in found]), strict=True):
        stretch = _stretch(float(cg[2]), box.lo[2], box.hi[2], members[n])
        if stretch is None:
            return []
        point = cg.copy()
        point[other] = place
        made.append(Patch(module.name, way, n, *stretch, _push(way, mass * share), point))
    return made


def _feet(bracket: Bracket, members: Sequence[Member]) -> list[tuple[int, float]]:
    """(tube, mm from its first end) of the cradle that a bracket is bolted to; none where the vehicle carries it."""
    index = {m.name: n for n, m in enumerate(members)}
    spots: dict[tuple[int, float], None] = {}
    for hold in bracket.holds:
        if hold.cradle is not None:
            tube = members[index[hold.onto]]
            way = np.array(hold.point) - np.array(tube.start)
            spots[index[hold.onto], round(float(way @ np.array(tube.axis)), 3)] = None
    return list(spots)


def _tops(part: Placement, made: Generated) -> list[tuple[int, float]]:
    """(tube, mm from its first end) on the upper ring or the bars over it, beneath the corners of a part."""
    box = part.box
    for cradle in made.cradles:
        top = cradle.box.hi[2]
        inside = all(cradle.box.lo[k] - 1 <= box.centre[k] <= cradle.box.hi[k] + 1 for k in (0, 1))
        if not inside or not -1.0 <= box.lo[2] - top <= 150.0:
            continue
        own = {m.name for m in cradle.members if " top rail " in m.name or " bar over " in m.name}
        tubes = [(n, m) for n, m in enumerate(made.core.members) if m.name in own]
        found: dict[tuple[int, float], None] = {}
        for x in (box.lo[0], box.hi[0]):
            for y in (box.lo[1], box.hi[1]):
                spot = min((_nearest(m, (x, y, top)), n) for n, m in tubes)
                found[spot[1], round(spot[0][1], 3)] = None
        return list(found)
    return []


def _nearest(member: Member, point: Vec) -> tuple[float, float]:
    """Distance of a point seen from above from a tube, and where along it."""
    axis = np.array(member.axis)
    t = float(np.clip((np.array(point) - np.array(member.start)) @ axis, 5.0, member.length_mm - 5.0))
    gap = np.array(member.start) + axis * t - np.array(point)
    return round(float(np.hypot(gap[0], gap[1])), 3), t


def _on_top(
    part: Placement, mass: float, cg: Floats, members: Sequence[Member], tops: Sequence[tuple[int, float]]
) -> list[Patch]:
    """The push of a part as forces on the points that carry it.

    Even shares, and couples for the moment of the push about the middle of the points, in proportion to their distance
    from it: the elastic bolt group. What points in one line cannot take as couples is left at them as moments.
    """
    at = np.array([np.array(members[n].start) + np.array(members[n].axis) * t for n, t in tops])
    made: list[Patch] = []
    for way in range(6):
        push = _push(way, mass)
        shared, rest = group_forces(at, push[None], np.cross(cg - at.mean(axis=0), push)[None])
        left = rest[0]
        for (n, t), spot, force in zip(tops, at, shared[0], strict=True):
            made.append(Patch(part.name, way, n, t, t, force, spot))
        if np.linalg.norm(left) > 1e-9 * mass:
            # a couple of two equal pushes at one place, an arm apart
            n, t = tops[0]
            side = np.cross(left, np.eye(3)[int(np.abs(left).argmin())])
            force = side / np.linalg.norm(side)
            arm = np.cross(force, left)
            made.append(Patch(part.name, way, n, t, t, force, at[0] + arm))
            made.append(Patch(part.name, way, n, t, t, -force, at[0]))
    return made


def _push(way: int, mass: float) -> Floats:
    push = np.zeros(3)
    push[WAYS[way][0]] = WAYS[way][1] * mass
    return push
