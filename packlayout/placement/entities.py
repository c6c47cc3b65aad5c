"""What the search moves: blocks of modules and single parts, each with every anchor it may stand at."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from math import ceil, cos, floor, radians
from typing import Any, cast

import numpy as np
from numpy.typing import NDArray

from packlayout.model.brief import Case, Fixed, PartOrder, ShaftLine
from packlayout.model.catalogue import Part
from packlayout.model.geometry import Box, Floats, Ints, Vec
from packlayout.model.layout import Block, Layout, Placement, axis
from packlayout.placement import aims
from packlayout.placement.forms import Form, block_forms, block_margin, form_of, part_forms
from packlayout.placement.tables import Cell, Kind, spots
from packlayout.space.cells import Bools, Space, Sums, all_set
from packlayout.space.ways import way_sums

MOST_ROWS = 30_000
LINE_STEP_MM = 5.0
FAR = 1_000_000
Rows = tuple[Floats, Ints, Ints]


@dataclass(frozen=True, slots=True, eq=False)
class Entity:
    """One thing the search moves as a whole: a block of modules, or one part.

    Attributes:
        name: Unique.
        order: The part's own order; None for a block.
        kind: Kind of part.
        modules: How many modules; 0 for a part.
        mass_kg: Of the whole.
        forms: Ways it may stand.
        pos: (n, 3) anchors.
        form: (n,) form at each.
        zone: (n,) index of the zone at each.
        arrays: size, cg, port, slabs, slab_count of the forms.
        links: Indices of the entities that a high-voltage cable joins it to.
        fixed: True when it stays where it is.
        names: Of its modules, where they have names already.
    """

    name: str
    order: PartOrder | None
    kind: str
    modules: int
    mass_kg: float
    forms: tuple[Form, ...]
    pos: Floats
    form: Ints
    zone: Ints
    arrays: tuple[Floats, Floats, Floats, Floats, Ints]
    links: tuple[int, ...] = ()
    fixed: bool = False
    names: tuple[str, ...] = ()


def _arrays(forms: Sequence[Form]) -> tuple[Floats, Floats, Floats, Floats, Ints]:
    most = max(1, max(len(f.slabs) for f in forms))
    rooms = np.zeros((len(forms), most, 6))
    for i, form in enumerate(forms):
        for s, slab in enumerate(form.slabs):
            rooms[i, s] = (*slab.box.lo, *slab.box.hi)
    return (
        np.array([f.size for f in forms]),
        np.array([f.cg for f in forms]),
        np.array([f.port for f in forms]),
        rooms,
        np.array([len(f.slabs) for f in forms], dtype=np.int64),
    )


def _rows(
    case: Case, forms: Sequence[Form], spaces: Sequence[Space], zones: Sequence[str], order: PartOrder | None
) -> Rows:
    """Every anchor of every form in every allowed zone, access faces reachable, thinned evenly to a budget."""
    found: list[tuple[Floats, int, int]] = []
    opens = {z.name: {axis(a) for a in z.opens} for z in case.vehicle.zones}
    for z, space in enumerate(spaces):
        if space.zone not in zones:
            continue
        for f, form in enumerate(forms):
            if order is not None and order.on_line is not None:
                at = _on_line(case, case.parts[order.part], order.on_line, form, space)
                for slab in form.slabs:
                    sums = space.open_sums if slab.face in opens[space.zone] else space.air_sums
                    at = at[_reachable(space, sums, at, slab.box)]
                at = at[_has_way(case, space, at, form.size)]
            else:
                at = _on_cells(case, space, form, opens[space.zone])
            if len(at):
                found.append((at, f, z))
    if not found:
        return np.empty((0, 3)), np.empty(0, dtype=np.int64), np.empty(0, dtype=np.int64)
    budget = MOST_ROWS / sum(len(at) for at, _, _ in found)
    kept: list[tuple[Floats, int, int]] = []
    for at, f, z in found:
        want = max(64, int(len(at) * budget))
        pick = np.unique(np.linspace(0, len(at) - 1, min(want, len(at))).astype(np.int64))
        kept.append((at[pick], f, z))
    return (
        np.concatenate([at for at, _, _ in kept]),
        np.concatenate([np.full(len(at), f, dtype=np.int64) for at, f, _ in kept]),
        np.concatenate([np.full(len(at), z, dtype=np.int64) for at, _, z in kept]),
    )


def _on_cells(case: Case, space: Space, form: Form, opens: set[Vec]) -> Floats:
    """Anchors on cell corners: free, access open, and a straight way out; nothing else being there."""
    pitch = space.pitch_mm
    others, ways = _others(case, space)
    x, y, z = (max(1, ceil(side / pitch - 1e-9)) for side in form.size)
    cells: Cell = (x, y, z)
    rooms: list[tuple[int, Cell, Cell]] = []
    for slab in form.slabs:
        lo = tuple(floor(v / pitch + 1e-9) for v in slab.box.lo)
        hi = tuple(ceil(v / pitch - 1e-9) for v in slab.box.hi)
        rooms.append((1 if slab.face in opens else 0, (lo[0], lo[1], lo[2]), (hi[0], hi[1], hi[2])))
    good = np.zeros(space.free.shape, dtype=np.bool_)
    for n, way in enumerate(ways):
        lo = tuple(-FAR if w < -0.5 else 0 for w in way)
        hi = tuple(FAR if w > 0.5 else c for w, c in zip(way, cells, strict=True))
        out = (n + 2, (lo[0], lo[1], lo[2]), (hi[0], hi[1], hi[2]))
        good |= spots(space.free_sums, others, Kind(1, cells, (0, 0, 0), cells, (out, *rooms)))
    at = np.array(space.origin, dtype=np.float64) + np.argwhere(good).astype(np.float64) * pitch
    zone = next(z for z in case.vehicle.zones if z.name == space.zone)
    return at if zone.opening is None else at[_has_way(case, space, at, form.size)]


@lru_cache(maxsize=8)
def _others(case: Case, space: Space) -> tuple[NDArray[np.int32], tuple[Vec, ...]]:
    """Sums of air, of what is open, and of each way out, one on the other; and the ways."""
    ways = _ways(case, space)
    return np.stack([space.air_sums, space.open_sums, *(sums for _, sums in ways)]), tuple(
        way for way, _ in ways
    )


def _reachable(space: Space, sums: Sums, at: Floats, box: Box) -> Bools:
    """Whether the access room is open; room beyond the cells counts as open when the zone opens that way."""
    lo, hi = at + np.array(box.lo), at + np.array(box.hi)
    if sums is space.open_sums:
        top = np.array(space.origin) + (np.array(space.free.shape)) * space.pitch_mm
        lo, hi = np.maximum(lo, space.origin), np.minimum(hi, top)
    return all_set(space, sums, lo, hi)


@lru_cache(maxsize=8)
def _ways(case: Case, space: Space) -> tuple[tuple[Vec, Sums], ...]:
    """The sides a zone opens to, each with the cells one may pass through on the way there."""
    zone = next(z for z in case.vehicle.zones if z.name == space.zone)
    solids = tuple(case.keep_outs[k.name] for k in case.vehicle.keep_outs if not k.removable)
    surface = case.zones[space.zone]
    lids = [zone.lid_from_mm if n == 0 else None for n in range(len(zone.opens))]
    return tuple(
        (axis(a), way_sums(space, surface, solids, axis(a), lid))
        for a, lid in zip(zone.opens, lids, strict=True)
    )


def _has_way(case: Case, space: Space, at: Floats, size: Vec) -> Bools:
    """Whether a box at each anchor can leave the zone straight, when nothing else is there."""
    zone = next(z for z in case.vehicle.zones if z.name == space.zone)
    bottom = np.array(space.origin)
    top = bottom + np.array(space.free.shape) * space.pitch_mm
    good = np.zeros(len(at), dtype=np.bool_)
    for way, sums in _ways(case, space):
        lo, hi = at.copy(), at + np.array(size)
        fits = np.ones(len(at), dtype=np.bool_)
        for k in range(3):
            if way[k] > 0.5:
                hi[:, k] = top[k]
            elif way[k] < -0.5:
                lo[:, k] = bottom[k]
            elif zone.opening is not None:
                a, b = sorted((zone.opening.corner[k], zone.opening.opposite[k]))
                fits &= (lo[:, k] >= a) & (hi[:, k] <= b)
        good |= fits & all_set(space, sums, lo, hi)
    return good


def _on_line(case: Case, part: Part, wanted: ShaftLine, form: Form, space: Space) -> Floats:
    """Anchors that put a part's last shaft port on the shaft line, where its shaft runs along it."""
    line = shaft_line(case)
    ports = [p for p in part.ports if p.kind == "shaft"]
    if line is None or not ports:
        return np.empty((0, 3))
    start, along = line
    member = form.members[0]
    pose = Placement("", "", "", (0.0, 0.0, 0.0), member.up, member.turn_deg, part.box_size).pose
    looks = pose.direction(ports[-1].direction)
    if sum(a * b for a, b in zip(looks, along, strict=True)) < cos(radians(wanted.angle_deg)):
        return np.empty((0, 3))
    at = np.array(start)[None] + np.arange(-2000.0, 2000.0, LINE_STEP_MM)[:, None] * np.array(along)[None]
    at = at - np.array(pose.point(ports[-1].at))
    return at[all_set(space, space.free_sums, at, at + np.array(form.size))]


