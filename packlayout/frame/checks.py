"""What is judged of a frame's shape: does it stand on enough mounting points, does it keep clear of everything.

Strength is judged by `design`.
"""

from collections.abc import Sequence
from functools import lru_cache

import numpy as np

from packlayout.frame.generate import Generated
from packlayout.frame.shapes import member_mesh, plate_mesh
from packlayout.frame.tubes import member_box
from packlayout.model.brief import Case
from packlayout.model.check import Check, judge, unknown
from packlayout.model.geometry import Box, TriMesh, Vec
from packlayout.model.layout import Layout
from packlayout.space.clearance import Gap, Solid, gap, nearest, solid
from packlayout.space.envelope import box_mesh
from packlayout.units import Measured

LEAST_MOUNTS = 3
LEAST_SPREAD_MM = 50.0
LEAST_PORT_GAP_MM = 15.0
STUD = " stud "
BORNE = "every part needs a path of its load to the vehicle (statics)"


def check_frame(case: Case, layout: Layout, made: Generated, rooms: Sequence[Box] = ()) -> tuple[Check, ...]:
    """Support of every group of linked cradles, reach of every mounting point, clearances of tubes and plates."""
    shape = (*_support(made), *_reach(made), *_borne(case, made), *_clear(case, layout, made))
    return (*shape, *_access(made, rooms), *_ports(case, layout, made))


def _groups(made: Generated) -> list[set[int]]:
    groups = [{c.number} for c in made.cradles]
    for a, b in made.linked:
        one = next(g for g in groups if a in g)
        other = next(g for g in groups if b in g)
        if one is not other:
            groups.remove(other)
            one |= other
    return groups


def _support(made: Generated) -> list[Check]:
    checks: list[Check] = []
    for group in _groups(made):
        words = " and ".join(str(n) for n in sorted(group))
        key = "-".join(str(n) for n in sorted(group))
        legs = [leg for leg in made.legs if leg.cradle in group]
        checks.append(
            judge(
                f"frame.support.{key}", f"Legs that carry cradle {words}", Measured(len(legs)), LEAST_MOUNTS,
                "min", "legs", "three points carry a rigid frame (statics)",
                note="" if len(legs) >= LEAST_MOUNTS else "add a mounting point, or move the pack nearer to one",
            )
        )  # fmt: skip
        if len(legs) >= LEAST_MOUNTS:
            spread = _off_line([leg.load_point for leg in legs])
            checks.append(
                judge(
                    f"frame.spread.{key}", f"Mounting points of cradle {words} off one line", Measured(spread),
                    LEAST_SPREAD_MM, "min", "mm", "points in one line let the frame roll about it (statics)",
                    note="" if spread >= LEAST_SPREAD_MM else "add a mounting point to the side of that line",
                )
            )  # fmt: skip
    return checks


def _off_line(points: Sequence[tuple[float, float, float]]) -> float:
    """Largest distance of a point from the best line through all, mm."""
    at = np.array(points) - np.mean(points, axis=0)
    way = np.linalg.svd(at)[2][0]
    return float(np.linalg.norm(at - np.outer(at @ way, way), axis=1).max())


def _reach(made: Generated) -> list[Check]:
    return [
        judge(
            f"frame.reach.{name.replace(' ', '-')}", f"Leg to mounting point {name}", Measured(0.0), 1.0, "min",
            "legs", "each mounting point in the zone of the pack is used", note=why,
        )
        for name, why in made.missed
    ]  # fmt: skip


def _borne(case: Case, made: Generated) -> list[Check]:
    """Parts that no bracket was found for; the strength of those that were found is `verdicts`'."""
    checks: list[Check] = []
    for name, why in made.unborne:
        id, title = f"frame.bracket.{name.replace(' ', '-')}", f"Bracket of {name}"
        if "state" in why:
            checks.append(unknown(id, title, "brackets", BORNE, why))
            continue
        note = f"{why}; turn the part so that its fixing face looks at a wall or the cradle, or leave it more room"
        checks.append(judge(id, title, Measured(0.0), 1.0, "min", "brackets", BORNE, note=note))
    return checks


