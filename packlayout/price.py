"""The price of a layout, from the shop's own figures: parts, metal, cable and conduit, hours, consumables. Without tax."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from math import sqrt
from typing import TypeVar

from packlayout.model.brief import Case
from packlayout.model.check import Check, unknown
from packlayout.model.layout import Layout
from packlayout.model.prices import PriceTable
from packlayout.units import Measured

Kind = TypeVar("Kind", float, str, tuple[int, float])
"""What cable or conduit is told apart by."""


@dataclass(frozen=True, slots=True)
class Bill:
    """What a layout is made of, in the numbers that are paid for; from frame and wiring.

    Attributes:
        members: Tubes of the frame.
        plates: Plates of the frame.
        legs: Legs to the vehicle.
        metal_kg: Of tubes and plates.
        cables: (area mm2, metres of single core) of each run.
        hoses_m: Metres of each hose.
        signals: (cores, area mm2, metres of cable) of each signal cable.
        conduits: (name, metres) of each piece of conduit.
        bolts: (thread, how many) with nuts and washers.
    """

    members: int = 0
    plates: int = 0
    legs: int = 0
    metal_kg: float = 0.0
    cables: Sequence[tuple[float, float]] = ()
    hoses_m: Sequence[float] = ()
    signals: Sequence[tuple[int, float, float]] = ()
    conduits: Sequence[tuple[str, float]] = ()
    bolts: Sequence[tuple[str, int]] = ()


@dataclass(frozen=True, slots=True)
class Line:
    """One line of the price.

    Attributes:
        group: parts, metal, bolts, cable, hours, consumables, fixed.
        name: What it is.
        count: How many, how much.
        unit: Of the count.
        each: Price of one.
        total: Of the line, with tolerance.
    """

    group: str
    name: str
    count: float
    unit: str
    each: Measured
    total: Measured


@dataclass(frozen=True, slots=True)
class Price:
    """The answer of `price`.

    Attributes:
        currency: As the shop writes it.
        lines: All of them.
        total: Their sum; copies of a part are dear or cheap together.
        hours: Of work.
        checks: Unknown where a price is missing, so that nobody takes the sum for whole.
    """

    currency: str
    lines: tuple[Line, ...]
    total: Measured
    hours: Measured
    checks: tuple[Check, ...]

    def group(self, name: str) -> float:
        """Sum of one group."""
        return sum(line.total.value for line in self.lines if line.group == name)


def price(case: Case, layout: Layout, bill: Bill) -> Price | None:
    """The price of one layout; None where the shop has no prices.

    Args:
        case: Supplies the price table.
        layout: Which parts are placed.
        bill: Counts of frame and wiring.

    Returns:
        Lines and their sum. Tolerances of different lines are independent.
    """
    table = case.tables.prices
    if table is None:
        return None
    counts: dict[str, int] = {}
    for placed in layout.placements:
        counts[placed.part] = counts.get(placed.part, 0) + 1
    lines: list[Line] = []
    missing: list[str] = []
    known = {row.part: row.price for row in table.parts}
    for part, count in counts.items():
        if part in known:
            lines.append(_line("parts", case.parts[part].name, count, "", known[part]))
        else:
            missing.append(f"price of part {part}")
    lines.append(_line("metal", "tube and plate", bill.metal_kg, "kg", table.metal))
    lines += _bolts(table, bill, missing)
    lines += _by_metre(
        "cable {:g} mm2", {row.area_mm2: row.per_m for row in table.cables}, bill.cables, missing
    )
    lines += _by_metre(
        "signal cable {0[0]} x {0[1]:g} mm2", {(row.cores, row.area_mm2): row.per_m for row in table.signals},
        [((cores, area), metres) for cores, area, metres in bill.signals], missing,
    )  # fmt: skip
    lines += _by_metre(
        "conduit {}", {row.conduit: row.per_m for row in table.conduits}, bill.conduits, missing
    )
    if bill.hoses_m:
        lines.append(_line("cable", "coolant hose", sum(bill.hoses_m), "m", table.hose))
    work = _work(table, layout, bill)
    lines += [_line("hours", name, hours.value, "h", table.hour, hours) for name, hours in work]
    lines.append(_consumables(table, lines, work))
    lines += [_line("fixed", name, 1, "", sum_) for name, sum_ in table.fixed.items()]
    lines = [line for line in lines if line.total.value > 0]
    total = Measured(
        sum(line.total.value for line in lines), sqrt(sum(line.total.tolerance**2 for line in lines))
    )
    hours = Measured(sum(h.value for _, h in work), sqrt(sum(h.tolerance**2 for _, h in work)))
    checks = tuple(
        unknown(
            f"price.missing.{n}",
            "Price",
            table.currency,
            table.source,
            f"{what} is not in shared/prices.yaml",
        )
        for n, what in enumerate(missing, start=1)
    )
    return Price(table.currency, tuple(lines), total, hours, checks)


def _line(
    group: str, name: str, count: float, unit: str, each: Measured, counted: Measured | None = None
) -> Line:
    """Count times price; both tolerances, where the count has one."""
    total = count * each.value
    spread = sqrt((count * each.tolerance) ** 2 + ((counted.tolerance if counted else 0.0) * each.value) ** 2)
    return Line(group, name, count, unit, each, Measured(total, spread))


def _bolts(table: PriceTable, bill: Bill, missing: list[str]) -> list[Line]:
    """By thread; none where the shop counts its bolts among the consumables."""
    if not table.bolts:
        return []
    known = {row.thread: row.price for row in table.bolts}
    counts: dict[str, int] = {}
    for thread, count in bill.bolts:
        counts[thread] = counts.get(thread, 0) + count
    missing += [f"price of a bolt {thread}" for thread in counts if thread not in known]
    return [
        _line("bolts", f"bolt {thread} with nut and washers", count, "", known[thread])
        for thread, count in counts.items() if thread in known
    ]  # fmt: skip


def _by_metre(
    words: str, known: Mapping[Kind, Measured], bought: Iterable[tuple[Kind, float]], missing: list[str]
) -> list[Line]:
    """Cable or conduit by its kind, the thinnest first; a kind without a price goes to what is missing.

    Args:
        words: Name of the line, with a place for the kind.
        known: Price of a metre of each kind.
        bought: (kind, metres) of each piece.
        missing: Told in the checks; added to.
    """
    metres: dict[Kind, float] = {}
    for kind, length in bought:
        metres[kind] = metres.get(kind, 0.0) + length
    made: list[Line] = []
    for kind, length in sorted(metres.items(), key=lambda row: row[0]):
        if kind in known:
            made.append(_line("cable", words.format(kind), length, "m", known[kind]))
        else:
            missing.append(f"price of {words.format(kind)}")
    return made


def _work(table: PriceTable, layout: Layout, bill: Bill) -> list[tuple[str, Measured]]:
    counts = {
        "job": 1, "module": len(layout.modules), "part": len(layout.placements) - len(layout.modules),
        "member": bill.members, "plate": bill.plates, "leg": bill.legs, "cable run": len(bill.cables) + len(bill.signals),
        "conduit": len(bill.conduits), "hose run": len(bill.hoses_m),
    }  # fmt: skip
    return [
        (task.name, Measured(counts[task.each] * task.hours.value, counts[task.each] * task.hours.tolerance))
        for task in table.tasks
        if counts[task.each]
    ]


def _consumables(table: PriceTable, lines: list[Line], work: list[tuple[str, Measured]]) -> Line:
    """A share of the metal and of the hours spent on the frame."""
    frame = {task.name for task in table.tasks if task.each in ("member", "plate", "leg")}
    base = sum(line.total.value for line in lines if line.group == "metal" or line.name in frame)
    share = table.consumables_percent
    return _line(
        "consumables", f"{share:g} % of metal and welding", base, table.currency, Measured(share / 100)
    )
