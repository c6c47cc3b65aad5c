"""Bays with a known answer: cut around up to three blocks, and around loose modules.

python -m benchmarks.known_bays [--bays 60] [--loose 20]
"""

import argparse

from benchmarks.report import clock, line, spread
from packlayout.mass.ledger import base_items
from packlayout.placement.bound import upper_bound
from packlayout.placement.solve import first_valid, setting
from tests.generated import known_bay


def reach(bays: int, loose: bool) -> None:
    """How many are filled, how many of the counts are proven, how long it takes."""
    filled, proven, times = 0, 0, []
    for seed in range(bays):
        case, count = known_bay(seed, loose=loose)
        start = clock()
        found = None
        # on cells first, then close to walls, as `place` does
        for close in (False, True) if not loose else (True,):
            found = found or first_valid(setting(case, base_items(case), 0, close=close), count)
        times.append(clock() - start)
        bound = upper_bound(case, count).modules
        filled += found is not None
        word = "found" if found else "not found"
        proven += bound == count
        print(f"  bay {seed}: {count} modules by construction, {word}, bound {bound}, {times[-1]:.2f} s")
    name = "loose modules" if loose else "up to three blocks"
    line(f"cut around {name}: count reached", f"{filled} of {bays}", "95 % within 20 s" if loose else "all")
    line(f"cut around {name}: proven", f"{proven} of {bays}", "at least half")
    line(f"cut around {name}: time", spread(times, "s"))


def main() -> None:
    """Measure and print."""
    words = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    words.add_argument("--bays", type=int, default=60)
    words.add_argument("--loose", type=int, default=20)
    args = words.parse_args()
    reach(args.bays, False)
    reach(args.loose, True)


if __name__ == "__main__":
    main()
