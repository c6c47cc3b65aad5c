"""The aims as one sum: exact axle arithmetic, centre of gravity, cable length, compactness.

The same arithmetic stands twice: once here over whole layouts for people, once in `kernel` over thousands
of anchors for the search. A test holds the two together.
"""

from collections.abc import Sequence
from dataclasses import dataclass

from packlayout.mass.combine import combine
from packlayout.mass.ledger import part_items
from packlayout.mass.original import original_kerb
from packlayout.model.brief import Case
from packlayout.model.catalogue import Part
from packlayout.model.geometry import MassItem, Vec
from packlayout.model.layout import Layout, Placement
from packlayout.placement.forms import port_of

# one unit of each aim in the sum: what a shop would trade against the others (common practice, no source)
AXLE_KG, SIDE_KG, HEIGHT_MM, COMPACT_MM, CABLE_MM = 10.0, 10.0, 20.0, 1000.0, 1000.0
SHAFT_DEG, PRICE_PERCENT = 2.0, 1.0

HV_LINKS: tuple[tuple[str, str], ...] = (
    ("battery module", "junction box"),
    ("junction box", "controller"),
    ("controller", "motor"),
    ("junction box", "charger"),
    ("junction box", "DC-DC converter"),
    ("junction box", "heater"),
)
"""Which kinds a high-voltage cable joins."""


@dataclass(frozen=True, slots=True)
class Targets:
    """What the aims are measured against.

    Attributes:
        wheelbase_mm: Nominal.
        track_mm: Mean of both axles.
        front_kg: Front axle load to aim at: of the brief, or that of the original at kerb.
        rear_kg: Rear axle load to aim at, the same.
        cg_height_mm: Original kerb.
        mass_kg: Of everything that the search does not move.
        moment: Sum of mass times position of the same, kg mm.
    """

    wheelbase_mm: float
    track_mm: float
    front_kg: float
    rear_kg: float
    cg_height_mm: float
    mass_kg: float
    moment: Vec


def targets(case: Case, burden: Sequence[MassItem]) -> Targets:
    """Targets for one case; `burden` is all that is weighed but not placed: vehicle less engine, frame."""
    original = combine(original_kerb(case))
    wheelbase = case.vehicle.wheelbase_mm.value
    rear = original.mass_kg * original.cg[0] / wheelbase
    moment = [sum(i.mass.value * i.position[k].value for i in burden) for k in range(3)]
    return Targets(
        wheelbase,
        (case.vehicle.track_front_mm.value + case.vehicle.track_rear_mm.value) / 2,
        _either(case.brief.aims.front_target_kg, original.mass_kg - rear),
        _either(case.brief.aims.rear_target_kg, rear),
        original.cg[2],
        sum(i.mass.value for i in burden),
        (moment[0], moment[1], moment[2]),
    )


def _either(wanted: float | None, original: float) -> float:
    return original if wanted is None else wanted


def cable_ends(case: Case, layout: Layout) -> list[tuple[Placement, Placement]]:
    """Pairs of placed parts that a high-voltage cable joins; a block stands for its first module."""
    by_kind: dict[str, list[Placement]] = {}
    first = {block.modules[0].name for block in layout.blocks}
    for p in layout.placements:
        if p.block is None or p.name in first:
            by_kind.setdefault(case.parts[p.part].kind, []).append(p)
    return [(a, b) for one, other in HV_LINKS for a in by_kind.get(one, []) for b in by_kind.get(other, [])]


def objectives(case: Case, layout: Layout, aim_at: Targets) -> dict[str, float]:
    """What each aim came to.

    Returns:
        `front_axle_change_kg`, `rear_axle_change_kg`, `side_difference_kg` (right minus left),
        `cg_height_change_mm`, `compactness_mm` (sum of distances of the other parts from the pack, same
        zone), `cable_length_mm` (along the axes, port to port), `further_blocks` (beyond the first).
        An axle's change is from what is aimed at.
    """
    items = part_items(case, layout)
    mass = aim_at.mass_kg + sum(i.mass.value for i in items)
    moment = [aim_at.moment[k] + sum(i.mass.value * i.position[k].value for i in items) for k in range(3)]
    rear = moment[0] / aim_at.wheelbase_mm
    pack = pack_centre(layout)
    spread = sum(
        sum((a - b) ** 2 for a, b in zip(p.box.centre, pack, strict=True)) ** 0.5
        for p in layout.placements
        if p.block is None
    )
    cable = sum(
        sum(abs(a - b) for a, b in zip(port_at(case, one, layout), port_at(case, other, layout), strict=True))
        for one, other in cable_ends(case, layout)
    )
    return {
        "front_axle_change_kg": mass - rear - aim_at.front_kg,
        "rear_axle_change_kg": rear - aim_at.rear_kg,
        "side_difference_kg": 2 * moment[1] / aim_at.track_mm,
        "cg_height_change_mm": moment[2] / mass - aim_at.cg_height_mm,
        "compactness_mm": spread,
        "cable_length_mm": cable,
        "further_blocks": float(max(0, len(layout.blocks) - 1)),
    }


def score(case: Case, found: dict[str, float]) -> float:
    """The weighed sum of the aims; smaller is better.

    Where the figures tell of routed cables, the cable length goes by those; what they do not tell costs nothing.
    """
    aims = case.brief.aims
    cable = found.get("routed_cable_length_mm", found["cable_length_mm"])
    return (
        aims.front_axle * max(0.0, abs(found["front_axle_change_kg"]) - aims.axle_band_kg) / AXLE_KG
        + aims.rear_axle * max(0.0, abs(found["rear_axle_change_kg"]) - aims.axle_band_kg) / AXLE_KG
        + aims.side_balance * abs(found["side_difference_kg"]) / SIDE_KG
        + aims.cg_height * max(0.0, found["cg_height_change_mm"]) / HEIGHT_MM
        + aims.compactness * found["compactness_mm"] / COMPACT_MM
        + aims.cable_length * cable / CABLE_MM
        + aims.splitting * found.get("further_blocks", 0.0)
        + aims.shaft_angle * found.get("shaft_angle_deg", 0.0) / SHAFT_DEG
        + aims.price * found.get("price_over_least_percent", 0.0) / PRICE_PERCENT
    )


def pack_centre(layout: Layout) -> Vec:
    """Middle of the first block; nought when there is none."""
    blocks = layout.blocks
    return blocks[0].box.centre if blocks else (0.0, 0.0, 0.0)


def port_at(case: Case, placed: Placement, layout: Layout) -> Vec:
    """High-voltage port of a placed part; of a block, the middle of its top."""
    part: Part = case.parts[placed.part]
    if placed.block is not None:
        box = next(b.box for b in layout.blocks if b.number == placed.block)
        return box.centre[0], box.centre[1], box.hi[2]
    return placed.pose.point(port_of(part))
