"""Knee braces: a short tube across the corner of a leg, which spares its two tubes the bending at the mitre.

Square legs only: all cuts stay plane, at the angle of the brace.
"""

from collections.abc import Iterator
from itertools import pairwise

import numpy as np

from packlayout.frame.legs import Leg, Obstacles, tube_meets
from packlayout.frame.tubes import Member, member_box
from packlayout.model.brief import Case
from packlayout.model.geometry import Box, Floats, Vec

LONGEST_MM = 160.0
"""From the corner to where a brace stands; a longer one gets in the way more than it saves (common practice, no
source)."""
STEP_MM = 20.0
SOCKET_MM = 60.0  # over a bolt of the foot plate (common practice, no source)


def knees(case: Case, leg: Leg, obstacles: Obstacles) -> tuple[Member, ...]:
    """A brace in each corner of a leg where one finds room; the longest that does."""
    section = case.sections[case.brief.frame.leg_tube]
    if section.kind != "square":
        return ()
    made: list[Member] = []
    sockets = _sockets(case, leg)
    for n, (first, second) in enumerate(pairwise(leg.members), start=1):
        for brace in _across(first, second, f"leg {leg.mount} brace {n}"):
            box = member_box(brace)
            blocked = any(box.overlap_depth(room) > 0 for room in sockets)
            blocked = blocked or any(
                box.overlap_depth(member_box(other)) > 0
                for other in (*leg.members, *made)
                if other not in (first, second)
            )
            if not blocked and not tube_meets(brace, obstacles):
                made.append(brace)
                break
    return tuple(made)


def _across(first: Member, second: Member, name: str) -> Iterator[Member]:
    """Braces across one corner, the longest first."""
    side = first.section.side_mm
    corner, a, b = np.array(first.end), np.array(first.axis), np.array(second.axis)
    # a side of tube is left beyond the brace at either end
    reach = min(first.length_mm, second.length_mm) - 1.75 * side
    for off in np.arange(min(reach, LONGEST_MM), 1.5 * side, -STEP_MM):
        start = corner - a * off + b * side / 2
        end = corner + b * off - a * side / 2
        square = np.cross(a, b)
        yield Member(
            name, first.group, first.section, _vec(start), _vec(end), _vec(square), _vec(-b), _vec(a)
        )


def _sockets(case: Case, leg: Leg) -> list[Box]:
    """The room over each bolt of the foot plate."""
    half = max(t.washer_diameter_mm for t in case.threads.values()) / 2 if case.threads else 12.0
    rooms: list[Box] = []
    for x, y, diameter in leg.plate.holes:
        low = np.array(leg.plate.pose.point((x, y, leg.plate.size[2])))
        high = np.array(leg.plate.pose.point((x, y, leg.plate.size[2] + SOCKET_MM)))
        wide = min(half, diameter)
        lo, hi = np.minimum(low, high) - wide, np.maximum(low, high) + wide
        rooms.append(Box(_vec(lo), _vec(hi)))
    return rooms


def _vec(v: Floats) -> Vec:
    return float(v[0]) + 0.0, float(v[1]) + 0.0, float(v[2]) + 0.0
