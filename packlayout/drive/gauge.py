"""The old dials: tables that drive the original fuel gauge and speedometer from the new electronics."""

from dataclasses import dataclass
from math import pi

import numpy as np

from packlayout.model.check import Check, judge
from packlayout.model.driving import Sender, Speedometer
from packlayout.model.vehicle import Vehicle
from packlayout.units import Measured

EVERY_PERCENT = 2.5
R39_SHARE, R39_KM_PER_H = 0.1, 4.0
"""UN Regulation No. 39: 0 <= shown - true <= true / 10 + 4 km/h (value from memory)."""


@dataclass(frozen=True, slots=True)
class GaugeTable:
    """State of charge -> what the dial must be given.

    Attributes:
        quantity: `ohm` or `V`.
        rows: (state of charge %, level shown %, reading).
        source: Of the measured points.
    """

    quantity: str
    rows: tuple[tuple[float, float, float], ...]
    source: str

    @property
    def csv(self) -> str:
        """As CSV text with a head line."""
        lines = [f"soc_percent,level_percent,reading_{self.quantity.lower()}"]
        return "\n".join([*lines, *(f"{s:g},{level:.2f},{r:.3f}" for s, level, r in self.rows)]) + "\n"

    @property
    def header(self) -> str:
        """As a C header: readings in thousandths, one for each step of the state of charge."""
        unit = "milliohm" if self.quantity == "ohm" else "millivolt"
        values = ", ".join(str(round(1000 * r)) for _, _, r in self.rows)
        return (
            "/* Fuel gauge: state of charge to the reading of the old tank sender, straight lines between.\n"
            f" * {self.source.replace('*/', '')} */\n"
            "#ifndef GAUGE_TABLE_H\n#define GAUGE_TABLE_H\n#include <stdint.h>\n"
            f"#define GAUGE_ROWS {len(self.rows)}\n"
            f"#define GAUGE_STEP_PERMILLE {round(10 * EVERY_PERCENT)}\n"
            f"/* {unit}, at 0, {EVERY_PERCENT:g}, ... 100 % state of charge */\n"
            f"static const int32_t gauge_{unit}[GAUGE_ROWS] = {{{values}}};\n#endif\n"
        )


def gauge_table(sender: Sender) -> GaugeTable:
    """The table for one dial.

    The dial shows full at the sender's `full` state of charge and empty at its `empty` one; between the
    measured points the reading runs straight.

    Args:
        sender: Measured points.
    """
    soc = np.arange(0.0, 100.0 + EVERY_PERCENT / 2, EVERY_PERCENT)
    levels = [level for level, _ in sender.points]
    share = (soc - sender.empty_percent) / (sender.full_percent - sender.empty_percent)
    shown = levels[0] + np.clip(share, 0, 1) * (levels[-1] - levels[0])
    reading = np.interp(shown, levels, [r for _, r in sender.points])
    rows = tuple((float(s), float(level), float(r)) for s, level, r in zip(soc, shown, reading, strict=True))
    return GaugeTable(sender.quantity, rows, sender.source)


def level_of(sender: Sender, reading: float) -> float:
    """The level the dial shows for a reading, %; the other way round of the measured points."""
    points = sorted(sender.points, key=lambda p: p[1])
    return float(np.interp(reading, [r for _, r in points], [level for level, _ in points]))


@dataclass(frozen=True, slots=True)
class SpeedTable:
    """What drives the old speedometer.

    Attributes:
        wheel_turns_per_km: By the tyre's loaded radius.
        shaft_turns_per_km: Of the propeller shaft.
        pulses_per_km: Of the sensor.
        cable_turns_per_pulse: What the drive motor of the old cable turns for each pulse.
        rows: (km/h, pulses in a second, turns of the cable a minute).
        checks: Reading against true speed.
    """

    wheel_turns_per_km: Measured
    shaft_turns_per_km: Measured
    pulses_per_km: Measured
    cable_turns_per_pulse: Measured
    rows: tuple[tuple[float, float, float], ...]
    checks: tuple[Check, ...]

    @property
    def csv(self) -> str:
        """As CSV text with a head line."""
        lines = ["speed_kmh,pulses_per_s,cable_rpm"]
        return "\n".join([*lines, *(f"{v:g},{p:.3f},{c:.2f}" for v, p, c in self.rows)]) + "\n"

    @property
    def header(self) -> str:
        """As a C header."""
        return (
            "/* Speedometer: pulses of the sensor to turns of the old cable. */\n"
            "#ifndef SPEED_TABLE_H\n#define SPEED_TABLE_H\n"
            f"#define SPEED_PULSES_PER_KM {round(self.pulses_per_km.value)}\n"
            f"#define SPEED_CABLE_TURNS_PER_1000_PULSES {round(1000 * self.cable_turns_per_pulse.value)}\n#endif\n"
        )


def speed_table(meter: Speedometer, vehicle: Vehicle) -> SpeedTable:
    """What drives the old speedometer.

    The dial is made to read 3 % more than the best estimate, so that it never reads less than true speed
    within the tolerance of the tyre.

    Args:
        meter: Its constant and the sensor.
        vehicle: Tyre radius and axle ratio.

    Source: turns for each km = 1e6 / (2 pi r).
    """
    radius = vehicle.tyres.radius_mm
    turns = 1e6 / (2 * pi * radius)
    wheel = Measured(turns, 0.02 * turns)  # wear and load: 2 % (common practice, no source)
    ratio = vehicle.driveline.axle_ratio if vehicle.driveline is not None else 1.0
    shaft = Measured(wheel.value * ratio, wheel.tolerance * ratio)
    seen = shaft if meter.sensor == "propeller shaft" else wheel
    pulses = Measured(seen.value * meter.pulses_per_turn, seen.tolerance * meter.pulses_per_turn)
    lead = 1.03
    share = (0.02**2 + (meter.cable_turns.tolerance / meter.cable_turns.value) ** 2) ** 0.5
    per_pulse = lead * meter.cable_turns.value / pulses.value
    speeds = np.arange(10.0, meter.largest_km_per_h + 5, 10.0)
    rows = tuple(
        (float(v), float(v * pulses.value / 3600), float(v * pulses.value * per_pulse / 60)) for v in speeds
    )
    checks: list[Check] = []
    for v in (40.0, 80.0):
        more = Measured(v * (lead - 1), v * share)
        basis = "UN Regulation No. 39 paragraph 5: 0 <= shown - true <= true/10 + 4 km/h; value from memory"
        checks += [
            judge(f"drive.speedometer.over.{v:g}", f"Speedometer at {v:g} km/h: reads more by", more,
                  R39_SHARE * v + R39_KM_PER_H, "max", "km/h", basis),
            judge(f"drive.speedometer.under.{v:g}", f"Speedometer at {v:g} km/h: never less than true", more, 0.0,
                  "min", "km/h", basis),
        ]  # fmt: skip
    return SpeedTable(wheel, shaft, pulses, Measured(per_pulse, per_pulse * share), rows, tuple(checks))
