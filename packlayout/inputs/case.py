"""A brief -> the `Case` that every calculation starts from: read, checked, and checked against each other."""

import os
from collections.abc import Iterable
from dataclasses import replace
from pathlib import Path
from typing import Any

from pydantic import TypeAdapter

from packlayout.errors import Fault, InputError, ReadingError
from packlayout.inputs.parts import read_part
from packlayout.inputs.reader import (
    BRIEF,
    CABLES,
    CONVENTIONS,
    CYCLES,
    DESIGN_CODE,
    ELECTRICAL,
    FASTENERS,
    FUSES,
    MATERIALS,
    PRICES,
    SHAFTS,
    STOCK,
    TUBES,
    VEHICLE,
    Reader,
    T,
)  # fmt: skip
from packlayout.inputs.rounds import read_rounds
from packlayout.inputs.source import Source, Where
from packlayout.inputs.workshop import find_workshop
from packlayout.inputs.zones import keep_out_surfaces, with_tolerances, zone_surfaces
from packlayout.mass.ledger import base_items
from packlayout.mass.states import laden_states
from packlayout.model.brief import Brief, Case, Kit, PartBody, Tables
from packlayout.model.catalogue import Conventions, DesignCode, Material, Part, Thread, TubeSection
from packlayout.model.driving import Round
from packlayout.model.electrics import ElectricalRules
from packlayout.model.geometry import TriMesh
from packlayout.model.stock import CuttingStock
from packlayout.model.vehicle import Vehicle


def read_case(brief: Path) -> Case:
    """Read a brief and all that it names.

    Args:
        brief: A brief's YAML file in a workshop folder.

    Returns:
        The case, with every table it needs and every surface closed.

    Raises:
        InputError: with every fault of every file, each at file:line.
    """
    workshop = find_workshop(brief)
    reader = Reader(workshop)
    path = Path(os.path.abspath(brief))  # noqa: PTH100 - `resolve` would follow symlinks
    if path.is_dir():
        raise InputError(Fault(brief, 0, "", "is a folder", "a brief's YAML file", _briefs_in(path)))
    gathered = Gathered(reader)
    gathered.read_brief(path)
    reader.finish()
    case = gathered.case()
    gathered.refuse_readings(case)
    reader.finish()
    return case


def _briefs_in(folder: Path) -> str:
    names = sorted(path.name for path in folder.glob("*.yaml") if path.name != "vehicle.yaml")
    return f"such as {names[0]}" if names else ""


