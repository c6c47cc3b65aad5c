"""`place`: the best layouts, how many modules fit, and why not more.

Counts down from what the brief asks for until a layout is found in which every part stands; for each count
few blocks come before many. The layouts found are checked outside the search before they are offered.
"""

from collections.abc import Sequence
from dataclasses import replace
from itertools import combinations, islice

import numpy as np

from packlayout.model.brief import Case
from packlayout.model.check import Check, judge
from packlayout.model.geometry import Box, MassItem
from packlayout.model.layout import Layout
from packlayout.placement import aims
from packlayout.placement.archive import structure, titled
from packlayout.placement.blocks import splits
from packlayout.placement.board import Board, board_of, to_layout
from packlayout.placement.bound import FINE_MM, Bound, upper_bound
from packlayout.placement.clear import PITCH_MM, spaces_of
from packlayout.placement.conflicts import conflicts
from packlayout.placement.demands import check_demands
from packlayout.placement.entities import Entity, block_entities, joined, locked_blocks, part_entities
from packlayout.placement.explain import explain, nothing_helps
from packlayout.placement.forms import block_forms, block_margin
from packlayout.placement.polish import polished
from packlayout.placement.proof import limit
from packlayout.placement.result import Change, Count, Placed, Scored
from packlayout.placement.search import settle, shifted
from packlayout.placement.solve import (
    MOVES,
    Deadline,
    Failed,
    Progress,
    Setting,
    explore,
    first_valid,
    only_fixed,
    setting,
    shares,
    start_boards,
    verified,
)
from packlayout.placement.verify import check_layout
from packlayout.placement.walls import shell
from packlayout.space.cells import Space
from packlayout.units import Measured

__all__ = ["PITCH_MM", "judge_layout", "nearby", "place", "refine", "spaces_of", "splits", "upper_bound"]

NEARBY_STEP_MM, NEARBY_MM = 20.0, 60.0
MOST_CELLS = 24_000_000  # finer cells are cut only where they take a few hundred megabytes at the most


Reason = tuple[int, str]
"""A count, and why it came to nothing."""


def _silent(_: str) -> None:
    """Say nothing."""


def place(
    case: Case,
    burden: Sequence[MassItem],
    seed: int = 0,
    progress: Progress = _silent,
    held: Layout | None = None,
) -> Placed:
    """Place everything the brief asks for.

    A time limit of the brief, or an interruption from the keyboard, ends the search between two of its jobs;
    what it has by then is verified and returned, and `stopped` says so.

    Args:
        case: What is to be placed where.
        burden: Masses that the search does not move: the vehicle less what is removed, the frame.
        seed: Same seed, same answer.
        progress: Told the best so far.
        held: A layout whose locked parts stay where they are to the micrometre.

    Returns:
        Layouts best first, counts, reasons, checks. No layout when not even one module can be placed.
    """
    deadline = Deadline(case.brief.time_limit_s)
    if contrary := conflicts(case, held):
        return _refused(case, contrary)
    now = setting(case, burden, seed, held, close=case.brief.modules.loose)
    if now.homeless and not now.close:
        # what finds no place on the cells may find one close to the walls
        closer = _closer(case, burden, seed, held)
        now = closer if closer is not None and len(closer.homeless) < len(now.homeless) else now
    bound = upper_bound(case)
    wanted = case.modules_wanted
    least = sum(len(b.modules) for b in locked_blocks(held))
    reasons: list[Reason] = []
    dropped: list[str] = []
    offered: tuple[Scored, ...] = ()
    boards: list[Board] = []
    proven: Bound | None = None
    try:
        most = min(wanted, max(bound.modules, least))
        counts = range(most, max(0, least - 1), -1)
        first = _first(now, counts, MOVES[0], deadline, progress, reasons)
        packed = len(first.layout.modules) if first else 0
        if packed < most:
            named = tuple(p.name for p in now.parts) if now.homeless else None
            proven = limit(case, most, packed, held, named)
            if proven:
                # the proof says it once for all ways of sharing out
                most = proven.modules
                reasons = [reason for reason in reasons if reason[0] <= most]
        if packed < most and not now.homeless:
            # harder, and closer to walls than cells can tell, above what was found and below the bound
            most = min(most, upper_bound(case, packed).modules)
            closer = now if now.close or packed >= most else _closer(case, burden, seed, held)
            if closer is not None and packed < most:
                progress("again, closer to the walls")
                better = _first(closer, range(most, packed, -1), MOVES[1], deadline, progress, [])
                now, first = (closer, better) if better else (now, first)
        if first is not None:
            offered = titled(case, [first])
            boards, _ = explore(now, len(first.layout.modules), deadline, progress)
            found, dropped = verified(now, boards)
            offered = found or offered
    except KeyboardInterrupt:
        deadline.stopped = "interrupted"
        progress("interrupted: verifying the best so far")
    packed = len(offered[0].layout.modules) if offered else 0
    if deadline.stopped and not offered:
        offered, packed = _quickly(now, boards, min(wanted, bound.modules))
    tighter = upper_bound(case, packed) if packed < wanted else bound
    tighter = proven if proven and packed <= proven.modules < tighter.modules else tighter
    reached = max(tighter.modules, packed)
    done = Count(
        wanted,
        packed,
        reached,
        packed >= min(wanted, reached),
        tighter.basis,
        _proof(packed, wanted, reached, tighter.basis),
    )
    told = (*_conflicts(now), *(words for _, words in reasons))
    why = tuple(dict.fromkeys(told)) if packed < wanted else ()
    if packed < wanted and reached < wanted:
        why = (f"No layout can hold more than {reached} modules: {tighter.basis}.", *why)
    tried: tuple[Change, ...] = ()
    if packed < wanted and not now.homeless:
        tried, words = _more(now, burden, packed + 1, deadline, progress)
        why = (*words, *why)
    why = (*(_homeless_words(case, now.spaces, p) for p in now.homeless), *why)
    checks = (
        _count_check(done, why),
        *check_demands(case, burden, held),
        *(_homeless_check(case, now.spaces, p) for p in now.homeless),
        *(check_layout(case, offered[0].layout) if offered else ()),
    )
    return Placed(offered, done, why, checks, tuple(dropped), tried, deadline.stopped)


