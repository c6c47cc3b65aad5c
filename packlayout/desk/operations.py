"""What can be done to a state: each operation takes one and returns another, or refuses in words.

A target is the name of a placed thing: one part, one module, or `pack block N` for all modules of a block.
"""

from collections.abc import Iterable
from dataclasses import replace
from math import isfinite

from packlayout.desk.state import Goods, RefusedError, State, distinct
from packlayout.model.brief import Aims, Case, Clearances
from packlayout.model.catalogue import SignedAxis
from packlayout.model.geometry import Box, Vec
from packlayout.model.layout import Layout, Placement
from packlayout.space.clearance import inside

FARTHEST_MM = 20_000.0
"""Nothing is put farther than this from the front axle line."""

MOST_PARTS = 400
"""More things than this no layout may hold; the same as in a layout file."""

BLOCK = "pack block "


def block_name(number: int) -> str:
    """What a block of modules is called."""
    return f"{BLOCK}{number}"


def members(layout: Layout, target: str) -> tuple[Placement, ...]:
    """The placements a target stands for.

    Raises:
        RefusedError: for a name that is not in the layout.
    """
    if target.startswith(BLOCK) and target[len(BLOCK) :].isdecimal():
        number = int(target[len(BLOCK) :])
        found = tuple(p for p in layout.placements if p.block == number)
    else:
        found = tuple(p for p in layout.placements if p.name == target)
    if not found:
        raise RefusedError(f"{target!r} is not in the layout; it may have been taken out")
    return found


def box_of(placements: Iterable[Placement]) -> Box:
    """The box around some placements."""
    first, *rest = placements
    box = first.box
    for p in rest:
        box = box.joined(p.box)
    return box


def put(case: Case, state: State, target: str, at: Vec) -> State:
    """A target with the lowest corner of its box at a point; it changes zone where the point lies in another.

    Raises:
        RefusedError: for a locked thing, or a point far away from any vehicle.
    """
    moving = members(state.layout, target)
    _refuse_locked(moving, target)
    for value in at:
        if not isfinite(value) or abs(value) > FARTHEST_MM:
            raise RefusedError(
                f"{target}: {value:g} mm is no place on a vehicle; allowed: -20000 to 20000 mm"
            )
    corner = box_of(moving).lo
    by = tuple(round(b, 3) - a for a, b in zip(corner, at, strict=True))
    moved = tuple(_moved(p, (by[0], by[1], by[2])) for p in moving)
    zone = zone_at(case, box_of(moved), moved[0].zone)
    return with_placements(state, tuple(replace(p, zone=zone) for p in moved))


def shift(case: Case, state: State, target: str, by: Vec) -> State:
    """A target moved by a step."""
    lo = box_of(members(state.layout, target)).lo
    return put(case, state, target, (lo[0] + by[0], lo[1] + by[1], lo[2] + by[2]))


def _moved(p: Placement, by: Vec) -> Placement:
    at = tuple(round(a + b, 6) for a, b in zip(p.at, by, strict=True))
    return replace(p, at=(at[0], at[1], at[2]))


def zone_at(case: Case, box: Box, now: str) -> str:
    """The zone that holds the middle of a box; the present one when none other does."""
    middle = box.centre
    if now in case.zones and _within(middle, case.zones[now].bounds):
        return now
    for name, mesh in case.zones.items():
        if name != now and _within(middle, mesh.bounds) and inside(middle, mesh):
            return name
    return now


def _within(point: Vec, box: Box) -> bool:
    return all(lo <= c <= hi for lo, c, hi in zip(box.lo, point, box.hi, strict=True))


def turn(state: State, target: str, quarters: int) -> State:
    """A target turned about the vertical through its middle, anticlockwise seen from above.

    Raises:
        RefusedError: for a locked thing.
    """
    moving = members(state.layout, target)
    _refuse_locked(moving, target)
    for _ in range(quarters % 4):
        x, y, _ = box_of(moving).centre
        moving = tuple(_turned(p, x, y) for p in moving)
    return with_placements(state, moving)


def _turned(p: Placement, x: float, y: float) -> Placement:
    """A quarter turn about a vertical line: (dx, dy) -> (-dy, dx)."""
    cx, cy, _ = p.box.centre
    stood = replace(p, turn_deg=(p.turn_deg + 90) % 360)
    size = stood.box.size
    middle = (x - (cy - y), y + (cx - x))
    at = (round(middle[0] - size[0] / 2, 6), round(middle[1] - size[1] / 2, 6), p.at[2])
    return replace(stood, at=at)


def stand(case: Case, state: State, target: str, up: SignedAxis) -> State:
    """A part stood on another face, its middle over the same point and its base at the same height.

    Raises:
        RefusedError: for a face its maker does not allow, for a block, for a locked thing.
    """
    moving = members(state.layout, target)
    _refuse_locked(moving, target)
    if len(moving) != 1:
        raise RefusedError(f"{target}: modules of a block are stood one by one")
    p = moving[0]
    allowed = case.parts[p.part].up
    if up not in allowed:
        raise RefusedError(f"{p.name} may not stand with {up} up; allowed: {', '.join(allowed)}")
    stood = replace(p, up=up)
    (x, y, _), size = p.box.centre, stood.box.size
    at = (round(x - size[0] / 2, 6), round(y - size[1] / 2, 6), p.at[2])
    return with_placements(state, (replace(stood, at=at),))