class Gathered:
    """What has been read of a case so far; what could not be read is None or left out."""

    def __init__(self, reader: Reader) -> None:
        self.reader = reader
        self.key = ""
        self.brief: Brief | None = None
        self.vehicle: Vehicle | None = None
        self.sources: dict[str, Source] = {}
        self.code: DesignCode | None = None
        self.conventions: Conventions | None = None
        self.parts: dict[str, Part] = {}
        self.bodies: dict[str, PartBody] = {}
        self.zones: dict[str, TriMesh] = {}
        self.keep_outs: dict[str, TriMesh] = {}
        self.sections: dict[str, TubeSection] = {}
        self.materials: dict[str, Material] = {}
        self.threads: dict[str, Thread] = {}
        self.tables = Tables()

    def read_brief(self, path: Path) -> None:
        """Read everything; the reader keeps the faults."""
        source = self.reader.source(path)
        self.read_tables()
        if source is None:
            return
        self.sources["brief"] = source
        self.brief = self.reader.record(source, BRIEF)
        self.read_parts(source)
        self.read_code(source)
        vehicle_source = self._read_vehicle(source, path)
        if self.brief is None:
            return
        self.tables = self.with_rounds(read_rounds(self.reader, source, self.brief.driving))
        check_orders(self.reader, source, self.brief, self.parts)
        check_tables(self.reader, source, self.brief, self.tables, self.parts)
        check_stock(self.reader, source, self.brief, self.sections, self.materials)
        if self.vehicle is not None and vehicle_source is not None:
            check_zones(self.reader, source, self.brief, self.vehicle)
            check_signals(self.reader, source, self.brief, self.vehicle, self.parts)
            check_signal_conduits(self.reader, source, self.brief, self.tables.electrical)

    def read_tables(self) -> None:
        """The reference tables in shared/."""
        shared = self.reader.workshop.root / "shared"
        tubes = self.reader.read(shared / "tubes.yaml", TUBES)
        materials = self.reader.read(shared / "materials.yaml", MATERIALS)
        threads = self.reader.read(shared / "fasteners.yaml", FASTENERS)
        self.conventions = self.reader.read(shared / "conventions.yaml", CONVENTIONS)
        self.sections = {row.name: row for row in tubes.sections} if tubes else {}
        self.materials = {row.name: row for row in materials.materials} if materials else {}
        self.threads = {row.thread: row for row in threads.threads} if threads else {}
        self.tables = Tables(
            self._optional(shared / "cables.yaml", CABLES),
            self._optional(shared / "fuses.yaml", FUSES),
            self._optional(shared / "electrical.yaml", ELECTRICAL),
            self._optional(shared / "cycles.yaml", CYCLES),
            self._optional(shared / "shafts.yaml", SHAFTS),
            self._optional(shared / "prices.yaml", PRICES),
            stock=self._optional(shared / "stock.yaml", STOCK) or CuttingStock(),
        )

    def with_rounds(self, rounds: tuple[Round, ...]) -> Tables:
        """The tables with the brief's own rounds."""
        return replace(self.tables, rounds=rounds)

    def _optional(self, path: Path, adapter: TypeAdapter[T]) -> T | None:
        """A table that a workshop may do without."""
        return self.reader.read(path, adapter) if path.exists() else None

    def read_parts(self, source: Source) -> None:
        """The parts that the brief names, also when the brief has faults elsewhere."""
        files = self.reader.workshop.part_files()
        for where in named_parts(source):
            name = source.at(*where)
            if not isinstance(name, str) or name in self.parts:
                continue
            if name not in files:
                self.reader.known(source, where, name, files, "part")
                continue
            made = read_part(self.reader, files[name])
            if made is not None:
                self.parts[name], body = made
                if body is not None:
                    self.bodies[name] = body

    def read_code(self, source: Source) -> None:
        """The design code that a brief or kit names."""
        name = source.at("design_code")
        files = self.reader.workshop.code_files()
        if isinstance(name, str) and self.reader.known(source, ("design_code",), name, files, "design code"):
            code = self.reader.source(files[name])
            self.code = self.reader.record(code, DESIGN_CODE)
            if code is not None and self.code is not None and self.code.name != name:
                self.reader.refuse(code, ("name",), f"{self.code.name!r} in a file called {name}.yaml", name)

    def _read_vehicle(self, brief: Source, path: Path) -> Source | None:
        name = (
            brief.at("vehicle")
            if isinstance(brief.data, dict) and "vehicle" in brief.data
            else "vehicle.yaml"
        )
        if not isinstance(name, str):
            return None
        file = self.reader.beside(brief, ("vehicle",), name)
        source = self.reader.source(file) if file is not None else None
        if file is None or source is None:
            return None
        key = f"{file.parent.name}-{path.stem}"
        self.keep_vehicle(source, self.reader.record(source, VEHICLE), key)
        return source

    def keep_vehicle(self, source: Source, vehicle: Vehicle | None, key: str) -> None:
        """A vehicle and its surfaces, under the name of its folder in exports/."""
        self.sources["vehicle"], self.key, self.vehicle = source, key, vehicle
        if vehicle is not None:
            self.read_space(source, vehicle)

    def read_space(self, source: Source, vehicle: Vehicle) -> None:
        """Surfaces of zones and keep-outs, and the threads of the mounts."""
        self.zones, tolerances = zone_surfaces(self.reader, source, vehicle.zones)
        self.vehicle = with_tolerances(vehicle, tolerances)
        self.keep_outs = keep_out_surfaces(self.reader, source, vehicle.keep_outs)
        check_threads(self.reader, source, vehicle, self.threads)

    def refuse_readings(self, case: Case) -> None:
        """Hold the scale readings against each other and against what is removed; faults go to the reader."""
        try:
            base_items(case)
            laden_states(case)
        except ReadingError as error:
            source = self.sources["brief" if error.field.startswith("load_states") else "vehicle"]
            where = tuple(int(step) if step.isdecimal() else step for step in error.field.split("."))
            self.reader.refuse(source, where, error.found, error.allowed, error.advice)

    def case(self) -> Case:
        """All of it; only after the reader has told its faults."""
        assert self.vehicle is not None
        assert self.brief is not None
        assert self.code is not None
        assert self.conventions is not None
        return Case(
            key=self.key,
            root=self.reader.workshop.root,
            vehicle=self.vehicle,
            brief=self.brief,
            parts=self.parts,
            bodies=self.bodies,
            zones=self.zones,
            keep_outs=self.keep_outs,
            sections=self.sections,
            materials=self.materials,
            threads=self.threads,
            design_code=self.code,
            conventions=self.conventions,
            notes=tuple(self.reader.notes),
            inputs=tuple(sorted(self.reader.digests.items())),
            tables=self.tables,
        )


