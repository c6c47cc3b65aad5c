"""Measured shapes -> closed surfaces: lofts of tape stations, boxes, cylinders, extruded outlines.

Every surface made here is closed and its faces look outward. A loft errs inward where four points of two
stations do not lie in one plane, a cylinder outward, so that space is never promised that is not there.
"""

from collections.abc import Sequence
from itertools import pairwise
from math import cos, pi

import numpy as np

from packlayout.errors import GeometryError
from packlayout.model.geometry import Box, Floats, Ints, TriMesh, Vec

Outline = Sequence[tuple[float, float]]
Section = tuple[float, Outline]
"""x of a station, mm, and its outline (y, z), mm."""

CYLINDER_SIDES = 32
LEAST_STEP_MM = 1.0
LEAST_AREA_MM2 = 1.0
_SECTIONS_TRIED = (0.1, 0.2, 0.3, 0.4, 0.5, 0.6, 0.7, 0.8, 0.9)


class EnvelopeError(GeometryError):
    """A shape that encloses no space.

    The text is `what was found; allowed: what may stand there; what to do`.

    Attributes:
        where: Keys down to the culprit within the shape, such as `("stations", 3, "outline", 7)`.
    """

    def __init__(self, where: tuple[str | int, ...], found: str, allowed: str, advice: str = "") -> None:
        self.where, self.found, self.allowed, self.advice = where, found, allowed, advice
        super().__init__("; ".join(part for part in (found, f"allowed: {allowed}", advice) if part))


def is_closed(faces: Ints) -> bool:
    """True when each edge is shared by exactly two faces that run along it in opposite directions.

    Args:
        faces: (m, 3) indices.
    """
    edges = np.concatenate([faces[:, [0, 1]], faces[:, [1, 2]], faces[:, [2, 0]]])
    key = edges[:, 0] * (int(faces.max(initial=0)) + 1) + edges[:, 1]
    back = edges[:, 1] * (int(faces.max(initial=0)) + 1) + edges[:, 0]
    return (
        bool(len(faces)) and len(np.unique(key)) == len(key) and np.array_equal(np.sort(key), np.sort(back))
    )


def box(lo: Vec, hi: Vec) -> TriMesh:
    """A box between two opposite corners, in any order.

    Raises:
        EnvelopeError: when it has no volume.
    """
    low, high = np.minimum(lo, hi), np.maximum(lo, hi)
    if (high - low).min() <= 0:
        raise EnvelopeError((), "a box without volume", "corners that differ in x, y and z")
    corners = np.array([[x, y, z] for z in (0, 1) for y in (0, 1) for x in (0, 1)], dtype=float)
    faces = np.array(
        [
            [0, 2, 3], [0, 3, 1], [4, 5, 7], [4, 7, 6], [0, 1, 5], [0, 5, 4],
            [2, 6, 7], [2, 7, 3], [0, 4, 6], [0, 6, 2], [1, 3, 7], [1, 7, 5],
        ],
        dtype=np.int64,
    )  # fmt: skip
    return _sealed(low + corners * (high - low), faces)


def box_mesh(space: Box) -> TriMesh:
    """A `Box` as a surface."""
    return box(space.lo, space.hi)


def cylinder(start: Vec, end: Vec, diameter_mm: float) -> TriMesh:
    """A round bar as a prism of 32 sides that holds it: each side touches the bar.

    Args:
        start: Middle of one end, mm.
        end: Middle of the other.
        diameter_mm: Of the bar; the prism is 0.5 % wider over its corners.

    Raises:
        EnvelopeError: when the ends or the diameter leave no volume.
    """
    a, b = np.asarray(start, dtype=float), np.asarray(end, dtype=float)
    length = float(np.linalg.norm(b - a))
    if length <= 0 or diameter_mm <= 0:
        raise EnvelopeError((), "a cylinder without volume", "ends apart from each other and a diameter")
    axis = (b - a) / length
    side = np.eye(3)[int(np.argmin(np.abs(axis)))]
    u = np.cross(axis, side)
    u /= np.linalg.norm(u)
    v = np.cross(axis, u)
    # the first flat looks along u, so that a bar along an axis fills its own box
    turns = (np.arange(CYLINDER_SIDES) + 0.5) * 2 * pi / CYLINDER_SIDES
    radius = diameter_mm / 2 / cos(pi / CYLINDER_SIDES)
    ring = np.asarray(radius * (np.outer(np.cos(turns), u) + np.outer(np.sin(turns), v)), dtype=np.float64)
    fan = np.array([[0, k, k + 1] for k in range(1, CYLINDER_SIDES - 1)], dtype=np.int64)
    return _prism(a + ring, b + ring, fan)


