"""What in a job contradicts itself, found before any search: the two things that conflict, and by how much.

Everything here is a proof by boxes: sides against the box around a zone, an opening, another part. So what is told
holds for every layout, and a job with such a conflict is not searched for long first.
"""

from collections.abc import Iterator, Sequence
from itertools import combinations

from packlayout.model.brief import Case, PartOrder
from packlayout.model.catalogue import Part
from packlayout.model.check import Check, judge
from packlayout.model.geometry import Box, Vec
from packlayout.model.layout import Layout, Placement, axis, turned_size
from packlayout.model.vehicle import Zone
from packlayout.placement.clear import body_mm
from packlayout.placement.entities import locked_blocks, named_orders
from packlayout.placement.forms import block_margin, reserve
from packlayout.units import Measured

AXES = "xyz"
_TINY = 1e-6


def conflicts(case: Case, held: Layout | None = None) -> tuple[Check, ...]:
    """Failed checks, one for each conflict; none for a job that may have an answer.

    Args:
        case: The job.
        held: A layout whose locked parts stay.
    """
    locked = {p.name for p in held.placements if p.locked} if held is not None else set[str]()
    made: list[Check] = []
    if not locked_blocks(held):
        module = case.parts[case.brief.modules.part]
        margin = block_margin(case)
        made += _no_room(case, "module", module, case.brief.modules.zones, margin)
    for order, name in named_orders(case):
        if order.fixed is None and name not in locked:
            made += _no_room(case, name, case.parts[order.part], order.zones, 0.0)
        made += _too_far(case, order, name)
    return (*made, *_in_one_another(case, held), *_too_many_locked(case, held))


def room_of(case: Case, zone: str) -> Box:
    """The box around what the clearances to body and road leave of a zone."""
    bounds, c = case.zones[zone].bounds, case.brief.clearances
    inner = bounds.grown(-body_mm(case, zone))
    floor = inner.lo[2] if c.road_mm is None else max(inner.lo[2], case.vehicle.laden_drop_mm + c.road_mm)
    return Box((inner.lo[0], inner.lo[1], floor), inner.hi)


def _key(name: str) -> str:
    return name.replace(" ", "-")


def _sizes(part: Part, margin: float) -> list[Vec]:
    grown = [turned_size(part.box_size, up, turn) for up in part.up for turn in (0, 90)]
    return [(a + 2 * margin, b + 2 * margin, c + 2 * margin) for a, b, c in dict.fromkeys(grown)]


def _no_room(case: Case, name: str, part: Part, zones: Sequence[str], margin: float) -> Iterator[Check]:
    """The zone, and the way up, in which least is missing: of its room, or of its opening."""
    called = f"{part.name}" + (" in its cradle" if margin else "")
    rooms = [(z, f"{z} within its clearances", room_of(case, z).size) for z in zones]
    if (worst := _least_missing(_sizes(part, margin), rooms)) is not None:
        yield _short(f"place.fits.{_key(name)}", called, worst, "box around the zone less its clearances")
        return
    named = {z.name: z for z in case.vehicle.zones}
    doors: list[tuple[str, str, Vec]] = []
    for zone in zones:
        doors += [(zone, f"the opening of {zone}", size) for size in _doors(case, named[zone])]
    if not doors:
        title = f"Open sides of {', '.join(zones)} to bring {called} in"
        note = f"{called} cannot be brought into {', '.join(zones)}, which opens to no side: state one with `opens`"
        yield judge(f"place.enter.{_key(name)}", title, Measured(0.0), 1.0, "min", "sides",
                    "stated in the vehicle's file", note=note)  # fmt: skip
    elif (worst := _least_missing(_sizes(part, margin), doors)) is not None:
        yield _short(f"place.enter.{_key(name)}", called, worst, "opening stated in the vehicle's file")


def _doors(case: Case, zone: Zone) -> Iterator[Vec]:
    """Sides of the way through each open side of a zone; endless along the way."""
    for side in zone.opens:
        way = axis(side)
        if zone.opening is None:
            size = case.zones[zone.name].bounds.size
        else:
            a, b = zone.opening.corner, zone.opening.opposite
            size = (abs(a[0] - b[0]), abs(a[1] - b[1]), abs(a[2] - b[2]))
        x, y, z = (1e9 if w else s for w, s in zip(way, size, strict=True))
        yield x, y, z


def _least_missing(
    sizes: Sequence[Vec], rooms: Sequence[tuple[str, str, Vec]]
) -> tuple[str, int, float, float] | None:
    """(where, axis, needed, there is) where least is missing; None when some size finds room."""
    best: tuple[float, str, int, float, float] | None = None
    for size in sizes:
        for _, words, room in rooms:
            missing, k = max((s - r, k) for k, (s, r) in enumerate(zip(size, room, strict=True)))
            if missing <= _TINY:
                return None
            if best is None or missing < best[0]:
                best = (missing, words, k, size[k], room[k])
    return best[1:] if best is not None else None


