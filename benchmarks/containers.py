"""Boxes in one box: the tables of this product and packages of the registry on the same problems, checked alike.

Used by `benchmarks.side_by_side`. Everything that is answered, by whomever, goes through one check: inside the box,
no two in each other, no side up that may not be, no more copies than there are.
"""

import csv
import json
import subprocess
from dataclasses import dataclass
from itertools import permutations
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from benchmarks.report import clock
from packlayout.placement.tables import Kind, Span, best_split, spots, standing, tables
from packlayout.space.cells import running_sums

ROTATIONS = ("XYZ", "YXZ", "ZYX", "YZX", "XZY", "ZXY")
TOOL = Path(__file__).with_name("packages.py")
FREE_TO_TURN = ("py3dbp",)
"""Packages that cannot be told which sides may be up: theirs are not held to it."""


@dataclass(frozen=True)
class Boxes:
    """Boxes of some kinds to be put in one box.

    Attributes:
        name: For people.
        size: Sides of the box around.
        items: (sides, rotations allowed, copies) of each kind.
    """

    name: str
    size: tuple[int, int, int]
    items: tuple[tuple[tuple[int, int, int], tuple[str, ...], int], ...]


@dataclass(frozen=True)
class Filled:
    """What one of them answered, checked.

    Attributes:
        share: Of the volume of the box around.
        count: Boxes placed.
        seconds: Processor time.
        faults: What is wrong with the answer; empty for a good one.
    """

    share: float
    count: int
    seconds: float
    faults: str


def turned(size: tuple[int, int, int], rotation: str) -> tuple[int, int, int]:
    """Sides along x, y and z: the letters say which own side lies along each."""
    a, b, c = (size["XYZ".index(letter)] for letter in rotation)
    return a, b, c


def instance(items: Path) -> Boxes:
    """A container-loading instance: `*_items.csv` with its `*_bins.csv`."""
    with items.with_name(items.name.replace("_items", "_bins")).open() as text:
        row = next(csv.DictReader(text))
        size = (int(row["X"]), int(row["Y"]), int(row["Z"]))
    made = []
    with items.open() as text:
        for row in csv.DictReader(text):
            allowed = tuple(r for r in ROTATIONS if row[f"ROTATION_{r}"] == "1")
            made.append(((int(row["X"]), int(row["Y"]), int(row["Z"])), allowed, int(row["COPIES"])))
    return Boxes(items.stem.removesuffix("_items"), size, tuple(made))


def checked(job: Boxes, placed: list[list[float]], seconds: float, free_to_turn: bool = False) -> Filled:
    """Volume and faults of an answer."""
    rows = np.array(placed, dtype=float).reshape(-1, 7)
    lo, hi = rows[:, :3], rows[:, :3] + rows[:, 3:6]
    faults: list[str] = []
    if (lo < -1e-6).any() or (hi > np.array(job.size) + 1e-6).any():
        faults.append("outside")
    deep = np.minimum(hi[:, None], hi[None]) - np.maximum(lo[:, None], lo[None])
    if np.triu((deep > 1e-6).all(axis=2), 1).any():
        faults.append("one in another")
    for n, (size, allowed, copies) in enumerate(job.items):
        own = rows[rows[:, 6] == n]
        if len(own) > copies:
            faults.append("too many copies")
        may = {turned(size, r) for r in allowed} if not free_to_turn else set(permutations(size))
        if not {tuple(int(round(v)) for v in row[3:6]) for row in own} <= may:  # noqa: RUF046 - of numpy floats
            faults.append("a side up that may not be")
    share = float(np.prod(rows[:, 3:6], axis=1).sum() / np.prod(job.size))
    return Filled(share, len(rows), seconds, ", ".join(dict.fromkeys(faults)))


def by_package(job: Boxes, tool: str, python: str, limit_s: float) -> Filled | None:
    """The answer of a package, asked through an interpreter that has it; None where it is missing."""
    items = [{"size": size, "rotations": allowed, "copies": copies} for size, allowed, copies in job.items]
    asked = json.dumps({"tool": tool, "bin": job.size, "items": items, "limit": limit_s})
    done = subprocess.run([python, str(TOOL)], input=asked, capture_output=True, text=True, check=True)
    answer: Any = json.loads(done.stdout)
    if "missing" in answer:
        print(f"  {tool}: {answer['missing']}")
        return None
    return checked(job, answer["placed"], answer["seconds"], tool in FREE_TO_TURN)


def by_tables(job: Boxes, pitch: int, room: NDArray[np.bool_] | None = None) -> Filled:
    """Blocks of like boxes by the half-space tables of this product, the better of up to three at a time, till full.

    Args:
        job: The problem.
        pitch: Of the cells.
        room: Cells that are free; left out, all of them are.
    """
    start = clock()
    left = [copies for _, _, copies in job.items]
    free = np.ones([s // pitch for s in job.size], dtype=bool) if room is None else room.copy()
    placed: list[list[float]] = []
    while True:
        kinds = _kinds(job, left, pitch)
        sums = running_sums(free)
        made = tables(sums, (), list(kinds))
        split = max((best_split([made] * k) for k in (1, 2, 3)), key=lambda s: s.value)
        if split.value <= 0:
            break
        values = [_within(sums, kinds, span) for span in split.spans]
        value, span = max(zip(values, split.spans, strict=True), key=lambda pair: pair[0])
        kind, at = standing(sums, (), list(kinds), value, span)
        n, counts, side = kinds[kind]
        left[n] -= counts[0] * counts[1] * counts[2]
        for i, j, k in np.ndindex(counts):
            corner = [a * pitch + m * s for a, m, s in zip(at, (i, j, k), side, strict=True)]
            placed.append([*corner, *side, n])
        free[tuple(slice(a, a + c) for a, c in zip(at, kind.cells, strict=True))] = False
    return checked(job, placed, clock() - start)


def _kinds(
    job: Boxes, left: list[int], pitch: int
) -> dict[Kind, tuple[int, tuple[int, int, int], tuple[int, int, int]]]:
    """Blocks of each kind that its copies allow; of those with the same cells the fullest."""
    best: dict[tuple[int, int, int], tuple[Kind, int, tuple[int, int, int], tuple[int, int, int]]] = {}
    for n, (size, allowed, _) in enumerate(job.items):
        for side in dict.fromkeys(turned(size, r) for r in allowed):
            for a in range(1, min(left[n], job.size[0] // side[0]) + 1):
                for b in range(1, min(left[n] // a, job.size[1] // side[1]) + 1):
                    for c in range(1, min(left[n] // a // b, job.size[2] // side[2]) + 1):
                        x, y, z = (-(-k * s // pitch) for k, s in zip((a, b, c), side, strict=True))
                        value = a * b * c * size[0] * size[1] * size[2] // 1000
                        if (x, y, z) not in best or value > best[x, y, z][0].value:
                            best[x, y, z] = (Kind(value, (x, y, z), (0, 0, 0), (x, y, z)), n, (a, b, c), side)
    return {kind: (n, counts, side) for kind, n, counts, side in best.values()}


def _within(sums: Any, kinds: dict[Kind, Any], span: Span) -> int:
    """The value of the most valuable kind that stands within a span."""
    for kind in sorted(kinds, key=lambda k: -k.value):
        at = np.argwhere(spots(sums, (), kind))
        inner = (at >= np.array(span.lo)) & (at + np.array(kind.after) <= np.array(span.hi))
        if len(at) and inner.all(axis=1).any():
            return kind.value
    return 0
