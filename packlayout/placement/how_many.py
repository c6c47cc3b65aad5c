"""How many modules: the largest count for which a layout stands, and proofs for the counts above it.

Quick looks come first: on cells, then close to walls, then with all that is known; in between, counts that points and
then ranges prove to have no room are struck off, so that nobody looks for them.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace

from packlayout.model.brief import Case
from packlayout.model.geometry import MassItem
from packlayout.model.layout import Layout
from packlayout.placement.bound import FINE_MM, Bound, upper_bound
from packlayout.placement.clear import spaces_of
from packlayout.placement.forms import block_forms, block_margin
from packlayout.placement.proof import limit
from packlayout.placement.result import Scored
from packlayout.placement.solve import MOVES, Deadline, Failed, Progress, Setting, first_valid, setting
from packlayout.placement.walls import shell

MOST_CELLS = 24_000_000  # finer cells are cut only where they take a few hundred megabytes at the most
Reason = tuple[int, str]
"""A count, and why it came to nothing."""


@dataclass(frozen=True, slots=True, eq=False)
class Fit:
    """What came of the counts.

    Attributes:
        now: The setting in which it was found.
        first: A layout of the largest count found that holds outside; None when there is none.
        proven: The largest count that is not proven to have no room, where that is less than was asked.
        reasons: Of counts not found, why.
    """

    now: Setting
    first: Scored | None = None
    proven: Bound | None = None
    reasons: tuple[Reason, ...] = ()

    @property
    def packed(self) -> int:
        """Modules of the layout."""
        return len(self.first.layout.modules) if self.first else 0


def how_many(
    now: Setting, burden: Sequence[MassItem], most: int, least: int, deadline: Deadline, progress: Progress
) -> Fit:
    """Count down from the most until a layout stands; then look harder for those above it.

    Args:
        now: The setting.
        burden: Masses that the search does not move.
        most: A count that no layout exceeds, or the one wanted.
        least: Fewer are not looked for.
        deadline: Looked at between ways of sharing out; told of an interruption, after which what stands is returned.
        progress: Told what is found.
    """
    fit, reasons = Fit(now), list[Reason]()
    try:
        first = _first(now, range(most, max(0, least - 1), -1), MOVES[:1], deadline, progress, reasons)
        fit = replace(fit, first=first, reasons=tuple(reasons))
        top = most
        for effort in range(3):  # the first count alone; all that points leave; all that ranges leave
            if fit.packed >= most or deadline.passed():
                break
            if effort:
                fit = _ruled_out(fit, most, least, deep=effort > 1)
                most = fit.proven.modules if fit.proven else most
            if now.homeless:
                continue
            if effort == 1:
                most = min(most, upper_bound(now.case, fit.packed).modules)
            lowest = max(fit.packed, least - 1)
            if effort == 0:
                counts = range(most, most - 1, -1)
            elif effort == 1:
                counts = range(min(most, top - 1), lowest, -1)  # the first was looked for before
            else:
                counts = range(most, lowest, -1)
            fit = _harder(fit, burden, counts, effort > 1, deadline, progress)
    except KeyboardInterrupt:
        deadline.stopped = "interrupted"
        progress("interrupted: verifying the best so far")
    return fit


def _ruled_out(fit: Fit, most: int, least: int, deep: bool) -> Fit:
    """The same, with the counts struck off that are proven to have no room."""
    now = fit.now
    named = tuple(p.name for p in now.parts) if now.homeless else None
    proven = limit(now.case, most, max(fit.packed, least - 1), now.held, named, deep)
    if proven is None:
        return fit
    # the proof says it once for all ways of sharing out
    return replace(fit, proven=proven, reasons=tuple(r for r in fit.reasons if r[0] <= proven.modules))


def _harder(
    fit: Fit, burden: Sequence[MassItem], counts: range, deep: bool, deadline: Deadline, progress: Progress
) -> Fit:
    """The same, with a layout of one of these counts where one stands closer to walls than cells can tell."""
    now = fit.now
    closer = now if now.close or not counts else closer_setting(now.case, burden, now.seed, now.held)
    if closer is None or not counts:
        return fit
    progress("again, closer to the walls")
    turn, moves = replace(closer, fine=deep), MOVES[1:] if deep else MOVES[:1]
    better = _first(turn, counts, moves, deadline, progress, [])
    return replace(fit, now=closer, first=better) if better else fit


def _first(
    now: Setting,
    counts: range,
    moves: Sequence[int],
    deadline: Deadline,
    progress: Progress,
    reasons: list[Reason],
) -> Scored | None:
    """A layout with the first count, from the most down, that holds outside the search; reasons are added to."""
    for count in counts:
        failed: list[Failed] = []
        found = first_valid(now, count, moves, deadline, failed)
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


def closer_setting(case: Case, burden: Sequence[MassItem], seed: int, held: Layout | None) -> Setting | None:
    """The same with places close to walls; where a scan has too many triangles for that, on finer cells."""
    names = [space.zone for space in spaces_of(case)]
    if all(shell(case, name) for name in names):
        return setting(case, burden, seed, held, close=True)
    if sum(space.free.size for space in spaces_of(case)) * 8 <= MOST_CELLS:
        return setting(case, burden, seed, held, FINE_MM)
    return None


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
