"""Which piece is welded to which: found from where each tube ends, with the length of its seam and an order.

The order is common practice against distortion, no source: rings first, then what joins them, legs last, and within
each of these every next weld as far from the last one as may be.
"""

from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from packlayout.export.meshes import tube_outline
from packlayout.export.tree import tube_pose
from packlayout.frame.tubes import Member, Plate, TubeFrame, plate_box
from packlayout.frame.welding import throat_of
from packlayout.model.brief import Case
from packlayout.model.geometry import Floats, Pose, Vec

_NEAR_MM = 0.6
_SAME_PLANE = 0.01
_STAGES = (
    "cradle rails", "posts and studs", "bars", "links between cradles", "legs", "foot plates", "lips", "brackets",
)  # fmt: skip
_TOUCH_MM = 0.3


@dataclass(frozen=True, slots=True)
class Weld:
    """One seam.

    Attributes:
        order: 1 is welded first.
        stage: What is being built up meanwhile.
        piece: Name of the tube or plate that ends there.
        onto: Name of what it is welded to.
        kind: `mitre`, `onto a side`, `foot plate`, `end plate` of a bar that is bolted, `lip`; in a bracket `post` onto
            a plate or `plate` on edge onto a plate, from both sides.
        throat_mm: Of the fillet.
        length_mm: Of the seam, all round the cut for a tube.
        at: Middle of it, mm, vehicle axes.
    """

    order: int
    stage: str
    piece: str
    onto: str
    kind: str
    throat_mm: float
    length_mm: float
    at: Vec


@lru_cache(maxsize=4)  # list, drawings and every plate ask for the same
def welds(frame: TubeFrame, case: Case) -> tuple[Weld, ...]:
    """Every seam of a frame in the order of welding.

    Args:
        frame: Tubes and plates.
        case: Says how thick the seams are.

    Returns:
        Seams. A tube that ends in the open has none there; see `open_ends`.
    """
    found: list[Weld] = []
    pairs: set[frozenset[str]] = set()
    for member in frame.members:
        throat = throat_of(case, member.section.wall_mm)
        for end, cut in ((member.start, member.start_cut), (member.end, member.end_cut)):
            onto, kind = _partner(frame, member, end, cut)
            if not onto:
                continue
            if kind == "mitre":
                pair = frozenset((member.name, onto, str(np.round(end, 1))))
                if pair in pairs:
                    continue
                pairs.add(pair)
            found.append(
                Weld(0, _stage(member, kind), member.name, onto, kind, throat, seam_mm(member, cut), end)
            )
    # a strip along a post has one edge that a torch reaches
    found += [
        Weld(0, "lips", plate.name, _post_of(frame, plate), "lip", throat_of(case, 0.0),
             max(plate.size[:2]), plate.pose.point((plate.size[0] / 2, plate.size[1] / 2, plate.size[2] / 2)))
        for plate in frame.plates if " lip " in plate.name
    ]  # fmt: skip
    found += _plates_on_edge(frame, case)
    ordered: list[Weld] = []
    for stage in _STAGES:
        left = [w for w in found if w.stage == stage]
        while left:
            last = np.array(ordered[-1].at) if ordered else np.zeros(3)
            following = max(
                left, key=lambda w: (round(float(np.linalg.norm(np.array(w.at) - last)), 3), w.piece)
            )
            left.remove(following)
            ordered.append(
                Weld(len(ordered) + 1, stage, following.piece, following.onto, following.kind, following.throat_mm,
                     following.length_mm, following.at)
            )  # fmt: skip
    return tuple(ordered)


def _plates_on_edge(frame: TubeFrame, case: Case) -> list[Weld]:
    """Plates of one bracket that stand square on each other: a seam on either side of the one that stands."""
    made: list[Weld] = []
    plates = [(p, plate_box(p)) for p in frame.plates if p.group.startswith("bracket")]
    for one, a in plates:
        thin = int(np.argmin(one.size))
        edges = [k for k in range(3) if abs(one.pose.direction(_unit(thin))[k]) < 0.5]
        for other, b in plates:
            if one.group != other.group or one.name == other.name:
                continue
            flat = int(np.argmax(np.abs(other.pose.direction(_unit(int(np.argmin(other.size)))))))
            # the one that stands ends, on one of its edges, on the face of the other
            if (
                flat not in edges
                or min(abs(a.hi[flat] - b.lo[flat]), abs(a.lo[flat] - b.hi[flat])) > _TOUCH_MM
            ):
                continue
            spans = [(max(a.lo[k], b.lo[k]), min(a.hi[k], b.hi[k])) for k in range(3)]
            if any(hi - lo < -_TOUCH_MM for k, (lo, hi) in enumerate(spans) if k != flat):
                continue
            long = max(hi - lo for k, (lo, hi) in enumerate(spans) if k != flat)
            x, y, z = ((lo + hi) / 2 for lo, hi in spans)
            made.append(
                Weld(0, "brackets", one.name, other.name, "plate", throat_of(case, 0.0), 2 * long, (x, y, z))
            )
    return made


