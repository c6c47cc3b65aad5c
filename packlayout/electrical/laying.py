"""Lays the runs of a layout one after the other; where one finds no way, those in its way are taken up and laid anew."""

from collections import Counter, deque
from collections.abc import Mapping, Sequence
from dataclasses import replace

import numpy as np

from packlayout.electrical.cables import LIVE, Run, need_of, size_of
from packlayout.electrical.one_run import Shop, bare, laid, met_by, size_in, with_run
from packlayout.electrical.parting import parted
from packlayout.electrical.wanted import Wanted
from packlayout.model.brief import Case
from packlayout.model.electrics import CableSize
from packlayout.model.geometry import Vec
from packlayout.space.course import Course
from packlayout.space.routes import End
from packlayout.space.shortfall import shortfall

PORT_GAP_MM = 6.0
"""Between cables that share one port (common practice, no source)."""
MOST_TAKEN_UP = 2
"""Times one run may be taken up for others."""
RESERVED_MM = 60.0
"""How far the room in front of another run's port reaches (common practice, no source)."""


def lay(
    case: Case, course: Course, wanted: Sequence[Wanted], reasons: bool = True
) -> tuple[tuple[Run, ...], Course]:
    """Lay all runs, the stiffest first; each is in the way of those that come after it.

    A run that finds no way past others, or none with its conduit, takes the way that crosses the fewest of them; those
    are taken up and laid again, up to twice each. What then still finds no way has none, or none was found beside the
    others. Signal cables are laid last and keep apart from high voltage and mains; where one lies beside them for
    longer than the rule allows, those are moved aside for it if they can be.

    Args:
        case: Supplies cable table, rules, ambient temperature.
        course: Where cables may run.
        wanted: What is to be laid.
        reasons: Find out how much is missing where a run finds no way; quicker without, where layouts are ranked.

    Returns:
        The runs in the order wanted, and the course with them in it.
    """
    table, rules = case.tables.cables, case.tables.electrical
    if table is None or rules is None:
        return (), course
    sizes = [size_of(case, table, w) for w in wanted]
    needs = [need_of(rules, w, size) for w, size in zip(wanted, sizes, strict=True)]
    # signal cables last: they keep apart from what lies there
    order = sorted(range(len(wanted)), key=lambda n: (wanted[n].kind == "signal", -needs[n].bend_mm, n))
    used: dict[tuple[str, str], list[float]] = {}
    asked = {k: _beside(wanted[k], needs[k].radius_mm, used) for k in order}
    shop = Shop(
        case,
        table,
        rules,
        _stubs(course, [asked[k] for k in order], [needs[k].radius_mm for k in order]),
        frozenset(asked[k].name for k in order if asked[k].kind in LIVE),
    )
    nowhere: dict[int, Run] = {}
    made, course_laid = _one_after_the_other(
        shop, course, asked, sizes, order, reasons, nowhere, sleeved=True
    )
    if _stuck(made) > len(nowhere):
        # a run never goes without its way for the conduit of another
        other, other_course = _one_after_the_other(
            shop, course, asked, sizes, order, reasons, nowhere, sleeved=False
        )
        if _stuck(other) < _stuck(made):
            made, course_laid = other, other_course
    course = course_laid
    numbered = [asked[k] for k in range(len(wanted))]
    for k in order:
        if wanted[k].kind == "signal":
            made, course = parted(shop, course, numbered, sizes, made, k)
    return tuple(made[k] for k in range(len(wanted))), course


def _stuck(made: Mapping[int, Run]) -> int:
    return sum(run.line is None for run in made.values())


