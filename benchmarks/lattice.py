"""Single modules on one coarse lattice, by CP-SAT alone: what a general exact solver does with the same job.

The pitch divides the module, places are tested on the fine cells, and the offset with most places is taken. With
terminals, the room in front of each must stay free of modules; with a motor, it stands on its line first.
"""

from dataclasses import dataclass, replace
from itertools import product

import numpy as np

from benchmarks.report import clock
from packlayout.mass.ledger import base_items
from packlayout.model.brief import Case
from packlayout.model.geometry import Box, Pose, TriMesh, Vec
from packlayout.model.layout import axis, rotation, turned_size
from packlayout.model.vehicle import KeepOut
from packlayout.placement.bound import Way, lattice_pitch, most_windows, open_windows, points_of
from packlayout.placement.clear import space_of
from packlayout.placement.lattice import Stand, most
from packlayout.placement.solve import setting
from packlayout.placement.tables import Cell
from packlayout.space.cells import Space, all_set
from packlayout.space.envelope import box_mesh

PITCH_MM = 60.0
EVEN: Vec = (PITCH_MM, PITCH_MM, PITCH_MM)
FINER: tuple[Vec, ...] = ((60.0, 20.0, 60.0), (20.0, 60.0, 60.0), (60.0, 60.0, 20.0))
"""Lattices finer along one axis: each holds all places of the even one, at the same offset, and more."""
TINY = 1e-9


@dataclass(frozen=True)
class Answer:
    """What the solver said.

    Attributes:
        packed: Modules in its best answer.
        bound: No answer on this lattice holds more.
        proven: Whether the two meet, within the time.
        candidates: Places it chose from.
        seconds: Of processor time.
    """

    packed: int
    bound: int
    proven: bool
    candidates: int
    seconds: float


@dataclass(frozen=True)
class Turned:
    """One way a module may stand on the lattice: cells it takes, and those in front of its terminals from its own."""

    size: Vec
    cells: tuple[int, int, int]
    room: tuple[tuple[int, int, int], tuple[int, int, int]] | None


