"""The pack: modules in series and parallel, its voltages, energy and currents, held against what is connected.

High voltage can kill: work on it is for qualified people, and local codes rule.
"""

from dataclasses import dataclass

from packlayout.electrical.string import StringOrder, string_order
from packlayout.errors import GeometryError
from packlayout.model.brief import Case
from packlayout.model.catalogue import BatteryModule, DcWindow, Motor, PlainPart, ReductionGear
from packlayout.model.check import Check, judge, unknown
from packlayout.model.layout import Layout
from packlayout.units import Measured

DRIVE_EFFICIENCY = 0.88
"""Motor and controller together at full power, for currents (common practice, no source)."""
ENERGY_SHARE = 0.03
"""Tolerance of the energy of modules as delivered (common practice, no source)."""
WINDOWS = ("controller", "motor", "charger", "DC-DC converter", "heater", "junction box")
OVERVOLTAGE = "electrical.overvoltage."


@dataclass(frozen=True, slots=True)
class Pack:
    """The battery as an electrical thing.

    Attributes:
        module: Name of its part file.
        series: Modules in each string.
        strings: In parallel.
        min_v: Discharged.
        nominal_v: As labelled.
        max_v: Fully charged.
        capacity_ah: Of all strings.
        energy_kwh: Gross, with tolerance.
        usable_kwh: Between the states of charge of the brief.
        soc_percent: Those states, lowest and highest.
        continuous_a: What the modules may give for long.
        peak_a: And for a short time.
        resistance_ohm: Of the modules together; None when the part does not say.
        demand_continuous_a: What motor and controller ask for, at the nominal voltage.
        demand_peak_a: And for a short time, at the lowest voltage.
        demand_basis: Where the demand is from.
        order: Through which modules each string runs.
    """

    module: str
    series: int
    strings: int
    min_v: float
    nominal_v: float
    max_v: float
    capacity_ah: float
    energy_kwh: Measured
    usable_kwh: Measured
    soc_percent: tuple[float, float]
    continuous_a: float
    peak_a: float
    resistance_ohm: Measured | None
    demand_continuous_a: float
    demand_peak_a: float
    demand_basis: str
    order: StringOrder


def pack_of(case: Case, layout: Layout) -> Pack:
    """The pack that the placed modules make.

    Args:
        case: Supplies the module's data, strings and states of charge.
        layout: Which modules are placed, and where.

    Returns:
        The pack. Where the number placed is no multiple of the strings, those left over are not counted.

    Raises:
        GeometryError: when not one string can be made.
    """
    order = case.brief.modules
    part, wiring = case.parts[order.part], case.brief.wiring
    assert part.kind == "battery module"
    series = len(layout.modules) // wiring.strings
    if series == 0:
        raise GeometryError(
            f"{len(layout.modules)} modules placed for {wiring.strings} strings; allowed: a module a string or more"
        )
    data, strings = part.electrical, wiring.strings
    energy = series * strings * data.energy_kwh
    share = (wiring.highest_soc_percent - wiring.lowest_soc_percent) / 100
    demand = _demand(case, layout, series * data.nominal_v, series * data.min_v)
    resistance = data.resistance_ohm
    return Pack(
        order.part,
        series,
        strings,
        series * data.min_v,
        series * data.nominal_v,
        series * data.max_v,
        strings * data.capacity_ah,
        Measured(energy, energy * ENERGY_SHARE),
        Measured(energy * share, energy * share * ENERGY_SHARE),
        (wiring.lowest_soc_percent, wiring.highest_soc_percent),
        strings * data.continuous_a,
        strings * data.peak_a,
        # modules of one delivery are high or low together: their tolerances add up
        Measured(resistance.value * series / strings, resistance.tolerance * series / strings)
        if resistance
        else None,
        *demand,
        string_order(layout, part, series, strings),
    )


def _demand(case: Case, layout: Layout, nominal_v: float, min_v: float) -> tuple[float, float, str]:
    """Continuous and peak current asked of the pack, and where the figures are from."""
    placed = [case.parts[p.part] for p in layout.placements]
    controllers = [part.electrical for part in placed if part.kind == "controller"]
    motors = [part for part in placed if part.kind == "motor"]
    ask_c = [c.continuous_a for c in controllers if c.continuous_a]
    ask_p = [c.peak_a for c in controllers if c.peak_a]
    if not motors:
        return sum(ask_c), sum(ask_p), "controller's rating; no motor is placed"
    continuous, peak = _motor_amps(motors, nominal_v, "continuous_kw"), _motor_amps(motors, min_v, "peak_kw")
    basis = f"motor power over {DRIVE_EFFICIENCY:.0%} at {nominal_v:.0f} V, peak at {min_v:.0f} V"
    if ask_c and sum(ask_c) < continuous:
        continuous, basis = sum(ask_c), f"{basis}; bounded by the controller"
    if ask_p and sum(ask_p) < peak:
        peak, basis = sum(ask_p), f"{basis}; bounded by the controller"
    return continuous, peak, basis