def named_parts(brief: Source) -> Iterable[Where]:
    """Where a brief names a part."""
    yield ("modules", "part")
    orders: Any = brief.at("parts")
    for index in range(len(orders) if isinstance(orders, list) else 0):
        yield ("parts", index, "part")


def check_orders(reader: Reader, source: Source, brief: Kit, parts: dict[str, Part]) -> None:
    """Hold what is ordered against what the parts are; faults are kept by the reader."""
    module = parts.get(brief.modules.part)
    if module is not None and module.kind != "battery module":
        reader.refuse(
            source, ("modules", "part"), f"{brief.modules.part!r} is a {module.kind}", "a battery module"
        )
    seen: dict[str, int] = {}
    for index, order in enumerate(brief.parts):
        where: Where = ("parts", index)
        part = parts.get(order.part)
        if part is not None and part.kind == "battery module":
            reader.refuse(source, (*where, "part"), f"{order.part!r} is a battery module", "any other kind",
                          "battery modules are asked for under `modules`")  # fmt: skip
        name = order.name or order.part
        if name in seen:
            field = "name" if order.name else "part"
            reader.refuse(source, (*where, field), f"a second part called {name!r}", "names that differ",
                          "give each of them a `name`")  # fmt: skip
        seen[name] = index
        if order.fixed is not None and part is not None and order.fixed.up not in part.up:
            reader.refuse(source, (*where, "fixed", "up"), f"{order.part!r} may not stand with {order.fixed.up} up",
                          ", ".join(part.up))  # fmt: skip
        if order.fixed is not None and order.on_pack:
            reader.refuse(source, (*where, "on_pack"), "both fixed and on_pack", "one of the two")
        if order.on_pack and not set(order.zones) & set(brief.modules.zones):
            reader.refuse(source, (*where, "zones"), "on_pack, but in no zone that modules may go in",
                          ", ".join(brief.modules.zones))  # fmt: skip


def check_tables(reader: Reader, source: Source, brief: Kit, tables: Tables, parts: dict[str, Part]) -> None:
    """Hold cycles, fuses and strings against the tables and the number of modules."""
    fuses = [fuse.name for fuse in tables.fuses.fuses] if tables.fuses is not None else []
    for index, order in enumerate(brief.parts):
        part = parts.get(order.part)
        fuse = part.electrical.fuse if part is not None and part.kind == "junction box" else None
        if fuse is not None and fuses and fuse not in fuses:
            reader.refuse(source, ("parts", index, "part"), f"{order.part!r} holds a fuse {fuse!r} that is not in "
                          "shared/fuses.yaml", ", ".join(fuses))  # fmt: skip
    if tables.cycles is not None:
        names = [cycle.name for cycle in tables.cycles.cycles]
        for index, name in enumerate(brief.driving.cycles):
            reader.known(source, ("driving", "cycles", index), name, names, "cycle")
    count, strings = brief.modules.count, brief.wiring.strings
    if count is not None and count % strings:
        reader.refuse(source, ("wiring", "strings"), f"{strings} strings of {count} modules are not alike",
                      "a number that divides the count of modules")  # fmt: skip


