"""Which layouts are offered: different in structure, none beaten in every aim, each with what it is best at."""

from collections.abc import Sequence
from dataclasses import replace

from packlayout.model.brief import Case
from packlayout.model.layout import Layout
from packlayout.placement.result import Scored

OFFERED = 8
CLOSE: dict[str, float] = {
    "front_axle_change_kg": 0.5, "rear_axle_change_kg": 0.5, "side_difference_kg": 0.5, "cg_height_change_mm": 1.0,
    "compactness_mm": 10.0, "cable_length_mm": 10.0, "further_blocks": 0.5,
}  # fmt: skip
"""Differences in an aim that a shop would not notice (common practice, no source)."""

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
}
"""Aim -> what the best in it does, what it is called, its figure."""


def structure(layout: Layout) -> str:
    """The words that tell how a layout is built: blocks with zone, rows, face up and turns; zones of the parts.

    Layouts with the same words differ by shifts only.
    """
    words: list[str] = []
    for block in layout.blocks:
        rows = [len({round(p.box.lo[k]) for p in block.modules}) for k in range(3)]
        turns = sorted({p.turn_deg for p in block.modules})
        ups = sorted({p.up for p in block.modules})
        words.append(
            f"{block.zone}: {' x '.join(str(n) for n in rows)}, {' '.join(ups)} up, "
            f"{' and '.join(str(t) for t in turns)} deg"
        )
    parts = [f"{p.name}: {p.zone}" for p in layout.placements if p.block is None]
    return "; ".join([*sorted(words), *parts])


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


def ranked(found: Sequence[Scored]) -> list[Scored]:
    """The best of each structure, none beaten, best first."""
    best: dict[str, Scored] = {}
    for one in sorted(found, key=lambda s: (s.score, s.structure)):
        if one.structure not in best and not any(beaten(one, other) for other in found):
            best[one.structure] = one
    return list(best.values())


def choice(case: Case, pool: Sequence[Scored]) -> list[Scored]:
    """An order to offer them in: the best sum, then the best of each aim that the brief weighs, then by sum."""
    weighed = [a for a in PRAISE if _weight(case, a) > 0]
    order: list[Scored] = [*pool[:1]]
    order += [min(pool, key=lambda s: (cost(s.objectives, a), s.score)) for a in weighed] if pool else []
    first: dict[str, Scored] = {}
    for scored in (*order, *pool):
        first.setdefault(scored.structure, scored)
    return list(first.values())


def _weight(case: Case, aim: str) -> float:
    a = case.brief.aims
    return {
        "front_axle_change_kg": a.front_axle, "rear_axle_change_kg": a.rear_axle, "side_difference_kg": a.side_balance,
        "cg_height_change_mm": a.cg_height, "compactness_mm": a.compactness, "cable_length_mm": a.cable_length,
    }[aim]  # fmt: skip


def titled(case: Case, offered: Sequence[Scored]) -> tuple[Scored, ...]:
    """The layouts with one sentence each on what they are best at among those offered.

    A layout that is first in no aim is told by the aim in which it comes closest to the first.
    """
    made: list[Scored] = []
    spoken: set[str] = set()
    least = min((s.score for s in offered), default=0.0)
    for scored in offered:
        where: list[tuple[int, float, str]] = []
        for aim in PRAISE:
            mine = cost(scored.objectives, aim)
            rank = sum(cost(s.objectives, aim) < mine - 1e-9 for s in offered)
            where.append((rank, -_weight(case, aim), aim))
        rank, _, aim = min((w for w in where if w[2] not in spoken or w[0]), default=min(where))
        spoken |= {aim} if rank == 0 else set()
        words, noun, figure = PRAISE[aim]
        value = figure.format(scored.objectives[aim] + 0.0)
        blocks = len(scored.layout.blocks)
        shape = "in one block" if blocks == 1 else f"in {blocks} blocks"
        does = words if rank == 0 else f"is {_ordinal(rank + 1)} of {len(offered)} in {noun}"
        first = scored.score <= least + 1e-12 and len(offered) > 1
        start = f"Best on all aims together, {shape}, and" if first else f"{shape.capitalize()}, it"
        said = f"{start} {does}: {value}."
        made.append(replace(scored, layout=Layout(scored.layout.placements, said)))
    return tuple(made)


def _ordinal(n: int) -> str:
    return {2: "second", 3: "third"}.get(n, f"{n}th")
