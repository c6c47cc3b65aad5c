"""Hostile and large scans, each read in a process of its own: what is said, processor time and peak memory.

python -m benchmarks.hostile [--triangles 2000000]
"""

import argparse
import resource
import struct
import subprocess
import sys
from collections.abc import Callable

import numpy as np

from benchmarks.free_space import noisy_scan
from benchmarks.report import clock, line
from packlayout.inputs.scans import scanned
from packlayout.model.geometry import Floats, Ints
from packlayout.model.vehicle import MeshFile
from packlayout.space.cells import free_space
from packlayout.space.envelope import EnvelopeError

CORNERS = ((100.0, 0.0, 550.0), (500.0, 0.0, 550.0), (100.0, 300.0, 550.0))


def ply(vertices: Floats, faces: Ints | None) -> bytes:
    """A PLY file, binary; a cloud without faces."""
    head = f"ply\nformat binary_little_endian 1.0\nelement vertex {len(vertices)}\n"
    head += "property float x\nproperty float y\nproperty float z\n"
    body = vertices.astype("<f4").tobytes()
    if faces is not None:
        head += f"element face {len(faces)}\nproperty list uchar int vertex_indices\n"
        rows = np.zeros(len(faces), dtype=[("n", "u1"), ("v", "<i4", 3)])
        rows["n"], rows["v"] = 3, faces
        body += rows.tobytes()
    return (head + "end_header\n").encode() + body


def whole(triangles: int) -> bytes:
    """A noisy scan as it should be."""
    mesh = noisy_scan(triangles)
    return ply(mesh.vertices, mesh.faces)


def not_numbers(triangles: int) -> bytes:
    """One corner in fifty is no number, so that holes gape all over."""
    mesh = noisy_scan(triangles)
    points = mesh.vertices.copy()
    points[::50] = np.nan
    return ply(points, mesh.faces)


def all_not_numbers(triangles: int) -> bytes:
    """Not one corner is a number."""
    mesh = noisy_scan(triangles)
    return ply(np.full(mesh.vertices.shape, np.nan), mesh.faces)


def no_area(triangles: int) -> bytes:
    """Every triangle names one corner three times."""
    mesh = noisy_scan(triangles)
    return ply(mesh.vertices, np.repeat(mesh.faces[:, :1], 3, axis=1))


def loose(triangles: int) -> bytes:
    """No two triangles share an edge."""
    mesh = noisy_scan(triangles)
    corners = mesh.triangles.reshape(-1, 3) + np.random.default_rng(0).normal(
        0, 0.5, (3 * len(mesh.faces), 3)
    )
    return ply(corners, np.arange(len(corners)).reshape(-1, 3))


def ten_million_ply(_: int) -> bytes:
    """Ten million triangles in one file."""
    points = np.random.default_rng(0).random((3_000_000, 3)) * 1000
    return ply(points, np.random.default_rng(1).integers(0, len(points), (10_000_000, 3)))


def ten_million_stl(_: int) -> bytes:
    """The same count as binary STL, 500 MB: larger than a file may be when read by path."""
    return b"\0" * 80 + struct.pack("<I", 10_000_000) + b"\0" * (50 * 10_000_000)


def cloud(triangles: int) -> bytes:
    """As many points in no order, noisy."""
    points = noisy_scan(triangles * 2).vertices
    return ply(np.random.default_rng(0).permutation(points), None)


CASES: dict[str, Callable[[int], bytes]] = {
    "whole": whole, "one corner in fifty no number": not_numbers, "no corner a number": all_not_numbers,
    "no triangle with an area": no_area, "all triangles loose": loose, "10 million triangles, PLY": ten_million_ply,
    "10 million triangles, STL": ten_million_stl, "cloud": cloud,
}  # fmt: skip


def one(name: str, triangles: int) -> None:
    """Read one and print what came of it; the room for making the file is not counted apart from the rest."""
    data = CASES[name](triangles)
    reference = [{"scan": c, "vehicle": c} for c in CORNERS]
    record = MeshFile.model_validate({"file": "scan.ply", "unit": "mm", "reference": reference})
    before = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1e6
    start = clock()
    try:
        made = scanned(data, ".stl" if "STL" in name else ".ply", record)
        space = free_space("bay", made.mesh, 10.0, [], 5.0)
        said = f"{len(made.mesh.faces)} triangles, {space.free_volume_mm3 / 1e6:.0f} l free; {made.notes[1]}"
    except EnvelopeError as error:
        said = str(error)
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1e6
    size = len(data) / 1e6
    line(f"{name}, file of {size:.0f} MB", f"{clock() - start:.1f} s, peak {peak:.2f} GB ({before:.2f} before)",
         "20 s, 3 GB")  # fmt: skip
    print(f"    {said[:200]}")


def main() -> None:
    """Measure and print."""
    words = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    words.add_argument("--triangles", type=int, default=2_000_000)
    words.add_argument("--one", choices=list(CASES))
    args = words.parse_args()
    if args.one:
        one(args.one, args.triangles)
        return
    for name in CASES:
        again = [
            sys.executable,
            "-m",
            "benchmarks.hostile",
            "--one",
            name,
            "--triangles",
            str(args.triangles),
        ]
        subprocess.run(again, check=False)


if __name__ == "__main__":
    main()
