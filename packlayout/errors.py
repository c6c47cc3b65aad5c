"""The three ways a calculation can be refused, and how a fault in a file is told.

A failed check is a result, never an exception. What is raised here is wrong input (`InputError`),
geometry that cannot be worked with (`GeometryError`) or an output that could not be made (`ExportError`).
"""

from dataclasses import dataclass
from pathlib import Path


class PacklayoutError(Exception):
    """Anything this program refuses with a message for the user."""


@dataclass(frozen=True, slots=True, order=True)
class Fault:
    """One thing that is wrong in one place of a file.

    Attributes:
        file: The file as the user named it.
        line: 1-based line, 0 when the fault belongs to the file as a whole.
        field: Dotted path of the field, such as `plated.front_axle`; empty for the whole file.
        found: What stands there.
        allowed: What may stand there.
        advice: What to do about it; may be empty.
    """

    file: Path
    line: int
    field: str
    found: str
    allowed: str
    advice: str = ""

    def __str__(self) -> str:
        where = f"{self.file}:{self.line}" if self.line else str(self.file)
        field = f"{self.field}: " if self.field else ""
        allowed = f"; allowed: {self.allowed}" if self.allowed else ""
        advice = f"; {self.advice}" if self.advice else ""
        return f"{where}: {field}{self.found}{allowed}{advice}"


class InputError(PacklayoutError):
    """Wrong input or usage: every fault found, each at file:line."""

    def __init__(self, *faults: Fault) -> None:
        self.faults = tuple(sorted(set(faults)))
        super().__init__("\n".join(str(fault) for fault in self.faults))


class GeometryError(PacklayoutError):
    """Shapes or masses that no calculation can be made with."""


class ReadingError(GeometryError):
    """A reading that cannot be: which field, what it implies, what is allowed, the likely slip."""

    def __init__(self, field: str, found: str, allowed: str, advice: str) -> None:
        self.field, self.found, self.allowed, self.advice = field, found, allowed, advice
        super().__init__(f"{field}: {found}; allowed: {allowed}; {advice}")


class ExportError(PacklayoutError):
    """An output that could not be written; what was there before is left as it was."""
