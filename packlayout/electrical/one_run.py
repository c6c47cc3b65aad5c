"""One run laid among those that are there: with room for its conduit, gently bent, thicker while it loses too much."""

from collections.abc import Iterator
from dataclasses import dataclass, replace
from functools import reduce

import numpy as np

from packlayout.electrical.apart import gap_of
from packlayout.electrical.cables import LIVE, Run, allowed_share, bundle_mm, need_of, run_of
from packlayout.electrical.sleeves import conduit_for
from packlayout.electrical.wanted import Wanted
from packlayout.model.brief import Case
from packlayout.model.electrics import CableSize, CableTable, Conduit, ElectricalRules
from packlayout.model.geometry import Floats
from packlayout.space.course import MOST_DEAR, Course, stretches
from packlayout.space.lattice import Crowd
from packlayout.space.routes import Need, NoRoute, Route, route

GENTLE_MM = 45.0
"""Bend radius that thin cables are laid with where there is room (common practice, no source)."""
CROWDED, CROWDED_MORE = 3, 3
"""How many times dearer it is to lie where a cable lies, and more for each time that one was taken up."""
APART = 4
"""How many times dearer a cell is for each run that a cable is to keep apart from and is too near to; no source."""
RESERVED = 6
"""How many times dearer the room in front of another run's port is; no source."""

PORT_ROOM_MM = 4.0
"""How far a signal cable keeps from the way out of a port beside its own (common practice, no source)."""


@dataclass(frozen=True, slots=True)
class Shop:
    """What laying goes by."""

    case: Case
    table: CableTable
    rules: ElectricalRules
    ports: Course
    """Holds a stub out of each port as if it were a cable, named by its run."""
    live: frozenset[str] = frozenset()
    """Names of the runs that signal cables are kept apart from."""

    def apart(self, course: Course, wanted: Wanted, weight: int = APART) -> Crowd | None:
        """How dear each cell is to a signal cable, for lying nearer to high voltage or mains than its gap."""
        gap = gap_of(self.rules, wanted.cable) if wanted.cable is not None else None
        if not gap or wanted.cable is None:
            return None
        return course.beside(self.live, wanted.cable.diameter_mm / 2 + gap, weight)

    def crowd(self, course: Course, name: str, need: Need, taken_up: dict[str, int] | None = None) -> Crowd:
        """How dear each cell is to a run: the room in front of others' ports, and where cables lie that would move."""
        stubs = {stub.name: RESERVED for stub in self.ports.laid if stub.name != name}
        made = self.ports.crowd(need.radius_mm, stubs)
        if taken_up:
            weights = {other: CROWDED + CROWDED_MORE * n for other, n in taken_up.items()}
            made = made + course.crowd(need.radius_mm, weights)
        return made

    def shunned(self, apart: Crowd | None, wanted: Wanted, need: Need) -> Crowd:
        """What a signal cable keeps out of on its smoothed line as well: live runs, and the room of others' ports.

        Several signal cables end in one plug, so that one drawn across the next one's way out would shut it.
        """
        stubs = {stub.name: RESERVED for stub in self.ports.laid if stub.name != wanted.name}
        made = self.ports.crowd(need.radius_mm + PORT_ROOM_MM, stubs)
        return made if apart is None else np.minimum(made + apart, MOST_DEAR).astype(np.uint8)


def _thick(course: Course, run: Run, need: Need) -> Iterator[tuple[Floats, float]]:
    """Points of the middle line of a run with its radius, then of each piece of it in conduit with that one's, mm."""
    assert run.line is not None
    line = run.line.chords()
    yield line, need.radius_mm
    if need.sleeve_mm and run.conduit:
        inside = course.sleeved(line)
        for begin, end in stretches(inside[1:] | inside[:-1]):
            yield line[begin : end + 1], need.radius_mm + need.sleeve_mm


def with_run(course: Course, run: Run, need: Need) -> Course:
    """The course with a run in it, and with its conduit where it lies in one."""
    return reduce(lambda made, piece: made.with_cable(run.name, *piece), _thick(course, run, need), course)


def met_by(course: Course, run: Run, need: Need) -> tuple[str, ...]:
    """Names of the cables laid that a run would touch, or its conduit where it lies in one."""
    met = (name for line, radius in _thick(course, run, need) for name in course.met(line, radius))
    return tuple(dict.fromkeys(met))


def bare(shop: Shop, run: Run) -> bool:
    """Whether a run lies without the conduit it wants, though there is one in stock that it goes into."""
    return run.conduit_mm > 0 and not run.sleeves and conduit_for(shop.rules, run.diameter_mm) is not None


def size_in(table: CableTable, run: Run) -> CableSize | None:
    """The size of cable that a run came to; None for a hose."""
    return next((size for size in table.sizes if size.area_mm2 == run.area_mm2), None)


def laid(
    shop: Shop, course: Course, wanted: Wanted, size: CableSize | None, there: Course | None = None,
    movable: dict[str, int] | None = None, shun: Crowd | None = None,
) -> tuple[Run, Need]:  # fmt: skip
    """Routed; and again with a thicker cable while too much voltage is lost.

    Args:
        shop: Rules and tables.
        course: What must be kept clear of.
        wanted: The run.
        size: To begin with.
        there: Holds cables that may be crossed at a price.
        movable: Their names, and how often each was taken up.
        shun: How dear each cell is to it, on the smoothed line as well; left out, a signal cable shuns live ones.
    """
    need = need_of(shop.rules, wanted, size)
    crowd = shop.crowd(there or course, wanted.name, need, movable)
    if wanted.kind == "signal":
        shun = shop.shunned(shop.apart(course, wanted) if shun is None else shun, wanted, need)
    found, need, conduit = _sleeved(shop, course, wanted, size, need, crowd, shun)
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
        found, bigger, conduit = _sleeved(shop, course, wanted, thicker, bigger, crowd, shun)
        # a thicker cable may find no way: then the thinner one stands, and its drop is judged
        if isinstance(found, NoRoute):
            break
        run, need = run_of(shop.case, shop.table, shop.rules, wanted, thicker, bigger, found, conduit), bigger
    return run, need


def _sleeved(
    shop: Shop,
    course: Course,
    wanted: Wanted,
    size: CableSize | None,
    need: Need,
    crowd: Crowd,
    shun: Crowd | None,
) -> tuple[Route | NoRoute, Need, Conduit | None]:
    """Laid with room for its conduit where one is wanted; failing that, without: its check then says so."""
    conduit = shop.rules.conduit_named(wanted.cable.conduit) if wanted.cable is not None else None
    if wanted.kind in LIVE:
        conduit = conduit_for(shop.rules, bundle_mm(shop.rules, wanted, size))
    found = _gently(course, wanted, need, crowd, shun)
    if isinstance(found, Route) or not need.sleeve_mm or not course.sleeves:
        return found, need, conduit
    bare = replace(need, sleeve_mm=0.0)
    again = _gently(course, wanted, bare, crowd, shun)
    return (again, bare, None) if isinstance(again, Route) else (found, need, None)


def _gently(course: Course, wanted: Wanted, need: Need, crowd: Crowd, shun: Crowd | None) -> Route | NoRoute:
    """Bent no tighter than a fitter likes; where that finds no room, as tight as the cable may be bent."""
    if need.bend_mm < GENTLE_MM:
        gentle = replace(need, bend_mm=GENTLE_MM)
        found = route(course, wanted.start, wanted.goal, gentle, wanted.also, crowd, shun=shun)
        if isinstance(found, Route):
            return found
    return route(course, wanted.start, wanted.goal, need, wanted.also, crowd, shun=shun)
