"""The electrics of one layout: pack, protection, cable runs. High voltage can kill."""

from dataclasses import dataclass, field, replace

import numpy as np

from packlayout.electrical.cables import Run, cable_items
from packlayout.electrical.laying import lay
from packlayout.electrical.pack import OVERVOLTAGE, Pack, check_pack, pack_of
from packlayout.electrical.protection import Protection, protect
from packlayout.electrical.run_checks import check_runs, check_signals
from packlayout.electrical.wanted import wanted_runs
from packlayout.model.brief import Case
from packlayout.model.check import Check, unknown
from packlayout.model.geometry import Box, MassItem, TriMesh, box_between
from packlayout.model.layout import Layout
from packlayout.space.bars import turned_mesh
from packlayout.space.course import Barrier, Course
from packlayout.space.envelope import box_mesh, cylinder
from packlayout.space.fields import course

PITCH_MM = 10.0
BUSBAR_MM = 12.0
"""Half the width of an insulated busbar and the room round it (common practice, no source)."""
SHAFT_MM = 90.0
"""Diameter kept free round the propeller shaft before its tube is known (common practice, no source)."""
CAUTION = (
    "High voltage can kill. This is a design aid: only qualified people may work on the pack, the cables and what "
    "they feed; local codes rule, and an electrical inspection comes before first use."
)


@dataclass(frozen=True, slots=True, eq=False)
class Surroundings:
    """What other stages put in the way of cables.

    Attributes:
        frame: Name and closed surface of each tube and plate.
        rooms: Name of a placed part and the access room in front of one of its faces.
    """

    frame: tuple[tuple[str, TriMesh], ...] = ()
    rooms: tuple[tuple[str, Box], ...] = ()


@dataclass(frozen=True, slots=True, eq=False)
class Wiring:
    """The answer of `wire`.

    Attributes:
        pack: None when not one string could be made.
        protection: None likewise.
        runs: Cables and hoses.
        items: What they weigh.
        checks: Overvoltage first.
        caution: To be shown with all of it.
    """

    pack: Pack | None
    protection: Protection | None
    runs: tuple[Run, ...]
    items: tuple[MassItem, ...]
    checks: tuple[Check, ...]
    caution: str = field(default=CAUTION)

    @property
    def cable_mm(self) -> float:
        """Length of all high-voltage runs, mm."""
        return sum(run.length_mm for run in self.runs if run.kind == "HV")

    @property
    def overvoltage(self) -> tuple[Check, ...]:
        """Failed checks that must stand at the top of every output."""
        return tuple(c for c in self.checks if c.id.startswith(OVERVOLTAGE) and c.verdict == "fail")


def wire(case: Case, layout: Layout, around: Surroundings, reasons: bool = True) -> Wiring:
    """Pack, protection and cable runs of one layout.

    Args:
        case: What was read.
        layout: Where the parts stand.
        around: Frame and access room, which cables keep clear of.
        reasons: Find out how much is missing where a run finds no way; quicker without, where layouts are ranked.

    Returns:
        The wiring; what cannot be done is a failed check, what is not given an unknown one.
    """
    if len(layout.modules) < case.brief.wiring.strings:
        check = unknown(
            "electrical.pack", "The pack", "", "statement of the parts", "no string of modules is placed"
        )
        return Wiring(None, None, (), (), (check,))
    pack = pack_of(case, layout)
    protection = protect(case, layout, pack)
    found: tuple[Run, ...] = ()
    if case.tables.cables is not None and case.tables.electrical is not None:
        wanted = wanted_runs(case, layout, pack, protection)
        found, _ = lay(case, cable_course(case, layout, pack, around), wanted, reasons)
    checks = (
        *check_pack(case, layout, pack),
        *protection.checks,
        *check_runs(case, found),
        *check_signals(case, found),
    )
    return Wiring(pack, protection, found, cable_items(found), checks)


def cable_course(case: Case, layout: Layout, pack: Pack, around: Surroundings) -> Course:
    """Where the cables of a layout may run, its busbars laid already."""
    rules = case.tables.electrical
    assert rules is not None
    c, gap = case.brief.clearances, rules.cable_gap_mm
    gaps = {"solid": gap, "moving": c.moving_mm, "hot": c.hot_mm}
    barriers = [
        *(Barrier(p.name, _part_mesh(case, layout, p.name), gap) for p in layout.placements),
        *(Barrier(name, mesh, rules.sharp_gap_mm) for name, mesh in around.frame),
        *(Barrier(k.name, case.keep_outs[k.name], gaps[k.kind]) for k in case.vehicle.keep_outs),
        *(Barrier(f"access room of {name}", box_mesh(room), 0.0, reach=name) for name, room in around.rooms),
        *_shaft_barrier(case, layout, c.moving_mm),
    ]
    made = course(
        [(name, mesh, gap) for name, mesh in case.zones.items()],
        [(way.name, box_between(way.corner, way.opposite)) for way in case.vehicle.cable_ways],
        barriers,
        PITCH_MM,
    )
    if "under floor" in rules.conduit:
        boxes = [
            box_between(w.corner, w.opposite) for w in case.vehicle.cable_ways if w.where == "under floor"
        ]
        made = replace(made, sleeves=tuple(boxes))
    for bar in pack.order.busbars:
        made = made.with_cable(f"busbar {bar.start} to {bar.end}", np.array(bar.ends), BUSBAR_MM, fixed=True)
    return made


def _part_mesh(case: Case, layout: Layout, name: str) -> TriMesh:
    """A placed part's own surface; its box where it has none."""
    placed = next(p for p in layout.placements if p.name == name)
    body = case.bodies.get(placed.part)
    return turned_mesh(body.mesh, placed.pose) if body is not None else box_mesh(placed.box)


def _shaft_barrier(case: Case, layout: Layout, gap: float) -> list[Barrier]:
    """The turning propeller shaft, from the reduction gear (or the old gearbox) to the axle."""
    line = case.vehicle.driveline
    if line is None:
        return []
    start = line.gearbox_output
    for placed in layout.placements:
        part = case.parts[placed.part]
        if part.kind == "reduction gear":
            ports = [p for p in part.ports if p.kind == "shaft"]
            if ports:
                start = max((placed.pose.point(p.at) for p in ports), key=lambda at: at[0])
    if sum((a - b) ** 2 for a, b in zip(start, line.axle_input, strict=True)) < 100:
        return []
    return [Barrier("propeller shaft", cylinder(start, line.axle_input, SHAFT_MM), gap)]