def _closer(case: Case, burden: Sequence[MassItem], seed: int, held: Layout | None) -> Setting | None:
    """The same with places close to walls; where a scan has too many triangles for that, on finer cells."""
    names = [space.zone for space in spaces_of(case)]
    if all(shell(case, name) for name in names):
        return setting(case, burden, seed, held, close=True)
    if sum(space.free.size for space in spaces_of(case)) * 8 <= MOST_CELLS:
        return setting(case, burden, seed, held, FINE_MM)
    return None


def _refused(case: Case, contrary: tuple[Check, ...]) -> Placed:
    """The answer to a job that contradicts itself: nothing placed, and what conflicts by how much."""
    bound = upper_bound(case)
    why = tuple(f"{check.note}." for check in contrary)
    done = Count(case.modules_wanted, 0, bound.modules, False, bound.basis)
    return Placed((), done, why, (_count_check(done, why), *contrary))


def _more(
    now: Setting, burden: Sequence[MassItem], count: int, deadline: Deadline, progress: Progress
) -> tuple[tuple[Change, ...], tuple[str, ...]]:
    """Changes that let this many modules in, and the sentences for them or for there being none."""
    if deadline.stopped:
        return (), (f"What would let {count} modules in was not looked for: {deadline.stopped}.",)
    progress("looking for what would let one more in")
    try:
        found = explain(now.case, burden, now.seed, count, deadline, now.held)
    except KeyboardInterrupt:
        deadline.stopped = "interrupted"
        return (), (f"What would let {count} modules in was not looked for: interrupted.",)
    return found.changes, tuple(c.words for c in found.changes) or (nothing_helps(count, found.tried),)


def _first(
    now: Setting, counts: range, moves: int, deadline: Deadline, progress: Progress, reasons: list[Reason]
) -> Scored | None:
    """A layout with the first count, from the most down, that holds outside the search; reasons are added to."""
    for count in counts:
        failed: list[Failed] = []
        found = first_valid(now, count, (moves,), deadline, failed)
        if found is not None:
            progress(f"{count} modules fit")
            return found
        reasons += [(count, _reason(now, split, stuck)) for split, stuck in failed]
        if deadline.passed():
            return None
        if not failed:
            reasons.append((count, f"{count} modules: no way of sharing them out stands free on the cells."))
        progress(f"no layout with {count} modules")
    return None


def _proof(packed: int, wanted: int, bound: int, basis: str) -> str:
    if packed >= wanted:
        return "all that the brief asks for is placed"
    return f"what is placed meets the bound: {basis}" if packed >= bound else ""


def _quickly(now: Setting, boards: Sequence[Board], most: int) -> tuple[tuple[Scored, ...], int]:
    """After a stop: what was found, or the first that holds with fewer modules."""
    if boards:
        offered, _ = verified(now, boards)
        if offered:
            return offered, len(offered[0].layout.modules)
    for count in range(most, 0, -1):
        for split in islice(shares(now, count), 2):
            found, _ = start_boards(now, split, 1)
            offered, _ = verified(now, found)
            if offered:
                return offered, count
    return (), 0


