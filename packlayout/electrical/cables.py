"""Cable runs: each wanted run sized, routed through the free space, sized again by its voltage drop, weighed."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from math import ceil, sqrt

import numpy as np

from packlayout.electrical.copper import ampacity, drop, smallest
from packlayout.electrical.wanted import RunKind, Wanted
from packlayout.model.brief import Case
from packlayout.model.check import Check, judge, unknown
from packlayout.model.electrics import CableSize, CableTable, ElectricalRules
from packlayout.model.geometry import MassItem, Vec, exact_point
from packlayout.space.bends import Line
from packlayout.space.course import Course
from packlayout.space.routes import End, Need, NoRoute, Route, route
from packlayout.units import Measured

BUNDLE = {1: 1.0, 2: 2.0, 3: 2.155, 4: 2.414}
"""Diameter of the circle round equal cables laid together, over one cable's diameter (geometry of circles)."""
MASS_SHARE = 0.08
"""Tolerance of cable and hose mass: maker's spread, slack, terminals and clips (common practice, no source)."""
GENTLE_MM = 45.0
"""Bend radius that thin cables are laid with where there is room (common practice, no source)."""
PORT_GAP_MM = 6.0
"""Between cables that share one port (common practice, no source)."""


@dataclass(frozen=True, slots=True)
class Run:
    """One cable bundle or hose as laid.

    Attributes:
        name: For people.
        kind: HV, 12 V, mains, coolant.
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

    @property
    def length_mm(self) -> float:
        """Along its middle line; nought when it could not be laid."""
        return self.line.length_mm if self.line is not None else 0.0


def lay(case: Case, course: Course, wanted: Sequence[Wanted]) -> tuple[tuple[Run, ...], Course]:
    """Lay all runs, the stiffest first; each is in the way of those that come after it.

    Args:
        case: Supplies cable table, rules, ambient temperature.
        course: Where cables may run.
        wanted: What is to be laid.

    Returns:
        The runs in the order wanted, and the course with them in it.
    """
    table, rules = case.tables.cables, case.tables.electrical
    if table is None or rules is None:
        return (), course
    sizes = [_size(case, table, w) for w in wanted]
    needs = [_need(rules, w, size) for w, size in zip(wanted, sizes, strict=True)]
    order = sorted(range(len(wanted)), key=lambda n: (-needs[n].bend_mm, n))
    asked = _asked(wanted, needs, order)
    empty = course
    made, course = _in_order(case, empty, asked, sizes, order)
    blocked = [k for k in order if made[k].line is None]
    if blocked:
        # a run that found no way is laid before the others of its kind, once: they may go round it
        again = [k for k in order if k not in blocked]
        for k in reversed(blocked):
            first = next(
                (n for n, other in enumerate(again) if wanted[other].kind == wanted[k].kind), len(again)
            )
            again.insert(first, k)
        other, after = _in_order(case, empty, asked, sizes, again)
        if sum(run.line is None for run in other.values()) < len(blocked):
            made, course = other, after
    return tuple(made[k] for k in range(len(wanted))), course


def _asked(wanted: Sequence[Wanted], needs: Sequence[Need], order: Sequence[int]) -> list[Wanted]:
    """The runs with their ends moved beside those that share a port, in the order of laying."""
    used: dict[tuple[str, str], list[float]] = {}
    moved = {k: _beside(wanted[k], needs[k].radius_mm, used) for k in order}
    return [moved[k] for k in range(len(wanted))]


def _in_order(
    case: Case,
    course: Course,
    asked: Sequence[Wanted],
    sizes: Sequence[CableSize | None],
    order: Sequence[int],
) -> tuple[dict[int, Run], Course]:
    table, rules = case.tables.cables, case.tables.electrical
    assert table is not None
    assert rules is not None
    made: dict[int, Run] = {}
    for k in order:
        run, need = _laid(case, table, rules, course, asked[k], sizes[k])
        made[k] = run
        if run.line is not None:
            course = course.with_cable(run.name, run.line.points(6.0), need.radius_mm)
    return made, course


def _size(case: Case, table: CableTable, wanted: Wanted) -> CableSize | None:
    if wanted.kind == "coolant":
        return None
    ambient = case.brief.wiring.ambient_degc
    fit = smallest(table, ambient, wanted.load_a, wanted.fuse_a, wanted.clearing_a2s)
    return fit or table.sizes[-1]


def _need(rules: ElectricalRules, wanted: Wanted, size: CableSize | None) -> Need:
    if size is None:
        return Need(rules.hose.diameter_mm / 2, rules.hose.bend_mm, rules.gland_mm)
    radius = size.diameter_mm * BUNDLE[wanted.cores] / 2
    factor = rules.bend_factor[0] if size.diameter_mm <= 12 else rules.bend_factor[1]
    # the rule is for the inner side of the bend, which lies a bundle's radius within its middle line
    return Need(radius, factor * size.diameter_mm + radius, rules.gland_mm)


def _beside(wanted: Wanted, radius: float, used: dict[tuple[str, str], list[float]]) -> Wanted:
    """The same run, its ends moved beside cables that leave the same port."""
    ends: list[End] = []
    for end in (wanted.start, wanted.goal):
        there = used.setdefault((end.part, end.port), [])
        aside = (
            sum(2 * r + PORT_GAP_MM for r in there)
            - (there[0] if there else 0.0)
            + (radius if there else 0.0)
        )
        side: Vec = (0.0, 1.0, 0.0) if abs(end.direction[1]) < 0.5 else (1.0, 0.0, 0.0)
        at = (end.at[0] + aside * side[0], end.at[1] + aside * side[1], end.at[2] + aside * side[2])
        there.append(radius)
        ends.append(replace(end, at=at))
    return replace(wanted, start=ends[0], goal=ends[1])


def _laid(
    case: Case,
    table: CableTable,
    rules: ElectricalRules,
    course: Course,
    wanted: Wanted,
    size: CableSize | None,
) -> tuple[Run, Need]:
    """Routed; and again with a thicker cable while too much voltage is lost."""
    while True:
        need = _need(rules, wanted, size)
        found = _gently(course, wanted, need)
        run = _run(case, table, rules, wanted, size, need, found)
        if size is None or run.line is None or run.drop_v <= _allowed(rules, wanted) * wanted.volts:
            return run, need
        thicker = [s for s in table.sizes if s.area_mm2 > size.area_mm2]
        # a thicker cable may find no way: then the thinner one stands, and its drop is judged
        if not thicker:
            return run, need
        bigger = _need(rules, wanted, thicker[0])
        if isinstance(route(course, wanted.start, wanted.goal, bigger, wanted.also), NoRoute):
            return run, need
        size = thicker[0]


def _gently(course: Course, wanted: Wanted, need: Need) -> Route | NoRoute:
    """Bent no tighter than a fitter likes; where that finds no room, as tight as the cable may be bent."""
    if need.bend_mm < GENTLE_MM:
        found = route(course, wanted.start, wanted.goal, replace(need, bend_mm=GENTLE_MM), wanted.also)
        if isinstance(found, Route):
            return found
    return route(course, wanted.start, wanted.goal, need, wanted.also)


def _allowed(rules: ElectricalRules, wanted: Wanted | Run) -> float:
    return (rules.low_drop_percent if wanted.kind == "12 V" else rules.drop_percent) / 100


def _run(
    case: Case, table: CableTable, rules: ElectricalRules, wanted: Wanted, size: CableSize | None, need: Need,
    found: Route | NoRoute,
) -> Run:  # fmt: skip
    line = found.line if isinstance(found, Route) else None
    length = line.length_mm if line is not None else 0.0
    per_m = size.mass_kg_per_m * wanted.cores if size is not None else rules.hose.mass_kg_per_m
    mass = per_m * length / 1000
    # there and back: a 12 V circuit comes back through the body, three phases through one another
    ways = 2 if wanted.kind == "mains" or wanted.cores == 2 else 1
    lost = ways * drop(size, length, wanted.peak_a, table.conductor_degc) if size is not None else 0.0
    return Run(
        wanted.name, wanted.kind, wanted.start, wanted.goal, wanted.cores, size.area_mm2 if size else 0.0,
        2 * need.radius_mm, line, found if isinstance(found, NoRoute) else None,
        ampacity(table, size, case.brief.wiring.ambient_degc) if size else 0.0, wanted.load_a, wanted.fuse_a, lost,
        wanted.volts, Measured(mass, mass * MASS_SHARE), max(0, ceil(length / rules.clip_mm) - 1),
        _conduit(case, rules, wanted.kind, line), found.clearance_mm if isinstance(found, Route) else 0.0,
        found.nearest if isinstance(found, Route) else found.near,
        found.elbows if isinstance(found, Route) else (),
    )  # fmt: skip


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
        if run.cores and run.line is not None:
            made += [_current_check(run, case.brief.wiring.ambient_degc), _drop_check(rules, run)]
        if run.line is not None:
            made += _road_check(case, rules, run)
    return tuple(made)


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
    short = f"; {found.missing_mm:.0f} mm more on each side would do" if found.missing_mm is not None else ""
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
    limit = 100 * _allowed(rules, run)
    basis = rules.sources.get("low_drop" if run.kind == "12 V" else "drop", "")
    return judge(f"cable.drop.{run.name}", f"{run.name}: voltage lost at peak current",
                 Measured(100 * run.drop_v / run.volts), limit, "max", "%", basis)  # fmt: skip


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
