"""Protection: fuse, contactor, precharge, discharge, service disconnect, insulation. Each a check with its basis.

High voltage can kill: work on it is for qualified people, and local codes rule.
"""

from dataclasses import dataclass
from math import ceil, log, log10

from packlayout.electrical.pack import Pack
from packlayout.model.brief import Case
from packlayout.model.catalogue import ControllerData, JunctionData
from packlayout.model.check import Check, judge, unknown
from packlayout.model.electrics import ElectricalRules, Fuse
from packlayout.model.layout import Layout
from packlayout.units import Measured

MICRO = 1e-6


@dataclass(frozen=True, slots=True)
class Precharge:
    """How the bus capacitors are filled.

    Attributes:
        capacitance_uf: Of the bus.
        resistor_ohm: Fitted, or the stock value chosen.
        fitted: True when the junction box says which it holds.
        time_s: Until the share of the rules is reached.
        energy_j: Turned to heat in the resistor each time.
        peak_w: At the first moment.
    """

    capacitance_uf: float
    resistor_ohm: float
    fitted: bool
    time_s: float
    energy_j: float
    peak_w: float


@dataclass(frozen=True, slots=True)
class Protection:
    """What protects the pack and those who work on it.

    Attributes:
        fuse: Main fuse fitted or chosen; None when none of the stock will do.
        fuse_fitted: True when the junction box says which it holds.
        fault_a: Prospective short-circuit current, pack full and cold; None when the module's resistance is missing.
        contactor_a: Continuous current the contactors must bear.
        contactor_v: Voltage they must break.
        precharge: None when the controller's capacitance is missing.
        discharge_s: Until the bus is below the safe voltage; None when no resistor or capacitance is given.
        disconnect: Modules between which the service disconnect sits.
        insulation_ohm: Least insulation resistance against the body.
        checks: Of all of it.
    """

    fuse: Fuse | None
    fuse_fitted: bool
    fault_a: Measured | None
    contactor_a: float
    contactor_v: float
    precharge: Precharge | None
    discharge_s: float | None
    disconnect: tuple[str, ...]
    insulation_ohm: float
    checks: tuple[Check, ...]


def precharge_time(resistor_ohm: float, capacitance_uf: float, share: float) -> float:
    """Time until a capacitor charged through a resistor reaches a share of the source's voltage, s.

    Source: u = U (1 - exp(-t / RC)).
    """
    return -resistor_ohm * capacitance_uf * MICRO * log(1 - share)


def discharge_time(resistor_ohm: float, capacitance_uf: float, from_v: float, to_v: float) -> float:
    """Time in which a capacitor falls from one voltage to another through a resistor, s; u = U exp(-t / RC)."""
    return resistor_ohm * capacitance_uf * MICRO * log(from_v / to_v) if from_v > to_v else 0.0


def stock_resistor(decade: tuple[float, ...], at_most_ohm: float) -> float:
    """The largest stock value that is not above a resistance, ohm."""
    values = [round(value * 10.0**power, 6) for power in range(-1, 8) for value in decade]
    return max((v for v in values if v <= at_most_ohm * (1 + 1e-12)), default=min(values))


def choose_fuse(case: Case, load_a: float, peak_a: float, volts: float) -> Fuse | None:
    """The smallest fuse in stock that carries a load and a peak and breaks the voltage; None when there is none."""
    rules, table = case.tables.electrical, case.tables.fuses
    if rules is None or table is None:
        return None
    wanted = max(load_a * rules.fuse_over_load, peak_a / rules.peak_over_fuse)
    fit = [f for f in table.fuses if f.rating_a >= wanted - 1e-9 and f.voltage_v >= volts]
    return min(fit, key=lambda f: (f.rating_a, f.name), default=None)


