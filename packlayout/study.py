"""The whole calculation: place, frame, round again until nothing moves; then wire, weigh, drive and price.

No files, no screen.
"""

from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass, replace
from math import inf

from packlayout.choosing import BLOCKED, choose, with_figures
from packlayout.drive.drive import Driving
from packlayout.electrical.wire import Wiring
from packlayout.errors import GeometryError
from packlayout.mass.as_built import as_built
from packlayout.mass.ledger import base_items
from packlayout.mass.weigh import weigh
from packlayout.mass.weighing import Comparison, Weighing
from packlayout.mending import Worked, wired_up
from packlayout.model.brief import Case
from packlayout.model.check import Check
from packlayout.model.geometry import MassItem
from packlayout.model.layout import Layout
from packlayout.model.weighed import AsBuilt
from packlayout.placement.again import refine
from packlayout.placement.archive import beaten, titled
from packlayout.placement.place import judge_layout, place
from packlayout.placement.result import Placed, Scored
from packlayout.placement.verify import check_layout
from packlayout.price import Price, price
from packlayout.stages import (
    Framed,
    Progress,
    bill_of,
    designed_for,
    driven,
    frame_items,
    silent,
    wired,
    with_same_sections,
)

__all__ = ["Framed", "Study", "compare", "complete", "made_items", "run"]


@dataclass(frozen=True, slots=True, eq=False)
class Study:
    """Everything that was computed for one case.

    Attributes:
        case: What it was computed from.
        seed: Seed of the search.
        placed: The answer of the placement; None when the layout was given by the user.
        layout: The layout that the rest belongs to; None when not one module could be placed.
        framed: Its frame.
        weighing: Its weighing, with the frame, the cables and the propeller shaft in it.
        checks: All checks of all stages, failures first.
        not_done: What was not computed, in words, so that nobody takes silence for a pass.
        wiring: Its pack electrics, protection and cable runs.
        driving: Its shaft, performance, range, charging and the old dials.
        priced: What it costs; None without the shop's own prices.
        comparison: The finished vehicle's scale readings against the weighing, where they were given.
    """

    case: Case
    seed: int
    placed: Placed | None
    layout: Layout | None
    framed: Framed | None
    weighing: Weighing | None
    checks: tuple[Check, ...]
    not_done: tuple[str, ...]
    wiring: Wiring | None = None
    driving: Driving | None = None
    priced: Price | None = None
    comparison: Comparison | None = None

    @property
    def halfway(self) -> bool:
        """Whether it was interrupted once layouts were found: nothing is known of frame, cables and axle loads."""
        return self.layout is not None and self.weighing is None


ROUNDS = 4
STILL_MM = 1.0
STILL_KG = 0.1
NOT_DONE = (
    "the old body behind the mounting points: an engineer judges it by the reactions given",
    "the bearer of motor and reduction gear: it is taken as the survey states it",
)


def run(
    case: Case,
    seed: int = 0,
    layout: Layout | None = None,
    progress: Progress = silent,
    held: Layout | None = None,
) -> Study:
    """Compute everything for one case.

    Mass and place of frame, cables and propeller shaft go back into the placement until no part moves by more
    than 1 mm and their mass changes by no more than 0.1 kg, or for four rounds. Among the layouts found, the
    best one whose frame stands and whose cables find a way is taken.

    Args:
        case: What was read.
        seed: Of the search; same case and seed, same study.
        layout: A layout to judge instead of searching one.
        progress: Told what is being done.
        held: A layout whose locked parts stay where they are while the rest is searched.

    Returns:
        The study. A job that cannot be done is a study with failed checks. One that is interrupted once layouts are
        found has those alone.

    Raises:
        GeometryError: for readings or shapes that no calculation can be made with.
    """
    base = base_items(case)
    if layout is not None:
        given = wired_up(layout, designed_for(case, layout, progress), progress)
        placed = judge_layout(given.framed.case, layout, (*base, *given.items))
        return _close(seed, placed, given, progress)
    progress("placing")
    placed = place(case, base, seed, progress, held)
    try:
        return complete(case, seed, placed, progress)
    except KeyboardInterrupt:
        progress("interrupted: the layouts stand as they were placed")
        return _as_placed(case, seed, placed)


def complete(case: Case, seed: int, placed: Placed, progress: Progress = silent) -> Study:
    """The rest of the calculation, once layouts are placed: the best of them with all that hangs on it."""
    base = base_items(case)
    chosen = choose(case, placed.layouts, base, progress)
    if chosen is None:
        return Study(case, seed, placed, None, None, None, ranked(placed.checks), _not_done(placed))
    best = _at_rest(case, chosen.worked, base, progress)
    # all layouts judged with the same burden, so that their figures can be laid side by side
    burden = (*base, *best.items)
    first = _again(case, best.layout, burden, chosen.scored)
    others = [_again(case, s.layout, burden, s) for s in chosen.offered if s is not chosen.scored]
    # what was as good in other aims before may be beaten now that more is known of all
    others = [s for s in others if not any(beaten(s, other) for other in (first, *others))]
    others.sort(key=lambda s: (s.objectives.get(BLOCKED, 0.0), s.score, s.structure))
    judged = titled(case, (first, *others))
    best = replace(best, layout=judged[0].layout)
    return _close(seed, replace(placed, layouts=judged), best, progress)


