"""A raw cloud of points from a scanner -> a closed surface in vehicle axes, and what was cleaned.

Normals in the file are not used, so wrong ones do no harm. What is left out is told with where it was, since an
island of points may be litter or a thing in the bay.
"""

from io import BytesIO

import numpy as np

from packlayout.inputs.scatter import scatter_of
from packlayout.inputs.wrap import wrap
from packlayout.model.geometry import Floats, TriMesh, Vec
from packlayout.space.envelope import EnvelopeError

FORMATS = (".xyz",)
"""Kinds of file that hold points only; a PLY file without triangles is one as well."""
LEAST_POINTS, MOST_POINTS = 500, 20_000_000
THIN_MM, MOST_THIN = 4.0, 300_000
COARSE = 1.5
"""Cells of the thinned cloud, in 95 % half-widths of its scatter (our choice)."""
STRAY = 4.0
"""A point this many times farther from its neighbours than is usual stands astray (our choice)."""
LINK = 4.0
"""Points nearer than this many spacings hang together (our choice)."""
ISLAND_SHARE = 0.02
"""An island with less than this share of the largest one's points is taken for scanner litter (our choice)."""
_NEAR = 8


def read_points(data: bytes) -> Floats:
    """Points of a text file: a line each, three figures first, parted by blanks, commas or semicolons.

    What follows on a line (colours, normals, intensity) and lines that begin with anything but a figure are passed over.

    Raises:
        EnvelopeError: for a file that is no such text.
    """
    try:
        text = data.decode("ascii")
    except UnicodeDecodeError as error:
        raise EnvelopeError(("file",), "is not text", "a line for each point: x y z") from error
    head = text[:4096].replace(",", " ").replace(";", " ").splitlines()
    skip = next((n for n, row in enumerate(head) if _figures(row)), None)
    if skip is None:
        raise EnvelopeError(
            ("file",), "no line of three figures at its beginning", "a line for each point: x y z"
        )
    clean = text.replace(",", " ").replace(";", " ")
    try:
        return np.loadtxt(
            BytesIO(clean.encode()), skiprows=skip, usecols=(0, 1, 2), dtype=np.float64, ndmin=2
        )
    except ValueError as error:
        said = str(error).splitlines()[0][:100]
        raise EnvelopeError(
            ("file",), f"a line that is no point ({said})", "a line for each point: x y z"
        ) from error


def _figures(row: str) -> bool:
    try:
        return len([float(word) for word in row.split()[:3]]) == 3
    except ValueError:
        return False


def surface_of_cloud(points: Floats, widest_hole_mm: float) -> tuple[TriMesh, tuple[str, ...], float]:
    """Closed surface through a cloud.

    Args:
        points: (n, 3), mm, vehicle axes.
        widest_hole_mm: Gaps up to this width are closed.

    Returns:
        The surface, faces outward; what was done, in words; and how far the points scatter about it, mm, 95 %.

    Raises:
        EnvelopeError: for a cloud too thin, or that encloses nothing, or is open by more than that.
    """
    notes: list[str] = []
    given = len(points)
    points = points[np.isfinite(points).all(axis=1)]
    if len(points) < given:
        notes.append(f"left out {given - len(points)} points that are no numbers")
    _enough(len(points))
    thin = _thinned(points, THIN_MM)
    # planes through points nearer to each other than they scatter would lean any way
    if (coarse := COARSE * scatter_of(thin)) > THIN_MM:
        thin = _thinned(points, coarse)
    thin, spacing = _without_strays(thin, notes)
    thin = _without_islands(thin, spacing, notes)
    _enough(len(thin))
    points = _kept(points, thin, spacing)
    notes.insert(
        0, f"a cloud of {given} points, about {spacing:.1f} mm apart; normals in the file are not used"
    )
    done = wrap(points, thin, spacing, widest_hole_mm)
    if done.mesh is None or not len(done.mesh.faces) or done.mesh.volume <= 0:
        raise _open(done.closed_mm, done.gap_at, widest_hole_mm)
    if done.gap_at is not None:
        notes.append(
            f"closed gaps between the points, the widest about {done.closed_mm:.0f} mm at {_at(done.gap_at)}"
        )
    if done.carved_at is not None:
        notes.append(
            f"{done.carved} points stand within the space, most near {_at(done.carved_at)}: taken for things that stay, "
            f"each keeps {max(spacing, 6.0):.0f} mm around it; if they are litter, cut them out in the scan program"
        )
    notes.append(f"95 % of the points lie within {done.scatter_mm:.1f} mm of the surface")
    return done.mesh, tuple(notes), done.scatter_mm


