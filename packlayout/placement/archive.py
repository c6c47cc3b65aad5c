"""Which layouts are offered: different in structure, none beaten in every aim, each with what it is best at."""

from collections.abc import Mapping, Sequence
from dataclasses import replace

from packlayout.model.brief import Case
from packlayout.model.geometry import Box
from packlayout.model.layout import Layout
from packlayout.placement.aims import (
    AXLE_KG,
    CABLE_MM,
    COMPACT_MM,
    HEIGHT_MM,
    PRICE_PERCENT,
    SHAFT_DEG,
    SIDE_KG,
)
from packlayout.placement.result import Scored

FEWEST, OFFERED = 3, 8
"""Layouts answered with, where there are so many."""
STROKE = " / "
APART_MM = 80.0  # what a shop would call another place (common practice, no source)
CLOSE: dict[str, float] = {
    "front_axle_change_kg": 0.5, "rear_axle_change_kg": 0.5, "side_difference_kg": 0.5, "cg_height_change_mm": 1.0,
    "compactness_mm": 10.0, "cable_length_mm": 10.0, "further_blocks": 0.5, "routed_cable_length_mm": 100.0,
    "shaft_angle_deg": 0.1, "price_over_least_percent": 0.2, "cables_without_way": 0.5,
}  # fmt: skip
"""Differences in an aim that a shop would not notice (common practice, no source)."""

UNIT: dict[str, float] = {
    "front_axle_change_kg": AXLE_KG, "rear_axle_change_kg": AXLE_KG, "side_difference_kg": SIDE_KG,
    "cg_height_change_mm": HEIGHT_MM, "compactness_mm": COMPACT_MM, "cable_length_mm": CABLE_MM,
    "routed_cable_length_mm": CABLE_MM, "shaft_angle_deg": SHAFT_DEG, "price_over_least_percent": PRICE_PERCENT,
}  # fmt: skip
"""What of each aim counts as one in the weighed sum."""

PRAISE: dict[str, tuple[str, str, str]] = {
    "front_axle_change_kg": (
        "keeps the front axle load closest",
        "front axle load",
        "{:+.1f} kg from its aim",
    ),
    "rear_axle_change_kg": ("keeps the rear axle load closest", "rear axle load", "{:+.1f} kg from its aim"),
    "side_difference_kg": (
        "is best balanced from side to side",
        "side balance",
        "{:+.1f} kg right against left",
    ),
    "cg_height_change_mm": (
        "carries its mass lowest",
        "height",
        "centre of gravity {:+.0f} mm against the original",
    ),
    "compactness_mm": ("keeps its parts closest to the pack", "compactness", "{:.0f} mm in all"),
    "cable_length_mm": ("needs the shortest high-voltage cables", "cable length", "{:.0f} mm in all"),
    "routed_cable_length_mm": (
        "needs the shortest high-voltage cables as they run",
        "length of the cables as they run",
        "{:.0f} mm in all",
    ),
    "shaft_angle_deg": ("runs its propeller shaft straightest", "shaft angle", "{:.1f} deg at kerb height"),
    "price_over_least_percent": ("is cheapest", "price", "{:.1f} % over the cheapest"),
}
"""Aim -> what the best in it does, what it is called, its figure."""


def structure(layout: Layout) -> str:
    """The words that tell how a layout is built.

    The blocks with zone, rows, face up and lie; then, after a stroke, the other parts with zone and, where that is
    the zone of the first block, the side of it on which they stand. Layouts with the same words differ by shifts
    and by half turns only.
    """
    words: list[str] = []
    for block in layout.blocks:
        rows = [len({round(p.box.lo[k]) for p in block.modules}) for k in range(3)]
        lies = sorted({p.turn_deg % 180 for p in block.modules})
        ups = sorted({p.up for p in block.modules})
        back = ", back to back" if len({p.turn_deg for p in block.modules}) > len(lies) else ""
        words.append(
            f"{block.zone}: {' x '.join(str(n) for n in rows)}, {' '.join(ups)} up, "
            f"{' and '.join(str(t) for t in lies)} deg{back}"
        )
    pack = layout.blocks[0] if layout.blocks else None
    parts = [
        f"{p.name}: {p.zone}" + (f", {side_of(p.box, pack.box)}" if pack and p.zone == pack.zone else "")
        for p in layout.placements
        if p.block is None
    ]
    return STROKE.join(("; ".join(sorted(words)), "; ".join(parts)))


