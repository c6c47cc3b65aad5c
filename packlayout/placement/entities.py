"""What the search moves: blocks of modules and single parts, each with every anchor it may stand at."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from packlayout.model.brief import Case, PartOrder
from packlayout.model.geometry import Box, Floats, Ints, Vec
from packlayout.model.layout import axis
from packlayout.placement import aims
from packlayout.placement.forms import Form, block_forms, part_forms
from packlayout.space.cells import Bools, Space, Sums, all_set, anchors

MOST_ROWS = 30_000
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
    forms: Sequence[Form], spaces: Sequence[Space], zones: Sequence[str], opens: dict[str, set[Vec]]
) -> Rows:
    """Every anchor of every form in every allowed zone, access faces reachable, thinned evenly to a budget."""
    found: list[tuple[Floats, int, int]] = []
    for z, space in enumerate(spaces):
        if space.zone not in zones:
            continue
        for f, form in enumerate(forms):
            at = anchors(space, form.size)
            for slab in form.slabs:
                sums = space.open_sums if slab.face in opens[space.zone] else space.air_sums
                if not len(at):
                    break
                ok = _reachable(space, sums, at, slab.box)
                at = at[ok]
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


def _reachable(space: Space, sums: Sums, at: Floats, box: Box) -> Bools:
    """Whether the access room is open; room beyond the cells counts as open when the zone opens that way."""
    lo, hi = at + np.array(box.lo), at + np.array(box.hi)
    if sums is space.open_sums:
        top = np.array(space.origin) + (np.array(space.free.shape)) * space.pitch_mm
        lo, hi = np.maximum(lo, space.origin), np.minimum(hi, top)
    return all_set(space, sums, lo, hi)


def block_entities(case: Case, spaces: Sequence[Space], split: Sequence[int]) -> tuple[Entity, ...]:
    """The blocks, for one way of splitting the modules."""
    module = case.parts[case.brief.modules.part]
    made: list[Entity] = []
    for n, count in enumerate(split, start=1):
        forms = block_forms(case, count)
        rows = _rows(forms, spaces, case.brief.modules.zones, _openings(case))
        arrays = _arrays(forms or part_forms(module))
        mass = count * module.mass_kg.value
        made.append(Entity(f"block {n}", None, module.kind, count, mass, forms, *rows, arrays))
    return tuple(made)


def part_entities(case: Case, spaces: Sequence[Space]) -> tuple[Entity, ...]:
    """The other parts; one without an anchor cannot stand in any of its zones, even when they are empty."""
    made: list[Entity] = []
    for order, name in named_orders(case):
        part = case.parts[order.part]
        forms = part_forms(part)
        if order.fixed is None:
            rows = _rows(forms, spaces, order.zones, _openings(case))
        else:
            label = f"{order.fixed.up} up, {order.fixed.turn_deg} deg"
            at = next(i for i, f in enumerate(forms) if f.label == label)
            zone = [s.zone for s in spaces].index(order.zones[0])
            rows = np.array([order.fixed.at]), np.array([at]), np.array([zone])
        made.append(Entity(name, order, part.kind, 0, part.mass_kg.value, forms, *rows, _arrays(forms)))
    return tuple(made)


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


def _openings(case: Case) -> dict[str, set[Vec]]:
    return {z.name: {axis(a) for a in z.opens} for z in case.vehicle.zones}


def named_orders(case: Case) -> list[tuple[PartOrder, str]]:
    """The other parts of the brief with the name each goes by in the layout."""
    named: list[tuple[PartOrder, str]] = []
    for order in case.brief.parts:
        name = order.name or case.parts[order.part].name
        same = sum(1 for _, n in named if n == name or n.startswith(f"{name} "))
        named.append((order, f"{name} {same + 1}" if same else name))
    return named
