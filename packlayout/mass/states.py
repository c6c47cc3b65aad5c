"""The states a vehicle is weighed in, and who and what is aboard in each."""

from dataclasses import dataclass

from packlayout.errors import ReadingError
from packlayout.mass.readings import mass_item
from packlayout.model.brief import Case
from packlayout.model.geometry import MassItem, Vec
from packlayout.model.vehicle import Seat
from packlayout.units import Measured

ORIGINAL = "original kerb"
CONVERTED = "converted kerb"
DRIVER = "driver"
FULL_LOAD = "full load"
CHANGE = "change"
STRIPPED = "stripped"

TERMS = {
    ORIGINAL: "complete vehicle kerb mass (ISO 1176)",
    CONVERTED: "complete vehicle kerb mass (ISO 1176)",
    DRIVER: "mass in running order (EU 1230/2012 article 2)",
    FULL_LOAD: "maximum authorised total mass, as plated (ISO 1176)",
}
"""What inspectors call the states that have a name of their own (values from memory)."""


def key(state: str, what: str) -> str:
    """Name of a figure: what, in which state."""
    return f"{state}: {what}"


@dataclass(frozen=True, slots=True)
class Aboard:
    """What is added to the converted vehicle in kerb state.

    Attributes:
        name: Of the state.
        items: People and goods.
        goods_at: Where goods are added until the plated gross mass is reached; None for none.
    """

    name: str
    items: tuple[MassItem, ...]
    goods_at: Vec | None = None


def driver_seat(case: Case) -> Seat | None:
    """The seat whose name says driver; None when there is none."""
    return next((seat for seat in case.vehicle.seats if "driver" in seat.name.lower()), None)


def laden_states(case: Case) -> tuple[Aboard, ...]:
    """The laden states: driver, those of the brief, full load.

    The states `driver` and `full load` need the driver's seat, the latter a load floor too; what is missing
    is left out here and named by the checks. A state of the brief takes the place of ours of that name.

    Raises:
        GeometryError: for a state of the brief that bears the name of a kerb state.
    """
    named = [state.name for state in case.brief.load_states]
    for name in (ORIGINAL, CONVERTED, CHANGE, STRIPPED):
        if name in named:
            raise ReadingError("load_states", f"{name!r} is not a laden state", "any other name", "rename it")
    seat = driver_seat(case)
    states: list[Aboard] = []
    driver: tuple[MassItem, ...] = ()
    if seat is not None:
        source = case.conventions.sources.get("driver_kg", "")
        driver = (
            MassItem("driver", Measured(case.conventions.driver_kg), seat.at, "occupant", None, source),
        )
        if DRIVER not in named:
            states.append(Aboard(DRIVER, driver))
    for state in case.brief.load_states:
        states.append(Aboard(state.name, tuple(mass_item(item, "payload") for item in state.aboard)))
    middle = floor_middle(case)
    if middle is not None and seat is not None and FULL_LOAD not in named:
        states.append(Aboard(FULL_LOAD, driver, middle))
    return tuple(states)


def floor_middle(case: Case) -> Vec | None:
    """Where the goods' centre of gravity is when they stand at the middle of the load floor."""
    floor = case.vehicle.load_floor
    if floor is None:
        return None
    return (floor.begin_x_mm + floor.end_x_mm) / 2, 0.0, floor.height_mm + floor.goods_cg_above_mm
