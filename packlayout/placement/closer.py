"""Closer to what is left: the ranges in which things may still stand, cut finer by the surfaces themselves.

Where points prove nothing, the choices of sides that they leave hold each thing to ranges of a few centimetres. These
are cut into smaller ones, and one is shut where the box that every stand in it holds is nearer to a surface than its
clearance, exactly. Then all choices are gone through again, and so on: until none is left, which is a proof for
any place as the one on points is, or the ranges shrink no more. In what is then left, fine places are tried.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from math import ceil, cos, radians

import numpy as np

from packlayout.model.brief import Case, PartOrder
from packlayout.model.geometry import Floats, Vec
from packlayout.model.layout import Placement
from packlayout.placement.anchors import shaft_line
from packlayout.placement.bearers import least_over
from packlayout.placement.clear import spaces_of
from packlayout.placement.forms import Form
from packlayout.placement.sides import LEFT_OFF, NONE, OnTop, Stand, left_over, stand
from packlayout.placement.walls import clear_places, shell
from packlayout.space.cells import Bools
from packlayout.space.near_boxes import about, keep_far

STEPS_MM = (2.0, 1.0, 0.5, 0.25)
LEVELS = 8
CELLS, CHOICES = 1500, 4000
"""So many smaller ranges for each way of standing, choices of a side: with more of these nothing is proven."""
GAIN = 1.0
"""Logarithm of how much smaller all ranges, multiplied, must have become for them to be cut again."""
TINY, HAIR_MM = 1e-9, 1e-3


@dataclass(frozen=True, slots=True, eq=False)
class Thing:
    """One thing of a proof.

    Attributes:
        sets: Its ways of standing over optimistic ranges.
        forms: Its forms; none of what stays where it is.
        order: Of a part that may move.
    """

    sets: tuple[Stand, ...]
    forms: tuple[Form, ...] = ()
    order: PartOrder | None = None


@dataclass(frozen=True, slots=True, eq=False)
class Closer:
    """What came of it.

    Attributes:
        step_mm: Step of the finest ranges on which there is proven to be no layout; nought where it is not.
        sets: For each thing what is left; empty when there is a proof, or too much is left.
    """

    step_mm: float
    sets: tuple[tuple[Stand, ...], ...] = ()


def closer(
    case: Case, zones: Sequence[str], things: Sequence[Thing], tops: Sequence[OnTop], order: Sequence[int]
) -> Closer:
    """Cut down the ranges of all things together.

    Args:
        case: The case.
        zones: Names of the zones that the numbers of the ways of standing stand for.
        things: What is to stand.
        tops: What must stand on what.
        order: See `sides`.
    """
    if any(not shell(case, zone) for zone in zones):
        return Closer(0.0)  # a scan with too many triangles
    apart, sets = case.brief.clearances.parts_mm, [t.sets for t in things]
    before, step = np.inf, STEPS_MM[0]
    for level in range(LEVELS):
        found = left_over(sets, [_bearing(t, things, sets) for t in tops], order, CHOICES, apart)
        if found.state == NONE:
            return Closer(step)
        if found.state == LEFT_OFF:
            return Closer(0.0)
        step = STEPS_MM[min(level, len(STEPS_MM) - 1)]
        kept = [
            [(way, range_) for way, range_ in zip(ways, ranges, strict=True) if range_ is not None]
            for ways, ranges in zip(sets, found.ranges, strict=True)
        ]
        now = sum(float(np.log10(r[:, 1] - r[:, 0] + 1.0).sum()) for ways in kept for _, r in ways)
        if now > before - GAIN:
            break
        before = now
        sets = [_cut(case, zones, t, ways, step) for t, ways in zip(things, kept, strict=True)]
        if not all(sets):
            return Closer(step)
    return Closer(0.0, tuple(sets))


def _bearing(top: OnTop, things: Sequence[Thing], sets: Sequence[Sequence[Stand]]) -> OnTop:
    """The same with the least shares of the forms that are left."""
    forms = [[things[i].forms[s.form] for s in sets[i] if things[i].forms] for i in (top.upper, top.lower)]
    return OnTop(top.upper, top.lower, top.rise_mm, least_over(*forms))


def _cut(
    case: Case, zones: Sequence[str], thing: Thing, ways: Sequence[tuple[Stand, Floats]], step_mm: float
) -> tuple[Stand, ...]:
    """Ways of standing over smaller ranges, those shut that no box can stand in."""
    if not thing.forms:
        return thing.sets
    made: list[Stand] = []
    for way, range_ in ways:
        size, span = np.array(way.size), range_[:, 1] - range_[:, 0]
        # as fine as asked for, or as so many ranges allow; each axis is cut evenly
        coarse = max(step_mm, float(np.prod(np.maximum(span, step_mm)) / CELLS) ** (1 / 3))
        shape = tuple(max(1, ceil(s / coarse - TINY)) for s in span)
        step = np.maximum(span / shape, HAIR_MM)
        held = np.ones(shape, dtype=np.bool_)
        if thing.order is not None and thing.order.on_line is not None:
            low = [range_[k, 0] + step[k] * np.arange(shape[k]) for k in range(3)]
            high = [lines + s for lines, s in zip(low, step, strict=True)]
            held &= near_line(case, thing.order, thing.forms[way.form], low, high)
        if (step < size).all():
            for triangles, distance in shell(case, zones[way.zone]):
                near = about(triangles, range_[:, 0], range_[:, 1] + size, distance)
                keep_far(near, distance - HAIR_MM, size, range_[:, 0], step, step, held)
        x, y, z = (float(v) for v in range_[:, 0] + step)
        one = stand(way.form, way.zone, way.size, way.room, (x, y, z), step, step, held)
        made += [one] if one is not None else []
    return tuple(made)


def near_line(
    case: Case, order: PartOrder, form: Form, low: Sequence[Floats], high: Sequence[Floats]
) -> Bools:
    """Where a part's last shaft port may be as near to the shaft line as the brief asks.

    Args:
        case: The case.
        order: Of the part; one that asks for the line.
        form: How it stands.
        low: For each axis the lowest coordinates of ranges of its lowest corner, mm.
        high: The highest.

    Returns:
        (nx, ny, nz) for each combination of ranges.
    """
    shape = tuple(len(lines) for lines in low)
    line, wanted, part = shaft_line(case), order.on_line, case.parts[order.part]
    ports = [p for p in part.ports if p.kind == "shaft"]
    if line is None or wanted is None or not ports:
        return np.ones(shape, dtype=np.bool_)
    start, along = line
    member = form.members[0]
    pose = Placement("", "", "", (0.0, 0.0, 0.0), member.up, member.turn_deg, part.box_size).pose
    looks = pose.direction(ports[-1].direction)
    if sum(a * b for a, b in zip(looks, along, strict=True)) < cos(radians(wanted.angle_deg)) - TINY:
        return np.zeros(shape, dtype=np.bool_)
    off, k = pose.point(ports[-1].at), max(range(3), key=lambda n: abs(along[n]))
    spare = wanted.offset_mm + TINY
    # the foot on the line of any port in a range, and how far the line may be from there along the other axes
    ends = [(low[k] + off[k] - spare - start[k]) / along[k], (high[k] + off[k] + spare - start[k]) / along[k]]
    near = np.ones(shape, dtype=np.bool_)
    for n in range(3):
        if n == k:
            continue
        rows = np.stack([start[n] + along[n] * e for e in ends])
        a, b = rows.min(axis=0) - spare, rows.max(axis=0) + spare
        ok = (high[n][None] + off[n] >= a[:, None]) & (low[n][None] + off[n] <= b[:, None])
        order_ = ok if k < n else ok.T
        near &= np.expand_dims(order_, 3 - k - n)
    return near


@lru_cache(maxsize=256)
def fine_places(
    case: Case, form: Form, number: int | None, zone: int, low: Vec, high: Vec, most: int
) -> Floats:
    """Places within a range at which a form stands free, by the exact distance to all surfaces.

    Args:
        case: The case.
        form: How the thing stands.
        number: Of a part's order in the brief; None for a block.
        zone: Number of the zone among those that the brief uses.
        low: Lowest coordinates of its lowest corner, mm.
        high: Highest.
        most: So many places are tried, evenly over the range, its ends among them.

    Returns:
        (n, 3) lowest corners.
    """
    span = np.array(high) - np.array(low)
    step = max(STEPS_MM[-1], float(np.prod(np.maximum(span, STEPS_MM[-1])) / most) ** (1 / 3))
    x, y, z = (np.linspace(a, b, ceil((b - a) / step - TINY) + 1) for a, b in zip(low, high, strict=True))
    held = np.ones((len(x), len(y), len(z)), dtype=np.bool_)
    order = None if number is None else case.brief.parts[number]
    if order is not None and order.on_line is not None:
        held = near_line(case, order, form, (x, y, z), (x, y, z))
    at = np.stack(np.meshgrid(x, y, z, indexing="ij"), axis=-1)[held]
    return clear_places(case, spaces_of(case)[zone], form, at, exact=True)
