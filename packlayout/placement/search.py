"""The search: seeded starts, greedy insertion at the best anchor, then taking a few things out and putting them back.

Where greedy insertion fails, room is made for all at once (`untangle`). Budgets are counted in starts, sweeps,
moves and rounds, never in seconds, so that a seed gives one answer on any machine.
"""

from collections.abc import Callable, Sequence
from dataclasses import replace

import numpy as np

from packlayout.model.brief import Case
from packlayout.placement import aims
from packlayout.placement.board import Board, Spot
from packlayout.placement.entities import Entity
from packlayout.placement.together import Together, held_to, together
from packlayout.placement.untangle import untangled

SWEEPS = 3
TAKEN = (3, 5)
"""So many things are taken out at once at the most: with blocks held to their form, and free to take another, which
moves what stands about them as well."""
RETRIES = 2
PRESS = 1.0
SEEN_WITHIN = 1.5
JITTER = 0.6
"""How much chance goes into a choice: this share of the sum of aims that a shop would trade."""


def _on_pack(thing: Entity) -> bool:
    return thing.order is not None and thing.order.on_pack


def _by_need(things: Sequence[Entity], which: Sequence[int]) -> list[int]:
    """Blocks first, then what sits on them, then what has the fewest places."""
    return sorted(
        which, key=lambda i: (not things[i].modules, not _on_pack(things[i]), len(things[i].pos), i)
    )


def run_start(
    case: Case, things: Sequence[Entity], goal: aims.Targets, rng: np.random.Generator, block_form: int | None,
    moves: int, tried: Together | None = None, sides_first: bool = True, fine: bool = True,
) -> tuple[Board | tuple[str, ...], Together | None]:  # fmt: skip
    """One start: insert all at their best places, or make room for all at once; then sweep.

    What finds no room comes earlier at the next try.

    Args:
        case: The case.
        things: What to place.
        goal: What to aim at.
        rng: Source of variation.
        block_form: Form the first block that is not fixed is held to; None: any.
        moves: How many things are moved at the most to make room.
        tried: What the search over sides made of the same things held to the same form, where that is known.
        sides_first: Whether room is made by the search over sides first, which always gives the same board, or by
            moving things, which gives many.
        fine: Whether that search may look closer at what it leaves undecided, see `together`.

    Returns:
        The board with everything on it, or the names of what found no room; and what the search over sides made of
        it, once it was asked.
    """
    loose = [i for i, t in enumerate(things) if t.modules and not t.fixed]
    held = _held(things, loose[0], block_form) if loose and block_form is not None else things
    found = _greedy(case, held, goal, rng)
    left: tuple[str, ...] = ()
    if isinstance(found, tuple):
        partial, left = found
        if partial is None:
            return left, tried
        # all at once: by the search over sides, or by moving things until none meet, or by the other of the two
        full = None if sides_first or (tried and tried.sure) else untangled(partial, rng, moves)
        if full is None:
            tried = tried or together(case, held, goal, fine=fine)
            if tried.board is not None:
                full = tried.board.copy()
            elif sides_first and not tried.sure:
                full = untangled(tried.near or partial, rng, moves)
    else:
        full = found
    if full is None:
        return left, tried
    sweep(full)
    board = Board(case, things, goal)
    board.spots = full.spots
    return board, tried


def _held(things: Sequence[Entity], which: int, form: int) -> tuple[Entity, ...]:
    """The things, one of them with the anchors of one form alone."""
    rows = things[which].form == form
    kept = replace(
        things[which],
        pos=things[which].pos[rows],
        form=things[which].form[rows],
        zone=things[which].zone[rows],
        stands=held_to(things[which], form),
    )
    return tuple(kept if i == which else t for i, t in enumerate(things))


def _greedy(
    case: Case, things: Sequence[Entity], goal: aims.Targets, rng: np.random.Generator
) -> Board | tuple[Board | None, tuple[str, ...]]:
    """A full board; or the fullest one and the name of what found no room; none when what is fixed meets."""
    fixed = [i for i, t in enumerate(things) if t.fixed]
    order = _by_need(things, [i for i, t in enumerate(things) if not t.fixed])
    left: tuple[str, ...] = ()
    press = 0.0
    partial: Board | None = None
    for attempt in range(RETRIES):
        board = Board(case, things, goal)
        missing: list[int] = []
        for i in (*fixed, *order):
            scale = 0.0 if i in fixed else JITTER * (attempt + 1)
            noise = rng.random(len(things[i].pos)) * scale
            if things[i].modules and len(noise):
                noise += press * (things[i].pos[:, 2] - things[i].pos[:, 2].min()) / aims.HEIGHT_MM
            if not board.insert(i, None, noise):
                if i in fixed:
                    return None, (things[i].name,)
                missing.append(i)
        if not missing:
            return board
        left = (things[missing[0]].name,)
        # what sits on a block finds no room: the block goes lower at the next try
        press += PRESS if any(_on_pack(things[i]) for i in missing) else 0.0
        for i in missing:
            if not things[i].modules and not _on_pack(things[i]):
                order.remove(i)
                order.insert(int(rng.integers(0, len(order) + 1)), i)
        if partial is None or len(board.spots) >= len(partial.spots):
            partial = board
    return partial, left


