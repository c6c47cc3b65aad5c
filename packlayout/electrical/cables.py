"""Cable runs: what is known of each once it is laid, what it weighs, and what it is held against."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from math import ceil, sqrt

import numpy as np

from packlayout.electrical.copper import ampacity, drop, smallest
from packlayout.electrical.wanted import RunKind, Wanted
from packlayout.model.brief import Case
from packlayout.model.check import Check, judge, unknown
from packlayout.model.electrics import CableSize, CableTable, Conduit, ElectricalRules
from packlayout.model.geometry import MassItem, Vec, exact_point
from packlayout.space.bends import Line
from packlayout.space.nearest import line_to_line
from packlayout.space.routes import End, Need, NoRoute, Route
from packlayout.units import Measured

BUNDLE = {1: 1.0, 2: 2.0, 3: 2.155, 4: 2.414}
"""Diameter of the circle round equal cables laid together, over one cable's diameter (geometry of circles)."""
LIVE = ("HV", "mains")
"""Kinds of run that signal cables are kept apart from."""
BESIDE_STEP_MM = 10.0
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
        diameter_mm: Of the bundle.
        line: Its middle line; None when there is no way.
        blocked: Why there is none.
        ampacity_a: What each cable carries at the ambient temperature.
        load_a: What it carries for long.
        fuse_a: Rating of the fuse ahead of it; None where the source limits the current.
        drop_v: At peak current, there and back.
        volts: Lowest voltage of the circuit.
        mass: Of the whole bundle.
        clips: How many.
        conduit_mm: Length that wants conduit.
        conduit: Which one, along `conduit_mm`; empty where none is wanted or none found room.
        spare_mm: Clearance beyond its gaps at the tightest spot, as far as it is worked out.
        nearest: What is there.
        elbows: Port, and middle of the cable above it, for each end with an elbow connector.
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

    @property
    def length_mm(self) -> float:
        """Along its middle line; nought when it could not be laid."""
        return self.line.length_mm if self.line is not None else 0.0


def size_of(case: Case, table: CableTable, wanted: Wanted) -> CableSize | None:
    """The thinnest cable for current and fuse, the thickest where none will do; None for a hose or signal cable."""
    if wanted.kind in ("coolant", "signal"):
        return None
    ambient = case.brief.wiring.ambient_degc
    fit = smallest(table, ambient, wanted.load_a, wanted.fuse_a, wanted.clearing_a2s)
    return fit or table.sizes[-1]


def need_of(rules: ElectricalRules, wanted: Wanted, size: CableSize | None) -> Need:
    """What a bundle of a cable, or a hose, asks for."""
    if wanted.cable is not None:
        thick = wanted.cable.diameter_mm
        factor = rules.bend_factor[0] if thick <= 12 else rules.bend_factor[1]
        return Need(thick / 2, (factor + 0.5) * thick, rules.gland_mm)
    if size is None:
        return Need(rules.hose.diameter_mm / 2, rules.hose.bend_mm, rules.gland_mm)
    radius = size.diameter_mm * BUNDLE[wanted.cores] / 2
    factor = rules.bend_factor[0] if size.diameter_mm <= 12 else rules.bend_factor[1]
    # the rule is for the inner side of the bend, which lies a bundle's radius within its middle line
    need = Need(radius, factor * size.diameter_mm + radius, rules.gland_mm)
    conduit = conduit_for(rules, 2 * radius) if wanted.kind in LIVE else None
    if conduit is None:
        return need
    if "everywhere" in rules.conduit:
        return replace(need, radius_mm=conduit.outside_mm / 2, bend_mm=max(need.bend_mm, conduit.bend_mm))
    return replace(
        need, sleeve_mm=conduit.outside_mm / 2 - radius, bend_mm=max(need.bend_mm, conduit.bend_mm)
    )


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
    covered = _conduit(case, rules, wanted.kind, line)
    conduit = conduit if covered > 0 else None
    mass = (per_m * length + (conduit.mass_kg_per_m * covered if conduit is not None else 0.0)) / 1000
    # there and back: a 12 V circuit comes back through the body, three phases through one another
    ways = 2 if wanted.kind == "mains" or wanted.cores == 2 else 1
    lost = ways * drop(size, length, wanted.peak_a, table.conductor_degc) if size is not None else 0.0
    return Run(
        wanted.name, wanted.kind, wanted.start, wanted.goal, wanted.cores, area,
        2 * need.radius_mm, line, found if isinstance(found, NoRoute) else None,
        ampacity(table, size, case.brief.wiring.ambient_degc) if size else 0.0, wanted.load_a, wanted.fuse_a, lost,
        wanted.volts, Measured(mass, mass * MASS_SHARE), max(0, ceil(length / rules.clip_mm) - 1),
        covered, found.clearance_mm if isinstance(found, Route) else 0.0,
        found.nearest if isinstance(found, Route) else found.near,
        found.elbows if isinstance(found, Route) else (), conduit.name if conduit is not None else "",
    )  # fmt: skip


