"""Reads whatever it is pointed at and says all that is wrong with it. What a file is follows from where it is."""

import os
from pathlib import Path

from packlayout.errors import Fault, InputError
from packlayout.inputs.case import Gathered
from packlayout.inputs.kits import check_kit
from packlayout.inputs.layouts import LAYOUT
from packlayout.inputs.parts import read_part
from packlayout.inputs.reader import DESIGN_CODE, TABLES, VEHICLE, Reader
from packlayout.inputs.workshop import Workshop, find_workshop, is_workshop


def check_paths(paths: list[Path]) -> tuple[list[Fault], list[str]]:
    """Check files and folders.

    Args:
        paths: Workshop folders, folders in them, or single YAML files.

    Returns:
        Every fault, in the order of files and lines, and notes on what was read, cleaned or passed over.
    """
    faults: set[Fault] = set()
    notes: list[str] = []
    done: set[Path] = set()
    told: set[tuple[Path, str]] = set()
    for path in paths:
        try:
            workshop = find_workshop(path)
            files = _files(path, workshop)
        except InputError as error:
            faults.update(error.faults)
            continue
        for file in files:
            if file in done:
                continue
            done.add(file)
            reader = Reader(workshop)
            what = _check(reader, file)
            if what:
                notes.append(f"{workshop.shown(file)}: {what}")
            for note in reader.notes:  # a vehicle and its briefs have the same to say of a scan
                if (file.parent, note) not in told:
                    told.add((file.parent, note))
                    notes.append(f"{workshop.shown(file)}: {note}")
            faults.update(reader.faults)
    return sorted(faults), notes


def _files(path: Path, workshop: Workshop) -> list[Path]:
    absolute = Path(os.path.abspath(path))  # noqa: PTH100 - `resolve` would follow symlinks
    if absolute.is_dir():
        top = [workshop.root / name for name in ("modules", "shared", "kits", "bays")]
        folders = top if is_workshop(absolute) else [absolute]
        found = {file for folder in folders for file in folder.rglob("*") if file.suffix in (".yaml", ".yml")}
        return sorted(file for file in found if file.is_file())
    if not absolute.exists():
        raise InputError(
            Fault(path, 0, "", "no such file or folder", "a YAML file, or a folder in a workshop")
        )
    return [absolute]


def _check(reader: Reader, file: Path) -> str:
    """Check one file; what is returned is a note on a file that is none of the known ones."""
    if file.suffix != ".yaml":
        shown = reader.workshop.shown(file)
        reader.faults.append(
            Fault(shown, 0, "", f"a {file.suffix or 'nameless'} file", "a .yaml file", "rename it")
        )
        return ""
    steps = Path(reader.workshop.key(file)).parts
    folder, name = steps[0], steps[-1]
    if folder == "modules" and len(steps) == 2:
        read_part(reader, file)
    elif folder == "bays" and len(steps) == 3 and name == "vehicle.yaml":
        _check_vehicle(reader, file)
    elif folder == "bays" and len(steps) == 3:
        source = reader.source(file)
        if source is None:
            return ""
        if "placements" in source.data:  # an edited layout kept beside its vehicle
            reader.record(source, LAYOUT)
        elif "wheelbase" in source.data:
            _check_vehicle(reader, file)
        else:
            Gathered(reader).read_brief(file)
    elif folder == "kits" and len(steps) == 2:
        check_kit(reader, file)
    elif folder == "shared" and len(steps) == 2 and name in TABLES:
        reader.read(file, TABLES[name])
    elif folder == "shared" and steps[1] == "design-codes" and len(steps) == 3:
        reader.read(file, DESIGN_CODE)
    elif folder == "exports" and name.startswith("layout"):
        reader.read(file, LAYOUT)
    else:
        source = reader.source(file)
        return "read as YAML only: no part, vehicle, brief or table has this place" if source else ""
    return ""


def _check_vehicle(reader: Reader, file: Path) -> None:
    source = reader.source(file)
    vehicle = reader.record(source, VEHICLE)
    if source is not None and vehicle is not None:
        gathered = Gathered(reader)
        gathered.read_tables()
        gathered.read_space(source, vehicle)
