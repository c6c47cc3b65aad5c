"""Side by side in one run: a person's way, CP-SAT alone on a lattice, packages of the registry, and this one.

    python -m benchmarks.side_by_side [--bays 10] [--limit 20] [--boxes 5] [--containers DIR] [--instances 7]
                                      [--packages PYTHON]

`--containers` (or the environment variable PACKLAYOUT_CONTAINERS) names a folder with container-loading instances as
pairs of `*_bins.csv` and `*_items.csv` files. `--packages` names an interpreter, of an environment of its own, in
which `py3dbp` and `packingsolver3d` are installed; neither is a dependency.
"""

import argparse
import os
from dataclasses import replace
from pathlib import Path

import numpy as np

from benchmarks.containers import Boxes, Filled, by_package, by_tables, instance
from benchmarks.lattice import FINER, solve
from benchmarks.report import clock, line
from packlayout.mass.ledger import base_items
from packlayout.model.brief import Case
from packlayout.placement.blocks import kind_on_cells, most_in_blocks, tables_on_cells
from packlayout.placement.clear import space_of
from packlayout.placement.forms import shapes
from packlayout.placement.place import place
from packlayout.placement.tables import Kind, spots
from packlayout.space.cells import running_sums
from tests.generated import job_in, lofted_bay

BARE = ((300, 180, 120), ("XYZ", "YXZ", "XZY", "ZXY"), 200)
"""The module of the generated bays, up with its own z or y: letters say which own side lies along x, y and z."""
PACKAGES = ("py3dbp", "packingsolver3d")


def by_hand(case: Case, blocks: int) -> int:
    """A person's way: the largest block, low and forward, then the largest that still fits, and so on."""
    space = space_of(case, "bay")
    free = space.free.copy()
    gap = case.brief.clearances.parts_mm
    room = tuple(n * space.pitch_mm for n in free.shape)
    total = 0
    for _ in range(blocks):
        best: tuple[int, Kind] | None = None
        for n, size in sorted(shapes(case, (room[0], room[1], room[2])), key=lambda s: (-s[0], max(s[1]))):
            kind = kind_on_cells(n, size, gap, space.pitch_mm)
            if (best is None or n > best[0]) and spots(running_sums(free), (), kind).any():
                best = (n, kind)
        if best is None:
            break
        at = min(
            (tuple(int(v) for v in row) for row in np.argwhere(spots(running_sums(free), (), best[1]))),
            key=lambda c: (c[2], c[0], c[1]),
        )
        total += best[0]
        g = best[1].after[0] - best[1].cells[0]
        free[tuple(slice(max(0, a - g), a + n + g) for a, n in zip(at, best[1].cells, strict=True))] = False
    return total


def bays(count: int, limit: float) -> None:
    """The same bays by hand and by tables in blocks with cradles; and bare modules by tables and by CP-SAT alone."""
    rows: list[tuple[int, int, int, int, int]] = []
    times: list[list[float]] = [[], [], [], [], []]
    for number in range(count):
        case = job_in(lofted_bay(number), 60, blocks_at_most=3)
        space = space_of(case, "bay")
        marks = [clock()]
        hand = by_hand(case, 3)
        marks.append(clock())
        ours = most_in_blocks([tables_on_cells(case, space)], 3)
        marks.append(clock())
        x, y, z = (n * 10 for n in space.free.shape)
        bare = by_tables(Boxes(f"bay {number}", (x, y, z), (BARE,)), 10, space.free)
        marks.append(clock())
        alone = solve(case, limit_s=limit)
        marks.append(clock())
        # blocks, then three other lattices: not the one of above, so that the two can be told apart
        own = max(bare.count, *(solve(case, pitch, limit).packed for pitch in FINER))
        marks.append(clock())
        for n in range(5):
            times[n].append(marks[n + 1] - marks[n])
        rows.append((hand, ours, bare.count, alone.packed, own))
        sure = " proven" if alone.proven else ""
        print(f"  bay {number}: in cradles by hand {hand}, best of three blocks {ours}; bare by tables {bare.count}, "
              f"CP-SAT on one lattice {alone.packed}{sure}, blocks and other lattices {own}", flush=True)  # fmt: skip
    hand, ours, bare, alone, own = (sum(row[n] for row in rows) for n in range(5))
    names = (
        "in cradles, a person's way",
        "in cradles, best of three blocks",
        "bare, tables till full",
        "bare, CP-SAT alone",
        "bare, blocks and other lattices",
    )
    for name, total, taken in zip(names, (hand, ours, bare, alone, own), times, strict=True):
        line(f"lofted bays, {name}", f"{total} modules in {count} bays, {sum(taken) / count:.2f} s each")
    line("bare, blocks and other lattices against CP-SAT alone",
         f"better in {sum(r[4] > r[3] for r in rows)} of {count}, worse in {sum(r[4] < r[3] for r in rows)}",
         "never worse")  # fmt: skip
    line("best of three blocks against a person's way",
         f"better in {sum(r[1] > r[0] for r in rows)} of {count}, worse in {sum(r[1] < r[0] for r in rows)}",
         "never worse")  # fmt: skip