def conduit_for(rules: ElectricalRules, bundle_mm: float) -> Conduit | None:
    """The thinnest conduit in stock that a bundle goes into; None when there is none."""
    fit = [c for c in rules.conduits if c.inside_mm >= bundle_mm * rules.conduit_over_cable]
    return min(fit, key=lambda c: (c.outside_mm, c.name), default=None)


def _conduit(case: Case, rules: ElectricalRules, kind: RunKind, line: Line | None) -> float:
    """Length of a high-voltage run that lies where the rules want conduit, mm."""
    if line is None or kind not in ("HV", "mains"):
        return 0.0
    if "everywhere" in rules.conduit:
        return line.length_mm
    points = line.points(6.0)
    middles = (points[1:] + points[:-1]) / 2
    under = np.zeros(len(middles), dtype=bool)
    for way in case.vehicle.cable_ways:
        if way.where == "under floor" and "under floor" in rules.conduit:
            lo, hi = np.minimum(way.corner, way.opposite), np.maximum(way.corner, way.opposite)
            under |= ((middles >= lo) & (middles <= hi)).all(axis=1)
    return float(np.linalg.norm(np.diff(points, axis=0), axis=1)[under].sum())


def cable_items(runs: Sequence[Run]) -> tuple[MassItem, ...]:
    """What the runs weigh, each at the centre of gravity of its line."""
    made: list[MassItem] = []
    for run in runs:
        if run.line is None:
            continue
        what = f"{run.cores} x {run.area_mm2:g} mm2" if run.cores else f"hose {run.diameter_mm:g} mm"
        points = run.line.points()
        x, y, z = (float(v) for v in points.max(axis=0) - points.min(axis=0))
        made.append(
            MassItem(
                run.name, run.mass, exact_point(run.line.centroid), "added", (x, y, z), f"{what}, computed"
            )
        )
    return tuple(made)


def check_runs(case: Case, runs: Sequence[Run]) -> tuple[Check, ...]:
    """Hold each run against its way, its fuse, its current, its voltage drop and the road.

    A run without a way fails with the tightest spot and how much is missing.
    """
    rules, table = case.tables.electrical, case.tables.cables
    if rules is None or table is None:
        missing = "shared/cables.yaml" if table is None else "shared/electrical.yaml"
        return (unknown("cable.runs", "Cable runs", "", "rules of the shop", f"{missing} is not there"),)
    made: list[Check] = []
    for run in runs:
        made.append(_way_check(run))
        if run.kind == "signal" and run.line is not None:
            made.append(_apart_check(rules, run, runs))
        elif run.cores and run.line is not None:
            made += [_current_check(run, case.brief.wiring.ambient_degc), _drop_check(rules, run)]
        if run.conduit_mm > 0 and rules.conduits:
            made.append(_conduit_check(rules, run))
        if run.line is not None:
            made += _road_check(case, rules, run)
    return tuple(made)


def check_signals(case: Case, runs: Sequence[Run]) -> tuple[Check, ...]:
    """Signal cables that the brief asks for and whose ends are not there: told, not passed over."""
    laid = {run.name for run in runs}
    ends = ", ".join(end.name for end in case.vehicle.cable_ends) or "none"
    return tuple(
        unknown(f"cable.way.{order.name}", f"{order.name}: clearance along its way, beyond the gaps", "mm", "ports of the parts",
                f"{' / '.join(order.start)} or {' / '.join(order.goal)} is no port of a placed part; fixed points: {ends}")
        for order in case.brief.wiring.signals if order.name not in laid
    )  # fmt: skip


def _way_check(run: Run) -> Check:
    id, title = f"cable.way.{run.name}", f"{run.name}: clearance along its way, beyond the gaps"
    basis = "exact distance of the laid line to every solid, less radius and gap"
    if run.blocked is None:
        return judge(
            id, title, Measured(run.spare_mm), 0.0, "min", "mm", basis, note=f"nearest: {run.nearest}"
        )
    found = run.blocked
    x, y, z = found.at
    near = f" beside {found.near}" if found.near else ""
    short = f"; {found.remedy}" if found.remedy else ""
    note = f"no way: {found.why}, at x {x:.0f}, y {y:.0f}, z {z:.0f}{near}{short}"
    return Check(id, title, -(found.missing_mm or 1.0), 0.0, 0.0, "min", "mm", -(found.missing_mm or 1.0), "fail", 0.0,
                 basis, note, found.at)  # fmt: skip


