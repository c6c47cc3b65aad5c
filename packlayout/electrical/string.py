"""Order of the string: through which modules the current runs, so that busbars are short and neighbours low.

A string is a path through all its modules from terminal to terminal. For up to `EXACT` modules the
shortest path for every pair of ends is found exactly by dynamic programming over subsets (Held and Karp, 1962);
of these the one with the least sum of busbar length and neighbouring voltage is taken. Longer strings are
improved from a serpentine by exchanging stretches.
"""

from dataclasses import dataclass
from itertools import combinations, pairwise

import numba
import numpy as np

from packlayout.model.catalogue import BatteryModule
from packlayout.model.geometry import Floats, Ints, Vec
from packlayout.model.layout import Layout, Placement

EXACT = 13
REACH_MM = 200.0
"""Terminals closer than this are neighbours: a spanner laid across would bridge them (common practice, no source)."""
MM_PER_VOLT = 0.5
"""What a volt between neighbours is worth in busbar length (common practice, no source)."""


@dataclass(frozen=True, slots=True)
class Busbar:
    """A link from the positive of one module to the negative of the next."""

    start: str
    end: str
    ends: tuple[Vec, Vec]

    @property
    def length_mm(self) -> float:
        """Straight from terminal to terminal."""
        return sum((b - a) ** 2 for a, b in zip(*self.ends, strict=True)) ** 0.5


@dataclass(frozen=True, slots=True)
class StringOrder:
    """Strings in their order, negative end first.

    Attributes:
        strings: Names of the modules of each.
        busbars: Between them.
        positive: Position and direction of the positive terminal of each string.
        negative: The same of the negative one.
        adjacent_v: Greatest voltage between terminals of two modules within a spanner's reach, pack full; None
            where none are.
        adjacent_pair: Which two modules.
        disconnect: Modules between which the service disconnect sits, in the middle of the first string.
        halves_v: Voltage of the two parts it leaves, pack full.
    """

    strings: tuple[tuple[str, ...], ...]
    busbars: tuple[Busbar, ...]
    positive: tuple[tuple[Vec, Vec], ...]
    negative: tuple[tuple[Vec, Vec], ...]
    adjacent_v: float | None
    adjacent_pair: tuple[str, ...]
    disconnect: tuple[str, ...]
    halves_v: tuple[float, float]

    @property
    def busbar_mm(self) -> float:
        """Of all of them."""
        return sum(bar.length_mm for bar in self.busbars)


def string_order(layout: Layout, part: BatteryModule, series: int, strings: int) -> StringOrder:
    """The order of each string through the placed modules.

    Args:
        layout: Where the modules stand.
        part: Supplies the terminals and the voltage.
        series: Modules a string.
        strings: How many.

    Returns:
        The order. Same layout, same order.
    """
    modules = _serpentine(list(layout.modules))[: series * strings]
    made = [_ordered(modules[n * series : (n + 1) * series], part) for n in range(strings)]
    volts = part.electrical.max_v
    step, pair = _adjacent(made, part)
    half = series // 2
    return StringOrder(
        tuple(tuple(p.name for p in string) for string in made),
        tuple(
            Busbar(a.name, b.name, (terminal(part, a, "positive")[0], terminal(part, b, "negative")[0]))
            for string in made
            for a, b in pairwise(string)
        ),
        tuple(terminal(part, string[-1], "positive") for string in made),
        tuple(terminal(part, string[0], "negative") for string in made),
        None if step is None else step * volts,
        pair,
        (made[0][half - 1].name, made[0][half].name) if half else (),
        (half * volts, (series - half) * volts),
    )


def terminal(part: BatteryModule, placed: Placement, name: str) -> tuple[Vec, Vec]:
    """Position and direction of a module's terminal; the middle of its upper face where none is given."""
    for port in part.ports:
        if port.kind == "HV" and port.name == name:
            return placed.pose.point(port.at), placed.pose.direction(port.direction)
    x, y, _ = placed.box.centre
    return (x, y, placed.box.hi[2]), (0.0, 0.0, 1.0)


def _serpentine(modules: list[Placement]) -> list[Placement]:
    """Block by block, along x, each row the other way round."""
    made: list[Placement] = []
    for block in sorted({p.block or 0 for p in modules}):
        rows: dict[tuple[float, float], list[Placement]] = {}
        for p in (m for m in modules if (m.block or 0) == block):
            rows.setdefault((round(p.box.centre[2] / 20), round(p.box.centre[1] / 20)), []).append(p)
        for n, key in enumerate(sorted(rows)):
            row = sorted(rows[key], key=lambda p: (p.box.centre[0], p.name))
            made += row if n % 2 == 0 else row[::-1]
    return made


