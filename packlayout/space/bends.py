"""A cable's middle line: straight runs joined by arcs of one radius, told by the corners they would meet at.

The bend radius is exact by construction: each corner is rounded by an arc that touches both runs.
"""

from dataclasses import dataclass

import numba
import numpy as np

from packlayout.model.geometry import Floats, Vec

SLACK_MM = 1e-6
FINER = 8
"""How many times finer the line of a conduit is checked."""


@dataclass(frozen=True, slots=True)
class Arc:
    """One bend: where it begins and ends, its middle and a point half way, its angle."""

    start: Vec
    end: Vec
    centre: Vec
    middle: Vec
    angle_rad: float


@dataclass(frozen=True, slots=True)
class Line:
    """A middle line.

    Attributes:
        corners: First end, corners, last end, mm.
        radius_mm: Of every bend.
    """

    corners: tuple[Vec, ...]
    radius_mm: float

    @property
    def tangents_mm(self) -> Floats:
        """Length each bend takes from the runs on either side; nought at the ends."""
        return tangents(np.array(self.corners), self.radius_mm)

    @property
    def length_mm(self) -> float:
        """Along straights and arcs."""
        points = np.array(self.corners)
        runs = float(np.linalg.norm(np.diff(points, axis=0), axis=1).sum())
        t = self.tangents_mm
        return runs - 2 * float(t.sum()) + self.radius_mm * float(_angles(points).sum())

    @property
    def arcs(self) -> tuple[Arc, ...]:
        """In order; corners that are straight have none."""
        points, made = np.array(self.corners), []
        angles, t = _angles(points), self.tangents_mm
        for k in range(1, len(points) - 1):
            if angles[k] < 1e-6:
                continue
            before, after = _unit(points[k] - points[k - 1]), _unit(points[k + 1] - points[k])
            inward = _unit(after - before)
            centre = points[k] + inward * self.radius_mm / np.cos(angles[k] / 2)
            made.append(
                Arc(
                    _vec(points[k] - before * t[k]),
                    _vec(points[k] + after * t[k]),
                    _vec(centre),
                    _vec(centre - inward * self.radius_mm),
                    float(angles[k]),
                )
            )
        return tuple(made)

    def points(self, step_mm: float = 3.0) -> Floats:
        """(n, 3) points along it no farther apart than a step, every run's ends among them."""
        return self.chords(step_mm, step_mm)

    def chords(self, step_mm: float = 4.0, longest_mm: float = 60.0) -> Floats:
        """(n, 3) points along it: arcs in steps, straights in pieces; for distances to it."""
        return chord_points(np.array(self.corners, dtype=float), self.radius_mm, step_mm, longest_mm)

    def between(self, begin_mm: float, end_mm: float) -> "Line":
        """A piece of it, which may begin and end within a bend.

        Args:
            begin_mm: Along the line, from its first end.
            end_mm: Likewise, beyond `begin_mm`.

        Returns:
            A line of the same bend radius that lies on this one and is `end_mm - begin_mm` long.
        """
        begin, end = max(0.0, begin_mm), min(self.length_mm, end_mm)
        corners, gone = [self.at(begin)[0]], 0.0
        points, taken = np.array(self.corners), self.tangents_mm
        angles = _angles(points)
        for k in range(1, len(points) - 1):
            gone += float(np.linalg.norm(points[k] - points[k - 1])) - float(taken[k - 1] + taken[k])
            first, last = max(begin, gone), min(end, gone + self.radius_mm * float(angles[k]))
            gone += self.radius_mm * float(angles[k])
            if (
                last - first > SLACK_MM
            ):  # the tangents at both ends of what is left of the bend meet at its corner
                place, way = self.at(first)
                reach = self.radius_mm * np.tan((last - first) / self.radius_mm / 2)
                corners.append(_vec(np.array(place) + np.array(way) * reach))
        return Line((*corners, self.at(end)[0]), self.radius_mm)

    def at(self, along_mm: float) -> tuple[Vec, Vec]:
        """The point so far along the line from its first end, mm, and the way the line goes there."""
        points, taken = np.array(self.corners), self.tangents_mm
        angles, gone = _angles(points), 0.0
        for k in range(1, len(points)):
            way = _unit(points[k] - points[k - 1])
            run = float(np.linalg.norm(points[k] - points[k - 1])) - float(taken[k - 1] + taken[k])
            start = points[k - 1] + way * taken[k - 1]
            if along_mm <= gone + run or k == len(points) - 1:
                return _vec(start + way * (along_mm - gone)), _vec(way)
            gone += run
            turned = (along_mm - gone) / self.radius_mm
            if turned < angles[k]:
                after = _unit(points[k + 1] - points[k])
                side = _unit(after - way * float(after @ way))
                moved = self.radius_mm * (np.sin(turned) * way + (1 - np.cos(turned)) * side)
                return _vec(start + way * run + moved), _vec(np.cos(turned) * way + np.sin(turned) * side)
            gone += self.radius_mm * float(angles[k])
        raise AssertionError("a line has two ends")

    @property
    def centroid(self) -> Vec:
        """Centre of gravity of the line, mm."""
        p = self.points()
        weight = np.linalg.norm(np.diff(p, axis=0), axis=1)
        return _vec(((p[1:] + p[:-1]) / 2 * weight[:, None]).sum(axis=0) / weight.sum())

    @property
    def tightest_mm(self) -> float:
        """Smallest radius of the circle through neighbouring points of the sampled line; infinite when straight."""
        p = self.points(2.0)
        a, b, c = (np.linalg.norm(x, axis=1) for x in (p[1:-1] - p[:-2], p[2:] - p[1:-1], p[2:] - p[:-2]))
        area = np.linalg.norm(np.cross(p[1:-1] - p[:-2], p[2:] - p[:-2]), axis=1) / 2
        bent = area > 1e-6 * a * b
        return float((a[bent] * b[bent] * c[bent] / (4 * area[bent])).min()) if bent.any() else float("inf")


