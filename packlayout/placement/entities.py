"""What the search moves: blocks of modules and single parts, each with every anchor it may stand at."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from typing import Any, cast

import numpy as np

from packlayout.model.brief import Case, Fixed, PartOrder
from packlayout.model.catalogue import Part
from packlayout.model.geometry import Floats, Ints
from packlayout.model.layout import Block, Layout
from packlayout.placement import aims
from packlayout.placement.anchors import Rows, places, rows, side_rooms, stands
from packlayout.placement.forms import Form, block_forms, form_of, part_forms, reserve
from packlayout.placement.sides import Stand, stand_at
from packlayout.space.cells import Space


@dataclass(frozen=True, slots=True, eq=False)
class Entity:
    """One thing the search moves as a whole: a block of modules, or one part.

    Attributes:
        name: Unique.
        order: The part's own order; None for a block.
        kind: Kind of part.
        modules: How many modules; 0 for a part.
        masses_kg: (f,) of the whole in each form: a block's end plates differ with it.
        forms: Ways it may stand.
        pos: (n, 3) anchors.
        form: (n,) form at each.
        zone: (n,) index of the zone at each.
        arrays: size, cg, port, slabs, slab_count of the forms.
        links: Indices of the entities that a high-voltage cable joins it to.
        fixed: True when it stays where it is.
        names: Of its modules, where they have names already.
        stands: All anchors as sets, where `pos` may hold some of them only; forms alike share one.
    """

    name: str
    order: PartOrder | None
    kind: str
    modules: int
    masses_kg: Floats
    forms: tuple[Form, ...]
    pos: Floats
    form: Ints
    zone: Ints
    arrays: tuple[Floats, Floats, Floats, Floats, Ints]
    links: tuple[int, ...] = ()
    fixed: bool = False
    names: tuple[str, ...] = ()
    stands: tuple[Stand, ...] = ()


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


def _masses(forms: Sequence[Form], count: int, part: Part) -> Floats:
    return np.array([count * part.mass_kg.value + form.plates_kg for form in forms])


def block_entities(
    case: Case, spaces: Sequence[Space], split: Sequence[int], held: Layout | None = None, close: bool = False
) -> tuple[Entity, ...]:
    """The blocks, for one way of splitting the modules; those with a locked module in them stay as they are.

    `close` is for anchors close to walls as well; see `anchors.rows`.
    """
    module = case.parts[case.brief.modules.part]
    made: list[Entity] = []
    for block in locked_blocks(held):
        form = form_of(case, block)
        at = np.array([reserve(case, block).lo])
        zone = np.array([[s.zone for s in spaces].index(block.zone)])
        mass = _masses((form,), len(block.modules), module)
        name = f"block {len(made) + 1}"
        made.append(Entity(name, None, module.kind, len(block.modules), mass, (form,), at, np.zeros(1, dtype=np.int64),
                           zone, _arrays((form,)), fixed=True, names=tuple(p.name for p in block.modules),
                           stands=_one_stand(case, form, 0, int(zone[0]), at)))  # fmt: skip
    for count in split:
        forms, found, sets = _block_rows(case, tuple(spaces), count, close)
        arrays = _arrays(forms or part_forms(module))
        mass = _masses(forms, count, module)
        made.append(
            Entity(
                f"block {len(made) + 1}", None, module.kind, count, mass, forms, *found, arrays, stands=sets
            )
        )
    return tuple(made)


def _one_stand(case: Case, form: Form, number: int, zone: int, at: Floats) -> tuple[Stand, ...]:
    made = stand_at(number, zone, form.size, side_rooms(form, case.brief.clearances.parts_mm), at)
    return () if made is None else (made,)


@lru_cache(maxsize=48)
def _block_rows(
    case: Case, spaces: tuple[Space, ...], count: int, close: bool
) -> tuple[tuple[Form, ...], Rows, tuple[Stand, ...]]:
    x, y, z = (max(s.free.shape[k] * s.pitch_mm for s in spaces) for k in range(3))
    forms = block_forms(case, count, (x, y, z))
    found = places(case, forms, spaces, case.brief.modules.zones, None, close)
    return forms, rows(found, spaces, close), stands(found, spaces, forms, case.brief.clearances.parts_mm)


def locked_blocks(held: Layout | None) -> tuple[Block, ...]:
    """Blocks of a layout that hold a locked module."""
    return tuple(b for b in held.blocks if any(p.locked for p in b.modules)) if held is not None else ()


def part_entities(
    case: Case, spaces: Sequence[Space], held: Layout | None = None, close: bool = False
) -> tuple[Entity, ...]:
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
            found, sets = _part_rows(case, tuple(spaces), number, close)
        else:
            label = f"{fixed.up} up, {fixed.turn_deg} deg"
            at = next(i for i, f in enumerate(forms) if f.label == label)
            z = [s.zone for s in spaces].index(zone)
            found = np.array([fixed.at]), np.array([at]), np.array([z])
            sets = _one_stand(case, forms[at], at, z, found[0])
        made.append(
            Entity(
                name,
                order,
                part.kind,
                0,
                _masses(forms, 1, part),
                forms,
                *found,
                _arrays(forms),
                fixed=fixed is not None,
                stands=sets,
            )
        )
    return tuple(made)


@lru_cache(maxsize=48)
def _part_rows(
    case: Case, spaces: tuple[Space, ...], number: int, close: bool
) -> tuple[Rows, tuple[Stand, ...]]:
    order = case.brief.parts[number]
    forms = part_forms(case.parts[order.part])
    found = places(case, forms, spaces, order.zones, order, close)
    return rows(found, spaces, close), stands(found, spaces, forms, case.brief.clearances.parts_mm)


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
