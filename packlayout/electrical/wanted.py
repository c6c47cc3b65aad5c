"""Which cables and hoses a layout needs: from port to port, with what they carry."""

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Literal

from packlayout.electrical.pack import Pack
from packlayout.electrical.protection import Protection, choose_fuse
from packlayout.model.brief import Case
from packlayout.model.catalogue import Part, PoweredPart
from packlayout.model.electrics import SignalRun
from packlayout.model.layout import Layout, Placement
from packlayout.space.routes import End

RunKind = Literal["HV", "12 V", "mains", "coolant", "signal"]
MAINS_V = 230.0
"""Between phase and neutral, IEC 60038."""
LOW_V = 13.8
"""Of the 12 V system while the converter runs (common practice, no source)."""
SMALL_AMPS = 10.0
"""Of a pump or a contactor coil with its wiring (common practice, no source)."""


@dataclass(frozen=True, slots=True)
class Wanted:
    """One cable bundle or hose that is wanted.

    Attributes:
        name: For people.
        kind: HV, 12 V, mains, coolant, signal.
        start: Port it begins at.
        goal: Port it ends at.
        cores: Single cables laid together; nought for a hose.
        load_a: Continuous current of each.
        peak_a: For a short time.
        volts: Lowest voltage of the circuit, which the drop is measured against.
        fuse_a: Rating of the fuse ahead of it; None where the source limits the current.
        clearing_a2s: What that fuse lets through.
        also: Further parts whose reach it may enter.
        cable: Of a signal run, which names its own.
    """

    name: str
    kind: RunKind
    start: End
    goal: End
    cores: int
    load_a: float = 0.0
    peak_a: float = 0.0
    volts: float = 0.0
    fuse_a: float | None = None
    clearing_a2s: float | None = None
    also: tuple[str, ...] = ()
    cable: SignalRun | None = None


def wanted_runs(case: Case, layout: Layout, pack: Pack, protection: Protection) -> tuple[Wanted, ...]:
    """All runs between the placed parts and the fixed points of the vehicle.

    Args:
        case: Supplies ports and data.
        layout: Where the parts stand.
        pack: Ends of the string, currents.
        protection: Main fuse.

    Returns:
        High voltage first, then mains, 12 V, coolant, signals. A part without the port has no run.
    """
    found = _Found(case, layout)
    made = [
        *_traction(case, layout, pack, protection, found),
        *_branches(case, pack, found),
        *_mains(found),
        *_low(case, found),
        *_coolant(found),
        *(_signal(order, found) for order in case.brief.wiring.signals),
    ]
    return tuple(run for run in made if run is not None)


class _Found:
    """Placed parts by kind, and their ports."""

    def __init__(self, case: Case, layout: Layout) -> None:
        self.case = case
        self.by_kind: dict[str, list[tuple[Placement, Part]]] = {}
        for placed in layout.placements:
            part = case.parts[placed.part]
            self.by_kind.setdefault(part.kind, []).append((placed, part))

    def first(self, kind: str) -> tuple[Placement, Part] | None:
        rows = self.by_kind.get(kind)
        return rows[0] if rows else None

    def port(
        self, one: tuple[Placement, Part] | None, kind: str, *words: str, only: bool = False
    ) -> End | None:
        """The first port of a kind whose name holds a word; failing that, unless `only`, the last of the kind."""
        if one is None:
            return None
        placed, part = one
        ports = [p for p in part.ports if p.kind == kind]
        named = [p for word in words for p in ports if word in p.name]
        chosen = named[0] if named else None if only or not ports else ports[-1]
        if chosen is None:
            return None
        return End(
            placed.name, chosen.name, placed.pose.point(chosen.at), placed.pose.direction(chosen.direction)
        )

    def named(self, words: tuple[str, ...]) -> End | None:
        """A port of a part, by the part's file or name and the port's; a fixed point by its name alone."""
        for end in self.case.vehicle.cable_ends:
            if words == (end.name,):
                return End(end.name, end.kind, end.at, end.direction, True)
        for placed, part in (row for rows in self.by_kind.values() for row in rows):
            for port in part.ports:
                if len(words) == 2 and words[0] in (placed.name, placed.part) and words[1] == port.name:
                    at, way = placed.pose.point(port.at), placed.pose.direction(port.direction)
                    return End(placed.name, port.name, at, way)
        return None

    def fixed(self, kind: str) -> End | None:
        for end in self.case.vehicle.cable_ends:
            if end.kind == kind:
                return End(end.name, end.kind, end.at, end.direction, True)
        return None


def _run(
    name: str, kind: RunKind, start: End | None, goal: End | None, cores: int, **more: object
) -> Wanted | None:
    if start is None or goal is None or start.part == goal.part:
        return None
    return Wanted(name, kind, start, goal, cores, **more)  # type: ignore[arg-type]


