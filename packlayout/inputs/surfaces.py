"""Triangles as a scanner or a CAD program leaves them -> one clean surface, and what still is wrong with it.

Everything is vectorised over triangles; only the rims of holes are walked edge by edge.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from packlayout.model.geometry import Floats, Ints, TriMesh, Vec
from packlayout.space.envelope import EnvelopeError

MOST_TRIANGLES = 2_500_000
MOST_RIM_EDGES = 200_000
WELD_MM = 1e-3
STRAY_SHARE = 0.02
"""A loose piece with less than this share of the largest one's area is taken for scanner litter (our choice)."""
_LINES = 61
FOLD_MM = 5.0
"""Folds thinner than this are scanner noise (our choice)."""


@dataclass(frozen=True, slots=True)
class Hole:
    """A closed rim of edges that only one triangle has.

    Attributes:
        rim: Vertex indices in the order of the triangles' edges.
        centre: Mean of the rim, mm.
        width_mm: Largest distance between two points of the rim.
    """

    rim: tuple[int, ...]
    centre: Vec
    width_mm: float


@dataclass(frozen=True, slots=True, eq=False)
class Cleaned:
    """A surface after cleaning.

    Attributes:
        mesh: With the holes that were filled, filled.
        holes: Those that are left, widest first.
        notes: What was done, in words.
    """

    mesh: TriMesh
    holes: tuple[Hole, ...]
    notes: tuple[str, ...]


def clean(vertices: Floats, faces: Ints, widest_hole_mm: float) -> Cleaned:
    """Weld, drop what is no surface, turn triangles alike, and fill holes.

    Args:
        vertices: (n, 3), mm.
        faces: (m, 3) indices.
        widest_hole_mm: Holes up to this width are filled with a fan of triangles to their middle.

    Raises:
        EnvelopeError: for loose triangles, surfaces that branch, and one-sided ones.
    """
    notes: list[str] = []
    given = len(faces)
    if given == 0:
        raise EnvelopeError((), "no triangles in the file", "a surface of triangles")
    vertices, faces = _finite(vertices, faces, notes)
    vertices, faces = _welded(vertices, faces, notes)
    faces = _without_doubles(faces, notes)
    vertices, faces = _only_used(vertices, _without_strays(vertices, faces, notes))
    if len(faces) == 0:
        raise EnvelopeError((), f"no triangle of {given} has an area", "a surface", "is the unit right?")
    edges = _Edges(faces)
    edges.refuse_branches(vertices)
    if edges.uneven:
        faces, turned = _turned_alike(faces, edges)
        notes.append(f"turned {turned} triangles that looked the other way than their neighbours")
        edges = _Edges(faces)
        if edges.uneven:
            raise EnvelopeError((), "a surface with one side only, like a twisted strip", "a closed surface",
                                "look for triangles that join inside and outside")  # fmt: skip
    if len(edges.rims) > MOST_RIM_EDGES:
        raise EnvelopeError((), f"loose triangles: {len(edges.rims)} of {len(edges.undirected)} edges are open",
                            "a surface whose triangles share their edges", "mesh the points again")  # fmt: skip
    holes = sorted(_holes(vertices, edges.rims), key=lambda hole: (-hole.width_mm, hole.centre))
    small = [hole for hole in holes if hole.width_mm <= widest_hole_mm]
    if small:
        vertices, faces = _filled(vertices, faces, small)
        widest = small[0]
        count = f"{len(small)} hole{'s' if len(small) > 1 else ''}"
        notes.append(f"filled {count}, the widest {widest.width_mm:.0f} mm at {_place(widest.centre)}")
    mesh = TriMesh(np.ascontiguousarray(vertices), np.ascontiguousarray(faces))
    return Cleaned(mesh, tuple(hole for hole in holes if hole.width_mm > widest_hole_mm), tuple(notes))


def refuse_holes(cleaned: Cleaned, widest_hole_mm: float, axes: str) -> None:
    """Refuse a surface that is still open.

    Raises:
        EnvelopeError: with the place and width of each hole.
    """
    if not cleaned.holes:
        return
    listed = "; ".join(f"{hole.width_mm:.0f} mm wide at {_place(hole.centre)}" for hole in cleaned.holes[:8])
    more = f"; and {len(cleaned.holes) - 8} smaller" if len(cleaned.holes) > 8 else ""
    count = f"{len(cleaned.holes)} hole{'s' if len(cleaned.holes) > 1 else ''}"
    raise EnvelopeError(
        (), f"the surface is open, {count} in {axes}: {listed}{more}",
        f"a closed surface; holes up to {widest_hole_mm:g} mm are filled",
        "close them in the scan program; only where nothing stands behind them raise widest_hole",
    )  # fmt: skip


