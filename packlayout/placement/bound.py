"""No layout can hold more modules than this: bounds over optimistic points, and what each rests on.

* Blocks: the exact best of up to three blocks over points (`tables`). Holds for packs in so few blocks.
* Weights: every module, wherever it stands, holds points whose weights sum to one at the least; so the sum of
  all weights bounds the count. The weights come from a linear programme, but the bound rests on the last step
  alone, in which they are divided by the least sum that any place of a module has.
* Room: the weights taken alike: points that some module may hold, over the fewest that one holds.
* Lattice: every block in its cradle holds so many points of a coarse lattice along each axis. Which of them it may
  hold together is found on fine points; how many modules blocks may hold that share them out is solved exactly.
  A lattice is good for a bound where few windows of it are open, so of all its shifts over the fine points the one
  with the fewest is taken. A lattice finer along y and z says more, and takes longer to solve.

What kind of proof each is: blocks and lattice are exact in integers; weights and room are sums that hold by
themselves, however they were come by. All rest on open points, of which a module anywhere must hold so many.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from math import ceil, floor

import numpy as np

from packlayout.model.brief import Case
from packlayout.model.geometry import Floats, Vec
from packlayout.model.layout import turned_size
from packlayout.placement.blocks import kind_on_points, most_in_blocks, tables_on_points
from packlayout.placement.clear import apart_mm, body_mm, keep_from
from packlayout.placement.forms import block_margin, block_size, gaps, shapes
from packlayout.placement.lattice import Stand, most
from packlayout.placement.tables import Cell, spots
from packlayout.space.cells import Bools, running_sums
from packlayout.space.points import Points, open_points

PITCH_MM, FINE_MM = 10.0, 5.0
SWEEPS, LOOK_EVERY, BALANCE = 400, 40, 8.0
MOST_POINTS = 400_000
TINY = 1e-9


@dataclass(frozen=True, slots=True)
class Bound:
    """A count that no layout exceeds.

    Attributes:
        modules: The count.
        basis: What it rests on, in words.
    """

    modules: int
    basis: str


@lru_cache(maxsize=8)
def points_of(case: Case, pitch_mm: float) -> tuple[Points, ...]:
    """Optimistic points of every zone that modules may go in."""
    keep = [(k.mesh, k.distance_mm) for k in keep_from(case)]
    names = [z.name for z in case.vehicle.zones if z.name in case.brief.modules.zones]
    return tuple(open_points(name, case.zones[name], body_mm(case, name), keep, pitch_mm) for name in names)


def in_blocks(case: Case, pitch_mm: float) -> Bound:
    """The most modules that the blocks of the brief can hold, wherever they stand and whatever else is there."""
    most = case.brief.modules.blocks_at_most
    found = most_in_blocks([tables_on_points(case, p) for p in points_of(case, pitch_mm)], most)
    many = f"{most} block{'s' if most > 1 else ''}"
    words = f"exact best of up to {many} at any place, over optimistic points {pitch_mm:g} mm apart"
    return Bound(found, words)


def upper_bound(case: Case, packed: int = 0) -> Bound:
    """The least of the bounds that hold for the brief.

    Args:
        case: What is to be placed where.
        packed: How many are known to fit: when the quick bound is above, a finer one is tried.
    """
    if case.brief.modules.loose:
        found = min(by_lattice(case), by_room(case), key=lambda b: b.modules)
        if not packed or found.modules <= packed:
            return found
        return min(found, by_weights(case), by_lattice(case, finer=True), key=lambda b: b.modules)
    quick = in_blocks(case, PITCH_MM)
    if quick.modules <= packed or sum(p.open.size for p in points_of(case, PITCH_MM)) > MOST_POINTS * 2:
        return quick
    fine = in_blocks(case, FINE_MM)
    return fine if fine.modules < quick.modules else quick


@dataclass(frozen=True, slots=True, eq=False)
class Way:
    """One way up of a single module over points, or one block in its cradle.

    Attributes:
        holds: Points it holds at the least along each axis.
        may: (nx, ny, nz) True at each first point from which it may hold them.
        modules: How many stand in it, where it is a block.
    """

    holds: tuple[int, int, int]
    may: Bools
    modules: int = 1


def _sizes(case: Case) -> list[Vec]:
    part = case.parts[case.brief.modules.part]
    return sorted({turned_size(part.box_size, up, turn) for up in part.up for turn in (0, 90)})


def _gaps(case: Case) -> Vec:
    """Least room between two modules, however they stand beside each other."""
    least = min(min(gaps(case)), 2 * block_margin(case) + case.brief.clearances.parts_mm)
    return least, least, least


def _ways(case: Case, points: Points) -> list[Way]:
    margin, between, pitch = block_margin(case), _gaps(case), points.pitch_mm
    made: list[Way] = []
    for size in _sizes(case):
        holds: list[int] = []
        start: list[int] = []
        length: list[int] = []
        for side, gap in zip(size, between, strict=True):
            before = margin - gap / 2  # from the outside of its cradle to where its own share begins
            holds.append(max(1, floor((side + gap) / pitch + TINY)))
            start.append(floor(before / pitch + TINY))
            length.append(max(1, floor((side + 2 * margin - before) / pitch + TINY) + start[-1]))
        may = open_windows(points.open, holds, start, length)
        made.append(Way((holds[0], holds[1], holds[2]), may))
    return made


def open_windows(good: Bools, holds: Sequence[int], start: Sequence[int], length: Sequence[int]) -> Bools:
    """First points from which the points of a module and its cradle are all open; nothing is open beyond."""
    pad = [(s, n) for s, n in zip(start, length, strict=True)]
    wide = np.pad(good, pad)
    count = _box_sums(wide.astype(np.float64), length)
    full = count > np.prod(length) - 0.5
    # a window that begins `start` before a point begins at that point's own index once the pad is there
    return full[tuple(slice(0, n) for n in good.shape)]


def _box_sums(values: Floats, n: Sequence[int]) -> Floats:
    """Sum of the n points from each point on; only points with n from there on are given."""
    s = np.zeros(tuple(v + 1 for v in values.shape))
    s[1:, 1:, 1:] = values.cumsum(0).cumsum(1).cumsum(2)
    a, b, c = n
    d = s[a:] - s[:-a]
    d = d[:, b:] - d[:, :-b]
    return d[:, :, c:] - d[:, :, :-c]


def _covers(weights: Floats, way: Way) -> Floats:
    """Sum of weights that a module holds from each first point."""
    return _box_sums(np.pad(weights, [(0, n - 1) for n in way.holds]), way.holds)


def _loads(amount: Floats, way: Way) -> Floats:
    """How much of the modules each point is held by: the transpose of `_covers`."""
    return _box_sums(np.pad(amount, [(n - 1, 0) for n in way.holds]), way.holds)


def by_room(case: Case) -> Bound:
    """Points that some module may hold, over the fewest that one holds."""
    total = 0
    for points in points_of(case, FINE_MM if _small(case) else PITCH_MM):
        ways = [w for w in _ways(case, points) if w.may.any()]
        if not ways:
            continue
        held = np.zeros(points.open.shape, dtype=bool)
        for way in ways:
            held |= _loads(way.may.astype(np.float64), way) > 0.5
        total += int(held.sum()) // min(int(np.prod(w.holds)) for w in ways)
    return Bound(total, "room that single modules can reach, over the room one takes, at any place")


def _small(case: Case) -> bool:
    return sum(p.open.size for p in points_of(case, PITCH_MM)) <= MOST_POINTS


@lru_cache(maxsize=8)
def by_weights(case: Case, sweeps: int = SWEEPS) -> Bound:
    """The bound by weights from a linear programme, solved by alternating steps on windows and points.

    Source: Chambolle and Pock, A first-order primal-dual algorithm, J. Math. Imaging Vision 40 (2011); the
    certificate is checked by dividing the weights by the least sum they have over any place of a module.
    """
    half = lattice_pitch([_shares(case, size) for size in _sizes(case)]) / 2
    fold = max(1, round(half / LATTICE_FINE_MM))
    total = sum(weighed_windows(ways, (fold, fold, fold), sweeps) for ways in _zone_ways(case, half / fold))
    return Bound(
        total,
        "weights over a lattice (linear programme, certified), its windows tested on fine optimistic points, "
        "single modules at any place",
    )


def _zone_ways(case: Case, pitch_mm: float) -> list[list[Way]]:
    """Ways up that have a place at all, zone by zone."""
    zones = [[w for w in _ways(case, points) if w.may.any()] for points in points_of(case, pitch_mm)]
    return [ways for ways in zones if ways]


def weighed_windows(fine: Sequence[Way], fold: Cell, sweeps: int) -> int:
    """The bound by weights over one zone's points, taken `fold` by `fold` as a lattice where modules hold some of it."""
    coarse = windows(fine, fold)
    ways = [Way(s.holds, s.may) for s in coarse] if all(min(s.holds) > 0 for s in coarse) else [*fine]
    x, y, z = (max(w.may.shape[k] for w in ways) for k in range(3))
    return floor(_weigh((x, y, z), ways, sweeps) + 1e-6)