def lock(state: State, target: str, locked: bool) -> State:
    """A target that the program and the hand leave where it is, or no longer."""
    return with_placements(state, tuple(replace(p, locked=locked) for p in members(state.layout, target)))


def take_out(state: State, target: str) -> State:
    """A target set aside.

    Raises:
        RefusedError: for a locked thing.
    """
    going = members(state.layout, target)
    _refuse_locked(going, target)
    names = {p.name for p in going}
    left = tuple(p for p in state.layout.placements if p.name not in names)
    return replace(state, layout=Layout(left, state.layout.title), out=(*state.out, *going))


def put_in(state: State, name: str) -> State:
    """A thing that was set aside, back where it stood last; `pack block N` for all modules of that block.

    Raises:
        RefusedError: for a name that is not out, or a layout that is full.
    """
    number = int(name[len(BLOCK) :]) if name.startswith(BLOCK) and name[len(BLOCK) :].isdecimal() else None
    coming = tuple(p for p in state.out if p.name == name or (number is not None and p.block == number))
    if not coming:
        raise RefusedError(f"{name!r} has not been taken out")
    if len(state.layout.placements) + len(coming) > MOST_PARTS:
        raise RefusedError(f"a layout holds no more than {MOST_PARTS} things")
    names = {p.name for p in coming}
    back = tuple(replace(p, locked=False) for p in coming)
    placements = (*state.layout.placements, *back)
    ordered = tuple(sorted(placements, key=lambda p: p.block is None))
    left = tuple(p for p in state.out if p.name not in names)
    return replace(state, layout=Layout(ordered, state.layout.title), out=left)


def exchange(case: Case, state: State, target: str, part: str) -> State:
    """A part replaced by another of the same kind, its middle over the same point and its base at the same height.

    Raises:
        RefusedError: for a part of another kind, a block, a locked thing.
    """
    moving = members(state.layout, target)
    _refuse_locked(moving, target)
    new = case.parts[part]
    made: list[Placement] = []
    for p in moving:
        old = case.parts[p.part]
        if new.kind != old.kind:
            raise RefusedError(
                f"{p.name} is a {old.kind}, {new.name} a {new.kind}; allowed: a part of the same kind"
            )
        if p.block is not None:
            raise RefusedError("all modules of a pack are alike: another module is asked for in the brief")
        others = {q.name for q in (*state.layout.placements, *state.out) if q.name != p.name}
        name = distinct(new.name, others) if p.name.startswith(old.name) else p.name
        up = p.up if p.up in new.up else new.up[0]
        stood = replace(p, name=name, part=part, size=new.box_size, up=up)
        (x, y, _), size = p.box.centre, stood.box.size
        made.append(replace(stood, at=(round(x - size[0] / 2, 6), round(y - size[1] / 2, 6), p.at[2])))
    changed = dict(zip((p.name for p in moving), made, strict=True))
    placements = tuple(changed.get(p.name, p) for p in state.layout.placements)
    return replace(state, layout=Layout(placements, state.layout.title))


def with_clearances(state: State, clearances: Clearances) -> State:
    """Other clearances."""
    return replace(state, clearances=clearances)


def with_aims(state: State, aims: Aims) -> State:
    """Other aims."""
    return replace(state, aims=aims)


def with_goods(case: Case, state: State, goods: Goods) -> State:
    """Goods elsewhere on the load floor, or more or less of them.

    Raises:
        RefusedError: off the floor, for a mass that cannot be, or for a vehicle without a load floor.
    """
    floor = case.vehicle.load_floor
    if floor is None:
        raise RefusedError("the vehicle has no load floor; give `load_floor` in its file")
    if not floor.begin_x_mm <= goods.x_mm <= floor.end_x_mm:
        raise RefusedError(
            f"{goods.x_mm:g} mm is off the load floor; allowed: {floor.begin_x_mm:g} to {floor.end_x_mm:g} mm"
        )
    if not 0 <= goods.mass_kg <= case.vehicle.plated.gross_kg:
        raise RefusedError(
            f"{goods.mass_kg:g} kg of goods; allowed: 0 to {case.vehicle.plated.gross_kg:g} kg"
        )
    return replace(state, goods=goods)


def with_placements(state: State, changed: Iterable[Placement]) -> State:
    """The state with placements of the same names put in the place of the old ones."""
    new = {p.name: p for p in changed}
    placements = tuple(new.get(p.name, p) for p in state.layout.placements)
    return replace(state, layout=Layout(placements, state.layout.title))


def _refuse_locked(placements: Iterable[Placement], target: str) -> None:
    if any(p.locked for p in placements):
        raise RefusedError(f"{target} is locked; unlock it first")
