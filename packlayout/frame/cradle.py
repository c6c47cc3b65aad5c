"""The cradle of one block: two rings, four posts, bars under and over the modules; and where legs may join it.

Against sideways loads each module is held at the edges of its sides: studs stand in front of the joints between
modules, and lips on the posts in front of the corners. The middle of a side, where terminals are, stays free.

All tubes run along the axes and meet square: long ring tubes at full length, everything else between them,
so that every cut but a leg's mitre is a straight saw cut.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise

from packlayout.frame.tubes import Member, Plate
from packlayout.mass.end_plates import clamped
from packlayout.model.brief import Case
from packlayout.model.catalogue import Thread, TubeSection
from packlayout.model.geometry import Box, Pose, Vec
from packlayout.model.layout import Block

LEAST_BAR_GAP_MM = 20.0  # room for a torch between two bars (common practice, no source)
LIP_OVER_MM = 12.0  # how far a lip reaches over the edge of a module (common practice, no source)
LIP_THICK_MM = 5.0
CAP_MM = 6.0  # end plate of a bar that is bolted in (common practice, no source)
CAP_THREAD = "M8"
# a plate on edge: own x along x, own y upward, own z to -y; and own x along y, own y upward, own z along x
_UPRIGHT = ((1.0, 0.0, 0.0), (0.0, 0.0, -1.0), (0.0, 1.0, 0.0))
_TURNED = ((0.0, 0.0, 1.0), (1.0, 0.0, 0.0), (0.0, 1.0, 0.0))


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
        lips: Strips on the posts that hold the modules at the corners.
        caps: End plates of the bars over the modules, which are bolted in so that modules go in and out upward.
        cap_thread: Thread of their bolts, into captive nuts in the upper rails.
    """

    number: int
    zone: str
    box: Box
    members: tuple[Member, ...]
    faces: tuple[Face, ...]
    lips: tuple[Plate, ...] = ()
    caps: tuple[Plate, ...] = ()
    cap_thread: str = ""


def straight(
    name: str, group: str, section: TubeSection, start: Vec, end: Vec, side: Vec | None = None
) -> Member:
    """A tube along an axis with square ends; its longer side upright, or along `side`."""
    d = tuple(b - a for a, b in zip(start, end, strict=True))
    length = sum(abs(v) for v in d)
    a: Vec = (d[0] / length + 0.0, d[1] / length + 0.0, d[2] / length + 0.0)
    usual: Vec = (0.0, 0.0, 1.0) if abs(a[2]) < 0.5 else (1.0, 0.0, 0.0)
    return Member(name, group, section, start, end, side or usual, (-a[0] + 0.0, -a[1] + 0.0, -a[2] + 0.0), a)


def cradle(case: Case, block: Block) -> Cradle:
    """The cradle around one block of modules."""
    section = case.sections[case.brief.frame.cradle_tube]
    t, g = section.side_mm, case.brief.frame.liner_mm
    group = f"cradle {block.number}"
    body = clamped(case, block)
    inner, outer = body.grown(g), body.grown(g + t)
    mid = body.grown(g + t / 2)
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
    bar = case.sections[case.brief.frame.bar_tube or case.brief.frame.cradle_tube]
    bars, caps, thread = _bars(case, block, bar, inner, group)
    members += bars
    studs = _studs(block, bar, inner, group)
    members += studs
    leg = case.sections[case.brief.frame.leg_tube]
    faces = (*_faces(block.number, inner, mid, outer, t), *_stud_faces(block.number, inner, studs, t, leg))
    return Cradle(
        block.number, block.zone, outer, tuple(members), faces, _lips(inner, g, group), caps, thread
    )


def _corners(mid: Box) -> list[tuple[float, float]]:
    return [(x, y) for x in (mid.lo[0], mid.hi[0]) for y in (mid.lo[1], mid.hi[1])]


def bar_axes(block: Block) -> tuple[int, int]:
    """The axis that bars run along, across the shorter side of the block, and the other one."""
    size = block.box.size
    across = 1 if size[1] <= size[0] else 0
    return across, 1 - across


def _bars(
    case: Case, block: Block, section: TubeSection, inner: Box, group: str
) -> tuple[list[Member], tuple[Plate, ...], str]:
    """Two bars under each row of modules and one over it, across the shorter side of the block.

    Those over are bolted in by end plates, where these have room beside each other.
    """
    across, along = bar_axes(block)
    half = section.side_mm / 2
    rows = sorted({(m.box.lo[along], m.box.hi[along]) for m in block.modules})
    under = _spread(
        [lo + share * (hi - lo) for lo, hi in rows for share in (0.2, 0.8)], inner, along, section
    )
    over = _spread([(lo + hi) / 2 for lo, hi in rows], inner, along, section)
    thread = _cap_thread(case)
    wide = 2 * (_bolt_offset(section, thread) + 1.5 * thread.clearance_hole_mm) if thread else 0.0
    marks = [inner.lo[along] - wide / 2, *over, inner.hi[along] + wide / 2]
    bolted = thread is not None and all(b - a >= wide + 2.0 for a, b in pairwise(marks))
    made: list[Member] = []
    caps: list[Plate] = []
    for word, places, z in (("under", under, inner.lo[2] - half), ("over", over, inner.hi[2] + half)):
        short = CAP_MM if bolted and word == "over" else 0.0
        for n, place in enumerate(places, start=1):
            start, end = [0.0, 0.0, z], [0.0, 0.0, z]
            start[along] = end[along] = place
            start[across], end[across] = inner.lo[across] + short, inner.hi[across] - short
            ends = (start[0], start[1], z), (end[0], end[1], z)
            name = f"{group} bar {word} {n}"
            made.append(straight(name, group, section, *ends))
            if short and thread is not None:
                caps += _caps(name, group, section, inner, (across, place), thread)
    return made, tuple(caps), thread.thread if thread and caps else ""


