"""Cable runs: what each asks for, what is known of it once it is laid, and what it weighs."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from math import ceil, sqrt

from packlayout.electrical.copper import ampacity, drop, smallest
from packlayout.electrical.sleeves import Sleeve, conduit_for, covered, sleeves_of
from packlayout.electrical.wanted import RunKind, Wanted
from packlayout.model.brief import Case
from packlayout.model.electrics import CableSize, CableTable, Conduit, ElectricalRules, SignalRun
from packlayout.model.geometry import MassItem, Vec, exact_point
from packlayout.space.bends import Line
from packlayout.space.routes import End, Need, NoRoute, Route
from packlayout.units import Measured

BUNDLE = {1: 1.0, 2: 2.0, 3: 2.155, 4: 2.414}
"""Diameter of the circle round equal cables laid together, over one cable's diameter (geometry of circles)."""
LIVE = ("HV", "mains")
"""Kinds of run that signal cables are kept apart from."""
MASS_SHARE = 0.08
"""Tolerance of cable and hose mass: maker's spread, slack, terminals and clips (common practice, no source)."""


@dataclass(frozen=True, slots=True)
class Run:
    """One cable bundle or hose as laid.

    Attributes:
        name: For people.
        kind: HV, 12 V, mains, coolant, signal.
        start: Port it begins at.
        goal: Port it ends at.
        cores: Single cables in it; nought for a hose.
        area_mm2: Of each; nought for a hose.
        diameter_mm: Of the bundle, without conduit.
        line: Its middle line; None when there is no way.
        blocked: Why there is none.
        ampacity_a: What each cable carries at the ambient temperature.
        load_a: What it carries for long.
        fuse_a: Rating of the fuse ahead of it; None where the source limits the current.
        drop_v: At peak current, there and back.
        volts: Lowest voltage of the circuit.
        mass: Of the whole bundle and its conduit.
        clips: How many.
        conduit_mm: Length that wants conduit.
        conduit: Which one, along `conduit_mm`; empty where none is wanted or none found room.
        spare_mm: Clearance beyond its gaps at the tightest spot, as far as it is worked out.
        nearest: What is there.
        elbows: Port, and middle of the cable above it, for each end with an elbow connector.
        sleeves: The pieces of conduit it lies in.
        signal: What the brief says of it, of a signal cable.
    """

    name: str
    kind: RunKind
    start: End
    goal: End
    cores: int
    area_mm2: float
    diameter_mm: float
    line: Line | None
    blocked: NoRoute | None
    ampacity_a: float
    load_a: float
    fuse_a: float | None
    drop_v: float
    volts: float
    mass: Measured
    clips: int
    conduit_mm: float
    spare_mm: float
    nearest: str
    elbows: tuple[tuple[Vec, Vec], ...] = ()
    conduit: str = ""
    sleeves: tuple[Sleeve, ...] = ()
    signal: SignalRun | None = None

    @property
    def length_mm(self) -> float:
        """Along its middle line; nought when it could not be laid."""
        return self.line.length_mm if self.line is not None else 0.0

    @property
    def carries(self) -> bool:
        """Whether it carries power; a hose does not, and the current of a signal is not worth telling."""
        return self.cores > 0 and self.kind != "signal"

    @property
    def sleeved_mm(self) -> float:
        """Length of its conduit."""
        return sum(sleeve.line.length_mm for sleeve in self.sleeves)

    @property
    def conduit_mass(self) -> Measured:
        """Of its conduit, which `mass` holds as well."""
        mass = sum(sleeve.mass_kg for sleeve in self.sleeves)
        return Measured(mass, mass * MASS_SHARE)

    @property
    def cable_mass(self) -> Measured:
        """Without its conduit."""
        mass = self.mass.value - self.conduit_mass.value
        return Measured(mass, max(0.0, self.mass.tolerance - self.conduit_mass.tolerance))


def size_of(case: Case, table: CableTable, wanted: Wanted) -> CableSize | None:
    """The thinnest cable for current and fuse, the thickest where none will do; None for a hose or signal cable."""
    if wanted.kind in ("coolant", "signal"):
        return None
    ambient = case.brief.wiring.ambient_degc
    fit = smallest(table, ambient, wanted.load_a, wanted.fuse_a, wanted.clearing_a2s)
    return fit or table.sizes[-1]


def bundle_mm(rules: ElectricalRules, wanted: Wanted, size: CableSize | None) -> float:
    """Outside diameter of a bundle of a cable, or of a hose, without conduit."""
    if wanted.cable is not None:
        return wanted.cable.diameter_mm
    return rules.hose.diameter_mm if size is None else size.diameter_mm * BUNDLE[wanted.cores]


