"""What parts must keep clear of, and how far: body, keep-outs, road, each with its tolerance."""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

from packlayout.model.brief import Case
from packlayout.model.geometry import Box, TriMesh
from packlayout.space.cells import Space, free_space
from packlayout.space.envelope import box_mesh

PITCH_MM = 10.0
SHARE = {"nominal": 0.0, "95 %": 1.0, "worst case": 1.5}
"""Part of a 95 % half-width that is added to a distance: none, two, three standard deviations."""
KINDS = ("solid", "moving", "hot", "road")
ROAD = "the road at full load"


@dataclass(frozen=True, slots=True, eq=False)
class Keep:
    """One thing that stays and takes room.

    Attributes:
        name: As the vehicle's file has it.
        kind: One of `KINDS`.
        mesh: Its closed surface.
        distance_mm: To be kept from it.
    """

    name: str
    kind: str
    mesh: TriMesh
    distance_mm: float


def body_mm(case: Case, zone: str) -> float:
    """Distance to keep from the surface of a zone, its tolerance included, mm."""
    record = next(z for z in case.vehicle.zones if z.name == zone)
    c = case.brief.clearances
    return c.body_mm + SHARE[c.surface] * record.tolerance_mm


def apart_mm(case: Case) -> float:
    """Room that two parts at their distance surely have between them along one axis, mm.

    Two boxes that pass each other corner to corner keep a distance d with less than d along every axis: of three
    the largest is d over the root of three at the least. A proof may count on no more.
    """
    return case.brief.clearances.parts_mm / 3**0.5


@lru_cache(maxsize=8)
def keep_from(case: Case) -> tuple[Keep, ...]:
    """Every keep-out, and the road where the brief asks for a clearance to it."""
    c = case.brief.clearances
    usual = {"solid": c.body_mm, "moving": c.moving_mm, "hot": c.hot_mm}
    made: list[Keep] = []
    for k in case.vehicle.keep_outs:
        distance = usual[k.kind] if k.clearance_mm is None else k.clearance_mm
        made.append(
            Keep(k.name, k.kind, case.keep_outs[k.name], distance + SHARE[c.surface] * k.tolerance_mm)
        )
    if c.road_mm is not None:
        box = _around(list(case.zones.values()))
        # the road comes up to the body by as much as the body sinks
        lo, hi = (
            (box.lo[0] - 100, box.lo[1] - 100, -1000.0),
            (box.hi[0] + 100, box.hi[1] + 100, case.vehicle.laden_drop_mm),
        )
        made.append(Keep(ROAD, "road", box_mesh(Box(lo, hi)), c.road_mm))
    return tuple(made)


def _around(meshes: Sequence[TriMesh]) -> Box:
    box = meshes[0].bounds
    for mesh in meshes[1:]:
        box = box.joined(mesh.bounds)
    return box


@lru_cache(maxsize=24)
def space_of(case: Case, zone: str, pitch_mm: float = PITCH_MM) -> Space:
    """The cells of one zone."""
    keep = [(k.mesh, k.distance_mm) for k in keep_from(case)]
    return free_space(zone, case.zones[zone], body_mm(case, zone), keep, pitch_mm)


def spaces_of(case: Case, pitch_mm: float = PITCH_MM) -> tuple[Space, ...]:
    """The cells of every zone that the brief uses, in the order of the vehicle's file."""
    used = set(case.brief.modules.zones) | {zone for order in case.brief.parts for zone in order.zones}
    return tuple(space_of(case, zone.name, pitch_mm) for zone in case.vehicle.zones if zone.name in used)
