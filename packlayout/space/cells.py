"""Free space on cells: which cubes of a regular grid are surely free, and where a box of a size may stand.

Conservative: a cell is called free only when its cube, grown by the clearance, touches no triangle of any
surface and lies inside the zone and outside every keep-out. So a box made of free cells keeps the
clearance everywhere, whatever the shape of the surfaces. Whether a triangle touches a cube is decided
exactly, by separating axes (Akenine-Moller, Fast 3D triangle-box overlap testing, 2001).
"""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import cast

import numba
import numpy as np
from numpy.typing import NDArray

from packlayout.model.geometry import Box, Floats, Ints, TriMesh, Vec
from packlayout.space.touching import Bools, mark

Sums = NDArray[np.int32]


@dataclass(frozen=True, slots=True, eq=False)
class Space:
    """The cells of one zone.

    Attributes:
        zone: Name of the zone.
        origin: Lowest corner of the first cell, mm, vehicle axes.
        pitch_mm: Side of a cell.
        free: (nx, ny, nz) cells free at all clearances.
        free_sums: (nx+1, ny+1, nz+1) running sums of `free`.
        air_sums: The same for cells inside the zone and outside keep-outs at no clearance.
        open_sums: The same for cells outside keep-outs, the zone's own surface left out of account.
    """

    zone: str
    origin: Vec
    pitch_mm: float
    free: Bools
    free_sums: Sums
    air_sums: Sums
    open_sums: Sums

    @property
    def free_volume_mm3(self) -> float:
        """Volume of the free cells."""
        return float(self.free.sum()) * self.pitch_mm**3


def free_space(
    zone: str,
    surface: TriMesh,
    clearance_mm: float,
    keep_outs: Sequence[tuple[TriMesh, float]],
    pitch_mm: float,
) -> Space:
    """Cut a zone into cells.

    Args:
        zone: Name of the zone.
        surface: Its closed surface.
        clearance_mm: Distance to keep from it.
        keep_outs: Closed surfaces with the distance to keep from each.
        pitch_mm: Side of a cell.

    Returns:
        The cells.
    """
    bounds = surface.bounds
    # one spare cell all round, so that what is outside hangs together
    lo = tuple(np.floor(v / pitch_mm) * pitch_mm - pitch_mm for v in bounds.lo)
    origin = (float(lo[0]), float(lo[1]), float(lo[2]))
    shape = tuple(int(np.ceil((hi - o) / pitch_mm)) + 1 for hi, o in zip(bounds.hi, origin, strict=True))
    inside_air = _inside(surface, origin, pitch_mm, shape, 0.0)
    inside = _inside(surface, origin, pitch_mm, shape, clearance_mm) if clearance_mm > 0 else inside_air
    solid = np.zeros(shape, dtype=np.bool_)
    kept = np.zeros(shape, dtype=np.bool_)
    for mesh, distance in keep_outs:
        solid |= _filled(mesh, origin, pitch_mm, shape, 0.0)
        kept |= _filled(mesh, origin, pitch_mm, shape, distance)
    free = inside & ~kept
    return Space(
        zone,
        origin,
        pitch_mm,
        free,
        running_sums(free),
        running_sums(inside_air & ~solid),
        running_sums(~solid),
    )


def _touched(mesh: TriMesh, origin: Vec, pitch: float, shape: tuple[int, ...], clearance: float) -> Bools:
    # a surface exactly at the clearance is clear; at no clearance a touching cell must count, or the
    # outside would leak in along a surface that lies on cell faces
    half = pitch / 2 + (clearance - 1e-6 if clearance > 0 else 0.0)
    return near_surface(
        mesh, (origin[0] + pitch / 2, origin[1] + pitch / 2, origin[2] + pitch / 2), pitch, shape, half
    )


def near_surface(mesh: TriMesh, first: Vec, pitch: float, shape: tuple[int, ...], half: float) -> Bools:
    """Whether a triangle touches the cube of half side `half` about each point of a regular grid.

    Args:
        mesh: The surface.
        first: First point, mm.
        pitch: Between points, mm.
        shape: How many points along each axis.
        half: Half side of the cubes, mm.
    """
    hit = np.zeros(shape, dtype=np.bool_)
    mark(np.ascontiguousarray(mesh.triangles), np.array(first), pitch, half, hit)
    return hit


