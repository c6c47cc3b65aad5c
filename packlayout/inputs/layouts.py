"""A layout file, as written by the exporter and edited by hand -> `Layout`."""

from pathlib import Path
from typing import Annotated

from pydantic import Field, TypeAdapter, ValidationError

from packlayout.errors import Fault, InputError
from packlayout.inputs.faults import closest, faults_of
from packlayout.inputs.reader import nearest_first
from packlayout.inputs.source import Source, Where, read_source
from packlayout.model.brief import Case
from packlayout.model.catalogue import Name, SignedAxis, Text
from packlayout.model.layout import Layout, Placement
from packlayout.model.record import Distinct, Flag, Point, Quarter, Record, Whole


class PlacedPart(Record):
    """One part in its place.

    Attributes:
        name: What it is called in reports; differs from all others.
        part: Name of its file in modules/, without .yaml.
        zone: Zone of the vehicle it stands in.
        at: Lowest corner of its box as it stands, [x, y, z] in mm, vehicle axes.
        up: Which of its own axes points up.
        turn: Quarter turns about the vertical, anticlockwise seen from above.
        block: Battery modules only: number of the block it is in; one cradle holds one block.
        locked: true when the program must leave it where it is.
    """

    name: Name
    part: Name
    zone: Name
    at: Point
    up: SignedAxis = "+z"
    turn_deg: Quarter = 0
    block: Annotated[Whole, Field(ge=1, le=20)] | None = None
    locked: Flag = False


class LayoutFile(Record):
    """Where each part stands; given back with --layout.

    Attributes:
        vehicle: Name of the vehicle it belongs to.
        brief: Name of the brief it was made for.
        title: What it is best at.
        placements: Every part, each in its place.
    """

    vehicle: Name
    brief: Text = ""
    title: Text = ""
    placements: Annotated[tuple[PlacedPart, ...], Field(max_length=400), Distinct("name", "placement")]


LAYOUT = TypeAdapter(LayoutFile)


def read_layout(path: Path, case: Case) -> Layout:
    """Read a layout for a case.

    Args:
        path: The file, wherever it is.
        case: Knows the parts and zones it may name.

    Returns:
        The layout, modules first.

    Raises:
        InputError: with every fault, each at file:line.
    """
    source = read_source(path)
    try:
        record = LAYOUT.validate_python(source.data, by_alias=True, by_name=False)
    except ValidationError as error:
        raise InputError(*faults_of(error, source, LAYOUT)) from None
    faults = [
        fault for index, row in enumerate(record.placements) for fault in _faults(source, index, row, case)
    ]
    if record.vehicle != case.vehicle.name:
        found = f"a layout for {record.vehicle!r}"
        faults.append(source.fault(("vehicle",), found, case.vehicle.name, "give the brief it was made for"))
    if faults:
        raise InputError(*faults)
    placed = [_placement(row, case) for row in record.placements]
    placed.sort(key=lambda placement: placement.block is None)
    return Layout(tuple(placed), record.title)


def _faults(source: Source, index: int, row: PlacedPart, case: Case) -> list[Fault]:
    where: Where = ("placements", index)
    faults: list[Fault] = []
    zones, parts = list(case.zones), list(case.parts)
    if row.zone not in zones:
        faults.append(source.fault((*where, "zone"), f"unknown zone {row.zone!r}", nearest_first(row.zone, zones),
                                   closest(row.zone, zones)))  # fmt: skip
    part = case.parts.get(row.part)
    if part is None:
        found, advice = f"the brief has no part {row.part!r}", closest(row.part, parts)
        faults.append(source.fault((*where, "part"), found, nearest_first(row.part, parts), advice))
        return faults
    if row.up not in part.up:
        found = f"{row.part!r} may not stand with {row.up} up"
        faults.append(source.fault((*where, "up"), found, ", ".join(part.up)))
    if (part.kind == "battery module") != (row.block is not None):
        is_module = row.block is None
        found = "a battery module without a block" if is_module else f"a block for a {part.kind}"
        allowed = "the number of its block, from 1" if is_module else "no block: battery modules only"
        faults.append(source.fault((*where, "block"), found, allowed))
    return faults


def _placement(row: PlacedPart, case: Case) -> Placement:
    size = case.parts[row.part].box_size
    return Placement(row.name, row.part, row.zone, row.at, row.up, row.turn_deg, size, row.block, row.locked)
