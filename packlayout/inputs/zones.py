"""Zones and keep-outs of a vehicle -> closed surfaces, each fault at the line of the point to blame."""

from collections.abc import Iterable, Mapping
from pathlib import Path

from packlayout.errors import InputError
from packlayout.inputs.reader import Reader
from packlayout.inputs.source import Source, Where
from packlayout.model.geometry import TriMesh
from packlayout.model.vehicle import KeepOut, MeshFile, Station, Vehicle, Zone
from packlayout.space.envelope import EnvelopeError, Section, box, check_outline, cylinder, extruded, loft


def zone_surfaces(
    reader: Reader, source: Source, zones: Iterable[Zone]
) -> tuple[dict[str, TriMesh], dict[str, float]]:
    """Closed surface of each zone by its name; those with faults, which the reader keeps, are left out.

    Args:
        reader: Keeps faults, notes and digests.
        source: The vehicle's file.
        zones: In the order of the file.

    Returns:
        The surfaces, and the tolerance of each as it was measured, 95 % half-width, mm: of the tape, or the
        scatter of the scan.
    """
    made: dict[str, TriMesh] = {}
    tolerances: dict[str, float] = {}
    for index, zone in enumerate(zones):
        where: Where = ("zones", index)
        try:
            if zone.stations is not None:
                surface = _lofted(reader, source, where, zone.stations)
                tolerances[zone.name] = max(station.tolerance_mm for station in zone.stations)
            elif zone.mesh is not None:
                surface, tolerances[zone.name] = _scanned(reader, source, where, zone.name, zone.mesh)
            else:
                assert zone.box is not None  # the record holds exactly one of the three
                surface = box(zone.box.corner, zone.box.opposite)
        except EnvelopeError as error:
            _keep(reader, source, where, error)
            continue
        if surface is not None:
            made[zone.name] = surface
    return made, tolerances


def with_tolerances(vehicle: Vehicle, found: Mapping[str, float]) -> Vehicle:
    """A vehicle whose zones bear the tolerance of what was measured, where none is stated for the zone.

    Of a zone of stations the larger counts of what is stated for all of it and for its points.
    """
    zones: list[Zone] = []
    for zone in vehicle.zones:
        own = found.get(zone.name, 0.0)
        if zone.stations is not None:
            own = max(own, zone.tolerance_mm)
        elif "tolerance_mm" in zone.model_fields_set:
            own = zone.tolerance_mm
        zones.append(zone.model_copy(update={"tolerance_mm": own}) if own != zone.tolerance_mm else zone)
    return vehicle.model_copy(update={"zones": tuple(zones)})


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


def _scanned(
    reader: Reader, source: Source, where: Where, name: str, scan: MeshFile
) -> tuple[TriMesh | None, float]:  # fmt: skip
    from packlayout.inputs.scans import LARGEST_FILE, scanned  # scipy and trimesh: only for a scan

    path = reader.beside(source, (*where, "mesh", "file"), scan.file)
    if path is None:
        return None, 0.0
    try:
        made = scanned(reader.raw(path, LARGEST_FILE), Path(scan.file).suffix, scan)
    except EnvelopeError as error:
        _keep(reader, source, (*where, "mesh"), EnvelopeError(
            error.where or ("file",), error.found, error.allowed, error.advice))  # fmt: skip
        return None, 0.0
    except InputError as error:
        reader.faults.extend(error.faults)
        return None, 0.0
    reader.notes.extend(f"zone {name}: {note}" for note in made.notes)
    return made.mesh, made.scatter_mm


def _keep(reader: Reader, source: Source, where: Where, error: EnvelopeError) -> None:
    reader.refuse(source, (*where, *error.where), error.found, error.allowed, error.advice)