def need_of(rules: ElectricalRules, wanted: Wanted, size: CableSize | None) -> Need:
    """What a bundle of a cable, or a hose, asks for, with the conduit it lies in all along or at times."""
    thick = bundle_mm(rules, wanted, size)
    if wanted.cable is not None:
        factor = rules.bend_factor[0] if thick <= 12 else rules.bend_factor[1]
        need = Need(thick / 2, (factor + 0.5) * thick, rules.gland_mm)
        conduit = rules.conduit_named(wanted.cable.conduit)
        return need if conduit is None else _within(need, conduit)
    if size is None:
        return Need(thick / 2, rules.hose.bend_mm, rules.gland_mm)
    factor = rules.bend_factor[0] if size.diameter_mm <= 12 else rules.bend_factor[1]
    # the rule is for the inner side of the bend, which lies a bundle's radius within its middle line
    need = Need(thick / 2, factor * size.diameter_mm + thick / 2, rules.gland_mm)
    conduit = conduit_for(rules, thick) if wanted.kind in LIVE else None
    if conduit is None:
        return need
    if "everywhere" in rules.conduit:
        return _within(need, conduit)
    sleeve = (conduit.outside_mm - thick) / 2
    return replace(need, sleeve_mm=sleeve, bend_mm=max(need.bend_mm, conduit.bend_mm))


def _within(need: Need, conduit: Conduit) -> Need:
    """What a cable asks for that lies in conduit from end to end."""
    return replace(need, radius_mm=conduit.outside_mm / 2, bend_mm=max(need.bend_mm, conduit.bend_mm))


def allowed_share(rules: ElectricalRules, wanted: Wanted | Run) -> float:
    """Share of the voltage that may be lost."""
    return (rules.low_drop_percent if wanted.kind == "12 V" else rules.drop_percent) / 100


def run_of(
    case: Case, table: CableTable, rules: ElectricalRules, wanted: Wanted, size: CableSize | None, need: Need,
    found: Route | NoRoute, conduit: Conduit | None = None,
) -> Run:  # fmt: skip
    """One run with its length, mass, drop, clips and conduit."""
    line = found.line if isinstance(found, Route) else None
    length = line.length_mm if line is not None else 0.0
    signal = wanted.cable
    per_m = rules.hose.mass_kg_per_m if signal is None else signal.mass_kg_per_m
    if size is not None:
        per_m = size.mass_kg_per_m * wanted.cores
    area = size.area_mm2 if size is not None else signal.area_mm2 if signal is not None else 0.0
    pieces = _in_conduit(case, rules, wanted, line)
    sleeves = sleeves_of(wanted.name, conduit, pieces) if conduit is not None else ()
    mass = per_m * length / 1000 + sum(sleeve.mass_kg for sleeve in sleeves)
    # there and back: a 12 V circuit comes back through the body, three phases through one another
    ways = 2 if wanted.kind == "mains" or wanted.cores == 2 else 1
    lost = ways * drop(size, length, wanted.peak_a, table.conductor_degc) if size is not None else 0.0
    return Run(
        wanted.name, wanted.kind, wanted.start, wanted.goal, wanted.cores, area,
        bundle_mm(rules, wanted, size), line, found if isinstance(found, NoRoute) else None,
        ampacity(table, size, case.brief.wiring.ambient_degc) if size else 0.0, wanted.load_a, wanted.fuse_a, lost,
        wanted.volts, Measured(mass, mass * MASS_SHARE), max(0, ceil(length / rules.clip_mm) - 1),
        sum(piece.length_mm for piece in pieces), found.clearance_mm if isinstance(found, Route) else 0.0,
        found.nearest if isinstance(found, Route) else found.near,
        found.elbows if isinstance(found, Route) else (),
        conduit.name if conduit is not None and sleeves else "", sleeves, signal,
    )  # fmt: skip


def _in_conduit(case: Case, rules: ElectricalRules, wanted: Wanted, line: Line | None) -> tuple[Line, ...]:
    """The pieces of a run that want conduit."""
    if line is None:
        return ()
    if wanted.cable is not None:
        return (line,) if rules.conduit_named(wanted.cable.conduit) is not None else ()
    return covered(case, rules, line) if wanted.kind in LIVE else ()


def cable_items(runs: Sequence[Run]) -> tuple[MassItem, ...]:
    """What the runs weigh, each at the centre of gravity of its line, and each piece of conduit likewise."""
    made: list[MassItem] = []
    for run in runs:
        if run.line is None:
            continue
        what = f"{run.cores} x {run.area_mm2:g} mm2" if run.cores else f"hose {run.diameter_mm:g} mm"
        made.append(_item(run.name, run.cable_mass, run.line, what))
        for sleeve in run.sleeves:
            mass = Measured(sleeve.mass_kg, sleeve.mass_kg * MASS_SHARE)
            made.append(_item(sleeve.name, mass, sleeve.line, sleeve.conduit.name))
    return tuple(made)


def _item(name: str, mass: Measured, line: Line, what: str) -> MassItem:
    points = line.points()
    x, y, z = (float(v) for v in points.max(axis=0) - points.min(axis=0))
    return MassItem(name, mass, exact_point(line.centroid), "added", (x, y, z), f"{what}, computed")


def bundle_circle(cores: int) -> float:
    """Diameter of the circle round equal cables over the diameter of one; two touching 2, three 1 + 2/sqrt 3."""
    return {1: 1.0, 2: 2.0, 3: 1 + 2 / sqrt(3), 4: 1 + sqrt(2)}[cores]
