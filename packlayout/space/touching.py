"""Whether boxes touch triangles, exactly, by separating axes: one box, or all cells of a grid.

Source: Akenine-Moller, Fast 3D triangle-box overlap testing, 2001.
"""

import numba
import numpy as np
from numpy.typing import NDArray

from packlayout.model.geometry import Floats

Bools = NDArray[np.bool_]
HAIR, TINY = 1e-9, 1e-12


@numba.njit(cache=True)
def _separated(v: Floats, ex: float, ey: float, ez: float, h: Floats) -> bool:
    """True when axis (ex, ey, ez) separates the triangle v from the box of half sides h about nought."""
    p0 = ex * v[0, 0] + ey * v[0, 1] + ez * v[0, 2]
    p1 = ex * v[1, 0] + ey * v[1, 1] + ez * v[1, 2]
    p2 = ex * v[2, 0] + ey * v[2, 1] + ez * v[2, 2]
    r = h[0] * abs(ex) + h[1] * abs(ey) + h[2] * abs(ez)
    return min(p0, min(p1, p2)) > r or max(p0, max(p1, p2)) < -r


@numba.njit(cache=True)
def _misses(v: Floats, h: Floats) -> bool:
    """True when the triangle v misses the box of half sides h about nought."""
    for k in range(3):
        if min(v[0, k], min(v[1, k], v[2, k])) > h[k] or max(v[0, k], max(v[1, k], v[2, k])) < -h[k]:
            return True
    ax, ay, az = v[1, 0] - v[0, 0], v[1, 1] - v[0, 1], v[1, 2] - v[0, 2]
    bx, by, bz = v[2, 0] - v[1, 0], v[2, 1] - v[1, 1], v[2, 2] - v[1, 2]
    if _separated(v, ay * bz - az * by, az * bx - ax * bz, ax * by - ay * bx, h):
        return True
    for k in range(3):
        m = (k + 1) % 3
        ex, ey, ez = v[m, 0] - v[k, 0], v[m, 1] - v[k, 1], v[m, 2] - v[k, 2]
        if _separated(v, 0.0, -ez, ey, h) or _separated(v, ez, 0.0, -ex, h) or _separated(v, -ey, ex, 0.0, h):
            return True
    return False


@numba.njit(cache=True)
def box_touches(triangles: Floats, lo: Floats, hi: Floats) -> bool:
    """Whether any triangle touches a box along the axes.

    Args:
        triangles: (m, 3, 3) corners, mm.
        lo: (3,) lowest corner.
        hi: (3,) highest corner.
    """
    centre, h = (lo + hi) / 2, (hi - lo) / 2
    v = np.empty((3, 3))
    for t in range(triangles.shape[0]):
        apart = False
        for k in range(3):
            a, b, c = triangles[t, 0, k], triangles[t, 1, k], triangles[t, 2, k]
            if min(a, min(b, c)) > hi[k] or max(a, max(b, c)) < lo[k]:
                apart = True
                break
        if apart:
            continue
        for c in range(3):
            for k in range(3):
                v[c, k] = triangles[t, c, k] - centre[k]
        if not _misses(v, h):
            return True
    return False


@numba.njit(cache=True)
def mark(triangles: Floats, first: Floats, pitch: float, half: float, hit: Bools) -> None:
    """Set every point whose cube of half side `half` a triangle touches.

    The centres of the cubes that a triangle touches fill a convex body with the thirteen directions of the
    separating axes as its normals: of each column of points it holds one run, found from all directions at once.
    """
    ways = np.empty((13, 3))
    least, most = np.empty(13), np.empty(13)
    lo, hi = np.empty(3, np.int64), np.empty(3, np.int64)
    for t in range(triangles.shape[0]):
        _bands(triangles[t], half, ways, least, most)
        empty = False
        for k in range(3):
            lo[k] = max(0, int(np.floor((least[k] - first[k]) / pitch)))
            hi[k] = min(hit.shape[k] - 1, int(np.ceil((most[k] - first[k]) / pitch)))
            empty = empty or lo[k] > hi[k]
        if empty:
            continue
        for i in range(lo[0], hi[0] + 1):
            x = first[0] + i * pitch
            if x < least[0] or x > most[0]:
                continue
            for j in range(lo[1], hi[1] + 1):
                y = first[1] + j * pitch
                if y < least[1] or y > most[1]:
                    continue
                a, b = least[2], most[2]
                for w in range(3, 13):
                    off = ways[w, 0] * x + ways[w, 1] * y
                    c = ways[w, 2]
                    if c > TINY:
                        a, b = max(a, (least[w] - off) / c), min(b, (most[w] - off) / c)
                    elif c < -TINY:
                        a, b = max(a, (most[w] - off) / c), min(b, (least[w] - off) / c)
                    elif off < least[w] or off > most[w]:
                        a, b = 1.0, 0.0
                    if a > b:
                        break
                if a > b:
                    continue
                # a hair more than the run: what touches counts
                for m in range(
                    max(lo[2], int(np.ceil((a - first[2]) / pitch - HAIR))),
                    min(hi[2], int(np.floor((b - first[2]) / pitch + HAIR))) + 1,
                ):
                    hit[i, j, m] = True


@numba.njit(cache=True)
def _bands(v: Floats, half: float, ways: Floats, least: Floats, most: Floats) -> None:
    """Directions (13, 3) of unit length, and between which values along each the middle of a touching cube lies."""
    for k in range(3):
        ways[k] = 0.0
        ways[k, k] = 1.0
    ax, ay, az = v[1, 0] - v[0, 0], v[1, 1] - v[0, 1], v[1, 2] - v[0, 2]
    bx, by, bz = v[2, 0] - v[1, 0], v[2, 1] - v[1, 1], v[2, 2] - v[1, 2]
    ways[3, 0], ways[3, 1], ways[3, 2] = ay * bz - az * by, az * bx - ax * bz, ax * by - ay * bx
    for k in range(3):
        m = (k + 1) % 3
        ex, ey, ez = v[m, 0] - v[k, 0], v[m, 1] - v[k, 1], v[m, 2] - v[k, 2]
        w = 4 + 3 * k
        ways[w, 0], ways[w, 1], ways[w, 2] = 0.0, -ez, ey
        ways[w + 1, 0], ways[w + 1, 1], ways[w + 1, 2] = ez, 0.0, -ex
        ways[w + 2, 0], ways[w + 2, 1], ways[w + 2, 2] = -ey, ex, 0.0
    for w in range(13):
        x, y, z = ways[w, 0], ways[w, 1], ways[w, 2]
        long = np.sqrt(x * x + y * y + z * z)
        if long > 0.0:
            x, y, z = x / long, y / long, z / long
            ways[w, 0], ways[w, 1], ways[w, 2] = x, y, z
        p = x * v[0, 0] + y * v[0, 1] + z * v[0, 2]
        q = x * v[1, 0] + y * v[1, 1] + z * v[1, 2]
        r = x * v[2, 0] + y * v[2, 1] + z * v[2, 2]
        reach = half * (abs(x) + abs(y) + abs(z)) + HAIR
        least[w], most[w] = min(p, min(q, r)) - reach, max(p, max(q, r)) + reach