def _motor_amps(motors: list[Motor], volts: float, which: str) -> float:
    return sum(1000 * getattr(m.electrical, which) for m in motors) / DRIVE_EFFICIENCY / volts


def check_pack(case: Case, layout: Layout, pack: Pack) -> tuple[Check, ...]:
    """Hold the pack against every device it is connected to and against its own modules.

    Args:
        case: Supplies the devices.
        layout: Which of them are placed.
        pack: As made.

    Returns:
        Overvoltage first: one check for each device, whose failure is told in plain words; then
        undervoltage, currents, energy left over.
    """
    over: list[Check] = []
    under: list[Check] = []
    for placed in layout.placements:
        part = case.parts[placed.part]
        if part.kind not in WINDOWS or isinstance(part, ReductionGear | PlainPart):
            continue
        window = part.electrical
        assert isinstance(window, DcWindow)
        over.append(_overvoltage(pack, placed.name, window.max_v))
        if part.kind != "junction box":
            under.append(
                judge(f"electrical.undervoltage.{placed.name}",
                      f"{placed.name}: voltage of the discharged pack", Measured(pack.min_v), window.min_v, "min",
                      "V", f"data of {part.name}",
                      note="" if pack.min_v >= window.min_v
                      else "it stops before the pack is empty: part of the energy cannot be used")
            )  # fmt: skip
    return (*over, *under, *_currents(case, pack), *_string_checks(case, layout, pack))


def _overvoltage(pack: Pack, name: str, max_v: float) -> Check:
    note = ""
    if pack.max_v > max_v:
        note = (
            f"DANGER: the fully charged pack gives {pack.max_v:.0f} V and {name} stands {max_v:.0f} V. "
            "It would be destroyed and may catch fire. Do not connect it: use fewer modules in series or another device"
        )
    return judge(f"{OVERVOLTAGE}{name}", f"{name}: voltage of the fully charged pack", Measured(pack.max_v), max_v,
                 "max", "V", "data of the device", note=note)  # fmt: skip


def _currents(case: Case, pack: Pack) -> list[Check]:
    part = case.parts[pack.module]
    made: list[Check] = []
    for word, demand, limit in (
        ("continuous", pack.demand_continuous_a, pack.continuous_a),
        ("peak", pack.demand_peak_a, pack.peak_a),
    ):
        id, title = f"electrical.current.{word}", f"{word.capitalize()} current asked of the modules"
        basis = f"data of {part.name}, {pack.strings} in parallel; demand: {pack.demand_basis}"
        if demand <= 0:
            made.append(
                unknown(id, title, "A", basis, "no motor is placed and the controller's current is not given")
            )
            continue
        note = "" if demand <= limit else f"set the controller's battery current limit to {limit:.0f} A"
        made.append(judge(id, title, Measured(demand), limit, "max", "A", basis, note=note))
    return made


def _string_checks(case: Case, layout: Layout, pack: Pack) -> list[Check]:
    left_over = len(layout.modules) - pack.series * pack.strings
    made = [
        judge("electrical.strings", "Modules left out of the strings", Measured(float(left_over)), 0.0, "max",
              "modules", "strings in parallel must be alike")
    ]  # fmt: skip
    rules = case.tables.electrical
    if rules is not None and pack.order.adjacent_v is not None:
        made.append(
            judge("electrical.adjacent", "Voltage between terminals of two modules within a spanner's reach",
                  Measured(pack.order.adjacent_v), rules.adjacent_v, "max", "V", rules.sources.get("adjacent", ""),
                  note="" if pack.order.adjacent_v <= rules.adjacent_v
                  else "put a barrier between " + " and ".join(pack.order.adjacent_pair))
        )  # fmt: skip
    return made


def module_data(case: Case) -> BatteryModule:
    """The module the brief names."""
    part = case.parts[case.brief.modules.part]
    assert part.kind == "battery module"
    return part
