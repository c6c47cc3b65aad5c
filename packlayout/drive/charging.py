"""Charging: how long on the stated supply, and whether a night makes good a day."""

from dataclasses import dataclass
from math import inf

from packlayout.model.brief import Case
from packlayout.model.catalogue import ModuleData, PoweredData
from packlayout.model.check import Check, judge, unknown
from packlayout.model.layout import Layout
from packlayout.units import Measured

TAPER_PERCENT = 90.0
"""State of charge above which charging power falls off towards a third (common practice, no source)."""
TAPER_SHARE = 0.6
"""Mean power above it, of full power (common practice, no source)."""


@dataclass(frozen=True, slots=True)
class Charging:
    """Charging on the stated supply.

    Attributes:
        charger_kw: Into the charger at full power.
        supply_kw: What the socket gives; None when not stated.
        battery_kw: Into the battery, at its nominal voltage.
        current_a: The most the charger gives, the battery empty; nought where no string is placed.
        cells_a: The most that modules and strings together take; None where the part does not say.
        bound: What sets the power: charger, socket or cells.
        full_h: From the lowest to the highest state of charge.
        per_hour_km: Range gained in an hour; None without a range.
        daily_kwh: Out of the socket for a full day; None when the day is not stated.
        daily_h: To make it good.
        checks: Current and cold against the cells' limits; a night against a day.
    """

    charger_kw: float
    supply_kw: float | None
    battery_kw: float
    current_a: float
    cells_a: float | None
    bound: str
    full_h: float
    per_hour_km: float | None
    daily_kwh: float | None
    daily_h: float | None
    checks: tuple[Check, ...]


def charge_hours(usable_kwh: float, soc: tuple[float, float], battery_kw: float) -> float:
    """Time from one state of charge to another, h: full power up to the taper, less above it."""
    per_percent = usable_kwh / (soc[1] - soc[0])
    below = max(0.0, min(soc[1], TAPER_PERCENT) - soc[0]) * per_percent
    above = max(0.0, soc[1] - max(soc[0], TAPER_PERCENT)) * per_percent
    return (below + above / TAPER_SHARE) / battery_kw


def charging(
    case: Case, layout: Layout, usable_kwh: float, per_km_wh: float | None, round_kwh: float | None
) -> Charging | None:
    """Charging of one layout; None without a charger.

    Args:
        case: Supplies charger, supply, day.
        layout: Which charger is placed.
        usable_kwh: Between the states of charge of the brief.
        per_km_wh: Consumption that the day is reckoned with, out of the battery; None when unknown.
        round_kwh: What the rounds of a day take out of the battery; None without rounds.
    """
    chargers = [p for placed in layout.placements if (p := case.parts[placed.part]).kind == "charger"]
    if not chargers:
        return None
    order, soc = (
        case.brief.driving,
        (case.brief.wiring.lowest_soc_percent, case.brief.wiring.highest_soc_percent),
    )
    module = _module(case)
    strings = case.brief.wiring.strings
    series = len(layout.modules) // strings
    rated = sum(p.electrical.power_kw for p in chargers)  # into the battery
    shares = [p.electrical.efficiency_percent or 92.0 for p in chargers]
    efficiency = sum(shares) / len(shares) / 100
    drawn = rated / efficiency
    volts = series * module.nominal_v
    current = sum(charger_amps(p.electrical, series * module.min_v) for p in chargers) if series else 0.0
    at_nominal = sum(charger_amps(p.electrical, volts) for p in chargers) * volts / 1000 if series else rated
    most = strings * module.most_charge_a if series and module.most_charge_a is not None else None
    ways = {
        "charger": min(rated, at_nominal),
        "socket": order.supply_kw * efficiency if order.supply_kw is not None else inf,
        "cells": most * volts / 1000 if most is not None else inf,
    }
    bound = min(ways, key=lambda name: ways[name])
    battery = ways[bound]
    day = round_kwh if round_kwh is not None else (
        order.daily_km * per_km_wh / 1000 if order.daily_km is not None and per_km_wh is not None else None
    )  # fmt: skip
    hours = day / battery if day is not None else None
    return Charging(
        drawn, order.supply_kw, battery, current, most, bound, charge_hours(usable_kwh, soc, battery),
        1000 * battery / per_km_wh if per_km_wh else None, day / efficiency if day is not None else None, hours,
        (*_cell_checks(case, current, most),
         *_checks(order.supply_kw, order.plugged_s / 3600, hours, day, usable_kwh)),
    )  # fmt: skip


def charger_amps(data: PoweredData, volts: float) -> float:
    """DC current of a charger into a battery of a voltage, A: its power over the voltage, no more than its bound."""
    amps = 1000 * data.power_kw / volts
    return min(amps, data.continuous_a) if data.continuous_a is not None else amps


def _module(case: Case) -> ModuleData:
    part = case.parts[case.brief.modules.part]
    assert part.kind == "battery module"
    return part.electrical


def _cell_checks(case: Case, current: float, most: float | None) -> list[Check]:
    """What the cells stand while they are charged: current, and cold where the part states a limit."""
    part, coldest = case.parts[case.brief.modules.part], case.brief.driving.coldest_degc
    basis, module = f"data of {part.name}", _module(case)
    id, title = (
        "drive.charging.current",
        "Charging current into the empty battery, against what the cells take",
    )
    if most is None:
        missing = f"charge or charge_rate is not given in the file of {part.name}"
        made = [unknown(id, title, "A", basis, missing if current else "no string of modules is placed")]
    else:
        note = "" if current <= most else f"set the charger to {most:.0f} A: charging is reckoned with that"
        made = [judge(id, title, Measured(current), most, "max", "A",
                      f"{basis}, {case.brief.wiring.strings} in parallel", note=note)]  # fmt: skip
    if module.lowest_charge_degc is not None:
        id, title = "drive.charging.cold", "Battery at the beginning of charging, on the coldest night"
        if coldest is None:
            made.append(unknown(id, title, "°C", basis, "driving: coldest is not given in the brief"))
        else:
            note = "" if coldest >= module.lowest_charge_degc else "warm the battery before it is charged"
            made.append(
                judge(id, title, Measured(coldest), module.lowest_charge_degc, "min", "°C", basis, note=note)
            )
    return made


def _checks(
    supply: float | None, night_h: float, hours: float | None, day: float | None, usable: float
) -> tuple[Check, ...]:
    id, title, basis = (
        "drive.charging.night",
        "Charging to make good a full day",
        "hours plugged in, as in the brief",
    )
    if supply is None:
        return (unknown(id, title, "h", basis, "driving: supply is not given in the brief"),)
    if hours is None or day is None:
        return (
            unknown(
                id, title, "h", basis, "driving: daily or rounds is not given, or consumption is unknown"
            ),
        )
    return (
        judge(id, title, Measured(hours), night_h, "max", "h", basis),
        judge("drive.charging.day", "Energy of a full day", Measured(day, 0.1 * day), usable, "max", "kWh",
              "usable energy of the pack; 10 % of spread from day to day (common practice, no source)"),
    )  # fmt: skip
