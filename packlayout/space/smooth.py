"""Fewer corners and a shorter line, in continuous coordinates, kept only where bends fit and clearance stays."""

from collections.abc import Callable

import numpy as np

from packlayout.model.geometry import Floats
from packlayout.space.bends import Line, chord_points, fitted_length
from packlayout.space.course import Course
from packlayout.space.ends import End, Need
from packlayout.space.lattice import Crowd, Field

SMOOTH_MM = 1.5
"""Clearance beyond need that a shortcut must show between cell middles, before it is proven exactly."""
ROUNDS, MORE_ROUNDS = 4, 24
"""How many times corners are left out, one after the other; and where the line shuns places."""
BEND_MM = 15.0
"""What a bend is worth in length of a line that shuns places: it is not led round each cell (common practice, no source)."""
MOST_CUT = 8
"""Corners left out at once when a line is shortened."""


def smooth(
    course: Course, clear: Field, corners: Floats, need: Need, start: End, goal: End, shun: Crowd | None = None,
    holds: Callable[[Floats], bool] | None = None,
) -> Floats:  # fmt: skip
    """Fewer corners and a shorter line, each change kept only where bends fit and clearance stays.

    Args:
        course: Where cables may run.
        clear: Clearance of its cells for this one, mm.
        corners: (n, 3) of the line.
        need: What the cable asks for.
        start: One end.
        goal: The other.
        shun: How many times its length a line counts more in each cell, flat; None for nowhere.
        holds: Whether a line keeps its clearance exactly, asked for each corner left out; None where the caller asks
            for the whole line alone.
    """
    best, length = corners, _cost(course, corners, need, shun)
    # a line that shuns places is made of many short pieces round them
    for _ in range(ROUNDS if shun is None else MORE_ROUNDS):
        before = length
        for tried in _shortcuts(best):
            found = _cost(course, tried, need, shun)
            if (
                0 <= found < length - 0.5
                and leaves(tried, start, goal)
                and _seems_clear(course, clear, tried, need, start, goal)
                and (holds is None or holds(tried))
            ):
                best, length = tried, found
                break
        if length > before - 1.0:
            break
    drawn = _drawn_in(course, clear, best, need, start, goal, shun)
    return drawn if holds is None or holds(drawn) else best


def _cost(course: Course, corners: Floats, need: Need, shun: Crowd | None) -> float:
    """Length of the line through corners, more where it is shunned; -1 where its bends do not fit, mm."""
    length = float(fitted_length(corners, need.bend_mm, need.straight_mm))
    if length < 0 or shun is None:
        return length
    points = chord_points(
        np.ascontiguousarray(corners), need.bend_mm, course.pitch_mm / 2, course.pitch_mm / 2
    )
    middles, steps = (points[1:] + points[:-1]) / 2, np.linalg.norm(np.diff(points, axis=0), axis=1)
    cells = np.floor((middles - course.origin) / course.pitch_mm + 1e-9).astype(int)
    flat = np.clip(cells, 0, np.array(course.clear.shape) - 1) @ course.grid.strides
    return length + float(steps @ shun[flat]) + BEND_MM * (len(corners) - 2)


def _shortcuts(corners: Floats) -> list[Floats]:
    """Lines with a run of corners left out, the longest first; the way out of each port stays."""
    made: list[Floats] = []
    last = len(corners) - 1
    for cut in range(min(last - 2, MOST_CUT), 0, -1):
        for i in range(1, last - cut):
            made.append(np.delete(corners, range(i, i + cut), axis=0) if i > 1 else _kept(corners, i, cut))
        if cut <= last - 2:
            made.append(np.delete(corners, range(2, 2 + cut), axis=0) if 2 + cut < last else corners)
    return [m for m in made if len(m) >= 2]


def _kept(corners: Floats, i: int, cut: int) -> Floats:
    return np.delete(corners, range(i, i + cut), axis=0)


def leaves(corners: Floats, start: End, goal: End) -> bool:
    """Whether a line leaves both ports straight."""
    a, b = corners[1] - corners[0], corners[-2] - corners[-1]
    return bool(
        a @ np.array(start.direction) >= (1 - 1e-9) * np.linalg.norm(a)
        and b @ np.array(goal.direction) >= (1 - 1e-9) * np.linalg.norm(b)
    )


def _drawn_in(
    course: Course, clear: Field, corners: Floats, need: Need, start: End, goal: End, shun: Crowd | None
) -> Floats:
    """Corners moved towards the line between their neighbours, as far as bends and clearance allow."""
    best, length = corners, _cost(course, corners, need, shun)
    for _ in range(6):
        before = length
        for k in range(1, len(best) - 1):
            for share in (0.5, 0.25, 0.1):
                tried = best.copy()
                aim = (best[k - 1] + best[k + 1]) / 2
                if k == 1:  # the way out of a port keeps its direction: the corner moves along it
                    aim = best[0] + np.array(start.direction) * max(
                        float((aim - best[0]) @ np.array(start.direction)), need.straight_mm
                    )
                elif k == len(best) - 2:
                    aim = best[-1] + np.array(goal.direction) * max(
                        float((aim - best[-1]) @ np.array(goal.direction)), need.straight_mm
                    )
                tried[k] = best[k] + share * (aim - best[k])
                found = _cost(course, tried, need, shun)
                shorter = 0 <= found < length - 0.2 and leaves(tried, start, goal)
                if shorter and _seems_clear(course, clear, tried, need, start, goal):
                    best, length = tried, found
                    break
        if length > before - 1.0:
            break
    return best


def line_of(corners: Floats, need: Need) -> Line:
    """The middle line through corners."""
    return Line(tuple((float(x), float(y), float(z)) for x, y, z in corners), need.bend_mm)


def _seems_clear(course: Course, clear: Field, corners: Floats, need: Need, start: End, goal: End) -> bool:
    points = chord_points(
        np.ascontiguousarray(corners), need.bend_mm, course.pitch_mm / 2, course.pitch_mm / 2
    )
    near_a = np.linalg.norm(points - np.array(start.at), axis=1)
    near_b = np.linalg.norm(points - np.array(goal.at), axis=1)
    # what comes close to a port is judged by the exact check alone
    far = np.minimum(near_a, near_b) > need.straight_mm + 2 * course.pitch_mm + need.radius_mm
    return course.least_at(clear, points[far]) >= need.radius_mm + SMOOTH_MM
