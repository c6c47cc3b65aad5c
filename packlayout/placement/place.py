"""`place`: the best layouts, how many modules fit, and why not more.

Counts down from what the brief asks for until a layout is found in which every part stands; for each count
few blocks come before many. The layouts found are checked outside the search before they are offered.
"""

from collections.abc import Callable, Sequence
from dataclasses import replace

import numpy as np

from packlayout.model.brief import Case
from packlayout.model.check import Check, judge
from packlayout.model.geometry import MassItem
from packlayout.model.layout import Layout
from packlayout.placement import aims
from packlayout.placement.entities import Entity, block_entities, joined, part_entities
from packlayout.placement.forms import block_forms, block_margin
from packlayout.placement.result import Count, Placed, Scored
from packlayout.placement.search import Board, board_of, run_start, settle, shifted, to_layout
from packlayout.placement.verify import check_layout
from packlayout.space.cells import Space, free_space
from packlayout.units import Measured

PITCH_MM = 10.0
STARTS = 18
STARTS_WHEN_SPLIT = 6
OFFERED = 6
NEARBY_STEP_MM, NEARBY_MM = 20.0, 60.0
Progress = Callable[[str], None]


def _silent(_: str) -> None:
    """Say nothing."""


def spaces_of(case: Case, pitch_mm: float = PITCH_MM) -> tuple[Space, ...]:
    """The cells of every zone that the brief uses."""
    used = set(case.brief.modules.zones) | {zone for order in case.brief.parts for zone in order.zones}
    c = case.brief.clearances
    distance = {"solid": c.body_mm, "moving": c.moving_mm, "hot": c.hot_mm}
    keep = [(case.keep_outs[k.name], distance[k.kind]) for k in case.vehicle.keep_outs]
    return tuple(
        free_space(zone.name, case.zones[zone.name], c.body_mm, keep, pitch_mm)
        for zone in case.vehicle.zones
        if zone.name in used
    )


def place(case: Case, burden: Sequence[MassItem], seed: int = 0, progress: Progress = _silent) -> Placed:
    """Place everything the brief asks for.

    Args:
        case: What is to be placed where.
        burden: Masses that the search does not move: the vehicle less what is removed, the frame.
        seed: Same seed, same answer.
        progress: Told the best so far.

    Returns:
        Layouts best first, counts, reasons, checks. No layout when not even one module can be placed.
    """
    spaces = spaces_of(case)
    goal = aims.targets(case, burden)
    wanted = case.modules_wanted
    reasons: list[str] = []
    dropped: list[str] = []
    found: list[Scored] = []
    bound, basis = upper_bound(case, spaces)
    packed = 0
    every = part_entities(case, spaces)
    parts = tuple(p for p in every if len(p.pos))
    homeless = tuple(p for p in every if not len(p.pos))
    for count in range(wanted, 0, -1):
        if count > bound:
            continue
        for split in splits(count, case.brief.modules.blocks_at_most):
            things = joined(block_entities(case, spaces, split), parts)
            boards, stuck = _starts(case, things, goal, seed)
            good, bad = _checked(case, boards, spaces, goal)
            dropped += bad
            found += good
            if not found:
                reasons.append(_reason(case, spaces, split, stuck))
        if found:
            packed = count
            break
        progress(f"no layout with {count} modules")
    ranked = _different(found)
    if ranked:
        progress(f"{packed} modules, best score {ranked[0].score:.3f}")
    bound = max(bound, packed)
    done = Count(wanted, packed, bound, packed >= min(wanted, bound), basis)
    why = tuple(dict.fromkeys(reasons)) if packed < wanted else ()
    if packed < wanted and bound < wanted:
        why = (f"No layout can hold more than {bound} modules: {basis}.", *why)
    why = (*(_homeless_words(case, spaces, p) for p in homeless), *why)
    checks = (
        _count_check(done, why),
        *(_homeless_check(case, spaces, p) for p in homeless),
        *(check_layout(case, ranked[0].layout) if ranked else ()),
    )
    return Placed(ranked, done, why, checks, tuple(dropped))


