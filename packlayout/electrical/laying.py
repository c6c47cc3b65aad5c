"""Lays the runs of a layout one after the other; where one finds no way, those in its way are taken up and laid anew."""

from collections import Counter, deque
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from packlayout.electrical.cables import LIVE, Run, allowed_share, conduit_for, need_of, run_of, size_of
from packlayout.electrical.wanted import Wanted
from packlayout.model.brief import Case
from packlayout.model.electrics import CableSize, CableTable, Conduit, ElectricalRules
from packlayout.model.geometry import Vec
from packlayout.space.course import MOST_DEAR, Course
from packlayout.space.lattice import Crowd
from packlayout.space.routes import End, Need, NoRoute, Route, route, stretches
from packlayout.space.shortfall import shortfall

GENTLE_MM = 45.0
"""Bend radius that thin cables are laid with where there is room (common practice, no source)."""
PORT_GAP_MM = 6.0
"""Between cables that share one port (common practice, no source)."""
MOST_TAKEN_UP = 2
"""Times one run may be taken up for others."""
CROWDED, CROWDED_MORE = 3, 3
"""How many times dearer it is to lie where a cable lies, and more for each time that one was taken up."""


APART = 4
"""How many times dearer a cell is to a signal cable for each run of high voltage or mains it is too near to; no source."""
RESERVED, RESERVED_MM = 6, 60.0
"""How many times dearer the room in front of another run's port is, and how far it reaches; no source."""


@dataclass(frozen=True, slots=True)
class _Shop:
    """What laying goes by."""

    case: Case
    table: CableTable
    rules: ElectricalRules
    ports: Course
    """Holds a stub out of each port as if it were a cable, named by its run."""
    live: frozenset[str] = frozenset()
    """Names of the runs that signal cables are kept apart from."""

    def apart(self, course: Course, need: Need) -> Crowd:
        """How dear each cell is to a signal cable, for lying nearer to high voltage or mains than the gap."""
        return course.beside(self.live, need.radius_mm + (self.rules.signal_gap_mm or 0.0), APART)

    def crowd(self, course: Course, name: str, need: Need, taken_up: dict[str, int] | None = None) -> Crowd:
        """How dear each cell is to a run: the room in front of others' ports, and where cables lie that would move."""
        stubs = {stub.name: RESERVED for stub in self.ports.laid if stub.name != name}
        made = self.ports.crowd(need.radius_mm, stubs)
        if taken_up:
            weights = {other: CROWDED + CROWDED_MORE * n for other, n in taken_up.items()}
            made = made + course.crowd(need.radius_mm, weights)
        return made


