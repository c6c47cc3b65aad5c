"""One count of modules at a time: starts for each way of sharing them out, improved, polished, verified.

Everything is counted in starts and rounds. Wall time is looked at between jobs only, and said when it ended one.
"""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from functools import cache, partial
from itertools import islice
from time import monotonic

import numpy as np

from packlayout.model.brief import Case
from packlayout.model.check import Check
from packlayout.model.geometry import Box, MassItem
from packlayout.model.layout import Layout
from packlayout.placement import aims
from packlayout.placement.archive import OFFERED, choice, in_turn, side_of, structure, titled, unbeaten
from packlayout.placement.blocks import may_stand, splits
from packlayout.placement.board import Board, to_layout
from packlayout.placement.clear import PITCH_MM, spaces_of
from packlayout.placement.entities import Entity, block_entities, joined, locked_blocks, part_entities
from packlayout.placement.polish import polished
from packlayout.placement.proof import ruled_out
from packlayout.placement.result import Scored
from packlayout.placement.search import improve, run_start, settle
from packlayout.placement.together import Together
from packlayout.placement.verify import check_layout
from packlayout.placement.walls import points_in
from packlayout.space.cells import Space

STARTS, STARTS_WHEN_SPLIT, TRIES = 18, 10, 3
"""Full boards wanted for each way of sharing out, and how many starts are made for each at the most."""
MOVES, GIVE_UP = (80, 1500), 2
"""How many things are moved to make room: at first in every way of sharing out, then where none was found; and
after how many starts without a full board a way of sharing out is left."""
MOST_SPLITS, MOST_SINGLES = 8, 40
EXPLORE_MOVES = 300
KEPT = 14
TURNS = ((40, KEPT, True), (300, 6, False), (120, OFFERED, True))
"""Rounds of improvement, of how many structures, and whether blocks keep their form. Blocks free to take another form
find the best of several blocks whatever the starts were: without it seeds differ by twice as much."""
LEAN = 12.0  # times as much as the brief asks for
Progress = Callable[[str], None]
Best = dict[str, tuple[float, Board]]
"""Structure -> the least sum of aims with it, and its board."""
Stance = tuple[tuple[int, int, int, str], ...]
"""Of each thing its number, form, zone and side of the pack."""
Failed = tuple[tuple[int, ...], tuple[str, ...]]
"""A way of sharing out, and the names of what found no room."""


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
        close: Whether things may stand close to walls, where cells are too coarse to tell.
        fine: Whether, close to walls, what is left undecided is looked at closer (`closer`), which takes longer.
    """

    case: Case
    spaces: tuple[Space, ...]
    goal: aims.Targets
    parts: tuple[Entity, ...]
    homeless: tuple[Entity, ...]
    held: Layout | None
    seed: int
    close: bool = False
    fine: bool = True


def setting(
    case: Case, burden: Sequence[MassItem], seed: int, held: Layout | None = None, pitch_mm: float = PITCH_MM,
    close: bool = False,
) -> Setting:  # fmt: skip
    """Cells, aims and places of the parts for one case."""
    spaces = spaces_of(case, pitch_mm)
    every = part_entities(case, spaces, held, close)
    return Setting(
        case, spaces, aims.targets(case, burden), tuple(p for p in every if len(p.pos)),
        tuple(p for p in every if not len(p.pos)), held, seed, close,
    )  # fmt: skip


def shares(now: Setting, count: int, most: int | None = MOST_SPLITS) -> Iterator[tuple[int, ...]]:
    """Ways to share out this many modules that are not proven impossible, few and compact blocks first.

    Locked blocks are not among them.

    Args:
        now: The setting.
        count: Modules, those of locked blocks among them.
        most: So many ways at the most, those left out that the blocks alone rule out on the cells; None: all that
            are not ruled out for any place at all.
    """
    case = now.case
    order = case.brief.modules
    locked = locked_blocks(now.held)
    rest, blocks = count - sum(len(b.modules) for b in locked), order.blocks_at_most - len(locked)
    if rest == 0 and locked:
        yield ()
        return
    if rest < 0 or (blocks <= 0 and not order.loose):
        return
    every = sorted(splits(rest, max(1, blocks)), key=lambda s: (len(s), sum(_bulk(n) for n in s)))
    if most is None:
        yield from (s for s in every if not now.close or not ruled_out(case, s, now.held, deep=now.fine))
    else:
        # close to walls the cells prove nothing, but the points do
        grids = [points_in(case, s.zone)[0] for s in now.spaces] if now.close else now.spaces
        yield from islice((s for s in every if len(s) == 1 or may_stand(case, grids, s)), most)
    if order.loose:
        known = set(splits(rest, max(1, blocks)))
        for n in range(rest - 1, 0, -1):
            split = (n, *([1] * (rest - n)))
            if split not in known and rest - n < MOST_SINGLES:
                yield split


@cache
def _bulk(count: int) -> int:
    """How compact the most compact block of so many modules is: its rows, columns and layers together."""
    return min(
        a + b + count // a // b
        for a in range(1, count + 1)
        if count % a == 0
        for b in range(1, count // a + 1)
        if count // a % b == 0
    )


def start_boards(
    now: Setting, split: tuple[int, ...], starts: int, moves: int = MOVES[-1]
) -> tuple[list[Board], tuple[str, ...]]:
    """Seeded starts for one way of sharing out.

    Args:
        now: The setting.
        split: Modules of each block.
        starts: Full boards wanted.
        moves: See `MOVES`; the fewest in starts that hold a block to one form.

    Returns:
        Full boards, and what found no room in the last start that failed.
    """
    case = now.case
    things = joined(block_entities(case, now.spaces, split, now.held, now.close), now.parts)
    empty = tuple(t.name for t in things if not len(t.pos))
    if empty:
        return [], empty
    rng = np.random.default_rng([now.seed, *split])
    loose = [t for t in things if not t.fixed and t.modules]
    boards: list[Board] = []
    stuck: tuple[str, ...] = ()
    tried: Together | None = None
    # at first free in all forms, until one stands or it is given up
    for _ in range(GIVE_UP if loose and starts > 1 else 1):
        outcome, tried = run_start(case, things, now.goal, rng, None, moves, tried, starts == 1, now.fine)
        if isinstance(outcome, Board):
            boards.append(outcome)
            break
        stuck = stuck or outcome
        if tried is not None and tried.sure:
            return [], stuck
    if not boards or starts == 1 or not loose:
        return boards, stuck
    forms = _form_order(loose[0], rng)
    if len(split) == 1:
        starts = max(starts, len(forms))  # each form its own start
    # then each holds the first block to one form; one that does not stand twice, or surely cannot, is left
    failed = dict.fromkeys(forms, 0)
    known: dict[int, Together | None] = dict.fromkeys(forms)
    for n in range(TRIES * starts):
        form = forms[n % len(forms)]
        if len(boards) >= starts or min(failed.values()) > 1:
            break
        if failed[form] > 1:
            continue
        outcome, known[form] = run_start(
            case, things, now.goal, rng, form, MOVES[0], known[form], False, now.fine
        )
        made = known[form]
        if isinstance(outcome, Board):
            boards.append(outcome)
        else:
            failed[form] += 2 if made is not None and made.sure else 1
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
) -> tuple[list[Board], list[Failed]]:
    """Boards for one count: starts for each way of sharing out, then the best of each structure improved.

    Returns:
        Boards, best of each structure, and for each way of sharing out that failed what found no room.
    """
    best: Best = {}
    failed: list[Failed] = []
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
    return [best[words][1] for words in in_turn({w: worth for w, (worth, _) in best.items()})], failed


def _start(now: Setting, count: int, deadline: Deadline, best: Best, failed: list[Failed]) -> None:
    for split in shares(now, count):
        if deadline.passed():
            return
        starts = STARTS if len(split) <= 1 else STARTS_WHEN_SPLIT
        boards, stuck = start_boards(now, split, starts, EXPLORE_MOVES)
        if not boards:
            failed.append((split, stuck))
        keep = partial(_keep, now, best, {})
        for board in boards:
            keep(board)
        if best and now.case.brief.modules.loose:
            return


def _better(now: Setting, count: int, deadline: Deadline, best: Best) -> None:
    for turn, (rounds, most, held) in enumerate(TURNS):
        chosen = in_turn({words: worth for words, (worth, _) in best.items()})[:most]
        for n, board in enumerate([best[words][1] for words in chosen]):
            if deadline.passed():
                return
            rng = np.random.default_rng([now.seed, count, turn, n])
            keep = partial(_keep, now, best, {})
            keep(improve(board, rng, rounds, keep, held))


def _keep(now: Setting, best: Best, known: dict[Stance, str], board: Board) -> None:
    """Keep a board that is the best of its structure; `known` are the words of stances of the same things."""
    stance, worth = _stance(board), board.total()
    if stance not in known:
        known[stance] = structure(to_layout(now.case, board, now.spaces))
    key = known[stance]
    if key not in best or worth < best[key][0]:
        best[key] = (worth, board)


def _stance(board: Board) -> Stance:
    """All of a board that its structure tells: form and zone of each thing, and the side of the pack it stands on."""
    pack, stance = board.modules_box(), []
    for i, spot in board.spots.items():
        beside = not board.things[i].modules and spot.zone == board.spots[0].zone
        x0, y0, z0, x1, y1, z1 = board.box(i)
        side = side_of(Box((x0, y0, z0), (x1, y1, z1)), pack) if pack and beside else ""
        stance.append((i, spot.form, spot.zone, side))
    return tuple(sorted(stance))


def verified(
    now: Setting, boards: Sequence[Board], most: int = OFFERED
) -> tuple[tuple[Scored, ...], list[str]]:
    """Boards polished, chosen and checked outside the search.

    Returns:
        Layouts that hold, best first, with titles; and for each that was dropped its structure and why.
    """
    pool: list[tuple[Scored, Scored]] = []
    for n, board in enumerate(boards[: 2 * KEPT]):
        rough = scored_of(now, board)
        pool.append((scored_of(now, polished(board, now.spaces)), rough))
        if most > 1 and n < KEPT:
            pool += [(scored_of(now, other), rough) for other in leaning(board, now.spaces)]
    order = choice(now.case, unbeaten([fine for fine, _ in pool]))
    behind = {id(fine): rough for fine, rough in pool}
    good: list[Scored] = []
    bad: list[str] = []
    for scored in order:
        fault = ""
        for tried in (scored, behind[id(scored)]):
            failed = [c for c in check_layout(now.case, tried.layout) if c.verdict == "fail"]
            if not failed or only_fixed(now.case, failed, tried.layout):
                good.append(tried)
                break
            fault = fault or failed[0].title
        else:
            bad.append(f"{scored.structure}: {fault}")
        if len(good) >= most:
            break
    if not good and len(pool) > len(order):
        # all that were chosen failed outside: what they had beaten may hold
        rest = [fine for fine, _ in pool if fine not in order]
        for scored in sorted(rest, key=lambda s: s.score):
            if not [c for c in check_layout(now.case, scored.layout) if c.verdict == "fail"]:
                good.append(scored)
                break
    good.sort(key=lambda s: (s.score, s.structure))
    return titled(now.case, good), bad


def leaning(board: Board, spaces: Sequence[Space]) -> list[Board]:
    """The same structure drawn towards each aim in turn, so that it can be offered for what it does best."""
    made: list[Board] = []
    for k in np.flatnonzero(board.weight):
        other = board.copy()
        other.weight[k] *= LEAN
        settle(other, 1)
        made.append(polished(other, spaces))
    return made


def only_fixed(case: Case, failed: Sequence[Check], layout: Layout) -> bool:
    """Faults of parts that the user put in place are the user's to see, not a reason to drop a layout."""
    fixed = {order.name or case.parts[order.part].name for order in case.brief.parts if order.fixed}
    fixed |= {p.name for p in layout.placements if p.locked}
    return all(any(name in check.title for name in fixed) for check in failed)


def first_valid(
    now: Setting, count: int, moves: Sequence[int] = MOVES, deadline: Deadline | None = None,
    failed: list[Failed] | None = None,
) -> Scored | None:  # fmt: skip
    """The first layout with this many modules that holds outside.

    Args:
        now: The setting.
        count: Modules.
        moves: See `MOVES`; with the last of them all is looked at as closely as the setting allows.
        deadline: Looked at between ways of sharing out.
        failed: Filled with the ways of sharing out that came to nothing, and what found no room.
    """
    for n, most in enumerate(moves):
        turn = replace(now, fine=now.fine and n == len(moves) - 1)
        for split in shares(turn, count, None):
            if deadline is not None and deadline.passed():
                return None
            boards, stuck = start_boards(turn, split, 1, most)
            good, _ = verified(now, boards, 1)
            if good:
                return good[0]
            if failed is not None and n == 0:
                failed.append((split, stuck))
    return None