def protect(case: Case, layout: Layout, pack: Pack) -> Protection:
    """What protects the pack, and whether it does.

    Args:
        case: Supplies rules, fuses and the data of the parts.
        layout: Which parts are placed.
        pack: As made.

    Returns:
        The protection; every input that is missing is an unknown check that says which.
    """
    rules = case.tables.electrical
    if rules is None:
        missing = "shared/electrical.yaml is not there"
        checks = (
            unknown("electrical.protection", "Protection of the pack", "", "rules of the shop", missing),
        )
        return Protection(None, False, None, pack.demand_continuous_a, pack.max_v, None, None,
                          pack.order.disconnect, 0.0, checks)  # fmt: skip
    placed = [case.parts[p.part] for p in layout.placements]
    junction = next((p.electrical for p in placed if p.kind == "junction box"), None)
    controllers = [p.electrical for p in placed if p.kind == "controller"]
    fuse, fitted = _main_fuse(case, pack, junction)
    fault = _fault(pack, rules)
    filled = _precharge(pack, rules, junction, controllers)
    emptied = _discharge(pack, rules, junction, filled)
    insulation = rules.insulation_per_volt_ohm * pack.max_v
    checks = (
        *_fuse_checks(case, pack, rules, fuse, fitted, fault),
        *_contactor_checks(pack, junction),
        *_precharge_checks(rules, filled),
        *_discharge_checks(pack, rules, filled, emptied),
        _disconnect_check(pack, rules),
        _insulation_check(case, pack, rules, insulation),
    )
    return Protection(fuse, fitted, fault, pack.demand_continuous_a, pack.max_v, filled, emptied,
                      pack.order.disconnect, insulation, checks)  # fmt: skip


def _main_fuse(case: Case, pack: Pack, junction: JunctionData | None) -> tuple[Fuse | None, bool]:
    table = case.tables.fuses
    if table is not None and junction is not None and junction.fuse is not None:
        named = next((f for f in table.fuses if f.name == junction.fuse), None)
        if named is not None:
            return named, True
    return choose_fuse(case, pack.demand_continuous_a, pack.demand_peak_a, pack.max_v), False


def _fault(pack: Pack, rules: ElectricalRules) -> Measured | None:
    """Short circuit behind the junction box, pack full: U / R, with the tolerance of the modules' resistance."""
    if pack.resistance_ohm is None:
        return None
    total = pack.resistance_ohm.value + rules.busbar_ohm
    current = pack.max_v / total
    return Measured(current, current * pack.resistance_ohm.tolerance / total)


def _precharge(
    pack: Pack, rules: ElectricalRules, junction: JunctionData | None, controllers: list[ControllerData]
) -> Precharge | None:
    capacitances = [c.capacitance_uf for c in controllers]
    if not capacitances or None in capacitances:
        return None
    total = sum(c for c in capacitances if c is not None)
    share = rules.precharge_share_percent / 100
    fitted = junction.precharge_ohm if junction is not None else None
    at_most = -rules.precharge_s / (total * MICRO * log(1 - share))
    resistor = fitted if fitted is not None else stock_resistor(rules.resistors_ohm, at_most)
    return Precharge(total, resistor, fitted is not None, precharge_time(resistor, total, share),
                     total * MICRO * pack.max_v**2 / 2, pack.max_v**2 / resistor)  # fmt: skip


def _discharge(
    pack: Pack, rules: ElectricalRules, junction: JunctionData | None, filled: Precharge | None
) -> float | None:
    if filled is None or junction is None or junction.discharge_ohm is None:
        return None
    return discharge_time(junction.discharge_ohm, filled.capacitance_uf, pack.max_v, rules.safe_v)


def _fuse_checks(
    case: Case, pack: Pack, rules: ElectricalRules, fuse: Fuse | None, fitted: bool, fault: Measured | None
) -> list[Check]:
    title = "Main fuse: rating"
    if fuse is None:
        missing = (
            "shared/fuses.yaml is not there" if case.tables.fuses is None
            else f"no fuse in stock carries {pack.demand_continuous_a:.0f} A with {pack.demand_peak_a:.0f} A peak "
            f"and breaks {pack.max_v:.0f} V"
        )  # fmt: skip
        return [
            unknown(
                "electrical.fuse.rating",
                title,
                "A",
                rules.sources.get("fuse_over_load", ""),
                missing,
                sense="min",
            )
        ]
    word = f"{fuse.name}, {'fitted' if fitted else 'chosen from stock'}"
    made = [
        judge("electrical.fuse.rating", f"{title} ({word})", Measured(fuse.rating_a),
              pack.demand_continuous_a * rules.fuse_over_load, "min", "A", rules.sources.get("fuse_over_load", "")),
        judge("electrical.fuse.peak", f"Main fuse: peak current over its rating ({word})",
              Measured(pack.demand_peak_a / fuse.rating_a), rules.peak_over_fuse, "max", "",
              rules.sources.get("peak_over_fuse", "")),
        judge("electrical.fuse.voltage", f"Main fuse: DC voltage ({word})", Measured(fuse.voltage_v), pack.max_v,
              "min", "V", "voltage of the fully charged pack"),
    ]  # fmt: skip
    basis = "IEC 60269-1: the breaking capacity is no less than the prospective current; U / R of modules and joints"
    title = f"Main fuse: short-circuit current it must break ({word})"
    if fault is None:
        made.append(unknown("electrical.fuse.breaking", title, "A", basis,
                            f"resistance of {pack.module} is not given"))  # fmt: skip
    else:
        made.append(judge("electrical.fuse.breaking", title, fault, fuse.breaking_a, "max", "A", basis))
    return made


