"""What may be changed in a job, one thing at a time: each with how far, and what it is called."""

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from packlayout.model.brief import Case
from packlayout.model.catalogue import SignedAxis
from packlayout.model.geometry import TriMesh, Vec
from packlayout.model.layout import axis
from packlayout.placement.paths import WORDS

FARTHEST_MM = 160.0
SIDES: tuple[SignedAxis, ...] = ("+z", "-z", "+x", "-x", "+y", "-y")
FACING = 0.35
"""Faces that look this much one way belong to that side of a zone."""


@dataclass(frozen=True, slots=True)
class Lever:
    """One change.

    Attributes:
        kind: As in `Change`.
        most_mm: How far it may go; 0 for one that has no size.
        make: The changed job, by the size of the change in mm.
        say: What it is called, by its size.
        tried: What it is called among the things that were tried.
    """

    kind: str
    most_mm: float
    make: Callable[[float], Case]
    say: Callable[[float], str]
    tried: str


@dataclass(frozen=True, slots=True)
class Surface:
    """One side of a zone, which may be moved out between two of its stations.

    Attributes:
        stops: x of the stations, mm.
        between: The lever for a span.
    """

    stops: tuple[float, ...]
    between: Callable[[float, float], Lever]


def clearances(case: Case) -> list[Lever]:
    """Each clearance made smaller."""
    now = case.brief.clearances
    words = {"body_mm": "to the body", "parts_mm": "between parts", "moving_mm": "to moving things",
             "hot_mm": "to hot things", "road_mm": "to the road"}  # fmt: skip
    return [_clearance(case, key, name) for key, name in words.items() if (getattr(now, key) or 0.0) > 0
            and _is_asked(case, key)]  # fmt: skip


def _is_asked(case: Case, key: str) -> bool:
    kinds = {k.kind for k in case.vehicle.keep_outs if k.clearance_mm is None}
    return {"moving_mm": "moving" in kinds, "hot_mm": "hot" in kinds}.get(key, True)


def _clearance(case: Case, key: str, name: str) -> Lever:
    now = case.brief.clearances
    value = float(getattr(now, key))

    def make(by: float) -> Case:
        kept = now.model_copy(update={key: max(0.0, value - by)})
        return replace(case, brief=case.brief.model_copy(update={"clearances": kept}))

    def say(by: float) -> str:
        return f"Reduce the clearance {name} from {value:g} to {max(0.0, value - by):g} mm"

    return Lever("clearance", value, make, say, f"the clearance {name} down to nothing")


def surfaces(case: Case) -> list[Surface]:
    """The top of each zone of the modules, and its open sides."""
    made: list[Surface] = []
    for zone in case.vehicle.zones:
        if zone.name not in case.brief.modules.zones:
            continue
        bounds = case.zones[zone.name].bounds
        even = tuple(float(x) for x in np.linspace(bounds.lo[0], bounds.hi[0], 6))
        stops = tuple(float(s.x) for s in zone.stations) if zone.stations else even
        sides: tuple[SignedAxis, ...] = tuple(dict.fromkeys(("+z", *zone.opens)))
        made += [_side(case, zone.name, side, stops) for side in sides]
    return made


def _side(case: Case, zone: str, side: SignedAxis, stops: tuple[float, ...]) -> Surface:
    way = axis(side)
    what = {"+z": f"Raise the top of {zone}", "-z": f"Lower the floor of {zone}"}.get(
        side, f"Move out the {WORDS[way].removesuffix('ward').removeprefix('to the ')} side of {zone}"
    )

    def between(first: float, last: float) -> Lever:
        def make(by: float) -> Case:
            return _moved(case, zone, way, by, first, last)

        def say(by: float) -> str:
            return f"{what} by {by:.0f} mm between x = {first:.0f} and {last:.0f}"

        return Lever(
            "surface", FARTHEST_MM, make, say, f"{what[0].lower()}{what[1:]} by up to {FARTHEST_MM:.0f} mm"
        )

    return Surface(stops, between)


