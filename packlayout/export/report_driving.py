"""The report's sections on driving: how it goes, how far, how it is charged, the shaft, the old dials."""

from packlayout.drive.shaft import Shaft
from packlayout.export.blocks import Block, Head, Table, Text
from packlayout.export.electric_lists import GAUGE, SPEEDOMETER, gauge_chart, shown_rows
from packlayout.export.figures import figure, number, point
from packlayout.study import Study

NOT_DONE = "Not done."


def driving(study: Study) -> tuple[Block, ...]:
    """Performance, range and charging."""
    found = study.driving
    if found is None:
        return (Text(NOT_DONE),)
    blocks: list[Block] = []
    if found.performance:
        rows = tuple(
            (p.state, number(p.mass_kg, 0), "never" if p.to_50_s is None else number(p.to_50_s),
             number(p.top_km_per_h, 0), p.top_bound, number(p.grade_percent, 0), p.grade_bound)
            for p in found.performance
        )  # fmt: skip
        head = (
            "state",
            "mass, kg",
            "0 to 50 km/h, s",
            "top speed, km/h",
            "set by",
            "steepest hill, %",
            "set by",
        )
        blocks.append(Table(head, rows, frozenset((1, 2, 3, 5)), "How it goes"))
    else:
        blocks.append(Text("Performance: not done."))
    blocks.append(Head("Range", "range"))
    if found.ranges:
        rows = tuple(
            (r.drive, number(r.used.distance_km), number(r.used.mean_km_per_h), number(r.used.per_km_wh, 0),
             figure(r.range_km, 0), number(r.heated_km, 0), number(r.laden_km, 0), number(r.used.short_s, 0))
            for r in found.ranges
        )  # fmt: skip
        head = ("cycle or round", "length, km", "mean, km/h", "Wh/km", "range, km", "with the heater, km", "laden, km",
                "cannot follow, s")  # fmt: skip
        caption = (
            "Range of one charge between the states of charge of the brief; the tolerance comes from road load, mass, "
            "efficiency and energy"
        )
        blocks.append(Table(head, rows, frozenset(range(1, 8)), caption))
    else:
        blocks.append(Text(NOT_DONE))
    return (*blocks, Head("Charging", "charging"), *_charging(study))


def _charging(study: Study) -> list[Block]:
    found = study.driving.charging if study.driving is not None else None
    if found is None:
        return [Text(NOT_DONE)]

    def or_not(value: float | None, unit: str, places: int = 1) -> str:
        return "not known" if value is None else f"{number(value, places)} {unit}"

    rows = (
        ("charger takes at most", or_not(found.charger_kw, "kW")),
        ("socket gives", "not stated" if found.supply_kw is None else or_not(found.supply_kw, "kW")),
        (f"into the battery, set by the {found.bound}", or_not(found.battery_kw, "kW")),
        ("charger's current into the empty battery", or_not(found.current_a, "A", 0)),
        ("current the cells take", or_not(found.cells_a, "A", 0)),
        ("from empty to full", or_not(found.full_h, "h")),
        ("range gained in an hour", or_not(found.per_hour_km, "km", 0)),
        ("out of the socket for a full day", or_not(found.daily_kwh, "kWh")),
        ("to make good a full day", or_not(found.daily_h, "h")),
    )
    return [Table(("charging", ""), rows, frozenset((1,)))]


def shaft(study: Study) -> tuple[Block, ...]:
    """The propeller shaft at its three heights."""
    found = study.driving.shaft if study.driving is not None else None
    if found is None:
        checks = study.driving.checks if study.driving is not None else ()
        why = next((c.note for c in checks if c.id.startswith("drive.shaft") and c.verdict == "unknown"), "")
        return (Text(f"Not done: {why}." if why else NOT_DONE),)
    rows = tuple(
        (s.height, number(s.length_mm), number(s.gear_deg), number(s.axle_deg), number(s.equivalent_deg),
         number(s.variation_percent, 2))
        for s in found.states
    )  # fmt: skip
    head = ("axle at", "length between joints, mm", "angle at the gear, °", "angle at the axle, °", "equivalent, °",
            "speed variation of it, %")  # fmt: skip
    return (Table(head, rows, frozenset(range(1, 6))), _shaft_table(found))


def _shaft_table(found: Shaft) -> Table:
    tube = "none of the stock will do" if found.tube is None else found.tube.name
    rows = (
        ("from, to; x, y, z, mm", f"{point(found.start)}; {point(found.end)}"),
        ("tube", tube),
        ("plunge wanted of the spline", f"{number(found.plunge_mm)} mm"),
        (
            "highest torque",
            f"{number(found.torque_nm, 0)} N m, {number(found.shear_mpa, 0)} MPa of shear in the tube",
        ),
        (
            "highest speed, critical speed",
            f"{number(found.speed_rpm, 0)} and {number(found.critical_rpm, 0)} rpm",
        ),
        ("mass with its joints", f"{figure(found.mass, 2)} kg"),
    )
    return Table(("shaft", ""), rows, shares=(0.35, 0.65))


def dials(study: Study) -> tuple[Block, ...]:
    """The old fuel gauge with its curve, the old speedometer."""
    found = study.driving
    if found is None:
        return (Text(NOT_DONE),)
    blocks: list[Block] = []
    if found.gauge is None:
        blocks.append(Text("Fuel gauge: not done; the old sender was not measured."))
    else:
        unit = "ohm" if found.gauge.quantity == "ohm" else "V"
        rows = tuple(
            (number(c, 0), number(level), number(r, 2)) for c, level, r in shown_rows(found.gauge.rows)
        )
        head = ("state of charge, %", "dial shows, %", f"reading, {unit}")
        words = f"Measured points: {found.gauge.source}"
        blocks += [gauge_chart(found.gauge), Table(head, rows, frozenset((0, 1, 2))), Text(words, faint=True)]
    blocks.append(Head("Speedometer", "speedometer"))
    if found.speedometer is None:
        return (*blocks, Text("Not done; the old speedometer was not measured."))
    meter = found.speedometer
    words = (
        f"The sensor gives {figure(meter.pulses_per_km, 0)} pulses for each km; the motor of the old cable turns "
        f"{figure(meter.cable_turns_per_pulse, 4)} times for each pulse. The figures are in {SPEEDOMETER}.csv and .h, "
        f"those of the fuel gauge in {GAUGE}.csv and .h."
    )
    rows = tuple((number(v, 0), number(p), number(c, 0)) for v, p, c in meter.rows)
    head = ("true speed, km/h", "pulses a second", "turns of the cable a minute")
    return (*blocks, Text(words), Table(head, rows, frozenset((0, 1, 2))))