@lru_cache(maxsize=16)  # a job tried with one thing changed has all the others as they were
def _inside(mesh: TriMesh, origin: Vec, pitch: float, shape: tuple[int, ...], clearance: float) -> Bools:
    """Cells whose grown cube misses the surface and whose middle is inside it."""
    clear = ~_touched(mesh, origin, pitch, shape, clearance)
    labels, count = labelled(clear)
    border = np.zeros(count + 1, dtype=np.bool_)
    for axis in range(3):
        for end in (0, -1):
            border[np.unique(np.take(labels, end, axis=axis))] = True
    sizes = np.bincount(labels.ravel(), minlength=count + 1)
    keep = np.zeros(count + 1, dtype=np.bool_)
    for label in range(1, count + 1):
        if border[label] or sizes[label] < 8:  # specks of under 8 cells hold no part
            continue
        keep[label] = winding(mesh, np.array(origin) + (_first_cell(labels, label) + 0.5) * pitch) > 0.5
    inside = keep[labels]
    inside.setflags(write=False)
    return inside


def _first_cell(labels: NDArray[np.int32], label: int) -> Floats:
    """Indices of the first cell of a group."""
    flat = int(np.argmax(labels.ravel() == label))
    return np.array(np.unravel_index(flat, labels.shape), dtype=np.float64)


def labelled(cells: Bools) -> tuple[NDArray[np.int32], int]:
    """Number the groups of set cells that hang together face to face, from 1."""
    from scipy import ndimage

    return cast("tuple[NDArray[np.int32], int]", ndimage.label(cells))


@lru_cache(maxsize=32)
def _filled(mesh: TriMesh, origin: Vec, pitch: float, shape: tuple[int, ...], clearance: float) -> Bools:
    """Cells that a keep-out touches at its clearance, or that lie in it."""
    window, corner = _window(mesh.bounds.grown(clearance), origin, pitch, shape)
    out = np.zeros(shape, dtype=np.bool_)
    if window is None:
        return out
    size = tuple(s.stop - s.start for s in window)
    # a margin of one cell, so that the outside hangs together within the window
    padded = tuple(n + 2 for n in size)
    start = (corner[0] - pitch, corner[1] - pitch, corner[2] - pitch)
    hit = _touched(mesh, start, pitch, padded, clearance)
    labels, count = labelled(~hit)
    for label in range(1, count + 1):
        if winding(mesh, np.array(start) + (_first_cell(labels, label) + 0.5) * pitch) > 0.5:
            hit |= labels == label
    out[window] = hit[1:-1, 1:-1, 1:-1]
    out.setflags(write=False)
    return out


def _window(
    box: Box, origin: Vec, pitch: float, shape: tuple[int, ...]
) -> tuple[tuple[slice, ...] | None, Vec]:
    slices: list[slice] = []
    for lo, hi, o, n in zip(box.lo, box.hi, origin, shape, strict=True):
        a, b = max(0, int(np.floor((lo - o) / pitch))), min(n, int(np.ceil((hi - o) / pitch)))
        if a >= b:
            return None, origin
        slices.append(slice(a, b))
    corner = tuple(o + s.start * pitch for o, s in zip(origin, slices, strict=True))
    return tuple(slices), (corner[0], corner[1], corner[2])


def winding(mesh: TriMesh, point: Floats) -> float:
    """Winding number of a closed surface about a point: 1 inside, 0 outside.

    Source: solid angle of a triangle, van Oosterom and Strackee, IEEE Trans. Biomed. Eng. 30 (1983).
    """
    return float(_winding(mesh.vertices, mesh.faces, np.asarray(point, dtype=np.float64)))


def windings(mesh: TriMesh, points: Floats) -> Floats:
    """`winding` about each of (n, 3) points."""
    return np.asarray(_windings(mesh.vertices, mesh.faces, np.ascontiguousarray(points, dtype=np.float64)))


@numba.njit(cache=True)
def _winding(vertices: Floats, faces: Ints, p: Floats) -> float:
    total = 0.0
    for f in range(faces.shape[0]):
        i, j, k = faces[f, 0], faces[f, 1], faces[f, 2]
        ax, ay, az = vertices[i, 0] - p[0], vertices[i, 1] - p[1], vertices[i, 2] - p[2]
        bx, by, bz = vertices[j, 0] - p[0], vertices[j, 1] - p[1], vertices[j, 2] - p[2]
        cx, cy, cz = vertices[k, 0] - p[0], vertices[k, 1] - p[1], vertices[k, 2] - p[2]
        la = np.sqrt(ax * ax + ay * ay + az * az)
        lb = np.sqrt(bx * bx + by * by + bz * bz)
        lc = np.sqrt(cx * cx + cy * cy + cz * cz)
        top = ax * (by * cz - bz * cy) + ay * (bz * cx - bx * cz) + az * (bx * cy - by * cx)
        ab = ax * bx + ay * by + az * bz
        bc = bx * cx + by * cy + bz * cz
        ca = cx * ax + cy * ay + cz * az
        total += np.arctan2(top, la * lb * lc + ab * lc + bc * la + ca * lb)
    return total / (2 * np.pi)


