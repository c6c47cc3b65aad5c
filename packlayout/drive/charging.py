"""Charging: how long on the stated supply, and whether a night makes good a day."""

from dataclasses import dataclass

from packlayout.model.brief import Case
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
        battery_kw: Into the battery.
        full_h: From the lowest to the highest state of charge.
        per_hour_km: Range gained in an hour; None without a range.
        daily_kwh: Out of the socket for a full day; None when the day is not stated.
        daily_h: To make it good.
        checks: A night against a day.
    """

    charger_kw: float
    supply_kw: float | None
    battery_kw: float
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
    rated = sum(p.electrical.power_kw for p in chargers)  # into the battery
    shares = [p.electrical.efficiency_percent or 92.0 for p in chargers]
    efficiency = sum(shares) / len(shares) / 100
    drawn = rated / efficiency
    taken = min(drawn, order.supply_kw) if order.supply_kw is not None else drawn
    battery = taken * efficiency
    day = round_kwh if round_kwh is not None else (
        order.daily_km * per_km_wh / 1000 if order.daily_km is not None and per_km_wh is not None else None
    )  # fmt: skip
    hours = day / battery if day is not None else None
    return Charging(drawn, order.supply_kw, battery, charge_hours(usable_kwh, soc, battery),
                    1000 * battery / per_km_wh if per_km_wh else None,
                    day / efficiency if day is not None else None, hours,
                    _checks(order.supply_kw, order.plugged_s / 3600, hours, day, usable_kwh))  # fmt: skip


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
