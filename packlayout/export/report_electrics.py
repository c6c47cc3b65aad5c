"""The report's sections on pack, protection and cables."""

from packlayout.electrical.cables import Run
from packlayout.electrical.pack import Pack
from packlayout.electrical.protection import Protection
from packlayout.electrical.wire import CAUTION
from packlayout.export.blocks import Block, Bullets, Head, Table, Text
from packlayout.export.electric_lists import SCHEDULE
from packlayout.export.figures import figure, number, point
from packlayout.study import Study
from packlayout.units import Measured

NOT_DONE = "Not done."


def electrics(study: Study) -> tuple[Block, ...]:
    """Pack, order of its modules, protection."""
    wiring = study.wiring
    if wiring is None or wiring.pack is None:
        return (Text(CAUTION), Text(NOT_DONE))
    blocks: list[Block] = [
        Text(CAUTION),
        _pack(wiring.pack),
        Head("Order of the modules, negative end first"),
    ]
    blocks.append(Bullets(tuple(" – ".join(string) for string in wiring.pack.order.strings)))
    blocks.append(Head("Protection", "protection"))
    blocks.append(Text(NOT_DONE) if wiring.protection is None else _protection(wiring.protection))
    return tuple(blocks)


def _pack(pack: Pack) -> Table:
    order = pack.order
    resistance = "not stated" if pack.resistance_ohm is None else f"{figure(pack.resistance_ohm, 4)} ohm"
    adjacent = (
        ""
        if order.adjacent_v is None
        else f"{number(order.adjacent_v, 0)} V: {', '.join(order.adjacent_pair)}"
    )
    rows = (
        ("modules", f"{pack.series} in series, {pack.strings} in parallel ({pack.module})"),
        ("voltage empty, nominal, full", " / ".join(number(v, 0) for v in (pack.min_v, pack.nominal_v, pack.max_v)) + " V"),
        ("capacity", f"{number(pack.capacity_ah)} Ah"),
        ("energy, gross", f"{figure(pack.energy_kwh)} kWh"),
        ("energy, usable", f"{figure(pack.usable_kwh)} kWh, from {pack.soc_percent[0]:g} to {pack.soc_percent[1]:g} % "
         "state of charge"),
        ("current the modules may give", f"{number(pack.continuous_a, 0)} A for long, {number(pack.peak_a, 0)} A peak"),
        ("current asked for", f"{number(pack.demand_continuous_a, 0)} A for long, {number(pack.demand_peak_a, 0)} A peak "
         f"({pack.demand_basis})"),
        ("resistance", resistance),
        ("greatest voltage between neighbours, full", adjacent),
    )  # fmt: skip
    return Table(("pack", ""), rows, shares=(0.3, 0.7))


def _protection(found: Protection) -> Table:
    fuse = "none of the stock will do"
    if found.fuse is not None:
        fuse = (
            f"{found.fuse.name}, {found.fuse.rating_a:g} A, breaks {number(found.fuse.breaking_a / 1000, 1)} kA at "
            f"{found.fuse.voltage_v:g} V; {'as fitted' if found.fuse_fitted else 'chosen'}"
        )
    filled = "not computed: the controller's capacitance is not given"
    if found.precharge is not None:
        p = found.precharge
        filled = (
            f"{number(p.resistor_ohm, 0)} ohm ({'as fitted' if p.fitted else 'chosen'}) into {number(p.capacitance_uf, 0)} "
            f"µF: {number(p.time_s, 2)} s, {number(p.energy_j, 0)} J, {number(p.peak_w, 0)} W at first"
        )
    rows = (
        ("main fuse", fuse),
        ("short-circuit current", "not computed: the module's resistance is not given" if found.fault_a is None
         else f"{figure(Measured(found.fault_a.value / 1000, found.fault_a.tolerance / 1000), 2)} kA, full and cold"),
        ("contactors bear and break", f"{number(found.contactor_a, 0)} A, {number(found.contactor_v, 0)} V"),
        ("precharge", filled),
        ("discharge", "not computed" if found.discharge_s is None else f"{number(found.discharge_s, 1)} s to a safe voltage"),
        ("service disconnect", f"between {' and '.join(found.disconnect)}" if found.disconnect else "not placed"),
        ("insulation resistance, at least", f"{number(found.insulation_ohm / 1000, 0)} kohm"),
    )  # fmt: skip
    return Table(("protection", ""), rows, shares=(0.3, 0.7))


