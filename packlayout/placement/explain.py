"""Why not one more: the smallest single changes to the job that let another module in, each solved again.

A change is first tried on the modules alone, over half-space tables: where they cannot stand, nothing can. What
passes is solved whole with the change taken as far as it may go. How little of it the layout found then needs is
asked of the exact check outside the search, and the job is solved again with half of that, as long as it holds, and
once more with what is told.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

from packlayout.model.brief import Case
from packlayout.model.geometry import MassItem
from packlayout.model.layout import Layout
from packlayout.placement.blocks import may_stand, splits
from packlayout.placement.clear import space_of
from packlayout.placement.levers import (
    FARTHEST_MM,
    Lever,
    Surface,
    clearances,
    gone,
    other_blocks,
    other_parts,
    other_sides_up,
    other_zones,
    shifts,
    surfaces,
    without,
)  # fmt: skip
from packlayout.placement.result import Change
from packlayout.placement.solve import MOVES, Deadline, first_valid, setting
from packlayout.placement.verify import check_layout

FINEST_MM = 5.0
MOST_WHOLE, MOST_MAY = 28, 80  # solves and looks, so that the answer comes in reasonable time
KEPT_BACK = 5
"""Solves kept for changes that are about to be told."""
SMALL_MM = 15.0
"""A change as small as this is not tried smaller by another solve."""


@dataclass(frozen=True, slots=True)
class Explained:
    """Why not one more.

    Attributes:
        changes: Single changes that let it in, lengths first, smallest first.
        tried: What was tried, in words; `changes` is empty when none of it helps.
    """

    changes: tuple[Change, ...]
    tried: str


class _Tries:
    """Solves changed jobs and counts how often."""

    def __init__(
        self, burden: Sequence[MassItem], seed: int, count: int, deadline: Deadline, held: Layout | None
    ) -> None:
        self.burden, self.seed, self.count, self.deadline, self.held = burden, seed, count, deadline, held
        self.left, self.looks = MOST_WHOLE, MOST_MAY
        self.tried: list[str] = []

    def may(self, case: Case) -> bool:
        """Whether the modules alone may stand; False is a proof on the cells."""
        order = case.brief.modules
        if self.looks <= 0:
            return True
        self.looks -= 1
        if order.loose or self.held is not None:
            return True
        spaces = [space_of(case, zone) for zone in order.zones]
        return any(may_stand(case, spaces, s) for s in splits(self.count, order.blocks_at_most))

    def note(self, what: str) -> None:
        """Remember what is tried, as long as there is a try left for it."""
        if self.left > 0 and not self.deadline.passed():
            self.tried.append(what)

    def whole(self, case: Case) -> Layout | None:
        """A layout in which everything stands and holds outside the search."""
        if self.left <= 0 or self.deadline.passed() or not self.may(case):
            return None
        self.left -= 1
        found = first_valid(setting(case, self.burden, self.seed, self.held), self.count, MOVES[:1])
        return found.layout if found is not None else None


def _holds(case: Case, layout: Layout) -> bool:
    return not any(check.verdict == "fail" for check in check_layout(case, layout))


def _least(make: Callable[[float], Case], layout: Layout, most: float) -> float | None:
    """The least of a change with which a layout holds, in steps of 5 mm; None when not even all of it will do."""
    if not _holds(make(most), layout):
        return None
    low, high = 0, round(most / FINEST_MM)
    while high - low > 1:
        middle = (low + high) // 2
        low, high = (low, middle) if _holds(make(middle * FINEST_MM), layout) else (middle, high)
    return min(most, high * FINEST_MM)


def explain(
    case: Case,
    burden: Sequence[MassItem],
    seed: int,
    count: int,
    deadline: Deadline,
    held: Layout | None = None,
) -> Explained:
    """Single changes that let this many modules in, and what was tried.

    Args:
        case: The job as it is.
        burden: As for `place`.
        seed: As for `place`.
        count: One more than was placed.
        deadline: Stops between two tries.
        held: A layout whose locked parts stay.

    Returns:
        Each was solved again and held outside the search.
    """
    tries = _Tries(burden, seed, count, deadline, held)
    hits: list[_Hit] = []
    for lever in clearances(case):
        hits += _first(tries, lever)
    for surface in surfaces(case):
        hits += [
            replace(hit, surface=surface)
            for hit in _first(tries, surface.between(surface.stops[0], surface.stops[-1]))
        ]
    for name in case.keep_outs:
        hits += _keep_out(case, tries, name)
    found = [hit for hit in hits if hit.size > 0]
    told = [hit.change(tries.count) for hit in hits if hit.size == 0]
    for lever in (*other_sides_up(case), *other_blocks(case), *other_zones(case)):
        told += _switched(tries, lever)
    if tries.may(case):  # else no other part is in the way: the modules alone find no room
        for lever in other_parts(case):
            told += _switched(tries, lever)
    found = _refined(tries, found)
    for hit in sorted(found, key=lambda h: (h.size, h.lever.say(h.size))):
        told.append(_between_few(_confirmed(tries, hit)).change(tries.count))
    ranked = sorted(told, key=lambda c: (c.size_mm == 0, c.size_mm, c.words))
    return Explained(tuple(ranked), "; ".join(tries.tried))


def changes(
    case: Case, burden: Sequence[MassItem], seed: int, count: int, deadline: Deadline
) -> tuple[Change, ...]:
    """The changes of `explain`."""
    return explain(case, burden, seed, count, deadline).changes


def nothing_helps(count: int, tried: str) -> str:
    """What is said when no single change lets one more in."""
    what = f" Tried, each by itself: {tried}." if tried else ""
    return f"No single change was found that lets {count} modules in.{what}"


def _said(words: str, count: int) -> str:
    return f"{words}: {count} modules then fit."


@dataclass(frozen=True, slots=True, eq=False)
class _Hit:
    """A change that was found to do.

    Attributes:
        lever: Which.
        size: How much of it the layout needs, mm; 0 for one without a size.
        layout: That holds with it.
        solved: The size at which the layout was found.
        surface: The side of a zone that it moves, if it is one.
    """

    lever: Lever
    size: float
    layout: Layout
    solved: float
    surface: Surface | None = None

    def change(self, count: int) -> Change:
        """The same in words."""
        return Change(_said(self.lever.say(self.size), count), self.size, count, self.lever.kind)


def _first(tries: _Tries, lever: Lever) -> list[_Hit]:
    """A change that has a size, taken as far as it may go, and how much of it was needed."""
    tries.note(lever.tried)
    layout = tries.whole(lever.make(lever.most_mm))
    size = None if layout is None else _least(lever.make, layout, lever.most_mm)
    return [] if layout is None or size is None else [_Hit(lever, size, layout, lever.most_mm)]


def _refined(tries: _Tries, hits: list[_Hit]) -> list[_Hit]:
    """The same changes solved again with half of each, as long as that does; the largest first, each in its turn."""
    open_ = sorted(hits, key=lambda h: (-h.size, h.lever.say(h.size)))
    done: list[_Hit] = []
    while open_ and tries.left > KEPT_BACK:
        hit = open_.pop(0)
        half = max(FINEST_MM, round(hit.size / 2 / FINEST_MM) * FINEST_MM)
        small = hit.size <= min(SMALL_MM, hit.lever.most_mm / 4) or half >= hit.size
        layout = None if small else tries.whole(hit.lever.make(half))
        size = None if layout is None else _least(hit.lever.make, layout, half)
        if layout is None or size is None:
            done.append(hit)
        else:
            open_.append(replace(hit, size=size, layout=layout, solved=half))
    return [*done, *open_]


def _confirmed(tries: _Tries, hit: _Hit) -> _Hit:
    """The same change at the size that is told, or a little more, solved again from nothing."""
    for more in (0.0, FINEST_MM, 2 * FINEST_MM):
        size = hit.size + more
        if size >= hit.solved - 1e-9:
            return replace(hit, size=hit.solved)
        if tries.left <= 0:
            break
        layout = tries.whole(hit.lever.make(size))
        if layout is not None:
            return replace(hit, size=size, layout=layout, solved=size)
    return hit


def _between_few(hit: _Hit) -> _Hit:
    """A side of a zone moved between as few stations as the layout needs."""
    if hit.surface is None:
        return hit
    stops, between = hit.surface.stops, hit.surface.between
    first, last = 0, len(stops) - 1
    while last - first > 1 and _holds(between(stops[first + 1], stops[last]).make(hit.size), hit.layout):
        first += 1
    while last - first > 1 and _holds(between(stops[first], stops[last - 1]).make(hit.size), hit.layout):
        last -= 1
    return replace(hit, lever=between(stops[first], stops[last]))


def _keep_out(case: Case, tries: _Tries, name: str) -> list[_Hit]:
    """A keep-out moved the shortest way that lets a layout found without it stand."""
    tries.note(f"{name} moved up to {FARTHEST_MM:.0f} mm any way, or gone")
    layout = tries.whole(without(case, name))
    if layout is None:
        return []
    best: tuple[float, Lever] | None = None
    for lever in shifts(case, name):
        size = _least(lever.make, layout, FARTHEST_MM if best is None else best[0])
        if size is not None and (best is None or size < best[0]):
            best = (size, lever)
    if best is None:
        return [_Hit(gone(case, name), 0.0, layout, 0.0)]
    return [_Hit(best[1], best[0], layout, FARTHEST_MM)]


def _switched(tries: _Tries, lever: Lever) -> list[Change]:
    """A change that is made or not."""
    tries.note(lever.tried)
    layout = tries.whole(lever.make(0.0))
    return [] if layout is None else [_Hit(lever, 0.0, layout, 0.0).change(tries.count)]