def refuse_folds(mesh: TriMesh) -> None:
    """Refuse a closed surface that passes through itself.

    Upright lines on a grid are followed through the surface: on each of them the count of surfaces entered less
    surfaces left must stay 0 or 1. A fold that lies wholly between two lines of the grid is not seen.

    Raises:
        EnvelopeError: with the place of the deepest fold.
    """
    lo, hi = mesh.vertices.min(axis=0), mesh.vertices.max(axis=0)
    pitch = (hi[:2] - lo[:2]) / _LINES
    # shares of the golden ratio keep the lines off edges that run at round coordinates
    origin = lo[:2] + pitch * np.array([0.618034, 0.381966])
    line, height, rises = _crossings(mesh, origin, pitch)
    order = np.lexsort((height, line))
    line, height, rises = line[order], height[order], rises[order]
    if len(line) == 0:
        return
    total = np.cumsum(rises)
    begins = np.concatenate([[0], np.flatnonzero(np.diff(line)) + 1])
    group = np.repeat(np.arange(len(begins)), np.diff(np.concatenate([begins, [len(line)]])))
    before = np.concatenate([[0], total])[begins]
    inside = total - before[group]  # surfaces entered less surfaces left, just above each crossing
    ends = np.concatenate([begins[1:], [len(line)]]) - 1
    sound = (inside[ends] == 0)[group]  # a line through an edge counts wrong: leave it out
    gap = np.append(np.diff(height), 0.0)
    gap[ends] = 0.0
    depth = np.where(sound & ((inside < 0) | (inside > 1)), gap, 0.0)
    deep = depth > FOLD_MM
    if deep.sum() >= 3 or depth.max() > 4 * FOLD_MM:
        worst = int(np.argmax(depth))
        column, row = divmod(int(line[worst]), _LINES + 1)
        x, y = origin + pitch * np.array([column, row])
        raise EnvelopeError(
            (), f"the surface passes through itself, {depth[worst]:.0f} mm deep at about "
            f"{_place((x, y, height[worst]))}", "a surface that encloses each place once",
            "cut the fold or the doubled piece out in the scan program",
        )  # fmt: skip


def _crossings(mesh: TriMesh, origin: Floats, pitch: Floats) -> tuple[Ints, Floats, Ints]:
    """Where upright lines of a grid cross the surface: number of the line, height, +1 entering or -1 leaving."""
    flat = (mesh.triangles[:, :, :2] - origin) / pitch
    first = np.maximum(np.ceil(flat.min(axis=1)), 0).astype(np.int64)
    last = np.minimum(np.floor(flat.max(axis=1)), _LINES).astype(np.int64)
    span = np.maximum(last - first + 1, 0)
    count = span[:, 0] * span[:, 1]
    face = np.repeat(np.arange(len(count)), count)
    step = np.arange(len(face)) - np.repeat(np.cumsum(count) - count, count)
    column, row = first[face, 0] + step // span[face, 1], first[face, 1] + step % span[face, 1]
    a, b, c = np.moveaxis(flat[face] - np.stack([column, row], axis=1)[:, None, :], 1, 0)
    u, v, w = (p[:, 0] * q[:, 1] - p[:, 1] * q[:, 0] for p, q in ((b, c), (c, a), (a, b)))
    hit = ((u > 0) & (v > 0) & (w > 0)) | ((u < 0) & (v < 0) & (w < 0))
    face, u, v, w = face[hit], u[hit], v[hit], w[hit]
    z = mesh.triangles[face, :, 2]
    height = (u * z[:, 0] + v * z[:, 1] + w * z[:, 2]) / (u + v + w)
    return column[hit] * (_LINES + 1) + row[hit], height, np.where(u > 0, -1, 1)


def _place(at: Sequence[float] | Floats) -> str:
    """A point in whole mm."""
    return f"({', '.join(str(round(float(value))) for value in at)})"


# ---- steps of the cleaning


