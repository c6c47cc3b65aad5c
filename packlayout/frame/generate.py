"""`generate`: the welded frame for a layout. A cradle a block, links between cradles, a leg to each mounting point."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from itertools import combinations, product

import numpy as np

from packlayout.frame.bracketing import brackets_for
from packlayout.frame.brackets import Found
from packlayout.frame.cradle import Cradle, Face, cradle, straight
from packlayout.frame.knees import knees
from packlayout.frame.legs import Leg, Obstacles, find_leg, tube_meets
from packlayout.frame.tubes import Member, TubeFrame, member_box, plate_box
from packlayout.frame.walls import walls_of
from packlayout.model.brief import Case
from packlayout.model.geometry import Box, Floats, TriMesh, Vec
from packlayout.model.layout import Layout
from packlayout.space.cells import winding

NO_ZONE = "its face looks into no measured zone; check its holes and the direction of its face"


@dataclass(frozen=True, slots=True)
class Generated:
    """The frame and how it hangs together.

    Attributes:
        frame: Members and plates.
        cradles: One a block.
        legs: Those that were found.
        missed: (mounting point, why) for those that no leg reaches.
        linked: Pairs of cradles that links join.
        brackets: What holds the parts that no module cradle holds by itself, and how far each is used.
        unborne: (part, why) for those that no bracket was found for.
    """

    frame: TubeFrame
    cradles: tuple[Cradle, ...]
    legs: tuple[Leg, ...]
    missed: tuple[tuple[str, str], ...]
    linked: tuple[tuple[int, int], ...]
    brackets: tuple[Found, ...] = ()
    unborne: tuple[tuple[str, str], ...] = ()

    @property
    def core(self) -> TubeFrame:
        """The frame without its brackets: what is analysed as one."""
        members = tuple(m for m in self.frame.members if not m.group.startswith("bracket "))
        plates = tuple(p for p in self.frame.plates if not p.group.startswith("bracket "))
        return TubeFrame(members, plates, self.frame.material)


def generate(case: Case, layout: Layout, rooms: Sequence[Box] = (), *, brackets: bool = True) -> Generated:
    """Make the frame for one layout.

    Args:
        case: Supplies stock, mounting points, surfaces.
        layout: Where the modules and the other parts stand.
        rooms: Access room of placed parts that no tube may cross, vehicle axes.
        brackets: false: leave out the brackets of the other parts, which take most of the time.

    Returns:
        The frame; mounting points that no leg reaches are told, not raised.
    """
    cradles = tuple(cradle(case, block) for block in layout.blocks)
    material = case.materials[case.brief.frame.material]
    members: list[Member] = [m for c in cradles for m in c.members]
    legs: list[Leg] = []
    missed: list[tuple[str, str]] = []
    linked: list[tuple[int, int]] = []
    for zone in dict.fromkeys(c.zone for c in cradles):
        near = [c for c in cradles if c.zone == zone]
        obstacles = _obstacles(case, layout, zone, [c.box for c in near], rooms)
        for a, b in combinations(near, 2):
            links = _links(case, a, b, obstacles)
            members += links
            linked += [(a.number, b.number)] if links else []
            obstacles = obstacles.with_boxes([member_box(m) for m in links])
        for mount in case.vehicle.mounts:
            if not _in_zone(case, zone, np.array(mount.holes).mean(axis=0) + np.array(mount.face) * 5.0):
                continue
            leg, why = find_leg(case, mount, near, obstacles)
            if leg is None:
                missed.append((mount.name, why))
                continue
            legs.append(leg)
            obstacles = obstacles.with_leg(leg)
        if case.brief.frame.leg_braces:
            for n, leg in enumerate(legs):
                if leg.cradle in {c.number for c in near}:
                    legs[n] = replace(leg, braces=knees(case, leg, _without(obstacles, leg)))
                    obstacles = obstacles.with_boxes([member_box(m) for m in legs[n].braces])
    for mount in case.vehicle.mounts:
        front = np.array(mount.holes).mean(axis=0) + np.array(mount.face) * 5.0
        if not any(_in_zone(case, zone, front) for zone in case.zones):
            missed.append((mount.name, NO_ZONE))
    members += [m for leg in legs for m in (*leg.members, *leg.braces)]
    plates = (*(p for c in cradles for p in (*c.lips, *c.caps)), *(leg.plate for leg in legs))
    found, unborne = brackets_for(case, layout, rooms, (cradles, members, plates)) if brackets else ((), ())
    members += [m for f in found for m in f.bracket.members]
    plates = (*plates, *(p for f in found for p in f.bracket.plates))
    frame = TubeFrame(tuple(members), plates, material)
    return Generated(frame, cradles, tuple(legs), tuple(missed), tuple(linked), found, unborne)


def _without(obstacles: Obstacles, leg: Leg) -> Obstacles:
    """Obstacles for what is welded to a leg: all but the leg itself."""
    own = [*(member_box(m) for m in leg.members), plate_box(leg.plate)]
    boxes = tuple(box for box in obstacles.boxes if box not in own)
    return Obstacles(obstacles.surfaces, boxes, obstacles.cradles)


def _in_zone(case: Case, zone: str, point: Floats) -> bool:
    return _inside(case.zones[zone], tuple(float(v) for v in point))


@lru_cache(maxsize=512)
def _inside(surface: TriMesh, point: tuple[float, ...]) -> bool:
    return winding(surface, np.array(point)) > 0.5


def _obstacles(case: Case, layout: Layout, zone: str, cradles: list[Box], rooms: Sequence[Box]) -> Obstacles:
    c, own = case.brief.clearances, case.brief.frame.clearance_mm
    distance = {"solid": own, "moving": c.moving_mm, "hot": c.hot_mm}
    surfaces = [(walls_of(case.zones[zone]), own)]
    surfaces += [(walls_of(case.keep_outs[k.name]), distance[k.kind]) for k in case.vehicle.keep_outs]
    boxes = [p.box.grown(own) for p in layout.placements if p.block is None]
    return Obstacles(tuple(surfaces), (*boxes, *rooms), tuple(cradles))


def _links(case: Case, a: Cradle, b: Cradle, obstacles: Obstacles) -> list[Member]:
    """Up to two straight tubes between facing sides of two cradles, as far apart as may be."""
    section = case.sections[case.brief.frame.leg_tube]
    clear: list[tuple[Vec, Vec]] = []
    for one, other in product(a.faces, b.faces):
        for start, end in _crossings(one, other):
            name = f"link {a.number}-{b.number}"
            tube = straight(name, name, section, start, end)
            if tube.length_mm >= 10.0 and not tube_meets(tube, obstacles):
                clear.append((start, end))
    if not clear:
        return []
    first = min(clear, key=lambda ends: (_length(*ends), ends))
    second = max(clear, key=lambda ends: (round(_length(first[0], ends[0]), 3), -_length(*ends), ends))
    group = f"link {a.number}-{b.number}"
    pair = [first] if second == first else [first, second]
    made = [straight(f"{group} tube {n}", group, section, *ends) for n, ends in enumerate(pair, start=1)]
    if len(made) == 2 and member_box(made[0]).overlap_depth(member_box(made[1])) > -1.0:
        made.pop()
    return made


def _crossings(one: Face, other: Face) -> Iterator[tuple[Vec, Vec]]:
    """Centre lines square to both faces, at the ends of the room that they share."""
    if one.axis != other.axis or one.sign != -other.sign or (other.at - one.at) * one.sign <= 0:
        return
    ranges = []
    for lo_a, hi_a, lo_b, hi_b in zip(one.lo, one.hi, other.lo, other.hi, strict=True):
        lo, hi = max(lo_a, lo_b), min(hi_a, hi_b)
        if lo > hi + 1e-6:
            return
        ranges.append(sorted({lo, hi}))
    axes = [k for k in range(3) if k != one.axis]
    for p, q in product(*ranges):
        start, end = [0.0, 0.0, 0.0], [0.0, 0.0, 0.0]
        start[axes[0]] = end[axes[0]] = p
        start[axes[1]] = end[axes[1]] = q
        start[one.axis], end[one.axis] = one.at, other.at
        yield (start[0], start[1], start[2]), (end[0], end[1], end[2])


def _length(a: Vec, b: Vec) -> float:
    return sum((q - p) ** 2 for p, q in zip(a, b, strict=True)) ** 0.5
