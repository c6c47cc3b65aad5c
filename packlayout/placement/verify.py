"""The check outside the search: every layout in continuous coordinates, with exact distances.

Works for a layout from the search and for one edited by hand alike. Nothing here looks at the cells.
"""

from collections.abc import Iterable
from itertools import combinations

import numpy as np

from packlayout.model.brief import Case
from packlayout.model.check import Check, judge, unknown
from packlayout.model.geometry import Box, Vec
from packlayout.model.layout import Layout, Placement, axis
from packlayout.placement.clear import KINDS, Keep, body_mm, keep_from
from packlayout.placement.forms import Slab, slabs
from packlayout.placement.orders import check_orders
from packlayout.placement.paths import check_ways, things
from packlayout.space.clearance import Gap, Solid, gap, inside, solid
from packlayout.space.envelope import box_mesh
from packlayout.space.touching import box_touches
from packlayout.space.ways import triangles_of
from packlayout.units import Measured

_BASIS = "clearance set by the brief"


def check_layout(case: Case, layout: Layout) -> tuple[Check, ...]:
    """Judge a layout: inside its zones, clear of surfaces and of each other, access faces open.

    Returns:
        For each kind of clearance the smallest one found, and every one that is too small.
    """
    if not layout.placements:
        return (unknown("place.clear", "Clearances", "mm", _BASIS, "nothing is placed"),)
    stand = things(case, layout)
    solids = [(name, zone, solid(name, box_mesh(box)), box) for name, zone, box in stand]
    return (
        *_to_body(case, solids),
        *_to_keep_outs(case, solids),
        *_between(case, stand),
        *_overlaps(layout),
        *_access(case, layout, stand),
        *check_ways(case, layout),
        *check_orders(case, layout),
    )


def _worst(id: str, title: str, limit: float, gaps: Iterable[Gap], note: str) -> list[Check]:
    """The smallest gap, and each other one that is too small."""
    ranked = sorted(gaps, key=lambda g: (g.distance_mm, g.first, g.second))
    made: list[Check] = []
    for n, g in enumerate(ranked):
        # a micrometre of rounding in the distance library is no fault of the layout
        if n and g.distance_mm >= limit - 1e-3:
            break
        words = f"{title}: {g.first} to {g.second}"
        found = max(g.distance_mm, limit) if abs(g.distance_mm - limit) < 1e-3 else g.distance_mm
        suffix = "" if n == 0 else f".{n + 1}"
        made.append(
            judge(id + suffix, words, Measured(found), limit, "min", "mm", _BASIS, note=note, where=g.at)
        )
    return made


def _to_body(case: Case, solids: list[tuple[str, str, Solid, Box]]) -> list[Check]:
    walls = {zone: solid(zone, mesh) for zone, mesh in case.zones.items()}
    made: list[Check] = []
    # zones with tolerances of their own ask for more: each distance is judged on its own
    for limit in sorted({body_mm(case, zone) for _, zone, _, _ in solids}):
        gaps: list[Gap] = []
        for name, zone, body, box in solids:
            if body_mm(case, zone) != limit:
                continue
            found = gap(body, walls[zone])
            if not inside(box.centre, case.zones[zone]):
                found = Gap(name, zone, -_outside(box, walls[zone]), box.centre)
            gaps.append(Gap(name, f"the surface of {zone}", found.distance_mm, found.at))
        id = "place.clear.body" + (f".{limit:g}" if made else "")
        made += _worst(id, "Clearance to the body", limit, gaps, "move the part away from the surface")
    return made


def _outside(box: Box, wall: Solid) -> float:
    point = solid("middle", box_mesh(Box(box.centre, tuple(c + 0.01 for c in box.centre))))  # type: ignore[arg-type]
    return gap(point, wall).distance_mm


def _to_keep_outs(case: Case, solids: list[tuple[str, str, Solid, Box]]) -> list[Check]:
    made: list[Check] = []
    for kind in KINDS:
        for limit in sorted({k.distance_mm for k in keep_from(case) if k.kind == kind}):
            gaps: list[Gap] = []
            for keep in keep_from(case):
                if keep.kind == kind and keep.distance_mm == limit:
                    gaps += _gaps_to(keep, solids)
            first = not any(c.id.startswith(f"place.clear.{kind}") for c in made)
            id = f"place.clear.{kind}" + ("" if first else f".{limit:g}")
            title = "Ground clearance at full load" if kind == "road" else f"Clearance to {kind} things"
            made += _worst(id, title, limit, gaps, "move the part, or re-measure the keep-out")
    return made


