"""A kit and surveyed vehicles -> one `Case` for each, so that all are judged by the same pack."""

import os
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path
from typing import TypeVar

from packlayout.errors import Fault, InputError
from packlayout.inputs.case import Gathered, check_orders, check_stock, check_tables
from packlayout.inputs.reader import KIT, VEHICLE, Reader
from packlayout.inputs.rounds import read_rounds
from packlayout.inputs.source import Source
from packlayout.inputs.workshop import Workshop, find_workshop
from packlayout.model.brief import Brief, Case, Kit, ModuleOrder, PartOrder
from packlayout.model.vehicle import Vehicle

Order = TypeVar("Order", ModuleOrder, PartOrder)


@dataclass(frozen=True, slots=True, eq=False)
class Candidate:
    """One vehicle that a kit is tried on.

    Attributes:
        vehicle: Its name.
        folder: Name of its folder in bays/.
        case: What to compute from; None when nothing can be, for want of a zone.
        lacking: What goes in zones that the vehicle has none of, in words.
    """

    vehicle: str
    folder: str
    case: Case | None
    lacking: tuple[str, ...] = ()


def read_candidates(kit: Path, vehicles: Iterable[Path]) -> list[Candidate]:
    """Read a kit and the vehicles it is to be tried on.

    Args:
        kit: A YAML file, by custom in kits/.
        vehicles: `vehicle.yaml` files, or their folders, of the same workshop.

    Returns:
        One candidate for each vehicle, in the order given, each folder once.

    Raises:
        InputError: with every fault of every file, each at file:line.
    """
    workshop = find_workshop(kit)
    made: list[Candidate] = []
    faults: dict[Fault, None] = {}
    done: set[Path] = set()
    for given in vehicles:
        path = Path(os.path.abspath(given))  # noqa: PTH100 - `resolve` would follow symlinks
        file = path / "vehicle.yaml" if path.is_dir() else path
        if file in done:
            continue
        done.add(file)
        try:
            made.append(_candidate(workshop, Path(os.path.abspath(kit)), file))  # noqa: PTH100
        except InputError as error:
            faults.update(dict.fromkeys(error.faults))
    if faults:
        raise InputError(*faults)
    return made


def check_kit(reader: Reader, file: Path) -> None:
    """Read a kit by itself; the reader keeps the faults."""
    _kit(Gathered(reader), file)


def _kit(gathered: Gathered, file: Path) -> tuple[Source, Kit] | None:
    reader = gathered.reader
    gathered.read_tables()
    source = reader.source(file)
    kit = reader.record(source, KIT)
    if source is None:
        return None
    gathered.sources["brief"] = source
    gathered.read_parts(source)
    gathered.read_code(source)
    if kit is None:
        return None
    for index, order in enumerate(kit.parts):
        if order.fixed is not None:
            reader.refuse(source, ("parts", index, "fixed"), "a place in one vehicle", "none in a kit",
                          "for motor and reduction gear use on_line; else leave it out")  # fmt: skip
    gathered.tables = gathered.with_rounds(read_rounds(reader, source, kit.driving))
    check_orders(reader, source, kit, gathered.parts)
    check_tables(reader, source, kit, gathered.tables, gathered.parts)
    check_stock(reader, source, kit, gathered.sections, gathered.materials)
    return source, kit


def _candidate(workshop: Workshop, kit_file: Path, file: Path) -> Candidate:
    reader = Reader(workshop)
    gathered = Gathered(reader)
    found = _kit(gathered, kit_file)
    source = reader.source(file)
    vehicle = reader.record(source, VEHICLE)
    if source is not None and vehicle is not None:
        gathered.keep_vehicle(source, vehicle, f"{file.parent.name}-{kit_file.stem}")
    reader.finish()
    assert found is not None
    assert vehicle is not None
    brief, lacking = brief_of(found[1], vehicle)
    if brief is None:
        return Candidate(vehicle.name, file.parent.name, None, lacking)
    gathered.brief = brief
    case = gathered.case()
    gathered.refuse_readings(case)
    reader.finish()
    return Candidate(vehicle.name, file.parent.name, case, lacking)


def brief_of(kit: Kit, vehicle: Vehicle) -> tuple[Brief | None, tuple[str, ...]]:
    """The brief that a kit makes for one vehicle: zones by their use become zones by their name.

    Returns:
        The brief, None when the modules have no zone to go in; and in words each thing that has none. A part
        without a zone is left out of the brief, so that the rest can be judged.
    """
    lacking: list[str] = []

    def named(order: Order, what: str) -> Order | None:
        names = tuple(
            dict.fromkeys(
                zone.name for want in order.zones for zone in vehicle.zones if want in (zone.name, zone.use)
            )
        )
        if not names:
            lacking.append(f"{what}: no {' or '.join(order.zones)} is surveyed")
            return None
        return order.model_copy(update={"zones": names})

    modules = named(kit.modules, "modules")
    parts = tuple(found for o in kit.parts if (found := named(o, o.name or o.part)) is not None)
    if modules is None:
        return None, tuple(lacking)
    data = {**{name: getattr(kit, name) for name in Kit.model_fields}, "modules": modules, "parts": parts}
    return Brief.model_validate(data, by_name=True), tuple(lacking)
