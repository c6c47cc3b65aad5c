"""Forms: every way a thing may stand. A block of modules in its cradle and a single part are both one.

A form is a box with offsets in it, measured from its lowest corner along the vehicle axes: where its
members stand, its centre of gravity, its high-voltage port, and the room its access faces need.
"""

from dataclasses import dataclass, replace
from functools import cache
from itertools import product
from math import inf

from packlayout.mass.end_plates import clamped, counts_of, end_plates_kg, end_room, shut_axes
from packlayout.model.brief import Case
from packlayout.model.catalogue import Part, SignedAxis
from packlayout.model.geometry import Box, Pose, Vec
from packlayout.model.layout import Block, Placement, axis, rotation, turned_size

TURNS = (0, 90, 180, 270)
PLUG_MM = 14.0
"""Half the breadth of a plug or gland (common practice, no source)."""
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
    """Room in front of an access face or a port, relative to the form.

    Attributes:
        box: The room.
        face: The way the face looks.
        wanted_for: Where it is asked for, in words.
    """

    box: Box
    face: Vec
    wanted_for: str = "access stated in the part's file"

    @property
    def depth_mm(self) -> float:
        """How far out it reaches."""
        return sum(side * abs(n) for side, n in zip(self.box.size, self.face, strict=True))


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
        plates_kg: Mass of a block's end plates.
    """

    label: str
    size: Vec
    cg: Vec
    port: Vec
    slabs: tuple[Slab, ...]
    members: tuple[Member, ...]
    plates_kg: float = 0.0


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
    """Access room of a placed part and room to plug its cables in, in the axes of the pose's parent."""
    return (*access_rooms(part, pose), *_plug_rooms(part, pose))


def access_rooms(part: Part, pose: Pose) -> tuple[Slab, ...]:
    """Room for hands and tools in front of the access faces, which cables must not fill either."""
    return tuple(_slab(pose, part.box_size, a.face, a.depth_mm) for a in part.access)


def _plug_rooms(part: Part, pose: Pose) -> list[Slab]:
    """Room straight out of each port whose face has no access room as deep."""
    deep = {axis(a.face): a.depth_mm for a in part.access}
    made: list[Slab] = []
    for port in part.ports:
        k = max(range(3), key=lambda n: abs(port.direction[n]))  # a slanted one by the side it looks to most
        sides = [0.0, 0.0, 0.0]
        sides[k] = 1.0 if port.direction[k] > 0 else -1.0
        out: Vec = (sides[0], sides[1], sides[2])
        if port.depth_mm <= deep.get(out, 0.0):
            continue
        ends = [[p - PLUG_MM, p + PLUG_MM] for p in port.at]
        ends[k] = sorted((port.at[k], port.at[k] + out[k] * port.depth_mm))
        a, b = (pose.point((ends[0][n], ends[1][n], ends[2][n])) for n in (0, 1))
        lo, hi = (tuple(f(p, q) for p, q in zip(a, b, strict=True)) for f in (min, max))
        box = Box((lo[0], lo[1], lo[2]), (hi[0], hi[1], hi[2]))
        made.append(Slab(box, pose.direction(out), f"room to plug in {port.name}"))
    return made


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


def block_forms(case: Case, count: int, within: Vec | None = None) -> tuple[Form, ...]:
    """All ways `count` modules may stand together: rows x columns x layers in one orientation.

    Modules stand a liner's thickness apart. Where a module has an access face, that face must be on the
    outside of the block: along its direction there is one module, or two that turn their backs on each other.
    Where the brief names a core, only that arrangement, turned by quarters. `within` leaves out what is larger.
    """
    part = case.parts[case.brief.modules.part]
    made: list[Form] = []
    seen: set[object] = set()
    room = within or (inf, inf, inf)
    for up in part.up:
        for turn in TURNS:
            size, shut = turned_size(part.box_size, up, turn), access_axes(part, up, turn)
            for counts in _factors(count):
                full = block_size(case, size, counts, shut)
                if not _is_core(case, up, turn, counts) or any(
                    a > b for a, b in zip(full, room, strict=True)
                ):
                    continue
                form = _block(case, part, up, turn, counts)
                # a half turn gives the same block where no access face or port tells the ends apart
                key = form and (form.size, form.slabs, tuple(m.at for m in form.members), form.port)
                if form is not None and key not in seen:
                    seen.add(key)
                    made.append(form)
    return tuple(made)


def _is_core(case: Case, up: SignedAxis, turn: int, counts: Counts) -> bool:
    """Whether a block is the core that the brief names, turned by quarters; any is where it names none."""
    core = case.brief.modules.core
    x, y, z = counts
    return core is None or (core.up == up and core.modules == ((x, y, z) if turn % 180 == 0 else (y, x, z)))


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


def block_size(case: Case, size: Vec, counts: Counts, shut: frozenset[int] = frozenset()) -> Vec:
    """Sides of a block in its cradle, from those of a module as it stands, mm.

    Args:
        case: Supplies cradle, gaps and end plates.
        size: Sides of a module.
        counts: Modules along each axis.
        shut: Axes along which access faces look, where no end plate goes.
    """
    margin, ends = block_margin(case), end_room(case, counts, shut)
    x, y, z = (a + 2 * (margin + e) for a, e in zip(_modules_size(case, size, counts), ends, strict=True))
    return x, y, z


