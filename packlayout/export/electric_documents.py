"""Electrics, drive and price as plain JSON and as lines for the terminal, the cautions with them."""

from dataclasses import asdict

from packlayout.drive.drive import Driving
from packlayout.electrical.cables import Run
from packlayout.electrical.wire import CAUTION, Wiring
from packlayout.export.plain import Json, checks_json, with_tolerance
from packlayout.export.summary import table
from packlayout.price import Price
from packlayout.units import Measured


def wire_json(wiring: Wiring | None) -> Json:
    """What `wire` found: pack, protection, runs, checks; overvoltage first and in words.

    Args:
        wiring: None when nothing could be placed.

    Returns:
        Plain values only; null where something could not be reckoned.
    """
    if wiring is None:
        return {"danger": [], "pack": None, "protection": None, "runs": [], "checks": [], "caution": CAUTION}
    pack, protection = wiring.pack, wiring.protection
    made_pack: Json | None = None
    if pack is not None:
        order = pack.order
        made_pack = {
            "module": pack.module, "series": pack.series, "strings": pack.strings,
            "voltage_v": {"min": pack.min_v, "nominal": pack.nominal_v, "max": pack.max_v},
            "capacity_ah": pack.capacity_ah, "energy_kwh": with_tolerance(pack.energy_kwh),
            "usable_kwh": with_tolerance(pack.usable_kwh), "soc_percent": list(pack.soc_percent),
            "current_a": {"continuous": pack.continuous_a, "peak": pack.peak_a},
            "demand_a": {"continuous": pack.demand_continuous_a, "peak": pack.demand_peak_a, "basis": pack.demand_basis},
            "resistance_ohm": with_tolerance(pack.resistance_ohm) if pack.resistance_ohm else None,
            "order": [list(string) for string in order.strings],
            "busbars": [{"from": b.start, "to": b.end, "length_mm": b.length_mm} for b in order.busbars],
            "adjacent_v": order.adjacent_v,
        }  # fmt: skip
    made_protection: Json | None = None
    if protection is not None:
        made_protection = {
            "fuse": protection.fuse.model_dump() if protection.fuse else None, "fuse_fitted": protection.fuse_fitted,
            "fault_a": with_tolerance(protection.fault_a) if protection.fault_a else None,
            "contactor": {"current_a": protection.contactor_a, "voltage_v": protection.contactor_v},
            "precharge": asdict(protection.precharge) if protection.precharge else None,
            "discharge_s": protection.discharge_s, "service_disconnect": list(protection.disconnect),
            "insulation_ohm": protection.insulation_ohm,
        }  # fmt: skip
    return {
        "danger": [check.note for check in wiring.overvoltage],
        "pack": made_pack,
        "protection": made_protection,
        "runs": [_run(run) for run in wiring.runs],
        "checks": checks_json(wiring.checks),
        "caution": wiring.caution,
    }


def _run(run: Run) -> Json:
    path = [] if run.line is None else [[float(v) for v in p] for p in run.line.points(5.0)]
    return {
        "name": run.name, "kind": run.kind, "from": f"{run.start.part}: {run.start.port}",
        "to": f"{run.goal.part}: {run.goal.port}", "length_mm": run.length_mm, "path_mm": path,
        "corners_mm": [] if run.line is None else [list(c) for c in run.line.corners],
        "bend_mm": run.line.radius_mm if run.line is not None else None, "elbows_mm": [list(map(list, e)) for e in run.elbows],
        "cores": run.cores, "area_mm2": run.area_mm2, "diameter_mm": run.diameter_mm, "load_a": run.load_a,
        "ampacity_a": run.ampacity_a, "fuse_a": run.fuse_a, "drop_v": run.drop_v, "mass_kg": with_tolerance(run.mass),
        "clips": run.clips, "conduit_mm": run.conduit_mm, "conduit": run.conduit, "spare_mm": run.spare_mm,
        "conduit_pieces": [
            {"name": s.name, "outside_mm": s.conduit.outside_mm, "inside_mm": s.conduit.inside_mm, "metal": s.conduit.metal,
             "length_mm": s.line.length_mm, "mass_kg": s.mass_kg, "bend_mm": s.line.radius_mm,
             "path_mm": [[float(v) for v in p] for p in s.line.points(5.0)]}
            for s in run.sleeves
        ],
        "nearest": run.nearest,
        "blocked": None if run.blocked is None else
        {"why": run.blocked.why, "at_mm": list(run.blocked.at), "near": run.blocked.near,
         "missing_mm": run.blocked.missing_mm, "missing_of": run.blocked.of, "remedy": run.blocked.remedy},
    }  # fmt: skip