def extruded(along: str, outline: Outline, begin: float, end: float) -> TriMesh:
    """A closed outline carried along an axis.

    Args:
        along: `x`, `y` or `z`.
        outline: Points of the other two axes, in the order x, y, z, mm.
        begin: Where it begins on that axis, mm.
        end: Where it ends; beyond `begin`.

    Raises:
        EnvelopeError: for an outline that crosses itself or has no area.
    """
    check_outline(outline, ("outline",))
    if end <= begin:
        raise EnvelopeError(("end",), "nothing between begin and end", "end beyond begin")
    ring = _anticlockwise(np.asarray(outline, dtype=float))
    axis = "xyz".index(along)
    first, second = (np.insert(ring, axis, level, axis=1) for level in (begin, end))
    return _prism(first, second, _triangulate(ring, ("outline",)))


def loft(stations: Sequence[Section]) -> TriMesh:
    """Closed surface through outlines taken with a tape at stations along x.

    Outlines with equally many points are joined point to point, others by the share of their length from
    their first point. Either direction round an outline will do. Where two triangles may join four points
    in two ways, the way that encloses less is taken.

    Args:
        stations: In the order of x.

    Returns:
        Closed surface, faces outward, through exactly the points given.

    Raises:
        EnvelopeError: for stations that do not increase, outlines that cross themselves and lofts that do.
    """
    if len(stations) < 2:
        raise EnvelopeError(("stations",), f"{len(stations)} stations", "two or more")
    for index, (_, outline) in enumerate(stations):
        check_outline(outline, ("stations", index, "outline"))
    for index, ((x0, _), (x1, _)) in enumerate(pairwise(stations), start=1):
        if x1 - x0 < LEAST_STEP_MM:
            raise EnvelopeError(
                ("stations", index, "x"), f"x {x1:g} after x {x0:g}",
                f"stations in the order of x, at least {LEAST_STEP_MM:g} mm apart",
            )  # fmt: skip
    rings = [_anticlockwise(np.asarray(outline, dtype=float)) for _, outline in stations]
    starts = np.concatenate([[0], np.cumsum([len(ring) for ring in rings])])
    faces: list[Ints] = []
    for index, (a, b) in enumerate(pairwise(rings)):
        x0, x1 = stations[index][0], stations[index + 1][0]
        rungs = _rungs(a, b)
        _check_twist(a, b, index + 1, (x0, x1))
        _check_span(a, b, rungs, index + 1, (x0, x1))
        faces.append(_strip(rungs, len(a), len(b), int(starts[index]), int(starts[index + 1])))
    first = _triangulate(rings[0], ("stations", 0, "outline"))[:, ::-1]  # looks forward, against x
    last = _triangulate(rings[-1], ("stations", len(rings) - 1, "outline")) + starts[-2]
    points = [np.insert(ring, 0, x, axis=1) for (x, _), ring in zip(stations, rings, strict=True)]
    return _sealed(np.concatenate(points), np.concatenate([first, *faces, last]))


