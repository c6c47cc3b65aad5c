"""What is bought and worked, with mass and price: the rows of the bill of materials.

Prices are the workshop's own, from shared/prices.yaml. What has no price there stays blank and is counted, so that
a total is never taken for the whole.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from math import sqrt

from packlayout.export.piece_marks import PlateMark, TubeMark, plate_marks, tube_marks
from packlayout.frame.tubes import TubeFrame
from packlayout.model.prices import PriceTable, Task
from packlayout.study import Study
from packlayout.units import Measured


@dataclass(frozen=True, slots=True)
class BillRow:
    """One line.

    Attributes:
        sort: `part`, `tube`, `plate`, `bolt`, `work`, `other`.
        what: In words.
        source: Maker, stock or table.
        quantity: How many, in `unit`.
        unit: `piece`, `m`, `kg`, `h`.
        mass: Altogether, kg; None when it is not known.
        price: Altogether, without tax; None when there is none in the table.
    """

    sort: str
    what: str
    source: str
    quantity: float
    unit: str
    mass: Measured | None
    price: Measured | None


@dataclass(frozen=True, slots=True)
class Bill:
    """All lines.

    Attributes:
        rows: Parts, tubes, plates, bolts, work, other.
        currency: Of the prices; empty without a price table.
        total: Of the lines that have a price; None without a price table.
        unpriced: How many lines have none.
        remarks: What the total leaves out.
    """

    rows: tuple[BillRow, ...]
    currency: str
    total: Measured | None
    unpriced: int
    remarks: tuple[str, ...]


def bill(study: Study) -> Bill:
    """The bill of materials of a study."""
    prices = study.case.tables.prices
    frame = study.framed.frame if study.framed is not None else None
    rows = _part_rows(study, prices)
    steel = _frame_rows(frame, prices) if frame is not None else []
    rows += steel
    rows += _bolt_rows(study)
    remarks: list[str] = []
    if prices is None:
        remarks.append("no prices: shared/prices.yaml is not there")
        return Bill(tuple(rows), "", None, len(rows), tuple(remarks))
    counts = _counts(study, frame)
    tasks = [task for task in prices.tasks if counts.get(task.each)]
    work = [_work_row(task, counts[task.each], prices) for task in tasks]
    rows += work
    undone = [task.name for task in prices.tasks if task.each not in counts]
    if undone:
        remarks.append(f"not counted, since it was not laid out: {', '.join(undone)}")
    rows += [
        BillRow("other", name, "shared/prices.yaml", 1, "piece", None, sum_)
        for name, sum_ in prices.fixed.items()
    ]
    on_frame = [row for row, task in zip(work, tasks, strict=True) if task.each in ("member", "plate", "leg")]
    rows += _consumables(steel, on_frame, prices)
    priced = [row.price for row in rows if row.price is not None]
    unpriced = sum(row.price is None for row in rows)
    if unpriced:
        lines = "1 line has" if unpriced == 1 else f"{unpriced} lines have"
        remarks.append(f"{lines} no price and no part in the total")
    return Bill(tuple(rows), prices.currency, _sum(priced), unpriced, tuple(remarks))


def _sum(prices: Iterable[Measured]) -> Measured:
    """Sum of prices that are out independently of each other."""
    rows = list(prices)
    return Measured(sum(p.value for p in rows), sqrt(sum(p.tolerance**2 for p in rows)))


def _times(price: Measured, count: float) -> Measured:
    """Several at one price: dear or cheap as a whole."""
    return Measured(price.value * count, price.tolerance * count)


def _part_rows(study: Study, prices: PriceTable | None) -> list[BillRow]:
    if study.layout is None:
        return []
    counts: dict[str, int] = {}
    for placement in study.layout.placements:
        counts[placement.part] = counts.get(placement.part, 0) + 1
    known = {row.part: row.price for row in prices.parts} if prices is not None else {}
    rows: list[BillRow] = []
    for key, count in counts.items():
        part = study.case.parts[key]
        price = _times(known[key], count) if key in known else None
        rows.append(
            BillRow("part", part.name, part.maker, count, "piece", _times(part.mass_kg, count), price)
        )
    return rows


def _frame_rows(frame: TubeFrame, prices: PriceTable | None) -> list[BillRow]:
    def row(sort: str, what: str, count: float, unit: str, marks: Sequence[TubeMark | PlateMark]) -> BillRow:
        pieces = [p for m in marks for p in (m.members if isinstance(m, TubeMark) else m.plates)]
        items = [p.mass_item(frame.material).mass for p in pieces]
        mass = Measured(sum(m.value for m in items), sum(m.tolerance for m in items))
        price = (
            None
            if prices is None
            else Measured(prices.metal.value * mass.value, prices.metal.tolerance * mass.value)
        )
        return BillRow(sort, what, frame.material.name, count, unit, mass, price)

    tubes, plates = tube_marks(frame), plate_marks(frame)
    rows: list[BillRow] = []
    for name in dict.fromkeys(m.section.name for m in tubes):
        same = [m for m in tubes if m.section.name == name]
        metres = sum(m.longest_mm * len(m.members) for m in same) / 1000
        rows.append(
            row("tube", f"{name}, {sum(len(m.members) for m in same)} pieces", round(metres, 3), "m", same)
        )
    rows += [
        row(
            "plate",
            f"{m.mark}, {m.size[0]:g} x {m.size[1]:g} x {m.size[2]:g} mm",
            len(m.plates),
            "piece",
            (m,),
        )
        for m in plates
    ]
    return rows


def _bolt_rows(study: Study) -> list[BillRow]:
    """Bolts at the mounting points that a leg stands on, and through the other drilled plates of the frame."""
    framed = study.framed
    if framed is None or framed.frame is None:
        return []
    mounts = {mount.name: mount for mount in study.case.vehicle.mounts}
    counts: dict[tuple[str, str], int] = {}
    feet: set[str] = set()
    for leg in framed.legs:
        mount = mounts[leg.mount]
        feet.add(leg.plate.name)
        key = (mount.thread, "length to suit the mounting point")
        counts[key] = counts.get(key, 0) + len(mount.holes)
    threads = {row.clearance_hole_mm: name for name, row in study.case.threads.items()}
    for plate in framed.frame.plates:
        for _, _, diameter in plate.holes if plate.name not in feet and framed.legs else ():
            key = (threads.get(diameter, f"for holes of {diameter:g} mm"), "length to suit plate and tube")
            counts[key] = counts.get(key, 0) + 1
    grade = study.case.brief.frame.bolt_class
    return [
        BillRow("bolt", f"{thread}, class {grade}, with nut and washers, {length}", "ISO 4014, 7089", count, "piece",
                None, None)
        for (thread, length), count in counts.items()
    ]  # fmt: skip


def _counts(study: Study, frame: TubeFrame | None) -> dict[str, int]:
    """How many of what is paid by the hour; what was not computed is not there."""
    counts = {"job": 1}
    if study.layout is not None:
        counts["module"] = len(study.layout.modules)
        counts["part"] = len(study.layout.placements) - len(study.layout.modules)
    if frame is not None:
        counts |= {"member": len(frame.members), "plate": len(frame.plates)}
    if study.framed is not None and frame is not None:
        counts["leg"] = len(study.framed.legs)
    return counts


def _work_row(task: Task, count: int, prices: PriceTable) -> BillRow:
    hours = _times(task.hours, count)
    value = hours.value * prices.hour.value
    spread = sqrt((hours.tolerance * prices.hour.value) ** 2 + (hours.value * prices.hour.tolerance) ** 2)
    what = task.name if task.each == "job" else f"{task.name}, {count} times"
    return BillRow(
        "work", what, "shared/prices.yaml", round(hours.value, 2), "h", None, Measured(value, spread)
    )


def _consumables(steel: Sequence[BillRow], work: Sequence[BillRow], prices: PriceTable) -> list[BillRow]:
    share = prices.consumables_percent / 100
    on = _sum(row.price for row in (*steel, *work) if row.price is not None)
    if not share or not on.value:
        return []
    what = f"consumables, {prices.consumables_percent:g} % of metal and work on the frame"
    return [BillRow("other", what, "shared/prices.yaml", 1, "piece", None, _times(on, share))]
