"""The figures of a state, from the very functions that the command line uses; and the few that follow a hand.

At rest everything is judged: `weigh` and `check_layout`. While a thing is dragged only its own clearances are asked
for, of a layout that holds nothing else, and its distances to the others are box arithmetic; loads come from the same
evaluator as at rest, without its tolerances. Tests hold the two equal.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from packlayout.desk.operations import block_name, members
from packlayout.desk.state import Goods, State
from packlayout.mass.figures import weigher
from packlayout.mass.payload import Bound
from packlayout.mass.propagate import Figures, propagate
from packlayout.mass.readings import CORNERS
from packlayout.mass.reconcile import reconciled
from packlayout.mass.states import CONVERTED, Aboard, driver_seat, key, laden_states
from packlayout.mass.weigh import weigh
from packlayout.mass.weighing import Weighing
from packlayout.model.brief import Case
from packlayout.model.check import Check
from packlayout.model.geometry import Box, Floats, MassItem, Vec
from packlayout.model.layout import Layout
from packlayout.placement.forms import reserve, slabs
from packlayout.placement.verify import check_layout
from packlayout.units import Measured

GOODS = "goods where the slider stands"
"""Name of the state with the driver and the goods of the slider aboard."""


@dataclass(frozen=True, slots=True)
class Load:
    """What one state of the vehicle weighs, with tolerances at rest and without while something is dragged.

    Attributes:
        name: Of the state.
        mass: kg.
        cg: mm.
        axle: Front and rear, kg.
        corner: Front left, front right, rear left, rear right, kg.
    """

    name: str
    mass: Measured
    cg: tuple[Measured, Measured, Measured]
    axle: tuple[Measured, Measured]
    corner: tuple[Measured, Measured, Measured, Measured]


@dataclass(frozen=True, slots=True)
class Payload:
    """Goods that may be carried at one place, and what sets it."""

    x_mm: float
    allowed: Measured
    bound_by: str


@dataclass(frozen=True, slots=True, eq=False)
class AtRest:
    """A state, judged.

    Attributes:
        weighing: As on the command line.
        goods: With the goods of the slider aboard; None without a load floor or a driver's seat.
        payload: At the slider's place; None likewise.
        checks: Of the layout and the weighing.
        shift: What readings of the stripped vehicle move the inputs by.
        made: What frame, cables and shaft were taken to weigh.
    """

    weighing: Weighing
    goods: Load | None
    payload: Payload | None
    checks: tuple[Check, ...]
    shift: Floats
    made: tuple[MassItem, ...]


@dataclass(frozen=True, slots=True)
class Near:
    """A distance that matters: to what, how much, how much is asked for, and where."""

    id: str
    title: str
    distance_mm: float
    limit_mm: float
    verdict: str
    where: Vec | None


@dataclass(frozen=True, slots=True)
class Moving:
    """What follows the hand.

    Attributes:
        loads: Of the converted vehicle, in each state; nominal values.
        payload: At the slider's place.
        near: The clearances of the thing that is held, the tightest first.
    """

    loads: tuple[Load, ...]
    payload: Payload | None
    near: tuple[Near, ...]


def at_rest(case: Case, state: State, made: tuple[MassItem, ...]) -> AtRest:
    """Judge a state.

    Args:
        case: With the clearances and aims of the state.
        state: What to judge.
        made: What frame, cables and shaft weigh; empty before they are worked out.

    Raises:
        GeometryError: as `weigh` does.
    """
    layout = state.layout
    weighing = weigh(case, layout, made)
    evaluate, inputs = weigher(case, layout, made, _aboard(case, state.goods))
    figures, _ = reconciled(case, evaluate, propagate(evaluate, inputs))
    goods = _load(figures, GOODS) if _aboard(case, state.goods) else None
    payload = None
    if state.goods is not None and evaluate.bounds:
        tight = _tight(evaluate.bounds, figures.value, state.goods.x_mm)
        found = figures.measured(tight.figure)
        payload = Payload(tight.x_mm, Measured(max(found.value, 0.0), found.tolerance), tight.name)
    return AtRest(
        weighing,
        goods,
        payload,
        (*check_layout(case, layout), *weighing.checks),
        figures.inputs.nominal - inputs.nominal,
        made,
    )


def moving(case: Case, state: State, target: str, rest: AtRest) -> Moving:
    """What follows the hand: a state whose `target` is not where it was when `rest` was judged.

    Args:
        case: With the clearances and aims of the state.
        state: With the target where it is held.
        target: What is held.
        rest: Of the state it was picked up from.

    Returns:
        Loads equal to those of `at_rest` without the tolerances, as long as nothing but poses has changed.
    """
    loads, payload = loads_now(case, state, rest)
    return Moving(loads, payload, near(case, state.layout, target))


def loads_now(case: Case, state: State, rest: AtRest) -> tuple[tuple[Load, ...], Payload | None]:
    """Nominal loads in every state, and the payload at the slider's place."""
    more = _aboard(case, state.goods)
    evaluate, inputs = weigher(case, state.layout, rest.made, more)
    if len(inputs.nominal) != len(rest.shift):
        raise ValueError("other things are placed than were judged at rest")
    found = evaluate((inputs.nominal + rest.shift)[:, None])
    value = {name: float(figure[0]) for name, figure in found.items()}
    names = [CONVERTED, *(a.name for a in (*laden_states(case), *more))]
    payload = None
    if state.goods is not None and evaluate.bounds:
        tight = _tight(evaluate.bounds, value, state.goods.x_mm)
        payload = Payload(tight.x_mm, Measured(max(value[tight.figure], 0.0)), tight.name)
    return tuple(_nominal(value, name) for name in names), payload


