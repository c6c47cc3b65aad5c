"""The cradle of one block: two rings, four posts, bars under and over the modules; and where legs may join it.

All tubes run along the axes and meet square: long ring tubes at full length, everything else between them,
so that every cut but a leg's mitre is a straight saw cut.
"""

from collections.abc import Sequence
from dataclasses import dataclass

from packlayout.frame.tubes import Member
from packlayout.model.brief import Case
from packlayout.model.catalogue import TubeSection
from packlayout.model.geometry import Box, Vec
from packlayout.model.layout import Block

LEAST_BAR_GAP_MM = 20.0  # room for a torch between two bars (common practice, no source)


@dataclass(frozen=True, slots=True)
class Face:
    """A side of a cradle tube that a leg may be welded to, square on.

    Attributes:
        cradle: Number of the block.
        axis: 0, 1 or 2: the axis the face looks along.
        sign: +1 or -1.
        at: Coordinate of the face on that axis, mm.
        lo: Lowest values of the other two axes for a leg's centre line, in the order x, y, z.
        hi: Highest values of the same.
    """

    cradle: int
    axis: int
    sign: int
    at: float
    lo: tuple[float, float]
    hi: tuple[float, float]


@dataclass(frozen=True, slots=True)
class Cradle:
    """One block's cradle.

    Attributes:
        number: Of the block.
        zone: It stands in.
        box: Outer sides.
        members: Its tubes.
        faces: Where legs may join.
    """

    number: int
    zone: str
    box: Box
    members: tuple[Member, ...]
    faces: tuple[Face, ...]


def straight(name: str, group: str, section: TubeSection, start: Vec, end: Vec) -> Member:
    """A tube along an axis with square ends."""
    d = tuple(b - a for a, b in zip(start, end, strict=True))
    length = sum(abs(v) for v in d)
    a: Vec = (d[0] / length + 0.0, d[1] / length + 0.0, d[2] / length + 0.0)
    side: Vec = (0.0, 0.0, 1.0) if abs(a[2]) < 0.5 else (1.0, 0.0, 0.0)
    return Member(name, group, section, start, end, side, (-a[0] + 0.0, -a[1] + 0.0, -a[2] + 0.0), a)


def cradle(case: Case, block: Block) -> Cradle:
    """The cradle around one block of modules."""
    section = case.sections[case.brief.frame.cradle_tube]
    t, g = section.side_mm, case.brief.frame.liner_mm
    group = f"cradle {block.number}"
    inner, outer = block.box.grown(g), block.box.grown(g + t)
    mid = block.box.grown(g + t / 2)
    members: list[Member] = []
    for level, z in (("bottom", mid.lo[2]), ("top", mid.hi[2])):
        for side, y in (("left", mid.lo[1]), ("right", mid.hi[1])):
            ends = (outer.lo[0], y, z), (outer.hi[0], y, z)
            members.append(straight(f"{group} {level} rail {side}", group, section, *ends))
        for side, x in (("front", mid.lo[0]), ("rear", mid.hi[0])):
            ends = (x, inner.lo[1], z), (x, inner.hi[1], z)
            members.append(straight(f"{group} {level} rail {side}", group, section, *ends))
    for n, (x, y) in enumerate(_corners(mid), start=1):
        ends = (x, y, inner.lo[2]), (x, y, inner.hi[2])
        members.append(straight(f"{group} post {n}", group, section, *ends))
    members += _bars(block, section, inner, mid, group)
    return Cradle(block.number, block.zone, outer, tuple(members), _faces(block.number, inner, mid, outer, t))


def _corners(mid: Box) -> list[tuple[float, float]]:
    return [(x, y) for x in (mid.lo[0], mid.hi[0]) for y in (mid.lo[1], mid.hi[1])]


def _bars(block: Block, section: TubeSection, inner: Box, mid: Box, group: str) -> list[Member]:
    """Two bars under each row of modules and one over it, across the shorter side of the block."""
    size = block.box.size
    across = 1 if size[1] <= size[0] else 0
    along = 1 - across
    rows = sorted({(m.box.lo[along], m.box.hi[along]) for m in block.modules})
    under = _spread(
        [lo + share * (hi - lo) for lo, hi in rows for share in (0.2, 0.8)], inner, along, section
    )
    over = _spread([(lo + hi) / 2 for lo, hi in rows], inner, along, section)
    made: list[Member] = []
    for word, places, z in (("under", under, mid.lo[2]), ("over", over, mid.hi[2])):
        for n, place in enumerate(places, start=1):
            start, end = [0.0, 0.0, z], [0.0, 0.0, z]
            start[along] = end[along] = place
            start[across], end[across] = inner.lo[across], inner.hi[across]
            ends = (start[0], start[1], z), (end[0], end[1], z)
            made.append(straight(f"{group} bar {word} {n}", group, section, *ends))
    return made


def _spread(places: Sequence[float], inner: Box, along: int, section: TubeSection) -> list[float]:
    """Places held inside the rails, those too close to the one before left out."""
    half = section.side_mm / 2 + LEAST_BAR_GAP_MM
    lo, hi = inner.lo[along] + half, inner.hi[along] - half
    kept: list[float] = []
    for place in sorted(min(max(p, lo), hi) for p in places):
        if lo <= hi and (not kept or place - kept[-1] >= section.side_mm + LEAST_BAR_GAP_MM):
            kept.append(place)
    return kept


def _faces(number: int, inner: Box, mid: Box, outer: Box, t: float) -> tuple[Face, ...]:
    made: list[Face] = []
    for axis in (0, 1):
        other = 1 - axis
        for sign, at in ((-1, outer.lo[axis]), (1, outer.hi[axis])):
            reach = (outer.lo[other] + t / 2, outer.hi[other] - t / 2)
            for z in (mid.lo[2], mid.hi[2]):
                made.append(Face(number, axis, sign, at, (reach[0], z), (reach[1], z)))
            for post in (mid.lo[other], mid.hi[other]):
                made.append(
                    Face(number, axis, sign, at, (post, inner.lo[2] + t / 2), (post, inner.hi[2] - t / 2))
                )
    # the underside of the bottom rails
    for side in (mid.lo[1], mid.hi[1]):
        made.append(
            Face(number, 2, -1, outer.lo[2], (outer.lo[0] + t / 2, side), (outer.hi[0] - t / 2, side))
        )
    for end in (mid.lo[0], mid.hi[0]):
        made.append(Face(number, 2, -1, outer.lo[2], (end, outer.lo[1] + t / 2), (end, outer.hi[1] - t / 2)))
    return tuple(made)
