"""How much is missing where a cable finds no way: less is asked for, step by step, until a way is found.

What is told is verified: with what is missing taken off the cable, the search finds a way and proves it clear; with a
little more asked for it finds none. The latter is no proof, since the search goes by cells.
"""

from collections.abc import Callable
from dataclasses import replace

import numpy as np

from packlayout.model.geometry import Floats, Vec
from packlayout.space.bends import Line, tangents
from packlayout.space.course import OUTSIDE_MM, Course
from packlayout.space.ends import End, Need
from packlayout.space.fields import LEAST_MM
from packlayout.space.routes import NoRoute, Route, port_cells, route
from packlayout.space.seek import least_shut

ROOM_STEP_MM = 0.5
"""How finely the missing room is told."""
BEND_STEP_MM = 2.0
"""And the missing bend radius."""
LEAST_BEND_MM = 5.0
NEAR_MM = 150.0
"""How far round a tight spot a thing is looked for that stands there."""


def shortfall(
    course: Course, start: End, goal: End, need: Need, found: NoRoute, also: tuple[str, ...] = ()
) -> NoRoute:
    """How much is missing, and where.

    A thinner cable is tried first, then a tighter bend, then both in proportion, each halved until the step is told.
    Where not even a thread of 2 mm finds a way, the thinnest wall between the two ends is told.

    Args:
        course: Where cables may run.
        start: One end.
        goal: The other.
        need: What was asked for.
        found: What `route` answered.
        also: Further parts whose reach it may enter.

    Returns:
        The same refusal, `missing_mm` and `of` filled in, at the spot that binds.
    """

    def tried(asked: Need) -> Route | None:
        way = route(course, start, goal, asked, also, smoothed=False)
        return way if isinstance(way, Route) else None

    def thinner(part: float) -> Need:
        return replace(need, radius_mm=max(LEAST_MM, need.radius_mm * part))

    def tighter(part: float) -> Need:
        return replace(need, bend_mm=max(LEAST_BEND_MM, need.bend_mm * part))

    def both(part: float) -> Need:
        return replace(thinner(part), bend_mm=tighter(part).bend_mm)

    cells = f"as searched on cells of {course.pitch_mm:g} mm"
    room = _most(tried, thinner, ROOM_STEP_MM / need.radius_mm)
    bend = _most(tried, tighter, BEND_STEP_MM / need.bend_mm) if found.missing_mm is None else None
    if room is not None:
        asked, way = room
        missing = need.radius_mm - asked.radius_mm
        at, near = (found.at, found.near) if found.missing_mm is not None else _tightest(course, way, need)
        other = ""
        if bend is not None:
            other = f", or a bend of {bend[0].bend_mm:.0f} mm instead of {need.bend_mm:.0f}"
        why = (f"the tightest spot is {missing:.1f} mm too narrow on each side for a cable of {2 * need.radius_mm:.0f} mm "
               f"that bends at {need.bend_mm:.0f} mm{other}, {cells}")  # fmt: skip
        return NoRoute(missing, at, near, why, "room")
    if bend is not None:
        asked, way = bend
        at, near = _unbent(course, way, need)
        why = (f"wide enough everywhere, but a bend of {need.bend_mm:.0f} mm finds no room: one of {asked.bend_mm:.0f} mm "
               f"does, {cells}")  # fmt: skip
        return NoRoute(need.bend_mm - asked.bend_mm, at, near, why, "bend")
    less = _most(tried, both, ROOM_STEP_MM / need.radius_mm)
    if less is not None:
        asked, way = less
        at, near = _tightest(course, way, need)
        why = (f"room and bends fall short: a cable of {2 * asked.radius_mm:.1f} mm that bends at {asked.bend_mm:.0f} mm "
               f"finds a way, one of {2 * need.radius_mm:.1f} mm at {need.bend_mm:.0f} mm does not, {cells}")  # fmt: skip
        return NoRoute(need.radius_mm - asked.radius_mm, at, near, why, "both")
    return _walled(course, start, goal, need, found, also, cells)


