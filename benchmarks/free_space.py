"""Free space: random points in free cells against exact distances; time and memory on scans.

python -m benchmarks.free_space [--points 3000] [--triangles 2000000]
"""

import argparse
import resource

import numpy as np

from benchmarks.report import clock, line
from packlayout.inputs.clouds import surface_of_cloud
from packlayout.model.geometry import Floats, TriMesh
from packlayout.placement.clear import SHARE
from packlayout.space.cells import free_space, winding
from tests.generated import lofted_bay


def noisy_scan(triangles: int, noise_mm: float = 1.5) -> TriMesh:
    """A bay-sized closed surface of about so many triangles, its corners moved at random."""
    around = max(16, int((triangles / 6) ** 0.5) * 2)
    up = max(8, triangles // (2 * around))
    u, v = np.linspace(0, 2 * np.pi, around, endpoint=False), np.linspace(0, np.pi, up + 1)[1:-1]
    rng = np.random.default_rng(4)

    def squared(c: np.ndarray) -> np.ndarray:
        return np.sign(c) * np.abs(c) ** 0.4

    a, b = np.meshgrid(u, v, indexing="ij")
    x, y, z = (
        squared(np.sin(b)) * squared(np.cos(a)),
        squared(np.sin(b)) * squared(np.sin(a)),
        squared(np.cos(b)),
    )
    body = np.stack([480 * x + 100, 360 * y, 280 * z + 550], axis=-1).reshape(-1, 3) + rng.normal(
        0, noise_mm, (around * (up - 1), 3)
    )
    points = np.concatenate([body, [[100.0, 0, 830.0], [100.0, 0, 270.0]]])
    i, j = np.meshgrid(np.arange(around), np.arange(up - 2), indexing="ij")
    n, k = (up - 1), (i + 1) % around
    p, q, r, s = (i * n + j).ravel(), (k * n + j).ravel(), (k * n + j + 1).ravel(), (i * n + j + 1).ravel()
    ring = np.arange(around)
    onward = (ring + 1) % around
    faces = np.concatenate([
        np.stack([p, s, r], axis=1), np.stack([p, r, q], axis=1),
        np.stack([ring * n, onward * n, np.full(around, len(body))], axis=1),
        np.stack([ring * n + n - 1, np.full(around, len(body) + 1), onward * n + n - 1], axis=1),
    ])  # fmt: skip
    mesh = TriMesh(points, faces.astype(np.int64))
    return mesh if mesh.volume > 0 else TriMesh(points, np.ascontiguousarray(faces[:, ::-1]).astype(np.int64))


def cloud_of(mesh: TriMesh, count: int, noise_mm: float) -> Floats:
    """Points at random on a surface, each moved at random, and litter: strays and an island of them."""
    rng = np.random.default_rng(6)
    t = mesh.triangles
    area = np.linalg.norm(np.cross(t[:, 1] - t[:, 0], t[:, 2] - t[:, 0]), axis=1)
    face = rng.choice(len(t), count, p=area / area.sum())
    r, s = np.sqrt(rng.random((count, 1))), rng.random((count, 1))
    points = t[face, 0] * (1 - r) + t[face, 1] * r * (1 - s) + t[face, 2] * r * s
    box = mesh.bounds
    strays = rng.uniform(np.array(box.lo) - 300, np.array(box.hi) + 300, (count // 1000, 3))
    island = rng.normal(0, 8, (200, 3)) + np.array([box.hi[0] + 200, 0, box.hi[2]])
    return np.concatenate([points + rng.normal(0, noise_mm, points.shape), strays, island])


def violations(
    mesh: TriMesh,
    pitch: float,
    clearance: float,
    count: int,
    measured: TriMesh | None = None,
    more: float = 0.0,
) -> tuple[int, int]:
    """Random points in free cells, and how many of them are outside or nearer to the surface than allowed.

    Args:
        mesh: The true surface.
        pitch: Of the cells.
        clearance: To the true surface.
        count: Points.
        measured: What the cells are cut from; left out, the true surface.
        more: Kept from what was measured beyond the clearance, for its tolerance.
    """
    import trimesh

    space = free_space("bay", measured or mesh, clearance + more, [], pitch)
    cells = np.argwhere(space.free)
    rng = np.random.default_rng(1)
    at = (
        np.array(space.origin)
        + (cells[rng.integers(len(cells), size=count)] + rng.random((count, 3))) * pitch
    )
    exact = trimesh.Trimesh(mesh.vertices, mesh.faces, process=False)
    _, distance, _ = trimesh.proximity.closest_point(exact, at)
    bad = int((distance < clearance - 1e-6).sum())
    bad += sum(winding(mesh, p) < 0.5 for p in at[:: max(1, count // 300)])
    return count, bad


def main() -> None:
    """Measure and print."""
    words = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    words.add_argument("--points", type=int, default=3000)
    words.add_argument("--triangles", type=int, default=2_000_000)
    args = words.parse_args()
    small = noisy_scan(40_000)
    free_space("warm", small, 10.0, [], 20.0)
    for name, mesh in (("lofted bay", lofted_bay(1).surface), ("noisy scan", small)):
        count, bad = violations(mesh, 10.0, 10.0, args.points)
        line(f"{name}, {len(mesh.faces)} triangles: {count} points", f"{bad} violations", "0")
    true = lofted_bay(1).surface
    for points, noise in ((60_000, 1.0), (60_000, 2.0), (2_000_000, 3.0)):
        start = clock()
        made, _, scatter = surface_of_cloud(cloud_of(true, points, noise), 150.0)
        taken = clock() - start
        for name, share in SHARE.items():
            count, bad = violations(true, 10.0, 10.0, args.points, made, share * scatter)
            line(f"cloud of {points} points, scatter {scatter:.1f} mm, {name}: {count} points",
                 f"{bad} violations, surface in {taken:.1f} s", "0 at worst case")  # fmt: skip
    for mesh, pitch, wanted in (
        (small, 5.0, "under 0.5 s"),
        (noisy_scan(args.triangles), 5.0, "under 20 s and 3 GB"),
    ):
        start = clock()
        space = free_space("bay", mesh, 10.0, [], pitch)
        peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1e6
        line(
            f"{len(mesh.faces)} triangles at {pitch:g} mm, {space.free.size} cells",
            f"{clock() - start:.2f} s, process at most {peak:.2f} GB",
            wanted,
        )


if __name__ == "__main__":
    main()
