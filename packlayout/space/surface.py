"""A closed surface made ready for many questions: how far points are from it, and the field of distances round it.

Triangles are sorted into cubes, so that a point is held against those near it alone. A surface of very many small
triangles, such as a scan, is told by points on it for the field, which is a guess there; `distances` is always exact.
"""

from dataclasses import dataclass
from typing import Any

import numba
import numpy as np
from numpy.typing import NDArray

from packlayout.model.geometry import Box, Floats, Ints, TriMesh
from packlayout.space.lattice import Field
from packlayout.space.nearest import lower_to_triangles, point_triangle

SIDE_MM = 30.0
"""Of the cubes that triangles are sorted into."""
MANY = 4000
"""Triangles from which on the field goes by points on the surface."""
SPACING_MM = 6.0
"""Between those points, at most."""


@dataclass(frozen=True, slots=True, eq=False)
class Surface:
    """A closed surface and its triangles by place.

    Attributes:
        name: For messages.
        mesh: Of triangles.
        triangles: (m, 3, 3) corner points, mm.
        box: Round it.
        sides: (3,) cubes along each axis.
        begin: (n + 1,) where the triangles of each cube begin.
        items: Indices of triangles.
    """

    name: str
    mesh: TriMesh
    triangles: Floats
    box: Box
    sides: Ints
    begin: Ints
    items: NDArray[np.int32]

    @property
    def guess_mm(self) -> float:
        """How far off the field may be."""
        return SPACING_MM / 3**0.5 if len(self.triangles) > MANY else 0.0

    def distances(self, points: Floats, cap_mm: float) -> Floats:
        """(n,) distance of points to the surface, no more than a cap, exactly."""
        lo = np.array(self.box.lo)
        return np.asarray(
            _distances(
                np.ascontiguousarray(points), self.triangles, lo, self.sides, self.begin, self.items, cap_mm
            )
        )

    def field(self, shape: tuple[int, ...], corner: Floats, pitch_mm: float, cap_mm: float) -> Field:
        """Distance of the middles of cells, no more than a cap.

        Args:
            shape: Cells along each axis.
            corner: Lowest corner of the first cell.
            pitch_mm: Side of a cell.
            cap_mm: Farther is of no interest.
        """
        out: Field = np.full(shape, cap_mm, dtype=np.float32)
        if len(self.triangles) <= MANY:
            lower_to_triangles(out, self.triangles, 0.0, corner, pitch_mm, cap_mm)
            return out
        apart = np.full(shape, (cap_mm + self.guess_mm) ** 2, dtype=np.float32)
        _lower_to_points(apart, self.mesh.vertices, corner, pitch_mm, cap_mm + self.guess_mm)
        _lower_to_points(apart, _within(self.triangles, SPACING_MM), corner, pitch_mm, cap_mm + self.guess_mm)
        return np.minimum(out, np.sqrt(np.maximum(apart - np.float32(self.guess_mm**2), 0)))


def surface(name: str, mesh: TriMesh) -> Surface:
    """Sort the triangles of a mesh by place."""
    triangles = np.ascontiguousarray(mesh.triangles)
    box = mesh.bounds
    span = np.array(box.hi) - np.array(box.lo)
    sides = np.maximum(1, np.ceil(span / SIDE_MM)).astype(np.int64)
    begin, items = _sorted(triangles, np.array(box.lo), sides)
    return Surface(name, mesh, triangles, box, sides, begin, items)


@numba.njit(cache=True)
def _range(least: float, most: float, lo: float, count: int) -> tuple[int, int]:
    a = int(np.floor((least - lo) / SIDE_MM))
    b = int(np.floor((most - lo) / SIDE_MM))
    return min(max(a, 0), count - 1), min(max(b, 0), count - 1)