def stands(case: Case, pitch: Vec, terminals: bool) -> list[Turned]:
    """Every way up and turn, those that look alike once."""
    part = case.parts[case.brief.modules.part]
    made: dict[tuple[object, ...], Turned] = {}
    for up, turn in product(part.up, (0, 90, 180, 270) if terminals else (0, 90)):
        size = turned_size(part.box_size, up, turn)
        cells = (round(size[0] / pitch[0]), round(size[1] / pitch[1]), round(size[2] / pitch[2]))
        room = None
        if terminals:
            face = part.access[0]
            looks = Pose((0.0, 0.0, 0.0), rotation(up, turn)).direction(axis(face.face))
            deep = -(-face.depth_mm // pitch[0])
            lo = [n if v > 0.5 else -int(deep) if v < -0.5 else 0 for n, v in zip(cells, looks, strict=True)]
            hi = [
                n + int(deep) if v > 0.5 else 0 if v < -0.5 else n for n, v in zip(cells, looks, strict=True)
            ]
            room = ((lo[0], lo[1], lo[2]), (hi[0], hi[1], hi[2]))
        made[size, room] = Turned(size, cells, room)
    return list(made.values())


def places(
    space: Space, ways: list[Turned], pitch: Vec, access_mm: float
) -> tuple[np.ndarray, list[np.ndarray]]:
    """The lattice offset with most places, and the lattice places of each way to stand."""
    best: tuple[int, np.ndarray, list[np.ndarray]] = (-1, np.zeros(3), [])
    shape = np.array(space.free.shape) * space.pitch_mm
    step = np.array(pitch)
    tries = [range(0, int(p), int(max(space.pitch_mm, p / 6))) for p in pitch]
    top = np.array(space.origin) + shape
    for shift in product(*tries):
        first = np.array(space.origin) + np.array(shift)
        grid = np.stack(
            np.meshgrid(*(np.arange(0, s, p) for s, p in zip(shape, pitch, strict=True)), indexing="ij"),
            axis=-1,
        ).reshape(-1, 3)
        rows = []
        for way in ways:
            at = grid + first
            good = all_set(space, space.free_sums, at, at + np.array(way.size))
            at = at[good]
            if way.room is not None:
                lo, hi = (at + np.array(corner) * step for corner in way.room)
                for k in range(3):  # as deep as the terminals ask, not a whole lattice step
                    if way.room[0][k] < 0:
                        lo[:, k] = at[:, k] - access_mm
                    elif way.room[1][k] > way.cells[k]:
                        hi[:, k] = at[:, k] + way.size[k] + access_mm
                inner = ((lo >= space.origin) & (hi <= top)).all(axis=1)
                at = at[inner & all_set(space, space.air_sums, lo, hi)]
            rows.append(np.round((at - first) / step).astype(int))
        total = sum(len(r) for r in rows)
        if total > best[0]:
            best = (total, first, rows)
    return best[1], best[2]


def with_motor(case: Case) -> Case | None:
    """The job with its motor standing on its line, as far back as it may; None when it finds no place."""
    now = setting(case, base_items(case), 0)
    motors = [p for p in now.parts if p.kind == "motor"]
    if not motors:
        return None
    motor = motors[0]
    row = int(np.argmax(motor.pos[:, 0]))
    lo = motor.pos[row]
    hi = lo + np.array(motor.forms[int(motor.form[row])].size)
    box = Box((float(lo[0]), float(lo[1]), float(lo[2])), (float(hi[0]), float(hi[1]), float(hi[2])))
    keep = KeepOut.model_validate({"name": "motor", "box": {"corner": box.lo, "opposite": box.hi},
                                   "clearance": case.brief.clearances.parts_mm})  # fmt: skip
    vehicle = case.vehicle.model_copy(update={"keep_outs": (*case.vehicle.keep_outs, keep)})
    meshes: dict[str, TriMesh] = {**case.keep_outs, "motor": box_mesh(box)}
    return replace(case, vehicle=vehicle, keep_outs=meshes)


def solve(case: Case, pitch: Vec = EVEN, limit_s: float = 20.0, terminals: bool = False) -> Answer:
    """The most single modules on a lattice; modules take their own box, surfaces keep the body clearance."""
    start = clock()
    part = case.parts[case.brief.modules.part]
    ways = stands(case, pitch, terminals)
    depth = part.access[0].depth_mm if terminals else 0.0
    _, rows = places(space_of(case, case.brief.modules.zones[0]), ways, pitch, depth)
    shape = tuple(max((int(at[:, k].max()) + 1 for at in rows if len(at)), default=1) for k in range(3))
    made: list[Stand] = []
    for way, at in zip(ways, rows, strict=True):
        may = np.zeros(shape, dtype=np.bool_)
        may[tuple(at.T)] = True
        made.append(Stand(way.cells, may, way.room))
    # the clock on the wall stops it where other work slows it down; what counts is processor time
    found = most(made, 1e6, (), 2 * limit_s)
    taken = clock() - start
    return Answer(found.value, found.bound, found.proven and taken <= limit_s, found.places, taken)


def bare_bound(case: Case, effort: float = 60.0) -> int:
    """No more single modules than this stand anywhere, close to each other and without cradles.

    The least of two exact proofs over lattices: an even one, and one half as coarse along y and z. `effort` is
    deterministic time for each, in the solver's own unit.
    """
    part = case.parts[case.brief.modules.part]
    sizes = sorted({turned_size(part.box_size, up, turn) for up in part.up for turn in (0, 90)})
    pitch = lattice_pitch(sizes)
    fold = 2 * round(pitch / 10)
    zones = []
    for points in points_of(case, pitch / fold):
        ways = []
        for size in sizes:
            n = [max(1, int(side / points.pitch_mm + TINY)) for side in size]
            ways.append(Way((n[0], n[1], n[2]), open_windows(points.open, n, [0, 0, 0], n)))
        zones.append([w for w in ways if w.may.any()])
    folds: tuple[Cell, ...] = ((fold, fold, fold), (fold, fold // 2, fold // 2))
    return min(sum(most_windows(ways, f, effort) for ways in zones if ways) for f in folds)
