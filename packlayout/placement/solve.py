"""One count of modules at a time: starts for each way of sharing them out, improved, polished, verified.

Everything is counted in starts and rounds. Wall time is looked at between jobs only, and said when it ended one.
"""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from itertools import islice
from time import monotonic

import numpy as np

from packlayout.model.brief import Case
from packlayout.model.check import Check
from packlayout.model.geometry import MassItem
from packlayout.model.layout import Layout
from packlayout.placement import aims
from packlayout.placement.archive import OFFERED, choice, ranked, structure, titled
from packlayout.placement.blocks import may_stand, splits
from packlayout.placement.board import Board, to_layout
from packlayout.placement.clear import PITCH_MM, spaces_of
from packlayout.placement.entities import Entity, block_entities, joined, locked_blocks, part_entities
from packlayout.placement.polish import polished
from packlayout.placement.result import Scored
from packlayout.placement.search import improve, run_start
from packlayout.placement.verify import check_layout
from packlayout.space.cells import Space

STARTS, STARTS_WHEN_SPLIT, TRIES = 18, 10, 3
"""Full boards wanted for each way of sharing out, and how many starts are made for each at the most."""
MOST_SPLITS, MOST_SINGLES = 6, 40
ROUNDS, MORE_ROUNDS = 25, 60
KEPT = 14
Progress = Callable[[str], None]


class Deadline:
    """Wall time, looked at between jobs; `stopped` says in words why the search ended early."""

    def __init__(self, limit_s: float | None) -> None:
        self._end = None if limit_s is None else monotonic() + limit_s
        self.stopped = ""

    def passed(self) -> bool:
        """Whether to stop; once it has, it stays so."""
        if not self.stopped and self._end is not None and monotonic() > self._end:
            self.stopped = "time limit"
        return bool(self.stopped)


@dataclass(frozen=True, slots=True, eq=False)
class Setting:
    """What stays the same over all counts.

    Attributes:
        case: The case.
        spaces: Cells of its zones.
        goal: What the aims are measured against.
        parts: The other parts that have a place at all.
        homeless: Those that have none.
        held: Layout whose locked parts stay.
        seed: Of all chance.
    """

    case: Case
    spaces: tuple[Space, ...]
    goal: aims.Targets
    parts: tuple[Entity, ...]
    homeless: tuple[Entity, ...]
    held: Layout | None
    seed: int


def setting(
    case: Case, burden: Sequence[MassItem], seed: int, held: Layout | None = None, pitch_mm: float = PITCH_MM
) -> Setting:
    """Cells, aims and places of the parts for one case."""
    spaces = spaces_of(case, pitch_mm)
    every = part_entities(case, spaces, held)
    return Setting(
        case, spaces, aims.targets(case, burden), tuple(p for p in every if len(p.pos)),
        tuple(p for p in every if not len(p.pos)), held, seed,
    )  # fmt: skip


def shares(now: Setting, count: int) -> Iterator[tuple[int, ...]]:
    """Ways to share out this many modules that are not proven impossible; locked blocks are not among them."""
    case = now.case
    order = case.brief.modules
    locked = locked_blocks(now.held)
    rest, blocks = count - sum(len(b.modules) for b in locked), order.blocks_at_most - len(locked)
    if rest == 0 and locked:
        yield ()
        return
    if rest < 0 or (blocks <= 0 and not order.loose):
        return
    made = (s for s in splits(rest, max(1, blocks)) if may_stand(case, now.spaces, s))
    yield from islice(made, MOST_SPLITS)
    if order.loose:
        known = set(splits(rest, max(1, blocks)))
        for n in range(rest - 1, 0, -1):
            split = (n, *([1] * (rest - n)))
            if split not in known and rest - n < MOST_SINGLES:
                yield split


def start_boards(now: Setting, split: tuple[int, ...], starts: int) -> tuple[list[Board], tuple[str, ...]]:
    """Seeded starts for one way of sharing out.

    Returns:
        Full boards, and what found no room in the last start that failed.
    """
    case = now.case
    things = joined(block_entities(case, now.spaces, split, now.held), now.parts)
    empty = tuple(t.name for t in things if not len(t.pos))
    if empty:
        return [], empty
    rng = np.random.default_rng([now.seed, *split])
    loose = [t for t in things if not t.fixed and t.modules]
    forms: list[int | None] = [*_form_order(loose[0], rng)] if loose else [None]
    boards: list[Board] = []
    stuck: tuple[str, ...] = ()
    if starts > 1 and len(split) == 1:
        starts = max(starts, len(forms))  # each form its own start
    for n in range((TRIES * starts) if loose else 2):
        if len(boards) >= starts:
            break
        outcome = run_start(case, things, now.goal, rng, forms[n % len(forms)])
        if isinstance(outcome, Board):
            boards.append(outcome)
        else:
            stuck = outcome
    return boards, stuck


def _form_order(block: Entity, rng: np.random.Generator) -> list[int]:
    """Forms of a block that have an anchor at all, the most compact first, ties shuffled."""
    able = np.unique(block.form)
    spread = {int(f): max(block.forms[f].size) for f in able}
    return sorted(spread, key=lambda f: (spread[f], rng.random()))


