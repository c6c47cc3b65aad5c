"""The drive of one layout: shaft, performance, range with tolerance, charging, the old dials."""

from collections.abc import Callable
from dataclasses import dataclass, replace

from packlayout.drive.charging import Charging, charging
from packlayout.drive.cycle import Drive, cycle_drive, round_drive
from packlayout.drive.gauge import GaugeTable, SpeedTable, gauge_table, speed_table
from packlayout.drive.performance import Performance, perform
from packlayout.drive.road import Load, Train, Used, consumption, estimated_losses, load_of
from packlayout.drive.shaft import Shaft, check_shaft_missing, shaft
from packlayout.mass.weighing import State, Weighing
from packlayout.model.brief import Case
from packlayout.model.check import Check, judge, unknown
from packlayout.model.driving import RoadLoad
from packlayout.model.geometry import MassItem
from packlayout.model.layout import Layout
from packlayout.units import Measured

GEAR_EFFICIENCY = 0.97
"""Of one reduction gear (common practice, no source)."""
AXLE_EFFICIENCY = 0.95
"""Of an old hypoid or spiral bevel axle with its joints (common practice, no source)."""
LOSS_SHARE = 0.04
"""Tolerance of the power train's efficiency (common practice, no source)."""
LEAST_TOP_KM_PER_H = 80.0
"""Top speed below which a vehicle hinders others on main roads (common practice, no source)."""
LONGEST_TO_50_S = 15.0
"""Common practice, no source."""
LEAST_GRADE_PERCENT = 20.0
"""Hill that a laden vehicle must pull away on: the gradient of the parking brake test, UN R13-H (from memory)."""


@dataclass(frozen=True, slots=True)
class PackData:
    """What the drive needs to know of the pack, so that it need not know the electrics.

    Attributes:
        usable_kwh: Between the states of charge of the brief.
        nominal_v: As labelled.
        continuous_a: What the modules may give for long.
        peak_a: And for a short time, the junction box's and controller's bound included.
        resistance_ohm: Of modules and cables.
    """

    usable_kwh: Measured
    nominal_v: float
    continuous_a: float
    peak_a: float
    resistance_ohm: float


@dataclass(frozen=True, slots=True)
class Range:
    """How far one charge goes on one drive.

    Attributes:
        drive: Name of the cycle or round.
        used: What it takes, driver and brief's payload aboard.
        range_km: With the tolerance of road load, mass, efficiency and energy.
        heated_km: With the cabin heater on.
        laden_km: At the gross mass.
    """

    drive: str
    used: Used
    range_km: Measured
    heated_km: float
    laden_km: float


@dataclass(frozen=True, slots=True, eq=False)
class Driving:
    """The answer of `drive`.

    Attributes:
        shaft: None when it cannot be reckoned.
        performance: In kerb state with driver and fully laden.
        ranges: Each cycle and round.
        charging: None without a charger.
        gauge: None where the old gauge was not measured.
        speedometer: None likewise.
        items: What the shaft weighs.
        checks: All of it.
    """

    shaft: Shaft | None
    performance: tuple[Performance, ...]
    ranges: tuple[Range, ...]
    charging: Charging | None
    gauge: GaugeTable | None
    speedometer: SpeedTable | None
    items: tuple[MassItem, ...]
    checks: tuple[Check, ...]


def drive(case: Case, layout: Layout, weighing: Weighing, pack: PackData | None) -> Driving:
    """Everything about driving, for one layout.

    Args:
        case: Road load, driveline, cycles, rounds, supply.
        layout: Motor, gear, charger.
        weighing: Masses and axle loads.
        pack: Its energy and currents; None when there is none.

    Returns:
        The driving; what cannot be reckoned is an unknown check that names the missing input.
    """
    found_shaft = shaft(case, layout)
    checks = list(found_shaft.checks) if found_shaft else [check_shaft_missing(case, layout)]
    road, train = case.vehicle.road_load, train_of(case, layout, pack) if pack is not None else None
    performance: tuple[Performance, ...] = ()
    ranges: tuple[Range, ...] = ()
    if road is None or train is None or pack is None:
        missing = (
            "road_load is not given in vehicle.yaml" if road is None
            else "no pack is placed" if pack is None else "driveline, motor or controller is not given or placed"
        )  # fmt: skip
        checks.append(unknown("drive.performance", "Performance and range", "", "road load", missing))
    else:
        performance = _performance(case, weighing, road, train)
        ranges = _ranges(case, weighing, road, train, pack, performance[0].top_km_per_h / 3.6 * 0.999)
        checks += [*_performance_checks(performance), *_range_checks(case, ranges)]
    typical, day = _day(case, ranges)
    filled = charging(case, layout, pack.usable_kwh.value, typical, day) if pack is not None else None
    checks += filled.checks if filled is not None else ()
    meter = case.vehicle.speedometer
    speedometer = speed_table(meter, case.vehicle) if meter is not None else None
    checks += speedometer.checks if speedometer is not None else ()
    dial = gauge_table(case.vehicle.gauge) if case.vehicle.gauge is not None else None
    return Driving(found_shaft, performance, ranges, filled, dial, speedometer,
                   found_shaft.items if found_shaft else (), tuple(checks))  # fmt: skip


