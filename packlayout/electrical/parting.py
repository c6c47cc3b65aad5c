"""Makes way for signal cables: what they lie beside for too long is laid again farther off, and they after it."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from packlayout.electrical.apart import gap_of, length_beside
from packlayout.electrical.cables import Run
from packlayout.electrical.one_run import APART, Shop, laid, with_run
from packlayout.electrical.wanted import Wanted
from packlayout.model.electrics import CableSize
from packlayout.space.course import Course

ROUNDS = 2
"""How often power runs and a signal cable are laid again in turn."""
DEARER = (APART, 3 * APART)
"""How dear it is made in turn for a signal cable to lie too near."""
WORTH_MM = 10.0
"""What is less apart by no more than this is no gain."""


@dataclass(frozen=True, slots=True)
class _Laid:
    """All runs as they lie, by number, and the course with them in it."""

    runs: Mapping[int, Run]
    course: Course


def parted(
    shop: Shop, course: Course, asked: Sequence[Wanted], sizes: Sequence[CableSize | None], runs: Mapping[int, Run],
    signal: int,
) -> tuple[dict[int, Run], Course]:  # fmt: skip
    """Runs among which one signal cable lies beside live ones for as short as can be done.

    It is laid anew where coming near costs more; then the live runs it lies beside are laid again, away from it, and
    it after them. A change is kept when every run still has its way and its conduit and the length beside is less.

    Args:
        shop: Rules and tables.
        course: With all runs in it.
        asked: What was wanted, in the order of the numbers.
        sizes: Cable of each to begin with.
        runs: As laid.
        signal: Number of the signal cable.

    Returns:
        Runs and course; as they were where the rule holds or nothing helps.
    """
    best = _Laid(runs, course)
    allowed = shop.rules.signal_beside_mm
    for weight in DEARER[1:]:
        if _too_long(shop, best, asked[signal], signal) <= allowed:
            return dict(best.runs), best.course
        best = _better(shop, best, _again(shop, best, asked, sizes, signal, weight), asked[signal], signal)
    tried = best
    for _ in range(ROUNDS):
        if _too_long(shop, best, asked[signal], signal) <= allowed:
            break
        moved = _aside(shop, tried, asked, sizes, signal)
        if moved is None:
            break
        for weight in DEARER:
            after = _again(shop, moved, asked, sizes, signal, weight)
            moved = after if after is not None else moved
            best = _better(shop, best, after, asked[signal], signal)
            if _too_long(shop, best, asked[signal], signal) <= allowed:
                break
        tried = moved
    return dict(best.runs), best.course


def _too_long(shop: Shop, made: _Laid, wanted: Wanted, signal: int) -> float:
    """Length that a signal cable lies beside live runs, mm; nought where it has no way or no rule."""
    run, gap = made.runs[signal], gap_of(shop.rules, wanted.cable)
    if run.line is None or gap is None:
        return 0.0
    return length_beside(run, tuple(made.runs.values()), gap).length_mm


def _better(shop: Shop, best: _Laid, tried: _Laid | None, wanted: Wanted, signal: int) -> _Laid:
    if tried is None:
        return best
    less = _too_long(shop, best, wanted, signal) - _too_long(shop, tried, wanted, signal)
    return tried if less > WORTH_MM else best


def _again(
    shop: Shop,
    made: _Laid,
    asked: Sequence[Wanted],
    sizes: Sequence[CableSize | None],
    number: int,
    weight: int,
) -> _Laid | None:
    """A signal cable laid anew; None when it then finds no way."""
    bare = made.course.without(asked[number].name)
    run, need = laid(shop, bare, asked[number], sizes[number], shun=shop.apart(bare, asked[number], weight))
    if run.line is None:
        return None
    return _Laid({**made.runs, number: run}, with_run(bare, run, need))


def _aside(
    shop: Shop, made: _Laid, asked: Sequence[Wanted], sizes: Sequence[CableSize | None], signal: int
) -> _Laid | None:
    """The live runs beside a signal cable laid anew, away from it; None when none of them can be."""
    run, gap = made.runs[signal], gap_of(shop.rules, asked[signal].cable)
    assert gap is not None
    names = length_beside(run, tuple(made.runs.values()), gap).runs
    changed = False
    for number, wanted in enumerate(asked):
        if wanted.name not in names:
            continue
        before = made.runs[number]
        bare = made.course.without(wanted.name)
        within = before.diameter_mm / 2 + gap
        moved, need = laid(shop, bare, wanted, sizes[number], shun=bare.beside({run.name}, within, APART))
        if moved.line is None or (before.sleeves and not moved.sleeves):
            continue
        made, changed = _Laid({**made.runs, number: moved}, with_run(bare, moved, need)), True
    return made if changed else None
