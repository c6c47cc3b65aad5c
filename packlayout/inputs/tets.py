"""Level surface of a field on a regular grid, by marching tetrahedra: always closed, each edge in two triangles.

Each cube of the grid is cut into six tetrahedra about its diagonal (Kuhn), so that neighbouring cubes agree on
their shared faces and no case is ambiguous, as there is with marching cubes.
"""

from itertools import permutations

import numpy as np

from packlayout.model.geometry import Floats, Ints, TriMesh, Vec
from packlayout.space.cells import Bools


def _kuhn() -> Ints:
    """(6, 4, 3) corners of the six tetrahedra of a unit cube, each positively oriented."""
    made: list[list[list[int]]] = []
    for order in permutations(range(3)):
        corner, path = [0, 0, 0], [[0, 0, 0]]
        for axis in order:
            corner[axis] += 1
            path.append([*corner])
        edges = np.array(path[1:]) - np.array(path[0])
        if np.linalg.det(edges) < 0:
            path[2], path[3] = path[3], path[2]
        made.append(path)
    return np.array(made, dtype=np.int64)


_TETS = _kuhn()
# one corner against three: (the one, and the others so that the four are an even permutation)
_ALONE = ((0, 1, 2, 3), (1, 0, 3, 2), (2, 3, 0, 1), (3, 2, 1, 0))
# two against two: (the two, the other two), even
_PAIRS = ((0, 1, 2, 3), (0, 2, 3, 1), (0, 3, 1, 2), (1, 2, 0, 3), (1, 3, 2, 0), (2, 3, 0, 1))


def level_surface(field: Floats, origin: Vec, pitch_mm: float) -> TriMesh:
    """The surface on which a field is nought, faces looking from below nought to above.

    Args:
        field: (nx, ny, nz) values at grid points; above nought all round the border.
        origin: First grid point, mm.
        pitch_mm: Between grid points.

    Returns:
        Closed surface; without triangles when nothing lies below nought.
    """
    values = np.where(field == 0.0, 1e-9, field)
    below = values < 0
    cubes = np.argwhere(_mixed(below))
    shape = np.array(values.shape)
    steps = np.array([shape[1] * shape[2], shape[2], 1])
    flat = values.ravel()
    edges: list[Ints] = []
    for tet in _TETS:
        corner = (cubes[:, None, :] + tet[None]) @ steps
        under = flat[corner] < 0
        count = under.sum(axis=1)
        for i, j, k, m in _ALONE:
            for lone, turned in (((count == 1) & under[:, i], False), ((count == 3) & ~under[:, i], True)):
                c = corner[lone]
                ends = [c[:, [i, j]], c[:, [i, k]], c[:, [i, m]]]
                edges.append(np.stack(ends[::-1] if turned else ends, axis=1))
        for i, j, k, m in _PAIRS:
            c = corner[(count == 2) & under[:, i] & under[:, j]]
            ik, im, jm, jk = c[:, [i, k]], c[:, [i, m]], c[:, [j, m]], c[:, [j, k]]
            edges += [np.stack([ik, im, jm], axis=1), np.stack([ik, jm, jk], axis=1)]
    ends = np.sort(np.concatenate(edges), axis=2) if edges else np.empty((0, 3, 2), dtype=np.int64)
    keys, faces = np.unique(ends[..., 0] * np.int64(flat.size) + ends[..., 1], return_inverse=True)
    a, b = np.divmod(keys, np.int64(flat.size))
    share = np.clip(flat[a] / (flat[a] - flat[b]), 0.02, 0.98)  # no triangle without area
    first, last = (np.stack(np.unravel_index(e, values.shape), axis=1).astype(np.float64) for e in (a, b))
    points = np.array(origin) + pitch_mm * (first + share[:, None] * (last - first))
    return TriMesh(np.ascontiguousarray(points), np.ascontiguousarray(faces.reshape(-1, 3).astype(np.int64)))


def _mixed(below: Bools) -> Bools:
    """Cubes with corners on both sides."""
    n = below.shape
    some = np.zeros((n[0] - 1, n[1] - 1, n[2] - 1), dtype=np.bool_)
    every = np.ones_like(some)
    for i in (0, 1):
        for j in (0, 1):
            for k in (0, 1):
                part = below[i : n[0] - 1 + i, j : n[1] - 1 + j, k : n[2] - 1 + k]
                some |= part
                every &= part
    return some & ~every
