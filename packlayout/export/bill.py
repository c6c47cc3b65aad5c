"""What is bought and worked, with mass and price: the rows of the bill of materials.

Prices are the workshop's own, from shared/prices.yaml. What has no price there stays blank and is counted, so that
a total is never taken for the whole.
"""

from collections.abc import Sequence
from dataclasses import dataclass

from packlayout.electrical.cables import MASS_SHARE
from packlayout.export.bolts import bolts_in
from packlayout.export.piece_marks import PlateMark, TubeMark, plate_marks, tube_marks
from packlayout.export.tree import laid_runs
from packlayout.frame.tubes import TubeFrame
from packlayout.model.prices import PriceTable
from packlayout.price import Price
from packlayout.study import Study
from packlayout.units import Measured

_TABLE = "shared/prices.yaml"
_SOURCES = ("shared/cables.yaml", "the brief", "shared/electrical.yaml", "shared/electrical.yaml")
"""Of cables, signal cables, hoses and conduit."""


@dataclass(frozen=True, slots=True)
class BillRow:
    """One line.

    Attributes:
        sort: `part`, `tube`, `plate`, `bolt`, `cable`, `conduit`, `work`, `other`.
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
        rows: Parts, tubes, plates, bolts, cables, conduit, work, other.
        currency: Of the prices; empty without prices.
        total: The price of the study; None without one.
        unpriced: How many lines have none.
        remarks: What the total leaves out.
    """

    rows: tuple[BillRow, ...]
    currency: str
    total: Measured | None
    unpriced: int
    remarks: tuple[str, ...]


def bill(study: Study) -> Bill:
    """The bill of materials of a study, with the prices that the study came to."""
    priced, prices = study.priced, study.case.tables.prices
    frame = study.framed.frame if study.framed is not None else None
    rows = _part_rows(study, priced)
    rows += _frame_rows(frame, prices) if frame is not None else []
    rows += _bolt_rows(study, priced)
    rows += _cable_rows(study, priced)
    if priced is None:
        why = "shared/prices.yaml is not there" if prices is None else "nothing was placed"
        return Bill(tuple(rows), "", None, len(rows), (f"no prices: {why}",))
    rows += [
        BillRow("work", line.name, _TABLE, round(line.count, 2), "h", None, line.total)
        for line in priced.lines if line.group == "hours"
    ]  # fmt: skip
    rows += [
        BillRow("other", line.name if line.group == "fixed" else f"consumables, {line.name}", _TABLE, 1, "piece", None,
                line.total)
        for line in priced.lines if line.group in ("consumables", "fixed")
    ]  # fmt: skip
    remarks = [*(check.note for check in priced.checks)]
    unpriced = [row for row in rows if row.price is None]
    if any(row.sort == "bolt" for row in unpriced) and prices is not None and not prices.bolts:
        remarks.append("bolts are counted among the consumables")
        unpriced = [row for row in unpriced if row.sort != "bolt"]
    if unpriced:
        lines = "1 line has" if len(unpriced) == 1 else f"{len(unpriced)} lines have"
        remarks.append(f"{lines} no price and no part in the total")
    return Bill(tuple(rows), priced.currency, priced.total, len(unpriced), tuple(remarks))


def _price_of(priced: Price | None, group: str, name: str) -> Measured | None:
    lines = priced.lines if priced is not None else ()
    return next((line.total for line in lines if line.group == group and line.name == name), None)


def _times(price: Measured, count: float) -> Measured:
    """Several at one price: dear or cheap as a whole."""
    return Measured(price.value * count, price.tolerance * count)


def _part_rows(study: Study, priced: Price | None) -> list[BillRow]:
    if study.layout is None:
        return []
    counts: dict[str, int] = {}
    for placement in study.layout.placements:
        counts[placement.part] = counts.get(placement.part, 0) + 1
    rows: list[BillRow] = []
    for key, count in counts.items():
        part = study.case.parts[key]
        price = _price_of(priced, "parts", part.name)
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


def _bolt_rows(study: Study, priced: Price | None) -> list[BillRow]:
    """Bolts of the foot plates and of everything that is bolted to the frame."""
    grade = study.case.brief.frame.bolt_class
    found = bolts_in(study)
    of_thread: dict[str, int] = {}
    for bolts in found:
        of_thread[bolts.thread] = of_thread.get(bolts.thread, 0) + bolts.count
    rows: list[BillRow] = []
    for bolts in found:
        long = "length to suit" if bolts.length_mm is None else f"x {bolts.length_mm:g}"
        more = " and the metal of the mounting point" if bolts.least and bolts.length_mm is not None else ""
        whole = _price_of(priced, "bolts", f"bolt {bolts.thread} with nut and washers")
        price = None if whole is None else _times(whole, bolts.count / of_thread[bolts.thread])
        what = f"bolt {bolts.thread} {long}{more}, class {grade}, with {bolts.with_what}"
        rows.append(
            BillRow(
                "bolt",
                what,
                "ISO 4014, 4032, 7089" if bolts.least else "ISO 4017, 7089",
                bolts.count,
                "piece",
                bolts.mass,
                price,
            )
        )
    return rows


def _cable_rows(study: Study, priced: Price | None) -> list[BillRow]:
    """Cables by their area, signal cables by their cores, hoses together, conduit by its name; bought by the metre."""
    metres: dict[str, float] = {}
    masses: dict[str, list[Measured]] = {}
    order: dict[str, tuple[int, float, str]] = {}

    def count(place: tuple[int, float, str], name: str, length_m: float, mass: Measured) -> None:
        metres[name] = metres.get(name, 0.0) + length_m
        masses.setdefault(name, []).append(mass)
        order[name] = place

    for run in laid_runs(study):
        length_m = run.length_mm / 1000
        if run.signal is not None:
            name = f"signal cable {run.cores} x {run.area_mm2:g} mm2"
            count((1, run.area_mm2, name), name, length_m, run.cable_mass)
        elif run.cores:
            name = f"cable {run.area_mm2:g} mm2"
            count((0, run.area_mm2, name), name, run.cores * length_m, run.cable_mass)
        else:
            count((2, 0.0, ""), "coolant hose", length_m, run.cable_mass)
        for sleeve in run.sleeves:
            name, outside = f"conduit {sleeve.conduit.name}", sleeve.conduit.outside_mm
            mass = Measured(sleeve.mass_kg, sleeve.mass_kg * MASS_SHARE)
            count((3, outside, name), name, sleeve.line.length_mm / 1000, mass)
    return [
        BillRow("cable" if order[name][0] < 3 else "conduit", name, _SOURCES[order[name][0]], round(metres[name], 2), "m",
                Measured(sum(m.value for m in masses[name]), sum(m.tolerance for m in masses[name])),
                _price_of(priced, "cable", name))
        for name in sorted(metres, key=lambda n: order[n])
    ]  # fmt: skip
