"""Loads, heights and road figures held against the plate, the tyres and the design code."""

import re
from collections.abc import Callable, Iterator
from dataclasses import dataclass

from packlayout.mass.payload import PLACES, Bound, tightest
from packlayout.mass.propagate import Figures
from packlayout.mass.readings import CORNERS
from packlayout.mass.states import CHANGE, CONVERTED, DRIVER, FULL_LOAD, Aboard, driver_seat, key
from packlayout.model.brief import Case
from packlayout.model.catalogue import CodeLimit
from packlayout.model.check import Check, Sense, judge, unknown
from packlayout.units import Measured


@dataclass(frozen=True, slots=True)
class Judged:
    """A check and the figure it was made from; None when an input is missing."""

    check: Check
    figure: str | None


def judged_loads(
    case: Case, figures: Figures, laden: tuple[Aboard, ...], bounds: tuple[Bound, ...]
) -> tuple[Judged, ...]:
    """All checks of a weighing.

    Args:
        case: Plate, tyres and design code.
        figures: Of `figures.Weigher`.
        laden: The laden states.
        bounds: Of the payload.

    Returns:
        Axles, gross mass and tyres in each laden state; what the design code limits; and an `unknown`
        for each state that could not be made up.
    """
    made: list[Judged] = []
    for aboard in laden:
        made += _plate(case, figures, aboard)
        made += _tyres(case, figures, aboard.name)
    made += (Judged(check, None) for check in _missing(case))
    for limit in case.design_code.limits:
        made += _code(case, figures, limit, laden, bounds)
    return tuple(made)


def slug(name: str) -> str:
    """A name as the end of a check's id."""
    return re.sub(r"[^a-z0-9]+", "-", name.lower()).strip("-")


def _judged(
    figures: Figures, figure: str, id: str, title: str, limit: float, sense: Sense, unit: str, basis: str
) -> Judged:
    return Judged(judge(id, title, figures.measured(figure), limit, sense, unit, basis), figure)


def _plate(case: Case, figures: Figures, aboard: Aboard) -> Iterator[Judged]:
    plate = case.vehicle.plated
    basis = f"maker's plate{f': {plate.source}' if plate.source else ''}"
    state, end = aboard.name, slug(aboard.name)
    for axle, limit in (("front", plate.front_axle_kg), ("rear", plate.rear_axle_kg)):
        figure = key(state, f"{axle} axle")
        title = f"{axle} axle load, {state}"
        yield _judged(figures, figure, f"axle.{axle}.max.{end}", title, limit, "max", "kg", basis)
    lighter = min((key(state, f"{axle} axle") for axle in ("front", "rear")), key=lambda f: figures.value[f])
    title = f"lighter axle stays on the ground, {state}"
    yield _judged(figures, lighter, f"axle.lighter.min.{end}", title, 0.0, "min", "kg", "statics")
    mass = key(state, "mass")
    # a state that is loaded up to the plate says nothing by meeting it
    if aboard.goods_at is None or figures.value[mass] > plate.gross_kg + 1e-6:
        title = f"gross mass, {state}"
        yield _judged(figures, mass, f"gross.max.{end}", title, plate.gross_kg, "max", "kg", basis)


def _tyres(case: Case, figures: Figures, state: str) -> Iterator[Judged]:
    tyres = case.vehicle.tyres
    basis = f"load capacity of {tyres.size}{f': {tyres.source}' if tyres.source else ''}"
    for axle, limit in (("front", tyres.front_load_kg), ("rear", tyres.rear_load_kg)):
        wheels = [key(state, f"{wheel} corner") for wheel in CORNERS if wheel.startswith(axle)]
        heavier = max(wheels, key=lambda wheel: figures.value[wheel])
        title = f"load of the heavier {axle} tyre, {state}"
        yield _judged(figures, heavier, f"tyre.{axle}.max.{slug(state)}", title, limit, "max", "kg", basis)


def _missing(case: Case) -> Iterator[Check]:
    seat, floor = driver_seat(case), case.vehicle.load_floor
    named = [state.name for state in case.brief.load_states]
    plate = "maker's plate"
    if seat is None and DRIVER not in named:
        missing = "no seat called 'driver' in the vehicle's seats, so no state with a driver was weighed"
        yield unknown(f"gross.max.{DRIVER}", "gross mass, driver", "kg", plate, missing)
    if (floor is None or seat is None) and FULL_LOAD not in named:
        lacks = "load_floor" if floor is None else "seat called 'driver'"
        missing = f"no {lacks} in the vehicle, so the state loaded to the plate was not weighed"
        end = slug(FULL_LOAD)
        yield unknown(f"axle.rear.max.{end}", f"rear axle load, {FULL_LOAD}", "kg", plate, missing)


