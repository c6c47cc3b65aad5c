"""A scanned envelope: mesh file or cloud of points -> closed surface in vehicle axes.

The file's triangles are read by trimesh; unit, position and cleaning are ours, so that each fault can say
where it is in the vehicle and what to do.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import combinations

import numpy as np

from packlayout.inputs.clouds import FORMATS as CLOUD_FORMATS
from packlayout.inputs.clouds import MOST_POINTS, read_points, surface_of_cloud
from packlayout.inputs.counts import announced
from packlayout.inputs.scatter import scatter_of
from packlayout.inputs.surfaces import MOST_TRIANGLES, clean, refuse_folds, refuse_holes
from packlayout.model.geometry import Floats, Ints, TriMesh
from packlayout.model.vehicle import MeshFile, ReferencePoint
from packlayout.space.envelope import EnvelopeError

MM: dict[str, float] = {"mm": 1.0, "cm": 10.0, "m": 1000.0, "in": 25.4}
"""Unit word of a mesh file -> mm (exact; inch by ISO 80000-3)."""

FORMATS = (".stl", ".ply", ".obj", ".glb")
LARGEST_FILE = 400_000_000
WORST_FIT_MM = 10.0
LEAST_VOLUME_MM3 = 1e5
LEAST_SCATTER_MM = 0.05
"""Less is not told: a drawn surface has that much by rounding."""


@dataclass(frozen=True, slots=True, eq=False)
class Scanned:
    """A scan in vehicle axes.

    Attributes:
        mesh: Closed surface, mm, faces outward.
        notes: What was done to it, in words.
        scatter_mm: Of what was measured about the surface, 95 % half-width.
    """

    mesh: TriMesh
    notes: tuple[str, ...]
    scatter_mm: float


def read_triangles(data: bytes, suffix: str) -> tuple[Floats, Ints]:
    """Vertices and triangles of a mesh file, in its own unit and axes.

    Args:
        data: The file.
        suffix: Its kind, such as `.ply`.

    Returns:
        (n, 3) vertices and (m, 3) indices; the parts of a GLB scene in one.

    Raises:
        EnvelopeError: for a file that is not of its kind, holds no triangles or too many.
    """
    vertices, faces = _read_shape(data, suffix)
    if len(faces) == 0:
        raise EnvelopeError(("file",), "no triangles in the file", "a surface of triangles")
    return vertices, faces


def _read_shape(data: bytes, suffix: str) -> tuple[Floats, Ints]:
    """The same, without triangles for a file that holds points only."""
    kind = suffix.lower()
    if kind not in FORMATS:
        raise EnvelopeError(("file",), f"{suffix or 'no'} file type", ", ".join(FORMATS))
    _refuse_many(*announced(data, kind[1:]))  # before it is loaded: that takes ten times the room of the file
    from io import BytesIO

    import trimesh

    try:
        loaded = trimesh.load_scene(BytesIO(data), file_type=kind[1:], process=False, skip_materials=True)
        pieces = list(loaded.geometry.values())
        if pieces and all(isinstance(piece, trimesh.PointCloud) for piece in pieces):
            return np.concatenate([piece.vertices for piece in pieces]).astype(np.float64), _NO_FACES
        mesh = loaded.to_mesh()
        vertices = np.asarray(mesh.vertices, dtype=np.float64).reshape(-1, 3)
        faces = np.asarray(mesh.faces, dtype=np.int64).reshape(-1, 3)
    except Exception as error:  # whatever a broken file does to a reader of eight formats
        found = f"cannot be read as {kind[1:].upper()} ({_first_line(error)})"
        allowed = "a whole mesh file of that kind"
        raise EnvelopeError(("file",), found, allowed, "save it again from the scan program") from error
    _refuse_many(len(faces), len(vertices))
    if len(faces) and (faces.min() < 0 or faces.max() >= len(vertices)):
        raise EnvelopeError(("file",), "triangles that name points which are not there", "a whole mesh file")
    return vertices, faces


_NO_FACES = np.empty((0, 3), dtype=np.int64)


def _refuse_many(triangles: int, points: int) -> None:
    if triangles > MOST_TRIANGLES:
        raise EnvelopeError(("file",), f"{triangles} triangles", f"at most {MOST_TRIANGLES}",
                            "reduce it in the scan program; 300000 are plenty for an engine bay")  # fmt: skip
    if points > MOST_POINTS:
        raise EnvelopeError(("file",), f"{points} points", f"at most {MOST_POINTS}",
                            "thin it in the scan program; a point every 3 mm is plenty")  # fmt: skip


def _first_line(error: Exception) -> str:
    text = str(error).strip().splitlines()
    return f"{type(error).__name__}: {text[0][:80]}" if text else type(error).__name__


def envelope_of_scan(data: bytes, suffix: str, scan: MeshFile) -> tuple[TriMesh, tuple[str, ...]]:
    """Closed surface of a scan and what was done to it; see `scanned`."""
    made = scanned(data, suffix, scan)
    return made.mesh, made.notes


def scanned(data: bytes, suffix: str, scan: MeshFile) -> Scanned:
    """Closed surface of a scan, in vehicle axes: of triangles, or laid through a cloud of points.

    Args:
        data: The mesh file.
        suffix: Its kind, such as `.ply`.
        scan: Unit, reference points, and how wide a hole may be filled.

    Returns:
        The surface, mm, faces outward, what was done to it, in words, and its scatter.

    Raises:
        EnvelopeError: for anything that leaves no closed surface; `where` is a field of the record.
    """
    turn, shift, notes = _fit(scan)
    cloud = suffix.lower() in CLOUD_FORMATS
    vertices, faces = (read_points(data), _NO_FACES) if cloud else _read_shape(data, suffix)
    vertices = vertices * MM[scan.unit] @ turn.T + shift
    _check_place(vertices, scan.reference)
    if len(faces) == 0:
        mesh, done, scatter = surface_of_cloud(vertices, scan.widest_hole_mm)
    else:
        mesh, done = _closed(vertices, faces, scan)
        scatter = scatter_of(mesh.vertices)
        if scatter >= LEAST_SCATTER_MM:
            done = (*done, f"95 % of its corners lie within {scatter:.1f} mm of a smooth surface")
    return Scanned(
        mesh, (*notes, *done, f"{len(mesh.faces)} triangles enclose {mesh.volume / 1e6:.1f} l"), scatter
    )


def _closed(vertices: Floats, faces: Ints, scan: MeshFile) -> tuple[TriMesh, tuple[str, ...]]:
    """Triangles as scanned -> one closed surface, faces outward."""
    if scan.inside_out:
        faces = faces[:, ::-1]
    cleaned = clean(vertices, faces, scan.widest_hole_mm)
    refuse_holes(cleaned, scan.widest_hole_mm, "vehicle axes")
    mesh = cleaned.mesh
    volume = mesh.volume
    if abs(volume) < LEAST_VOLUME_MM3:
        raise EnvelopeError(("file",), f"the surface encloses {abs(volume) / 1e3:.3g} cm3", "a surface around a space",
                            "is the unit right, and is it more than one flat sheet?")  # fmt: skip
    if volume < 0:
        if scan.inside_out:
            raise EnvelopeError(("inside_out",), "the faces look outward already", "inside_out: false")
        raise EnvelopeError(
            ("file",), "the surface is inside out: its faces look into the space", "faces that look out of it",
            "turn the faces (flip the normals) in the scan program, or write inside_out: true",
        )  # fmt: skip
    refuse_folds(mesh)
    return mesh, cleaned.notes


def _check_place(vertices: Floats, reference: Sequence[ReferencePoint]) -> None:
    """Refuse reference points that are nowhere near the surface: they belong to another file or unit."""
    finite = vertices[np.isfinite(vertices).all(axis=1)]
    if len(finite) == 0:
        raise EnvelopeError(("file",), "no corner of the mesh is a number", "a whole mesh file")
    lo, hi = finite.min(axis=0), finite.max(axis=0)
    size = float(np.linalg.norm(hi - lo))
    for index, point in enumerate(reference):
        at = np.asarray(point.vehicle, dtype=float)
        away = float(np.linalg.norm(np.maximum(np.maximum(lo - at, at - hi), 0)))
        if away > 5 * size + 1000 or size < 1:
            raise EnvelopeError(
                ("reference", index), f"the point is {away / 1000:.1f} m away from the mesh, which is "
                f"{size / 1000:.3g} m across", "points on or near the mesh, in the unit and axes of the mesh file",
            )  # fmt: skip
    if size > 30_000:
        raise EnvelopeError(("unit",), f"the mesh is {size / 1000:.0f} m across", "at most 30 m",
                            "is the unit right?")  # fmt: skip


def _fit(scan: MeshFile) -> tuple[Floats, Floats, list[str]]:
    """Rotation and shift that take the scan (in mm) into vehicle axes.

    Least squares without scaling by the singular value decomposition (Kabsch, Acta Crystallographica A32, 1976).
    """
    own = np.array([point.scan for point in scan.reference], dtype=float) * MM[scan.unit]
    vehicle = np.array([point.vehicle for point in scan.reference], dtype=float)
    _check_apart(own, vehicle)
    _check_unit(own, vehicle, scan.unit)
    _check_spread(vehicle)
    turn, shift = rigid_fit(own, vehicle)
    misses = np.linalg.norm(own @ turn.T + shift - vehicle, axis=1)
    if misses.max() > WORST_FIT_MM:
        listed = ", ".join(f"point {k + 1}: {miss:.1f} mm" for k, miss in enumerate(misses))
        advice = "measure the worst one again; are the points in the same order in both axes?"
        mirrored = rigid_fit(own * np.array([1, -1, 1]), vehicle)
        flipped = np.linalg.norm((own * np.array([1, -1, 1])) @ mirrored[0].T + mirrored[1] - vehicle, axis=1)
        if len(own) > 3 and flipped.max() < WORST_FIT_MM:
            advice = "the scan is mirrored: its axes are left-handed; change the sign of one axis in the scan program"
        raise EnvelopeError(("reference",), f"the reference points do not fit each other ({listed})",
                            f"at most {WORST_FIT_MM:g} mm", advice)  # fmt: skip
    return turn, shift, [f"{len(own)} reference points fit within {misses.max():.1f} mm"]


def rigid_fit(own: Floats, target: Floats) -> tuple[Floats, Floats]:
    """Rotation R and shift t with the least sum of squares of R own + t - target.

    Args:
        own: (n, 3).
        target: (n, 3), the same points in the other axes.
    """
    a, b = own.mean(axis=0), target.mean(axis=0)
    u, _, vt = np.linalg.svd((own - a).T @ (target - b))
    handed = np.diag([1.0, 1.0, float(np.sign(np.linalg.det(u) * np.linalg.det(vt)))])
    turn = vt.T @ handed @ u.T
    return turn, b - turn @ a


def _check_apart(own: Floats, vehicle: Floats) -> None:
    for axes, points in (("scan", own), ("vehicle", vehicle)):
        least = 1e-3 * float(
            np.ptp(points, axis=0).max()
        )  # a share, since the unit is not yet known to be right
        for i, j in combinations(range(len(points)), 2):
            if np.linalg.norm(points[i] - points[j]) <= least:
                raise EnvelopeError(("reference", j, axes), f"points {i + 1} and {j + 1} are at the same place",
                                    "points that are well apart")  # fmt: skip


def _check_unit(own: Floats, vehicle: Floats, unit: str) -> None:
    """Refuse a scan whose distances are all too long or too short by one factor; name the unit that fits."""
    pairs = list(combinations(range(len(own)), 2))
    ratios = np.array(
        [np.linalg.norm(vehicle[i] - vehicle[j]) / np.linalg.norm(own[i] - own[j]) for i, j in pairs]
    )
    ratio = float(np.median(ratios))
    if abs(ratio - 1) < 0.03 or np.abs(ratios / ratio - 1).max() > 0.05:
        return
    for other, size in MM.items():
        if abs(size / MM[unit] / ratio - 1) < 0.03:
            raise EnvelopeError(("unit",), f"with {unit!r} the scan is {_times(ratio)}", f"{other!r} fits",
                                f"write unit: {other}")  # fmt: skip
    raise EnvelopeError(("unit",), f"with {unit!r} the scan is {_times(ratio)}",
                        "distances between reference points that agree within 3 %",
                        f"no unit of {', '.join(MM)} fits; was the scan scaled?")  # fmt: skip


def _times(ratio: float) -> str:
    return f"{ratio:.4g} times too small" if ratio > 1 else f"{1 / ratio:.4g} times too large"


def _check_spread(vehicle: Floats) -> None:
    spread = np.linalg.svd(vehicle - vehicle.mean(axis=0), compute_uv=False)
    if spread[1] < 0.02 * spread[0] or spread[1] < 10:
        raise EnvelopeError(
            ("reference",), "the reference points lie on one line, so the scan may turn about it",
            "three points that span a triangle", "measure one more point well off that line",
        )  # fmt: skip