def _traction(
    case: Case, layout: Layout, pack: Pack, protection: Protection, found: _Found
) -> Iterable[Wanted | None]:
    box, controller, motor = (found.first(kind) for kind in ("junction box", "controller", "motor"))
    fuse = protection.fuse
    carried = {
        "load_a": pack.demand_continuous_a, "peak_a": pack.demand_peak_a, "volts": pack.min_v,
        "fuse_a": fuse.rating_a if fuse else None, "clearing_a2s": fuse.clearing_a2s if fuse else None,
    }  # fmt: skip
    modules = tuple(p.name for p in layout.modules)
    for word, ends, names in (
        ("positive", pack.order.positive, [s[-1] for s in pack.order.strings]),
        ("negative", pack.order.negative, [s[0] for s in pack.order.strings]),
    ):
        for n, ((at, way), name) in enumerate(zip(ends, names, strict=True), start=1):
            share = {**carried, "load_a": pack.demand_continuous_a / pack.strings,
                     "peak_a": pack.demand_peak_a / pack.strings}  # fmt: skip
            number = f" {n}" if pack.strings > 1 else ""
            yield _run(f"pack {word}{number}", "HV", End(name, word, at, way),
                       found.port(box, "HV", f"pack {word}", only=True), 1, **share, also=modules)  # fmt: skip
    yield _run("junction box to controller", "HV", found.port(box, "HV", "controller"),
               found.port(controller, "HV", "supply"), 2, **carried)  # fmt: skip
    if motor is not None and motor[1].kind == "motor":
        data = motor[1].electrical
        load = data.continuous_a or pack.demand_continuous_a
        yield _run("controller to motor", "HV", found.port(controller, "HV", "motor"),
                   found.port(motor, "HV", "phases"), 3, load_a=load, peak_a=data.peak_a or load,
                   volts=pack.min_v)  # fmt: skip


def _branches(case: Case, pack: Pack, found: _Found) -> Iterable[Wanted | None]:
    box = found.first("junction box")
    for kind, words, port in (
        ("charger", ("charger",), "DC"),
        ("DC-DC converter", ("converter",), "HV in"),
        ("heater", ("heater",), "HV in"),
    ):
        for n, one in enumerate(found.by_kind.get(kind, []), start=1):
            part = one[1]
            assert isinstance(part, PoweredPart)
            load = part.electrical.continuous_a or 1000 * part.electrical.power_kw / pack.min_v
            fuse = choose_fuse(case, load, load, pack.max_v)
            number = f" {n}" if len(found.by_kind[kind]) > 1 else ""
            yield _run(f"junction box to {kind}{number}", "HV", found.port(box, "HV", *words),
                       found.port(one, "HV", port), 2, load_a=load, peak_a=load, volts=pack.min_v,
                       fuse_a=fuse.rating_a if fuse else None,
                       clearing_a2s=fuse.clearing_a2s if fuse else None)  # fmt: skip


def _mains(found: _Found) -> Iterable[Wanted | None]:
    charger = found.first("charger")
    if charger is None or charger[1].kind != "charger":
        return
    data = charger[1].electrical
    load = 1000 * data.power_kw / ((data.efficiency_percent or 92) / 100) / MAINS_V
    yield _run("charging socket to charger", "mains", found.fixed("charging socket"),
               found.port(charger, "HV", "mains", only=True), 3, load_a=load, peak_a=load, volts=MAINS_V)  # fmt: skip


def _low(case: Case, found: _Found) -> Iterable[Wanted | None]:
    battery = found.port(found.first("12 V battery"), "12 V", "positive")
    feed = found.fixed("12 V feed") or battery
    converter = found.first("DC-DC converter")
    if converter is not None and converter[1].kind == "DC-DC converter":
        load = 1000 * converter[1].electrical.power_kw / LOW_V
        yield _low_run(
            case, "converter to 12 V", found.port(converter, "12 V", "12 V out"), battery or feed, load
        )
    for kind in ("junction box", "pump"):
        for placed, part in found.by_kind.get(kind, []):
            supply = found.port((placed, part), "12 V", "supply", only=True)
            yield _low_run(case, f"12 V to {placed.name}", feed, supply, SMALL_AMPS)


def _low_run(case: Case, name: str, start: End | None, goal: End | None, load: float) -> Wanted | None:
    fuse = choose_fuse(case, load, load, LOW_V)
    return _run(name, "12 V", start, goal, 1, load_a=load, peak_a=load, volts=12.0,
                fuse_a=fuse.rating_a if fuse else None, clearing_a2s=fuse.clearing_a2s if fuse else None)  # fmt: skip


def _signal(order: SignalRun, found: _Found) -> Wanted | None:
    return _run(order.name, "signal", found.named(order.start), found.named(order.goal), order.cores, volts=LOW_V,
                cable=order)  # fmt: skip


def _coolant(found: _Found) -> Iterable[Wanted | None]:
    """One loop: pump, controller, motor, radiator, expansion bottle, and back."""
    pump = next(
        (p for p in found.by_kind.get("pump", []) if found.port(p, "coolant", "outlet", only=True)), None
    )
    if pump is None:
        return
    stops: list[tuple[str, End | None, End | None]] = [
        (pump[0].name, found.port(pump, "coolant", "inlet"), found.port(pump, "coolant", "outlet"))
    ]
    for kind in ("controller", "motor"):
        for one in found.by_kind.get(kind, []):
            stops.append((one[0].name, found.port(one, "coolant", "coolant in", only=True),
                          found.port(one, "coolant", "coolant out", only=True)))  # fmt: skip
    stops.append(("radiator", found.fixed("coolant in"), found.fixed("coolant out")))
    for one in found.by_kind.get("other", []):
        stops.append((one[0].name, found.port(one, "coolant", "return", only=True),
                      found.port(one, "coolant", "feed", only=True)))  # fmt: skip
    loop = [stop for stop in stops if stop[1] is not None and stop[2] is not None]
    for (name, _, out), (after, into, _) in zip(loop, [*loop[1:], loop[0]], strict=True):
        yield _run(f"hose {name} to {after}", "coolant", out, into, 0)
