"""The whole calculation: place, frame, round again until nothing moves; then wire, weigh, drive and price.

No files, no screen.
"""

from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import islice
from math import inf

from packlayout.drive.drive import Driving
from packlayout.drive.shaft import shaft
from packlayout.electrical.wire import Wiring
from packlayout.errors import GeometryError
from packlayout.mass.as_built import as_built
from packlayout.mass.ledger import base_items
from packlayout.mass.weigh import weigh
from packlayout.mass.weighing import Comparison, Weighing
from packlayout.model.brief import Case
from packlayout.model.check import Check
from packlayout.model.geometry import MassItem
from packlayout.model.layout import Layout
from packlayout.model.weighed import AsBuilt
from packlayout.placement import aims
from packlayout.placement.archive import beaten, structure, titled
from packlayout.placement.place import judge_layout, nearby, place, refine
from packlayout.placement.result import Placed, Scored
from packlayout.placement.verify import check_layout
from packlayout.price import Price, price
from packlayout.stages import (
    Framed,
    Progress,
    bill_of,
    designed_for,
    driven,
    frame_for,
    frame_items,
    outcome,
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


ROUNDS = 4
STILL_MM = 1.0
STILL_KG = 0.1
SHIFTED_LAYOUTS = 2
SHIFTS = 16
SOLVED = 4
LOOKED = 12
BLOCKED = "cables_without_way"
LEG_MM = 300.0  # this much leg weighs as much as one unit of the aims, 10 kg on an axle (common practice, no source)
NOT_DONE = (
    "the old body behind the mounting points: an engineer judges it by the reactions given",
    "the bearer of motor and reduction gear: it is taken as the survey states it",
)


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
    def faults(self) -> tuple[int, float]:
        """Failed checks of the frame, then cables without a way."""
        blocked = inf if self.wiring is None else sum(run.line is None for run in self.wiring.runs)
        return sum(check.verdict == "fail" for check in self.framed.checks), blocked

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
        The study. A job that cannot be done is a study with failed checks.

    Raises:
        GeometryError: for readings or shapes that no calculation can be made with.
    """
    base = base_items(case)
    if layout is not None:
        given = _wired(layout, designed_for(case, layout, progress), progress)
        placed = judge_layout(given.framed.case, layout, (*base, *given.items))
        return _close(seed, placed, given, progress)
    progress("placing")
    return complete(case, seed, place(case, base, seed, progress, held), progress)


def complete(case: Case, seed: int, placed: Placed, progress: Progress = silent) -> Study:
    """The rest of the calculation, once layouts are placed: the best of them with all that hangs on it."""
    base = base_items(case)
    beside = _side_by_side(case, placed.layouts, progress)
    best = _choose(case, beside, base, progress)
    if best is None:
        found = [c for c in placed.checks if c.id == "place.count"]
        return Study(case, seed, placed, None, None, None, ranked(found), NOT_DONE)
    chosen = next(s for s in beside if s.structure == structure(best.layout))
    best = _at_rest(case, best, base, progress)
    # all layouts judged with the same burden, so that their figures can be laid side by side
    burden = (*base, *best.items)
    first = _again(case, best.layout, burden, chosen)
    others = [_again(case, s.layout, burden, s) for s in beside if s is not chosen]
    # what was as good in other aims before may be beaten now that more is known of all
    others = [s for s in others if not any(beaten(s, other) for other in (first, *others))]
    others.sort(key=lambda s: (s.objectives.get(BLOCKED, 0.0), s.score, s.structure))
    judged = titled(case, (first, *others))
    best = replace(best, layout=judged[0].layout)
    return _close(seed, replace(placed, layouts=judged), best, progress)


def _side_by_side(case: Case, offered: Sequence[Scored], progress: Progress) -> tuple[Scored, ...]:
    """The layouts with what hangs on each: cables as they run, shaft angle, price; a single one is not compared."""
    if len(offered) < 2:
        return tuple(offered)
    progress(f"cables, shaft and price of {len(offered)} layouts")
    found = [outcome(case, scored.layout) for scored in offered]
    least = min((figures["price"] for figures in found if "price" in figures), default=0.0)
    for figures in found:
        if "price" in figures:
            figures["price_over_least_percent"] = 100 * (figures["price"] / least - 1)
    return tuple(_with(case, s, figures) for s, figures in zip(offered, found, strict=True))


def _with(case: Case, scored: Scored, more: Mapping[str, float]) -> Scored:
    figures = {**scored.objectives, **more}
    return replace(scored, objectives=figures, score=aims.score(case, figures))


def _again(case: Case, layout: Layout, burden: Sequence[MassItem], before: Scored) -> Scored:
    """A layout judged with another burden; what hung on it before is kept."""
    now = judge_layout(case, layout, burden).layouts[0]
    return _with(case, now, {k: v for k, v in before.objectives.items() if k not in now.objectives})


def _wired(layout: Layout, framed: Framed, progress: Progress) -> Worked:
    """A layout with its frame, and its cables when the frame holds."""
    worked = Worked(layout, framed, None)
    if worked.faults[0]:
        return worked
    progress("routing cables")
    return replace(worked, wiring=wired(framed.case, layout, framed))


def _choose(
    case: Case, offered: Sequence[Scored], burden: tuple[MassItem, ...], progress: Progress
) -> Worked | None:
    """The best layout whose frame bears its loads and whose cables find a way; failing that, with fewest faults.

    Drawing a frame is quick and solving it is not: frames are drawn for all layouts offered, also with the pack
    shifted by up to a few centimetres, and solved in the order of the layouts' scores with a price on the length
    of the legs, which is what makes a frame weak and heavy. What hangs on a layout hangs on its shifts too.
    """
    drawn: list[tuple[tuple[int, float, float], Layout]] = []
    for number, scored in enumerate(offered):
        shifts = nearby(case, scored.layout, burden)[:SHIFTS] if number < SHIFTED_LAYOUTS else ()
        for candidate in (scored, *shifts):
            framed = frame_for(case, candidate.layout, brackets=False)
            legs = sum(member.length_mm for leg in framed.legs for member in leg.members)
            failed = sum(check.verdict == "fail" for check in framed.checks)
            sum_ = _with(case, scored, candidate.objectives).score
            blocked = scored.objectives.get(BLOCKED, 0.0)
            drawn.append(((failed, blocked, sum_ + legs / LEG_MM), candidate.layout))
    progress(f"{len(drawn)} frames drawn")
    ranking = [layout for _, layout in sorted(drawn, key=lambda row: row[0])]
    best: Worked | None = None
    for layout in islice(_worth_solving(case, ranking), SOLVED):
        tried = _wired(layout, designed_for(case, layout, progress), progress)
        if best is None or tried.faults < best.faults:
            best = tried
        if best.faults == (0, 0):
            break
    return best


def _worth_solving(case: Case, ranking: Sequence[Layout]) -> Iterator[Layout]:
    """Layouts that hold by themselves and whose whole frame, brackets too, can be drawn; then the rest.

    Where none holds by itself the first is better than none to show.
    """
    later: list[Layout] = []
    for layout in ranking[:LOOKED]:
        if _fails(check_layout(case, layout)):
            continue
        if _fails(frame_for(case, layout).checks):
            later.append(layout)
        else:
            yield layout
    yield from later or ranking[:1]


def _fails(checks: Iterable[Check]) -> bool:
    return any(check.verdict == "fail" for check in checks)


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
    rested = _wired(best.layout, designed_for(case, best.layout, progress), progress)
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
    if wiring is None:
        progress("routing cables")
        wiring = wired(case, layout, framed)
        worked = replace(worked, wiring=wiring)
    progress("weighing and driving")
    weighing = weigh(case, layout, worked.items)
    driving = driven(case, layout, weighing)
    checks = ranked(
        (
            # the placement's checks are of its first layout; the one taken may be another
            *(c for c in placed.checks if c.id == "place.count"),
            *check_layout(case, layout),
            *framed.checks,
            *weighing.checks,
            *wiring.checks,
            *driving.checks,
        ),
        wiring.overvoltage,
    )
    priced = price(case, layout, bill_of(framed, wiring))
    return Study(case, seed, placed, layout, framed, weighing, checks, NOT_DONE, wiring, driving, priced)


def ranked(checks: Iterable[Check], first: Collection[Check] = ()) -> tuple[Check, ...]:
    """Failures first, and before them what a person may be killed by."""
    rank = {"fail": 0, "unknown": 1, "marginal": 2, "pass": 3}
    return tuple(sorted(checks, key=lambda c: (c not in first, rank[c.verdict])))