def _unit(axis: int) -> Vec:
    return float(axis == 0), float(axis == 1), float(axis == 2)


def open_ends(frame: TubeFrame) -> tuple[tuple[str, Vec], ...]:
    """Tubes that end in the open, and where: they want a cap against water (common practice, no source)."""
    return tuple(
        (m.name, end) for m in frame.members
        for end, cut in ((m.start, m.start_cut), (m.end, m.end_cut)) if not _partner(frame, m, end, cut)[0]
    )  # fmt: skip


def seam_mm(member: Member, cut: Vec) -> float:
    """Length round the outside of a tube in the plane of a cut."""
    ring = tube_outline(member)
    a, b, c = np.array(tube_pose(member).rotation).T @ np.array(cut)
    edge = np.column_stack([ring, -(a * ring[:, 0] + b * ring[:, 1]) / c])
    return float(np.linalg.norm(np.diff(np.vstack([edge, edge[:1]]), axis=0), axis=1).sum())


def _stage(member: Member, kind: str) -> str:
    if member.group.startswith("bracket"):
        return "brackets"
    if kind == "foot plate":
        return "foot plates"
    if member.group.startswith("leg"):
        return "legs"
    if member.group.startswith("link"):
        return "links between cradles"
    if " bar " in member.name:
        return "bars"
    return "posts and studs" if " post " in member.name or " stud " in member.name else "cradle rails"


def _partner(frame: TubeFrame, member: Member, end: Vec, cut: Vec) -> tuple[str, str]:
    """What a tube ends on: a tube cut by the same plane there, a foot plate, or the side of a tube."""
    others = [m for m in frame.members if m.name != member.name]
    for other in others:
        for place, face in ((other.start, other.start_cut), (other.end, other.end_cut)):
            if _far(end, place) < _NEAR_MM and _far(cut, (-face[0], -face[1], -face[2])) < _SAME_PLANE:
                return other.name, "mitre"
    for plate in frame.plates:
        if (plate.holes or plate.group.startswith("bracket")) and _touches(_own(plate.pose, end), plate.size):
            if plate.group.startswith("bracket"):
                return plate.name, "post"
            return plate.name, "foot plate" if plate.group.startswith("leg") else "end plate"
    for other in others:
        u, v, w = _own(tube_pose(other), end)
        half, thin = other.section.side_mm / 2 + _NEAR_MM, other.section.narrow_mm / 2 + _NEAR_MM
        lo, hi = -other.overhang_mm(other.start_cut), other.length_mm + other.overhang_mm(other.end_cut)
        if abs(u) <= half and abs(v) <= thin and lo - _NEAR_MM <= w <= hi + _NEAR_MM:
            return other.name, "onto a side"
    return "", "onto a side"


def _post_of(frame: TubeFrame, plate: Plate) -> str:
    """The post of its cradle that a lip stands along."""
    middle = plate.pose.point((plate.size[0] / 2, plate.size[1] / 2, plate.size[2] / 2))
    posts = [m for m in frame.members if m.group == plate.group and " post " in m.name]
    best = min(posts, key=lambda m: float(np.linalg.norm(_own(tube_pose(m), middle)[:2])), default=None)
    return best.name if best is not None else ""


def _own(pose: Pose, at: Vec) -> Floats:
    return np.array(pose.rotation).T @ (np.array(at) - np.array(pose.origin))


def _far(a: Vec, b: Vec) -> float:
    return float(np.linalg.norm(np.array(a) - np.array(b)))


def _touches(own: Floats, size: Vec) -> bool:
    x, y, t = own
    inside = -_NEAR_MM <= x <= size[0] + _NEAR_MM and -_NEAR_MM <= y <= size[1] + _NEAR_MM
    return bool(inside and min(abs(t), abs(t - size[2])) <= _NEAR_MM)
