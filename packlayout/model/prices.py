"""What things cost: the shop's own figures, as they stand in shared/prices.yaml."""

from typing import Annotated

from pydantic import Field

from packlayout.model.catalogue import Name
from packlayout.model.record import Distinct, Record, Whole, Within
from packlayout.units import Measured

Money = Annotated[Measured, Within("1", 0, 1e6)]
Hours = Annotated[Measured, Within("1", 0, 1000)]


class PartPrice(Record):
    """Price of one part.

    Attributes:
        part: Name of its file in modules/.
    """

    part: Name
    price: Money


class CablePrice(Record):
    """Price of a metre of cable."""

    area_mm2: Annotated[float, Within("1", 0.3, 400)]
    per_m: Money


class ConduitPrice(Record):
    """Price of a metre of conduit.

    Attributes:
        conduit: Its name in shared/electrical.yaml.
    """

    conduit: Name
    per_m: Money


class SignalPrice(Record):
    """Price of a metre of a signal cable, jacketed, of several cores."""

    cores: Annotated[Whole, Field(ge=1, le=60)]
    area_mm2: Annotated[float, Within("1", 0.05, 4)]
    per_m: Money


class BoltPrice(Record):
    """Price of one bolt of a thread, with its nut and washers."""

    thread: Name
    price: Money


class Task(Record):
    """Work that is paid by the hour.

    Attributes:
        each: What it is counted by.
        hours: For one.
    """

    name: Name
    each: Annotated[str, Field(pattern="^(job|module|part|member|plate|leg|cable run|conduit|hose run)$")]
    hours: Hours


class PriceTable(Record):
    """`shared/prices.yaml`: without tax, in one currency.

    Attributes:
        hour: Of work.
        metal: A kg of tube and plate, cut and delivered.
        hose: A metre of coolant hose.
        consumables_percent: Gas, discs, paint, and fasteners where `bolts` is empty, on the metal and the hours of the
            frame.
        parts: Parts bought.
        conduits: Conduit by its name; one that is not listed has no price, and that is said.
        signals: Signal cables by cores and area; likewise.
        bolts: Bolts of the frame.
        fixed: Sums paid once, such as the inspection.
    """

    source: Annotated[str, Field(min_length=1, max_length=2000)]
    currency: Annotated[str, Field(min_length=1, max_length=10)]
    hour: Money
    metal: Money
    hose: Money
    consumables_percent: Annotated[float, Within("percent", 0, 100)]
    parts: Annotated[tuple[PartPrice, ...], Distinct("part", "price of part")]
    cables: Annotated[tuple[CablePrice, ...], Distinct("area_mm2", "price of cable")]
    conduits: Annotated[tuple[ConduitPrice, ...], Distinct("conduit", "price of conduit")] = ()
    signals: tuple[SignalPrice, ...] = ()
    bolts: Annotated[tuple[BoltPrice, ...], Distinct("thread", "price of bolt")] = ()
    tasks: Annotated[tuple[Task, ...], Distinct("name", "task")]
    fixed: dict[str, Money] = Field(default_factory=dict)