def refine(case: Case, layout: Layout, burden: Sequence[MassItem]) -> Layout:
    """The same layout with each part shifted to a better place of the same form and zone, where there is one.

    Used when the burden has changed a little, by the mass of a frame: nothing moves for a gain too small to
    matter, so that going round with the frame comes to rest.
    """
    spaces = spaces_of(case)
    goal = aims.targets(case, burden)
    board = _board(case, layout, spaces, goal)
    if board is None:
        return layout
    settle(board)
    moved, _ = to_layout(case, board, spaces)
    better = replace(moved, title=layout.title)
    failed = [c for c in check_layout(case, better) if c.verdict == "fail"]
    return layout if failed and not _only_fixed(case, failed) else better


def nearby(case: Case, layout: Layout, burden: Sequence[MassItem]) -> tuple[Scored, ...]:
    """The same structure with the pack stood elsewhere close by, best first.

    For the study, when no leg reaches a mounting point from where the pack stands: a shift of a few
    centimetres often lets one in.
    """
    spaces = spaces_of(case)
    goal = aims.targets(case, burden)
    board = _board(case, layout, spaces, goal)
    boards = shifted(board, NEARBY_STEP_MM, NEARBY_MM) if board is not None else []
    made: list[Scored] = []
    for other in boards:
        moved, _ = to_layout(case, other, spaces)
        figures = aims.objectives(case, moved, goal)
        made.append(Scored(replace(moved, title=layout.title), figures, aims.score(case, figures)))
    return tuple(sorted(made, key=lambda s: s.score))


def _board(case: Case, layout: Layout, spaces: Sequence[Space], goal: aims.Targets) -> Board | None:
    names = {p.name for p in layout.placements}
    parts = [p for p in part_entities(case, spaces) if p.name in names]
    things = joined(block_entities(case, spaces, [len(block.modules) for block in layout.blocks]), parts)
    return board_of(case, things, goal, layout, spaces)


def judge_layout(case: Case, layout: Layout, burden: Sequence[MassItem]) -> Placed:
    """The same answer for a layout that was given, edited by hand or kept from before."""
    figures = aims.objectives(case, layout, aims.targets(case, burden))
    bound, basis = upper_bound(case, spaces_of(case))
    packed = len(layout.modules)
    done = Count(case.modules_wanted, packed, max(bound, packed), packed >= case.modules_wanted, basis)
    checks = (_count_check(done, ()), *check_layout(case, layout))
    return Placed((Scored(layout, figures, aims.score(case, figures)),), done, (), checks)


