"""The generated frame as centre lines: which tube end stands on which tube, and where bars have to be divided.

A tube that stands square on another is carried on to the other's centre line; where the two lines miss each other, a
rigid link bridges the offset. The overhang of a tube beyond its last joint bears nothing and is left out; its mass
is not.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from packlayout.frame.cradle import CAP_MM
from packlayout.frame.stiffness import Floats
from packlayout.frame.tubes import Member, member_box
from packlayout.model.geometry import Box, Vec

SNAP_MM = 0.5
"""Places on a tube nearer to each other than this are one."""


@dataclass(frozen=True, slots=True, eq=False)
class Line:
    """One tube of the analysis.

    Attributes:
        member: The tube.
        start: Where the line starts, mm: on the centre line of what it stands on.
        end: Where it ends.
        at: Places along it that are nodes, mm from its start, ascending, its two ends among them.
        faces: Where the real tube begins and ends on the line, mm from its start: its welds.
    """

    member: Member
    start: Floats
    end: Floats
    at: tuple[float, ...]
    faces: tuple[float, float]

    @property
    def length(self) -> float:
        """Between its ends, mm."""
        return float(np.linalg.norm(self.end - self.start))

    @property
    def way(self) -> Floats:
        """Unit vector."""
        return (self.end - self.start) / self.length

    def place(self, point: Vec | Floats) -> float:
        """Where on the line a point is nearest, mm from its start, within its ends."""
        return float(np.clip((np.asarray(point) - self.start) @ self.way, 0.0, self.length))

    def point(self, at: float) -> Floats:
        """The point at a distance from its start."""
        return self.start + self.way * at


@dataclass(frozen=True, slots=True)
class Joint:
    """An end of a tube that is welded to something.

    Attributes:
        member: Index of the tube that ends here.
        end: 0 its start, 1 its end.
        onto: Index of the tube it stands on; None for a foot plate.
        corner: True for a mitre: both tubes end here.
    """

    member: int
    end: int
    onto: int | None
    corner: bool = False


@dataclass(frozen=True, slots=True, eq=False)
class Skeleton:
    """All lines and joints.

    Attributes:
        lines: In the order of the frame's members.
        joints: All welded ends.
    """

    lines: tuple[Line, ...]
    joints: tuple[Joint, ...]


def skeleton(
    members: Sequence[Member],
    feet: frozenset[str],
    marks: Mapping[int, Sequence[float]],
    capped: frozenset[str] = frozenset(),
) -> Skeleton:
    """Join the tubes of a frame.

    Args:
        members: All tubes; they run along the axes.
        feet: Names of the tubes whose start stands on a foot plate.
        capped: Names of the tubes whose ends stand on what they meet by an end plate.
        marks: Index of a tube -> coordinates along its own axis, mm from its first end, that are to be nodes.

    Returns:
        Lines and joints. An end that meets nothing is left free.
    """
    boxes = [member_box(m) for m in members]
    starts = [[np.array(m.start), np.array(m.end)] for m in members]
    tips = np.array([(m.start, m.end) for m in members])
    joints: list[Joint] = []
    stops: list[set[float]] = [set() for _ in members]
    welded = [[False, False] for _ in members]
    for n, member in enumerate(members):
        for end in (0, 1):
            point, out = starts[n][end], np.array(member.axis) * (1 if end else -1)
            mitre = _other_end(tips, n, point)
            if member.name in feet and end == 0:
                joints.append(Joint(n, end, None))
                welded[n][end] = True
                continue
            if mitre is not None:
                welded[n][end] = True
                if n < mitre:
                    joints.append(Joint(n, end, mitre, corner=True))
                continue
            onto = _met(boxes, n, point + out * 0.5)
            if onto is None and member.name in capped:
                onto = _met(boxes, n, point + out * (CAP_MM + 0.5))
            if onto is None:
                continue
            welded[n][end] = True
            joints.append(Joint(n, end, onto))
            first, way = np.array(members[onto].start), np.array(members[onto].axis)
            foot = first + way * np.clip((point - first) @ way, 0, members[onto].length_mm)
            gap = foot - point
            if np.linalg.norm(gap - out * (gap @ out)) < SNAP_MM:
                starts[n][end] = point + out * (gap @ out)
            stops[onto].add(float((foot - first) @ way))
    lines: list[Line] = []
    for n, member in enumerate(members):
        first, way = np.array(member.start), np.array(member.axis)
        ends = [float((p - first) @ way) for p in starts[n]]
        inner = sorted(stops[n])
        for end in (0, 1):
            # what hangs over beyond the last joint bears nothing
            if not welded[n][end] and inner:
                ends[end] = inner[0] if end == 0 else inner[-1]
        at = _places(ends[0], ends[1], inner, marks.get(n, ()))
        start, end_point = first + way * ends[0], first + way * ends[1]
        shifted = tuple(a - ends[0] for a in at)
        faces = (max(-ends[0], 0.0), min(member.length_mm, ends[1]) - ends[0])
        lines.append(Line(member, start, end_point, shifted, faces))
    return Skeleton(tuple(lines), tuple(joints))


def _other_end(ends: Floats, n: int, point: Floats) -> int | None:
    """The other tube that ends at a point; `ends` is (t, 2, 3)."""
    gaps = np.abs(ends - point).max(axis=2).min(axis=1)
    gaps[n] = np.inf
    k = int(gaps.argmin())
    return k if gaps[k] < SNAP_MM else None


def _met(boxes: Sequence[Box], n: int, point: Floats) -> int | None:
    """The tube that a point just beyond an end lies in."""
    at = Box(*[(float(point[0]), float(point[1]), float(point[2]))] * 2)
    depths = [(box.overlap_depth(at), -k) for k, box in enumerate(boxes) if k != n]
    best = max(depths, default=(-1.0, 0))
    return -best[1] if best[0] >= 0 else None


def _places(lo: float, hi: float, stops: Sequence[float], marks: Sequence[float]) -> list[float]:
    """Both ends, the joints between them, and marks; of places that are all but one, the first of these is kept."""
    kept = [lo, hi]
    for place in (*sorted(stops), *sorted(marks)):
        if lo < place < hi and min(abs(place - k) for k in kept) > SNAP_MM:
            kept.append(place)
    return sorted(kept)
