"""Exact where it can be: up to three blocks against brute force and their time; the lattice optimum; count over bound.

python -m benchmarks.exact [--grids 500] [--bays 20] [--wide 8] [--terminals 12]
"""

import argparse

import numpy as np

from benchmarks.lattice import FINER, Answer, bare_bound, solve, with_motor
from benchmarks.report import clock, line, spread
from packlayout.placement.blocks import tables_on_cells
from packlayout.placement.bound import in_blocks
from packlayout.placement.clear import space_of
from packlayout.placement.tables import Kind, best_split
from tests.generated import job_in, lofted_bay
from tests.test_placement_tables import brute, most

WIDER_MM = 60.0


def against_brute_force(grids: int) -> None:
    """Random small grids: the tables against every placing of up to three blocks."""
    rng = np.random.default_rng(8)
    equal = 0
    for _ in range(grids):
        free = rng.random(tuple(rng.integers(2, 5, 3))) < rng.uniform(0.6, 1.0)
        kinds = []
        for _ in range(int(rng.integers(1, 4))):
            a, b, c = (int(v) for v in rng.integers(1, 4, 3))
            kinds.append(Kind(int(rng.integers(1, 7)), (a, b, c), (0, 0, 0), (a, b, c)))
        equal += most(free, kinds, 3) == brute(free, kinds, 3)
    line("best of up to three blocks against brute force", f"{equal} of {grids} equal", "all")


def blocks(bays: int) -> None:
    """Up to three blocks: time, and what they hold against the bound at any place."""
    times, shares, shut, over = [], [], 0, 0
    for number in range(bays):
        case = job_in(lofted_bay(number, wider_mm=WIDER_MM), 60)
        space = space_of(case, "bay")
        start = clock()
        made = tables_on_cells(case, space)
        inner = max(best_split([made] * n).value for n in (1, 2, 3))
        if number:  # the first one loads the compiled kernels
            times.append(clock() - start)
        outer = min(in_blocks(case, pitch).modules for pitch in (10.0, 5.0))
        shut += inner == outer
        over += inner > outer
        shares.append(inner / max(1, outer))
    line("best of up to three blocks at 10 mm", spread(times, "s"), "0.3 s mean, 1 s at most")
    line("three blocks: count over the bound at any place", spread(shares, ""), "at least 0.80 on average")
    line("three blocks: count meets the bound; exceeds it", f"{shut} and {over} of {bays}", "never exceeds")


def lattice(bays: int, wider_mm: float, limit: float) -> None:
    """Bare bays: the lattice optimum, and what it holds against the bound at any place."""
    answers: list[Answer] = []
    shares, over = [], 0
    for number in range(bays):
        case = job_in(lofted_bay(number, wider_mm=wider_mm), 60)
        answer = solve(case, limit_s=limit)
        bound = bare_bound(case)
        best = max(answer.packed, *(solve(case, pitch, limit).packed for pitch in FINER))
        answers.append(answer)
        shares.append(best / max(1, bound))
        over += best > bound
        sure = " proven" if answer.proven else f" of at most {answer.bound}"
        print(f"  bay {number}: {answer.packed}{sure} on the lattice, {answer.candidates} candidates, "
              f"{answer.seconds:.1f} s; best of four lattices {best}, at any place at most {bound}", flush=True)  # fmt: skip
    name = "bare bays" + (f" {wider_mm:g} mm wider" if wider_mm else "")
    proven = sum(a.proven for a in answers)
    line(f"lattice optimum proven, {name}", f"{proven} of {bays}", f"at least 85 % within {limit:g} s")
    line(f"lattice, {name}: time", spread([a.seconds for a in answers], "s"))
    line(f"lattice, {name}: candidates", spread([float(a.candidates) for a in answers], ""))
    line(
        f"best lattice, {name}: count over the bound at any place",
        spread(shares, ""),
        "at least 0.80 on average",
    )
    line(f"lattice, {name}: count exceeds the bound", f"{over} of {bays}", "never")


def terminals(bays: int, limit: float) -> None:
    """The stretch: a motor on its line, and room in front of every terminal."""
    answers: list[Answer] = []
    number = 0
    while len(answers) < bays:
        case = with_motor(job_in(lofted_bay(number), 60, hardware=True, terminals=True))
        if case is not None:
            answers.append(solve(case, limit_s=limit, terminals=True))
            sure = " proven" if answers[-1].proven else f" of at most {answers[-1].bound}"
            print(f"  bay {number}: {answers[-1].packed}{sure}, {answers[-1].candidates} candidates, "
                  f"{answers[-1].seconds:.1f} s", flush=True)  # fmt: skip
        number += 1
    proven = sum(a.proven for a in answers)
    line("lattice optimum proven, motor placed, terminals reachable", f"{proven} of {bays}",
         f"stretch: 75 % within {limit:g} s")  # fmt: skip
    line("the same: time", spread([a.seconds for a in answers], "s"))


def main() -> None:
    """Measure and print."""
    words = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    words.add_argument("--grids", type=int, default=500)
    words.add_argument("--bays", type=int, default=20)
    words.add_argument("--wide", type=int, default=8)
    words.add_argument("--terminals", type=int, default=12)
    args = words.parse_args()
    if args.grids:
        against_brute_force(args.grids)
    if args.bays:
        blocks(args.bays)
        lattice(args.bays, 0.0, 20.0)
    if args.wide:
        lattice(args.wide, WIDER_MM, 20.0)
    if args.terminals:
        terminals(args.terminals, 60.0)


if __name__ == "__main__":
    main()
