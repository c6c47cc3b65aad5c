"""Exact distances of points and segments to triangles and segments, for fields of clearance and for proofs.

Source: closest point of a triangle and of two segments after Ericson, Real-Time Collision Detection (2005),
sections 5.1.5 and 5.1.9; crossing of segment and triangle by the sign of volumes.
"""

import numba
import numpy as np

from packlayout.model.geometry import Floats
from packlayout.space.lattice import Field


@numba.njit(cache=True)
def point_triangle(px: float, py: float, pz: float, t: Floats) -> float:
    """Distance of a point to a triangle (3, 3)."""
    abx, aby, abz = t[1, 0] - t[0, 0], t[1, 1] - t[0, 1], t[1, 2] - t[0, 2]
    acx, acy, acz = t[2, 0] - t[0, 0], t[2, 1] - t[0, 1], t[2, 2] - t[0, 2]
    apx, apy, apz = px - t[0, 0], py - t[0, 1], pz - t[0, 2]
    d1 = abx * apx + aby * apy + abz * apz
    d2 = acx * apx + acy * apy + acz * apz
    if d1 <= 0 and d2 <= 0:
        return np.sqrt(apx * apx + apy * apy + apz * apz)
    bpx, bpy, bpz = px - t[1, 0], py - t[1, 1], pz - t[1, 2]
    d3 = abx * bpx + aby * bpy + abz * bpz
    d4 = acx * bpx + acy * bpy + acz * bpz
    if d3 >= 0 and d4 <= d3:
        return np.sqrt(bpx * bpx + bpy * bpy + bpz * bpz)
    vc = d1 * d4 - d3 * d2
    if vc <= 0 and d1 >= 0 and d3 <= 0:
        v = d1 / (d1 - d3) if d1 != d3 else 0.0
        x, y, z = apx - v * abx, apy - v * aby, apz - v * abz
        return np.sqrt(x * x + y * y + z * z)
    cpx, cpy, cpz = px - t[2, 0], py - t[2, 1], pz - t[2, 2]
    d5 = abx * cpx + aby * cpy + abz * cpz
    d6 = acx * cpx + acy * cpy + acz * cpz
    if d6 >= 0 and d5 <= d6:
        return np.sqrt(cpx * cpx + cpy * cpy + cpz * cpz)
    vb = d5 * d2 - d1 * d6
    if vb <= 0 and d2 >= 0 and d6 <= 0:
        w = d2 / (d2 - d6) if d2 != d6 else 0.0
        x, y, z = apx - w * acx, apy - w * acy, apz - w * acz
        return np.sqrt(x * x + y * y + z * z)
    va = d3 * d6 - d5 * d4
    if va <= 0 and d4 - d3 >= 0 and d5 - d6 >= 0:
        span = (d4 - d3) + (d5 - d6)
        w = (d4 - d3) / span if span != 0 else 0.0
        x = bpx - w * (t[2, 0] - t[1, 0])
        y = bpy - w * (t[2, 1] - t[1, 1])
        z = bpz - w * (t[2, 2] - t[1, 2])
        return np.sqrt(x * x + y * y + z * z)
    total = va + vb + vc
    if total == 0.0:  # no area: a corner will do
        near = min(apx * apx + apy * apy + apz * apz, bpx * bpx + bpy * bpy + bpz * bpz)
        return np.sqrt(min(near, cpx * cpx + cpy * cpy + cpz * cpz))
    v, w = vb / total, vc / total
    x = apx - v * abx - w * acx
    y = apy - v * aby - w * acy
    z = apz - v * abz - w * acz
    return np.sqrt(x * x + y * y + z * z)


@numba.njit(cache=True)
def segment_segment(p: Floats, q: Floats, r: Floats, s: Floats) -> float:
    """Distance of the segments p-q and r-s."""
    d1, d2, w = q - p, s - r, p - r
    a, e, f = np.dot(d1, d1), np.dot(d2, d2), np.dot(d2, w)
    if a <= 1e-18 and e <= 1e-18:
        return np.sqrt(np.dot(w, w))
    if a <= 1e-18:
        u, v = 0.0, min(max(f / e, 0.0), 1.0)
    else:
        c = np.dot(d1, w)
        if e <= 1e-18:
            u, v = min(max(-c / a, 0.0), 1.0), 0.0
        else:
            b = np.dot(d1, d2)
            den = a * e - b * b
            u = min(max((b * f - c * e) / den, 0.0), 1.0) if den > 1e-12 * a * e else 0.0
            v = (b * u + f) / e
            if v < 0:
                v, u = 0.0, min(max(-c / a, 0.0), 1.0)
            elif v > 1:
                v, u = 1.0, min(max((b - c) / a, 0.0), 1.0)
    gap = w + d1 * u - d2 * v
    return np.sqrt(np.dot(gap, gap))