def _modules_size(case: Case, size: Vec, counts: Counts) -> Vec:
    x, y, z = (n * s + (n - 1) * g for n, s, g in zip(counts, size, gaps(case), strict=True))
    return x, y, z


def access_axes(part: Part, up: SignedAxis, turn: int) -> frozenset[int]:
    """Axes along which the access faces of a part look, as it stands."""
    pose = Pose((0.0, 0.0, 0.0), rotation(up, turn))
    looks = [pose.direction(axis(face.face)) for face in part.access]
    return frozenset(max(range(3), key=lambda k: abs(way[k])) for way in looks)


def shapes(case: Case, room: Vec) -> list[tuple[int, Vec]]:
    """Every (modules, size) of a block that is no larger than a room, each size once."""
    part = case.parts[case.brief.modules.part]
    made: dict[Vec, int] = {}
    for up in part.up:
        for turn in (0, 90):
            size = turned_size(part.box_size, up, turn)
            most = [1, 1, 1]
            shut = access_axes(part, up, turn)
            for k in range(3):
                while block_size(case, size, _with(most, k), shut)[k] <= room[k]:
                    most[k] += 1
            for counts in product(range(1, most[0] + 1), range(1, most[1] + 1), range(1, most[2] + 1)):
                full = block_size(case, size, counts, shut)
                small = all(a <= b for a, b in zip(full, room, strict=True))
                if small and _is_core(case, up, turn, counts) and backs(part, up, turn, counts) is not None:
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
    shut = access_axes(part, up, turn)
    margin, ends = block_margin(case), end_room(case, counts, shut)
    size = turned_size(part.box_size, up, turn)
    members: list[Member] = []
    room: list[Slab] = []
    cg_sum = [0.0, 0.0, 0.0]
    own_cg = tuple(c.value for c in part.centre_of_gravity)
    # a module as it stands and one that turns its back on it, each at the origin
    turned = {half: _own_box(part, up, (turn + half) % 360) for half in (0, 180)}
    rooms = {half: slabs(part, pose) for half, pose in turned.items()}
    cgs = {half: pose.point((own_cg[0], own_cg[1], own_cg[2])) for half, pose in turned.items()}
    for index in product(range(counts[0]), range(counts[1]), range(counts[2])):
        x, y, z = (margin + e + n * (s + g) for n, s, g, e in zip(index, size, gaps(case), ends, strict=True))
        half = _turned_back(part, up, turn, back, index)
        members.append(Member((x, y, z), up, (turn + half) % 360))
        room.extend(_shifted(slab, (x, y, z)) for slab in rooms[half])
        for n, (c, o) in enumerate(zip(cgs[half], (x, y, z), strict=True)):
            cg_sum[n] += c + o
    n = len(members)
    full = block_size(case, size, counts, shut)
    plates = end_plates_kg(case, _modules_size(case, size, counts), counts, shut)
    # the plates weigh about the middle of the block
    own = part.mass_kg.value
    cg = tuple((own * c + plates * f / 2) / (n * own + plates) for c, f in zip(cg_sum, full, strict=True))
    shape = " x ".join(str(c) for c in counts)
    return Form(
        f"{shape}, {up} up, {turn} deg",
        full,
        (cg[0], cg[1], cg[2]),
        (full[0] / 2, full[1] / 2, full[2] - margin - ends[2]),
        tuple(room),
        tuple(members),
        plates,
    )


def form_of(case: Case, block: Block) -> Form:
    """The form of modules that stand together already, as they stand."""
    part = case.parts[case.brief.modules.part]
    room_taken, members = reserve(case, block), block.modules
    lo, size = room_taken.lo, room_taken.size
    own = tuple(c.value for c in part.centre_of_gravity)
    points = [p.pose.point((own[0], own[1], own[2])) for p in members]
    plates = end_plates_kg(case, block.box.size, counts_of(block), shut_axes(case, block))
    kg = part.mass_kg.value
    cg = tuple(
        (kg * sum(q[k] - lo[k] for q in points) + plates * size[k] / 2) / (kg * len(points) + plates)
        for k in range(3)
    )
    room = [_shifted(slab, (-lo[0], -lo[1], -lo[2])) for p in members for slab in slabs(part, p.pose)]
    top = block.box.hi[2] - lo[2]
    return Form(
        f"{len(members)} as they stand", size, (cg[0], cg[1], cg[2]), (size[0] / 2, size[1] / 2, top), tuple(room),
        tuple(
            Member((p.at[0] - lo[0], p.at[1] - lo[1], p.at[2] - lo[2]), p.up, p.turn_deg) for p in members
        ),
        plates,
    )  # fmt: skip


def _shifted(slab: Slab, by: Vec) -> Slab:
    a, b = slab.box.lo, slab.box.hi
    box = Box((a[0] + by[0], a[1] + by[1], a[2] + by[2]), (b[0] + by[0], b[1] + by[1], b[2] + by[2]))
    return replace(slab, box=box)


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


def reserve(case: Case, block: Block) -> Box:
    """A block's box with its end plates and the room of its cradle."""
    return clamped(case, block).grown(block_margin(case))
