"""Times of electrics, routes and drive on a demo vehicle: `python benchmarks/electrics_and_drive.py BRIEF LAYOUT`.

The layout is a file that `packlayout place` wrote. Nothing is asserted: machines differ.
"""

import sys
from pathlib import Path
from time import perf_counter

from packlayout.drive.drive import PackData, drive
from packlayout.electrical.laying import lay
from packlayout.electrical.pack import check_pack, pack_of
from packlayout.electrical.protection import protect
from packlayout.electrical.wanted import wanted_runs
from packlayout.electrical.wire import Surroundings, cable_course
from packlayout.inputs.case import read_case
from packlayout.inputs.layouts import read_layout
from packlayout.mass.weigh import weigh
from packlayout.units import Measured


def main(brief: Path, layout_file: Path) -> None:
    """Print the time of each step, the compilers warmed up."""
    case = read_case(brief)
    layout = read_layout(layout_file, case)
    for turn in ("first (compiles)", "again"):
        start = perf_counter()
        pack = pack_of(case, layout)
        protection = protect(case, layout, pack)
        check_pack(case, layout, pack)
        electrics = perf_counter()
        course = cable_course(case, layout, pack, Surroundings())
        wanted = wanted_runs(case, layout, pack, protection)
        runs, _ = lay(case, course, wanted[:8])
        routes = perf_counter()
        weighing = weigh(case, layout)
        weighed = perf_counter()
        ohms = pack.resistance_ohm or Measured(0.1)
        drive(case, layout, weighing,
              PackData(pack.usable_kwh, pack.nominal_v, pack.continuous_a, pack.peak_a, ohms.value))  # fmt: skip
        done = perf_counter()
        found = sum(run.line is not None for run in runs)
        print(f"{turn}: electrics {electrics - start:.2f} s, {found} of {len(runs)} routes {routes - electrics:.2f} s, "
              f"drive {done - weighed:.2f} s")  # fmt: skip


if __name__ == "__main__":
    main(Path(sys.argv[1]), Path(sys.argv[2]))