_SHARES = (0.325, 0.06, 0.08, 0.065, 0.05, 0.05, 0.07, 0.05, 0.05, 0.04, 0.075, 0.085)


def cables(study: Study) -> tuple[Block, ...]:
    """The cable schedule and what has no way."""
    wiring = study.wiring
    if wiring is None:
        return (Text(NOT_DONE),)
    if not wiring.runs:
        return (Text("Not done: no cable table, or nothing to join."),)
    laid = [run for run in wiring.runs if run.line is not None]
    mass = Measured(sum(r.mass.value for r in laid), sum(r.mass.tolerance for r in laid))
    words = (
        f"{len(laid)} of {len(wiring.runs)} runs are laid; {number(wiring.cable_mm / 1000, 2)} m of high-voltage run, "
        f"{figure(mass, 2)} kg of cable and hose. The same list with all figures is {SCHEDULE}; lengths are along the "
        "middle line from port to port: add what the terminals take."
        f"{_conduits(laid)}"
    )
    head = ("run, from and to", "kind", "mm²", "length, m", "bend, mm", "load, A", "carries, A", "fuse, A", "drop, V",
            "clips", "conduit, m", "mass, kg")  # fmt: skip
    rows = tuple(_row(run) for run in wiring.runs)
    blocks: list[Block] = [
        Text(words),
        Table(head, rows, frozenset(range(2, 12)), close=True, shares=_SHARES),
    ]
    stuck = tuple(_blocked(run) for run in wiring.runs if run.blocked is not None)
    if stuck:
        blocks += [Head("No way for", "no-way"), Bullets(stuck)]
    bars = wiring.pack.order.busbars if wiring.pack is not None else ()
    if bars:
        table = tuple((bar.start, bar.end, number(bar.length_mm, 0)) for bar in bars)
        caption = "Busbars of the pack, straight from terminal to terminal"
        blocks.append(Table(("from", "to", "length, mm"), table, frozenset((2,)), caption))
    return tuple(blocks)


def _conduits(laid: list[Run]) -> str:
    """What conduit there is, by its name; nothing where none is wanted."""
    metres: dict[str, float] = {}
    for run in laid:
        for sleeve in run.sleeves:
            name = f"{sleeve.conduit.name} (Ø {sleeve.conduit.outside_mm:g} mm)"
            metres[name] = metres.get(name, 0.0) + sleeve.line.length_mm / 1000
    if not metres:
        return ""
    mass = Measured(sum(r.conduit_mass.value for r in laid), sum(r.conduit_mass.tolerance for r in laid))
    told = ", ".join(f"{number(length, 2)} m of {name}" for name, length in metres.items())
    return (
        f" Conduit: {told}; {figure(mass, 2)} kg, counted above. Runs are routed with the conduit's outside diameter where "
        "it lies."
    )


def _row(run: Run) -> tuple[str, ...]:
    core = run.cores and f"{run.cores} × {run.area_mm2:g}"
    laid = run.line is not None
    ends = f"{run.start.part}, {run.start.port} to {run.goal.part}, {run.goal.port}"
    return (
        f"{run.name}\n{ends}", run.kind,
        core or f"Ø {run.diameter_mm:g} hose", number(run.length_mm / 1000, 2) if laid else "no way",
        number(run.line.radius_mm, 0) if run.line is not None else "",
        number(run.load_a, 0) if run.carries else "", number(run.ampacity_a, 0) if run.carries else "",
        "" if run.fuse_a is None else f"{run.fuse_a:g}", number(run.drop_v, 2) if run.carries and laid else "",
        str(run.clips) if laid else "", number(run.conduit_mm / 1000, 2) if laid and run.conduit_mm else "",
        figure(run.mass, 2) if laid else "",
    )  # fmt: skip


def _blocked(run: Run) -> str:
    found = run.blocked
    assert found is not None
    near = f", beside {found.near}" if found.near else ""
    more = f"; {found.remedy}" if found.remedy else ""
    return f"{run.name}: {found.why}, at {point(found.at)}{near}{more}"
