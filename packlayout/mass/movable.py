"""Where a part that could stand elsewhere leaves the most payload."""

from collections.abc import Iterator

import numpy as np

from packlayout.mass.payload import PLACES, Bound, limit_of
from packlayout.mass.propagate import Figures
from packlayout.mass.states import DRIVER, key
from packlayout.mass.weighing import Movable
from packlayout.model.brief import Case, PartOrder
from packlayout.model.layout import Layout, Placement

STEPS = 41
"""Places that are tried along a zone."""


def movables(case: Case, layout: Layout, bounds: tuple[Bound, ...], figures: Figures) -> tuple[Movable, ...]:
    """The best place for each part that is not a battery module and was not fixed by the user.

    The part is carried along each zone that the brief allows it, by itself; whether there is room for it there
    is the placement's affair. The payload is that of goods at the middle of the load floor.

    Args:
        case: Supplies the zones and the part masses.
        layout: Where the parts stand now.
        bounds: Of the payload.
        figures: Of the weighing.

    Returns:
        One row for each such part, the greatest gain first; none without a load floor or a driver's seat.
    """
    middle = [bound for bound in bounds if bound.place == PLACES // 2]
    if not middle:
        return ()
    rows = [
        _movable(case, placement, order, middle, figures)
        for placement in layout.placements
        if placement.block is None and not placement.locked and (order := _order(case, placement)) is not None
    ]
    return tuple(sorted(rows, key=lambda row: row.allowed_kg - row.best_allowed_kg))


def _movable(
    case: Case, placement: Placement, order: PartOrder, middle: list[Bound], figures: Figures
) -> Movable:
    wheelbase = case.vehicle.wheelbase_mm.value
    kg = case.parts[placement.part].mass_kg.value
    front, rear = figures.value[key(DRIVER, "front axle")], figures.value[key(DRIVER, "rear axle")]
    limits = [float(limit_of(bound, figures.value)) for bound in middle]

    def allowed(by_mm: float) -> tuple[float, str]:
        moved = kg * by_mm / wheelbase
        found = [
            (bound.allowed(front - moved, rear + moved, limit, bound.x_mm / wheelbase), bound.name)
            for bound, limit in zip(middle, limits, strict=True)
        ]
        return min(found)

    here = placement.box.centre[0]
    now, name = allowed(0.0)
    best = (now, here, placement.zone, name)
    half = placement.box.size[0] / 2
    for zone, low, high in _spans(case, order):
        for x in np.linspace(low + half, high - half, STEPS) if high - low > 2 * half else ():
            there, by = allowed(float(x) - here)
            # a gain below a gram is rounding, and no reason to move anything
            if there > best[0] + 1e-3:
                best = (there, float(x), zone, by)
    return Movable(
        placement.name, placement.zone, here, max(now, 0.0), best[2], best[1], max(best[0], 0.0), best[3]
    )


def _order(case: Case, placement: Placement) -> PartOrder | None:
    orders = [order for order in case.brief.parts if order.part == placement.part]
    named = [order for order in orders if order.name == placement.name]
    return next(iter(named or orders), None)


def _spans(case: Case, order: PartOrder) -> Iterator[tuple[str, float, float]]:
    """Each zone the part may stand in, with its ends along x."""
    for zone in case.vehicle.zones:
        if zone.name not in order.zones:
            continue
        if zone.name in case.zones:
            box = case.zones[zone.name].bounds
            yield zone.name, box.lo[0], box.hi[0]
        elif zone.box is not None:
            ends = zone.box.corner[0], zone.box.opposite[0]
            yield zone.name, min(ends), max(ends)
        elif zone.stations is not None:
            ends = [station.x for station in zone.stations]
            yield zone.name, min(ends), max(ends)
