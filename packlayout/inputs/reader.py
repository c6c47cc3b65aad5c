"""One reading of workshop files: what was read, what was noted, and every fault, gathered before any is told."""

import os
from collections.abc import Iterable
from hashlib import sha256
from pathlib import Path
from typing import Any, TypeVar

from pydantic import TypeAdapter, ValidationError

from packlayout.errors import Fault, InputError
from packlayout.inputs.faults import by_likeness, closest, faults_of
from packlayout.inputs.source import DoubledError, Source, Where, read_bytes, read_source
from packlayout.inputs.workshop import Workshop
from packlayout.model.brief import Brief, Kit
from packlayout.model.catalogue import Conventions, DesignCode, MaterialTable, ThreadTable, TubeTable
from packlayout.model.driving import CycleTable, ShaftRules
from packlayout.model.electrics import CableTable, ElectricalRules, FuseTable
from packlayout.model.prices import PriceTable
from packlayout.model.record import told
from packlayout.model.stock import CuttingStock
from packlayout.model.vehicle import Vehicle

T = TypeVar("T")

BRIEF = TypeAdapter(Brief)
KIT = TypeAdapter(Kit)
VEHICLE = TypeAdapter(Vehicle)
TUBES = TypeAdapter(TubeTable)
MATERIALS = TypeAdapter(MaterialTable)
FASTENERS = TypeAdapter(ThreadTable)
CONVENTIONS = TypeAdapter(Conventions)
DESIGN_CODE = TypeAdapter(DesignCode)
CABLES = TypeAdapter(CableTable)
FUSES = TypeAdapter(FuseTable)
ELECTRICAL = TypeAdapter(ElectricalRules)
CYCLES = TypeAdapter(CycleTable)
SHAFTS = TypeAdapter(ShaftRules)
PRICES = TypeAdapter(PriceTable)
STOCK = TypeAdapter(CuttingStock)

TABLES: dict[str, TypeAdapter[Any]] = {
    "tubes.yaml": TUBES,
    "materials.yaml": MATERIALS,
    "fasteners.yaml": FASTENERS,
    "conventions.yaml": CONVENTIONS,
    "cables.yaml": CABLES,
    "fuses.yaml": FUSES,
    "electrical.yaml": ELECTRICAL,
    "cycles.yaml": CYCLES,
    "shafts.yaml": SHAFTS,
    "prices.yaml": PRICES,
    "stock.yaml": STOCK,
}
"""Reference tables in shared/ and what each holds."""


class Reader:
    """Reads files of one workshop and gathers faults instead of stopping at the first.

    Attributes:
        workshop: Where the files are.
        faults: Everything found wrong so far.
        notes: What was assumed or cleaned.
        digests: Path within the workshop -> sha256, for each file read.
    """

    def __init__(self, workshop: Workshop) -> None:
        self.workshop = workshop
        self.faults: list[Fault] = []
        self.notes: list[str] = []
        self.digests: dict[str, str] = {}

    def source(self, path: Path) -> Source | None:
        """One YAML file; None, and its faults kept, when it cannot be read."""
        shown = self.workshop.shown(path)
        if not self.workshop.holds(path):
            allowed = f"a file below {self.workshop.root}"
            self.faults.append(Fault(shown, 0, "", "lies outside the workshop folder", allowed))
            return None
        try:
            source = read_source(path, shown)
        except DoubledError as error:  # go on, so that all other faults are told at once
            self.faults.extend(error.faults)
            source = error.source
        except InputError as error:
            self.faults.extend(error.faults)
            return None
        self.digests[self.workshop.key(path)] = source.digest
        return source

    def record(self, source: Source | None, adapter: TypeAdapter[T]) -> T | None:
        """The record a file holds; None, and its faults kept, when it does not hold one."""
        if source is None:
            return None
        try:
            return adapter.validate_python(source.data, by_alias=True, by_name=False)
        except ValidationError as error:
            self.faults.extend(faults_of(error, source, adapter))
        return None

    def read(self, path: Path, adapter: TypeAdapter[T]) -> T | None:
        """`source` and `record` in one."""
        return self.record(self.source(path), adapter)

    def raw(self, path: Path, largest: int) -> bytes:
        """The bytes of a file that is not YAML.

        Raises:
            InputError: when it cannot be read.
        """
        data = read_bytes(path, self.workshop.shown(path), largest)
        self.digests[self.workshop.key(path)] = sha256(data).hexdigest()
        return data

    def refuse(self, source: Source, where: Where, found: str, allowed: str, advice: str = "") -> None:
        """Keep a fault."""
        self.faults.append(source.fault(where, found, allowed, advice))

    def beside(self, source: Source, where: Where, name: str) -> Path | None:
        """A file that another one names: in its own folder, or a path from there that stays in the workshop.

        None, and a fault kept, when it leaves the workshop or is not there.
        """
        try:
            path = _joined(source.path.parent, name)
        except (OSError, ValueError):
            self.refuse(source, where, f"{told(name)} is no path", "the name of a file in this folder")
            return None
        if not path.is_relative_to(self.workshop.root) or not self.workshop.holds(path):
            self.refuse(source, where, f"{told(name)} leads out of the workshop folder",
                        f"a file below {self.workshop.root}")  # fmt: skip
            return None
        if not path.is_file():
            near = sorted(entry.name for entry in path.parent.glob("*") if entry.is_file())
            self.refuse(source, where, f"no such file: {told(name)}", ", ".join(near[:12]) or "a file that is there",
                        closest(path.name, near))  # fmt: skip
            return None
        return path

    def known(self, source: Source, where: Where, name: str, names: Iterable[str], word: str) -> bool:
        """True when a name is one of the known ones; else a fault that lists the nearest is kept."""
        listed = list(names)
        if name in listed:
            return True
        self.refuse(
            source, where, f"unknown {word} {told(name)}", nearest_first(name, listed), closest(name, listed)
        )
        return False

    def finish(self) -> None:
        """Tell every fault found.

        Raises:
            InputError: when there is one.
        """
        if self.faults:
            raise InputError(*self.faults)


def nearest_first(name: str, known: list[str], most: int = 12) -> str:
    """Known names, the ones most like a misspelt one first."""
    ranked = by_likeness(name, known)
    more = f" and {len(ranked) - most} more" if len(ranked) > most else ""
    return ", ".join(ranked[:most]) + more if ranked else "none is there"


def _joined(folder: Path, name: str) -> Path:
    if "\0" in name or Path(name).is_absolute() or "\\" in name:
        raise ValueError(name)
    return Path(os.path.normpath(folder / name))