@numba.njit(cache=True)
def _windings(vertices: Floats, faces: Ints, points: Floats) -> Floats:
    out = np.empty(len(points))
    for k in range(len(points)):
        out[k] = _winding(vertices, faces, points[k])
    return out


def running_sums(cells: Bools) -> Sums:
    """(nx+1, ny+1, nz+1) sums over all cells before each corner: any box of cells is then eight look-ups."""
    out = np.zeros(tuple(n + 1 for n in cells.shape), dtype=np.int32)
    _sum_up(np.ascontiguousarray(cells), out)
    return out


@numba.njit(cache=True)
def _sum_up(cells: Bools, out: Sums) -> None:
    for i in range(cells.shape[0]):
        for j in range(cells.shape[1]):
            row = 0
            for k in range(cells.shape[2]):
                row += cells[i, j, k]
                out[i + 1, j + 1, k + 1] = (
                    row + out[i, j + 1, k + 1] + out[i + 1, j, k + 1] - out[i, j, k + 1]
                )


def anchors(space: Space, size: Vec, stride: int = 1) -> Floats:
    """Where a box of a size may stand: (n, 3) lowest corners, mm, vehicle axes, on cell corners.

    Args:
        space: The cells.
        size: Sides along the vehicle axes, mm.
        stride: Take every so many-th cell along each axis.
    """
    n = [max(1, int(np.ceil(side / space.pitch_mm - 1e-9))) for side in size]
    s = space.free_sums
    if any(k >= m for k, m in zip(n, s.shape, strict=True)):
        return np.empty((0, 3))
    count = (
        s[n[0]:, n[1]:, n[2]:] - s[:-n[0], n[1]:, n[2]:] - s[n[0]:, :-n[1], n[2]:] - s[n[0]:, n[1]:, :-n[2]]
        + s[:-n[0], :-n[1], n[2]:] + s[:-n[0], n[1]:, :-n[2]] + s[n[0]:, :-n[1], :-n[2]]
        - s[:-n[0], :-n[1], :-n[2]]
    )  # fmt: skip
    fits = count == n[0] * n[1] * n[2]
    cells = np.argwhere(fits[::stride, ::stride, ::stride]) * stride
    return np.array(space.origin, dtype=np.float64) + cells.astype(np.float64) * space.pitch_mm


def all_set(space: Space, sums: Sums, lo: Floats, hi: Floats) -> Bools:
    """Whether all cells that each box meets are set.

    Args:
        space: The cells.
        sums: One of its running sums.
        lo: (n, 3) lowest corners, mm.
        hi: (n, 3) highest corners, mm.

    Returns:
        (n,) True where the box lies in the grid and every cell it meets is set.
    """
    out = np.zeros(len(lo), dtype=np.bool_)
    _set(
        sums, np.array(space.origin), space.pitch_mm, np.ascontiguousarray(lo), np.ascontiguousarray(hi), out
    )
    return out


@numba.njit(cache=True)
def _set(s: Sums, origin: Floats, pitch: float, lo: Floats, hi: Floats, out: Bools) -> None:
    for r in range(lo.shape[0]):
        x0 = int(np.floor((lo[r, 0] - origin[0]) / pitch + 1e-9))
        y0 = int(np.floor((lo[r, 1] - origin[1]) / pitch + 1e-9))
        z0 = int(np.floor((lo[r, 2] - origin[2]) / pitch + 1e-9))
        x1 = int(np.ceil((hi[r, 0] - origin[0]) / pitch - 1e-9))
        y1 = int(np.ceil((hi[r, 1] - origin[1]) / pitch - 1e-9))
        z1 = int(np.ceil((hi[r, 2] - origin[2]) / pitch - 1e-9))
        if x0 < 0 or y0 < 0 or z0 < 0 or x1 >= s.shape[0] or y1 >= s.shape[1] or z1 >= s.shape[2]:
            continue
        count = (
            s[x1, y1, z1] - s[x0, y1, z1] - s[x1, y0, z1] - s[x1, y1, z0]
            + s[x0, y0, z1] + s[x0, y1, z0] + s[x1, y0, z0] - s[x0, y0, z0]
        )  # fmt: skip
        out[r] = count == (x1 - x0) * (y1 - y0) * (z1 - z0)