def box_bays(count: int, python: str | None, limit: float) -> None:
    """Box-shaped bays of bare modules: the one job of ours that general packing packages can express."""
    rng = np.random.default_rng(2)
    sums: dict[str, list[Filled]] = {}
    for _ in range(count):
        x, y, z = (int(v) * 10 for v in rng.integers(60, 105, 3))
        job = Boxes(f"bay of {x} x {y} x {z} mm", (x, y, z), (BARE,))
        _told(job, [("tables", by_tables(job, 10)), *_of_packages(job, python, limit)], sums)
    _means("box-shaped bays", sums, count)


def containers(folder: Path, most: int, pitch: int, python: str | None, limit: float) -> None:
    """Container-loading instances, nothing tuned for them."""
    every = sorted(folder.glob("*_items.csv"))
    sums: dict[str, list[Filled]] = {}
    chosen = every[:: max(1, len(every) // most)][:most]
    for items in chosen:
        job = instance(items)
        _told(job, [("tables", by_tables(job, pitch)), *_of_packages(job, python, limit)], sums)
    _means("container loading", sums, len(chosen))
    print("  best known of sets 1 to 7, 35 instances: 96.3 % of the volume (published with the instances)")


def _of_packages(job: Boxes, python: str | None, limit: float) -> list[tuple[str, Filled]]:
    found = [(tool, by_package(job, tool, python, limit)) for tool in PACKAGES] if python else []
    return [(tool, answer) for tool, answer in found if answer is not None]


def _told(job: Boxes, answers: list[tuple[str, Filled]], sums: dict[str, list[Filled]]) -> None:
    words = []
    for name, answer in answers:
        sums.setdefault(name, []).append(answer)
        wrong = f" WRONG: {answer.faults}" if answer.faults else ""
        words.append(
            f"{name} {answer.count} boxes, {100 * answer.share:.1f} %, {answer.seconds:.1f} s{wrong}"
        )
    print(f"  {job.name}: {'; '.join(words)}", flush=True)


def _means(title: str, sums: dict[str, list[Filled]], count: int) -> None:
    for name, answers in sums.items():
        share = 100 * sum(a.share for a in answers) / len(answers)
        boxes, seconds = sum(a.count for a in answers), sum(a.seconds for a in answers) / len(answers)
        bad = sum(bool(a.faults) for a in answers)
        line(f"{title}, {name}: volume filled, mean of {count}",
             f"{share:.1f} %, {boxes} boxes, {seconds:.1f} s each, {bad} wrong")  # fmt: skip


def main() -> None:
    """Measure and print."""
    words = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    words.add_argument("--bays", type=int, default=10)
    words.add_argument("--limit", type=float, default=20.0)
    words.add_argument("--boxes", type=int, default=5)
    words.add_argument("--containers", type=Path, default=os.environ.get("PACKLAYOUT_CONTAINERS"))
    words.add_argument("--instances", type=int, default=7)
    words.add_argument("--pitch", type=int, default=5, help="cells of the containers, in their own unit")
    words.add_argument("--packages", metavar="PYTHON", help="interpreter that has the packages")
    words.add_argument("--package-limit", type=float, default=10.0)
    args = words.parse_args()
    if args.bays:
        bays(args.bays, args.limit)
    if args.boxes:
        box_bays(args.boxes, args.packages, args.package_limit)
    if args.containers:
        containers(Path(args.containers), args.instances, args.pitch, args.packages, args.package_limit)
    if args.bays:
        case = job_in(lofted_bay(1, wider_mm=60), 8, hardware=True)
        start = clock()
        placed = place(replace(case), base_items(case))
        line(
            "for comparison, a whole layout with hardware",
            f"{placed.count.packed} modules, {clock() - start:.1f} s",
        )


if __name__ == "__main__":
    main()
