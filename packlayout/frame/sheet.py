"""Calculation sheets: what another engineer follows line by line - formula, numbers, clause, result."""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class SheetRow:
    """One line.

    Attributes:
        what: In words.
        formula: With symbols.
        numbers: The same with figures.
        value: What comes out.
        unit: Symbol.
        clause: Where the formula stands; empty for geometry and results of the analysis.
    """

    what: str
    formula: str
    numbers: str
    value: float
    unit: str
    clause: str = ""


@dataclass(frozen=True, slots=True)
class Sheet:
    """One calculation.

    Attributes:
        id: Key of the check it belongs to.
        title: For people.
        about: Which thing in which load case.
        rows: In order.
        utilisation: 1 is the limit.
        caution: Who decides.
    """

    id: str
    title: str
    about: str
    rows: tuple[SheetRow, ...]
    utilisation: float
    caution: str = "A design aid: a licensed engineer checks and signs, and local codes rule."