def _moved(case: Case, zone: str, way: Vec, by: float, first: float, last: float) -> Case:
    """A zone with the part of its surface that looks one way moved out, between two values of x."""
    mesh = case.zones[zone]
    t = mesh.triangles
    normal = np.cross(t[:, 1] - t[:, 0], t[:, 2] - t[:, 0])
    facing = normal @ np.array(way) > FACING * np.linalg.norm(normal, axis=1)
    corners = np.unique(mesh.faces[facing])
    x = mesh.vertices[corners, 0]
    corners = corners[(x >= first - 1e-6) & (x <= last + 1e-6)]
    moved = mesh.vertices.copy()
    moved[corners] += np.array(way) * by
    return replace(case, zones={**case.zones, zone: TriMesh(moved, mesh.faces)})


def shifts(case: Case, name: str) -> list[Lever]:
    """A keep-out moved each way."""
    return [_shift(case, name, axis(side)) for side in SIDES]


def _shift(case: Case, name: str, way: Vec) -> Lever:
    mesh = case.keep_outs[name]

    def make(by: float) -> Case:
        moved = TriMesh(mesh.vertices + np.array(way) * by, mesh.faces)
        return replace(case, keep_outs={**case.keep_outs, name: moved})

    def say(by: float) -> str:
        return f"Move {name} {by:.0f} mm {WORDS[way]}"

    return Lever("keep-out", FARTHEST_MM, make, say, name)


def without(case: Case, name: str) -> Case:
    """The job without a keep-out."""
    kept = tuple(k for k in case.vehicle.keep_outs if k.name != name)
    vehicle = case.vehicle.model_copy(update={"keep_outs": kept})
    return replace(case, vehicle=vehicle, keep_outs={k: m for k, m in case.keep_outs.items() if k != name})


def gone(case: Case, name: str) -> Lever:
    """A keep-out taken away."""
    return Lever("keep-out", 0.0, lambda _: without(case, name), lambda _: f"Take {name} away", name)


def other_sides_up(case: Case) -> list[Lever]:
    """Each axis of the module that may not be upright, allowed; the other end of one that may gives no new box."""
    key = case.brief.modules.part
    part = case.parts[key]

    def lever(side: SignedAxis) -> Lever:
        other = part.model_copy(update={"up": (*part.up, side)})
        said = f"Let {part.name} stand with its {side} face up, if its maker allows it"
        return Lever("orientation", 0.0, lambda _: replace(case, parts={**case.parts, key: other}),
                     lambda _: said, f"modules with their {side} face up")  # fmt: skip

    able = {side[1] for side in part.up}
    return [lever(side) for side in SIDES if side[0] == "+" and side[1] not in able]


def other_blocks(case: Case) -> list[Lever]:
    """One block more than the brief allows."""
    order = case.brief.modules
    if order.blocks_at_most >= 3:
        return []
    more = order.model_copy(update={"blocks_at_most": order.blocks_at_most + 1})
    changed = replace(case, brief=case.brief.model_copy(update={"modules": more}))
    said = f"Split the pack into up to {order.blocks_at_most + 1} blocks"
    return [
        Lever("blocks", 0.0, lambda _: changed, lambda _: said, f"up to {order.blocks_at_most + 1} blocks")
    ]


def other_zones(case: Case) -> list[Lever]:
    """Each zone of the vehicle that the modules may not go in, allowed."""
    order = case.brief.modules

    def lever(zone: str) -> Lever:
        more = order.model_copy(update={"zones": (*order.zones, zone)})
        changed = replace(case, brief=case.brief.model_copy(update={"modules": more}))
        return Lever(
            "zone",
            0.0,
            lambda _: changed,
            lambda _: f"Let modules stand in {zone} as well",
            f"modules in {zone}",
        )

    return [lever(z.name) for z in case.vehicle.zones if z.name not in order.zones]


def other_parts(case: Case) -> list[Lever]:
    """Each other part in the zones of the modules, put elsewhere."""
    made: list[Lever] = []
    for n, order in enumerate(case.brief.parts):
        if not set(order.zones) & set(case.brief.modules.zones):
            continue
        rest = tuple(o for m, o in enumerate(case.brief.parts) if m != n)
        changed = replace(case, brief=case.brief.model_copy(update={"parts": rest}))
        name = order.name or case.parts[order.part].name
        made.append(_elsewhere(changed, name, ", ".join(order.zones)))
    return made


def _elsewhere(changed: Case, name: str, zones: str) -> Lever:
    said = f"Put {name} elsewhere than in {zones}"
    return Lever("part", 0.0, lambda _: changed, lambda _: said, f"{name} elsewhere")
