"""Legs: from each original mounting point to the nearest cradle tube, along the axes, with mitred corners.

Every path worth building is listed with its length and tried shortest first; the first whose tubes and foot
plate keep clear of the body, keep-outs, parts, access room and other legs is taken.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from packlayout.frame.cradle import Cradle, Face
from packlayout.frame.foot import Foot, feet
from packlayout.frame.tubes import Member, Plate, member_box, plate_box
from packlayout.frame.walls import Walls
from packlayout.model.brief import Case
from packlayout.model.catalogue import TubeSection
from packlayout.model.geometry import Box, Floats, Vec
from packlayout.model.vehicle import MountPoint
from packlayout.space.touching import box_touches

STEP_MM = 20.0
CORNER_COST_MM = (
    60.0  # a mitred corner costs a welder as much as this length of tube (common practice, no source)
)
SHORTEST_MM, SAME_MM = 10.0, 1e-6


@dataclass(frozen=True, slots=True)
class Leg:
    """A leg that was found.

    Attributes:
        mount: Name of the mounting point.
        cradle: Number of the cradle it joins.
        members: Tubes from the foot up.
        plate: Foot plate.
        load_point: Middle of the holes, mm.
        braces: Across its corners.
    """

    mount: str
    cradle: int
    members: tuple[Member, ...]
    plate: Plate
    load_point: Vec
    braces: tuple[Member, ...] = ()


@dataclass(frozen=True, slots=True, eq=False)
class Obstacles:
    """What legs must keep clear of.

    Attributes:
        surfaces: (walls, clearance mm): body and keep-outs.
        boxes: Parts grown by their clearance, access room, other legs.
        cradles: Outer boxes of the cradles; a leg may touch one, not enter it.
    """

    surfaces: tuple[tuple[Walls, float], ...]
    boxes: tuple[Box, ...]
    cradles: tuple[Box, ...]

    def with_boxes(self, boxes: Sequence[Box]) -> "Obstacles":
        """The same with more boxes in the way."""
        return Obstacles(self.surfaces, (*self.boxes, *boxes), self.cradles)

    def with_leg(self, leg: Leg) -> "Obstacles":
        """The same with one more leg in the way."""
        more = (*(member_box(m) for m in (*leg.members, *leg.braces)), plate_box(leg.plate))
        return self.with_boxes(more)


@dataclass(frozen=True, slots=True, eq=False)
class _Fan:
    """Paths from one foot to one face: the spots (n, 3) where they join it, and what each costs (n,), mm of tube."""

    foot: Foot
    face: Face
    spots: Floats
    costs: Floats


@dataclass(frozen=True, slots=True)
class _Path:
    foot: Foot
    nodes: tuple[Vec, ...]
    face: Face


def find_leg(
    case: Case, mount: MountPoint, cradles: Sequence[Cradle], obstacles: Obstacles
) -> tuple[Leg | None, str]:
    """The shortest leg that can be built.

    Returns:
        The leg and an empty text, or None and what stood in the way of the shortest path.
    """
    section = case.sections[case.brief.frame.leg_tube]
    fans = list(_fans(case, mount, cradles, section))
    count = sum(len(fan.costs) for fan in fans)
    if not count:
        return None, "no tube can leave the face square and reach a cradle tube; check the face direction"
    why = ""
    plates: dict[Plate, str] = {}
    for path in _in_turn(fans):
        plate = path.foot.plate
        if plate not in plates:
            plates[plate] = _plate_meets(plate, obstacles)
        blocked = plates[plate]
        members: tuple[Member, ...] = ()
        if not blocked:
            members = _members(mount.name, section, path)
            blocked = next((b for m in members if (b := tube_meets(m, obstacles))), "")
        if not blocked:
            holes = np.array(mount.holes).mean(axis=0)
            point = (float(holes[0]), float(holes[1]), float(holes[2]))
            return Leg(mount.name, path.face.cradle, members, plate, point), ""
        why = why or blocked
    return None, f"{count} paths tried; on the shortest {why}"


def _fans(case: Case, mount: MountPoint, cradles: Sequence[Cradle], section: TubeSection) -> Iterator[_Fan]:
    """Of each foot and each face, the paths that can be built."""
    faces = [(face, _spots(face)) for c in cradles for face in c.faces]
    middle = np.array(mount.holes).mean(axis=0)
    wanted = [_nearest_on(face, middle) for face, _ in faces if face.axis == 2]
    for foot in feet(case, mount, wanted):
        for face, spots in faces:
            fan = _fan(foot, face, _with_opposite(face, spots, foot.landing), section)
            if len(fan.costs):
                yield fan


def _fan(foot: Foot, face: Face, spots: Floats, section: TubeSection) -> _Fan:
    """The paths from one foot to these spots of a face: up from the foot, across, and square onto the face.

    Each tube must be long enough to be held and welded: half a side for each mitred end, and a little.
    """
    a, b = foot.axis, face.axis
    way = spots - np.array(foot.landing)
    length = np.abs(way)
    good = (way[:, a] * foot.sign > 0) & (way[:, b] * face.sign < 0)
    half = section.side_mm / 2
    if a == b:
        # straight onto the face, when the foot looks at it
        k, m = _others(a)
        good &= (length[:, k] <= SAME_MM) & (length[:, m] <= SAME_MM) & (length[:, a] >= SHORTEST_MM)
        corners = np.zeros(len(spots))
    else:
        (third,) = (k for k in range(3) if k not in (a, b))
        good &= (length[:, a] >= half + SHORTEST_MM) & (length[:, b] >= half + SHORTEST_MM)
        good &= (length[:, third] <= SAME_MM) | (length[:, third] >= 2 * half + SHORTEST_MM)
        corners = np.where(length[:, third] > SAME_MM, 2.0, 1.0)
    costs = length.sum(axis=1) + CORNER_COST_MM * corners + foot.shift_mm / 2
    return _Fan(foot, face, spots[good], costs[good])


def _in_turn(fans: Sequence[_Fan]) -> Iterator[_Path]:
    """All paths, the cheapest first, and of those that cost the same by their corners."""
    costs = np.round(np.concatenate([fan.costs for fan in fans]), 3)
    which = np.repeat(np.arange(len(fans)), [len(fan.costs) for fan in fans])
    row = np.concatenate([np.arange(len(fan.costs)) for fan in fans])
    order = np.argsort(costs, kind="stable")
    edges = np.flatnonzero(np.diff(costs[order])) + 1
    for alike in np.split(order, edges):
        made = [
            _path(fans[fan], spot)
            for fan, spot in zip(which[alike].tolist(), row[alike].tolist(), strict=True)
        ]
        yield from sorted(made, key=lambda p: p.nodes)


def _path(fan: _Fan, row: int) -> _Path:
    x, y, z = (float(v) for v in fan.spots[row])
    return _Path(fan.foot, _nodes(fan.foot, fan.face, (x, y, z)), fan.face)


def _others(axis: int) -> tuple[int, int]:
    a, b = (k for k in range(3) if k != axis)
    return a, b


def _nearest_on(face: Face, point: np.ndarray) -> Vec:
    out = [0.0, 0.0, 0.0]
    out[face.axis] = face.at
    for k, lo, hi in zip(_others(face.axis), face.lo, face.hi, strict=True):
        out[k] = float(min(max(point[k], lo), hi))
    return out[0], out[1], out[2]


def _spots(face: Face) -> tuple[tuple[int, Floats], ...]:
    """Coordinates along each axis of a face at which a leg may join."""
    return tuple(
        (k, np.arange(face.lo[n], face.hi[n] + 1e-6, STEP_MM))
        for n, k in enumerate(_others(face.axis))
        if face.hi[n] - face.lo[n] > 1e-6
    )


def _with_opposite(face: Face, along: Sequence[tuple[int, Floats]], landing: Vec) -> Floats:
    """Points (n, 3) of a face a leg may join at: right opposite the landing, and every so often from there."""
    first = np.array(_nearest_on(face, np.array(landing)))
    rows = [first[None]]
    for k, values in along:
        more = np.repeat(first[None], len(values), axis=0)
        more[:, k] = values
        rows.append(more[values != first[k]])
    return np.concatenate(rows)


def _nodes(foot: Foot, face: Face, spot: Vec) -> tuple[Vec, ...]:
    """Corners of the path: up from the foot, across, and square onto the face."""
    a, b = foot.axis, face.axis
    start = foot.landing
    if a == b:
        return start, spot
    (third,) = (k for k in range(3) if k not in (a, b))
    one = list(start)
    one[a] = spot[a]
    two = list(one)
    two[third] = spot[third]
    corner: Vec = (one[0], one[1], one[2])
    if abs(two[third] - one[third]) > SAME_MM:
        return start, corner, (two[0], two[1], two[2]), spot
    return start, corner, spot


def _length(a: Vec, b: Vec) -> float:
    return sum(abs(q - p) for p, q in zip(a, b, strict=True))


def _unit(a: Vec, b: Vec) -> Vec:
    length = _length(a, b)
    return (b[0] - a[0]) / length + 0.0, (b[1] - a[1]) / length + 0.0, (b[2] - a[2]) / length + 0.0


def _members(name: str, section: TubeSection, path: _Path) -> tuple[Member, ...]:
    nodes = path.nodes
    ways = [_unit(a, b) for a, b in pairwise(nodes)]
    group = f"leg {name}"
    made: list[Member] = []
    # the longer side of a rectangular tube lies in the plane of the first corner, and turns with the mitres
    side: Vec = (0.0, 0.0, 1.0) if abs(ways[0][2]) < 0.5 else (1.0, 0.0, 0.0)
    if section.kind == "rectangular" and len(ways) > 1:
        side = ways[1]
    for n, way in enumerate(ways):
        if n and section.kind == "rectangular":
            side = _turned(side, ways[n - 1], way)
        elif n:
            side = (0.0, 0.0, 1.0) if abs(way[2]) < 0.5 else (1.0, 0.0, 0.0)
        start_cut = _minus(path.foot.normal) if n == 0 else _minus(_mitre(ways[n - 1], way))
        end_cut = way if n == len(ways) - 1 else _mitre(way, ways[n + 1])
        made.append(
            Member(f"{group} tube {n + 1}", group, section, nodes[n], nodes[n + 1], side, start_cut, end_cut)
        )
    return tuple(made)


def _turned(side: Vec, first: Vec, second: Vec) -> Vec:
    """A side of the first tube as it goes on in the second, behind a corner of a right angle."""
    across = sum(a * b for a, b in zip(side, second, strict=True))
    if abs(across) < 0.5:
        return side
    return first[0] * across + 0.0, first[1] * across + 0.0, first[2] * across + 0.0


def _mitre(first: Vec, second: Vec) -> Vec:
    """Normal of the plane that halves the corner between two tubes, pointing out of the first."""
    total = [a + b for a, b in zip(first, second, strict=True)]
    length = sum(v * v for v in total) ** 0.5
    return total[0] / length, total[1] / length, total[2] / length


def _minus(v: Vec) -> Vec:
    return -v[0] + 0.0, -v[1] + 0.0, -v[2] + 0.0


def _plate_meets(plate: Plate, obstacles: Obstacles) -> str:
    box = plate_box(plate)
    for other in obstacles.boxes:
        if box.overlap_depth(other) > 0:
            return "the foot plate meets a part, its access room or another leg"
    for other in obstacles.cradles:
        if box.overlap_depth(other) > -1.0:
            return "the foot plate meets a cradle"
    matrix = np.array(plate.pose.rotation)
    lift = 0.05  # the plate lies on the mount; what is below its underside is the mount itself
    for walls, clearance in obstacles.surfaces:
        # only what is near is turned into the plate's axes: a scan has hundreds of thousands of triangles
        own = (walls.near(box.grown(clearance + 1.0)).triangles - np.array(plate.pose.origin)) @ matrix
        lo = np.array([-clearance, -clearance, lift])
        hi = np.array(plate.size) + clearance
        if box_touches(np.ascontiguousarray(own), lo, hi):
            return "the foot plate meets the body or a keep-out"
    return ""


def tube_meets(member: Member, obstacles: Obstacles) -> str:
    """What an axis tube would run into, in words; empty when it is clear."""
    box = member_box(member)
    inner = box.grown(-0.01)
    for other in obstacles.boxes:
        if inner.overlap_depth(other) > 0:
            return "a tube meets a part, its access room or another leg"
    for other in obstacles.cradles:
        if inner.overlap_depth(other) > 0.02:
            return "a tube runs into a cradle"
    for walls, clearance in obstacles.surfaces:
        grown = box.grown(clearance)
        if box_touches(walls.triangles, np.array(grown.lo), np.array(grown.hi)):
            return "a tube meets the body or a keep-out"
    return ""
