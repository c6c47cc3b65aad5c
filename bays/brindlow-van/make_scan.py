"""Writes `scan.ply`: the engine bay of the van as a scanner would give it.

A hand-held scanner's mesh is never clean. This one has 1.5 mm of noise, gaps where the light did not reach,
and stray patches that belong to nothing; it is in metres and in the scanner's own axes, as the tripod stood.
The true shape is the loft between the sections below, in the axes of the vehicle. Invented for demonstration.

Run `python make_scan.py [FILE]`; the same bytes come out each time.
"""

import sys
from pathlib import Path

import numpy as np

SEED = 1961
NOISE_MM = 1.5  # standard deviation across the surface
AROUND, ALONG, CAP_RINGS = 520, 184, 54

# right half of each section, y-z, floor first: floor, bearer shelf, seat box, cover. The left mirrors it
SECTIONS = {
    -170: ((215, 318), (226, 362), (300, 364), (300, 520), (288, 640), (292, 800), (280, 930)),
    0: ((235, 308), (246, 366), (316, 368), (314, 520), (286, 600), (288, 800), (284, 965)),
    150: ((236, 304), (246, 367), (320, 368), (318, 520), (292, 610), (292, 820), (288, 990)),
    420: ((236, 304), (246, 367), (320, 368), (318, 530), (300, 640), (298, 840), (292, 1004)),
    580: ((230, 306), (240, 367), (316, 368), (314, 540), (302, 650), (300, 850), (292, 1002)),
    680: ((216, 312), (228, 366), (306, 368), (304, 545), (300, 650), (298, 850), (284, 990)),
}
# (x, y, z, width): gaps in the surface, mm, vehicle axes
GAPS = (
    (60, 0, 306, 120), (300, -320, 430, 70), (350, 295, 700, 60), (-40, -286, 700, 45), (500, 60, 304, 35),
    (220, 100, 993, 90), (470, -200, 1003, 28), (-170, 40, 600, 80), (680, -90, 480, 65), (610, 303, 600, 22),
)  # fmt: skip
# (x, y, z): middles of stray patches; two hang inside the bay, the others lie outside
STRAYS = (
    (-60, -180, 700),
    (470, 210, 430),
    (-240, 120, 760),
    (300, 390, 620),
    (760, -200, 380),
    (150, -60, 1090),
)

# the tripod stood in front of the bay, turned a little and nodding down: where, and how far
SCANNER_MM = np.array([-905.0, 130.0, 1240.0])
TURN_DEG, NOD_DEG = 8.0, 17.0


def scanner_rotation() -> np.ndarray:
    """(3, 3): columns are the scanner's x (right), y (down) and z (away from it) in vehicle axes."""
    turn, nod = np.radians([TURN_DEG, NOD_DEG])
    level = np.array([[0.0, 0.0, 1.0], [-1.0, 0.0, 0.0], [0.0, -1.0, 0.0]])
    nodded = np.array([[1, 0, 0], [0, np.cos(nod), np.sin(nod)], [0, -np.sin(nod), np.cos(nod)]])
    turned = np.array([[np.cos(turn), -np.sin(turn), 0], [np.sin(turn), np.cos(turn), 0], [0, 0, 1]])
    return turned @ level @ nodded


def as_scanned(points_mm: np.ndarray) -> np.ndarray:
    """Vehicle axes, mm -> scanner axes, m."""
    return (points_mm - SCANNER_MM) @ scanner_rotation() / 1000.0


def section(x: float) -> np.ndarray:
    """(AROUND, 2) points y, z of the section at x, mm; a corner has the same index in every section."""
    stations = np.array(sorted(SECTIONS), dtype=float)
    right = np.array([SECTIONS[int(station)] for station in stations], dtype=float)
    half = np.array([[np.interp(x, stations, right[:, i, k]) for k in (0, 1)] for i in range(right.shape[1])])
    corners = np.concatenate([half, half[::-1] * [-1, 1]])
    middle = np.array(SECTIONS[150], dtype=float)
    lengths = _sides(np.concatenate([middle, middle[::-1] * [-1, 1]]))
    ends = np.round(np.concatenate([[0.0], np.cumsum(lengths)]) / lengths.sum() * AROUND).astype(int)
    closed = np.concatenate([corners, corners[:1]])
    return np.column_stack([np.interp(np.arange(AROUND), ends, closed[:, k]) for k in (0, 1)])


def _sides(corners: np.ndarray) -> np.ndarray:
    return np.linalg.norm(np.roll(corners, -1, axis=0) - corners, axis=1)


