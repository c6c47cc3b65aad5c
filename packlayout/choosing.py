"""Which of the layouts offered is taken: set side by side, their frames drawn, the best of them solved and wired."""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import islice
from math import inf

from packlayout.drive.shaft import shaft
from packlayout.electrical.wire import Wiring
from packlayout.model.brief import Case
from packlayout.model.check import Check
from packlayout.model.geometry import MassItem
from packlayout.model.layout import Layout
from packlayout.placement import aims
from packlayout.placement.again import elsewhere, nearby
from packlayout.placement.result import Scored
from packlayout.placement.verify import check_layout
from packlayout.stages import Framed, Progress, designed_for, frame_for, frame_items, outcome, wired

SHIFTED_LAYOUTS = 2
SHIFTS = 16
SOLVED = 4
LOOKED = 12
BLOCKED = "cables_without_way"
LEG_MM = 300.0  # this much leg weighs as much as one unit of the aims, 10 kg on an axle (common practice, no source)


@dataclass(frozen=True, slots=True, eq=False)
class Worked:
    """A layout with its frame and its cables, before it is weighed.

    Attributes:
        layout: Where the parts stand.
        framed: Its frame, as judged.
        wiring: Its cables; None while the frame fails, since cables round a frame that cannot be mean nothing.
    """

    layout: Layout
    framed: Framed
    wiring: Wiring | None

    @property
    def faults(self) -> tuple[int, float, float]:
        """Failed checks of the frame, then cables without a way, then failed checks of cables."""
        failed = _failed(self.framed.checks)
        if self.wiring is None:
            return failed, inf, inf
        return failed, sum(run.line is None for run in self.wiring.runs), _failed(self.wiring.checks)

    @property
    def items(self) -> tuple[MassItem, ...]:
        """What frame, cables and propeller shaft weigh."""
        turning = shaft(self.framed.case, self.layout)
        return (
            *frame_items(self.framed),
            *(self.wiring.items if self.wiring is not None else ()),
            *(turning.items if turning is not None else ()),
        )

    @property
    def mass_kg(self) -> float:
        """Of all its items."""
        return sum(item.mass.value for item in self.items)


def side_by_side(
    case: Case, offered: Sequence[Scored], frames: Sequence[Framed], progress: Progress
) -> tuple[Scored, ...]:
    """The layouts with what hangs on each: cables as they run, shaft angle, price; a single one is not compared."""
    if len(offered) < 2:
        return tuple(offered)
    progress(f"cables, shaft and price of {len(offered)} layouts")
    found = [outcome(case, scored.layout, framed) for scored, framed in zip(offered, frames, strict=True)]
    least = min((figures["price"] for figures in found if "price" in figures), default=0.0)
    for figures in found:
        if "price" in figures:
            figures["price_over_least_percent"] = 100 * (figures["price"] / least - 1)
    return tuple(with_figures(case, s, figures) for s, figures in zip(offered, found, strict=True))


def drawn_for(case: Case, offered: Sequence[Scored]) -> list[Framed]:
    """A frame round each layout with the sections of the brief, without brackets and not solved: quick, to compare."""
    return [frame_for(case, scored.layout, brackets=False) for scored in offered]


def with_figures(case: Case, scored: Scored, more: Mapping[str, float]) -> Scored:
    """A layout with more figures, which count in its score."""
    figures = {**scored.objectives, **more}
    return replace(scored, objectives=figures, score=aims.score(case, figures))


def wired_up(layout: Layout, framed: Framed, progress: Progress) -> Worked:
    """A layout with its frame, and its cables when the frame holds; why a cable finds no way is not looked for."""
    worked = Worked(layout, framed, None)
    if worked.faults[0]:
        return worked
    progress("routing cables")
    return replace(worked, wiring=wired(framed.case, layout, framed, reasons=False))


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
    of the legs, which is what makes a frame weak and heavy. What hangs on a layout hangs on its shifts too.

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
    for row in islice(_worth_solving(case, drawn, progress), SOLVED):
        tried = wired_up(row.layout, designed_for(case, row.layout, progress), progress)
        tried = _mended(case, tried, burden, progress)
        if best is None or tried.faults < best.worked.faults:
            best = Chosen(beside, row.scored, tried)
        if not any(best.worked.faults):
            break
    return best


def _mended(case: Case, tried: Worked, burden: tuple[MassItem, ...], progress: Progress) -> Worked:
    """The same with one part put elsewhere, where all that is wrong is that its bracket finds no room; else as it was.

    Whether a bracket finds room is known once sections are chosen: the place is looked for with these, and they are
    then chosen anew, as for a layout that is given.
    """
    done = tried.framed.designed
    if done is None or len(done.made.unborne) != 1 or tried.faults[0] != 1:
        return tried
    name = done.made.unborne[0][0]
    for other in elsewhere(case, tried.layout, burden, name):
        if _failed(frame_for(tried.framed.case, other).checks):
            continue
        progress(f"{name} put where its bracket finds room")
        again = wired_up(other, designed_for(case, other, progress), progress)
        return min(tried, again, key=lambda worked: worked.faults)
    return tried


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
    failed = _failed(framed.checks)
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
        if _failed(check_layout(case, row.layout)):
            continue
        framed = frame_for(case, row.layout)
        if _failed(framed.checks):
            lame.append(row)
        elif wired_up(row.layout, framed, progress).faults[1]:
            blocked.append(row)
        else:
            yield row
    # round a frame with other sections cables may find a way after all; a frame without a leg stays without
    yield from blocked or lame or ranking[:1]


def _failed(checks: Iterable[Check]) -> int:
    return sum(check.verdict == "fail" for check in checks)
