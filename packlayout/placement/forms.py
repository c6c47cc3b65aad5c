"""Forms: every way a thing may stand. A block of modules in its cradle and a single part are both one.

A form is a box with offsets in it, measured from its lowest corner along the vehicle axes: where its
members stand, its centre of gravity, its high-voltage port, and the room its access faces need.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache, reduce
from itertools import product

from packlayout.model.brief import Case
from packlayout.model.catalogue import Part, SignedAxis
from packlayout.model.geometry import Box, Pose, Vec
from packlayout.model.layout import Placement, axis, rotation, turned_size

TURNS = (0, 90, 180, 270)
Counts = tuple[int, int, int]
"""Modules of a block along x, y and z."""


@dataclass(frozen=True, slots=True)
class Member:
    """One part within a form: offset of its lowest corner, mm, and how it stands."""

    at: Vec
    up: SignedAxis
    turn_deg: int


@dataclass(frozen=True, slots=True)
class Slab:
    """Room in front of an access face, relative to the form, and the way the face looks."""

    box: Box
    face: Vec


@dataclass(frozen=True, slots=True)
class Form:
    """One way an entity may stand.

    Attributes:
        label: `upright` or `2 x 2 x 2, +z up, 90 deg`; layouts with the same labels share a structure.
        size: Sides of the space it takes, along the vehicle axes, mm; a block's cradle included.
        cg: Offset of the centre of gravity.
        port: Offset of the high-voltage port.
        slabs: Access room.
        members: Parts in it.
    """

    label: str
    size: Vec
    cg: Vec
    port: Vec
    slabs: tuple[Slab, ...]
    members: tuple[Member, ...]


def _own_box(part: Part, up: SignedAxis, turn: int) -> Pose:
    size = part.box_size
    return Placement("", "", "", (0.0, 0.0, 0.0), up, turn, size).pose


def _slab(pose: Pose, size: Vec, face: SignedAxis, depth: float) -> Slab:
    """Room of a depth in front of one face of a part, in the axes of the pose's parent."""
    normal = axis(face)
    lo = tuple(side if n > 0 else -depth if n < 0 else 0.0 for side, n in zip(size, normal, strict=True))
    hi = tuple(
        side + depth if n > 0 else 0.0 if n < 0 else side for side, n in zip(size, normal, strict=True)
    )
    a, b = pose.point((lo[0], lo[1], lo[2])), pose.point((hi[0], hi[1], hi[2]))
    box = Box(
        (min(a[0], b[0]), min(a[1], b[1]), min(a[2], b[2])),
        (max(a[0], b[0]), max(a[1], b[1]), max(a[2], b[2])),
    )
    return Slab(box, pose.direction(normal))


def slabs(part: Part, pose: Pose) -> tuple[Slab, ...]:
    """Access room of a placed part, in the axes of the pose's parent."""
    return tuple(_slab(pose, part.box_size, a.face, a.depth_mm) for a in part.access)


def port_of(part: Part) -> Vec:
    """The first high-voltage port in own axes; the middle of the box where there is none."""
    for port in part.ports:
        if port.kind == "HV":
            return port.at
    x, y, z = part.box_size
    return x / 2, y / 2, z / 2


def part_forms(part: Part) -> tuple[Form, ...]:
    """All allowed ways a single part may stand: its allowed faces up, four turns of each."""
    cg = part.centre_of_gravity
    own_cg = (cg[0].value, cg[1].value, cg[2].value)
    made: list[Form] = []
    for up in part.up:
        for turn in TURNS:
            pose = _own_box(part, up, turn)
            made.append(
                Form(
                    f"{up} up, {turn} deg",
                    turned_size(part.box_size, up, turn),
                    pose.point(own_cg),
                    pose.point(port_of(part)),
                    slabs(part, pose),
                    (Member((0.0, 0.0, 0.0), up, turn),),
                )
            )
    return tuple(made)


def block_margin(case: Case) -> float:
    """Room the cradle takes on each side of a block: a tube and the liner, mm."""
    return case.sections[case.brief.frame.cradle_tube].side_mm + case.brief.frame.liner_mm


def block_forms(case: Case, count: int) -> tuple[Form, ...]:
    """All ways `count` modules may stand together: rows x columns x layers in one orientation.

    Modules stand a liner's thickness apart. Where a module has an access face, that face must be on the
    outside of the block: along its direction there is one module, or two that turn their backs on each other.
    """
    part = case.parts[case.brief.modules.part]
    made: list[Form] = []
    seen: set[object] = set()
    for up in part.up:
        for turn in TURNS:
            for counts in _factors(count):
                form = _block(case, part, up, turn, counts)
                # a half turn gives the same block where no access face or port tells the ends apart
                key = form and (form.size, form.slabs, tuple(m.at for m in form.members), form.port)
                if form is not None and key not in seen:
                    seen.add(key)
                    made.append(form)
    return tuple(made)


def backs(part: Part, up: SignedAxis, turn: int, counts: Counts) -> frozenset[int] | None:
    """Axes along which two modules turn their backs on each other; None when an access face is shut in."""
    found: set[int] = set()
    for face in part.access:
        looks = Pose((0.0, 0.0, 0.0), rotation(up, turn)).direction(axis(face.face))
        along = max(range(3), key=lambda k: abs(looks[k]))
        if counts[along] > 2 or (counts[along] == 2 and along == 2):
            return None
        if counts[along] == 2:
            # the one nearer the side the face looks to keeps its turn; the other is turned half round
            found.add(along)
    return frozenset(found)


