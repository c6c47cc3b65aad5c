"""What the cable runs are held against: their way, current, voltage drop, conduit, the road, and signals kept apart."""

from collections.abc import Sequence

import numpy as np

from packlayout.electrical.apart import gap_of, length_beside, remedy
from packlayout.electrical.cables import Run, allowed_share
from packlayout.model.brief import Case
from packlayout.model.check import Check, judge, unknown
from packlayout.model.electrics import ElectricalRules
from packlayout.units import Measured


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
        elif run.carries and run.line is not None:
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
    return judge(f"cable.conduit.{run.name}", f"{run.name}: length in conduit", Measured(run.sleeved_mm),
                 run.conduit_mm, "min", "mm", rules.sources.get("conduit", ""), note=note)  # fmt: skip


def _apart_check(rules: ElectricalRules, run: Run, runs: Sequence[Run]) -> Check:
    """How far a signal cable lies beside high voltage or mains, nearer than the gap."""
    id, title = (
        f"cable.apart.{run.name}",
        f"{run.name}: length beside high voltage or mains, nearer than the gap",
    )
    basis = rules.sources.get("signal_gap", "")
    gap = gap_of(rules, run.signal)
    if gap is None:
        return unknown(id, title, "mm", basis, "signal_gap is not given in shared/electrical.yaml")
    found = length_beside(run, runs, gap)
    note = f"gap {gap:g} mm" + (f"; longest beside {found.name}" if found.name else "")
    if found.length_mm > rules.signal_beside_mm:
        note += f"; {remedy(rules, run, runs)}"
    return judge(
        id,
        title,
        Measured(found.length_mm),
        rules.signal_beside_mm,
        "max",
        "mm",
        basis,
        note=note,
        where=found.at,
    )


def _road_check(case: Case, rules: ElectricalRules, run: Run) -> list[Check]:
    assert run.line is not None
    points = run.line.points()
    k = int(np.argmin(points[:, 2]))
    lowest = float(points[k, 2]) - run.diameter_mm / 2
    for sleeve in run.sleeves:
        under = float(sleeve.line.points()[:, 2].min()) - sleeve.conduit.outside_mm / 2
        lowest = min(lowest, under)
    if not any(way.where == "under floor" for way in case.vehicle.cable_ways):
        return []
    at = (float(points[k, 0]), float(points[k, 1]), float(points[k, 2]))
    return [
        judge(f"cable.road.{run.name}", f"{run.name}: above the road at kerb ride height", Measured(lowest),
              rules.road_gap_mm, "min", "mm", rules.sources.get("road_gap", ""), where=at)
    ]  # fmt: skip