def splits(count: int, most: int) -> list[tuple[int, ...]]:
    """Ways to share modules out among blocks, few blocks first, even shares first."""
    out: list[tuple[int, ...]] = [(count,)]
    if most >= 2:
        out += [(count - n, n) for n in range(count // 2, 0, -1)]
    if most >= 3:
        out += [
            (count - a - b, a, b)
            for a in range(count // 3, 0, -1)
            for b in range(a, 0, -1)
            if count - a - b >= a
        ]
    return out[:12]


def upper_bound(case: Case, spaces: Sequence[Space]) -> tuple[int, str]:
    """More modules than this cannot be placed: volume of the zones over volume of a module."""
    part = case.parts[case.brief.modules.part]
    x, y, z = part.box_size
    zones = [s for s in spaces if s.zone in case.brief.modules.zones]
    volume = sum(_air_volume(s) for s in zones)
    return int(volume / (x * y * z)), "volume of the zones less keep-outs over the volume of one module"


def _air_volume(space: Space) -> float:
    # a cell at no clearance that the surface touches may be partly air: count one more layer all round
    from scipy import ndimage

    air = np.diff(np.diff(np.diff(space.air_sums, axis=0), axis=1), axis=2).astype(bool)
    return float(ndimage.binary_dilation(air, structure=np.ones((3, 3, 3))).sum()) * space.pitch_mm**3


def _starts(
    case: Case, things: tuple[Entity, ...], goal: aims.Targets, seed: int
) -> tuple[list[Board], tuple[str, ...]]:
    empty = tuple(t.name for t in things if not len(t.pos))
    if empty:
        return [], empty
    split = [t.modules for t in things if t.modules]
    rng = np.random.default_rng([seed, *split])
    forms = _form_order(things[0], rng)
    boards: list[Board] = []
    stuck: tuple[str, ...] = ()
    for n in range(STARTS if len(split) == 1 else STARTS_WHEN_SPLIT):
        outcome = run_start(case, things, goal, rng, forms[n % len(forms)])
        if isinstance(outcome, Board):
            boards.append(outcome)
        else:
            stuck = outcome
    return boards, stuck


def _form_order(block: Entity, rng: np.random.Generator) -> list[int]:
    """Forms of the first block that have an anchor at all, the most compact first, ties shuffled."""
    able = np.unique(block.form)
    spread = {int(f): max(block.forms[f].size) for f in able}
    return sorted(spread, key=lambda f: (spread[f], rng.random()))


def _checked(
    case: Case, boards: Sequence[Board], spaces: Sequence[Space], goal: aims.Targets
) -> tuple[list[Scored], list[str]]:
    """Boards as layouts, best of each structure, those that fail the exact check left out."""
    best: dict[str, Scored] = {}
    for board in boards:
        layout, words = to_layout(case, board, spaces)
        figures = aims.objectives(case, layout, goal)
        scored = Scored(Layout(layout.placements, words), figures, aims.score(case, figures))
        if words not in best or scored.score < best[words].score:
            best[words] = scored
    ranked = sorted(best.values(), key=lambda s: (s.score, s.layout.title))
    good: list[Scored] = []
    bad: list[str] = []
    for scored in ranked:
        failed = [c for c in check_layout(case, scored.layout) if c.verdict == "fail"]
        if failed and not _only_fixed(case, failed):
            bad.append(f"{scored.layout.title}: {failed[0].title}")
        else:
            good.append(scored)
        if len(good) >= OFFERED:
            break
    return good, bad


def _only_fixed(case: Case, failed: Sequence[Check]) -> bool:
    """Faults of parts that the user fixed are the user's to see, not a reason to drop a layout."""
    fixed = {order.name or case.parts[order.part].name for order in case.brief.parts if order.fixed}
    return all(any(name in check.title for name in fixed) for check in failed)


def _different(found: Sequence[Scored]) -> tuple[Scored, ...]:
    ranked = sorted(found, key=lambda s: (s.score, s.layout.title))
    return tuple(ranked[:OFFERED])


def _homeless_words(case: Case, spaces: Sequence[Space], part: Entity) -> str:
    assert part.order is not None
    least = min(part.forms, key=lambda f: (max(f.size), f.label)).size
    rooms = ", ".join(
        f"{s.zone} ({' x '.join(f'{side:.0f}' for side in case.zones[s.zone].bounds.size)} mm outside to outside)"
        for s in spaces
        if s.zone in part.order.zones
    )
    size = " x ".join(f"{side:.0f}" for side in least)
    return (
        f"{part.name} ({size} mm) cannot stand in {rooms} even when nothing else is there: "
        "its box, its clearances or the room in front of its access faces find no free place."
    )


def _homeless_check(case: Case, spaces: Sequence[Space], part: Entity) -> Check:
    return judge(
        f"place.part.{part.name.replace(' ', '-')}", f"Places where {part.name} can stand", Measured(0.0), 1.0, "min",
        "places", "asked for by the brief", note=_homeless_words(case, spaces, part),
    )  # fmt: skip


def _count_check(count: Count, why: Sequence[str]) -> Check:
    note = why[0] if why else ""
    return judge(
        "place.count", "Battery modules placed", Measured(count.packed), count.wanted, "min", "modules",
        "asked for by the brief", note=note,
    )  # fmt: skip


def _reason(case: Case, spaces: Sequence[Space], split: tuple[int, ...], stuck: tuple[str, ...]) -> str:
    """Why one way of sharing out the modules came to nothing."""
    words = " + ".join(str(n) for n in split)
    if not stuck:
        return f"{sum(split)} modules as {words}: every layout found failed the exact check."
    name = stuck[0]
    if not name.startswith("block"):
        order = next(
            (o for o in case.brief.parts if name.startswith(o.name or case.parts[o.part].name)), None
        )
        zones = ", ".join(order.zones) if order else "its zone"
        return f"{sum(split)} modules as {words}: no room is left for {name} in {zones}."
    size = _smallest(case, split)
    free = ", ".join(f"{s.zone} {s.free_volume_mm3 / 1e6:.0f} l free" for s in spaces)
    return (
        f"{sum(split)} modules as {words}: no block stands free with its cradle "
        f"(the most compact takes {size}; {free}; the cradle takes {block_margin(case):g} mm on each side)."
    )


def _smallest(case: Case, split: tuple[int, ...]) -> str:
    forms = block_forms(case, max(split))
    if not forms:
        return "no allowed shape: an access face would be shut in"
    best = min(forms, key=lambda f: (max(f.size), f.label))
    return " x ".join(f"{side:.0f}" for side in best.size) + " mm"
