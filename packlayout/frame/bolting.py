"""What is bolted: which bolts a frame wants, how long and how heavy, and the bores in the tubes they go into.

A foot plate is bolted through its mounting point. A drilled plate that lies against a tube is bolted into blind nuts
set in the wall of that tube.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from math import pi, sqrt

import numpy as np

from packlayout.frame.legs import Leg
from packlayout.frame.tubes import Member, Plate, TubeFrame
from packlayout.model.catalogue import Thread
from packlayout.model.geometry import MassItem, Vec, exact_point
from packlayout.units import Measured

NEAR_MM = 0.6
"""How near a plate lies to the side of a tube that it is bolted to."""
STEEL_KG_PER_MM3 = 7.85e-6
MASS_SHARE = 0.1
"""Tolerance of a bolt's mass: rounded edges, chamfers, coating (common practice, no source)."""
ENGAGED = 1.5
"""Length of thread in a nut and beyond it, in diameters (common practice, no source)."""
NUT_BORE = 1.35
"""Bore for a blind nut where the table gives none, in diameters of its thread (common practice, no source)."""


@dataclass(frozen=True, slots=True)
class Bore:
    """A hole in one wall of a tube, for a blind nut.

    Attributes:
        member: Name of the tube.
        plate: Name of what is bolted there.
        at: Middle of the hole in the outside of the wall, mm.
        into: Unit vector into the tube.
        clearance_mm: Diameter of the plate's hole.
    """

    member: str
    plate: str
    at: Vec
    into: Vec
    clearance_mm: float


@dataclass(frozen=True, slots=True)
class Bolts:
    """Bolts of one kind.

    Attributes:
        thread: Such as M10; `for holes of 9 mm` when the table has none for the hole.
        count: How many.
        length_mm: Under the head; None when the thread has no figures.
        least: True when the metal of the mounting point is to be added to it.
        with_what: Nut and washers, or a blind nut and a washer.
        mass: Of all of them with nuts and washers, kg; None when the thread has no figures.
    """

    thread: str
    count: int
    length_mm: float | None
    least: bool
    with_what: str
    mass: Measured | None


@lru_cache(maxsize=4)  # lists, drawings and solids ask for the same
def bores(frame: TubeFrame) -> tuple[Bore, ...]:
    """Every hole that a bolted plate needs in the tube it lies against."""
    made: list[Bore] = []
    for plate in frame.plates:
        normal = np.array(plate.pose.direction((0.0, 0.0, 1.0)))
        for x, y, diameter in plate.holes:
            for face, out in ((0.0, -normal), (plate.size[2], normal)):
                at = np.array(plate.pose.point((x, y, face)))
                member = _behind(frame.members, at, out)
                if member is not None:
                    made.append(Bore(member.name, plate.name, _vec(at), _vec(out), diameter))
    return tuple(made)


def _behind(members: Sequence[Member], at: np.ndarray, way: np.ndarray) -> Member | None:
    """The tube whose side lies at a point, square to a direction."""
    for member in members:
        axis = np.array(member.axis)
        if abs(axis @ way) > 1e-6:
            continue
        away = np.array(member.start) - at
        along = -float(away @ axis)
        deep = float(away @ way)
        aside = float(np.linalg.norm(away + along * axis - deep * way))
        across = np.cross(axis, way)
        half, wide = member.reach_mm(_vec(way)), member.reach_mm(_vec(across))
        if 0 < along < member.length_mm and abs(deep - half) <= NEAR_MM and aside < wide:
            return member
    return None


def bore_mm(clearance_mm: float, threads: Mapping[str, Thread]) -> float:
    """Bore for the blind nut of the bolt that a hole is for."""
    thread = next((t for t in threads.values() if t.clearance_hole_mm == clearance_mm), None)
    if thread is not None and thread.blind_nut_bore_mm is not None:
        return thread.blind_nut_bore_mm
    return NUT_BORE * (
        thread.diameter_mm if thread is not None and thread.diameter_mm else clearance_mm / 1.1
    )


def bolts_of(frame: TubeFrame, legs: Sequence[Leg], threads: Mapping[str, Thread]) -> tuple[Bolts, ...]:
    """All bolts of a frame, those of the mounting points first.

    Holes of plates that lie on each other and share a middle line are for one bolt.
    """
    counts: dict[tuple[str, float | None, bool], int] = {}
    for bolt in _each(frame, legs, threads):
        counts[bolt.key] = counts.get(bolt.key, 0) + 1
    return tuple(
        Bolts(name, count, length, least, "nut and washers" if least else "washer and blind nut",
              _mass(threads.get(name), length, count, 2 if least else 1))
        for (name, length, least), count in counts.items()
    )  # fmt: skip


