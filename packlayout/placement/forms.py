"""Forms: every way a thing may stand. A block of modules in its cradle and a single part are both one.

A form is a box with offsets in it, measured from its lowest corner along the vehicle axes: where its
members stand, its centre of gravity, its high-voltage port, and the room its access faces need.
"""

from dataclasses import dataclass
from functools import cache

from packlayout.model.brief import Case
from packlayout.model.catalogue import Part, SignedAxis
from packlayout.model.geometry import Box, Pose, Vec
from packlayout.model.layout import Placement, axis, rotation, turned_size

TURNS = (0, 90, 180, 270)


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
    gap, margin = case.brief.frame.liner_mm, block_margin(case)
    made: list[Form] = []
    seen: set[object] = set()
    for up in part.up:
        for turn in TURNS:
            for counts in _factors(count):
                form = _block(part, up, turn, counts, gap, margin)
                # a half turn gives the same block where no access face or port tells the ends apart
                key = form and (form.size, form.slabs, tuple(m.at for m in form.members), form.port)
                if form is not None and key not in seen:
                    seen.add(key)
                    made.append(form)
    return tuple(made)


def _block(
    part: Part, up: SignedAxis, turn: int, counts: tuple[int, int, int], gap: float, margin: float
) -> Form | None:
    backs: set[int] = set()
    for face in part.access:
        looks = Pose((0.0, 0.0, 0.0), rotation(up, turn)).direction(axis(face.face))
        along = max(range(3), key=lambda k: abs(looks[k]))
        if counts[along] > 2 or (counts[along] == 2 and along == 2):
            return None
        if counts[along] == 2:
            backs.add(along)
            # the one nearer the side the face looks to keeps its turn; the other is turned half round
    size = turned_size(part.box_size, up, turn)
    members: list[Member] = []
    room: list[Slab] = []
    cg_sum = [0.0, 0.0, 0.0]
    own_cg = tuple(c.value for c in part.centre_of_gravity)
    for i in range(counts[0]):
        for j in range(counts[1]):
            for k in range(counts[2]):
                at = tuple(margin + n * (s + gap) for n, s in zip((i, j, k), size, strict=True))
                half = _turned_back(part, up, turn, backs, (i, j, k))
                member = Member((at[0], at[1], at[2]), up, (turn + half) % 360)
                placed = Placement("", "", "", member.at, up, (turn + half) % 360, part.box_size)
                members.append(member)
                room.extend(slabs(part, placed.pose))
                for n, c in enumerate(placed.pose.point((own_cg[0], own_cg[1], own_cg[2]))):
                    cg_sum[n] += c
    n = len(members)
    full = tuple(c * s + (c - 1) * gap + 2 * margin for c, s in zip(counts, size, strict=True))
    shape = " x ".join(str(c) for c in counts)
    return Form(
        f"{shape}, {up} up, {turn} deg",
        (full[0], full[1], full[2]),
        (cg_sum[0] / n, cg_sum[1] / n, cg_sum[2] / n),
        (full[0] / 2, full[1] / 2, full[2] - margin),
        tuple(room),
        tuple(members),
    )


def _turned_back(part: Part, up: SignedAxis, turn: int, backs: set[int], index: tuple[int, int, int]) -> int:
    for face in part.access:
        looks = Pose((0.0, 0.0, 0.0), rotation(up, turn)).direction(axis(face.face))
        along = max(range(3), key=lambda k: abs(looks[k]))
        if along in backs:
            outer = 1 if looks[along] > 0 else 0
            return 0 if index[along] == outer else 180
    return 0


@cache
def _factors(count: int) -> tuple[tuple[int, int, int], ...]:
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