@numba.njit(cache=True)
def _crosses(p: Floats, q: Floats, t: Floats) -> bool:
    """Whether a segment goes through a triangle."""
    d = q - p
    ab, ac = t[1] - t[0], t[2] - t[0]
    n = np.cross(ab, ac)
    den = np.dot(n, d)
    if den == 0:
        return False
    u = np.dot(n, t[0] - p) / den
    if u < 0 or u > 1:
        return False
    x = p + u * d - t[0]
    a, b, c = np.dot(ab, ab), np.dot(ab, ac), np.dot(ac, ac)
    e, f = np.dot(x, ab), np.dot(x, ac)
    span = a * c - b * b
    if span == 0:
        return False
    v, w = (c * e - b * f) / span, (a * f - b * e) / span
    return v >= 0 and w >= 0 and v + w <= 1


@numba.njit(cache=True)
def segment_triangle(p: Floats, q: Floats, t: Floats) -> float:
    """Distance of a segment to a triangle; nought when it goes through."""
    if _crosses(p, q, t):
        return 0.0
    best = min(point_triangle(p[0], p[1], p[2], t), point_triangle(q[0], q[1], q[2], t))
    for k in range(3):
        best = min(best, segment_segment(p, q, t[k], t[(k + 1) % 3]))
    return best


@numba.njit(cache=True)
def line_to_triangles(line: Floats, triangles: Floats, cap: float) -> Floats:
    """Distance of each segment of a line to a set of triangles, no more than `cap`.

    Args:
        line: (n, 3) points.
        triangles: (m, 3, 3).
        cap: Farther is of no interest, mm.

    Returns:
        (n - 1,) distances.
    """
    out = np.full(len(line) - 1, cap)
    for i in range(len(line) - 1):
        p, q = line[i], line[i + 1]
        for t in range(len(triangles)):
            apart = False
            for k in range(3):
                lo = min(triangles[t, 0, k], min(triangles[t, 1, k], triangles[t, 2, k]))
                hi = max(triangles[t, 0, k], max(triangles[t, 1, k], triangles[t, 2, k]))
                if lo - max(p[k], q[k]) >= out[i] or min(p[k], q[k]) - hi >= out[i]:
                    apart = True
                    break
            if not apart:
                out[i] = min(out[i], segment_triangle(p, q, triangles[t]))
    return out


@numba.njit(cache=True)
def line_to_line(line: Floats, other: Floats, cap: float) -> Floats:
    """Distance of each segment of a line to another line, no more than `cap`: (n - 1,)."""
    out = np.full(len(line) - 1, cap)
    for i in range(len(line) - 1):
        p, q = line[i], line[i + 1]
        for j in range(len(other) - 1):
            apart = False
            for k in range(3):
                lo, hi = min(other[j, k], other[j + 1, k]), max(other[j, k], other[j + 1, k])
                if lo - max(p[k], q[k]) >= out[i] or min(p[k], q[k]) - hi >= out[i]:
                    apart = True
                    break
            if not apart:
                out[i] = min(out[i], segment_segment(p, q, other[j], other[j + 1]))
    return out


