"""The first page: what the customer asks, in figures; before and after."""

from packlayout.export.bill import bill
from packlayout.export.blocks import Block, Danger, Fact, Facts, Table, Text
from packlayout.export.danger import danger
from packlayout.export.figures import figure, number
from packlayout.mass.states import CONVERTED, ORIGINAL
from packlayout.mass.weighing import State, Weighing
from packlayout.model.brief import Case
from packlayout.study import Study
from packlayout.units import Measured

NOT_DONE = "not done"


def front(study: Study) -> list[Block]:
    """What may kill, where anything does; range, payload, price and what goes with them."""
    lines = danger(study)
    facts = (_range(study), _payload(study), _price(study), _battery(study), _charging(study), _speed(study))
    return [*([Danger(lines)] if lines else []), Facts(facts)]


def _range(study: Study) -> Fact:
    found = study.driving.ranges if study.driving is not None else ()
    if not found:
        return Fact("range", NOT_DONE, _why(study, "drive.performance"))
    own = {order.name for order in study.case.brief.driving.rounds}
    shown = min([r for r in found if r.drive in own] or found, key=lambda r: r.range_km.value)
    words = f"on {shown.drive}; {number(shown.heated_km, 0)} km with the heater on"
    return Fact("range", f"{figure(shown.range_km, 0)} km", words)


def _payload(study: Study) -> Fact:
    weighing = study.weighing
    if weighing is None or not weighing.payload:
        return Fact("payload", NOT_DONE, "no load floor is given" if weighing is not None else "")
    rows = weighing.payload
    middle, least = rows[len(rows) // 2], min(rows, key=lambda r: r.allowed_kg.value)
    words = (
        f"with the driver aboard, in the middle of the load floor ({middle.bound_by}); nowhere on it less than "
        f"{figure(least.allowed_kg, 0)} kg ({least.bound_by})"
    )
    return Fact("payload", f"{figure(middle.allowed_kg, 0)} kg", words)


def _price(study: Study) -> Fact:
    found = bill(study)
    if found.total is None or study.priced is None:
        return Fact("price", NOT_DONE, "; ".join(found.remarks))
    words = f"without tax; {figure(study.priced.hours, 0)} hours of work in it"
    return Fact("price", f"{figure(found.total, 0)} {found.currency}", "; ".join((words, *found.remarks)))


def _battery(study: Study) -> Fact:
    pack = study.wiring.pack if study.wiring is not None else None
    if pack is None:
        return Fact("battery", NOT_DONE)
    words = (
        f"usable, of {figure(pack.energy_kwh)}; {number(pack.nominal_v, 0)} V, full {number(pack.max_v, 0)} V"
    )
    return Fact("battery", f"{figure(pack.usable_kwh)} kWh", words)


def _charging(study: Study) -> Fact:
    found = study.driving.charging if study.driving is not None else None
    if found is None:
        return Fact("charging", NOT_DONE, "no charger is placed" if study.driving is not None else "")
    day = "" if found.daily_h is None else f"; a full day is made good in {number(found.daily_h)} h"
    return Fact(
        "charging", f"{number(found.full_h)} h", f"from empty to full, {number(found.battery_kw)} kW{day}"
    )


def _speed(study: Study) -> Fact:
    found = study.driving.performance if study.driving is not None else ()
    if not found:
        return Fact("top speed", NOT_DONE, _why(study, "drive.performance"))
    first = found[0]
    pull = "never reaches 50 km/h" if first.to_50_s is None else f"0 to 50 km/h in {number(first.to_50_s)} s"
    return Fact("top speed", f"{number(first.top_km_per_h, 0)} km/h", f"{pull} ({first.state})")


def _why(study: Study, key: str) -> str:
    checks = study.driving.checks if study.driving is not None else ()
    return next((check.note for check in checks if check.id == key and check.verdict == "unknown"), "")


def before_and_after(study: Study) -> list[Block]:
    """The vehicle in kerb state before and after, and fully laden against its plate."""
    weighing = study.weighing
    states = {state.name: state for state in weighing.states} if weighing is not None else {}
    if weighing is None or not {ORIGINAL, CONVERTED} <= set(states):
        return [Text("Before and after: not done.")]
    return [_table(study.case, weighing, states[ORIGINAL], states[CONVERTED])]


def _table(case: Case, weighing: Weighing, before: State, after: State) -> Table:
    change, plate = weighing.change, case.vehicle.plated
    laden = [s for s in weighing.states if s.name not in (ORIGINAL, CONVERTED)]
    most = max(laden, key=lambda s: s.mass.value, default=None)

    def row(
        name: str, unit: str, old: Measured, new: Measured, moved: Measured, full: Measured | None, limit: float | None
    ) -> tuple[str, ...]:  # fmt: skip
        return (
            f"{name}, {unit}", figure(old, 0), figure(new, 0), figure(moved, 0, signed=True),
            "" if full is None else figure(full, 0), "" if limit is None else number(limit, 0),
        )  # fmt: skip

    rows = (
        row("mass", "kg", before.mass, after.mass, change.mass, most.mass if most else None, plate.gross_kg),
        row("front axle", "kg", before.axle[0], after.axle[0], change.axle[0], most.axle[0] if most else None,
            plate.front_axle_kg),
        row("rear axle", "kg", before.axle[1], after.axle[1], change.axle[1], most.axle[1] if most else None,
            plate.rear_axle_kg),
        row("centre of gravity above ground", "mm", before.cg[2], after.cg[2], change.cg[2],
            most.cg[2] if most else None, None),
    )  # fmt: skip
    head = ("", "before", "after", "change", most.name if most else "laden", "plate allows")
    caption = f"Kerb state before and after; {most.name if most else 'laden'} against the maker's plate"
    return Table(head, rows, frozenset(range(1, 6)), caption)
