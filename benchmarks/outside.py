"""Outside the search: layouts checked with solid geometry, and the same bytes from two processes.

python -m benchmarks.outside [--layouts 200]
"""

import argparse
import hashlib
import subprocess
import sys
from itertools import combinations

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


def main() -> None:
    """Measure and print."""
    words = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    words.add_argument("--layouts", type=int, default=200)
    words.add_argument("--digest", type=int, help="print the digest for one seed and stop")
    args = words.parse_args()
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


if __name__ == "__main__":
    main()