def gaps(case: Case) -> Vec:
    """Room between modules of a block along each axis, mm: the liner, and any plate between layers."""
    liner = case.brief.frame.liner_mm
    return liner, liner, liner + case.brief.modules.plate_between_mm


def block_size(case: Case, size: Vec, counts: Counts) -> Vec:
    """Sides of a block in its cradle, from those of a module as it stands, mm."""
    margin = block_margin(case)
    x, y, z = (n * s + (n - 1) * g + 2 * margin for n, s, g in zip(counts, size, gaps(case), strict=True))
    return x, y, z


def shapes(case: Case, room: Vec) -> list[tuple[int, Vec]]:
    """Every (modules, size) of a block that is no larger than a room, each size once."""
    part = case.parts[case.brief.modules.part]
    made: dict[Vec, int] = {}
    for up in part.up:
        for turn in (0, 90):
            size = turned_size(part.box_size, up, turn)
            most = [1, 1, 1]
            for k in range(3):
                while block_size(case, size, _with(most, k))[k] <= room[k]:
                    most[k] += 1
            for counts in product(range(1, most[0] + 1), range(1, most[1] + 1), range(1, most[2] + 1)):
                full = block_size(case, size, counts)
                small = all(a <= b for a, b in zip(full, room, strict=True))
                if small and backs(part, up, turn, counts) is not None:
                    n = counts[0] * counts[1] * counts[2]
                    made[full] = max(made.get(full, 0), n)
    return [(n, size) for size, n in made.items()]


def _with(counts: list[int], k: int) -> Counts:
    more = [*counts]
    more[k] += 1
    return more[0], more[1], more[2]


def _block(case: Case, part: Part, up: SignedAxis, turn: int, counts: Counts) -> Form | None:
    back = backs(part, up, turn, counts)
    if back is None:
        return None
    margin = block_margin(case)
    size = turned_size(part.box_size, up, turn)
    members: list[Member] = []
    room: list[Slab] = []
    cg_sum = [0.0, 0.0, 0.0]
    own_cg = tuple(c.value for c in part.centre_of_gravity)
    for index in product(range(counts[0]), range(counts[1]), range(counts[2])):
        at = tuple(margin + n * (s + g) for n, s, g in zip(index, size, gaps(case), strict=True))
        half = _turned_back(part, up, turn, back, index)
        member = Member((at[0], at[1], at[2]), up, (turn + half) % 360)
        placed = Placement("", "", "", member.at, up, (turn + half) % 360, part.box_size)
        members.append(member)
        room.extend(slabs(part, placed.pose))
        for n, c in enumerate(placed.pose.point((own_cg[0], own_cg[1], own_cg[2]))):
            cg_sum[n] += c
    n = len(members)
    full = block_size(case, size, counts)
    shape = " x ".join(str(c) for c in counts)
    return Form(
        f"{shape}, {up} up, {turn} deg",
        full,
        (cg_sum[0] / n, cg_sum[1] / n, cg_sum[2] / n),
        (full[0] / 2, full[1] / 2, full[2] - margin),
        tuple(room),
        tuple(members),
    )


def form_of(case: Case, members: Sequence[Placement]) -> Form:
    """The form of modules that stand together already, as they stand."""
    part = case.parts[case.brief.modules.part]
    margin = block_margin(case)
    box = reduce(Box.joined, (p.box for p in members))
    lo = (box.lo[0] - margin, box.lo[1] - margin, box.lo[2] - margin)
    own = tuple(c.value for c in part.centre_of_gravity)
    points = [p.pose.point((own[0], own[1], own[2])) for p in members]
    cg = tuple(sum(q[k] for q in points) / len(points) - lo[k] for k in range(3))
    room = [_moved(slab, lo) for p in members for slab in slabs(part, p.pose)]
    size = reserve(case, box).size
    return Form(
        f"{len(members)} as they stand", size, (cg[0], cg[1], cg[2]), (size[0] / 2, size[1] / 2, size[2] - margin),
        tuple(room),
        tuple(
            Member((p.at[0] - lo[0], p.at[1] - lo[1], p.at[2] - lo[2]), p.up, p.turn_deg) for p in members
        ),
    )  # fmt: skip


def _moved(slab: Slab, lo: Vec) -> Slab:
    a, b = slab.box.lo, slab.box.hi
    box = Box((a[0] - lo[0], a[1] - lo[1], a[2] - lo[2]), (b[0] - lo[0], b[1] - lo[1], b[2] - lo[2]))
    return Slab(box, slab.face)


def _turned_back(part: Part, up: SignedAxis, turn: int, back: frozenset[int], index: Counts) -> int:
    for face in part.access:
        looks = Pose((0.0, 0.0, 0.0), rotation(up, turn)).direction(axis(face.face))
        along = max(range(3), key=lambda k: abs(looks[k]))
        if along in back:
            outer = 1 if looks[along] > 0 else 0
            return 0 if index[along] == outer else 180
    return 0


@cache
def _factors(count: int) -> tuple[Counts, ...]:
    return tuple(
        (a, b, count // a // b)
        for a in range(1, count + 1)
        if count % a == 0
        for b in range(1, count // a + 1)
        if count // a % b == 0
    )


def reserve(case: Case, box: Box) -> Box:
    """A block's box with the room of its cradle."""
    return box.grown(block_margin(case))
