"""Can it be put in and got out: straight ways through a zone's open sides, and what must come off first."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from packlayout.model.brief import Case
from packlayout.model.check import Check, judge
from packlayout.model.geometry import Box, Vec
from packlayout.model.layout import Layout, axis
from packlayout.model.vehicle import Zone
from packlayout.placement.entities import named_orders
from packlayout.placement.forms import reserve
from packlayout.space.ways import passes, swept, walls_of
from packlayout.units import Measured

_NOTHING = np.empty((0, 3, 3))
WORDS: dict[Vec, str] = {
    (0.0, 0.0, 1.0): "upward", (0.0, 0.0, -1.0): "downward", (1.0, 0.0, 0.0): "rearward",
    (-1.0, 0.0, 0.0): "forward", (0.0, 1.0, 0.0): "to the right", (0.0, -1.0, 0.0): "to the left",
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class WayOut:
    """How one thing leaves its zone.

    Attributes:
        name: A part, or `pack block 1`.
        way: The direction; None when there is none.
        first: What must come off before, in that order.
        shut_by: What stands in the way of the best direction; empty when nothing does.
    """

    name: str
    way: Vec | None
    first: tuple[str, ...]
    shut_by: str = ""


def things(case: Case, layout: Layout) -> list[tuple[str, str, Box]]:
    """Blocks with the room of their cradles, and the other parts: name, zone, box."""
    blocks = [(f"pack block {b.number}", b.zone, reserve(case, b)) for b in layout.blocks]
    return [*blocks, *((p.name, p.zone, p.box) for p in layout.placements if p.block is None)]


def through(zone: Zone, box: Box, way: Vec) -> bool:
    """Whether a box passes the stated opening of a zone; one without a stated opening is open all over."""
    if zone.opening is None:
        return True
    a, b = zone.opening.corner, zone.opening.opposite
    return all(
        abs(way[k]) > 0.5 or (min(a[k], b[k]) <= box.lo[k] + 1e-6 and box.hi[k] <= max(a[k], b[k]) + 1e-6)
        for k in range(3)
    )


def ways_out(case: Case, layout: Layout) -> tuple[WayOut, ...]:
    """The straight way out of each thing, and what must come off before it."""
    every = things(case, layout)
    zones = {zone.name: zone for zone in case.vehicle.zones}
    names = [k.name for k in case.vehicle.keep_outs if not k.removable]
    solids = [case.keep_outs[n] for n in names]
    bolted = [k.name for k in case.vehicle.keep_outs if k.removable]
    direct: dict[str, tuple[Vec | None, tuple[str, ...], str]] = {}
    for name, zone, box in every:
        surface = case.zones[zone]
        found: list[tuple[int, Vec, tuple[str, ...]]] = []
        shut = ""
        for n, side in enumerate(zones[zone].opens):
            way = axis(side)
            lid = zones[zone].lid_from_mm if n == 0 else None
            if not through(zones[zone], box, way):
                shut = shut or f"the edge of the opening of {zone}"
                continue
            hit = passes(box, way, surface.bounds, walls_of(surface, way, lid), solids)
            if hit is not None:
                shut = shut or (f"the surface of {zone}" if hit < 0 else names[hit])
                continue
            path = swept(box, way, surface.bounds)
            over = tuple(
                b for b in bolted if passes(path, way, path, _NOTHING, [case.keep_outs[b]]) is not None
            )
            over += tuple(other for other, _, b in every if other != name and b.overlap_depth(path) > 1e-6)
            found.append((len(over), way, over))
        if found:
            _, way, over = min(found, key=lambda f: f[0])
            direct[name] = (way, over, "")
        else:
            direct[name] = (None, (), shut or f"{zone} opens to no side")
    return tuple(WayOut(name, direct[name][0], _order(name, direct), direct[name][2]) for name, _, _ in every)


def _order(name: str, direct: dict[str, tuple[Vec | None, tuple[str, ...], str]]) -> tuple[str, ...]:
    """All that must come off before a thing, what is in the way of others first."""
    out: list[str] = []
    busy: set[str] = set()

    def take(one: str) -> None:
        if one in busy:
            return
        busy.add(one)
        for other in direct[one][1] if one in direct else ():
            take(other)
        if one != name:
            out.append(one)

    take(name)
    return tuple(out)


def check_ways(case: Case, layout: Layout) -> tuple[Check, ...]:
    """Judge that each block and part can be put in straight; serviced parts are told with what comes off first."""
    ways = ways_out(case, layout)
    orders = {name: order for order, name in named_orders(case)}
    basis = "a straight way through the open side of the zone"
    made: list[Check] = []
    for found in ways:
        key = found.name.replace(" ", "-")
        if found.way is None:
            title = f"Way in for {found.name}: {found.shut_by} in the way"
            made.append(judge(f"place.way.{key}", title, Measured(0.0), 1.0, "min", "ways", basis,
                              note=f"move {found.name}, or state another open side of its zone"))  # fmt: skip
        elif found.name in orders and orders[found.name].serviced:
            off = ", then ".join(found.first)
            title = f"Reaching {found.name} {WORDS[found.way]}" + (
                f": take off {off}" if off else ": nothing to take off"
            )
            most = orders[found.name].removals_at_most
            limit = float(len(ways) if most is None else most)
            made.append(judge(f"place.service.{key}", title, Measured(float(len(found.first))), limit, "max",
                              "parts off first", "serviced part of the brief"))  # fmt: skip
    if not any(c.id.startswith("place.way") for c in made):
        made.append(judge("place.way", "Blocks and parts that have a straight way in", Measured(float(len(ways))),
                          float(len(ways)), "min", "things", basis))  # fmt: skip
    return tuple(made)


def in_order(ways: Sequence[WayOut]) -> tuple[str, ...]:
    """The order to put everything in: a thing goes in before all that stands in its way."""
    out: list[str] = []
    for found in sorted(ways, key=lambda w: (-len(w.first), w.name)):
        out.append(found.name)
    return tuple(out)


@dataclass(frozen=True, slots=True)
class Removal:
    """How one thing is got out.

    Attributes:
        name: A part, or `pack block 1`.
        serviced: True when the brief asks that it can be got out for service.
        way: `upward`, `rearward` ...; empty when there is none.
        first: What must come off before it, in that order; of the vehicle's own things those that are bolted on.
        shut_by: What stands in the way when there is no way.
    """

    name: str
    serviced: bool
    way: str
    first: tuple[str, ...]
    shut_by: str


@dataclass(frozen=True, slots=True)
class Service:
    """The order of assembly, and how each thing is got out again.

    Attributes:
        put_in: Names in the order they go in; what is bolted on of the vehicle's own goes on again after them.
        removals: Those that the brief has serviced first, then the others.
    """

    put_in: tuple[str, ...]
    removals: tuple[Removal, ...]


def service_of(case: Case, layout: Layout) -> Service:
    """In which order a layout is put together, and what comes off to reach each thing in it."""
    ways = ways_out(case, layout)
    asked = serviced(case)
    rows = [
        Removal(w.name, w.name in asked, WORDS[w.way] if w.way is not None else "", w.first, w.shut_by)
        for w in ways
    ]
    return Service(in_order(ways), tuple(sorted(rows, key=lambda r: not r.serviced)))


def serviced(case: Case) -> frozenset[str]:
    """Names of the parts that the brief has got out for service."""
    return frozenset(name for order, name in named_orders(case) if order.serviced)
