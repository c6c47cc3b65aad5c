"""Side by side in one run: a person's way, CP-SAT alone on a lattice, packages of the registry, and this one.

    python -m benchmarks.side_by_side [--bays 10] [--limit 20] [--containers DIR] [--instances 7] [--packages]

`--containers` names a folder with container-loading instances as pairs of `*_bins.csv` and `*_items.csv` files and
`best-known.csv`. `--packages` compares with `py3dbp`, if that is installed; it is no dependency.
"""

import argparse
import csv
from dataclasses import replace
from pathlib import Path

import numpy as np

from benchmarks.lattice import solve
from benchmarks.report import clock, line
from packlayout.mass.ledger import base_items
from packlayout.model.brief import Case
from packlayout.model.geometry import Box
from packlayout.placement.blocks import kind_on_cells, most_in_blocks, tables_on_cells
from packlayout.placement.clear import space_of
from packlayout.placement.forms import shapes
from packlayout.placement.place import place
from packlayout.placement.tables import Kind, best_split, spots, standing, tables
from packlayout.space.cells import running_sums
from packlayout.space.envelope import box_mesh
from tests.generated import Bay, job_in, lofted_bay


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
    """The same bays by hand, by tables, whole, and by CP-SAT alone."""
    rows = []
    for number in range(count):
        case = job_in(lofted_bay(number, wider_mm=60), 60, blocks_at_most=3)
        start = clock()
        hand = by_hand(case, 3)
        a = clock()
        ours = most_in_blocks([tables_on_cells(case, space_of(case, "bay"))], 3)
        b = clock()
        alone = solve(case, 60.0, limit)
        c = clock()
        rows.append((hand, ours, alone.packed))
        sure = " proven" if alone.proven else ""
        print(f"  bay {number}: by hand {hand} ({a - start:.2f} s), best of three blocks {ours} ({b - a:.2f} s), "
              f"CP-SAT, bare modules without cradles {alone.packed}{sure} ({c - b:.2f} s)")  # fmt: skip
    line(
        "modules by hand, over those of the best three blocks",
        f"{sum(r[0] for r in rows) / sum(r[1] for r in rows):.3f}",
    )
    line(
        "best of three blocks better than by hand",
        f"{sum(r[1] > r[0] for r in rows)} of {count}, worse in {sum(r[1] < r[0] for r in rows)}",
        "never worse",
    )


def packages(count: int) -> None:
    """Box-shaped bays, one kind of box: what a general packing package finds, and the layouts of this one."""
    try:
        from py3dbp import Bin, Item, Packer
    except ImportError:
        print("py3dbp is not installed: `pip install py3dbp` in an environment of your own")
        return
    rng = np.random.default_rng(2)
    for number in range(count):
        size = tuple(float(v) for v in rng.integers(500, 1000, 3))
        case = job_in(
            Bay(box_mesh(Box((0, 0, 0), (size[0], size[1], size[2]))), (), 300.0), 40, blocks_at_most=3
        )
        start = clock()
        ours = most_in_blocks([tables_on_cells(case, space_of(case, "bay"))], 3)
        a = clock()
        packer = Packer()
        packer.add_bin(Bin("bay", *(s - 20 for s in size), 1e6))
        for n in range(80):
            packer.add_item(Item(str(n), 300, 180, 120, 1))
        packer.pack(bigger_first=True, number_of_decimals=0)
        found = len(packer.bins[0].items)
        print(
            f"  bay {number}: {ours} in blocks with cradles ({a - start:.2f} s), "
            f"py3dbp {found} bare boxes, any side up ({clock() - a:.2f} s)"
        )


COLUMNS = ("ROTATION_XYZ", "ROTATION_YXZ", "ROTATION_ZYX", "ROTATION_YZX", "ROTATION_XZY", "ROTATION_ZXY")


