"""Which of the layouts offered is taken: set side by side, their frames drawn, the best of them solved and wired."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import islice

from packlayout.mending import Worked, failures, mended, wired_up
from packlayout.model.brief import Case
from packlayout.model.geometry import MassItem
from packlayout.model.layout import Layout
from packlayout.placement import aims
from packlayout.placement.again import nearby
from packlayout.placement.result import Scored
from packlayout.placement.verify import check_layout
from packlayout.stages import Framed, Progress, designed_for, frame_for, outcome

SHIFTED_LAYOUTS = 2
SHIFTS = 16
SOLVED, MENDED = 4, 2
"""So many layouts are solved until one holds, and of so many of them parts are put elsewhere."""
LOOKED = 12
BLOCKED = "cables_without_way"
LEG_MM = 300.0  # this much leg weighs as much as one unit of the aims, 10 kg on an axle (common practice, no source)


def side_by_side(
    case: Case, offered: Sequence[Scored], frames: Sequence[Framed], progress: Progress
) -> tuple[Scored, ...]:
    """The layouts with what hangs on each: cables as they run, shaft angle, price; a single one is not compared."""
    if len(offered) < 2:
        return tuple(offered)
    progress(f"cables, shaft and price of {len(offered)} layouts")
    found = [outcome(case, scored.layout, framed) for scored, framed in zip(offered, frames, strict=True)]
    return _over_least(case, [with_figures(case, s, more) for s, more in zip(offered, found, strict=True)])


def _over_least(case: Case, offered: Sequence[Scored]) -> tuple[Scored, ...]:
    """The layouts with how much dearer each is than the cheapest, where prices are known."""
    least = min((s.objectives["price"] for s in offered if "price" in s.objectives), default=0.0)
    return tuple(
        with_figures(case, s, {"price_over_least_percent": 100 * (s.objectives["price"] / least - 1)})
        if "price" in s.objectives
        else s
        for s in offered
    )


def drawn_for(case: Case, offered: Sequence[Scored]) -> list[Framed]:
    """A frame round each layout with the sections of the brief, without brackets and not solved: quick, to compare."""
    return [frame_for(case, scored.layout, brackets=False) for scored in offered]


def with_figures(case: Case, scored: Scored, more: Mapping[str, float]) -> Scored:
    """A layout with more figures, which count in its score."""
    figures = {**scored.objectives, **more}
    return replace(scored, objectives=figures, score=aims.score(case, figures))


@dataclass(frozen=True, slots=True, eq=False)
class Chosen:
    """What `choose` came to.

    Attributes:
        offered: All layouts, with what hangs on each.
        scored: The one of them that is taken, or that what is taken is a shift of.
        worked: What was worked out for it.
    """

    offered: tuple[Scored, ...]
    scored: Scored
    worked: Worked


def choose(
    case: Case, offered: Sequence[Scored], burden: tuple[MassItem, ...], progress: Progress
) -> Chosen | None:
    """The best layout whose frame bears its loads and whose cables find a way; failing that, with fewest faults.

    Drawing a frame is quick and solving it is not: frames are drawn for all layouts offered, also with the pack
    shifted by up to a few centimetres, and solved in the order of the layouts' scores with a price on the length
    of the legs, which is what makes a frame weak and heavy. What hangs on a layout hangs on its shifts too; it is
    found anew for one that is taken.

    Args:
        case: What was read.
        offered: Best first.
        burden: Masses that are not placed.
        progress: Told what is being done.

    Returns:
        None when nothing was offered.
    """
    frames = drawn_for(case, offered)
    beside = side_by_side(case, offered, frames, progress)
    drawn = [_drawn(case, s, s, framed) for s, framed in zip(beside, frames, strict=True)]
    for number, scored in enumerate(beside):
        # the first ones are shifted in any case, the others while no frame stands on all its legs
        if number < SHIFTED_LAYOUTS or all(row.failed for row in drawn):
            shifts = nearby(case, scored.layout, burden)[:SHIFTS]
            drawn += [
                _drawn(case, scored, s, f) for s, f in zip(shifts, drawn_for(case, shifts), strict=True)
            ]
    progress(f"{len(drawn)} frames drawn")
    best: Chosen | None = None
    for number, row in enumerate(islice(_worth_solving(case, drawn, progress), SOLVED)):
        tried = wired_up(row.layout, designed_for(case, row.layout, progress), progress)
        if number < MENDED:
            tried = mended(case, tried, burden, progress)
        if best is None or tried.faults < best.worked.faults:
            best = Chosen(beside, row.scored, tried)
        if not any(best.worked.faults):
            break
    return _judged_anew(case, best) if best is not None else None


def _judged_anew(case: Case, chosen: Chosen) -> Chosen:
    """The same with what hangs on the layout taken, where it was shifted or a part of it put elsewhere."""
    layout = chosen.worked.layout
    if len(chosen.offered) < 2 or layout is chosen.scored.layout:
        return chosen
    figures = outcome(case, layout, frame_for(case, layout, brackets=False))
    taken = with_figures(case, replace(chosen.scored, layout=layout), figures)
    at = next(n for n, s in enumerate(chosen.offered) if s is chosen.scored)
    offered = _over_least(case, [taken if n == at else s for n, s in enumerate(chosen.offered)])
    return Chosen(offered, offered[at], chosen.worked)


@dataclass(frozen=True, slots=True)
class _Drawn:
    """A layout with a frame that was drawn round it.

    Attributes:
        failed: Failed checks of the frame.
        rank: Those, then cables without a way, then the aims with a price on the length of the legs.
        layout: Where the parts stand.
        scored: The layout offered that it is, or is a shift of.
    """

    failed: int
    rank: tuple[int, float, float]
    layout: Layout
    scored: Scored


def _drawn(case: Case, scored: Scored, candidate: Scored, framed: Framed) -> _Drawn:
    legs = sum(member.length_mm for leg in framed.legs for member in leg.members)
    failed = failures(framed.checks)
    total = with_figures(case, scored, candidate.objectives).score + legs / LEG_MM
    return _Drawn(failed, (failed, scored.objectives.get(BLOCKED, 0.0), total), candidate.layout, scored)


def _worth_solving(case: Case, drawn: Sequence[_Drawn], progress: Progress) -> Iterator[_Drawn]:
    """Layouts that hold by themselves, whose whole frame can be drawn and whose cables find a way; then the rest.

    Drawing, brackets too, and wiring round that are quicker than solving and choosing sections. Where none holds by
    itself the first is better than none to show.
    """
    blocked: list[_Drawn] = []
    lame: list[_Drawn] = []
    ranking = sorted(drawn, key=lambda row: row.rank)
    for row in ranking[:LOOKED]:
        if failures(check_layout(case, row.layout)):
            continue
        framed = frame_for(case, row.layout)
        if failures(framed.checks):
            lame.append(row)
        elif _surely_blocked(row) or wired_up(row.layout, framed, progress).faults[1]:
            blocked.append(row)
        else:
            yield row
    # round a frame with other sections, or with a part put elsewhere, cables and brackets may find room after all
    yield from (*blocked, *lame) or ranking[:1]


def _surely_blocked(row: _Drawn) -> bool:
    """Whether cables of a layout find no way even one by one: what is known of it, not of what it is a shift of."""
    return row.layout is row.scored.layout and row.scored.objectives.get(BLOCKED, 0.0) > 0