def lay(
    case: Case, course: Course, wanted: Sequence[Wanted], reasons: bool = True
) -> tuple[tuple[Run, ...], Course]:
    """Lay all runs, the stiffest first; each is in the way of those that come after it.

    A run that finds no way past others takes the way that crosses the fewest of them; those are taken up and laid
    again, up to twice each. What then still finds no way has none, or none was found beside the others.

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
    number = {asked[k].name: k for k in order}
    shop = _Shop(
        case,
        table,
        rules,
        _stubs(course, [asked[k] for k in order], [needs[k].radius_mm for k in order]),
        frozenset(asked[k].name for k in order if asked[k].kind in LIVE),
    )
    made: dict[int, Run] = {}
    taken_up: Counter[int] = Counter()
    waiting = deque(order)
    hopeless: set[int] = set()
    while waiting:
        k = waiting.popleft()
        run, need = _laid(shop, course, asked[k], sizes[k])
        if run.line is None and course.laid and k not in hopeless:
            movable = {cable.name: taken_up[number[cable.name]] for cable in course.laid if not cable.fixed}
            through, _ = _laid(shop, course.cleared, asked[k], sizes[k], course, movable)
            if through.line is None:
                run, need = through, need_of(rules, asked[k], _size_in(table, through))
                hopeless.add(k)
            else:
                need = replace(
                    need_of(rules, asked[k], _size_in(table, through)), radius_mm=through.diameter_mm / 2
                )
                met = course.met(through.line.chords(), need.radius_mm)
                met = tuple(dict.fromkeys(name for name in met if name in number))
                if met and all(taken_up[number[name]] < MOST_TAKEN_UP for name in met):
                    course = course.without(*met)
                    for name in met:
                        other = number[name]
                        taken_up[other] += 1
                        del made[other]
                        waiting.append(other)
                    run = through
        made[k] = run
        if run.line is not None:
            course = _laid_in(course, run, need)
    for k in order:
        if made[k].line is not None:
            continue
        if k not in hopeless:  # what stood in its way may lie elsewhere by now
            run, need = _laid(shop, course, asked[k], sizes[k])
            made[k] = run
            if run.line is not None:
                course = _laid_in(course, run, need)
                continue
        if reasons:
            # past other cables as they lie; where not even an empty space will do, that is what is told
            there = course.cleared if k in hopeless else course
            made[k] = _with_reason(shop, there, asked[k], made[k])
    return tuple(made[k] for k in range(len(wanted))), course


def _laid_in(course: Course, run: Run, need: Need) -> Course:
    """The course with a run in it, and with its conduit where it lies in one."""
    assert run.line is not None
    line = run.line.chords()
    made = course.with_cable(run.name, line, need.radius_mm)
    if need.sleeve_mm and run.conduit:
        inside = course.sleeved(line)
        for begin, end in stretches(inside[1:] | inside[:-1]):
            made = made.with_cable(run.name, line[begin : end + 1], need.radius_mm + need.sleeve_mm)
    return made


def _with_reason(shop: _Shop, course: Course, wanted: Wanted, run: Run) -> Run:
    """A run without a way, and how much it is short of one."""
    need = need_of(shop.rules, wanted, _size_in(shop.table, run))
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


def _size_in(table: CableTable, run: Run) -> CableSize | None:
    return next((size for size in table.sizes if size.area_mm2 == run.area_mm2), None)


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


def _laid(
    shop: _Shop, course: Course, wanted: Wanted, size: CableSize | None, there: Course | None = None,
    movable: dict[str, int] | None = None,
) -> tuple[Run, Need]:  # fmt: skip
    """Routed; and again with a thicker cable while too much voltage is lost.

    Args:
        shop: Rules and tables.
        course: What must be kept clear of.
        wanted: The run.
        size: To begin with.
        there: Holds cables that may be crossed at a price.
        movable: Their names, and how often each was taken up.
    """
    need = need_of(shop.rules, wanted, size)
    crowd = shop.crowd(there or course, wanted.name, need, movable)
    if wanted.kind == "signal":
        crowd = np.minimum(crowd + shop.apart(course, need), MOST_DEAR).astype(np.uint8)
    found, need, conduit = _sleeved(shop, course, wanted, need, crowd)
    run = run_of(shop.case, shop.table, shop.rules, wanted, size, need, found, conduit)
    while (
        size is not None
        and run.line is not None
        and run.drop_v > allowed_share(shop.rules, wanted) * wanted.volts
    ):
        thicker = next((s for s in shop.table.sizes if s.area_mm2 > run.area_mm2), None)
        if thicker is None:
            break
        bigger = need_of(shop.rules, wanted, thicker)
        found, bigger, conduit = _sleeved(shop, course, wanted, bigger, crowd)
        # a thicker cable may find no way: then the thinner one stands, and its drop is judged
        if isinstance(found, NoRoute):
            break
        run, need = run_of(shop.case, shop.table, shop.rules, wanted, thicker, bigger, found, conduit), bigger
    return run, need


def _sleeved(
    shop: _Shop, course: Course, wanted: Wanted, need: Need, crowd: Crowd
) -> tuple[Route | NoRoute, Need, Conduit | None]:
    """Laid with room for its conduit where one is wanted; failing that, without: its check then says so."""
    conduit = conduit_for(shop.rules, 2 * need.radius_mm) if wanted.kind in LIVE else None
    found = _gently(course, wanted, need, crowd)
    if isinstance(found, Route) or not need.sleeve_mm or not course.sleeves:
        return found, need, conduit
    bare = replace(need, sleeve_mm=0.0)
    again = _gently(course, wanted, bare, crowd)
    return (again, bare, None) if isinstance(again, Route) else (found, need, None)


def _gently(course: Course, wanted: Wanted, need: Need, crowd: Crowd) -> Route | NoRoute:
    """Bent no tighter than a fitter likes; where that finds no room, as tight as the cable may be bent."""
    if need.bend_mm < GENTLE_MM:
        gentle = replace(need, bend_mm=GENTLE_MM)
        found = route(course, wanted.start, wanted.goal, gentle, wanted.also, crowd)
        if isinstance(found, Route):
            return found
    return route(course, wanted.start, wanted.goal, need, wanted.also, crowd)
