"""A cloud of points, in no order and with no normals to go by -> a closed surface around the space it encloses.

Which side is in is found first: the points are swollen into a shell, as little as closes it, and the space within
that does not hang together with the space without is the inside. Where the shell closes over a gap between
points, the gap is filled midway. Then each point gets a plane through its neighbours, turned to look out, and the
surface runs where the planes near a place, weighed by distance, agree that they pass.

Source: of the planes, Hoppe and others, Surface reconstruction from unorganized points, SIGGRAPH 1992; of their
weights, Kolluri, Provably good moving least squares, SODA 2005.
"""

from dataclasses import dataclass
from math import ceil

import numpy as np

from packlayout.inputs.tets import level_surface
from packlayout.model.geometry import Floats, TriMesh, Vec
from packlayout.space.cells import Bools, labelled

LEAST_PITCH_MM, MOST_CELLS = 6.0, 4_000_000
PLANE, BLEND = 16, 12
"""Neighbours of a point that its plane goes through, and planes that are weighed at a place."""
SEED_SHARE = 0.05
"""A space with less than this share of the largest one's cells is taken for a pocket between points (our choice)."""
BEYOND = 1.0
"""A plane is trusted this many spacings from the nearest point (found on trial bays: no spikes at sharp edges)."""
EVEN_BEND, EDGE_BEND, EDGE_WEIGHT = 0.04, 0.2, 0.1
"""Planes that lean by about 15 deg at random are one face still, at about 75 deg to each other they make a full edge;
of those that weigh so much at the least (found as above)."""
FLAT_MM, FLAT_SHARE = 0.3, 0.25
"""How far the surface may be moved to do with fewer triangles: so far, or so much of the scatter."""
DEEP = 1.5
"""Points deeper in the space than this many 95 % half-widths of the scatter stand in it by themselves."""
_SAMPLE = 20_000


@dataclass(frozen=True, slots=True, eq=False)
class Wrapped:
    """A surface laid through a cloud.

    Attributes:
        mesh: Closed, faces outward; None when the cloud is open.
        scatter_mm: 95 % of the points lie within this of the surface.
        closed_mm: Width of the widest gap that was closed; of the gap that is left when the cloud is open.
        gap_at: Where that gap is; None when no gap was wider than the points are apart.
        carved: Points found standing in the space, which were cut out of it.
        carved_at: Where most of them stand.
    """

    mesh: TriMesh | None
    scatter_mm: float
    closed_mm: float
    gap_at: Vec | None
    carved: int = 0
    carved_at: Vec | None = None


@dataclass(frozen=True, slots=True, eq=False)
class _Grid:
    """A regular grid of places about the cloud."""

    lo: Floats
    pitch: float
    shape: tuple[int, int, int]

    def cells(self, points: Floats) -> tuple[np.ndarray, ...]:  # type: ignore[type-arg]
        """Nearest place of each point, as indices."""
        at = np.round((points - self.lo) / self.pitch).astype(np.int64)
        return tuple(np.clip(at[:, k], 0, self.shape[k] - 1) for k in range(3))

    def at(self, index: Floats) -> Floats:
        """Places of indices, mm."""
        return self.lo + index * self.pitch

    def value(self, field: Floats, points: Floats) -> Floats:
        """A field between its places."""
        from scipy.ndimage import map_coordinates

        return map_coordinates(field, ((points - self.lo) / self.pitch).T, order=1, mode="nearest")


