"""`place`: the best layouts, how many modules fit, and why not more.

Counts down from what the brief asks for until a layout is found in which every part stands; for each count
few blocks come before many. The layouts found are checked outside the search before they are offered.
"""

from collections.abc import Sequence
from itertools import combinations, islice

import numpy as np

from packlayout.model.brief import Case
from packlayout.model.check import Check, judge
from packlayout.model.geometry import Box, MassItem
from packlayout.model.layout import Layout
from packlayout.placement import aims
from packlayout.placement.archive import structure, titled
from packlayout.placement.blocks import splits
from packlayout.placement.board import Board
from packlayout.placement.bound import Bound, upper_bound
from packlayout.placement.clear import PITCH_MM, spaces_of
from packlayout.placement.conflicts import conflicts
from packlayout.placement.demands import check_demands
from packlayout.placement.entities import Entity, block_entities, locked_blocks
from packlayout.placement.explain import explain, nothing_helps
from packlayout.placement.how_many import Reason, closer_setting, how_many
from packlayout.placement.result import Change, Count, Placed, Scored
from packlayout.placement.solve import (
    Deadline,
    Progress,
    Setting,
    explore,
    setting,
    shares,
    start_boards,
    verified,
)
from packlayout.placement.verify import check_layout
from packlayout.space.cells import Space
from packlayout.units import Measured

__all__ = ["PITCH_MM", "judge_layout", "place", "spaces_of", "splits", "upper_bound"]


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
        closer = closer_setting(case, burden, seed, held)
        now = closer if closer is not None and len(closer.homeless) < len(now.homeless) else now
    bound = upper_bound(case)
    wanted = case.modules_wanted
    least = sum(len(b.modules) for b in locked_blocks(held))
    reasons: tuple[Reason, ...] = ()
    dropped: list[str] = []
    offered: tuple[Scored, ...] = ()
    boards: list[Board] = []
    proven: Bound | None = None
    try:
        most = min(wanted, max(bound.modules, least))
        fit = how_many(now, burden, most, least, deadline, progress)
        now, first, proven, reasons = fit.now, fit.first, fit.proven, fit.reasons
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