def _ordered(modules: list[Placement], part: BatteryModule) -> list[Placement]:
    if len(modules) < 2:
        return modules
    plus = np.array([terminal(part, p, "positive")[0] for p in modules])
    minus = np.array([terminal(part, p, "negative")[0] for p in modules])
    cost = np.linalg.norm(plus[:, None, :] - minus[None, :, :], axis=2)
    near = _neighbours(plus, minus)
    volts = part.electrical.max_v
    paths = _exact(cost) if len(modules) <= EXACT else [_improved(cost)]
    best = min(paths, key=lambda path: (round(_cost(path, cost, near, volts), 6), path))
    return [modules[k] for k in best]


Near = list[tuple[int, int, int, int]]
"""Two modules and, for each, 1 for its positive terminal and 0 for its negative one."""


def _cost(path: list[int], cost: Floats, near: Near, volts: float) -> float:
    at = {k: n for n, k in enumerate(path)}
    worst = max((_steps(at[a], p, at[b], q) for a, p, b, q in near), default=0)
    return sum(float(cost[a, b]) for a, b in pairwise(path)) + MM_PER_VOLT * worst * volts


def _steps(a: int, p: int, b: int, q: int) -> int:
    """Modules' worth of voltage between two terminals of a string."""
    return abs((a + p) - (b + q))


def _neighbours(plus: Floats, minus: Floats) -> Near:
    """Pairs of terminals of different modules within reach of one another."""
    ends = (minus, plus)
    return [
        (a, p, b, q)
        for a, b in combinations(range(len(plus)), 2)
        for p in (0, 1)
        for q in (0, 1)
        if float(np.linalg.norm(ends[p][a] - ends[q][b])) <= REACH_MM
    ]


def _adjacent(strings: list[list[Placement]], part: BatteryModule) -> tuple[int | None, tuple[str, ...]]:
    """Greatest number of modules' voltage between neighbouring terminals, strings joined at their negative end."""
    flat = [(p, n) for string in strings for n, p in enumerate(string)]
    plus = np.array([terminal(part, p, "positive")[0] for p, _ in flat])
    minus = np.array([terminal(part, p, "negative")[0] for p, _ in flat])
    found = [
        (_steps(flat[a][1], p, flat[b][1], q), (flat[a][0].name, flat[b][0].name))
        for a, p, b, q in _neighbours(plus, minus)
    ]
    return max(found, key=lambda f: f[0]) if found else (None, ())


def _exact(cost: Floats) -> list[list[int]]:
    """The shortest path through all nodes for each pair of ends."""
    n = len(cost)
    paths: list[list[int]] = []
    for start in range(n):
        best, back = _held_karp(np.ascontiguousarray(cost), start)
        full = (1 << n) - 1
        for end in range(n):
            if end == start or not np.isfinite(best[full, end]):
                continue
            path, mask, k = [end], full, end
            while k != start:
                k, mask = int(back[mask, k]), mask & ~(1 << k)
                path.append(k)
            paths.append(path[::-1])
    return paths


@numba.njit(cache=True)
def _held_karp(cost: Floats, start: int) -> tuple[Floats, Ints]:
    n = cost.shape[0]
    best = np.full((1 << n, n), np.inf)
    back = np.full((1 << n, n), -1, np.int64)
    best[1 << start, start] = 0.0
    for mask in range(1 << n):
        if not mask & (1 << start):
            continue
        for k in range(n):
            here = best[mask, k]
            if not np.isfinite(here):
                continue
            for m in range(n):
                if mask & (1 << m):
                    continue
                after = mask | (1 << m)
                if here + cost[k, m] < best[after, m]:
                    best[after, m] = here + cost[k, m]
                    back[after, m] = k
    return best, back


def _improved(cost: Floats) -> list[int]:
    """A serpentine improved by moving stretches of up to three modules until nothing is gained."""
    path = list(range(len(cost)))
    length = _length(path, cost)
    while True:
        best, taken = length - 1e-9, None
        for size in (1, 2, 3):
            for i in range(len(path) - size + 1):
                piece, rest = path[i : i + size], path[:i] + path[i + size :]
                for j in range(len(rest) + 1):
                    tried = rest[:j] + piece + rest[j:]
                    found = _length(tried, cost)
                    if found < best:
                        best, taken = found, tried
        if taken is None:
            return path
        path, length = taken, best


def _length(path: list[int], cost: Floats) -> float:
    return float(cost[path[:-1], path[1:]].sum())
