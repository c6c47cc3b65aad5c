"""Fewer corners and a shorter line, in continuous coordinates, kept only where bends fit and clearance stays."""

import numpy as np

from packlayout.model.geometry import Floats
from packlayout.space.bends import Line, chord_points, fitted_length
from packlayout.space.course import Course
from packlayout.space.ends import End, Need
from packlayout.space.lattice import Field

SMOOTH_MM = 1.5
"""Clearance beyond need that a shortcut must show between cell middles, before it is proven exactly."""
MOST_CUT = 8
"""Corners left out at once when a line is shortened."""


def smooth(course: Course, clear: Field, corners: Floats, need: Need, start: End, goal: End) -> Floats:
    """Fewer corners and a shorter line, each change kept only where bends fit and clearance stays."""
    best, length = corners, fitted_length(corners, need.bend_mm, need.straight_mm)
    for _ in range(4):
        before = length
        for tried in _shortcuts(best):
            found = fitted_length(tried, need.bend_mm, need.straight_mm)
            if (
                0 <= found < length - 0.5
                and leaves(tried, start, goal)
                and _seems_clear(course, clear, tried, need, start, goal)
            ):
                best, length = tried, found
                break
        if length > before - 1.0:
            break
    return _drawn_in(course, clear, best, need, start, goal)


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


def _drawn_in(course: Course, clear: Field, corners: Floats, need: Need, start: End, goal: End) -> Floats:
    """Corners moved towards the line between their neighbours, as far as bends and clearance allow."""
    best, length = corners, fitted_length(corners, need.bend_mm, need.straight_mm)
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
                found = fitted_length(tried, need.bend_mm, need.straight_mm)
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
