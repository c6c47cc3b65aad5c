"""Proofs that a number of modules and all other parts find no room together, wherever they stand.

The search over sides on optimistic points: a thing is ruled out at a point's cell only where it must hold a point
that no part may hold. Two parts at their distance may pass each other corner to corner, with less room along each
axis (`narrowing.needed`). What the finest points leave open is looked at closer (`closer`). Access rooms, cables'
reach and ways out are left out of account, so that a proof holds with them as well.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import lru_cache
from itertools import combinations, islice
from math import floor

import numpy as np

from packlayout.model.brief import Case, PartOrder
from packlayout.model.geometry import Box, Vec
from packlayout.model.layout import Layout, Placement
from packlayout.placement.bearers import MOST_BEARERS, bearers
from packlayout.placement.blocks import splits
from packlayout.placement.bound import Bound
from packlayout.placement.clear import body_mm, keep_from
from packlayout.placement.closer import Closer, Thing, closer, near_line
from packlayout.placement.entities import locked_blocks, named_orders
from packlayout.placement.forms import Form, block_forms, part_forms, reserve
from packlayout.placement.sides import NONE, OnTop, Stand, sides, stand, stand_at
from packlayout.space.cells import Bools, Sums, running_sums
from packlayout.space.points import Points, open_points

PITCHES_MM = (10.0, 5.0, 4.0)
MOST_POINTS = 12_000_000
CHOICES = 20_000
MOST_SHARES = 80
MOST_THINGS = 12
"""So many points, choices of a side, ways of sharing out, things: with more nothing is proven."""
TINY = 1e-9


def ruled_out(
    case: Case,
    split: tuple[int, ...],
    held: Layout | None = None,
    parts: tuple[str, ...] | None = None,
    deep: bool = True,
) -> float:
    """Whether blocks of these counts and the other parts are proven to find no room together.

    Args:
        case: The case.
        split: Modules of each block that is not locked.
        held: A layout whose locked parts stay.
        parts: Names of the other parts that are asked for; None: all.
        deep: Also by what the points leave, cut finer; that may take some seconds.

    Returns:
        Step of the points or ranges on which it is proven, mm; nought where it is not.
    """
    found = _on_points(case, split, held, parts)
    return found or (standing_room(case, split, held, parts).step_mm if deep else 0.0)


@lru_cache(maxsize=512)
def _on_points(
    case: Case, split: tuple[int, ...], held: Layout | None, parts: tuple[str, ...] | None
) -> float:
    if case.brief.modules.loose:
        return 0.0
    for pitch in _pitches(case):
        job = _job(case, split, held, parts, pitch)
        if job is not None and not _open_ways(case, job, pitch):
            return pitch
    return 0.0


def _pitches(case: Case) -> list[float]:
    """Steps of the points, the coarsest first, as many as are few enough points."""
    return [p for p in PITCHES_MM if sum(_amount(case, zone, p) for zone in _zones(case)) <= MOST_POINTS]


@lru_cache(maxsize=128)
def standing_room(
    case: Case, split: tuple[int, ...], held: Layout | None = None, parts: tuple[str, ...] | None = None
) -> Closer:
    """What is left to blocks of these counts and the other parts, beyond what the finest points tell; see `closer`.

    The blocks come first, the locked ones before the others, then the parts in the order of the brief. Of several ways
    of sharing out what stands on a block, what any of them leaves.
    """
    pitches = _pitches(case)
    job = _job(case, split, held, parts, pitches[-1]) if pitches and not case.brief.modules.loose else None
    if job is None:
        return Closer(0.0)
    steps: list[float] = []
    left: list[list[Stand]] = [[] for _ in job.things]
    proven = True
    for tops in _open_ways(case, job, pitches[-1], every=True):
        made = closer(case, _zones(case), job.things, tops, job.order)
        proven, steps = proven and made.step_mm > 0, [*steps, made.step_mm]
        for ways, more in zip(left, made.sets or [()] * len(left), strict=True):
            ways += more
    if proven:
        return Closer(min(steps, default=pitches[-1]))
    return Closer(0.0, tuple(tuple(ways) for ways in left) if all(left) else ())


def no_room(
    case: Case,
    count: int,
    held: Layout | None = None,
    parts: tuple[str, ...] | None = None,
    deep: bool = True,
) -> float:
    """Whether so many modules and the other parts are proven to find no room, however they are shared out; see `ruled_out`.

    Returns:
        Step of the finest points or ranges that the proof needs, mm; nought where there is none.
    """
    order, locked = case.brief.modules, locked_blocks(held)
    rest, blocks = count - sum(len(b.modules) for b in locked), order.blocks_at_most - len(locked)
    if order.loose or rest <= 0 or blocks <= 0:
        return 0.0
    ways = splits(rest, blocks)
    if len(ways) > MOST_SHARES:
        return 0.0
    finest = PITCHES_MM[0]
    for split in ways:
        pitch = ruled_out(case, split, held, parts, deep)
        if not pitch:
            return 0.0
        finest = min(finest, pitch)
    return finest


def limit(
    case: Case,
    most: int,
    packed: int,
    held: Layout | None = None,
    parts: tuple[str, ...] | None = None,
    deep: bool = True,
) -> Bound | None:
    """The largest count above what is packed that is not proven to have no room, with what that rests on.

    Args:
        case: The case.
        most: A bound that holds already.
        packed: Modules that are known to fit.
        held: A layout whose locked parts stay.
        parts: Names of the other parts that are placed; None: all.
        deep: See `ruled_out`.

    Returns:
        None when not even `most` is proven to have none.
    """
    finest, count = 0.0, most
    while count > packed:
        pitch = no_room(case, count, held, parts, deep)
        if not pitch:
            break
        finest, count = min(finest or pitch, pitch), count - 1
    if count == most:
        return None
    some = crowded(case, count + 1, held, parts)
    others = f" and {_listed(some)}" if some else ""
    return Bound(
        count,
        f"{count + 1} modules in up to {case.brief.modules.blocks_at_most} blocks{others} leave each other no room, "
        "wherever they stand: each choice of which stands before, beside or below the other ends with a thing that "
        f"has no place over optimistic points, or ranges, {finest:g} mm apart at the finest",
    )


def _listed(names: Sequence[str]) -> str:
    return names[0] if len(names) == 1 else f"{', '.join(names[:-1])} and {names[-1]}"


def crowded(
    case: Case, count: int, held: Layout | None = None, parts: tuple[str, ...] | None = None
) -> tuple[str, ...]:
    """The fewest other parts that leave no room for so many modules by the points; only where all of them leave none."""
    names = tuple(name for _, name in named_orders(case)) if parts is None else parts
    for n in range(min(3, len(names))):
        for some in combinations(names, n):
            if no_room(case, count, held, some, deep=False):
                return some
    return names


def _zones(case: Case) -> list[str]:
    used = set(case.brief.modules.zones) | {zone for order in case.brief.parts for zone in order.zones}
    return [z.name for z in case.vehicle.zones if z.name in used]


def _amount(case: Case, zone: str, pitch: float) -> float:
    return float(np.prod(case.zones[zone].bounds.size)) / pitch**3


@lru_cache(maxsize=12)
def _points(case: Case, zone: str, pitch: float) -> tuple[Points, Sums]:
    keep = [(k.mesh, k.distance_mm) for k in keep_from(case)]
    made = open_points(zone, case.zones[zone], body_mm(case, zone), keep, pitch)
    return made, running_sums(made.open)


def _room(case: Case) -> tuple[float, ...]:
    return (case.brief.clearances.parts_mm,) * 6


def _may(points: Points, sums: Sums, size: Vec) -> Bools | None:
    """First points of all boxes of open points that a thing of a size holds at the least."""
    n = [max(1, floor(side / points.pitch_mm + TINY)) for side in size]
    if any(a > b for a, b in zip(n, points.open.shape, strict=True)):
        return None
    a, b, c = n
    s = sums
    count = (
        s[a:, b:, c:] - s[:-a, b:, c:] - s[a:, :-b, c:] - s[a:, b:, :-c]
        + s[:-a, :-b, c:] + s[:-a, b:, :-c] + s[a:, :-b, :-c] - s[:-a, :-b, :-c]
    )  # fmt: skip
    return np.asarray(count == a * b * c)


def _sets(
    case: Case, forms: Sequence[Form], zones: Sequence[str], pitch: float, order: PartOrder | None = None
) -> Iterator[Stand]:
    on_line = order is not None and order.on_line is not None
    for z, zone in enumerate(_zones(case)):
        if zone not in zones:
            continue
        points, sums = _points(case, zone, pitch)
        seen: set[Vec] = set()
        for f, form in enumerate(forms):
            if form.size in seen and not on_line:
                continue
            seen.add(form.size)
            at = _may(points, sums, form.size)
            if at is not None and order is not None and order.on_line is not None:
                high = [f + pitch * np.arange(n) for f, n in zip(points.first, at.shape, strict=True)]
                at &= near_line(case, order, form, [lines - pitch for lines in high], high)
            # the lowest corner lies at most a step before the first point that is held
            made = None if at is None else stand(f, z, form.size, _room(case), points.first, pitch, pitch, at)
            if made is not None:
                yield made


@lru_cache(maxsize=96)
def _block_sets(case: Case, count: int, pitch: float) -> tuple[tuple[Form, ...], tuple[Stand, ...]]:
    x, y, z = (max(case.zones[zone].bounds.size[k] for zone in _zones(case)) for k in range(3))
    forms = block_forms(case, count, (x, y, z))
    return forms, tuple(_sets(case, forms, case.brief.modules.zones, pitch))


@lru_cache(maxsize=96)
def _part_sets(case: Case, number: int, pitch: float) -> tuple[tuple[Form, ...], tuple[Stand, ...]]:
    order = case.brief.parts[number]
    forms = part_forms(case.parts[order.part])
    return forms, tuple(_sets(case, forms, order.zones, pitch, order))


def _still(case: Case, box: Box) -> tuple[Stand, ...]:
    """Of something that stays where it is."""
    made = stand_at(0, 0, box.size, _room(case), np.array([box.lo]))
    return () if made is None else (made,)


@dataclass(frozen=True, slots=True, eq=False)
class _Job:
    """All things of a proof, the blocks first; those first in `order` that are to be settled first."""

    things: tuple[Thing, ...]
    ways: tuple[tuple[OnTop, ...], ...]
    order: tuple[int, ...]


def _job(
    case: Case, split: tuple[int, ...], held: Layout | None, parts: tuple[str, ...] | None, pitch: float
) -> _Job | None:
    """The things over points of a step; None when they, or the ways of sharing out, are too many."""
    locked = {p.name: p for p in held.placements if p.locked and p.block is None} if held is not None else {}
    things = [Thing(_still(case, reserve(case, block))) for block in locked_blocks(held)]
    alike: list[object] = [block.number for block in locked_blocks(held)]
    for count in split:
        forms, sets = _block_sets(case, count, pitch)
        things.append(Thing(sets, forms))
        alike.append((count,))  # blocks of one count may change places
    blocks = len(things)
    upper: list[int] = []
    for number, (order, name) in enumerate(named_orders(case)):
        if parts is not None and name not in parts:
            continue
        if name in locked:
            things.append(Thing(_still(case, locked[name].box)))
        elif order.fixed is not None:
            f = order.fixed
            size = case.parts[order.part].box_size
            things.append(
                Thing(
                    _still(
                        case, Placement(name, order.part, order.zones[0], f.at, f.up, f.turn_deg, size).box
                    )
                )
            )
        else:
            forms, sets = _part_sets(case, number, pitch)
            upper += [len(things)] if order.on_pack else []
            things.append(Thing(sets, forms, order))
    if len(things) > MOST_THINGS:
        return None
    bulk = [max((float(np.prod(s.size)) for s in t.sets), default=0.0) for t in things]
    rank = sorted(range(len(things)), key=lambda i: (i >= blocks, -bulk[i], i))
    ways = tuple(islice(bearers(case, [t.forms for t in things], upper, alike), MOST_BEARERS + 1))
    return None if len(ways) > MOST_BEARERS else _Job(tuple(things), ways, tuple(rank))


def _open_ways(case: Case, job: _Job, pitch: float, every: bool = False) -> list[tuple[OnTop, ...]]:
    """Ways of sharing out what stands on a block that are not proven to leave no room: the first, or every one."""
    sets, apart = [t.sets for t in job.things], case.brief.clearances.parts_mm
    found = (w for w in job.ways if sides(sets, w, job.order, CHOICES, apart, pitch / 2).state != NONE)
    return list(found if every else islice(found, 1))
