"""A layout file, as written by the exporter and edited by hand -> `Layout`."""

from dataclasses import replace
from pathlib import Path
from typing import Annotated

from pydantic import Field, TypeAdapter, ValidationError

from packlayout.errors import Fault, InputError
from packlayout.inputs.faults import closest, faults_of
from packlayout.inputs.parts import read_part
from packlayout.inputs.reader import Reader, nearest_first
from packlayout.inputs.source import Source, Where, read_source
from packlayout.inputs.workshop import Workshop
from packlayout.model.brief import Aims, Case, Clearances, PartBody
from packlayout.model.catalogue import Name, Part, SignedAxis, Text
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
        clearances: Clearances in place of all those of the brief; left out, the brief's hold.
        aims: Aims in place of all those of the brief; left out, the brief's hold.
        placements: Every part, each in its place.
    """

    vehicle: Name
    brief: Text = ""
    title: Text = ""
    clearances: Clearances | None = None
    aims: Aims | None = None
    placements: Annotated[tuple[PlacedPart, ...], Field(max_length=400), Distinct("name", "placement")]


LAYOUT = TypeAdapter(LayoutFile)


def read_layout(path: Path, case: Case) -> Layout:
    """Read a layout for a case; `read_layout_case` tells as well what it changes of the case.

    Raises:
        InputError: with every fault, each at file:line.
    """
    return read_layout_case(path, case)[1]


def read_layout_case(path: Path, case: Case) -> tuple[Case, Layout]:
    """Read a layout, and the case as it is with that layout.

    Args:
        path: The file, wherever it is.
        case: Knows the zones it may name. It may name any part in modules/, also one that the brief does not ask for.

    Returns:
        The case with the parts that the layout brings, and with its clearances and aims where it states them, each
        told in the case's notes; and the layout, modules first.

    Raises:
        InputError: with every fault, each at file:line.
    """
    source = read_source(path)
    try:
        record = LAYOUT.validate_python(source.data, by_alias=True, by_name=False)
    except ValidationError as error:
        raise InputError(*faults_of(error, source, LAYOUT)) from None
    workshop = Workshop(case.root, relative=not path.is_absolute())
    reader = Reader(workshop)
    case = _with_parts(case, reader, source, record)
    known = [*case.parts, *(name for name in workshop.part_files() if name not in case.parts)]
    faults = [*reader.faults]
    for index, row in enumerate(record.placements):
        faults += _faults(source, index, row, case, known)
    if record.vehicle != case.vehicle.name:
        found = f"a layout for {record.vehicle!r}"
        faults.append(source.fault(("vehicle",), found, case.vehicle.name, "give the brief it was made for"))
    if faults:
        raise InputError(*faults)
    placed = [_placement(row, case) for row in record.placements]
    placed.sort(key=lambda placement: placement.block is None)
    layout = Layout(tuple(placed), record.title, record.clearances, record.aims)
    return _with_settings(case, layout, path), layout


def _with_parts(case: Case, reader: Reader, source: Source, record: LayoutFile) -> Case:
    """The case with what the layout names from modules/ beyond the brief."""
    files = reader.workshop.part_files()
    parts: dict[str, Part] = {}
    bodies: dict[str, PartBody] = {}
    for row in record.placements:
        name = row.part
        if name in case.parts or name in parts or name not in files:
            continue
        made = read_part(reader, files[name])
        if made is not None:
            parts[name] = made[0]
            bodies |= {name: made[1]} if made[1] is not None else {}
    if not parts:
        return case
    said = f"{source.file} places {', '.join(sorted(parts))}, which the brief does not ask for"
    return replace(
        case,
        parts={**case.parts, **parts},
        bodies={**case.bodies, **bodies},
        notes=(*case.notes, said, *reader.notes),
        inputs=tuple(sorted({*case.inputs, *reader.digests.items()})),
    )


def _with_settings(case: Case, layout: Layout, path: Path) -> Case:
    """The case judged by the layout's own clearances and aims, where it states them."""
    own = {name: value for name in ("clearances", "aims") if (value := getattr(layout, name)) is not None}
    if not own or all(getattr(case.brief, name) == value for name, value in own.items()):
        return case
    said = f"{path.name} states {' and '.join(own)} of its own: they hold in place of the brief's"
    return replace(case, brief=case.brief.model_copy(update=own), notes=(*case.notes, said))


def _faults(source: Source, index: int, row: PlacedPart, case: Case, known: list[str]) -> list[Fault]:
    where: Where = ("placements", index)
    faults: list[Fault] = []
    zones = list(case.zones)
    if row.zone not in zones:
        faults.append(source.fault((*where, "zone"), f"unknown zone {row.zone!r}", nearest_first(row.zone, zones),
                                   closest(row.zone, zones)))  # fmt: skip
    part = case.parts.get(row.part)
    if part is None:
        if row.part not in known:  # else its own file has faults, which are told
            found = f"neither the brief nor modules/ has a part {row.part!r}"
            allowed, advice = nearest_first(row.part, known), closest(row.part, known)
            faults.append(source.fault((*where, "part"), found, allowed, advice))
        return faults
    if row.up not in part.up:
        found = f"{row.part!r} may not stand with {row.up} up"
        faults.append(source.fault((*where, "up"), found, ", ".join(part.up)))
    if part.kind == "battery module" and row.part != case.brief.modules.part:
        found = f"{row.part!r} is another module than the brief's"
        faults.append(
            source.fault(
                (*where, "part"), found, case.brief.modules.part, "modules are asked for in the brief"
            )
        )
    if (part.kind == "battery module") != (row.block is not None):
        is_module = row.block is None
        found = "a battery module without a block" if is_module else f"a block for a {part.kind}"
        allowed = "the number of its block, from 1" if is_module else "no block: battery modules only"
        faults.append(source.fault((*where, "block"), found, allowed))
    return faults


def _placement(row: PlacedPart, case: Case) -> Placement:
    size = case.parts[row.part].box_size
    return Placement(row.name, row.part, row.zone, row.at, row.up, row.turn_deg, size, row.block, row.locked)
