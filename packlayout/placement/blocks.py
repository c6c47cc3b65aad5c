"""Blocks of modules against the cells and points of the zones: what surely stands, and what surely cannot.

On the cells (pessimistic) a block stands where all cells that it meets are free. On the points (optimistic) it
is ruled out only where it must hold a point that no part may hold. The same tables serve both.
"""

from collections.abc import Sequence
from functools import lru_cache
from itertools import combinations_with_replacement, product
from math import ceil, floor

from packlayout.model.brief import Case
from packlayout.model.geometry import Vec
from packlayout.model.layout import turned_size
from packlayout.placement.clear import apart_mm
from packlayout.placement.forms import access_axes, backs, block_size, shapes
from packlayout.placement.tables import Cell, Kind, Tables, best_split, tables
from packlayout.space.cells import Space, running_sums
from packlayout.space.points import Points

EPS = 1e-9


def _up(value: float, pitch: float) -> int:
    return max(1, ceil(value / pitch - EPS))


def _down(value: float, pitch: float) -> int:
    return max(1, floor(value / pitch + EPS))


def kind_on_cells(modules: int, size: Vec, gap_mm: float, pitch_mm: float) -> Kind:
    """A block whose lowest corner is a corner of a cell."""
    x, y, z = (_up(side, pitch_mm) for side in size)
    a, b, c = (_up(side + gap_mm, pitch_mm) for side in size)
    return Kind(modules, (x, y, z), (0, 0, 0), (a, b, c))


def kind_on_points(modules: int, size: Vec, gap_mm: float, pitch_mm: float) -> Kind:
    """The points that a block holds at the least, wherever it stands."""
    x, y, z = (_down(side, pitch_mm) for side in size)
    a, b, c = (_down(side + gap_mm, pitch_mm) for side in size)
    return Kind(modules, (x, y, z), (0, 0, 0), (a, b, c))


def _room(shape: tuple[int, ...], pitch: float) -> Vec:
    # a box of this many points may be longer than the points by one step at each end
    return (shape[0] + 1) * pitch, (shape[1] + 1) * pitch, (shape[2] + 1) * pitch


@lru_cache(maxsize=16)
def tables_on_points(case: Case, points: Points) -> Tables:
    """Tables of every shape of block over the points of a zone."""
    gap = apart_mm(case)
    kinds = [
        kind_on_points(n, size, gap, points.pitch_mm)
        for n, size in shapes(case, _room(points.open.shape, points.pitch_mm))
    ]
    return tables(running_sums(points.open), (), kinds)


@lru_cache(maxsize=16)
def tables_on_cells(case: Case, space: Space) -> Tables:
    """The same over the cells of a zone; access rooms left out of account."""
    gap = case.brief.clearances.parts_mm
    kinds = [
        kind_on_cells(n, size, gap, space.pitch_mm)
        for n, size in shapes(case, _room(space.free.shape, space.pitch_mm))
    ]
    return tables(space.free_sums, (), kinds)


def most_in_blocks(by_zone: Sequence[Tables], blocks: int) -> int:
    """The most modules that up to so many blocks hold, over all zones together; blocks at most three."""
    best = [0] * (blocks + 1)
    for made in by_zone:
        alone = [0, *(max(0, best_split([made] * n).value) for n in range(1, blocks + 1))]
        best = [max(best[b - k] + max(alone[: k + 1]) for k in range(b + 1)) for b in range(blocks + 1)]
    return best[blocks]


@lru_cache(maxsize=96)
def _of_count(case: Case, grid: Space | Points, count: int) -> Tables:
    """Tables of the blocks of one count over the cells or the points of a zone."""
    kind_on = kind_on_cells if isinstance(grid, Space) else kind_on_points
    part = case.parts[case.brief.modules.part]
    gap = case.brief.clearances.parts_mm if isinstance(grid, Space) else apart_mm(case)
    kinds: dict[Cell, Kind] = {}
    for up, turn in product(part.up, (0, 90)):
        size = turned_size(part.box_size, up, turn)
        for a in range(1, count + 1):
            for b in range(1, count // a + 1):
                counts = (a, b, count // a // b)
                if a * b * counts[2] == count and backs(part, up, turn, counts) is not None:
                    full = block_size(case, size, counts, access_axes(part, up, turn))
                    kind = kind_on(1, full, gap, grid.pitch_mm)
                    kinds[kind.cells] = kind
    sums = grid.free_sums if isinstance(grid, Space) else running_sums(grid.open)
    return tables(sums, (), list(kinds.values()))


def may_stand(case: Case, grids: Sequence[Space] | Sequence[Points], split: Sequence[int]) -> bool:
    """Whether blocks of these counts find places side by side when nothing else is there; up to three.

    False is a proof on the cells, or over optimistic points for any place at all; True leaves access rooms and all
    other parts out of account.
    """
    if len(split) > 3:
        return True
    zones = [s for s in grids if s.zone in case.brief.modules.zones]
    for choice in product(range(len(zones)), repeat=len(split)):
        fits = True
        for z in set(choice):
            sets = [_of_count(case, zones[z], n) for n, at in zip(split, choice, strict=True) if at == z]
            if best_split(sets).value < len(sets):
                fits = False
                break
        if fits:
            return True
    return False


def splits(count: int, most: int) -> list[tuple[int, ...]]:
    """Ways to share modules out among blocks, few blocks first, even shares first."""
    out: list[tuple[int, ...]] = [(count,)]
    for blocks in range(2, most + 1):
        shares = [
            tuple(sorted(s, reverse=True))
            for s in combinations_with_replacement(range(1, count), blocks) if sum(s) == count
        ]  # fmt: skip
        out += sorted(shares, key=lambda s: (s[0] - s[-1], s))
    return out