def _weigh(shape: tuple[int, ...], ways: Sequence[Way], sweeps: int) -> float:
    size = max(float(np.prod(w.holds)) for w in ways)
    norm = size * len(ways) ** 0.5
    reach = np.zeros(shape)
    for way in ways:
        reach += _loads(way.may.astype(np.float64), way)
    weights = np.where(reach > 0.5, 1.0 / size, 0.0)
    best = _certified(weights, ways)
    # the balance of the two steps: found on trial bays; it changes how fast, not what is certified
    step, pull = 0.95 / norm * BALANCE, 0.95 / norm / BALANCE
    amounts = [np.zeros(w.may.shape) for w in ways]
    mean = np.zeros(shape)
    for sweep in range(1, sweeps + 1):
        load = np.zeros(shape)
        for n, way in enumerate(ways):
            after = np.where(way.may, np.maximum(amounts[n] + step * (1.0 - _covers(weights, way)), 0.0), 0.0)
            load += _loads(2 * after - amounts[n], way)
            amounts[n] = after
        weights = np.maximum(weights + pull * (load - 1.0), 0.0)
        mean += weights
        if sweep % LOOK_EVERY == 0:
            best = min(best, _certified(weights, ways), _certified(mean, ways))
    return best


LATTICE_MM, LATTICE_FINE_MM, LATTICE_FINEST_MM = (40.0, 90.0), 10.0, 5.0
MOST_WINDOWS = 16_000
EFFORT = 12.0
"""Deterministic time of the exact solver, its own unit: near seconds, the same on every machine."""


