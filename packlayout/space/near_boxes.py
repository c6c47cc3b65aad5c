"""Boxes nearer to triangles than a distance, exactly, round the corners of the box as well.

A box grown by the distance along the axes holds all that is so near and more: at a corner up to the root of three
times the distance. What touches it is asked in turn: a box grown by so little that all in it is near decides most,
the distance of box and triangle the rest.
"""

import numba
import numpy as np

from packlayout.model.geometry import Floats
from packlayout.space.cells import Bools
from packlayout.space.nearest import point_triangle, segment_segment
from packlayout.space.touching import box_touches


@numba.njit(cache=True)
def box_near(triangles: Floats, lo: Floats, hi: Floats, distance: float) -> bool:
    """Whether a box along the axes is nearer to any triangle than a distance.

    Args:
        triangles: (m, 3, 3) corners, mm.
        lo: (3,) lowest corner.
        hi: (3,) highest corner.
        distance: Not negative, mm.
    """
    inner, least, most = distance / np.sqrt(3.0), lo - distance, hi + distance
    for t in range(triangles.shape[0]):
        apart = False
        for k in range(3):
            a, b, c = triangles[t, 0, k], triangles[t, 1, k], triangles[t, 2, k]
            if min(a, min(b, c)) >= most[k] or max(a, max(b, c)) <= least[k]:
                apart = True
                break
        if apart or _plane_far(lo, hi, triangles[t], distance):
            continue
        one = triangles[t : t + 1]
        if not box_touches(one, least, most):
            continue
        if box_touches(one, lo - inner, hi + inner):
            return True
        for k in range(3):
            x, y = lo.copy(), hi.copy()
            x[k], y[k] = least[k], most[k]
            # walls square to an axis
            if box_touches(one, x, y):
                return True
        if _distance(lo, hi, triangles[t]) < distance:
            return True
    return False


@numba.njit(cache=True)
def _plane_far(lo: Floats, hi: Floats, t: Floats, distance: float) -> bool:
    """Whether the plane of a triangle is as far from a box as a distance."""
    ax, ay, az = t[1, 0] - t[0, 0], t[1, 1] - t[0, 1], t[1, 2] - t[0, 2]
    bx, by, bz = t[2, 0] - t[0, 0], t[2, 1] - t[0, 1], t[2, 2] - t[0, 2]
    x, y, z = ay * bz - az * by, az * bx - ax * bz, ax * by - ay * bx
    off = x * (lo[0] + hi[0] - 2 * t[0, 0]) + y * (lo[1] + hi[1] - 2 * t[0, 1])
    off += z * (lo[2] + hi[2] - 2 * t[0, 2])
    reach = abs(x) * (hi[0] - lo[0]) + abs(y) * (hi[1] - lo[1]) + abs(z) * (hi[2] - lo[2])
    return abs(off) / 2 - reach / 2 > distance * np.sqrt(x * x + y * y + z * z) * (1 + 1e-9)


@numba.njit(cache=True)
def _distance(lo: Floats, hi: Floats, t: Floats) -> float:
    """Between a box and a triangle that do not meet: from corners to faces, and between edges."""
    best = np.inf
    for c in range(3):
        total = 0.0
        for k in range(3):
            off = max(0.0, max(lo[k] - t[c, k], t[c, k] - hi[k]))
            total += off * off
        best = min(best, np.sqrt(total))
    corners = np.empty((8, 3))
    for q in range(8):
        for k in range(3):
            corners[q, k] = hi[k] if q >> k & 1 else lo[k]
        best = min(best, point_triangle(corners[q, 0], corners[q, 1], corners[q, 2], t))
    for q in range(8):
        for k in range(3):
            if q >> k & 1 == 0:
                for c in range(3):
                    best = min(best, segment_segment(corners[q], corners[q | 1 << k], t[c], t[(c + 1) % 3]))
    return best


@numba.njit(cache=True)
def keep_far(
    triangles: Floats,
    distance: float,
    size: Floats,
    first: Floats,
    step: Floats,
    breadth: Floats,
    held: Bools,
) -> None:
    """Take out of a grid of ranges for the lowest corner those in which a box is near wherever in the range it stands.

    Args:
        triangles: (m, 3, 3) corners, mm.
        distance: Nearer is near, mm.
        size: (3,) sides of the box.
        first: (3,) lowest corner of the first range.
        step: (3,) from one range to the next.
        breadth: (3,) of a range, less than the sides of the box; nought for places.
        held: (nx, ny, nz) changed.
    """
    lo, hi, n = np.empty(3), np.empty(3), np.empty(3, np.int64)
    for n[0] in range(held.shape[0]):
        for n[1] in range(held.shape[1]):
            for n[2] in range(held.shape[2]):
                if not held[n[0], n[1], n[2]]:
                    continue
                # what every box of the range holds
                for k in range(3):
                    lo[k] = first[k] + n[k] * step[k] + breadth[k]
                    hi[k] = lo[k] - breadth[k] + size[k]
                if box_near(triangles, lo, hi, distance):
                    held[n[0], n[1], n[2]] = False


@numba.njit(cache=True)
def mark_near(triangles: Floats, lo: Floats, hi: Floats, distance: float, near: Bools) -> None:
    """Set those of some boxes, (n, 3) lowest and highest corners, that are nearer to any triangle than a distance."""
    for r in range(lo.shape[0]):
        if not near[r] and box_near(triangles, lo[r], hi[r], distance):
            near[r] = True


def about(triangles: Floats, lo: Floats, hi: Floats, distance: float) -> Floats:
    """Those of some triangles that may be nearer to a box than a distance: (n, 3, 3)."""
    near = (triangles.min(axis=1) < hi + distance) & (triangles.max(axis=1) > lo - distance)
    return np.ascontiguousarray(triangles[near.all(axis=1)])