def bolt_items(frame: TubeFrame, legs: Sequence[Leg], threads: Mapping[str, Thread]) -> tuple[MassItem, ...]:
    """What the bolts weigh, one item for each group of plates that they hold, amid their holes.

    Bolts of a thread without figures weigh nothing here, as `bolts_of` says of them.
    """
    sums: dict[str, list[tuple[Measured, Vec]]] = {}
    for bolt in _each(frame, legs, threads):
        name, length, least = bolt.key
        mass = _mass(threads.get(name), length, 1, 2 if least else 1)
        if mass is not None:
            sums.setdefault(bolt.group, []).append((mass, bolt.at))
    made: list[MassItem] = []
    for group, rows in sums.items():
        kg = sum(mass.value for mass, _ in rows)
        middle = (
            sum(mass.value * at[0] for mass, at in rows) / kg,
            sum(mass.value * at[1] for mass, at in rows) / kg,
            sum(mass.value * at[2] for mass, at in rows) / kg,
        )
        source = f"{len(rows)} with nuts and washers, computed"
        made.append(
            MassItem(
                f"bolts of {group}", Measured(kg, MASS_SHARE * kg), exact_point(middle), "added", None, source
            )
        )
    return tuple(made)


@dataclass(frozen=True, slots=True)
class _Bolt:
    """One bolt: the group of the plate under its head, its middle, thread, length, and whether it has a nut."""

    group: str
    at: Vec
    key: tuple[str, float | None, bool]


def _each(frame: TubeFrame, legs: Sequence[Leg], threads: Mapping[str, Thread]) -> list[_Bolt]:
    feet = {leg.plate.name for leg in legs}
    walls = {member.name: member.section.wall_mm for member in frame.members}
    blind = {(_rounded(bore.at), bore.clearance_mm): walls[bore.member] for bore in bores(frame)}
    by_hole = {row.clearance_hole_mm: row for row in threads.values()}
    made: list[_Bolt] = []
    for stack in _stacks(sorted(frame.plates, key=lambda p: p.name not in feet)):
        diameter = min(hole.diameter for hole in stack)
        thread = by_hole.get(diameter)
        name = thread.thread if thread is not None else f"for holes of {diameter:g} mm"
        ends = [(_rounded(end), hole.diameter) for hole in stack for end in (hole.low, hole.high)]
        wall = next((blind[end] for end in ends if end in blind), None)
        grip = sum(hole.thick for hole in stack)
        length = _length(grip, thread, wall) if thread is not None else None
        low, high = stack[0].low, stack[0].high
        middle = ((low[0] + high[0]) / 2, (low[1] + high[1]) / 2, (low[2] + high[2]) / 2)
        made.append(_Bolt(stack[0].group, middle, (name, length, wall is None)))
    return made


@dataclass(frozen=True, slots=True)
class _Hole:
    """One hole of one plate: its group, the ends of its middle line, its diameter, the plate's thickness."""

    group: str
    low: Vec
    high: Vec
    diameter: float
    thick: float


def _stacks(plates: Sequence[Plate]) -> list[list[_Hole]]:
    """Holes in which one bolt sits: of plates that lie on each other, with one middle line."""
    holes = [
        _Hole(p.group, p.pose.point((x, y, 0.0)), p.pose.point((x, y, p.size[2])), d, p.size[2])
        for p in plates for x, y, d in p.holes
    ]  # fmt: skip
    at: dict[Vec, int] = {}
    made: list[list[_Hole]] = []
    for hole in holes:
        ends = [_rounded(end) for end in (hole.low, hole.high)]
        known = next((at[end] for end in ends if end in at), None)
        if known is None:
            made.append([])
            known = len(made) - 1
        made[known].append(hole)
        for end in ends:
            at.setdefault(end, known)
    return made


def _rounded(at: Vec) -> Vec:
    """A point to half a millimetre: plates that touch share it."""
    x, y, z = (round(2 * v) / 2 + 0.0 for v in at)
    return x, y, z


def _length(grip_mm: float, thread: Thread, wall_mm: float | None) -> float | None:
    """Length under the head, rounded up to what is sold."""
    if thread.diameter_mm is None:
        return None
    washer = thread.washer_thickness_mm or 0.2 * thread.diameter_mm
    whole = grip_mm + (wall_mm or 0.0) + washer * (1 if wall_mm is not None else 2)
    wanted = whole + ENGAGED * thread.diameter_mm
    # lengths as sold, ISO 888: by 5 mm up to 70 mm, by 10 mm above (value from memory)
    step = 5.0 if wanted <= 70 else 10.0
    return step * -(-wanted // step)


def _mass(thread: Thread | None, length_mm: float | None, count: int, washers: int) -> Measured | None:
    """Shank, hexagons of head and nut, washers."""
    if thread is None or length_mm is None or thread.diameter_mm is None or thread.head_flats_mm is None:
        return None
    d, flats = thread.diameter_mm, thread.head_flats_mm
    head = thread.head_height_mm or 0.65 * d
    nut = thread.nut_height_mm or 0.85 * d
    thick = thread.washer_thickness_mm or 0.2 * d
    hexagon = sqrt(3) / 2 * flats**2
    volume = pi / 4 * d * d * length_mm + hexagon * head + (hexagon - pi / 4 * d * d) * nut
    volume += washers * pi / 4 * (thread.washer_diameter_mm**2 - thread.clearance_hole_mm**2) * thick
    mass = count * volume * STEEL_KG_PER_MM3
    return Measured(mass, MASS_SHARE * mass)


def _vec(v: np.ndarray) -> Vec:
    return float(v[0]), float(v[1]), float(v[2])
