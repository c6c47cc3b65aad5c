"""Exact where it can be: up to three blocks against brute force and their time; the lattice optimum; count over bound.

python -m benchmarks.exact [--grids 500] [--bays 20] [--limit 20]
"""

import argparse

import numpy as np

from benchmarks.lattice import solve
from benchmarks.report import clock, line, spread
from packlayout.placement.blocks import tables_on_cells
from packlayout.placement.bound import by_weights, in_blocks
from packlayout.placement.clear import space_of
from packlayout.placement.tables import Kind, best_split
from tests.generated import job_in, lofted_bay
from tests.test_placement_tables import brute, most


def main() -> None:
    """Measure and print."""
    words = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    words.add_argument("--grids", type=int, default=500)
    words.add_argument("--bays", type=int, default=20)
    words.add_argument("--limit", type=float, default=20.0)
    args = words.parse_args()
    rng = np.random.default_rng(8)
    equal = 0
    for _ in range(args.grids):
        free = rng.random(tuple(rng.integers(2, 5, 3))) < rng.uniform(0.6, 1.0)
        kinds = []
        for _ in range(int(rng.integers(1, 4))):
            a, b, c = (int(v) for v in rng.integers(1, 4, 3))
            kinds.append(Kind(int(rng.integers(1, 7)), (a, b, c), (0, 0, 0), (a, b, c)))
        equal += most(free, kinds, 3) == brute(free, kinds, 3)
    line("best of up to three blocks against brute force", f"{equal} of {args.grids} equal", "all")
    times, shares, proven, candidates, shut = [], [], 0, [], 0
    for number in range(args.bays):
        case = job_in(lofted_bay(number, wider_mm=60), 60)
        space = space_of(case, "bay")
        start = clock()
        made = tables_on_cells(case, space)
        inner = max(best_split([made] * n).value for n in (1, 2, 3))
        if number:  # the first one loads the compiled kernels
            times.append(clock() - start)
        outer = in_blocks(case, 10.0).modules
        shut += inner == outer
        start = clock()
        answer = solve(case, 60.0, args.limit)
        proven += answer.proven
        candidates.append(float(answer.candidates))
        bound = by_weights(case).modules
        shares.append(answer.packed / max(1, bound))
        sure = " proven" if answer.proven else ""
        print(f"  bay {number}: three blocks {inner} of at most {outer}; "
              f"lattice {answer.packed}{sure} of {answer.candidates} candidates, "
              f"{clock() - start:.1f} s; single modules in their cradles at any place: at most {bound}")  # fmt: skip
    line("best of up to three blocks at 10 mm", spread(times, "s"), "0.3 s mean, 1 s at most")
    line("three blocks on cells meet the bound at any place", f"{shut} of {args.bays}")
    line("lattice optimum proven, bare bays", f"{proven} of {args.bays}", "at least 85 %")
    line("lattice candidates", spread(candidates, ""))


if __name__ == "__main__":
    main()