def load(items: Path, pitch: int) -> tuple[float, float]:
    """One container by the tables of this product, two blocks at a time; share of the volume filled, and seconds."""
    start = clock()
    with items.with_name(items.name.replace("_items", "_bins")).open() as text:
        size = [int(v) for k, v in next(csv.DictReader(text)).items() if k in "XYZ"]
    with items.open() as text:
        rows = list(csv.DictReader(text))
    left = [int(r["COPIES"]) for r in rows]
    volume = 0
    free = np.ones([s // pitch for s in size], dtype=bool)
    while True:
        kinds: dict[Kind, tuple[int, int]] = {}
        for n, row in enumerate(rows):
            own = {axis: int(row[axis]) for axis in "XYZ"}
            for column in COLUMNS:
                if row[column] != "1":
                    continue
                side = [own[c] for c in column.removeprefix("ROTATION_")]
                for a in range(1, min(left[n], size[0] // side[0]) + 1):
                    for b in range(1, min(left[n] // a, size[1] // side[1]) + 1):
                        c = min(left[n] // a // b, size[2] // side[2])
                        if c:
                            cells = tuple(-(-k * s // pitch) for k, s in zip((a, b, c), side, strict=True))
                            value = a * b * c * side[0] * side[1] * side[2] // 1000
                            kind = Kind(value, cells, (0, 0, 0), cells)  # type: ignore[arg-type]
                            kinds[kind] = (n, a * b * c)
        sums = running_sums(free)
        made = tables(sums, (), list(kinds))
        split = max((best_split([made] * k) for k in (1, 2)), key=lambda s: s.value)
        if split.value <= 0:
            break
        first = max((s for s in split.spans), key=lambda s: _within(made, sums, kinds, s))
        value = _within(made, sums, kinds, first)
        kind, at = standing(sums, (), list(kinds), value, first)
        n, count = kinds[kind]
        left[n] -= count
        volume += count * int(rows[n]["X"]) * int(rows[n]["Y"]) * int(rows[n]["Z"])
        free[tuple(slice(a, a + c) for a, c in zip(at, kind.cells, strict=True))] = False
    return volume / (size[0] * size[1] * size[2]), clock() - start


def _within(made: object, sums: np.ndarray, kinds: dict[Kind, tuple[int, int]], span: object) -> int:
    """The most valuable kind that stands within a span."""
    for kind in sorted(kinds, key=lambda k: -k.value):
        at = np.argwhere(spots(sums, (), kind))
        if (
            len(at)
            and ((at >= np.array(span.lo)) & (at + np.array(kind.after) <= np.array(span.hi)))
            .all(axis=1)
            .any()
        ):  # type: ignore[attr-defined]
            return kind.value
    return 0


def containers(folder: Path, most: int, pitch: int) -> None:
    """Container-loading instances, nothing tuned for them."""
    shares = []
    for items in sorted(folder.glob("*_items.csv"))[:: max(1, len(list(folder.glob("*_items.csv"))) // most)][
        :most
    ]:
        share, taken = load(items, pitch)
        shares.append(share)
        print(f"  {items.stem.removesuffix('_items')}: {100 * share:.1f} % filled, {taken:.1f} s")
    line(
        "container loading, mean volume filled",
        f"{100 * sum(shares) / len(shares):.1f} % of {len(shares)}",
        "best known 96.3 %, tree search 96.1 %",
    )


def main() -> None:
    """Measure and print."""
    words = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    words.add_argument("--bays", type=int, default=10)
    words.add_argument("--limit", type=float, default=20.0)
    words.add_argument("--containers", type=Path)
    words.add_argument("--instances", type=int, default=7)
    words.add_argument("--pitch", type=int, default=8, help="cells of the containers, in their own unit")
    words.add_argument("--packages", action="store_true")
    args = words.parse_args()
    if args.bays:
        bays(args.bays, args.limit)
    if args.packages:
        packages(5)
    if args.containers:
        containers(args.containers, args.instances, args.pitch)
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
