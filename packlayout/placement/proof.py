"""Proofs that a number of modules and all other parts find no room together, wherever they stand.

The search over sides on optimistic points: a thing is ruled out at a point's cell only where it must hold a point
that no part may hold. Two parts at their distance pass each other aslant with less room along each axis: an axis
along which they do not pass has all of it, else the largest of three has the distance over the root of three.
Access rooms, cables' reach and ways out are left out of account, so that a proof holds with them as well.
"""

from collections.abc import Iterator, Sequence
from functools import lru_cache
from itertools import combinations, islice
from math import cos, floor, radians

import numpy as np

from packlayout.model.brief import Case, PartOrder
from packlayout.model.geometry import Box, Vec
from packlayout.model.layout import Layout, Placement
from packlayout.placement.anchors import shaft_line
from packlayout.placement.blocks import splits
from packlayout.placement.bound import Bound
from packlayout.placement.clear import apart_mm, body_mm, keep_from
from packlayout.placement.entities import locked_blocks, named_orders
from packlayout.placement.forms import Form, block_forms, part_forms, reserve
from packlayout.placement.sides import NONE, Stand, sides, stand, stand_at
from packlayout.placement.together import MOST_BEARERS, bearers
from packlayout.space.cells import Bools, Sums, running_sums
from packlayout.space.points import Points, open_points

PITCHES_MM = (10.0, 5.0, 4.0)
MOST_POINTS = 12_000_000
CHOICES = 20_000
MOST_SHARES = 80
MOST_THINGS = 12
"""So many points, choices of a side, ways of sharing out, things: with more nothing is proven."""
TINY = 1e-9


@lru_cache(maxsize=512)
def ruled_out(
    case: Case, split: tuple[int, ...], held: Layout | None = None, parts: tuple[str, ...] | None = None
) -> float:
    """Whether blocks of these counts and the other parts are proven to find no room together.

    Args:
        case: The case.
        split: Modules of each block that is not locked.
        held: A layout whose locked parts stay.
        parts: Names of the other parts that are asked for; None: all.

    Returns:
        Step of the points on which it is proven, mm; nought where it is not.
    """
    if case.brief.modules.loose:
        return 0.0
    for pitch in PITCHES_MM:
        if sum(_amount(case, zone, pitch) for zone in _zones(case)) > MOST_POINTS:
            break
        if _none_left(case, split, held, parts, pitch):
            return pitch
    return 0.0