def shaft_line(case: Case) -> tuple[Vec, Vec] | None:
    """A point of the shaft line and its direction, from the old gearbox output to the axle input."""
    drive = case.vehicle.driveline
    if drive is None:
        return None
    d = [b - a for a, b in zip(drive.gearbox_output, drive.axle_input, strict=True)]
    length = sum(v * v for v in d) ** 0.5
    return drive.gearbox_output, (d[0] / length, d[1] / length, d[2] / length)


def block_entities(
    case: Case, spaces: Sequence[Space], split: Sequence[int], held: Layout | None = None
) -> tuple[Entity, ...]:
    """The blocks, for one way of splitting the modules; those with a locked module in them stay as they are."""
    module = case.parts[case.brief.modules.part]
    made: list[Entity] = []
    for block in locked_blocks(held):
        form = form_of(case, block.modules)
        at = np.array([[v - block_margin(case) for v in block.box.lo]])
        zone = np.array([[s.zone for s in spaces].index(block.zone)])
        mass = len(block.modules) * module.mass_kg.value
        name = f"block {len(made) + 1}"
        made.append(Entity(name, None, module.kind, len(block.modules), mass, (form,), at, np.zeros(1, dtype=np.int64),
                           zone, _arrays((form,)), fixed=True, names=tuple(p.name for p in block.modules)))  # fmt: skip
    for count in split:
        forms, rows = _block_rows(case, tuple(spaces), count)
        arrays = _arrays(forms or part_forms(module))
        mass = count * module.mass_kg.value
        made.append(Entity(f"block {len(made) + 1}", None, module.kind, count, mass, forms, *rows, arrays))
    return tuple(made)


