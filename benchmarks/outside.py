"""Outside the search: layouts checked with solid geometry, and the same bytes from two processes.

python -m benchmarks.outside [--layouts 200] [--files-only] [--brief bays/tarnbeck-pickup/boatyard.yaml]

The files that `place` writes are compared to the byte: from one core and from two, with other hash seeds.
"""

import argparse
import hashlib
import os
import subprocess
import sys
import tempfile
from itertools import combinations
from pathlib import Path

from benchmarks.report import line
from packlayout.mass.ledger import base_items
from packlayout.model.brief import Case
from packlayout.model.geometry import Box, TriMesh
from packlayout.model.layout import Layout
from packlayout.placement.paths import things
from packlayout.placement.place import place
from packlayout.placement.verify import check_layout
from tests.generated import job_in, lofted_bay


def faults(case: Case, layout: Layout) -> float:
    """Volume, mm3, of parts outside their zone, in a keep-out or in each other, by Boolean solids."""
    import manifold3d
    import numpy as np

    def body(mesh: TriMesh) -> manifold3d.Manifold:
        return manifold3d.Manifold(
            manifold3d.Mesh(mesh.vertices.astype(np.float32), mesh.faces.astype(np.uint32))
        )

    def cube(box: Box) -> manifold3d.Manifold:
        return manifold3d.Manifold.cube(box.grown(-1e-3).size).translate(box.grown(-1e-3).lo)

    solids = [(zone, cube(box)) for _, zone, box in things(case, layout)]
    total = sum((solid - body(case.zones[zone])).volume() for zone, solid in solids)
    total += sum((solid ^ body(mesh)).volume() for _, solid in solids for mesh in case.keep_outs.values())
    return float(total + sum((a ^ b).volume() for (_, a), (_, b) in combinations(solids, 2)))


def digest(seed: int) -> str:
    """Digest of all that a placement answers for one bay."""
    case = job_in(lofted_bay(seed, wider_mm=60), 8, hardware=True)
    placed = place(case, base_items(case), seed)
    return hashlib.sha256(repr([(s.layout, s.objectives) for s in placed.layouts]).encode()).hexdigest()


def written(brief: str, cores: str, hash_seed: str) -> dict[str, str]:
    """Digest of each file that `packlayout place` writes for a brief, on these cores."""
    with tempfile.TemporaryDirectory() as folder:
        command = [sys.executable, "-m", "packlayout.cli", "place", brief, "--out", folder, "--quiet"]
        done = subprocess.run(
            ["taskset", "-c", cores, *command],
            check=False,
            capture_output=True,
            env={**os.environ, "PYTHONHASHSEED": hash_seed},
        )
        if done.returncode not in (0, 1):
            raise SystemExit(done.stderr.decode())
        files = sorted(p for p in Path(folder).rglob("*") if p.is_file())
        return {str(p.relative_to(folder)): hashlib.sha256(p.read_bytes()).hexdigest() for p in files}


def same_files(brief: str) -> None:
    """The files of two runs against each other."""
    one, two = written(brief, "0", "1"), written(brief, "0,1", "2")
    word = "the same bytes" if one == two and one else "different"
    line(f"files that place writes, one core and two: {len(one)}", word, "the same bytes")


def main() -> None:
    """Measure and print."""
    words = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    words.add_argument("--layouts", type=int, default=200)
    words.add_argument("--digest", type=int, help="print the digest for one seed and stop")
    words.add_argument(
        "--files-only", action="store_true", help="compare the files that `place` writes and stop"
    )
    words.add_argument("--brief", default="bays/tarnbeck-pickup/boatyard.yaml")
    args = words.parse_args()
    if args.files_only:
        same_files(args.brief)
        return
    if args.digest is not None:
        print(digest(args.digest))
        return
    seen, bad, volume, number = 0, 0, 0.0, 0
    while seen < args.layouts:
        case = job_in(lofted_bay(number, wider_mm=60), 4 + number % 6, hardware=True)
        for scored in place(case, base_items(case), number).layouts:
            volume += faults(case, scored.layout)
            bad += any(c.verdict == "fail" for c in check_layout(case, scored.layout))
            seen += 1
        number += 1
    line(f"{seen} layouts of {number} bays: volume outside, in keep-outs, shared", f"{volume:.3f} mm3", "0")
    line("layouts with a clearance that is not held", str(bad), "0")
    again = [sys.executable, "-m", "benchmarks.outside", "--digest", "3"]
    cores = ([], ["taskset", "-c", "0"])
    answers = {subprocess.run([*core, *again], check=True, capture_output=True).stdout for core in cores}
    line("two processes, all cores and one", "the same" if len(answers) == 1 else "different", "the same")
    same_files(args.brief)


if __name__ == "__main__":
    main()