def wrap(points: Floats, thin: Floats, spacing_mm: float, widest_gap_mm: float) -> Wrapped:
    """Lay a closed surface through a cloud.

    Args:
        points: (n, 3) all points, mm, strays left out.
        thin: (m, 3) the same thinned out evenly.
        spacing_mm: How far neighbours of the thinned ones are apart.
        widest_gap_mm: Gaps between points up to this width are closed.

    Returns:
        The surface, or how wide the cloud is open and where.
    """
    grid = _grid_about(thin, spacing_mm, widest_gap_mm)
    shell = _occupied(grid, thin)
    away = _distance(shell, grid.pitch)
    sides = _sides(away, grid.pitch, widest_gap_mm)
    if sides is None:
        return _open(thin, spacing_mm, widest_gap_mm)
    inner, outer, radius = sides
    lean = _distance(inner, grid.pitch) - _distance(outer, grid.pitch)
    least = 1.5 * grid.pitch
    plugs, gap_at = np.empty((0, 3)), None
    if radius > least + 1e-9:
        plugs, gap_at = _plugs(grid, lean, away, max(spacing_mm, grid.pitch))
        shell |= _occupied(grid, plugs)
        away = _distance(shell, grid.pitch)
        again = _sides(away, grid.pitch, 2 * radius)
        if again is not None:
            inner, outer, _ = again
            lean = _distance(inner, grid.pitch) - _distance(outer, grid.pitch)
    field, anchors, normals = _field(grid, thin, plugs, lean, away, spacing_mm)
    field = _hanging_together(field, inner)
    sample = points[:: max(1, len(points) // _SAMPLE)]
    off = np.abs(_blend(sample, anchors, normals, spacing_mm))
    scatter = float(np.quantile(off, 0.95))
    field, deep = _carved(
        grid, field, thin, max(DEEP * scatter, 0.75 * grid.pitch), max(spacing_mm, grid.pitch)
    )
    field = _hanging_together(field, inner)
    x, y, z = (float(v) for v in grid.lo)
    mesh = _simpler(level_surface(field, (x, y, z), grid.pitch), max(FLAT_MM, FLAT_SHARE * scatter))
    where: Vec | None = None
    if len(deep):
        dense = deep[np.argmin(np.abs(deep - np.median(deep, axis=0)).sum(axis=1))]
        where = (float(dense[0]), float(dense[1]), float(dense[2]))
    return Wrapped(mesh, scatter, 2 * radius if gap_at is not None else 0.0, gap_at, len(deep), where)


def _grid_about(points: Floats, spacing: float, gap: float, coarser: float = 1.0) -> _Grid:
    lo, hi = points.min(axis=0), points.max(axis=0)
    pitch = max(LEAST_PITCH_MM, 1.25 * spacing) * coarser
    while True:
        margin = gap / 2 + 4 * pitch
        shape = [ceil((b - a + 2 * margin) / pitch) + 1 for a, b in zip(lo, hi, strict=True)]
        if shape[0] * shape[1] * shape[2] <= MOST_CELLS:
            return _Grid(lo - margin, pitch, (shape[0], shape[1], shape[2]))
        pitch *= 1.1


def _occupied(grid: _Grid, points: Floats) -> Bools:
    full = np.zeros(grid.shape, dtype=np.bool_)
    if len(points):
        full[grid.cells(points)] = True
    return full


def _distance(full: Bools, pitch: float) -> Floats:
    """Distance of each place from the nearest one that is set, mm."""
    from scipy.ndimage import distance_transform_edt

    made = np.asarray(distance_transform_edt(~full), dtype=np.float32)
    made *= pitch
    return made  # type: ignore[return-value]


def _parted(away: Floats, radius: float) -> tuple[np.ndarray, Bools]:  # type: ignore[type-arg]
    """Spaces farther than a radius from all points, numbered; and which of them reach the border."""
    labels, count = labelled(away >= radius)
    border = np.zeros(count + 1, dtype=np.bool_)
    for axis in range(3):
        for end in (0, -1):
            border[np.unique(np.take(labels, end, axis=axis))] = True
    border[0] = True
    return labels, border


def _sides(away: Floats, pitch: float, gap: float) -> tuple[Bools, Bools, float] | None:
    """Inside and outside of the shell at the least radius that keeps them apart; None when none up to half the gap does."""
    least, most = 1.5 * pitch, max(gap / 2, 1.5 * pitch)
    labels, border = _parted(away, most)
    sizes = np.bincount(labels.ravel(), minlength=len(border))
    sizes[border] = 0
    if sizes.max(initial=0) < 8:
        return None
    seeds: list[tuple[int, ...]] = []
    for label in np.flatnonzero(sizes >= max(8, SEED_SHARE * sizes.max())):
        deepest = int(np.argmax(np.where(labels == label, away, 0.0)))
        seeds.append(tuple(int(v) for v in np.unravel_index(deepest, away.shape)))

    def closed(radius: float) -> bool:
        own, rim = _parted(away, radius)
        return not any(rim[own[seed]] for seed in seeds)

    low, high = least, most
    if closed(least):
        high = least
    while high - low > pitch / 2 and high > least:
        middle = (low + high) / 2
        low, high = (low, middle) if closed(middle) else (middle, high)
    labels, border = _parted(away, high)
    inner = np.isin(labels, [labels[seed] for seed in seeds])
    return inner, border[labels] & (labels > 0), high


def _open(points: Floats, spacing: float, gap: float) -> Wrapped:
    """How wide a cloud is open that does not close over the gap allowed, and where; 0 when it encloses nothing."""
    size = float(np.ptp(points, axis=0).max())
    grid = _grid_about(points, spacing, size, coarser=2.0)
    away = _distance(_occupied(grid, points), grid.pitch)
    width = 2 * gap
    while width < size:
        sides = _sides(away, grid.pitch, width)
        if sides is not None:
            inner, outer, radius = sides
            lean = _distance(inner, grid.pitch) - _distance(outer, grid.pitch)
            return Wrapped(None, 0.0, 2 * radius, _plugs(grid, lean, away, max(spacing, grid.pitch))[1])
        width *= 1.3
    return _side_missing(points, gap)


def _side_missing(points: Floats, gap: float) -> Wrapped:
    """The place of the hull about a cloud that is farthest from all of its points."""
    from scipy.spatial import ConvexHull, KDTree

    hull = ConvexHull(points)
    corners = points[hull.simplices]
    shares = np.array([[i, j, 12 - i - j] for i in range(13) for j in range(13 - i)]) / 12.0
    at = np.einsum("sk,nkd->nsd", shares, corners).reshape(-1, 3)
    away, _ = KDTree(points).query(at)
    far = int(np.argmax(away))
    thick = float(hull.volume) / max(float(hull.area), 1e-9)
    if 2 * away[far] <= gap or thick < gap / 6:
        return Wrapped(None, 0.0, 0.0, None)
    return Wrapped(None, 0.0, 2 * float(away[far]), (float(at[far, 0]), float(at[far, 1]), float(at[far, 2])))


def _plugs(grid: _Grid, lean: Floats, away: Floats, spacing: float) -> tuple[Floats, Vec | None]:
    """Points midway between the two sides wherever no measured point is near, and the middle of the widest gap."""
    cells = np.argwhere((np.abs(lean) <= 1.8 * grid.pitch) & (away > 1.5 * spacing))
    if not len(cells):
        return np.empty((0, 3)), None
    widest = grid.at(cells[np.argmax(away[tuple(cells.T)])].astype(np.float64))
    at = grid.at(cells.astype(np.float64))
    way = _uphill(grid, lean, at)
    # the difference of two distances changes by two for each step across
    moved = at - way * (grid.value(lean, at) / 2)[:, None]
    return moved, (float(widest[0]), float(widest[1]), float(widest[2]))


def _uphill(grid: _Grid, field: Floats, at: Floats) -> Floats:
    """Unit vectors in which a field rises."""
    step = 2 * grid.pitch
    rise = np.stack(
        [grid.value(field, at + step * e) - grid.value(field, at - step * e) for e in np.eye(3)], axis=1
    )
    length = np.linalg.norm(rise, axis=1, keepdims=True)
    return np.where(length > 1e-6, rise / np.maximum(length, 1e-6), [0.0, 0.0, 1.0])


def _planes(points: Floats, count: int) -> Floats:
    """Normal of the plane through each point's neighbours, of either sign."""
    from scipy.spatial import KDTree

    tree = KDTree(points)
    normals = np.empty_like(points)
    for start in range(0, len(points), 100_000):
        part = points[start : start + 100_000]
        _, near = tree.query(part, k=min(count, len(points)))
        spread = points[near] - points[near].mean(axis=1, keepdims=True)
        _, vectors = np.linalg.eigh(np.einsum("nki,nkj->nij", spread, spread))
        normals[start : start + len(part)] = vectors[:, :, 0]
    return normals


def _field(
    grid: _Grid, thin: Floats, plugs: Floats, lean: Floats, away: Floats, spacing: float
) -> tuple[Floats, Floats, Floats]:
    """Signed distance by the planes near the points, by the sides elsewhere; the points and normals it rests on."""
    normals = _planes(thin, PLANE)
    up = (normals * _uphill(grid, lean, thin)).sum(axis=1)
    normals = np.where(up[:, None] < 0, -normals, normals)
    anchors = np.concatenate([thin, plugs])
    normals = np.concatenate([normals, _uphill(grid, lean, plugs)]) if len(plugs) else normals
    band = 3.0 * max(spacing, grid.pitch)
    field = np.where(lean < 0, -band, band)
    near = np.argwhere(away <= band)
    for start in range(0, len(near), 100_000):
        cells = near[start : start + 100_000]
        field[tuple(cells.T)] = np.clip(
            _blend(grid.at(cells.astype(np.float64)), anchors, normals, spacing), -band, band
        )
    for axis in range(3):  # whatever the planes say, the border is outside
        for end in (0, -1):
            view = np.moveaxis(field, axis, 0)
            view[end] = band
    return field, anchors, normals


def _blend(at: Floats, anchors: Floats, normals: Floats, spacing: float) -> Floats:
    """Distance of places from the planes near them, weighed by how near their points are."""
    from scipy.spatial import KDTree

    tree = KDTree(anchors)
    away, near = tree.query(at, k=min(BLEND, len(anchors)))
    nearest = away[:, :1]
    weight = np.exp((nearest**2 - away**2) / (1.5 * spacing) ** 2)
    plane = ((at[:, None, :] - anchors[near]) * normals[near]).sum(axis=2)
    # where no point is near, planes run on beyond the edge of what was measured: such a place counts as outside
    beyond = np.maximum(nearest[:, 0] - BEYOND * spacing, 0.0)
    total = weight.sum(axis=1)
    mean = (weight * plane).sum(axis=1) / total
    # about an edge the planes disagree: there the one that leaves the least space counts
    bent = 1.0 - np.linalg.norm((weight[:, :, None] * normals[near]).sum(axis=1), axis=1) / total
    least = np.where(weight > EDGE_WEIGHT, plane, -np.inf).max(axis=1)
    share = np.clip((bent - EVEN_BEND) / (EDGE_BEND - EVEN_BEND), 0.0, 1.0)
    return (1 - share) * mean + share * least + beyond


def _hanging_together(field: Floats, inner: Bools) -> Floats:
    """The field with what lies below nought and does not hang together with the inside put outside."""
    labels, count = labelled(field < 0)
    known = np.zeros(count + 1, dtype=np.bool_)
    known[np.unique(labels[inner & (field < 0)])] = True
    known[0] = False
    return np.where((field < 0) & ~known[labels], -field, field)


def _carved(grid: _Grid, field: Floats, thin: Floats, depth: float, radius: float) -> tuple[Floats, Floats]:
    """Points that stand deep in the inside cut out of it, each with a ball: a thing in the space, or a doubt."""
    deep = thin[grid.value(field, thin) < -depth]
    if not len(deep):
        return field, deep
    from scipy.spatial import KDTree

    away = _distance(_occupied(grid, deep), grid.pitch)
    near = np.argwhere(away <= radius + 2 * grid.pitch)
    gap, _ = KDTree(deep).query(grid.at(near.astype(np.float64)))
    cut = field.copy()
    index = tuple(near.T)
    cut[index] = np.maximum(cut[index], radius - gap)
    return cut, deep


def _simpler(mesh: TriMesh, within_mm: float) -> TriMesh:
    """The same surface with fewer triangles; as it was when that does not stay closed."""
    import manifold3d

    if not len(mesh.faces):
        return mesh
    solid = manifold3d.Manifold(
        manifold3d.Mesh64(mesh.vertices.copy(), mesh.faces.astype(np.uint64, order="C"))
    )
    if solid.status() != manifold3d.Error.NoError:
        return mesh
    small = solid.simplify(within_mm).to_mesh64()
    points = np.asarray(small.vert_properties[:, :3], dtype=np.float64)
    faces = np.asarray(small.tri_verts, dtype=np.int64)
    return TriMesh(np.ascontiguousarray(points), np.ascontiguousarray(faces)) if len(faces) else mesh