def side_of(box: Box, pack: Box) -> str:
    """On which side of the pack a part stands: where the gap is widest."""
    gaps = {"above": box.lo[2] - pack.hi[2], "below": pack.lo[2] - box.hi[2], "right": box.lo[1] - pack.hi[1],
            "left": pack.lo[1] - box.hi[1], "behind": box.lo[0] - pack.hi[0], "ahead": pack.lo[0] - box.hi[0]}  # fmt: skip
    return max(gaps, key=lambda side: gaps[side])


def blocks_alike(words: str) -> str:
    """The part of a structure that tells of the blocks alone."""
    return words.split(STROKE)[0]


def in_turn(found: Mapping[str, float]) -> list[str]:
    """Structures by their figure, the best of each make of blocks first, then the second of each, and so on."""
    ranks: dict[str, int] = {}
    place: dict[str, int] = {}
    for words in sorted(found, key=lambda w: (found[w], w)):
        place[words] = ranks.get(blocks_alike(words), 0)
        ranks[blocks_alike(words)] = place[words] + 1
    return sorted(found, key=lambda w: (place[w], found[w], w))


def _apart(one: Layout, other: Layout) -> bool:
    """Whether some part stands so far from where it stands in the other that a shop would call it another place."""
    there = {p.name: p.box.centre for p in other.placements}
    return any(
        max(abs(a - b) for a, b in zip(p.box.centre, there[p.name], strict=True)) > APART_MM
        for p in one.placements
        if p.name in there
    )


def cost(found: dict[str, float], aim: str) -> float:
    """What is to be made small in an aim: the height may fall, all else counts either way."""
    return max(0.0, found[aim]) if aim == "cg_height_change_mm" else abs(found.get(aim, 0.0))


def beaten(one: Scored, other: Scored) -> bool:
    """Whether `other` is as good in every aim and clearly better in one."""
    better = False
    for aim, step in CLOSE.items():
        a, b = cost(one.objectives, aim), cost(other.objectives, aim)
        if b > a:
            return False
        better = better or b < a - step
    return better


def unbeaten(found: Sequence[Scored]) -> list[Scored]:
    """Those that no other beats, best first."""
    return [
        one
        for one in sorted(found, key=lambda s: (s.score, s.structure))
        if not any(beaten(one, other) for other in found)
    ]


def ranked(found: Sequence[Scored]) -> list[Scored]:
    """The best of each structure among those that are not beaten, best first."""
    best: dict[str, Scored] = {}
    for one in found:
        best.setdefault(one.structure, one)
    return list(best.values())


def choice(case: Case, good: Sequence[Scored]) -> list[Scored]:
    """An order to offer them in: the best sum, then the best of each aim that the brief weighs, then by sum.

    Other makes of blocks come before other places of the parts, and what is only shifted is left out. Where fewer than
    three are left, those follow in which a part stands where a shop would call it another place.

    Args:
        case: Supplies what the brief weighs.
        good: Not beaten, best first.
    """
    pool = ranked(good)
    weighed = [a for a in PRAISE if _weight(case, a) > 0 and all(a in s.objectives for s in pool)]
    order: list[Scored] = [*pool[:1]]
    order += [min(pool, key=lambda s: (cost(s.objectives, a), s.score)) for a in weighed] if pool else []
    by_words = {s.structure: s for s in pool}
    order += [by_words[words] for words in in_turn({s.structure: s.score for s in pool})]
    chosen: list[Scored] = []
    for scored in order:
        like = [c for c in chosen if blocks_alike(c.structure) == blocks_alike(scored.structure)]
        if all(c.structure != scored.structure and _apart(scored.layout, c.layout) for c in like):
            chosen.append(scored)
    for scored in good:
        if len(chosen) < FEWEST and all(_apart(scored.layout, c.layout) for c in chosen):
            chosen.append(scored)
    return chosen