@numba.njit(cache=True)
def _sorted(triangles: Any, lo: Any, sides: Any) -> tuple[Any, Any]:
    total = sides[0] * sides[1] * sides[2]
    counts = np.zeros(total + 1, np.int64)
    begin = np.zeros(total + 1, np.int64)
    items = np.empty(0, np.int32)
    for turn in range(2):
        if turn == 1:
            for k in range(total):
                begin[k + 1] = begin[k] + counts[k]
            items = np.empty(begin[total], np.int32)
            counts[:] = 0
        for t in range(len(triangles)):
            x0, x1 = _range(triangles[t, :, 0].min(), triangles[t, :, 0].max(), lo[0], sides[0])
            y0, y1 = _range(triangles[t, :, 1].min(), triangles[t, :, 1].max(), lo[1], sides[1])
            z0, z1 = _range(triangles[t, :, 2].min(), triangles[t, :, 2].max(), lo[2], sides[2])
            for x in range(x0, x1 + 1):
                for y in range(y0, y1 + 1):
                    for z in range(z0, z1 + 1):
                        k = (x * sides[1] + y) * sides[2] + z
                        if turn == 1:
                            items[begin[k] + counts[k]] = t
                        counts[k] += 1
    return begin, items


@numba.njit(cache=True)
def _distances(points: Any, triangles: Any, lo: Any, sides: Any, begin: Any, items: Any, cap: Any) -> Any:
    out = np.full(len(points), cap)
    for p in range(len(points)):
        x0, x1 = _range(points[p, 0] - cap, points[p, 0] + cap, lo[0], sides[0])
        y0, y1 = _range(points[p, 1] - cap, points[p, 1] + cap, lo[1], sides[1])
        z0, z1 = _range(points[p, 2] - cap, points[p, 2] + cap, lo[2], sides[2])
        best = cap
        for x in range(x0, x1 + 1):
            for y in range(y0, y1 + 1):
                for z in range(z0, z1 + 1):
                    k = (x * sides[1] + y) * sides[2] + z
                    for i in range(begin[k], begin[k + 1]):
                        t = triangles[items[i]]
                        apart = False
                        for a in range(3):
                            least = min(t[0, a], min(t[1, a], t[2, a]))
                            most = max(t[0, a], max(t[1, a], t[2, a]))
                            if least - points[p, a] >= best or points[p, a] - most >= best:
                                apart = True
                                break
                        if not apart:
                            best = min(best, point_triangle(points[p, 0], points[p, 1], points[p, 2], t))
        out[p] = best
    return out


@numba.njit(cache=True)
def _within(triangles: Any, spacing: Any) -> Any:
    """(n, 3) points on triangles with long edges: with all corners no spot is farther than spacing / sqrt 3 from one."""
    total = 0
    out = np.empty((0, 3))
    for turn in range(2):
        if turn == 1:
            out = np.empty((total, 3))
            total = 0
        for t in range(len(triangles)):
            longest = 0.0
            for a in range(3):
                edge = triangles[t, a] - triangles[t, (a + 1) % 3]
                longest = max(longest, np.sqrt(np.dot(edge, edge)))
            n = int(np.ceil(longest / spacing))
            if n < 2:
                continue
            for i in range(n + 1):
                for j in range(n + 1 - i):
                    if turn == 1:
                        u, v = i / n, j / n
                        out[total] = triangles[t, 0] * (1 - u - v) + triangles[t, 1] * u + triangles[t, 2] * v
                    total += 1
    return out


@numba.njit(cache=True, fastmath=True)
def _lower_to_points(field: Any, points: Any, corner: Any, pitch: Any, cap: Any) -> None:
    """Lower a field of squared distances to that of each point, in place."""
    lo = np.empty(3, np.int64)
    hi = np.empty(3, np.int64)
    for p in range(len(points)):
        for k in range(3):
            lo[k] = max(0, int(np.ceil((points[p, k] - cap - corner[k]) / pitch - 0.5)))
            hi[k] = min(field.shape[k] - 1, int(np.floor((points[p, k] + cap - corner[k]) / pitch - 0.5)))
        for i in range(lo[0], hi[0] + 1):
            x = corner[0] + (i + 0.5) * pitch - points[p, 0]
            for j in range(lo[1], hi[1] + 1):
                y = corner[1] + (j + 0.5) * pitch - points[p, 1]
                flat = np.float32(x * x + y * y)
                row = field[i, j]
                z = np.float32(corner[2] + (lo[2] + 0.5) * pitch - points[p, 2])
                for m in range(lo[2], hi[2] + 1):
                    far = flat + z * z
                    row[m] = min(row[m], far)
                    z += np.float32(pitch)