@numba.njit(cache=True)
def lower_to_triangles(
    field: Field, triangles: Floats, gap: float, origin: Floats, pitch: float, cap: float
) -> None:
    """Lower a field over cells to distance less gap of each triangle, up to `cap`, in place.

    Args:
        field: (nx, ny, nz) clearance at the middles of the cells, mm.
        triangles: (m, 3, 3).
        gap: Taken off the distance, mm.
        origin: Lowest corner of the first cell.
        pitch: Side of a cell.
        cap: Farther than this is of no interest.
    """
    lo = np.empty(3, np.int64)
    hi = np.empty(3, np.int64)
    reach = cap + gap
    for t in range(len(triangles)):
        for k in range(3):
            least = min(triangles[t, 0, k], min(triangles[t, 1, k], triangles[t, 2, k]))
            most = max(triangles[t, 0, k], max(triangles[t, 1, k], triangles[t, 2, k]))
            lo[k] = max(0, int(np.ceil((least - reach - origin[k]) / pitch - 0.5)))
            hi[k] = min(field.shape[k] - 1, int(np.floor((most + reach - origin[k]) / pitch - 0.5)))
        for i in range(lo[0], hi[0] + 1):
            for j in range(lo[1], hi[1] + 1):
                for m in range(lo[2], hi[2] + 1):
                    if field[i, j, m] <= -gap:
                        continue
                    found = point_triangle(
                        origin[0] + (i + 0.5) * pitch,
                        origin[1] + (j + 0.5) * pitch,
                        origin[2] + (m + 0.5) * pitch,
                        triangles[t],
                    )
                    field[i, j, m] = min(field[i, j, m], found - gap)


@numba.njit(cache=True)
def lower_to_line(field: Field, line: Floats, gap: float, origin: Floats, pitch: float, cap: float) -> None:
    """Lower a field over cells to distance less gap of a line, up to `cap`, in place; see `lower_to_triangles`."""
    lo = np.empty(3, np.int64)
    hi = np.empty(3, np.int64)
    reach = cap + gap
    point = np.empty(3)
    for s in range(len(line) - 1):
        for k in range(3):
            lo[k] = max(0, int(np.ceil((min(line[s, k], line[s + 1, k]) - reach - origin[k]) / pitch - 0.5)))
            hi[k] = min(
                field.shape[k] - 1,
                int(np.floor((max(line[s, k], line[s + 1, k]) + reach - origin[k]) / pitch - 0.5)),
            )
        for i in range(lo[0], hi[0] + 1):
            for j in range(lo[1], hi[1] + 1):
                for m in range(lo[2], hi[2] + 1):
                    point[0] = origin[0] + (i + 0.5) * pitch
                    point[1] = origin[1] + (j + 0.5) * pitch
                    point[2] = origin[2] + (m + 0.5) * pitch
                    found = segment_segment(point, point, line[s], line[s + 1])
                    field[i, j, m] = min(field[i, j, m], found - gap)


@numba.njit(cache=True)
def least_between(field: Field, points: Floats) -> float:
    """The least value at points of a field over cells, straight between the middles of eight cells.

    Args:
        field: (nx, ny, nz).
        points: (n, 3) in cells from the middle of the first one.
    """
    least = np.inf
    for p in range(len(points)):
        total = 0.0
        i, j, m = int(np.floor(points[p, 0])), int(np.floor(points[p, 1])), int(np.floor(points[p, 2]))
        u, v, w = points[p, 0] - i, points[p, 1] - j, points[p, 2] - m
        for a in range(2):
            for b in range(2):
                for c in range(2):
                    x = min(max(i + a, 0), field.shape[0] - 1)
                    y = min(max(j + b, 0), field.shape[1] - 1)
                    z = min(max(m + c, 0), field.shape[2] - 1)
                    share = (u if a else 1 - u) * (v if b else 1 - v) * (w if c else 1 - w)
                    total += share * field[x, y, z]
        least = min(least, total)
    return least


def last_crossing(start: Floats, way: Floats, triangles: Floats) -> float:
    """How far along a ray it last goes through a triangle; nought when it goes through none.

    Source: Moller and Trumbore, Fast, Minimum Storage Ray/Triangle Intersection (1997).
    """
    a, ab, ac = triangles[:, 0], triangles[:, 1] - triangles[:, 0], triangles[:, 2] - triangles[:, 0]
    p = np.cross(way, ac)
    den = np.einsum("ij,ij->i", ab, p)
    hit = np.abs(den) > 1e-12
    inverse = np.where(hit, 1.0 / np.where(hit, den, 1.0), 0.0)
    off = start - a
    u = np.einsum("ij,ij->i", off, p) * inverse
    q = np.cross(off, ab)
    v = q @ way * inverse
    far = np.einsum("ij,ij->i", ac, q) * inverse
    hit &= (u >= -1e-9) & (v >= -1e-9) & (u + v <= 1 + 1e-9) & (far > 1e-6)
    return float(far[hit].max()) if hit.any() else 0.0