def _weight(case: Case, aim: str) -> float:
    a = case.brief.aims
    return {
        "front_axle_change_kg": a.front_axle, "rear_axle_change_kg": a.rear_axle, "side_difference_kg": a.side_balance,
        "cg_height_change_mm": a.cg_height, "compactness_mm": a.compactness, "cable_length_mm": a.cable_length,
        "routed_cable_length_mm": a.cable_length, "shaft_angle_deg": a.shaft_angle, "price_over_least_percent": a.price,
    }[aim]  # fmt: skip


def titled(case: Case, offered: Sequence[Scored]) -> tuple[Scored, ...]:
    """The layouts with one sentence each on what they are best at among those offered.

    Of several aims in which a layout is first, the one is told in which it leads by most, as the brief weighs them;
    one that is first in none is told by the aim in which it comes closest to the first.
    """
    made: list[Scored] = []
    spoken: set[str] = set()
    used: set[str] = set()
    least = min((s.score for s in offered), default=0.0)
    told_of = _tellable(offered)
    for scored in offered:
        where: list[tuple[int, float, str]] = []
        for aim in told_of:
            mine = cost(scored.objectives, aim)
            rank = sum(cost(s.objectives, aim) < mine - 1e-9 for s in offered)
            lead = min((cost(s.objectives, aim) - mine for s in offered if s is not scored), default=0.0)
            worth = _weight(case, aim) * (max(0.0, lead) / UNIT[aim] if rank == 0 else 1.0)
            where.append((rank, -worth, aim))
        # an aim that is spoken for, or a sentence that is said, is left to the one that had it first
        ranking = sorted(where, key=lambda w: (w[2] in spoken and not w[0], w))
        first = scored.score <= least + 1e-12 and len(offered) > 1
        told = [(rank, aim, _sentence(scored, rank, aim, len(offered), first)) for rank, _, aim in ranking]
        rank, aim, said = next((t for t in told if t[2] not in used), told[0])
        spoken |= {aim} if rank == 0 else set()
        used.add(said)
        made.append(replace(scored, layout=replace(scored.layout, title=said)))
    return tuple(made)


def _tellable(offered: Sequence[Scored]) -> list[str]:
    """Aims that are known of all the layouts and in which they differ by what a shop would notice; else all known."""
    known = [aim for aim in PRAISE if all(aim in s.objectives for s in offered)]
    if "routed_cable_length_mm" in known:
        known.remove("cable_length_mm")  # the estimate of what is known now
    costs = {aim: [cost(s.objectives, aim) for s in offered] for aim in known}
    return [
        aim for aim in known if max(costs[aim], default=0.0) - min(costs[aim], default=0.0) > CLOSE[aim]
    ] or known


def _sentence(scored: Scored, rank: int, aim: str, count: int, first: bool) -> str:
    words, noun, figure = PRAISE[aim]
    blocks = len(scored.layout.blocks)
    shape = "in one block" if blocks == 1 else f"in {blocks} blocks"
    does = words if rank == 0 else f"is {_ordinal(rank + 1)} of {count} in {noun}"
    start = f"Best on all aims together, {shape}, and" if first else f"{shape.capitalize()}, it"
    # that the cheapest is nought over the cheapest need not be said
    told = (
        ""
        if rank == 0 and aim == "price_over_least_percent"
        else f": {figure.format(scored.objectives[aim] + 0.0)}"
    )
    return f"{start} {does}{told}."


def _ordinal(n: int) -> str:
    return {2: "second", 3: "third"}.get(n, f"{n}th")
