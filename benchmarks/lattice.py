"""Single modules on one coarse lattice, by CP-SAT alone: what a general exact solver does with the same job."""

from dataclasses import dataclass
from itertools import product

import numpy as np

from packlayout.model.brief import Case
from packlayout.model.layout import turned_size
from packlayout.placement.clear import space_of
from packlayout.space.cells import Space, all_set


@dataclass(frozen=True)
class Answer:
    """What the solver said."""

    packed: int
    bound: int
    proven: bool
    candidates: int


def best_offset(
    space: Space, sizes: list[tuple[float, float, float]], pitch: float
) -> tuple[np.ndarray, list[np.ndarray]]:
    """The lattice offset with most places, and the places of each size."""
    best: tuple[int, np.ndarray, list[np.ndarray]] = (-1, np.zeros(3), [])
    shape = np.array(space.free.shape) * space.pitch_mm
    steps = range(0, int(pitch), int(max(space.pitch_mm, pitch / 3)))
    for shift in product(steps, repeat=3):
        first = np.array(space.origin) + np.array(shift)
        grid = np.stack(
            np.meshgrid(*(np.arange(0, s, pitch) for s in shape), indexing="ij"), axis=-1
        ).reshape(-1, 3)
        places = [
            (grid + first)[all_set(space, space.free_sums, grid + first, grid + first + np.array(s))]
            for s in sizes
        ]
        total = sum(len(p) for p in places)
        if total > best[0]:
            best = (total, first, places)
    return best[1], best[2]


def solve(case: Case, pitch: float, limit_s: float) -> Answer:
    """The most single modules on a lattice; modules take their own box, surfaces keep the body clearance."""
    from ortools.sat.python import cp_model

    part = case.parts[case.brief.modules.part]
    sizes = sorted({turned_size(part.box_size, up, turn) for up in part.up for turn in (0, 90)})
    first, places = best_offset(space_of(case, case.brief.modules.zones[0]), sizes, pitch)
    model = cp_model.CpModel()
    held: dict[tuple[int, int, int], list[cp_model.IntVar]] = {}
    chosen = []
    for size, rows in zip(sizes, places, strict=True):
        n = [round(s / pitch) for s in size]
        for at in np.round((rows - first) / pitch).astype(int):
            var = model.new_bool_var("")
            chosen.append(var)
            for d in product(*(range(k) for k in n)):
                held.setdefault((at[0] + d[0], at[1] + d[1], at[2] + d[2]), []).append(var)
    for cell in held.values():
        model.add_at_most_one(cell)
    model.maximize(sum(chosen))
    solver = cp_model.CpSolver()
    solver.parameters.num_workers = 1
    solver.parameters.random_seed = 1
    solver.parameters.max_time_in_seconds = limit_s
    status = solver.solve(model) if chosen else None
    if status is None:
        return Answer(0, 0, True, 0)
    packed = int(solver.objective_value) if status in (cp_model.OPTIMAL, cp_model.FEASIBLE) else 0
    return Answer(packed, int(solver.best_objective_bound + 1e-6), status == cp_model.OPTIMAL, len(chosen))