@dataclass(frozen=True, slots=True)
class _Quantity:
    """What a quantity of a design code means.

    Attributes:
        figure: Its name, in a state.
        laden: Held in every state rather than in kerb state alone.
        lacks: What the vehicle lacks when the figure is not there.
        size: Held by size, whichever way it points.
    """

    figure: Callable[[str], str]
    laden: bool = False
    lacks: str = ""
    size: bool = False


_SPRINGS = "no suspension in the vehicle, so how far it sinks is not known"

# quantity and unit of a design code -> what it means
_QUANTITIES: dict[tuple[str, str], _Quantity] = {
    ("kerb mass ratio", "percent"): _Quantity(lambda state: "kerb mass ratio"),
    ("side difference", "percent"): _Quantity(lambda state: key(state, "side share"), size=True),
    ("side difference", "kg"): _Quantity(lambda state: key(state, "side excess"), size=True),
    ("front axle share", "percent"): _Quantity(lambda state: key(state, "front share"), laden=True),
    ("front axle share", "kg"): _Quantity(lambda state: key(state, "front axle"), laden=True),
    ("CG height", "mm"): _Quantity(lambda state: key(state, "cg z"), laden=True),
    ("CG height change", "mm"): _Quantity(lambda state: key(CHANGE, "cg z")),
    ("CG height change", "percent"): _Quantity(lambda state: "kerb height ratio"),
    ("ground clearance", "mm"): _Quantity(lambda state: key(state, "clearance"), laden=True, lacks=_SPRINGS),
    ("ride height change", "mm"): _Quantity(
        lambda state: key(state, "greater height change"), lacks=_SPRINGS, size=True
    ),
    ("static stability factor", "1"): _Quantity(lambda state: key(state, "stability factor"), laden=True),
    ("hill-start adhesion", "1"): _Quantity(lambda state: key(state, "hill adhesion"), laden=True),
}


def _code(
    case: Case, figures: Figures, limit: CodeLimit, laden: tuple[Aboard, ...], bounds: tuple[Bound, ...]
) -> Iterator[Judged]:
    basis = f"{case.design_code.title}: {limit.source}"
    unit = {"percent": "%", "1": ""}.get(limit.unit, limit.unit)
    id, title = f"code.{slug(limit.quantity)}.{limit.sense}", limit.quantity
    if (limit.quantity, limit.unit) == ("payload", "kg"):
        yield _payload(figures, limit, bounds, id, basis)
        return
    known = _QUANTITIES.get((limit.quantity, limit.unit))
    if known is None:
        units = ", ".join(u for q, u in _QUANTITIES if q == limit.quantity) or "kg"
        missing = f"the design code gives this limit in {limit.unit}; it can be held in {units}"
        yield Judged(unknown(id, title, unit, basis, missing, sense=limit.sense), None)
        return
    if known.lacks and known.figure(CONVERTED) not in figures.value:
        yield Judged(unknown(id, title, unit, basis, known.lacks, sense=limit.sense), None)
        return
    states = (CONVERTED, *(aboard.name for aboard in laden)) if known.laden else (CONVERTED,)
    for state in states:
        figure = known.figure(state)
        found = figures.measured(figure)
        if known.size:
            found = Measured(abs(found.value), found.tolerance)
        own, said = (f"{id}.{slug(state)}", f"{title}, {state}") if known.laden else (id, title)
        yield Judged(judge(own, said, found, limit.value, limit.sense, unit, basis), figure)


def _payload(figures: Figures, limit: CodeLimit, bounds: tuple[Bound, ...], id: str, basis: str) -> Judged:
    title = "payload at the middle of the load floor"
    if not bounds:
        missing = "no load_floor, or no seat called 'driver', in the vehicle"
        return Judged(unknown(id, title, "kg", basis, missing, sense=limit.sense), None)
    tight = tightest(bounds, figures, PLACES // 2)
    return _judged(figures, tight.figure, id, f"{title}: {tight.name}", limit.value, limit.sense, "kg", basis)