def train_of(case: Case, layout: Layout, pack: PackData) -> Train | None:
    """The power train of a layout; None when motor, axle or tyre is missing."""
    line, placed = case.vehicle.driveline, [case.parts[p.part] for p in layout.placements]
    motors = [p.electrical for p in placed if p.kind == "motor"]
    if line is None or not motors:
        return None
    motor = motors[0]
    ratio, gearing = line.axle_ratio, AXLE_EFFICIENCY
    for part in placed:
        if part.kind == "reduction gear":
            ratio, gearing = ratio * part.gear.ratio, gearing * GEAR_EFFICIENCY
    controllers = [p.electrical for p in placed if p.kind == "controller"]
    shares = [c.efficiency_percent or 96.0 for c in controllers] or [96.0]
    amps = min([pack.peak_a, *(c.peak_a for c in controllers if c.peak_a)])
    return Train(
        motor.peak_nm * len(motors), 1000 * motor.peak_kw * len(motors), motor.max_rpm * 0.10471975511965977,
        motor.losses or estimated_losses(motor), min(shares) / 100, gearing, ratio, case.vehicle.tyres.radius_mm / 1000,
        amps * pack.nominal_v, pack.continuous_a * pack.nominal_v, pack.resistance_ohm, pack.nominal_v,
        case.brief.driving.regeneration_percent / 100, 1000 * case.brief.driving.accessories_kw,
    )  # fmt: skip


def _state(weighing: Weighing, *names: str) -> State:
    known = {state.name: state for state in weighing.states}
    return next((known[name] for name in names if name in known), weighing.states[-1])


def _load(case: Case, weighing: Weighing, road: RoadLoad, mass_kg: float) -> Load:
    kerb = _state(weighing, "converted kerb").mass.value
    return load_of(road, mass_kg, kerb, case.brief.driving.air_kg_per_m3)


def _performance(case: Case, weighing: Weighing, road: RoadLoad, train: Train) -> tuple[Performance, ...]:
    made: list[Performance] = []
    for state in (_state(weighing, "driver", "converted kerb"), _state(weighing, "full load")):
        rear = state.axle[1].value / state.mass.value
        high = state.cg[2].value / case.vehicle.wheelbase_mm.value
        load = _load(case, weighing, road, state.mass.value)
        made.append(perform(state.name, load, train, rear, road.adhesion, high))
    return tuple(made)


def _drives(case: Case) -> list[tuple[Drive, float]]:
    """Each cycle and round, with the payload beside the driver, kg."""
    table, order = case.tables.cycles, case.brief.driving
    made: list[tuple[Drive, float]] = []
    if table is not None:
        names = order.cycles or tuple(cycle.name for cycle in table.cycles)
        made += [(cycle_drive(table, name), 0.0) for name in names]
    payload = {r.name: r.payload_kg for r in order.rounds}
    made += [
        (round_drive(r, order.acceleration_m_per_s2), payload.get(r.name, 0.0)) for r in case.tables.rounds
    ]
    return made


def _ranges(
    case: Case, weighing: Weighing, road: RoadLoad, train: Train, pack: PackData, top_m_per_s: float
) -> tuple[Range, ...]:
    driver = _state(weighing, "driver", "converted kerb")
    gross = _state(weighing, "full load").mass.value
    made: list[Range] = []
    for wanted, payload in _drives(case):
        one = wanted.capped(top_m_per_s)
        mass = driver.mass.value + payload

        def per_km(road: RoadLoad, mass: float, train: Train, one: Drive = one) -> float:
            return consumption(one, _load(case, weighing, road, mass), train).per_km_wh

        used = consumption(one, _load(case, weighing, road, mass), train)
        energy = pack.usable_kwh.value
        share = _spread(road, mass, driver.mass.tolerance, train, used.per_km_wh, per_km)
        share = (share**2 + (pack.usable_kwh.tolerance / energy) ** 2) ** 0.5
        far = 1000 * energy / used.per_km_wh
        warm = replace(train, standing_w=train.standing_w + 1000 * case.brief.driving.heater_kw)
        made.append(
            Range(one.name, used, Measured(far, far * share), 1000 * energy / per_km(road, mass, warm),
                  1000 * energy / per_km(road, max(gross, mass), train))
        )  # fmt: skip
    return tuple(made)