def finer(points: Floats, times: int = FINER) -> Floats:
    """A line with points between its points: (n, 3) -> (times (n - 1) + 1, 3).

    Where a cable goes from a way into a zone, both are narrow for less than it is otherwise sampled by.
    """
    share = (np.arange(times) / times)[None, :, None]
    between = points[:-1, None] * (1 - share) + points[1:, None] * share
    return np.vstack([between.reshape(-1, 3), points[-1:]])


def fits(corners: Floats, radius_mm: float, straight_mm: float) -> bool:
    """Whether every bend finds room on its runs, with a straight length left at both ends.

    Args:
        corners: (n, 3).
        radius_mm: Of every bend.
        straight_mm: Straight out of each end.
    """
    return len(corners) > 1 and fitted_length(np.ascontiguousarray(corners), radius_mm, straight_mm) >= 0


@numba.njit(cache=True)
def fitted_length(corners: Floats, radius_mm: float, straight_mm: float) -> float:
    """Length of the line through corners; -1 where `fits` would say no."""
    total, before, n = 0.0, straight_mm, len(corners)
    for k in range(1, n):
        run = np.sqrt(((corners[k] - corners[k - 1]) ** 2).sum())
        if run < SLACK_MM:
            return -1.0
        angle, ahead = 0.0, straight_mm
        if k < n - 1:
            u, v = corners[k] - corners[k - 1], corners[k + 1] - corners[k]
            x, y, z = u[1] * v[2] - u[2] * v[1], u[2] * v[0] - u[0] * v[2], u[0] * v[1] - u[1] * v[0]
            angle = np.arctan2(np.sqrt(x * x + y * y + z * z), (u * v).sum())
            ahead = radius_mm * np.tan(min(angle, 3.1) / 2)
        if before + ahead > run + SLACK_MM:
            return -1.0
        total += run
        if k < n - 1:
            total += radius_mm * angle - 2 * ahead
        before = ahead
    return total


@numba.njit(cache=True)
def chord_points(corners: Floats, radius_mm: float, step_mm: float, longest_mm: float) -> Floats:
    """(n, 3) points along the line through corners: arcs in steps, straights in pieces.

    Args:
        corners: (n, 3).
        radius_mm: Of every bend.
        step_mm: Between points on an arc, at most.
        longest_mm: Between points of a straight, at most.
    """
    n, total = len(corners), 0
    out = np.empty((0, 3))
    for turn in range(2):  # counted first, then filled
        if turn == 1:
            out = np.empty((total, 3))
            out[0] = corners[0]
        total = 1
        at = corners[0].copy()
        for k in range(1, n):
            end = corners[k].copy()
            bend, angle = False, 0.0
            centre, first, second = at, at, at
            if k < n - 1:
                u, v = corners[k] - corners[k - 1], corners[k + 1] - corners[k]
                u, v = u / np.sqrt((u * u).sum()), v / np.sqrt((v * v).sum())
                x, y, z = u[1] * v[2] - u[2] * v[1], u[2] * v[0] - u[0] * v[2], u[0] * v[1] - u[1] * v[0]
                angle = np.arctan2(np.sqrt(x * x + y * y + z * z), (u * v).sum())
                if angle < 1e-6:
                    continue
                bend = True
                tangent = radius_mm * np.tan(min(angle, 3.1) / 2)
                inward = v - u
                inward = inward / np.sqrt((inward * inward).sum())
                centre = corners[k] + inward * radius_mm / np.cos(angle / 2)
                first, second = corners[k] - u * tangent - centre, corners[k] + v * tangent - centre
                end = centre + first
            run = end - at
            far = np.sqrt((run * run).sum())
            # where two bends meet there is no straight between them
            pieces = 0 if far < SLACK_MM else max(1, int(np.ceil(far / longest_mm)))
            if turn == 1:
                for i in range(1, pieces + 1):
                    out[total + i - 1] = at + run * (i / pieces)
            total += pieces
            at = end
            if bend:
                pieces = max(2, int(np.ceil(radius_mm * angle / step_mm)))
                sine = np.sin(angle)
                if turn == 1:
                    for i in range(1, pieces + 1):
                        share = i / pieces
                        if abs(sine) < 1e-9:
                            out[total + i - 1] = centre + first + (second - first) * share
                        else:  # spherical interpolation keeps the radius exactly
                            a, b = np.sin((1 - share) * angle) / sine, np.sin(share * angle) / sine
                            out[total + i - 1] = centre + first * a + second * b
                total += pieces
                at = centre + second
    return out


def tangents(corners: Floats, radius_mm: float) -> Floats:
    """(n,) length that each bend takes from its runs: R tan(angle / 2)."""
    return radius_mm * np.tan(np.minimum(_angles(corners), 3.1) / 2)


def _angles(corners: Floats) -> Floats:
    out = np.zeros(len(corners))
    if len(corners) > 2:
        d = np.diff(corners, axis=0)
        d = d / np.linalg.norm(d, axis=1)[:, None]
        cross = np.linalg.norm(np.cross(d[:-1], d[1:]), axis=1)
        out[1:-1] = np.arctan2(cross, (d[:-1] * d[1:]).sum(axis=1))
    return out


def _unit(v: Floats) -> Floats:
    return v / np.linalg.norm(v)


def _vec(v: Floats) -> Vec:
    return float(v[0]), float(v[1]), float(v[2])