def near(case: Case, layout: Layout, target: str) -> tuple[Near, ...]:
    """The clearances of one thing, the tightest first: to the body, to keep-outs, to the other parts.

    Returns:
        Distances equal to those of `check_layout` for the whole layout.
    """
    held = members(layout, target)
    # a module that is held by itself takes its block's cradle with it
    blocks = {p.block for p in held if p.block is not None}
    alone = Layout(tuple(p for p in layout.placements if p in held or p.block in blocks))
    rows = [
        Near(c.id, c.title, c.value, c.limit, c.verdict, c.where)
        for c in check_layout(case, alone)
        if c.id.startswith("place.clear.") and c.value is not None and c.limit is not None
        if not c.id.startswith("place.clear.parts")
    ]
    rows += _to_parts(case, layout, {block_name(n) for n in blocks} or {p.name for p in held})
    return tuple(sorted(rows, key=lambda row: (row.distance_mm - row.limit_mm, row.id)))


def things(case: Case, layout: Layout) -> list[tuple[str, Box]]:
    """What keeps clear of each other: blocks with the room of their cradles, and the other parts."""
    blocks = [(block_name(b.number), reserve(case, b)) for b in layout.blocks]
    return [*blocks, *((p.name, p.box) for p in layout.placements if p.block is None)]


def _to_parts(case: Case, layout: Layout, held: set[str]) -> list[Near]:
    """Distances to the others, and what stands in the room before an access face."""
    every = things(case, layout)
    limit = case.brief.clearances.parts_mm
    rows: list[Near] = []
    for name, box in every:
        if name not in held:
            continue
        others = [(n, b) for n, b in every if n not in held]
        if not others:
            continue
        lo, hi = corners(b for _, b in others)
        gaps, depths = _gaps(box, lo, hi)
        distance = np.where(depths > 1e-6, -depths, gaps)
        for k in np.argsort(distance, kind="stable")[:3]:
            found = float(distance[k])
            # the same grain of rounding as in the exact check
            verdict = "fail" if found < limit - 1e-3 else "pass"
            title = f"Clearance between parts: {name} to {others[k][0]}"
            rows.append(Near(f"place.clear.parts.{k}", title, found, limit, verdict, box.centre))
        rows += _in_rooms(case, layout, name, box)
    return rows


def _in_rooms(case: Case, layout: Layout, name: str, box: Box) -> list[Near]:
    """The thing in the access rooms of others."""
    rows: list[Near] = []
    for p in layout.placements:
        if name in (p.name, block_name(p.block) if p.block is not None else ""):
            continue
        for n, room in enumerate(slabs(case.parts[p.part], p.pose)):
            inner = room.box.grown(-1e-3)
            if inner.overlap_depth(box) > 0:
                depth = room.depth_mm
                k = max(range(3), key=lambda i: abs(room.face[i]))
                reach = box.lo[k] - room.box.lo[k] if room.face[k] > 0 else room.box.hi[k] - box.hi[k]
                title = f"Access to {p.name}, {name} in the way"
                rows.append(Near(f"place.access.{n}", title, max(0.0, reach), depth, "fail", room.box.centre))
    return rows


def corners(boxes: Iterable[Box]) -> tuple[Floats, Floats]:
    """(n, 3) lowest and (n, 3) highest corners."""
    rows = list(boxes)
    return np.array([b.lo for b in rows]).reshape(-1, 3), np.array([b.hi for b in rows]).reshape(-1, 3)


def _gaps(box: Box, lo: Floats, hi: Floats) -> tuple[Floats, Floats]:
    """Distance and depth of overlap of one box against many."""
    a, b = np.array(box.lo), np.array(box.hi)
    gap = np.maximum(np.maximum(lo - b, a - hi), 0.0)
    depth = (np.minimum(b, hi) - np.maximum(a, lo)).min(axis=1)
    return np.sqrt((gap * gap).sum(axis=1)), depth


def _aboard(case: Case, goods: Goods | None) -> tuple[Aboard, ...]:
    seat, floor = driver_seat(case), case.vehicle.load_floor
    if goods is None or seat is None or floor is None:
        return ()
    source = case.conventions.sources.get("driver_kg", "")
    z = floor.height_mm + floor.goods_cg_above_mm
    at = (Measured(goods.x_mm), Measured(0.0), Measured(z))
    items = (
        MassItem("driver", Measured(case.conventions.driver_kg), seat.at, "occupant", None, source),
        MassItem("goods", Measured(goods.mass_kg), at, "payload"),
    )
    return (Aboard(GOODS, items),)


def _tight(bounds: Sequence[Bound], value: Mapping[str, float], x_mm: float) -> Bound:
    """The limit that allows least at the place of the load floor nearest to the slider."""
    place = min(bounds, key=lambda b: abs(b.x_mm - x_mm)).place
    return min((b for b in bounds if b.place == place), key=lambda b: value[b.figure])


def _load(figures: Figures, name: str) -> Load:
    front, rear = (figures.measured(key(name, f"{end} axle")) for end in ("front", "rear"))
    a, b, c, d = (figures.measured(key(name, f"{wheel} corner")) for wheel in CORNERS)
    return Load(
        name, figures.measured(key(name, "mass")), figures.point(key(name, "cg")), (front, rear), (a, b, c, d)
    )


def _nominal(value: Mapping[str, float], name: str) -> Load:
    def of(what: str) -> Measured:
        return Measured(value[key(name, what)])

    a, b, c, d = (of(f"{wheel} corner") for wheel in CORNERS)
    return Load(
        name,
        of("mass"),
        (of("cg x"), of("cg y"), of("cg z")),
        (of("front axle"), of("rear axle")),
        (a, b, c, d),
    )