def check_outline(outline: Outline, where: tuple[str | int, ...]) -> None:
    """Refuse an outline that encloses no area or crosses itself.

    Args:
        outline: Points in order, the last joined to the first, mm.
        where: Keys down to it, for the message.

    Raises:
        EnvelopeError: at the point to blame.
    """
    count = len(outline)
    if count < 3:
        raise EnvelopeError(where, f"an outline of {count} points", "three or more")
    for index, (u, v) in enumerate(outline):
        other = (index + 1) % count
        if abs(u - outline[other][0]) < 1e-3 and abs(v - outline[other][1]) < 1e-3:
            last = other == 0
            raise EnvelopeError(
                (*where, index if last else other), f"point {(index if last else other) + 1} repeats "
                + ("the first" if last else "the one before"), "each point once",
                "leave it out: the outline closes by itself" if last else "leave it out",
            )  # fmt: skip
    from shapely import Polygon, is_valid_reason

    polygon = Polygon(outline)
    if not polygon.is_valid:
        raise EnvelopeError(where, _crossing(str(is_valid_reason(polygon)), outline), "points in order round it",
                            "look for two points that are swapped or a wrong sign")  # fmt: skip
    if polygon.area < LEAST_AREA_MM2:
        raise EnvelopeError(where, f"an outline of {polygon.area:.3g} mm2", f"at least {LEAST_AREA_MM2:g} mm2",
                            "are the points in mm?")  # fmt: skip


def _crossing(reason: str, outline: Outline) -> str:
    """`Self-intersection[12 30]` -> words, with the numbers of the two sides that cross."""
    if "[" not in reason:
        return "the outline crosses itself"
    spot = np.array([float(word) for word in reason.split("[")[1].rstrip("]").split()[:2]])
    ring = np.asarray(outline, dtype=float)
    ahead = np.roll(ring, -1, axis=0) - ring
    along = np.clip(((spot - ring) * ahead).sum(1) / (ahead * ahead).sum(1), 0, 1)
    off = np.linalg.norm(ring + along[:, None] * ahead - spot, axis=1)
    sides = sorted(int(k) for k in np.argsort(off, kind="stable")[:2])
    count = len(outline)
    pairs = " and ".join(f"{k + 1}-{(k + 1) % count + 1}" for k in sides)
    return f"the outline crosses or touches itself at ({spot[0]:.0f}, {spot[1]:.0f}), between points {pairs}"


# ---- lofting


def _anticlockwise(ring: Floats) -> Floats:
    """The ring anticlockwise, its first point kept."""
    ahead = np.roll(ring, -1, axis=0)
    area = float((ring[:, 0] * ahead[:, 1] - ring[:, 1] * ahead[:, 0]).sum())
    return ring if area > 0 else np.concatenate([ring[:1], ring[:0:-1]])


def _middles(ring: Floats) -> Floats:
    """Share of the ring's length from its first point to the middle of each of its sides."""
    sides = np.linalg.norm(np.diff(ring, axis=0, append=ring[:1]), axis=1)
    return np.asarray((np.cumsum(sides) - sides / 2) / sides.sum())


def _rungs(a: Floats, b: Floats) -> list[tuple[int, int]]:
    """Pairs of points (of a, of b) joined by the strip between two rings, once round.

    Neighbouring rungs differ by one step on one ring, so each pair of neighbours spans one triangle.
    """
    along_a, along_b = (np.roll(ring, -1, axis=0) - ring for ring in (a, b))
    if len(a) == len(b):
        middle_a = middle_b = np.arange(len(a), dtype=np.float64)
    else:
        middle_a, middle_b = _middles(a), _middles(b)
    rungs, i, j = [(0, 0)], 0, 0
    while i < len(a) or j < len(b):
        # the side whose middle comes first, counted by the share of the length, is the next to be joined
        if i == len(a) or j == len(b):
            step_a = j == len(b)
        elif abs(middle_a[i] - middle_b[j]) > 1e-9:
            step_a = bool(middle_a[i] < middle_b[j])
        else:
            # Two triangles join these two sides along one diagonal or the other. The two surfaces differ by the
            # volume of the four points, -(x1 - x0) / 6 * along_a x along_b: its sign picks the inner one.
            turn = along_a[i][0] * along_b[j][1] - along_a[i][1] * along_b[j][0]
            step_a = bool(turn < 0)
        i, j = (i + 1, j) if step_a else (i, j + 1)
        rungs.append((i, j))
    return rungs