def clean_surface() -> tuple[np.ndarray, np.ndarray]:
    """Closed surface: vertices in mm, vehicle axes; faces anticlockwise seen from outside the bay."""
    xs = np.linspace(min(SECTIONS), max(SECTIONS), ALONG + 1)
    rings = np.array([np.column_stack([np.full(AROUND, x), section(x)]) for x in xs])
    vertices, faces = [rings.reshape(-1, 3)], []
    around = np.arange(AROUND)
    onward = np.roll(around, -1)
    for i in range(ALONG):
        faces += _strip(
            i * AROUND + around, i * AROUND + onward, (i + 1) * AROUND + around, (i + 1) * AROUND + onward
        )
    count = rings.shape[0] * AROUND
    for ring, first, outward in ((rings[0], 0, False), (rings[-1], ALONG * AROUND, True)):
        middle = ring.mean(axis=0)
        outer = first
        for k in range(1, CAP_RINGS):
            vertices.append(middle + (ring - middle) * (1 - k / CAP_RINGS))
            faces += _turned(
                _strip(outer + around, outer + onward, count + around, count + onward), keep=outward
            )
            outer, count = count, count + AROUND
        vertices.append(middle[None])
        faces += _turned(
            [np.column_stack([outer + around, outer + onward, np.full(AROUND, count)])], keep=outward
        )
        count += 1
    return np.concatenate(vertices), np.concatenate(faces)


def _strip(a: np.ndarray, a_next: np.ndarray, b: np.ndarray, b_next: np.ndarray) -> list[np.ndarray]:
    return [np.column_stack([a, a_next, b_next]), np.column_stack([a, b_next, b])]


def _turned(faces: list[np.ndarray], *, keep: bool) -> list[np.ndarray]:
    return faces if keep else [part[:, ::-1] for part in faces]


def with_noise(vertices: np.ndarray, faces: np.ndarray, rng: np.random.Generator) -> np.ndarray:
    """Each vertex moved across the surface by the scanner's noise."""
    a, b, c = (vertices[faces[:, k]] for k in range(3))
    across = np.cross(b - a, c - a)
    normals = np.zeros_like(vertices)
    for k in range(3):
        np.add.at(normals, faces[:, k], across)
    normals /= np.linalg.norm(normals, axis=1, keepdims=True)
    return vertices + normals * rng.normal(0.0, NOISE_MM, (len(vertices), 1))


def with_gaps(vertices: np.ndarray, faces: np.ndarray) -> np.ndarray:
    """The faces that the light reached."""
    middles = vertices[faces].mean(axis=1)
    seen = np.ones(len(faces), dtype=bool)
    for *middle, width in GAPS:
        seen &= np.linalg.norm(middles - np.array(middle, dtype=float), axis=1) > width / 2
    return faces[seen]


def stray_patch(middle: tuple[int, int, int], rng: np.random.Generator) -> tuple[np.ndarray, np.ndarray]:
    """A scrap of surface some 35 mm wide, as reflections leave behind."""
    side = np.arange(8)
    u, v = (grid.ravel() for grid in np.meshgrid(side, side, indexing="ij"))
    points = np.column_stack([u * 5.0 - 17.5, v * 5.0 - 17.5, np.zeros(64)]) + rng.normal(
        0.0, NOISE_MM, (64, 3)
    )
    corner = (side[:-1, None] * 8 + side[None, :-1]).ravel()
    faces = np.concatenate(_strip(corner, corner + 8, corner + 1, corner + 9))
    return points + np.array(middle, dtype=float), faces


def scan() -> tuple[np.ndarray, np.ndarray]:
    """Vertices in m, scanner axes, and faces, as the scanner gives them."""
    rng = np.random.default_rng(SEED)
    vertices, faces = clean_surface()
    noisy = with_noise(vertices, faces, rng)
    points, triangles = [noisy], [with_gaps(vertices, faces)]
    count = len(noisy)
    for middle in STRAYS:
        patch, patch_faces = stray_patch(middle, rng)
        points.append(patch)
        triangles.append(patch_faces + count)
        count += len(patch)
    faces = np.concatenate(triangles)
    used, renumbered = np.unique(faces, return_inverse=True)
    return as_scanned(np.concatenate(points)[used]), renumbered.reshape(faces.shape)


def main(target: Path) -> None:
    """Write the binary PLY, whole or not at all."""
    vertices, faces = scan()
    header = (
        "ply\nformat binary_little_endian 1.0\ncomment engine bay, metres, invented for demonstration\n"
        f"element vertex {len(vertices)}\nproperty float x\nproperty float y\nproperty float z\n"
        f"element face {len(faces)}\nproperty list uchar int vertex_indices\nend_header\n"
    )
    rows = np.zeros(len(faces), dtype=[("count", "u1"), ("corners", "<i4", 3)])
    rows["count"], rows["corners"] = 3, faces
    unfinished = target.with_name(target.name + ".tmp")
    unfinished.write_bytes(header.encode("ascii") + vertices.astype("<f4").tobytes() + rows.tobytes())
    unfinished.replace(target)


if __name__ == "__main__":
    main(Path(sys.argv[1]) if len(sys.argv) > 1 else Path(__file__).with_name("scan.ply"))