def _conflicts(now: Setting) -> list[str]:
    """Parts put in place by the user that reach into each other, by how much."""
    fixed = [t for t in (*block_entities(now.case, now.spaces, (), now.held), *now.parts) if t.fixed]
    boxes: list[tuple[str, Box]] = []
    for t in fixed:
        lo = t.pos[0]
        hi = lo + np.array(t.forms[int(t.form[0])].size)
        boxes.append(
            (
                t.name,
                Box((float(lo[0]), float(lo[1]), float(lo[2])), (float(hi[0]), float(hi[1]), float(hi[2]))),
            )
        )
    return [
        f"{a} and {b} are both put in place and reach {depth:.1f} mm into each other: move or free one of them."
        for (a, p), (b, q) in combinations(boxes, 2)
        if (depth := p.overlap_depth(q)) > 1e-6
    ]


def refine(case: Case, layout: Layout, burden: Sequence[MassItem]) -> Layout:
    """The same layout with each part shifted to a better place of the same form and zone, until none gains.

    Used when the burden has changed a little, by the mass of a frame: nothing moves for a gain too small to
    matter, so that going round with the frame comes to rest.
    """
    spaces = spaces_of(case)
    goal = aims.targets(case, burden)
    for _ in range(REFINE_STEPS):
        better = _better(case, layout, spaces, goal)
        if better is None:
            break
        layout = better
    return layout


def _better(case: Case, layout: Layout, spaces: tuple[Space, ...], goal: aims.Targets) -> Layout | None:
    """One descent from a layout; None when it gains too little or what it finds does not hold."""
    board = _board(case, layout, spaces, goal)
    if board is None:
        return None
    before = board.total()
    settle(board)
    after = polished(board, spaces)
    if before - after.total() < REFINE_GAIN:
        return None
    for tried in (after, board):
        better = replace(to_layout(case, tried, spaces), title=layout.title)
        failed = [c for c in check_layout(case, better) if c.verdict == "fail"]
        if not failed or only_fixed(case, failed, better):
            return better
    return None


REFINE_STEPS = 20
REFINE_GAIN = 0.02


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
        moved = replace(to_layout(case, other, spaces), title=layout.title)
        figures = aims.objectives(case, moved, goal)
        made.append(Scored(moved, figures, aims.score(case, figures), structure(moved)))
    return tuple(sorted(made, key=lambda s: s.score))


def _board(case: Case, layout: Layout, spaces: tuple[Space, ...], goal: aims.Targets) -> Board | None:
    names = {p.name for p in layout.placements}
    parts = [p for p in part_entities(case, spaces, layout) if p.name in names]
    locked = {b.number for b in locked_blocks(layout)}
    if any(b.number > len(locked) for b in layout.blocks if b.number in locked):
        return None
    rest = [len(block.modules) for block in layout.blocks if block.number not in locked]
    things = joined(block_entities(case, spaces, rest, layout), parts)
    return board_of(case, things, goal, layout, spaces)


def judge_layout(case: Case, layout: Layout, burden: Sequence[MassItem]) -> Placed:
    """The same answer for a layout that was given, edited by hand or kept from before."""
    figures = aims.objectives(case, layout, aims.targets(case, burden))
    bound = upper_bound(case)
    packed = len(layout.modules)
    wanted, reached = case.modules_wanted, max(bound.modules, packed)
    done = Count(
        wanted, packed, reached, packed >= wanted, bound.basis, _proof(packed, wanted, reached, bound.basis)
    )
    checks = (_count_check(done, ()), *check_demands(case, burden, layout), *check_layout(case, layout))
    scored = Scored(layout, figures, aims.score(case, figures), structure(layout))
    return Placed((scored,), done, (), checks)


def _homeless_words(case: Case, spaces: Sequence[Space], part: Entity) -> str:
    assert part.order is not None
    least = min(part.forms, key=lambda f: (max(f.size), f.label)).size
    rooms = ", ".join(
        f"{s.zone} ({' x '.join(f'{side:.0f}' for side in case.zones[s.zone].bounds.size)} mm outside to outside)"
        for s in spaces
        if s.zone in part.order.zones
    )
    size = " x ".join(f"{side:.0f}" for side in least)
    line = " on the shaft line" if part.order.on_line is not None else ""
    return (
        f"{part.name} ({size} mm) cannot stand in {rooms}{line} even when nothing else is there: its box, its "
        "clearances, the room in front of its access faces or its straight way in find no free place."
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


def _reason(now: Setting, split: tuple[int, ...], stuck: tuple[str, ...]) -> str:
    """Why one way of sharing out the modules came to nothing."""
    case = now.case
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
    free = ", ".join(f"{s.zone} {s.free_volume_mm3 / 1e6:.0f} l free" for s in now.spaces)
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