def _finite(vertices: Floats, faces: Ints, notes: list[str]) -> tuple[Floats, Ints]:
    good = np.isfinite(vertices).all(axis=1)
    kept = faces[np.asarray(good)[faces].all(axis=1)]
    if len(kept) < len(faces):
        notes.append(f"left out {len(faces) - len(kept)} triangles with corners that are no numbers")
    return np.where(np.isfinite(vertices), vertices, 0.0), kept


def _welded(vertices: Floats, faces: Ints, notes: list[str]) -> tuple[Floats, Ints]:
    """One vertex for all that lie within a thousandth of a millimetre."""
    # the odd shift keeps the borders between cells away from the round figures of drawn parts
    grid = np.floor(vertices / WELD_MM + 0.381966).astype(np.int64)
    mixed = (grid * np.array([73856093, 19349669, 83492791], dtype=np.int64) * 0x9E3779B97F4A7).sum(axis=1)
    _, first, same = np.unique(mixed, return_index=True, return_inverse=True)
    if not np.array_equal(grid[first[same]], grid):  # two places fell on one key: take the slow way
        _, first, same = np.unique(grid, axis=0, return_index=True, return_inverse=True)
    faces = same.reshape(-1)[faces]
    alive = (faces[:, 0] != faces[:, 1]) & (faces[:, 1] != faces[:, 2]) & (faces[:, 2] != faces[:, 0])
    if not alive.all():
        notes.append(f"left out {int((~alive).sum())} triangles without area")
    return vertices[first], faces[alive]


def _only_used(vertices: Floats, faces: Ints) -> tuple[Floats, Ints]:
    """Without the vertices that no triangle has."""
    used = np.unique(faces)
    renumber = np.zeros(len(vertices), dtype=np.int64)
    renumber[used] = np.arange(len(used))
    return vertices[used], renumber[faces]


def _without_doubles(faces: Ints, notes: list[str]) -> Ints:
    """One of each set of triangles on the same corners; none where they face each other in pairs."""
    order = np.argsort(faces, axis=1)
    corners = np.take_along_axis(faces, order, axis=1)
    even = ((order[:, 1] - order[:, 0]) % 3 == 1) * 2 - 1  # +1 when the corners run as in sorted order
    rank = np.lexsort(corners.T)
    fresh = np.ones(len(rank), dtype=bool)
    fresh[1:] = (np.diff(corners[rank], axis=0) != 0).any(axis=1)
    if fresh.all():
        return faces
    group = np.cumsum(fresh) - 1
    net = np.bincount(group, weights=even[rank]).astype(np.int64)
    first = rank[fresh]
    kept = first[net != 0]
    sense = np.sign(net[net != 0]) * even[kept]
    result = np.where(sense[:, None] > 0, faces[kept], faces[kept][:, ::-1])
    notes.append(f"left out {len(faces) - len(kept)} triangles that lay on others")
    return result[np.argsort(kept)]


def _without_strays(vertices: Floats, faces: Ints, notes: list[str]) -> Ints:
    """The large pieces only."""
    from scipy.sparse import coo_array
    from scipy.sparse.csgraph import connected_components

    count = len(vertices)
    rows, columns = faces[:, [0, 1]].ravel(), faces[:, [1, 2]].ravel()
    links = coo_array((np.ones(len(rows), dtype=np.int8), (rows, columns)), shape=(count, count))
    pieces, label = connected_components(links, directed=False)
    if pieces <= 1 or len(faces) == 0:
        return faces
    a, b, c = np.moveaxis(vertices[faces], 1, 0)
    area = np.bincount(
        label[faces[:, 0]], weights=np.linalg.norm(np.cross(b - a, c - a), axis=1) / 2, minlength=pieces
    )
    large = area >= STRAY_SHARE * area.max()
    kept = faces[large[label[faces[:, 0]]]]
    dropped = len(faces) - len(kept)
    if dropped:
        word = "piece" if (~large).sum() == 1 else "pieces"
        notes.append(f"left out {int((~large).sum())} stray {word} ({dropped} triangles)")
    if large.sum() > 1:
        notes.append(f"kept {int(large.sum())} separate pieces")
    return kept


