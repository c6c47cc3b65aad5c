"""A layout worked out with its frame and cables; and put right where its parts stand in the way of their own.

A bracket that finds no room, a cable without a way between two ports that stand too near each other: often one part
put elsewhere mends it, and the rest of the layout stays.
"""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from itertools import islice
from math import inf

from packlayout.drive.shaft import shaft
from packlayout.electrical.wire import Wiring
from packlayout.model.brief import Case
from packlayout.model.check import Check
from packlayout.model.geometry import MassItem
from packlayout.model.layout import Layout
from packlayout.placement.again import elsewhere
from packlayout.stages import Framed, Progress, alone_without_way, designed_for, frame_for, frame_items, wired

TRIED = 6
"""So many layouts with a part elsewhere are solved and wired for one that is to be mended."""


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
        failed = failures(self.framed.checks)
        if self.wiring is None:
            return failed, inf, inf
        return failed, sum(run.line is None for run in self.wiring.runs), failures(self.wiring.checks)

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


def failures(checks: Iterable[Check]) -> int:
    """How many of some checks fail."""
    return sum(check.verdict == "fail" for check in checks)


def wired_up(layout: Layout, framed: Framed, progress: Progress) -> Worked:
    """A layout with its frame, and its cables when the frame holds; why a cable finds no way is not looked for."""
    worked = Worked(layout, framed, None)
    if worked.faults[0]:
        return worked
    progress("routing cables")
    return replace(worked, wiring=wired(framed.case, layout, framed, reasons=False))


def mended(case: Case, worked: Worked, burden: tuple[MassItem, ...], progress: Progress) -> Worked:
    """The same with parts put elsewhere that their bracket or their cables find no room for, while faults get fewer.

    Whether a bracket finds room is known once sections are chosen: the place is looked for with these, and they are
    then chosen anew, as for a layout that is given.

    Args:
        case: What was read.
        worked: Worked out with its sections chosen.
        burden: Masses that are not placed.
        progress: Told what is being done.

    Returns:
        The same where nothing is wrong that another place of a part can mend, or no other place is better.
    """
    best, left, better = worked, TRIED, True
    while better:
        better = False
        for other in islice(_moved(case, best, burden, progress), left):
            left -= 1
            if other.faults < best.faults:
                best, better = other, True
                break
    return best


def _moved(case: Case, worked: Worked, burden: tuple[MassItem, ...], progress: Progress) -> Iterator[Worked]:
    """The same with one part elsewhere and sections chosen anew, where its frame and single cables promise to hold."""
    chosen = worked.framed.case
    blocked = alone_without_way(chosen, worked.layout, worked.framed) if worked.wiring else ()
    for name in _astray(worked):
        for other in elsewhere(case, worked.layout, burden, name):
            drawn = frame_for(chosen, other)
            if failures(drawn.checks):
                continue
            if blocked and len(alone_without_way(chosen, other, drawn)) >= len(blocked):
                continue
            progress(f"{name} put elsewhere, for its bracket or its cables")
            yield wired_up(other, designed_for(case, other, progress), progress)


def _astray(worked: Worked) -> tuple[str, ...]:
    """Parts that may be put elsewhere: that with no room for its bracket; else those at the ends of blocked cables."""
    if worked.wiring is None:
        done = worked.framed.designed
        unborne = [name for name, _ in done.made.unborne] if done is not None else []
        return tuple(unborne) if len(unborne) == worked.faults[0] == 1 else ()
    blocked = [run for run in worked.wiring.runs if run.line is None]
    ends = dict.fromkeys(end.part for run in blocked for end in (run.goal, run.start))
    return tuple(p.name for p in worked.layout.placements if p.block is None and p.name in ends)