def _most(
    tried: Callable[[Need], Route | None], asked: Callable[[float], Need], step: float
) -> tuple[Need, Route] | None:
    """The most of what is asked that finds a way, to a step, and that way; None when not even the least does."""
    least = tried(asked(0.0))
    if least is None:
        return None
    best, yes, no = (asked(0.0), least), 0.0, 1.0
    while no - yes > step:
        middle = (yes + no) / 2
        way = tried(asked(middle))
        if way is None:
            no = middle
        else:
            best, yes = (asked(middle), way), middle
    return best


def _tightest(course: Course, way: Route, need: Need) -> tuple[Vec, str]:
    """Where a thinner cable's way has the least room, and what stands there."""
    return way.nearest_at, way.nearest or _standing(course, way.nearest_at, need)


def _unbent(course: Course, way: Route, need: Need) -> tuple[Vec, str]:
    """The bend of a tighter cable's way that lacks most room for the bend asked for, and what stands there.

    What a bend lacks is the length its runs are short of, or the room the wider arc is short of, whichever is more.
    """
    corners = np.array(way.line.corners)
    runs, wanted = np.linalg.norm(np.diff(corners, axis=0), axis=1), tangents(corners, need.bend_mm)
    wanted[0] = wanted[-1] = need.straight_mm
    spots: list[tuple[float, Vec]] = []
    for arc, k in zip(way.line.arcs, _bent(corners), strict=True):
        short = max(wanted[k] + wanted[k - 1] - runs[k - 1], wanted[k] + wanted[k + 1] - runs[k], 0.0)
        wide = Line(tuple(_vec(p) for p in _beside(corners, k, float(wanted[k]))), need.bend_mm).points(4.0)
        lacking = need.radius_mm - course.worst(wide, (), lambda _: None, need.radius_mm)[0]
        spots.append((max(float(short), lacking), arc.middle))
    if not spots:
        return way.nearest_at, way.nearest
    _, at = max(spots, key=lambda spot: spot[0])
    return at, _standing(course, at, need)


def _bent(corners: Floats) -> list[int]:
    return [int(k) for k in np.flatnonzero(tangents(corners, 1.0) > np.tan(0.5e-6))]


def _beside(corners: Floats, k: int, length: float) -> Floats:
    """A corner and a point on each of its runs, so far off that a bend fits."""
    before, after = corners[k - 1] - corners[k], corners[k + 1] - corners[k]
    return np.array([
        corners[k] + before / np.linalg.norm(before) * length, corners[k],
        corners[k] + after / np.linalg.norm(after) * length,
    ])  # fmt: skip


def _standing(course: Course, at: Vec, need: Need) -> str:
    """What stands nearest to a spot."""
    point = np.array([at, at])
    return course.worst(point, (), lambda _: None, need.radius_mm + NEAR_MM)[1]


def _walled(
    course: Course, start: End, goal: End, need: Need, found: NoRoute, also: tuple[str, ...], cells: str
) -> NoRoute:
    """The thinnest wall between the two ends: how thick, where, and what it is of."""
    clear, a, b = port_cells(course, start, goal, need, also)
    if a is None or b is None:
        return found  # a port that is shut off says so itself
    count, first, last = least_shut(
        clear.ravel(), course.grid.strides, np.array(clear.shape), course.grid.flat(a), course.grid.flat(b), OUTSIDE_MM / 2
    )  # fmt: skip
    if count == 0:
        return found
    at = _vec((course.middle(course.grid.cell(int(first))) + course.middle(course.grid.cell(int(last)))) / 2)
    thick = float(count) * course.pitch_mm
    near = _standing(course, at, need)
    why = (f"the two ends lie in spaces that are not joined: a cable way is wanted between them, through {thick:.0f} mm of "
           f"wall or solid, {cells}")  # fmt: skip
    return NoRoute(thick, at, near, why, "wall")


def _vec(v: Floats) -> Vec:
    return float(v[0]), float(v[1]), float(v[2])