class _Edges:
    """The edges of a set of triangles."""

    def __init__(self, faces: Ints) -> None:
        directed = np.concatenate([faces[:, [0, 1]], faces[:, [1, 2]], faces[:, [2, 0]]])
        self.size = int(faces.max()) + 1
        low, high = directed.min(axis=1), directed.max(axis=1)
        self.undirected, self.first, self.inverse, self.count = np.unique(
            low * self.size + high, return_index=True, return_inverse=True, return_counts=True
        )
        self.forward = np.where(directed[:, 0] == low, 1, -1)
        net = np.bincount(self.inverse, weights=self.forward)
        pairs = self.count == 2
        self.uneven = bool((net[pairs] != 0).any())
        self.rims: Ints = directed[self.first[self.count == 1]]

    def refuse_branches(self, vertices: Floats) -> None:
        """Raise `EnvelopeError` where more than two triangles meet in one edge."""
        many = np.flatnonzero(self.count > 2)
        if len(many) == 0:
            return
        low, high = divmod(int(self.undirected[many[0]]), self.size)
        at = _place((vertices[low] + vertices[high]) / 2)
        raise EnvelopeError(
            (), f"{len(many)} edges are shared by more than two triangles, the first at {at}",
            "a surface with one side in and one side out", "repair it in the scan program (non-manifold edges)",
        )  # fmt: skip


def _turned_alike(faces: Ints, edges: _Edges) -> tuple[Ints, int]:
    """Turn triangles so that neighbours run along their shared edge in opposite directions.

    Within each piece the side that most triangles already have is kept.
    """
    from scipy.sparse import coo_array
    from scipy.sparse.csgraph import breadth_first_order, connected_components

    count = len(faces)
    face = np.tile(np.arange(count), 3)
    order = np.argsort(edges.inverse, kind="stable")
    order = order[np.repeat(edges.count, edges.count) == 2].reshape(-1, 2)
    f, g = face[order[:, 0]], face[order[:, 1]]
    alike = np.where(
        edges.forward[order[:, 0]] == edges.forward[order[:, 1]], 2, 1
    )  # 2: one of the two must turn
    graph = coo_array((np.tile(alike, 2), (np.append(f, g), np.append(g, f))), shape=(count, count)).tocsr()
    _, label = connected_components(graph, directed=False)
    sign = np.ones(count, dtype=np.int64)
    _, roots = np.unique(label, return_index=True)
    for root in roots:
        walk, before = breadth_first_order(graph, int(root), directed=False)
        if len(walk) == 1:
            continue
        step = np.asarray(graph[walk[1:], before[walk[1:]]]).ravel()
        for here, parent, kind in zip(
            walk[1:].tolist(), before[walk[1:]].tolist(), step.tolist(), strict=True
        ):
            sign[here] = sign[parent] if kind == 1 else -sign[parent]
        if sign[walk].sum() < 0:
            sign[walk] *= -1
    return np.where(sign[:, None] > 0, faces, faces[:, ::-1]), int((sign < 0).sum())


def _holes(vertices: Floats, rims: Ints) -> list[Hole]:
    """Walk the open edges to closed rims."""
    onward: dict[int, list[int]] = {}
    for begin, end in rims.tolist():
        onward.setdefault(begin, []).append(end)
    loops: list[list[int]] = []
    for begin in list(onward):
        while onward[begin]:
            path, place = [begin], {begin: 0}
            while onward[path[-1]]:
                after = onward[path[-1]].pop()
                if after not in place:
                    place[after] = len(path)
                    path.append(after)
                    continue
                cut = place[after]  # the path met itself: cut the closed loop off
                loops.append(path[cut:])
                for vertex in path[cut + 1 :]:
                    del place[vertex]
                path = path[: cut + 1]
    return [_hole(vertices, loop) for loop in loops]


def _hole(vertices: Floats, loop: list[int]) -> Hole:
    from scipy.spatial.distance import pdist

    points = vertices[loop]
    if len(points) > 1500:  # every n-th point tells the width of a long rim well enough
        points = points[:: len(points) // 1000]
    x, y, z = (float(value) for value in vertices[loop].mean(axis=0))
    return Hole(tuple(loop), (x, y, z), float(pdist(points).max()))


def _filled(vertices: Floats, faces: Ints, holes: list[Hole]) -> tuple[Floats, Ints]:
    """Close each hole by one triangle, or by a fan to its middle."""
    points, patches = [vertices], [faces]
    count = len(vertices)
    for hole in holes:
        rim = np.array(hole.rim, dtype=np.int64)
        after = np.roll(rim, -1)
        if len(rim) == 3:
            patches.append(rim[None, ::-1])
            continue
        points.append(np.array([hole.centre]))
        patches.append(np.stack([after, rim, np.full(len(rim), count)], axis=1))
        count += 1
    return np.concatenate(points), np.concatenate(patches)