def _strip(rungs: list[tuple[int, int]], count_a: int, count_b: int, start_a: int, start_b: int) -> Ints:
    """Triangles between two rings, faces outward when b lies behind a."""
    faces: list[tuple[int, int, int]] = []
    for (i, j), (i_after, _) in pairwise(rungs):
        here_a, here_b = start_a + i % count_a, start_b + j % count_b
        after = (start_a + (i + 1) % count_a) if i_after > i else (start_b + (j + 1) % count_b)
        faces.append((here_a, after, here_b))
    return np.array(faces, dtype=np.int64)


def _check_span(
    a: Floats, b: Floats, rungs: list[tuple[int, int]], index: int, x: tuple[float, float]
) -> None:
    """Refuse a span that crosses itself: cut it across at several places and look at each section."""
    from shapely import Polygon

    on_a = a[[i % len(a) for i, _ in rungs[:-1]]]
    on_b = b[[j % len(b) for _, j in rungs[:-1]]]
    for share in _SECTIONS_TRIED:
        ring = (1 - share) * on_a + share * on_b
        ahead = np.roll(ring, -1, axis=0)
        area = float((ring[:, 0] * ahead[:, 1] - ring[:, 1] * ahead[:, 0]).sum()) / 2
        if area < LEAST_AREA_MM2 or not Polygon(ring).is_valid:
            raise EnvelopeError(
                ("stations", index), f"between x {x[0]:g} and x {x[1]:g} the surface crosses itself, at about "
                f"x {x[0] + share * (x[1] - x[0]):.0f}", "outlines that follow each other",
                "begin each outline at the same corner and go round with about equal steps, or add a station between",
            )  # fmt: skip


def _check_twist(a: Floats, b: Floats, index: int, x: tuple[float, float]) -> None:
    """Refuse two outlines that begin at different corners: another beginning joins them far better."""
    if len(a) != len(b):
        return
    p, q = a - a.mean(axis=0), b - b.mean(axis=0)
    # mean square gap over the points, for each point of b that might be the first
    gaps = np.array([((p - np.roll(q, -shift, axis=0)) ** 2).sum(axis=1).mean() for shift in range(len(q))])
    best = int(np.argmin(gaps))
    size = float(np.sqrt((p**2).sum(axis=1).mean()))
    if gaps[0] > 4 * gaps[best] and np.sqrt(gaps[0]) > 0.3 * size:
        raise EnvelopeError(
            ("stations", index, "outline"),
            f"the surface between x {x[0]:g} and x {x[1]:g} is twisted: the outlines begin at different corners",
            "outlines that all begin at the same corner", f"begin this one at ({b[best][0]:g}, {b[best][1]:g})",
        )  # fmt: skip


# ---- closing


def _triangulate(ring: Floats, where: tuple[str | int, ...]) -> Ints:
    """Triangles, anticlockwise, that fill an anticlockwise ring."""
    from manifold3d import triangulate

    faces = np.asarray(triangulate([ring]), dtype=np.int64).reshape(-1, 3)
    if len(faces) != len(ring) - 2:
        raise EnvelopeError(where, "an outline with points too close to a line or to each other", "a plain outline",
                            "leave out points that are not needed")  # fmt: skip
    return faces


def _prism(first: Floats, second: Floats, cap: Ints) -> TriMesh:
    """Two rings alike, joined and capped."""
    count = len(first)
    k = np.arange(count)
    after = (k + 1) % count
    sides = np.concatenate(
        [np.stack([k, after, after + count], axis=1), np.stack([k, after + count, k + count], axis=1)]
    )
    return _sealed(np.concatenate([first, second]), np.concatenate([cap[:, ::-1], sides, cap + count]))


def _sealed(vertices: Floats, faces: Ints) -> TriMesh:
    """A surface that is closed and looks outward.

    Raises:
        EnvelopeError: when it is not closed or holds nothing.
    """
    mesh = TriMesh(
        np.ascontiguousarray(vertices, dtype=np.float64), np.ascontiguousarray(faces, dtype=np.int64)
    )
    if mesh.volume < 0:
        mesh = TriMesh(mesh.vertices, np.ascontiguousarray(mesh.faces[:, ::-1]))
    if not is_closed(mesh.faces) or mesh.volume <= 0:
        raise EnvelopeError((), "a surface that does not close", "a shape that holds space")
    return mesh