def _short(id: str, called: str, found: tuple[str, int, float, float], basis: str) -> Check:
    where, k, needed, there = found
    there = max(there, 0.0)
    note = (
        f"{called} needs {needed:.0f} mm along {AXES[k]}; {where} has {there:.0f} mm, so it is {needed - there:.0f} mm short, "
        "and no other way up or zone allowed has more"
    )
    return judge(id, f"Room for {called} along {AXES[k]}: {where}", Measured(round(there, 3)), round(needed, 3), "min",
                 "mm", basis, note=note)  # fmt: skip


def _too_far(case: Case, order: PartOrder, name: str) -> Iterator[Check]:
    """A cable's reach shorter than the way between the zones."""
    if order.reach_mm is None:
        return
    pairs = [
        (_apart(case.zones[a].bounds, case.zones[b].bounds), a, b)
        for a in order.zones
        for b in case.brief.modules.zones
    ]
    least, own, pack = min(pairs)
    if least > order.reach_mm + _TINY:
        note = (
            f"{name} in {own} and modules in {pack} are at least {least:.0f} mm apart along the axes: "
            f"{least - order.reach_mm:.0f} mm more than its reach of {order.reach_mm:g} mm"
        )
        title = f"Reach of {name} in {own} to modules in {pack}"
        yield judge(f"place.reach.{_key(name)}", title, Measured(round(least, 3)), order.reach_mm, "max", "mm",
                    "reach asked for by the brief, along the axes", note=note)  # fmt: skip


def _apart(a: Box, b: Box) -> float:
    return sum(max(0.0, b.lo[k] - a.hi[k], a.lo[k] - b.hi[k]) for k in range(3))


def _in_one_another(case: Case, held: Layout | None) -> Iterator[Check]:
    """Parts put in place by the brief, or locked, that reach into each other or into a keep-out's box."""
    boxes: list[tuple[str, Box]] = []
    locked = {p.name: p for p in held.placements if p.locked and p.block is None} if held is not None else {}
    for order, name in named_orders(case):
        if name in locked:
            boxes.append((name, locked[name].box))
        elif order.fixed is not None:
            f, size = order.fixed, case.parts[order.part].box_size
            boxes.append(
                (name, Placement(name, order.part, order.zones[0], f.at, f.up, f.turn_deg, size).box)
            )
    boxes += [(f"locked block {b.number}", reserve(case, b)) for b in locked_blocks(held)]
    for (a, p), (b, q) in combinations(boxes, 2):
        depth = p.overlap_depth(q)
        if depth > _TINY:
            note = f"{a} and {b} are both put in place and reach {depth:.1f} mm into each other: move or free one of them"
            yield judge(f"place.fixed.{_key(a)}.{_key(b)}", f"{a} against {b}, both put in place",
                        Measured(round(-depth, 3)), 0.0, "min", "mm", "put in place by the user", note=note,
                        where=p.centre)  # fmt: skip


def _too_many_locked(case: Case, held: Layout | None) -> Iterator[Check]:
    """Locked blocks against the counts and zones of the brief."""
    blocks, order, basis = locked_blocks(held), case.brief.modules, "asked for by the brief"
    count = sum(len(b.modules) for b in blocks)
    if count > case.modules_wanted:
        note = (
            f"the locked blocks hold {count} modules, the brief asks for {case.modules_wanted}: free a block"
        )
        yield judge("place.locked.modules", "Locked modules against those asked for", Measured(count),
                    case.modules_wanted, "max", "modules", basis, note=note)  # fmt: skip
    if len(blocks) > order.blocks_at_most and not order.loose:
        note = f"{len(blocks)} blocks are locked, blocks_at_most is {order.blocks_at_most}: free a block or raise it"
        yield judge("place.locked.blocks", "Locked blocks against blocks_at_most", Measured(len(blocks)),
                    order.blocks_at_most, "max", "blocks", basis, note=note)  # fmt: skip
    for block in blocks:
        if block.zone not in order.zones:
            note = f"block {block.number} is locked in {block.zone}, but modules may only go in {', '.join(order.zones)}"
            yield judge(f"place.locked.zone.{block.number}", f"Zone of locked block {block.number}", Measured(0.0), 1.0,
                        "min", "zones allowed", basis, note=note)  # fmt: skip
    if held is None:
        return
    allowed = {name: o.zones for o, name in named_orders(case)}
    for p in held.placements:
        if p.locked and p.block is None and p.zone not in allowed.get(p.name, (p.zone,)):
            note = f"{p.name} is locked in {p.zone}, but may only go in {', '.join(allowed[p.name])}"
            yield judge(f"place.locked.zone.{_key(p.name)}", f"Zone of {p.name}", Measured(0.0), 1.0, "min",
                        "zones allowed", basis, note=note)  # fmt: skip