def _current_check(run: Run, ambient: float) -> Check:
    least = max(run.load_a, run.fuse_a or 0.0)
    word = "its fuse" if run.fuse_a else "its load"
    return judge(f"cable.current.{run.name}", f"{run.name}: current the cable carries, against {word}",
                 Measured(run.ampacity_a), least, "min", "A",
                 f"{run.area_mm2:g} mm2 at {ambient:g} C; IEC 60364-4-43 clause 433.1, IB <= In <= Iz")  # fmt: skip


def _drop_check(rules: ElectricalRules, run: Run) -> Check:
    limit = 100 * allowed_share(rules, run)
    basis = rules.sources.get("low_drop" if run.kind == "12 V" else "drop", "")
    return judge(f"cable.drop.{run.name}", f"{run.name}: voltage lost at peak current",
                 Measured(100 * run.drop_v / run.volts), limit, "max", "%", basis)  # fmt: skip


def _conduit_check(rules: ElectricalRules, run: Run) -> Check:
    """Whether the run was laid with room for the conduit it wants."""
    note = (
        run.conduit
        or "no conduit in stock is wide enough, or one finds no way: lay the run where none is wanted"
    )
    return judge(f"cable.conduit.{run.name}", f"{run.name}: length in conduit", Measured(run.conduit_mm if run.conduit else 0.0),
                 run.conduit_mm, "min", "mm", rules.sources.get("conduit", ""), note=note)  # fmt: skip


def _apart_check(rules: ElectricalRules, run: Run, runs: Sequence[Run]) -> Check:
    """How far a signal cable lies beside high voltage or mains, nearer than the gap."""
    id, title = (
        f"cable.apart.{run.name}",
        f"{run.name}: length beside high voltage or mains, nearer than the gap",
    )
    basis = rules.sources.get("signal_gap", "")
    if rules.signal_gap_mm is None:
        return unknown(id, title, "mm", basis, "signal_gap is not given in shared/electrical.yaml")
    beside, name, at = length_beside(run, runs, rules.signal_gap_mm)
    note = f"gap {rules.signal_gap_mm:g} mm" + (f"; longest beside {name}" if name else "")
    return judge(id, title, Measured(beside), rules.signal_beside_mm, "max", "mm", basis, note=note, where=at)


def length_beside(run: Run, runs: Sequence[Run], gap_mm: float) -> tuple[float, str, Vec | None]:
    """Length of a run that lies nearer than a gap to runs of high voltage or mains, which most, and where.

    Args:
        run: As laid.
        runs: All of them.
        gap_mm: From jacket to jacket.
    """
    assert run.line is not None
    points = run.line.points(BESIDE_STEP_MM)
    middles, steps = (points[1:] + points[:-1]) / 2, np.linalg.norm(np.diff(points, axis=0), axis=1)
    near, worst = np.zeros(len(steps), dtype=bool), (0.0, "", None)
    for other in runs:
        if other.kind not in LIVE or other.line is None:
            continue
        reach = gap_mm + (run.diameter_mm + other.diameter_mm) / 2
        found = line_to_line(points, other.line.chords(), reach + 1.0) < reach
        near |= found
        length = float(steps[found].sum())
        if length > worst[0]:
            x, y, z = (float(v) for v in middles[np.flatnonzero(found)[found.sum() // 2]])
            worst = (length, other.name, (x, y, z))
    return float(steps[near].sum()), worst[1], worst[2]


def _road_check(case: Case, rules: ElectricalRules, run: Run) -> list[Check]:
    assert run.line is not None
    points = run.line.points()
    k = int(np.argmin(points[:, 2]))
    lowest = float(points[k, 2]) - run.diameter_mm / 2
    if not any(way.where == "under floor" for way in case.vehicle.cable_ways):
        return []
    at = (float(points[k, 0]), float(points[k, 1]), float(points[k, 2]))
    return [
        judge(f"cable.road.{run.name}", f"{run.name}: above the road at kerb ride height", Measured(lowest),
              rules.road_gap_mm, "min", "mm", rules.sources.get("road_gap", ""), where=at)
    ]  # fmt: skip


def bundle_circle(cores: int) -> float:
    """Diameter of the circle round equal cables over the diameter of one; two touching 2, three 1 + 2/sqrt 3."""
    return {1: 1.0, 2: 2.0, 3: 1 + 2 / sqrt(3), 4: 1 + sqrt(2)}[cores]