def _spread(
    road: RoadLoad, mass: float, mass_tolerance: float, train: Train, used: float,
    per_km: Callable[[RoadLoad, float, Train], float],
) -> float:  # fmt: skip
    """Relative tolerance of the consumption: each input moved by its tolerance, independent of the others."""
    moved = [per_km(road, mass + mass_tolerance, train) - used] if mass_tolerance else []
    worse = replace(train, gearing=train.gearing * (1 - LOSS_SHARE))
    moved.append(per_km(road, mass, worse) - used)
    if road.parts is not None:
        p = road.parts
        for name in ("drag", "frontal_area_m2", "rolling"):
            value: Measured = getattr(p, name)
            more = p.model_copy(update={name: Measured(value.value + value.tolerance)})
            moved.append(per_km(road.model_copy(update={"parts": more}), mass, train) - used)
    elif road.coast_down is not None:
        c, f = road.coast_down, 1 + road.coast_down.tolerance_percent / 100
        more_c = c.model_copy(update={"f0": c.f0 * f, "f1": c.f1 * f, "f2": c.f2 * f})
        moved.append(per_km(road.model_copy(update={"coast_down": more_c}), mass, train) - used)
    return sum(d * d for d in moved) ** 0.5 / used


def _performance_checks(found: tuple[Performance, ...]) -> list[Check]:
    made: list[Check] = []
    basis = "common practice, no source"
    for p in found:
        title = f"0 to 50 km/h, {p.state}"
        if p.to_50_s is None:
            made.append(Check(f"drive.to50.{p.state}", title, None, 0.0, LONGEST_TO_50_S, "max", "s", None, "fail", 0.0,
                              basis, "it never gets there: the gearing or the power is too low"))  # fmt: skip
        else:
            made.append(judge(f"drive.to50.{p.state}", title, Measured(p.to_50_s, 0.08 * p.to_50_s), LONGEST_TO_50_S,
                              "max", "s", basis))  # fmt: skip
        made.append(judge(f"drive.top.{p.state}", f"Top speed, {p.state}", Measured(p.top_km_per_h),
                          LEAST_TOP_KM_PER_H, "min", "km/h", basis, note=f"set by {p.top_bound}"))  # fmt: skip
    laden = found[-1]
    made.append(judge(f"drive.grade.{laden.state}", f"Steepest hill, {laden.state}", Measured(laden.grade_percent),
                      LEAST_GRADE_PERCENT, "min", "%", "gradient of the parking brake test, UN R13-H annex 3 (value "
                      "from memory)", note=f"set by {laden.grade_bound}"))  # fmt: skip
    return made


def _range_checks(case: Case, ranges: tuple[Range, ...]) -> list[Check]:
    daily = case.brief.driving.daily_km
    made: list[Check] = []
    if daily is not None and ranges:
        worst = min(ranges, key=lambda r: r.range_km.value)
        made.append(judge("drive.range.daily", f"Range on {worst.drive}, against a full day", worst.range_km, daily,
                          "min", "km", "daily distance in the brief"))  # fmt: skip
        made.append(judge("drive.range.winter", f"Range on {worst.drive} with the heater on, against a full day",
                          Measured(worst.heated_km, worst.range_km.tolerance), daily, "min", "km",
                          "daily distance in the brief"))  # fmt: skip
    own = {order.name for order in case.brief.driving.rounds}
    for r in ranges:
        if r.drive in own:
            made.append(judge(f"drive.follow.{r.drive}", f"{r.drive}: time in which it cannot follow",
                              Measured(r.used.short_s), 0.02 * 3600 * r.used.distance_km / r.used.mean_km_per_h, "max",
                              "s", "2 % of the time; common practice, no source",
                              note="" if r.used.short_s == 0 else "the motor or the battery is at its limit"))  # fmt: skip
    return made


def _day(case: Case, ranges: tuple[Range, ...]) -> tuple[float | None, float | None]:
    """Typical consumption, Wh/km, and what the rounds of a day take, kWh."""
    if not ranges:
        return None, None
    order, by_name = case.brief.driving, {r.drive: r for r in ranges}
    rounds = [(by_name[o.name].used, o.repeat) for o in order.rounds if o.name in by_name]
    if not rounds:
        return max(r.used.per_km_wh for r in ranges), None
    energy = sum(used.energy_kwh * n for used, n in rounds)
    return 1000 * energy / sum(used.distance_km * n for used, n in rounds), energy