def no_room(
    case: Case, count: int, held: Layout | None = None, parts: tuple[str, ...] | None = None
) -> float:
    """Whether so many modules and the other parts are proven to find no room, however they are shared out.

    Returns:
        Step of the finest points that the proof needs, mm; nought where there is none.
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
        pitch = ruled_out(case, split, held, parts)
        if not pitch:
            return 0.0
        finest = min(finest, pitch)
    return finest


def limit(
    case: Case, most: int, packed: int, held: Layout | None = None, parts: tuple[str, ...] | None = None
) -> Bound | None:
    """The largest count above what is packed that is not proven to have no room, with what that rests on.

    Args:
        case: The case.
        most: A bound that holds already.
        packed: Modules that are known to fit.
        held: A layout whose locked parts stay.
        parts: Names of the other parts that are placed; None: all.

    Returns:
        None when not even `most` is proven to have none.
    """
    finest, count = 0.0, most
    while count > packed:
        pitch = no_room(case, count, held, parts)
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
        f"has no place over optimistic points {finest:g} mm apart",
    )


def _listed(names: Sequence[str]) -> str:
    return names[0] if len(names) == 1 else f"{', '.join(names[:-1])} and {names[-1]}"


def crowded(
    case: Case, count: int, held: Layout | None = None, parts: tuple[str, ...] | None = None
) -> tuple[str, ...]:
    """The fewest other parts that leave no room for so many modules; only where all of them are proven to."""
    names = tuple(name for _, name in named_orders(case)) if parts is None else parts
    for n in range(min(3, len(names))):
        for some in combinations(names, n):
            if no_room(case, count, held, some):
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
                at &= _near_line(case, order, form, points, at.shape)
            # the lowest corner lies at most a step before the first point that is held
            made = None if at is None else stand(f, z, form.size, _room(case), points.first, pitch, pitch, at)
            if made is not None:
                yield made


def _near_line(case: Case, order: PartOrder, form: Form, points: Points, shape: tuple[int, ...]) -> Bools:
    """Where a part's last shaft port may be as near to the shaft line as the brief asks."""
    line, wanted, part = shaft_line(case), order.on_line, case.parts[order.part]
    ports = [p for p in part.ports if p.kind == "shaft"]
    if line is None or wanted is None or not ports:
        return np.ones(shape, dtype=np.bool_)
    start, along = line
    member = form.members[0]
    pose = Placement("", "", "", (0.0, 0.0, 0.0), member.up, member.turn_deg, part.box_size).pose
    looks = pose.direction(ports[-1].direction)
    if sum(a * b for a, b in zip(looks, along, strict=True)) < cos(radians(wanted.angle_deg)) - TINY:
        return np.zeros(shape, dtype=np.bool_)
    off, k = pose.point(ports[-1].at), max(range(3), key=lambda n: abs(along[n]))
    spare, pitch = wanted.offset_mm + TINY, points.pitch_mm
    high = [points.first[n] + off[n] + pitch * np.arange(shape[n]) for n in range(3)]
    # the foot on the line of any port in a cell, and how far the line may be from there along the other axes
    ends = [(high[k] - pitch - spare - start[k]) / along[k], (high[k] + spare - start[k]) / along[k]]
    near = np.ones(shape, dtype=np.bool_)
    for n in range(3):
        if n == k:
            continue
        rows = np.stack([start[n] + along[n] * e for e in ends])
        a, b = rows.min(axis=0) - spare, rows.max(axis=0) + spare
        ok = (high[n][None] >= a[:, None]) & (high[n][None] - pitch <= b[:, None])
        order_ = ok if k < n else ok.T
        near &= np.expand_dims(order_, 3 - k - n)
    return near


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


def _none_left(
    case: Case, split: tuple[int, ...], held: Layout | None, parts: tuple[str, ...] | None, pitch: float
) -> bool:
    locked = {p.name: p for p in held.placements if p.locked and p.block is None} if held is not None else {}
    things: list[tuple[Stand, ...]] = []
    forms: list[tuple[Form, ...]] = []
    alike: list[object] = []  # blocks of one count may change places
    for block in locked_blocks(held):
        things.append(_still(case, reserve(case, block)))
        alike.append(block.number)
        forms.append(())
    for count in split:
        made, sets = _block_sets(case, count, pitch)
        things.append(sets)
        forms.append(made)
        alike.append((count,))
    blocks = len(things)
    upper: list[int] = []
    for number, (order, name) in enumerate(named_orders(case)):
        if parts is not None and name not in parts:
            continue
        if name in locked:
            made, sets = (), _still(case, locked[name].box)
        elif order.fixed is not None:
            f = order.fixed
            box = Placement(
                name, order.part, order.zones[0], f.at, f.up, f.turn_deg, case.parts[order.part].box_size
            ).box
            made, sets = (), _still(case, box)
        else:
            made, sets = _part_sets(case, number, pitch)
            upper += [len(things)] if order.on_pack else []
        things.append(sets)
        forms.append(made)
    if len(things) > MOST_THINGS:
        return False
    if any(not sets for sets in things):
        return True
    bulk = [max(float(np.prod(s.size)) for s in sets) for sets in things]
    rank = sorted(range(len(things)), key=lambda i: (i >= blocks, -bulk[i], i))
    slant = apart_mm(case)
    ways = list(islice(bearers(case, forms, upper, alike), MOST_BEARERS + 1))
    return len(ways) <= MOST_BEARERS and all(
        sides(things, tops, rank, CHOICES, slant, pitch / 2).state == NONE for tops in ways
    )