def _contactor_checks(pack: Pack, junction: JunctionData | None) -> list[Check]:
    made: list[Check] = []
    for word, demand in (("continuous", pack.demand_continuous_a), ("peak", pack.demand_peak_a)):
        id, title = f"electrical.contactor.{word}", f"Contactors and bars of the junction box: {word} current"
        rated = getattr(junction, f"{word}_a") if junction is not None else None
        if rated is None:
            missing = "no junction box is placed" if junction is None else f"its {word} current is not given"
            made.append(unknown(id, title, "A", "data of the junction box", missing, sense="min"))
        else:
            made.append(judge(id, title, Measured(rated), demand, "min", "A", pack.demand_basis))
    return made


def _precharge_checks(rules: ElectricalRules, filled: Precharge | None) -> list[Check]:
    id, title = (
        "electrical.precharge.time",
        f"Precharge to {rules.precharge_share_percent:g} % of the pack voltage",
    )
    basis = f"u = U (1 - exp(-t/RC)); {rules.sources.get('precharge', '')}"
    if filled is None:
        return [unknown(id, title, "s", basis, "capacitance of the controller is not given")]
    word = f"{filled.resistor_ohm:g} ohm {'fitted' if filled.fitted else 'chosen'}"
    note = f"the resistor takes {filled.energy_j:.0f} J each time, {filled.peak_w:.0f} W at first: a pulse-rated one"
    return [
        judge(
            id, f"{title} ({word})", Measured(filled.time_s), rules.precharge_s, "max", "s", basis, note=note
        )
    ]


def _discharge_checks(
    pack: Pack, rules: ElectricalRules, filled: Precharge | None, emptied: float | None
) -> list[Check]:
    id, title = "electrical.discharge.time", f"Bus below {rules.safe_v:g} V after the contactors open"
    basis = f"u = U exp(-t/RC); {rules.sources.get('discharge', '')}"
    if emptied is not None:
        return [judge(id, title, Measured(emptied), rules.discharge_s, "max", "s", basis,
                      note="wait, then measure: never trust the clock alone")]  # fmt: skip
    if filled is None:
        return [unknown(id, title, "s", basis, "capacitance of the controller is not given")]
    most = rules.discharge_s / (filled.capacitance_uf * MICRO * log(pack.max_v / rules.safe_v))
    return [unknown(id, title, "s", basis, "the junction box names no discharge resistor: fit one of at most "
                    f"{_rounded(most)} ohm, for {pack.max_v**2 / most:.1f} W")]  # fmt: skip


def _rounded(value: float) -> str:
    """Two leading figures, downward."""
    size = 10.0 ** (ceil(log10(value)) - 2)
    return f"{value // size * size:.0f}"


def _disconnect_check(pack: Pack, rules: ElectricalRules) -> Check:
    id, title = "electrical.disconnect", "Service disconnect: greater part of the string left whole"
    basis = rules.sources.get("half_share", "")
    if not pack.order.disconnect:
        return unknown(id, title, "%", basis, "one module alone cannot be divided")
    share = 100 * max(pack.order.halves_v) / sum(pack.order.halves_v)
    note = (
        f"between {' and '.join(pack.order.disconnect)}; each part still gives "
        f"{min(pack.order.halves_v):.0f} to {max(pack.order.halves_v):.0f} V: that kills"
    )
    return judge(id, title, Measured(share), rules.half_share_percent, "max", "%", basis, note=note)


def _insulation_check(case: Case, pack: Pack, rules: ElectricalRules, least: float) -> Check:
    id, title = "electrical.insulation", "Insulation monitor: resistance at which it warns"
    basis = rules.sources.get("insulation_per_volt", rules.sources.get("insulation_per_volt_ohm", ""))
    alarm = case.brief.wiring.insulation_alarm_ohm
    if alarm is None:
        return unknown(id, title, "kohm", basis, "wiring: insulation_alarm is not given in the brief; set the monitor "
                       f"to {least / 1000:.0f} kohm or more", sense="min")  # fmt: skip
    return judge(id, title, Measured(alarm / 1000), least / 1000, "min", "kohm",
                 f"{rules.insulation_per_volt_ohm:g} ohm/V at {pack.max_v:.0f} V: {basis}")  # fmt: skip