def scored_of(now: Setting, board: Board) -> Scored:
    """A full board as a layout with its figures."""
    layout = to_layout(now.case, board, now.spaces)
    figures = aims.objectives(now.case, layout, now.goal)
    return Scored(layout, figures, aims.score(now.case, figures), structure(layout))


def explore(
    now: Setting, count: int, deadline: Deadline, progress: Progress
) -> tuple[list[Board], list[tuple[tuple[int, ...], tuple[str, ...]]]]:
    """Boards for one count: starts for each way of sharing out, then the best of each structure improved.

    Returns:
        Boards, best of each structure, and for each way of sharing out that failed what found no room.
    """
    best: dict[str, tuple[float, Board]] = {}
    failed: list[tuple[tuple[int, ...], tuple[str, ...]]] = []
    try:
        _start(now, count, deadline, best, failed)
        if best:
            progress(f"{count} modules, best score {min(v for v, _ in best.values()):.3f}")
        _better(now, count, deadline, best)
        if best:
            least = min(v for v, _ in best.values())
            progress(f"{count} modules, best score {least:.3f}, {len(best)} structures")
    except KeyboardInterrupt:
        deadline.stopped = "interrupted"
        progress("interrupted: verifying the best so far")
    return [board for _, (_, board) in sorted(best.items(), key=lambda kv: (kv[1][0], kv[0]))], failed


def _start(
    now: Setting, count: int, deadline: Deadline, best: dict[str, tuple[float, Board]],
    failed: list[tuple[tuple[int, ...], tuple[str, ...]]],
) -> None:  # fmt: skip
    for split in shares(now, count):
        if deadline.passed():
            return
        boards, stuck = start_boards(now, split, STARTS if len(split) <= 1 else STARTS_WHEN_SPLIT)
        if not boards:
            failed.append((split, stuck))
        for board in boards:
            _keep(now, best, board)
        if best and now.case.brief.modules.loose:
            return


def _better(now: Setting, count: int, deadline: Deadline, best: dict[str, tuple[float, Board]]) -> None:
    for rounds, most in ((ROUNDS, KEPT), (MORE_ROUNDS, OFFERED)):
        chosen = sorted(best.items(), key=lambda kv: (kv[1][0], kv[0]))[:most]
        for n, (_, (_, board)) in enumerate(chosen):
            if deadline.passed():
                return
            rng = np.random.default_rng([now.seed, count, rounds, n])
            _keep(now, best, improve(board, rng, rounds))


def _keep(now: Setting, best: dict[str, tuple[float, Board]], board: Board) -> None:
    key, worth = structure(to_layout(now.case, board, now.spaces)), board.total()
    if key not in best or worth < best[key][0]:
        best[key] = (worth, board)


def verified(
    now: Setting, boards: Sequence[Board], most: int = OFFERED
) -> tuple[tuple[Scored, ...], list[str]]:
    """Boards polished, chosen and checked outside the search.

    Returns:
        Layouts that hold, best first, with titles; and for each that was dropped its structure and why.
    """
    smooth: dict[str, tuple[Scored, Scored]] = {}
    for board in boards[: 2 * KEPT]:
        rough = scored_of(now, board)
        fine = scored_of(now, polished(board, now.spaces))
        smooth[fine.structure] = (fine, rough)
    order = choice(now.case, ranked([fine for fine, _ in smooth.values()]))
    good: list[Scored] = []
    bad: list[str] = []
    for scored in order:
        fault = ""
        for tried in smooth[scored.structure]:
            failed = [c for c in check_layout(now.case, tried.layout) if c.verdict == "fail"]
            if not failed or only_fixed(now.case, failed, tried.layout):
                good.append(tried)
                break
            fault = fault or failed[0].title
        else:
            bad.append(f"{scored.structure}: {fault}")
        if len(good) >= most:
            break
    if not good and len(boards) > len(order):
        # all that were chosen failed outside: what they had beaten may hold
        rest = [s for s, _ in smooth.values() if s not in order]
        for scored in sorted(rest, key=lambda s: s.score):
            if not [c for c in check_layout(now.case, scored.layout) if c.verdict == "fail"]:
                good.append(scored)
                break
    good.sort(key=lambda s: (s.score, s.structure))
    return titled(now.case, good), bad


def only_fixed(case: Case, failed: Sequence[Check], layout: Layout) -> bool:
    """Faults of parts that the user put in place are the user's to see, not a reason to drop a layout."""
    fixed = {order.name or case.parts[order.part].name for order in case.brief.parts if order.fixed}
    fixed |= {p.name for p in layout.placements if p.locked}
    return all(any(name in check.title for name in fixed) for check in failed)


def first_valid(now: Setting, count: int) -> Scored | None:
    """The first layout with this many modules that holds outside; for trying a changed job."""
    for split in shares(now, count):
        boards, _ = start_boards(now, split, 1)
        good, _ = verified(now, boards, 1)
        if good:
            return good[0]
    return None