@lru_cache(maxsize=48)
def _block_rows(case: Case, spaces: tuple[Space, ...], count: int) -> tuple[tuple[Form, ...], Rows]:
    forms = block_forms(case, count)
    return forms, _rows(case, forms, spaces, case.brief.modules.zones, None)


def locked_blocks(held: Layout | None) -> tuple[Block, ...]:
    """Blocks of a layout that hold a locked module."""
    return tuple(b for b in held.blocks if any(p.locked for p in b.modules)) if held is not None else ()


def part_entities(case: Case, spaces: Sequence[Space], held: Layout | None = None) -> tuple[Entity, ...]:
    """The other parts; one without an anchor cannot stand in any of its zones, even when they are empty."""
    locked = {p.name: p for p in held.placements if p.locked and p.block is None} if held is not None else {}
    made: list[Entity] = []
    for number, (order, name) in enumerate(named_orders(case)):
        part = case.parts[order.part]
        forms = part_forms(part)
        fixed = order.fixed
        zone = order.zones[0]
        if name in locked:
            p = locked[name]
            fixed, zone = Fixed(at=p.at, up=p.up, turn_deg=cast("Any", p.turn_deg)), p.zone
        if fixed is None:
            rows = _part_rows(case, tuple(spaces), number)
        else:
            label = f"{fixed.up} up, {fixed.turn_deg} deg"
            at = next(i for i, f in enumerate(forms) if f.label == label)
            rows = np.array([fixed.at]), np.array([at]), np.array([[s.zone for s in spaces].index(zone)])
        made.append(
            Entity(
                name,
                order,
                part.kind,
                0,
                part.mass_kg.value,
                forms,
                *rows,
                _arrays(forms),
                fixed=fixed is not None,
            )
        )
    return tuple(made)


@lru_cache(maxsize=48)
def _part_rows(case: Case, spaces: tuple[Space, ...], number: int) -> Rows:
    order = case.brief.parts[number]
    return _rows(case, part_forms(case.parts[order.part]), spaces, order.zones, order)


def joined(blocks: Sequence[Entity], parts: Sequence[Entity]) -> tuple[Entity, ...]:
    """Everything to be placed, the blocks first, with the cables between them."""
    pairs = set(aims.HV_LINKS) | {(b, a) for a, b in aims.HV_LINKS}
    made = (*blocks, *parts)
    return tuple(
        replace(
            one, links=tuple(j for j, other in enumerate(made) if j != i and (one.kind, other.kind) in pairs)
        )
        for i, one in enumerate(made)
    )


def named_orders(case: Case) -> list[tuple[PartOrder, str]]:
    """The other parts of the brief with the name each goes by in the layout."""
    named: list[tuple[PartOrder, str]] = []
    for order in case.brief.parts:
        name = order.name or case.parts[order.part].name
        same = sum(1 for _, n in named if n == name or n.startswith(f"{name} "))
        named.append((order, f"{name} {same + 1}" if same else name))
    return named