def _enough(count: int) -> None:
    if count < LEAST_POINTS:
        raise EnvelopeError(("file",), f"{count} points", f"at least {LEAST_POINTS}",
                            "is it the whole cloud, and is the unit right?")  # fmt: skip


def _open(width: float, at: Vec | None, widest: float) -> EnvelopeError:
    if width <= 0 or at is None:
        return EnvelopeError(("file",), "the points enclose no space", "a cloud all round a space",
                             "is it more than one side of it?")  # fmt: skip
    return EnvelopeError(
        ("file",), f"the cloud is open, about {width:.0f} mm wide at {_at(at)} in vehicle axes",
        f"a cloud all round the space; gaps up to {widest:g} mm are closed",
        "scan what is missing, such as the closed bonnet; only where nothing stands behind the gap raise widest_hole",
    )  # fmt: skip


def _at(point: Vec) -> str:
    return f"({', '.join(str(round(v)) for v in point)})"


def _thinned(points: Floats, step: float) -> Floats:
    """The mean of the points in each cell, the cells no smaller than leaves as many as can be worked on."""
    while True:
        cells = np.floor((points - points.min(axis=0)) / step).astype(np.int64)
        if cells.max() >= 1 << 20:
            raise EnvelopeError(("unit",), f"points up to {np.ptp(points, axis=0).max() / 1000:.0f} m apart",
                                "a cloud of one space", "is the unit right?")  # fmt: skip
        _, which, count = np.unique(
            (cells[:, 0] << 40) | (cells[:, 1] << 20) | cells[:, 2], return_inverse=True, return_counts=True
        )
        if len(count) <= MOST_THIN:
            break
        step *= max(1.1, (len(count) / MOST_THIN) ** 0.5)
    return np.stack([np.bincount(which, points[:, k]) / count for k in range(3)], axis=1)


def _without_strays(points: Floats, notes: list[str]) -> tuple[Floats, float]:
    """Without the points far from all others; and how far apart neighbours are."""
    from scipy.spatial import KDTree

    away, _ = KDTree(points).query(points, k=_NEAR + 1)
    far = away[:, _NEAR]
    # the eighth neighbour on a flat even cloud is about as far as a disc that holds nine
    spacing = float(np.median(far)) * (np.pi / (_NEAR + 1)) ** 0.5
    good = far <= STRAY * np.median(far)
    if not good.all():
        notes.append(f"left out {int((~good).sum())} points that stand astray")
    return points[good], spacing


def _without_islands(points: Floats, spacing: float, notes: list[str]) -> Floats:
    """The large islands only; the lost ones are told with where the largest of them was."""
    from scipy.sparse import coo_array
    from scipy.sparse.csgraph import connected_components
    from scipy.spatial import KDTree

    cell = np.floor((points - points.min(axis=0)) / (LINK * spacing / 2)).astype(np.int64)
    rows, which = np.unique(cell, axis=0, return_inverse=True)
    which = which.reshape(-1)
    pairs = KDTree(rows).query_pairs(1.8, output_type="ndarray")
    links = coo_array((np.ones(len(pairs)), (pairs[:, 0], pairs[:, 1])), shape=(len(rows), len(rows)))
    islands, label = connected_components(links, directed=False)
    if islands == 1:
        return points
    own = label[which]
    sizes = np.bincount(own, minlength=islands)
    lost = sizes < ISLAND_SHARE * sizes.max()
    if lost.any():
        largest = points[own == int(np.argmax(np.where(lost, sizes, 0)))]
        middle = largest.mean(axis=0)
        count, all_points = int(lost.sum()), int(sizes[lost].sum())
        word = "island" if count == 1 else "islands"
        notes.append(
            f"left out {count} stray {word} of {all_points} points in all, the largest "
            f"{np.ptp(largest, axis=0).max():.0f} mm across at {_at((middle[0], middle[1], middle[2]))}"
        )
    return points[~lost[own]]


def _kept(points: Floats, thin: Floats, spacing: float) -> Floats:
    """A sample of the points that are near those kept."""
    from scipy.spatial import KDTree

    sample = points[:: max(1, len(points) // 40_000)]
    away, _ = KDTree(thin).query(sample)
    near = sample[away <= 2 * spacing]
    return near if len(near) else thin