def _clear(case: Case, layout: Layout, made: Generated) -> list[Check]:
    zone_of = {c.number: c.zone for c in made.cradles}
    group_zone = {f"cradle {n}": zone for n, zone in zone_of.items()}
    group_zone |= {f"leg {leg.mount}": zone_of[leg.cradle] for leg in made.legs}
    part_zone = {p.name: p.zone for p in layout.placements}
    group_zone |= {f.bracket.group: part_zone[f.bracket.parts[0]] for f in made.brackets}
    own_parts = {f.bracket.group: f.bracket.parts for f in made.brackets}
    # a bracket that the body carries is bolted to its walls
    bolted = {f.bracket.group for f in made.brackets if f.bracket.cradle is None}
    pieces: list[tuple[str, str, str, TriMesh]] = []
    for m in made.frame.members:
        zone = group_zone.get(m.group, next(iter(zone_of.values())))
        pieces.append((m.name, m.group, zone, member_mesh(m)))
    for p in made.frame.plates:
        pieces.append((p.name, p.group, group_zone[p.group], plate_mesh(p)))
    walls = {zone: _standing(f"the surface of {zone}", case.zones[zone]) for zone in set(zone_of.values())}
    parts = [(p.box, solid(p.name, box_mesh(p.box))) for p in layout.placements]
    c, own = case.brief.clearances, case.brief.frame.clearance_mm
    limit_of = {"solid": own, "moving": c.moving_mm, "hot": c.hot_mm}
    bounds = {k.name: case.keep_outs[k.name].bounds for k in case.vehicle.keep_outs}
    body: list[Gap] = []
    keep: dict[str, list[Gap]] = {"solid": [], "moving": [], "hot": []}
    near: list[Gap] = []
    for name, group, zone, mesh in pieces:
        piece, around = solid(name, mesh), mesh.bounds
        if group not in bolted:
            body.append(gap(piece, walls[zone]))
        close = [
            s for box, s in parts if box.distance(around) < 30.0 and s.name not in own_parts.get(group, ())
        ]
        found = nearest(piece, close)
        if found is not None:
            near.append(found)
        for k in case.vehicle.keep_outs:
            other = case.keep_outs[k.name]
            if bounds[k.name].distance(around) < limit_of[k.kind] + 50.0:
                keep[k.kind].append(gap(piece, _standing(k.name, other)))
    basis = "clearance set by the brief"
    checks = _smallest("frame.clear.body", "Frame to the body", body, own, basis)
    for kind, gaps in keep.items():
        checks += _smallest(f"frame.clear.{kind}", f"Frame to {kind} things", gaps, limit_of[kind], basis)
    liner = case.brief.frame.liner_mm
    checks += _smallest("frame.clear.parts", "Frame to parts", near, min(own, liner), basis)
    return checks


@lru_cache(maxsize=64)
def _standing(name: str, surface: TriMesh) -> Solid:
    """A surface of the vehicle made ready for distances, once: a scan is large."""
    return solid(name, surface)


def room_around(case: Case, layout: Layout, made: Generated) -> list[float]:
    """How far each tube may move before it meets the body or what stands in the vehicle, mm, in their order."""
    zone_of = {c.number: c.zone for c in made.cradles}
    zones = {f"cradle {n}": zone for n, zone in zone_of.items()}
    zones |= {f"leg {leg.mount}": zone_of[leg.cradle] for leg in made.legs}
    any_zone = next(iter(zone_of.values()))
    walls = {zone: _standing(f"the surface of {zone}", case.zones[zone]) for zone in set(zone_of.values())}
    others = [_standing(k.name, case.keep_outs[k.name]) for k in case.vehicle.keep_outs]
    rooms: list[float] = []
    for m in made.core.members:
        piece = solid(m.name, member_mesh(m))
        near = [gap(piece, walls[zones.get(m.group, any_zone)]).distance_mm]
        # what is further off than the body is near is of no account
        near += [
            gap(piece, o).distance_mm for o in others if o.mesh.bounds.distance(piece.mesh.bounds) < near[0]
        ]
        rooms.append(min(near))
    return rooms


def _smallest(id: str, title: str, gaps: list[Gap], limit: float, basis: str) -> list[Check]:
    made: list[Check] = []
    for n, g in enumerate(sorted(gaps, key=lambda g: (g.distance_mm, g.first, g.second))):
        close = abs(g.distance_mm - limit) < 1e-3
        if n and (g.distance_mm >= limit or close):
            break
        words = f"{title}: {g.first} to {g.second}"
        found = Measured(max(g.distance_mm, limit) if close else g.distance_mm)
        made.append(
            judge(id + (f".{n + 1}" if n else ""), words, found, limit, "min", "mm", basis, where=g.at)
        )
    return made


def _ports(case: Case, layout: Layout, made: Generated) -> list[Check]:
    """Studs and lips stand in front of the edges of modules: no terminal may be behind them."""
    holders = [(m.name, member_box(m)) for m in made.frame.members if STUD in m.name]
    holders += [(p.name, plate_mesh(p).bounds) for c in made.cradles for p in c.lips]
    found: list[tuple[float, str, str]] = []
    for module in layout.modules:
        for port in case.parts[module.part].ports:
            at = module.pose.point(port.at)
            for name, box in holders:
                if box.grown(60.0).overlap_depth(Box(at, at)) >= 0:
                    way = module.pose.direction(port.direction)
                    found.append((_beside(box, at, way), name, f"{port.name} of {module.name}"))
    if not found:
        return []
    least, name, port = min(found)
    return [
        judge(
            "frame.access.ports", f"Terminals beside studs and lips: {port} to {name}", Measured(least),
            LEAST_PORT_GAP_MM, "min", "mm", "room for a lug and a finger (common practice, no source)",
        )
    ]  # fmt: skip


def _beside(box: Box, at: Vec, way: Vec) -> float:
    """Distance of a point from a box, seen along a direction, mm."""
    along = max(range(3), key=lambda k: abs(way[k]))
    gaps = [max(box.lo[k] - at[k], at[k] - box.hi[k], 0.0) for k in range(3) if k != along]
    return (gaps[0] ** 2 + gaps[1] ** 2) ** 0.5


def _access(made: Generated, rooms: Sequence[Box]) -> list[Check]:
    """No tube may cross the room in front of a face that a hand must reach; studs are judged by the terminals."""
    inner = [room.grown(-0.01) for room in rooms]
    boxes = [(m.name, member_box(m)) for m in made.frame.members if STUD not in m.name]
    names = sorted({name for name, box in boxes if any(box.overlap_depth(room) > 0 for room in inner)})
    return [
        judge(
            "frame.access", "Tubes across access room", Measured(len(names)), 0, "max", "tubes",
            "access stated in the part's file", note=", ".join(names),
        )
    ]  # fmt: skip
