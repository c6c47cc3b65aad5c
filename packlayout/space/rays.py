"""How far a surface of triangles is from a point along an axis."""

import numba
import numpy as np

from packlayout.model.geometry import Floats


@numba.njit(cache=True)
def ray(triangles: Floats, at: Floats, along: int, sign: int) -> float:
    """Distance to the nearest triangle ahead.

    Args:
        triangles: (m, 3, 3) corners, mm.
        at: (3,) point, mm.
        along: 0, 1 or 2: the axis.
        sign: +1 or -1: the way.

    Returns:
        mm; a touching surface up to a hundredth behind the point counts as nought; infinite where there is none.
    """
    i, j = (along + 1) % 3, (along + 2) % 3
    best = np.inf
    for t in range(triangles.shape[0]):
        ax, ay = triangles[t, 0, i] - at[i], triangles[t, 0, j] - at[j]
        bx, by = triangles[t, 1, i] - at[i], triangles[t, 1, j] - at[j]
        cx, cy = triangles[t, 2, i] - at[i], triangles[t, 2, j] - at[j]
        if min(ax, min(bx, cx)) > 1e-6 or max(ax, max(bx, cx)) < -1e-6:
            continue
        if min(ay, min(by, cy)) > 1e-6 or max(ay, max(by, cy)) < -1e-6:
            continue
        # areas of the three triangles that the point makes with the sides
        u, v, w = bx * cy - by * cx, cx * ay - cy * ax, ax * by - ay * bx
        whole = u + v + w
        if abs(whole) < 1e-9:
            continue
        u, v, w = u / whole, v / whole, w / whole
        if u < -1e-9 or v < -1e-9 or w < -1e-9:
            continue
        height = u * triangles[t, 0, along] + v * triangles[t, 1, along] + w * triangles[t, 2, along]
        ahead = (height - at[along]) * sign
        if -0.01 <= ahead < best:
            best = ahead
    return best