@lru_cache(maxsize=16)
def by_lattice(case: Case, finer: bool = False, effort: float = EFFORT) -> Bound:
    """The bound by an exact solver (OR-Tools CP-SAT) over windows of a coarse lattice, tested on fine points.

    A block in its cradle, with the room between parts behind it, holds a window of lattice points wherever it stands,
    and no two hold the same point. The fine points say which windows some place allows. So the most modules in
    windows without a point in common bounds the count; where the solver ends before it has proven the most, the bound
    it holds by then does. Any number of blocks of any arrangement, single modules among them.

    Args:
        case: What is to be placed where.
        finer: Half the step along y and z.
        effort: Deterministic time for each zone.
    """
    gap = apart_mm(case)
    alone = [block_size(case, size, (1, 1, 1)) for size in _sizes(case)]
    pitch = lattice_pitch([(x + gap, y + gap, z + gap) for x, y, z in alone])
    close = sum(p.open.size for p in points_of(case, PITCH_MM)) <= MOST_POINTS * 2
    fine = LATTICE_FINEST_MM if close else LATTICE_FINE_MM
    fold = 2 * max(1, ceil(pitch / fine / 2 - TINY))
    folds = (fold, fold // 2, fold // 2) if finer else (fold, fold, fold)
    total = 0
    for points in points_of(case, pitch / fold):
        ways = _block_ways(case, points, folds)
        total += int(points.open.size) if ways is None else most_windows(ways, folds, effort) if ways else 0
    words = (
        "exact solver over a lattice, its windows tested on fine optimistic points, any blocks at any place"
    )
    return Bound(total, words)


def _block_ways(case: Case, points: Points, fold: Cell) -> list[Way] | None:
    """Every block that has a place at all over points, the room between parts behind it included; None for too many."""
    x, y, z = ((n + 1) * points.pitch_mm for n in points.open.shape)
    made: list[Way] = []
    places = 0
    sums = running_sums(points.open)
    for modules, size in shapes(case, (x, y, z)):
        kind = kind_on_points(modules, size, apart_mm(case), points.pitch_mm)
        may = spots(sums, (), kind)
        if may.any():
            made.append(Way(kind.after, may, modules))
            places += int(may.sum())
        if places > MOST_WINDOWS * int(np.prod(fold)):  # no window begins from more places than that
            return None
    return made


def _shares(case: Case, size: Vec) -> Vec:
    a, b, c = (side + gap for side, gap in zip(size, _gaps(case), strict=True))
    return a, b, c


def lattice_pitch(sides: Sequence[Vec]) -> float:
    """The step of a lattice that loses least when the sides of a module are cut down to whole steps."""
    low, high = LATTICE_MM
    tried = [low + 0.1 * n for n in range(round((high - low) / 0.1) + 1)]

    def kept(pitch: float) -> float:
        return max(float(np.prod([floor(v / pitch + TINY) * pitch / v for v in side])) for side in sides)

    return max(tried, key=lambda p: (round(kept(p), 4), p))


def most_windows(ways: Sequence[Way], fold: Cell, effort: float = EFFORT) -> int:
    """The most modules over one zone's points, taken `fold` by `fold` as a lattice.

    Args:
        ways: Ways up of a module over the fine points.
        fold: Fine steps in one of the lattice along each axis.
        effort: Deterministic time for the solver.
    """
    made = windows(ways, fold)
    if any(min(s.holds) < 1 for s in made) or sum(int(s.may.sum()) for s in made) > MOST_WINDOWS:
        return sum(w.modules * int(w.may.sum()) for w in ways)  # no two begin at the same fine point
    return most(made, effort).bound


def windows(ways: Sequence[Way], fold: Cell) -> list[Stand]:
    """Windows of the lattice that some place on the fine points allows, at the shift that has the fewest of them.

    A lattice may be shifted by any number of fine steps along each axis; each shift is a bound of its own.
    """
    spread = [_first_held(way.may, fold) for way in ways]
    counts = np.zeros(fold, dtype=np.int64)
    for first in spread:
        a, b, c = (-(-n // f) for n, f in zip(first.shape, fold, strict=True))
        wide = np.zeros((a * fold[0], b * fold[1], c * fold[2]), dtype=np.bool_)
        wide[tuple(slice(0, n) for n in first.shape)] = first
        counts += wide.reshape(a, fold[0], b, fold[1], c, fold[2]).sum(axis=(0, 2, 4))
    x, y, z = (int(v) for v in np.unravel_index(int(np.argmin(counts)), fold))
    made: list[Stand] = []
    for way, first in zip(ways, spread, strict=True):
        a, b, c = (n // f for n, f in zip(way.holds, fold, strict=True))
        made.append(Stand((a, b, c), first[x :: fold[0], y :: fold[1], z :: fold[2]], value=way.modules))
    return made


def _first_held(may: Bools, fold: Cell) -> Bools:
    """Fine points that are the first lattice point held from some place, if a lattice point falls on them.

    The place begins at that point or less than a lattice step before it.
    """
    out = np.zeros([n + f - 1 for n, f in zip(may.shape, fold, strict=True)], dtype=np.bool_)
    if not may.any():
        return out
    axes = [np.flatnonzero(may.any(axis=other)) for other in ((1, 2), (0, 2), (0, 1))]
    part = may[tuple(slice(int(at[0]), int(at[-1]) + 1) for at in axes)]
    for k, n in enumerate(fold):
        part = _spread(part, n, k)
    out[tuple(slice(int(at[0]), int(at[0]) + n) for at, n in zip(axes, part.shape, strict=True))] = part
    return out


def _spread(good: Bools, n: int, k: int) -> Bools:
    """Whether any of the n points up to each one along an axis is good; n - 1 more points than before."""
    width = 1
    while width < n:
        step = min(width, n - width)
        more = np.zeros([v + step * (m == k) for m, v in enumerate(good.shape)], dtype=np.bool_)
        ends = [slice(None), slice(None), slice(None)]
        for first in (0, step):
            ends[k] = slice(first, first + good.shape[k])
            more[tuple(ends)] |= good
        good, width = more, width + step
    return good


def _certified(weights: Floats, ways: Sequence[Way]) -> float:
    """Sum of the weights once every place of a module has a sum of one at the least."""
    least = min(float(_covers(weights, w)[w.may].min()) for w in ways)
    return float(weights.sum()) / least if least > 1e-12 else float("inf")