def _one_after_the_other(
    shop: Shop, course: Course, asked: Mapping[int, Wanted], sizes: Sequence[CableSize | None], order: Sequence[int],
    reasons: bool, nowhere: dict[int, Run], *, sleeved: bool,
) -> tuple[dict[int, Run], Course]:  # fmt: skip
    """All runs by number, and the course with them in it.

    Args:
        shop: Rules and tables.
        course: With none of them in it.
        asked: What is to be laid, by number.
        sizes: Cable of each to begin with.
        order: Numbers, the first to be laid first.
        reasons: Find out how much is missing where a run finds no way.
        nowhere: Runs without a way even where no other lies, which are not looked for again; added to.
        sleeved: Others are taken up for a run that is left without its conduit, not only for one without a way.
    """
    number = {asked[k].name: k for k in order}
    made: dict[int, Run] = {}
    taken_up: Counter[int] = Counter()
    waiting = deque(k for k in order if k not in nowhere)
    hopeless: set[int] = set()
    while waiting:
        k = waiting.popleft()
        run, need = laid(shop, course, asked[k], sizes[k])
        if run.line is None:
            alone = laid(shop, course.cleared, asked[k], sizes[k])[0] if course.laid else run
            if alone.line is None:
                nowhere[k] = alone
                continue
        if (run.line is None or (sleeved and bare(shop, run))) and course.laid and k not in hopeless:
            movable = {cable.name: taken_up[number[cable.name]] for cable in course.laid if not cable.fixed}
            through, _ = laid(shop, course.cleared, asked[k], sizes[k], course, movable)
            if through.line is None or (run.line is not None and bare(shop, through)):
                if run.line is None:
                    run, need = through, need_of(shop.rules, asked[k], size_in(shop.table, through))
                hopeless.add(k)
            else:
                wide = need_of(shop.rules, asked[k], size_in(shop.table, through))
                met = tuple(name for name in met_by(course, through, wide) if name in number)
                if met and all(taken_up[number[name]] < MOST_TAKEN_UP for name in met):
                    course = course.without(*met)
                    for name in met:
                        other = number[name]
                        taken_up[other] += 1
                        del made[other]
                        waiting.append(other)
                    run, need = through, wide
        made[k] = run
        if run.line is not None:
            course = with_run(course, run, need)
    made |= nowhere
    hopeless |= nowhere.keys()
    for k in order:
        if made[k].line is not None:
            continue
        if k not in hopeless:  # what stood in its way may lie elsewhere by now
            run, need = laid(shop, course, asked[k], sizes[k])
            made[k] = run
            if run.line is not None:
                course = with_run(course, run, need)
                continue
        if reasons:
            # past other cables as they lie; where not even an empty space will do, that is what is told
            there = course.cleared if k in hopeless else course
            made[k] = _with_reason(shop, there, asked[k], made[k])
    return made, course


def _with_reason(shop: Shop, course: Course, wanted: Wanted, run: Run) -> Run:
    """A run without a way, and how much it is short of one."""
    need = need_of(shop.rules, wanted, size_in(shop.table, run))
    assert run.blocked is not None
    return replace(run, blocked=shortfall(course, wanted.start, wanted.goal, need, run.blocked, wanted.also))


def _stubs(course: Course, asked: Sequence[Wanted], radii: Sequence[float]) -> Course:
    """A course with nothing laid in it but a stub out of every port."""
    made = course.cleared
    for wanted, radius in zip(asked, radii, strict=True):
        for end in (wanted.start, wanted.goal):
            at = np.array(end.at)
            stub = np.stack([at, at + RESERVED_MM * np.array(end.direction)])
            made = made.with_cable(wanted.name, stub, radius)
    return replace(made, laid=tuple(stub for stub in made.laid if not stub.fixed))


def _beside(wanted: Wanted, radius: float, used: dict[tuple[str, str], list[float]]) -> Wanted:
    """The same run, its ends moved beside cables that leave the same port."""
    ends: list[End] = []
    for end in (wanted.start, wanted.goal):
        there = used.setdefault((end.part, end.port), [])
        aside = (
            sum(2 * r + PORT_GAP_MM for r in there)
            - (there[0] if there else 0.0)
            + (radius if there else 0.0)
        )
        side: Vec = (0.0, 1.0, 0.0) if abs(end.direction[1]) < 0.5 else (1.0, 0.0, 0.0)
        at = (end.at[0] + aside * side[0], end.at[1] + aside * side[1], end.at[2] + aside * side[2])
        there.append(radius)
        ends.append(replace(end, at=at))
    return replace(wanted, start=ends[0], goal=ends[1])