def _as_placed(case: Case, seed: int, placed: Placed) -> Study:
    """The layouts alone, for a calculation that was interrupted after they were found."""
    first = placed.layouts[0].layout if placed.layouts else None
    left = (*_not_done(placed), "frame, cables, weighing and driving (interrupted)")
    cut = replace(placed, stopped="interrupted")
    return Study(case, seed, cut, first, None, None, ranked(placed.checks), left)


def _again(case: Case, layout: Layout, burden: Sequence[MassItem], before: Scored) -> Scored:
    """A layout judged with another burden; what hung on it before is kept."""
    now = judge_layout(case, layout, burden).layouts[0]
    return with_figures(case, now, {k: v for k, v in before.objectives.items() if k not in now.objectives})


def _at_rest(case: Case, first: Worked, base: tuple[MassItem, ...], progress: Progress) -> Worked:
    """Placed again with what frame, cables and shaft weigh, until nothing moves; never for more faults.

    Cables weigh much the same a few millimetres on: they are laid anew once, where all has come to rest.
    """
    best = first
    for number in range(2, ROUNDS + 1):
        progress(f"placing again with frame and cables, round {number}")
        after = refine(best.framed.case, best.layout, (*base, *best.items))
        if moved(best.layout, after) <= STILL_MM:
            break
        again = replace(best, layout=after, framed=with_same_sections(best.framed, after, progress))
        if again.faults > best.faults:
            break
        still = abs(again.mass_kg - best.mass_kg) <= STILL_KG
        best = again
        if still:
            break
    if best is first:
        return first
    # sections chosen anew where it came to rest, as for a layout that is given: the layout alone decides them
    rested = wired_up(best.layout, designed_for(case, best.layout, progress), progress)
    return rested if rested.faults <= first.faults else first


def compare(study: Study, readings: AsBuilt) -> Study:
    """A study with the finished vehicle's scale readings held against its prediction.

    Raises:
        GeometryError: when the study has no layout.
        ReadingError: for readings so far off that they are a slip, or a state that was not weighed.
    """
    if study.layout is None:
        raise GeometryError("nothing was placed, so there is no prediction to hold the readings against")
    return replace(study, comparison=as_built(study.case, study.layout, made_items(study), readings))


def made_items(study: Study) -> tuple[MassItem, ...]:
    """What the workshop makes or lays beside the placed parts: frame, cables and hoses, propeller shaft."""
    return (
        *frame_items(study.framed),
        *(study.wiring.items if study.wiring is not None else ()),
        *(study.driving.items if study.driving is not None else ()),
    )


def moved(before: Layout, after: Layout) -> float:
    """The furthest any part moved between two layouts, mm; infinite when they hold different things."""
    old = {p.name: p for p in before.placements}
    if set(old) != {p.name for p in after.placements}:
        return inf
    far = 0.0
    for p in after.placements:
        q = old[p.name]
        if (p.up, p.turn_deg, p.zone) != (q.up, q.turn_deg, q.zone):
            return inf
        far = max(far, sum((a - b) ** 2 for a, b in zip(p.at, q.at, strict=True)) ** 0.5)
    return far


def _close(seed: int, placed: Placed, worked: Worked, progress: Progress) -> Study:
    """Weighed, driven, priced, and all its checks in one list."""
    layout, framed, case = worked.layout, worked.framed, worked.framed.case
    wiring = worked.wiring
    if wiring is None or any(run.line is None for run in wiring.runs):
        progress("routing cables")
        wiring = wired(case, layout, framed)
        worked = replace(worked, wiring=wiring)
    progress("weighing and driving")
    weighing = weigh(case, layout, worked.items)
    driving = driven(case, layout, weighing)
    checks = ranked(
        (
            # the placement's checks are of its first layout; the one taken may be another
            *(c for c in placed.checks if c.id.startswith(("place.count", "place.targets", "place.plated"))),
            *check_layout(case, layout),
            *framed.checks,
            *weighing.checks,
            *wiring.checks,
            *driving.checks,
        ),
        wiring.overvoltage,
    )
    priced = price(case, layout, bill_of(framed, wiring))
    return Study(
        case, seed, placed, layout, framed, weighing, checks, _not_done(placed), wiring, driving, priced
    )


def _not_done(placed: Placed) -> tuple[str, ...]:
    """What was not computed; that a search was ended before its time is part of it."""
    return (*NOT_DONE, *((f"the search to its end ({placed.stopped})",) if placed.stopped else ()))


def ranked(checks: Iterable[Check], first: Collection[Check] = ()) -> tuple[Check, ...]:
    """Failures first, and before them what a person may be killed by."""
    rank = {"fail": 0, "unknown": 1, "marginal": 2, "pass": 3}
    return tuple(sorted(checks, key=lambda c: (c not in first, rank[c.verdict])))