def _cap_thread(case: Case) -> Thread | None:
    """The usual one, else the smallest of the table."""
    smallest = min(case.threads.values(), key=lambda t: t.clearance_hole_mm, default=None)
    return case.threads.get(CAP_THREAD, smallest)


def _bolt_offset(section: TubeSection, thread: Thread) -> float:
    """From the middle of a bar to a bolt beside it: room for the washer and the weld."""
    return section.narrow_mm / 2 + thread.washer_diameter_mm / 2 + 3.0


def _caps(
    name: str, group: str, section: TubeSection, inner: Box, where: tuple[int, float], thread: Thread
) -> Iterator[Plate]:
    """Both end plates of a bar: against the upper rails, a bolt on either side of the bar."""
    across, place = where
    off, hole = _bolt_offset(section, thread), thread.clearance_hole_mm
    wide, side = 2 * (off + 1.5 * hole), section.side_mm
    holes = ((wide / 2 - off, side / 2, hole), (wide / 2 + off, side / 2, hole))
    for n, (word, face) in enumerate((("start", inner.lo[across]), ("end", inner.hi[across]))):
        if across == 1:
            pose = Pose((place - wide / 2, face + CAP_MM * (1 - n), inner.hi[2]), _UPRIGHT)
        else:
            pose = Pose((face - CAP_MM * n, place - wide / 2, inner.hi[2]), _TURNED)
        yield Plate(f"{name} end plate {word}", group, pose, (wide, side, CAP_MM), holes)


def joints_of(block: Block, axis: int, sign: int) -> list[float]:
    """Where two modules meet that look out of one side of the block: coordinates along that side."""
    other = 1 - axis
    face = block.box.hi[axis] if sign > 0 else block.box.lo[axis]
    outer = [m.box for m in block.modules if abs((m.box.hi if sign > 0 else m.box.lo)[axis] - face) < 1.0]
    ends = sorted({(b.lo[other], b.hi[other]) for b in outer})
    return [(a[1] + b[0]) / 2 for a, b in pairwise(ends) if b[0] >= a[1] - 0.1]


def _studs(block: Block, section: TubeSection, inner: Box, group: str) -> list[Member]:
    """Upright tubes between the rings, in front of the joints between modules, flush with the inside."""
    made: list[Member] = []
    half, beside = section.side_mm / 2, section.narrow_mm / 2
    for axis, sides in ((0, ("front", "rear")), (1, ("left", "right"))):
        for sign, word in zip((-1, 1), sides, strict=True):
            at = inner.lo[axis] - half if sign < 0 else inner.hi[axis] + half
            for n, place in enumerate(joints_of(block, axis, sign), start=1):
                if not inner.lo[1 - axis] + beside < place < inner.hi[1 - axis] - beside:
                    continue
                x, y = (at, place) if axis == 0 else (place, at)
                ends = (x, y, inner.lo[2]), (x, y, inner.hi[2])
                # the longer side looks at the modules, which push on it
                deep: Vec = (1.0, 0.0, 0.0) if axis == 0 else (0.0, 1.0, 0.0)
                made.append(straight(f"{group} stud {word} {n}", group, section, *ends, deep))
    return made


def _stud_faces(number: int, inner: Box, studs: Sequence[Member], t: float, leg: TubeSection) -> list[Face]:
    """The outer sides of the studs, at heights where a leg of the cradle's size meets nothing but the stud.

    A leg wider than a stud finds no room on it.
    """
    made: list[Face] = []
    for stud in studs:
        if leg.side_mm > stud.section.narrow_mm:
            continue
        axis = 0 if " front " in stud.name or " rear " in stud.name else 1
        sign = 1 if " rear " in stud.name or " right " in stud.name else -1
        at, along = stud.start[axis] + sign * stud.section.side_mm / 2, stud.start[1 - axis]
        lo, hi = (along, inner.lo[2] + t / 2), (along, inner.hi[2] - t / 2)
        made.append(Face(number, axis, sign, at, lo, hi))
    return made


def _lips(inner: Box, liner: float, group: str) -> tuple[Plate, ...]:
    """Two strips on each post, one for each side, along its whole height and flush with the inside."""
    width, thick, height = liner + LIP_OVER_MM, LIP_THICK_MM, inner.size[2]
    made: list[Plate] = []
    for n, (end, side) in enumerate((e, s) for e in (0, 1) for s in (0, 1)):
        x, y, z = (inner.lo[0], inner.hi[0])[end], (inner.lo[1], inner.hi[1])[side], inner.lo[2]
        across = Pose((x - thick * (1 - end), y - width * side, z), _TURNED)
        made.append(
            Plate(f"{group} lip {n + 1} {('front', 'rear')[end]}", group, across, (width, height, thick))
        )
        along = Pose((x - width * end, y + thick * side, z), _UPRIGHT)
        made.append(
            Plate(f"{group} lip {n + 1} {('left', 'right')[side]}", group, along, (width, height, thick))
        )
    return tuple(made)


def _spread(places: Sequence[float], inner: Box, along: int, section: TubeSection) -> list[float]:
    """Places held inside the rails, those too close to the one before left out."""
    half = section.narrow_mm / 2 + LEAST_BAR_GAP_MM
    lo, hi = inner.lo[along] + half, inner.hi[along] - half
    kept: list[float] = []
    for place in sorted(min(max(p, lo), hi) for p in places):
        if lo <= hi and (not kept or place - kept[-1] >= section.narrow_mm + LEAST_BAR_GAP_MM):
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