def drive_json(driving: Driving | None, price: Price | None = None) -> Json:
    """What `drive` found: shaft, performance, range, charging, the old dials, the price, checks."""
    made: Json = dict.fromkeys(("shaft", "performance", "range", "charging", "gauge", "speedometer", "price"))
    if driving is None:
        return made | {"checks": []}
    shaft = driving.shaft
    if shaft is not None:
        made["shaft"] = {
            "from_mm": list(shaft.start), "to_mm": list(shaft.end), "states": [asdict(s) for s in shaft.states],
            "plunge_mm": shaft.plunge_mm, "torque_nm": shaft.torque_nm, "speed_rpm": shaft.speed_rpm,
            "tube": shaft.tube.name if shaft.tube else None, "shear_mpa": shaft.shear_mpa,
            "critical_rpm": shaft.critical_rpm, "mass_kg": with_tolerance(shaft.mass),
        }  # fmt: skip
    made["performance"] = [asdict(p) for p in driving.performance]
    made["range"] = [
        {"drive": r.drive, "used": asdict(r.used), "range_km": with_tolerance(r.range_km), "heated_km": r.heated_km,
         "laden_km": r.laden_km}
        for r in driving.ranges
    ]  # fmt: skip
    if driving.charging is not None:
        made["charging"] = {k: v for k, v in asdict(driving.charging).items() if k != "checks"}
    if driving.gauge is not None:
        gauge = driving.gauge
        made["gauge"] = {
            "quantity": gauge.quantity,
            "source": gauge.source,
            "rows": [list(r) for r in gauge.rows],
        }
    if driving.speedometer is not None:
        meter = driving.speedometer
        made["speedometer"] = {"pulses_per_km": with_tolerance(meter.pulses_per_km),
                               "cable_turns_per_pulse": with_tolerance(meter.cable_turns_per_pulse),
                               "rows": [list(r) for r in meter.rows]}  # fmt: skip
    if price is not None:
        made["price"] = price_json(price)
    return made | {"checks": checks_json((*driving.checks, *(price.checks if price else ())))}


def price_json(price: Price) -> Json:
    """The price, line by line."""
    return {
        "currency": price.currency, "total": with_tolerance(price.total), "hours": with_tolerance(price.hours),
        "lines": [
            {"group": x.group, "name": x.name, "count": x.count, "unit": x.unit, "each": with_tolerance(x.each),
             "total": with_tolerance(x.total)}
            for x in price.lines
        ],
    }  # fmt: skip


def wire_lines(wiring: Wiring | None) -> list[str]:
    """Pack and runs as plain lines, the caution at the end; `headline` has told what may kill before them."""
    if wiring is None or wiring.pack is None:
        return ["No pack: nothing is wired.", CAUTION]
    pack = wiring.pack
    rows = [
        (run.name, f"{run.cores} x {run.area_mm2:g}" if run.cores else "hose", f"{run.length_mm / 1000:.2f}",
         f"{run.drop_v:.2f}" if run.carries else "", f"{run.mass.value:.2f}", str(run.clips),
         "" if run.line is not None else "NO WAY")
        for run in wiring.runs
    ]  # fmt: skip
    return [
        f"Pack: {pack.series} in series, {pack.strings} in parallel; {pack.min_v:.0f} V empty, {pack.nominal_v:.0f} V "
        f"nominal, {pack.max_v:.0f} V full; {_number(pack.energy_kwh, 1)} kWh, {_number(pack.usable_kwh, 1)} kWh usable.",
        f"String, negative end first: {'; '.join(' - '.join(s) for s in pack.order.strings)}.",
        *(table(("run", "mm2", "length m", "drop V", "kg", "clips", ""), rows) if rows else ()),
        CAUTION,
    ]


def drive_lines(driving: Driving | None, price: Price | None = None) -> list[str]:
    """Performance, range, charging, price as plain lines."""
    lines: list[str] = []
    if driving is not None and driving.shaft is not None:
        shaft = driving.shaft
        static = shaft.states[0]
        lines.append(
            f"Propeller shaft {static.length_mm:.0f} mm between joints, tube {shaft.tube.name if shaft.tube else '-'}, "
            f"angles {static.gear_deg:.1f} and {static.axle_deg:.1f} deg, plunge {shaft.plunge_mm:.1f} mm, critical "
            f"speed {shaft.critical_rpm:.0f} rpm against {shaft.speed_rpm:.0f} rpm."
        )
    for p in driving.performance if driving is not None else ():
        pull = f"{p.to_50_s:.1f} s" if p.to_50_s is not None else "never"
        lines.append(f"{p.state}, {p.mass_kg:.0f} kg: 0 to 50 km/h {pull}, top speed {p.top_km_per_h:.0f} km/h "
                     f"({p.top_bound}), hill {p.grade_percent:.0f} % ({p.grade_bound}).")  # fmt: skip
    if driving is not None and driving.ranges:
        rows = [(r.drive, f"{r.used.per_km_wh:.0f}", _number(r.range_km), f"{r.heated_km:.0f}", f"{r.laden_km:.0f}")
                for r in driving.ranges]  # fmt: skip
        lines += table(("drive", "Wh/km", "range km", "heater on km", "laden km"), rows)
    if driving is not None and driving.charging is not None:
        c = driving.charging
        lines.append(
            f"Charging: {c.battery_kw:.1f} kW into the battery, set by the {c.bound}, {c.full_h:.1f} h from empty to full."
        )
    if price is not None:
        lines.append(
            f"Price: {_number(price.total)} {price.currency}, without tax; {_number(price.hours)} hours of work."
        )
    return lines


def _number(found: Measured, digits: int = 0) -> str:
    """`571 +/- 9`."""
    tolerance = f" +/- {found.tolerance:.{digits}f}" if found.tolerance else ""
    return f"{found.value + 0.0:.{digits}f}{tolerance}"
