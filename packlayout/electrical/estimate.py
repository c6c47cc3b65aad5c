"""What the cables of a layout come to, without laying them beside one another: for layouts laid side by side."""

from dataclasses import dataclass, replace
from math import dist

from packlayout.electrical.cables import need_of, size_of
from packlayout.electrical.pack import Pack, pack_of
from packlayout.electrical.protection import protect
from packlayout.electrical.wanted import Wanted, wanted_runs
from packlayout.electrical.wire import Surroundings, cable_course
from packlayout.model.brief import Case
from packlayout.model.layout import Layout
from packlayout.space.routes import Route, route
from packlayout.units import MM_PER_M


@dataclass(frozen=True, slots=True)
class Alone:
    """High-voltage runs of a layout, each routed as if it were the only one.

    Attributes:
        length_mm: Of all of them; one without a way counts with the straight line between its ports.
        without_way: Names of those that find no way even alone.
        cables: (area mm2, metres of single core) of each run, as it is paid for.
    """

    length_mm: float
    without_way: tuple[str, ...]
    cables: tuple[tuple[float, float], ...]


def cable_alone(case: Case, layout: Layout, around: Surroundings) -> Alone | None:
    """High-voltage runs routed one by one, none in another's way: several times faster than `wire`.

    Bend radius, gaps to parts, frame, body, access room and busbars all hold; room for conduit is not made. Beside one
    another the runs may be longer, so that the figure ranks layouts and does not stand for the harness.

    Args:
        case: Supplies ports, data, rules and tables.
        layout: Where the parts stand.
        around: Frame and access room.

    Returns:
        Their length, and which find no way; None where not one string can be made or a table is missing.
    """
    table, rules = case.tables.cables, case.tables.electrical
    if table is None or rules is None or len(layout.modules) < case.brief.wiring.strings:
        return None
    pack = pack_of(case, layout)
    course = replace(cable_course(case, layout, pack, around), sleeves=())  # conduit is left out of account
    lengths: list[float] = []
    without: list[str] = []
    cables: list[tuple[float, float]] = []
    for run in _high_voltage(case, layout, pack):
        size = size_of(case, table, run)
        found = route(course, run.start, run.goal, need_of(rules, run, size), run.also)
        if isinstance(found, Route):
            lengths.append(found.line.length_mm)
        else:
            lengths.append(dist(run.start.at, run.goal.at))
            without.append(run.name)
        if size is not None:
            cables.append((size.area_mm2, run.cores * lengths[-1] / MM_PER_M))
    return Alone(sum(lengths), tuple(without), tuple(cables))


def _high_voltage(case: Case, layout: Layout, pack: Pack) -> tuple[Wanted, ...]:
    runs = wanted_runs(case, layout, pack, protect(case, layout, pack))
    return tuple(run for run in runs if run.kind == "HV")
