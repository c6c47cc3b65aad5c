"""End plates of a block of modules: where they stand, the room they take and what they weigh.

A plate at each end of the rows holds the modules together before the cradle goes round them. It goes on the two
sides across which most modules stand in a row, and never in front of an access face.
"""

from packlayout.model.brief import Case
from packlayout.model.geometry import Box, MassItem, Vec
from packlayout.model.layout import Block, Layout, axis
from packlayout.units import Measured


def row_axis(counts: tuple[int, int, int], shut: frozenset[int]) -> int:
    """The axis along which the rows are held: that with most modules, none of `shut`; x before y before z.

    Args:
        counts: Modules along x, y and z.
        shut: Axes along which access faces look; all of them: the rule falls.
    """
    able = [k for k in range(3) if k not in shut] or [0, 1, 2]
    return max(able, key=lambda k: (counts[k], -k))


def end_room(case: Case, counts: tuple[int, int, int], shut: frozenset[int]) -> Vec:
    """Room that an end plate with its liner takes on each of the two sides along each axis, mm."""
    thick = case.brief.modules.end_plate_mm
    room = [0.0, 0.0, 0.0]
    if thick > 0:
        room[row_axis(counts, shut)] = thick + case.brief.frame.liner_mm
    return room[0], room[1], room[2]


def end_plates_kg(case: Case, size: Vec, counts: tuple[int, int, int], shut: frozenset[int]) -> float:
    """Mass of both plates of a block whose modules fill `size`, of the frame's material, kg."""
    thick = case.brief.modules.end_plate_mm
    if thick <= 0:
        return 0.0
    k = row_axis(counts, shut)
    face = size[(k + 1) % 3] * size[(k + 2) % 3]
    return 2 * thick * face * case.materials[case.brief.frame.material].density_kg_per_m3 * 1e-9


def counts_of(block: Block) -> tuple[int, int, int]:
    """Modules of a block along x, y and z."""
    x, y, z = (len({round(p.box.lo[k]) for p in block.modules}) for k in range(3))
    return x, y, z


def shut_axes(case: Case, block: Block) -> frozenset[int]:
    """Axes along which access faces of the block's modules look."""
    found: set[int] = set()
    for p in block.modules:
        for face in case.parts[p.part].access:
            looks = p.pose.direction(axis(face.face))
            found.add(max(range(3), key=lambda k: abs(looks[k])))
    return frozenset(found)


def clamped(case: Case, block: Block) -> Box:
    """The box of a block with its end plates; that of its modules where the brief asks for none."""
    if case.brief.modules.end_plate_mm <= 0:
        return block.box
    room = end_room(case, counts_of(block), shut_axes(case, block))
    lo = tuple(v - r for v, r in zip(block.box.lo, room, strict=True))
    hi = tuple(v + r for v, r in zip(block.box.hi, room, strict=True))
    return Box((lo[0], lo[1], lo[2]), (hi[0], hi[1], hi[2]))


def end_plate_items(case: Case, layout: Layout) -> tuple[MassItem, ...]:
    """Two plates for each block, each at its own middle; none where the brief asks for none."""
    thick = case.brief.modules.end_plate_mm
    if thick <= 0:
        return ()
    made: list[MassItem] = []
    for block in layout.blocks:
        counts, shut = counts_of(block), shut_axes(case, block)
        k = row_axis(counts, shut)
        mass = end_plates_kg(case, block.box.size, counts, shut) / 2
        beyond = case.brief.frame.liner_mm + thick / 2
        size = [*block.box.size]
        size[k] = thick
        for n, at in enumerate((block.box.lo[k] - beyond, block.box.hi[k] + beyond), start=1):
            x, y, z = (Measured(at if m == k else block.box.centre[m]) for m in range(3))
            name, sides = f"end plate {n} of block {block.number}", (size[0], size[1], size[2])
            source = f"end plates, {case.brief.frame.material}"
            made.append(MassItem(name, Measured(mass), (x, y, z), "frame", sides, source))
    return tuple(made)