def _gaps_to(keep: Keep, solids: list[tuple[str, str, Solid, Box]]) -> list[Gap]:
    other, bounds = solid(keep.name, keep.mesh), keep.mesh.bounds
    gaps: list[Gap] = []
    for name, _, body, box in solids:
        if box.distance(bounds) > keep.distance_mm + 200:
            continue
        found = gap(body, other)
        within = inside(box.centre, keep.mesh) or inside(_corner(keep.mesh.vertices[0]), box_mesh(box))
        gaps.append(Gap(name, keep.name, 0.0 if within else found.distance_mm, found.at))
    return gaps


def _corner(vertex: Iterable[float]) -> Vec:
    x, y, z = (float(v) for v in vertex)
    return x, y, z


def _between(case: Case, stand: list[tuple[str, str, Box]]) -> list[Check]:
    gaps = [
        Gap(a, b, -depth if (depth := p.overlap_depth(q)) > 1e-6 else p.distance(q), p.centre)
        for (a, _, p), (b, _, q) in combinations(stand, 2)
    ]
    limit = case.brief.clearances.parts_mm
    return _worst("place.clear.parts", "Clearance between parts", limit, gaps, "move one of the two")


def _overlaps(layout: Layout) -> list[Check]:
    """Modules of a block may stand close, never in one another."""
    gaps = [
        Gap(
            a.name,
            b.name,
            -depth if (depth := a.box.overlap_depth(b.box)) > 1e-6 else a.box.distance(b.box),
            a.at,
        )
        for block in layout.blocks
        for a, b in combinations(block.modules, 2)
    ]
    return _worst("place.clear.modules", "Room between modules", 0.0, gaps, "move one of the two")


def _access(case: Case, layout: Layout, stand: list[tuple[str, str, Box]]) -> list[Check]:
    """Each access face must have its room: nothing of ours and no keep-out in it."""
    shut: list[Check] = []
    opens = {z.name: {axis(a) for a in z.opens} for z in case.vehicle.zones}
    blocks = {p.name: f"pack block {p.block}" for p in layout.modules}
    for p in layout.placements:
        for n, room in enumerate(slabs(case.parts[p.part], p.pose)):
            depth = room.depth_mm
            free, what = _free_depth(case, p, room, depth, blocks, layout, stand, room.face in opens[p.zone])
            shut.append(
                judge(
                    f"place.access.{p.name.replace(' ', '-')}.{n + 1}",
                    f"Access to {p.name}" + (f", {what} in the way" if what else ""),
                    Measured(free), depth, "min", "mm", room.wanted_for, where=room.box.centre,
                    note=f"clear {what} from in front of the face" if what else "",
                )
            )  # fmt: skip
    failing = [c for c in shut if c.verdict != "pass"]
    return failing or shut[:1]


def _free_depth(
    case: Case, p: Placement, room: Slab, depth: float, blocks: dict[str, str], layout: Layout,
    stand: list[tuple[str, str, Box]], through_opening: bool,
) -> tuple[float, str]:  # fmt: skip
    """How deep the room in front of a face is open, mm, and what ends it."""
    own = blocks.get(p.name, p.name)
    inner = room.box.grown(-1e-3)
    boxes = [(name, box) for name, _, box in stand if name != own]
    boxes += [(q.name, q.box) for q in layout.placements if q.name != p.name]
    free, what = depth, ""
    for name, box in boxes:
        if inner.overlap_depth(box) > 0:
            reach = _reach(room, box)
            if reach < free:
                free, what = reach, name
    walls = {k: m for k, m in case.keep_outs.items() if m.bounds.overlap_depth(inner) > 0}
    if not through_opening:
        walls[f"the surface of {p.zone}"] = case.zones[p.zone]
    lo, hi = np.array(inner.lo), np.array(inner.hi)
    for name, mesh in walls.items():
        if box_touches(triangles_of(mesh), lo, hi):
            return 0.0, name
    return free, what


def _reach(room: Slab, box: Box) -> float:
    k = max(range(3), key=lambda n: abs(room.face[n]))
    return max(0.0, box.lo[k] - room.box.lo[k] if room.face[k] > 0 else room.box.hi[k] - box.hi[k])