def check_stock(
    reader: Reader,
    source: Source,
    brief: Kit,
    sections: dict[str, TubeSection],
    materials: dict[str, Material],
) -> None:
    """Hold the frame's tubes and material against the tables."""
    if sections:
        reader.known(source, ("frame", "cradle_tube"), brief.frame.cradle_tube, sections, "tube")
        reader.known(source, ("frame", "leg_tube"), brief.frame.leg_tube, sections, "tube")
        if brief.frame.bar_tube is not None:
            reader.known(source, ("frame", "bar_tube"), brief.frame.bar_tube, sections, "tube")
    if materials:
        reader.known(source, ("frame", "material"), brief.frame.material, materials, "material")


def check_zones(reader: Reader, source: Source, brief: Brief, vehicle: Vehicle) -> None:
    """Hold the zones that are named against those of the vehicle."""
    names = [zone.name for zone in vehicle.zones]
    orders: list[tuple[Where, tuple[str, ...]]] = [(("modules", "zones"), brief.modules.zones)]
    orders += [(("parts", index, "zones"), order.zones) for index, order in enumerate(brief.parts)]
    for where, zones in orders:
        for index, name in enumerate(zones):
            reader.known(source, (*where, index), name, names, "zone")
            if name in zones[:index]:
                reader.refuse(source, (*where, index), f"{name!r} is given twice", "each zone once")


def check_signals(
    reader: Reader, source: Source, brief: Brief, vehicle: Vehicle, parts: dict[str, Part]
) -> None:
    """Hold the ends of signal cables against the ports of the parts and the vehicle's fixed points."""
    known = {order.part: order.part for order in brief.parts} | {brief.modules.part: brief.modules.part}
    for order in brief.parts:
        called = order.name or (parts[order.part].name if order.part in parts else order.part)
        known[called] = order.part
    points = [end.name for end in vehicle.cable_ends]
    for index, signal in enumerate(brief.wiring.signals):
        for field, end in (("start", signal.start), ("goal", signal.goal)):
            where = ("wiring", "signals", index, field)
            if len(end) == 1:
                reader.known(source, (*where, 0), end[0], points, "fixed point")
            elif reader.known(source, (*where, 0), end[0], known, "part of the brief"):
                part = parts.get(known[end[0]])
                if part is not None:
                    reader.known(source, (*where, 1), end[1], [port.name for port in part.ports], "port")


def check_signal_conduits(
    reader: Reader, source: Source, brief: Brief, rules: ElectricalRules | None
) -> None:
    """Hold the conduit that signal cables are to lie in against the shop's stock, by name and by width."""
    for index, signal in enumerate(brief.wiring.signals):
        where = ("wiring", "signals", index, "conduit")
        if rules is None or signal.conduit is None:
            continue
        if not reader.known(source, where, signal.conduit, [c.name for c in rules.conduits], "conduit"):
            continue
        conduit = rules.conduit_named(signal.conduit)
        if conduit is not None and not rules.goes_into(signal.diameter_mm, conduit):
            least = signal.diameter_mm * rules.conduit_over_cable
            wide = [c.name for c in rules.conduits if rules.goes_into(signal.diameter_mm, c)]
            reader.refuse(
                source, where, f"{signal.conduit} is {conduit.inside_mm:g} mm wide inside, for a cable of "
                f"{signal.diameter_mm:g} mm", f"at least {least:.1f} mm: {', '.join(wide) or 'none in stock'}",
            )  # fmt: skip


def check_threads(reader: Reader, source: Source, vehicle: Vehicle, threads: dict[str, Thread]) -> None:
    """Hold the threads of the mounts against the table of fasteners."""
    for index, mount in enumerate(vehicle.mounts):
        if threads:
            reader.known(source, ("mounts", index, "thread"), mount.thread, threads, "thread")
