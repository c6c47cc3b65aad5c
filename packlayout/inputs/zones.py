"""Zones and keep-outs of a vehicle -> closed surfaces, each fault at the line of the point to blame."""

from collections.abc import Iterable
from pathlib import Path

from packlayout.errors import InputError
from packlayout.inputs.reader import Reader
from packlayout.inputs.source import Source, Where
from packlayout.model.geometry import TriMesh
from packlayout.model.vehicle import KeepOut, MeshFile, Station, Zone
from packlayout.space.envelope import EnvelopeError, Section, box, check_outline, cylinder, extruded, loft


def zone_surfaces(reader: Reader, source: Source, zones: Iterable[Zone]) -> dict[str, TriMesh]:
    """Closed surface of each zone by its name; those with faults, which the reader keeps, are left out.

    Args:
        reader: Keeps faults, notes and digests.
        source: The vehicle's file.
        zones: In the order of the file.
    """
    made: dict[str, TriMesh] = {}
    for index, zone in enumerate(zones):
        where: Where = ("zones", index)
        try:
            if zone.stations is not None:
                surface = _lofted(reader, source, where, zone.stations)
            elif zone.mesh is not None:
                surface = _scanned(reader, source, where, zone.name, zone.mesh)
            else:
                assert zone.box is not None  # the record holds exactly one of the three
                surface = box(zone.box.corner, zone.box.opposite)
        except EnvelopeError as error:
            _keep(reader, source, where, error)
            continue
        if surface is not None:
            made[zone.name] = surface
    return made


def keep_out_surfaces(reader: Reader, source: Source, keep_outs: Iterable[KeepOut]) -> dict[str, TriMesh]:
    """Closed surface of each keep-out by its name; see `zone_surfaces`."""
    made: dict[str, TriMesh] = {}
    for index, item in enumerate(keep_outs):
        word = "box" if item.box else "cylinder" if item.cylinder else "extruded"
        try:
            if item.box is not None:
                made[item.name] = box(item.box.corner, item.box.opposite)
            elif item.cylinder is not None:
                made[item.name] = cylinder(item.cylinder.start, item.cylinder.end, item.cylinder.diameter_mm)
            elif item.extruded is not None:
                shape = item.extruded
                made[item.name] = extruded(shape.along, shape.outline, shape.begin, shape.end)
        except EnvelopeError as error:
            _keep(reader, source, ("keep_outs", index, word), error)
    return made


def _lofted(reader: Reader, source: Source, where: Where, stations: tuple[Station, ...]) -> TriMesh | None:
    before = len(reader.faults)
    for index, station in enumerate(stations):
        try:
            check_outline(station.outline, ("stations", index, "outline"))
        except EnvelopeError as error:
            _keep(reader, source, where, error)
    if len(reader.faults) > before:
        return None
    sections: list[Section] = [(station.x, station.outline) for station in stations]
    return loft(sections)


def _scanned(reader: Reader, source: Source, where: Where, name: str, scan: MeshFile) -> TriMesh | None:
    from packlayout.inputs.scans import LARGEST_FILE, envelope_of_scan  # scipy and trimesh: only for a scan

    path = reader.beside(source, (*where, "mesh", "file"), scan.file)
    if path is None:
        return None
    try:
        surface, notes = envelope_of_scan(reader.raw(path, LARGEST_FILE), Path(scan.file).suffix, scan)
    except EnvelopeError as error:
        _keep(reader, source, (*where, "mesh"), EnvelopeError(
            error.where or ("file",), error.found, error.allowed, error.advice))  # fmt: skip
        return None
    except InputError as error:
        reader.faults.extend(error.faults)
        return None
    reader.notes.extend(f"zone {name}: {note}" for note in notes)
    return surface


def _keep(reader: Reader, source: Source, where: Where, error: EnvelopeError) -> None:
    reader.refuse(source, (*where, *error.where), error.found, error.allowed, error.advice)