def sweep(board: Board) -> None:
    """Take each thing out and put it back at its best place, until nothing moves."""
    movable = [i for i, t in enumerate(board.things) if not t.fixed]
    for _ in range(SWEEPS):
        before = dict(board.spots)
        for i in movable:
            board.insert(i, None, None)
        if board.spots == before:
            return


def improve(
    board: Board, rng: np.random.Generator, rounds: int, seen: Callable[[Board], None] | None = None,
    held: bool = True,
) -> Board:  # fmt: skip
    """Take out a few things, put them back with some chance, keep what is better.

    Args:
        board: Full; not changed.
        rng: Source of variation.
        rounds: How many times.
        seen: Told every full board that is met, for what it may be best at.
        held: The form of each block stays, so that a structure keeps its own best.

    Returns:
        A full board that is no worse.
    """
    best, worth = board, board.total()
    movable = [i for i, t in enumerate(board.things) if not t.fixed]
    if not movable:
        return best
    most = min(TAKEN[0] if held else TAKEN[1], len(movable))
    for _ in range(rounds):
        some = rng.permutation(movable)[: int(rng.integers(1, most + 1))]
        trial = best.copy()
        for i in some:
            del trial.spots[int(i)]
        whole = True
        for i in (*_by_need(board.things, [int(v) for v in some if board.things[int(v)].modules]),
                  *(int(v) for v in some if not board.things[int(v)].modules)):  # fmt: skip
            noise = rng.random(len(board.things[i].pos)) * (JITTER * float(rng.random()) ** 3)
            form = best.spots[i].form if held and board.things[i].modules else None
            if not trial.insert(i, form, noise):
                whole = False
                break
        if whole:
            now = trial.total()
            if seen is not None and now < worth + SEEN_WITHIN:
                seen(trial)
            if now < worth - 1e-9:
                best, worth = trial, now
    return best


def shifted(board: Board, step_mm: float, reach_mm: float) -> list[Board]:
    """The board with its first block stood elsewhere nearby, all that is not fixed put back round it.

    Args:
        board: Full.
        step_mm: Between the places tried, along each axis.
        reach_mm: How far from where it stands.

    Returns:
        Full boards, nearest places first.
    """
    block, spot = board.things[0], board.spots[0]
    same = (block.form == spot.form) & (block.zone == spot.zone)
    pos = block.pos[same]
    away = np.abs(pos - np.array(spot.at))
    near = pos[(away.max(axis=1) <= reach_mm) & (away.max(axis=1) > 1e-6)]
    cells = np.unique(np.round((near - np.array(spot.at)) / step_mm).astype(np.int64), axis=0)
    wanted = sorted(map(tuple, cells.tolist()), key=lambda c: (sum(v * v for v in c), c))
    if block.fixed:
        return []
    loose = _by_need(board.things, [i for i, t in enumerate(board.things) if i and not t.fixed])
    made: list[Board] = []
    for cell in wanted:
        target = np.array(spot.at) + np.array(cell) * step_mm
        x, y, z = (float(v) for v in near[np.argmin(np.abs(near - target).sum(axis=1))])
        other = Board(board.case, board.things, board.goal)
        other.spots = {i: s for i, s in board.spots.items() if i not in loose and i}
        other.spots[0] = Spot((x, y, z), spot.form, spot.zone)
        if other.stands(0) and all(other.insert(i, None, None) for i in loose):
            settle(other, 1, hold=(0,))
            made.append(other)
    return made


def settle(board: Board, sweeps: int = SWEEPS, hold: Sequence[int] = ()) -> None:
    """Sweep a full board: each movable thing goes to a better anchor of the form it has, when there is one."""
    movable = [i for i, t in enumerate(board.things) if i not in hold and not t.fixed]
    for _ in range(sweeps):
        before = dict(board.spots)
        for i in movable:
            board.improve(i)
        if board.spots == before:
            return
