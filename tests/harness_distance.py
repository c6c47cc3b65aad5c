"""Cables and hoses held against the solids they run among by fcl, which has no part in how they were found.

A run is a chain of capsules round the points that the program gives of its middle line.
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import combinations
from typing import Any

import fcl
import numpy as np
import trimesh
from numpy.typing import NDArray

Floats = NDArray[np.float64]
SLACK_MM = 0.3
"""Points 5 mm apart stand off an arc of 20 mm radius by 0.16 mm; solids read from STEP are off by a few hundredths."""
PORT_MM = 50.0
"""Along a run from its port, where it passes the case of its own part, the gland and the wall that a fixed end sits on."""


@dataclass(frozen=True)
class Solid:
    """Something a run keeps clear of.

    Attributes:
        name: As the ends of runs call it.
        mesh: Its surface.
        gap_mm: Distance to keep.
    """

    name: str
    mesh: trimesh.Trimesh
    gap_mm: float

    def as_fcl(self) -> Any:
        """For distances."""
        model = fcl.BVHModel()
        model.beginModel(len(self.mesh.vertices), len(self.mesh.faces))
        model.addSubModel(np.asarray(self.mesh.vertices, dtype=float), np.asarray(self.mesh.faces))
        model.endModel()
        return fcl.CollisionObject(model)


def line_of(run: Mapping[str, Any]) -> Floats:
    """(n, 3) points of a run as the program gives it."""
    return np.array(run["path_mm"], dtype=float)


def along(line: Floats) -> Floats:
    """(n,) distance of each point from the nearer end, along the line."""
    far = np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(line, axis=0), axis=1))])
    return np.minimum(far, far[-1] - far)


def capsule(a: Floats, b: Floats, radius: float) -> Any:
    """The piece of a cable between two points."""
    way = b - a
    length = float(np.linalg.norm(way))
    turn = np.asarray(trimesh.geometry.align_vectors([0, 0, 1], way / length))[:3, :3]
    return fcl.CollisionObject(fcl.Capsule(radius, length), fcl.Transform(turn, (a + b) / 2))


def distance(one: Any, other: Any) -> float:
    """Between two bodies; nought or less where they meet."""
    return float(fcl.distance(one, other, fcl.DistanceRequest(), fcl.DistanceResult()))


def too_near(runs: Sequence[Mapping[str, Any]], solids: Sequence[Solid]) -> Iterator[str]:
    """Where a run comes nearer to a solid than its gap, in words."""
    bodies = [(solid, solid.as_fcl(), solid.mesh.bounds) for solid in solids]
    for run in runs:
        line, radius = line_of(run), run["diameter_mm"] / 2
        from_end = along(line)
        ends = {run["from"].rsplit(": ", 1)[0], run["to"].rsplit(": ", 1)[0]}
        for solid, body, (lo, hi) in bodies:
            reach = radius + solid.gap_mm + 5.0
            near = ((line >= lo - reach) & (line <= hi + reach)).all(axis=1)
            for k in np.flatnonzero(near[1:] | near[:-1]):
                if solid.name in ends and min(from_end[k], from_end[k + 1]) < PORT_MM:
                    continue
                found = distance(capsule(line[k], line[k + 1], radius), body)
                if found < solid.gap_mm - SLACK_MM:
                    yield f"{run['name']} is {found:.2f} mm from {solid.name} at {line[k].round()}, {solid.gap_mm} wanted"


def outside(
    runs: Sequence[Mapping[str, Any]], zones: Sequence[Solid], ways: Sequence[tuple[Floats, Floats]]
) -> Iterator[str]:
    """Where a run lies neither in a zone, clear of its surface, nor in a box for cables, in words.

    A stretch of a run that keeps clear of a zone's surface all along lies within it if one of its points does.
    """
    bodies = [(zone, zone.as_fcl()) for zone in zones]
    for run in runs:
        line, radius = line_of(run), run["diameter_mm"] / 2
        held = along(line) < PORT_MM if run["fixed_end"] else np.zeros(len(line), dtype=bool)
        for lo, hi in ways:
            held |= np.minimum(line - lo, hi - line).min(axis=1) >= radius - SLACK_MM
        for zone, body in bodies:
            clear = np.zeros(len(line), dtype=bool)
            lo, hi = zone.mesh.bounds
            for k in np.flatnonzero(((line > lo) & (line < hi)).all(axis=1)):
                ball = fcl.CollisionObject(fcl.Sphere(radius), fcl.Transform(line[k]))
                clear[k] = distance(ball, body) >= zone.gap_mm - SLACK_MM
            edges = np.flatnonzero(np.diff(np.concatenate([[False], clear, [False]])))
            for begin, end in edges.reshape(-1, 2):
                if zone.mesh.contains(line[begin : begin + 1])[0]:
                    held[begin:end] = True
        for k in np.flatnonzero(~held):
            yield f"{run['name']} is in no zone or way at {line[k].round()}"


def too_tight(runs: Sequence[Mapping[str, Any]]) -> Iterator[str]:
    """Where the circle through three neighbouring points is smaller than the bend that is told, in words."""
    for run in runs:
        a, b, c = (line_of(run)[k : k - 2 or None] for k in range(3))
        sides = [np.linalg.norm(q - p, axis=1) for p, q in ((a, b), (b, c), (a, c))]
        area = np.linalg.norm(np.cross(b - a, c - a), axis=1) / 2
        bent = area > 1e-4 * sides[0] * sides[1]
        radius = np.prod([s[bent] for s in sides], axis=0) / (4 * area[bent])
        for k, r in zip(np.flatnonzero(bent), radius, strict=True):
            if r < run["bend_mm"] * 0.999:
                yield f"{run['name']} bends at {r:.1f} mm at {b[k].round()}, {run['bend_mm']:.1f} told"


def conduits(wire: Mapping[str, Any]) -> list[dict[str, Any]]:
    """Each piece of conduit as a run of its own, as thick as its outside; it may end at the gland of the run's port."""
    return [
        {"name": piece["name"], "of": run["name"], "from": run["from"], "to": run["to"], "diameter_mm": piece["outside_mm"],
         "bend_mm": piece["bend_mm"], "path_mm": piece["path_mm"], "fixed_end": False}
        for run in wire["runs"] for piece in run["conduit_pieces"]
    ]  # fmt: skip


def crossing(runs: Sequence[Mapping[str, Any]]) -> Iterator[str]:
    """Where two runs touch, or one the conduit of another, in words."""
    for one, other in combinations(runs, 2):
        if one.get("of", one["name"]) == other.get("of", other["name"]):
            continue  # a run and its own conduit
        a, b = line_of(one), line_of(other)
        wanted = (one["diameter_mm"] + other["diameter_mm"]) / 2
        found = float(np.linalg.norm(a[:, None] - b[None], axis=2).min())
        if found < wanted - SLACK_MM:
            yield f"{one['name']} is {found:.1f} mm from {other['name']}, {wanted:.1f} wanted"


def harness(wire: Mapping[str, Any], fixed: Sequence[str]) -> list[dict[str, Any]]:
    """Runs that were laid, each with whether it ends on the vehicle itself."""
    laid = [run for run in wire["runs"] if run["path_mm"]]
    return [
        {**run, "fixed_end": any(run[end].rsplit(": ", 1)[0] in fixed for end in ("from", "to"))}
        for run in laid
    ]


def surroundings(
    case: Any, solids: Mapping[str, trimesh.Trimesh], frame: set[str]
) -> tuple[list[Solid], list[Solid]]:
    """What runs keep clear of, and the zones they lie in, each with its gap as the brief and the shop's rules have it."""
    rules, clearances = case.tables.electrical, case.brief.clearances
    gaps = {"solid": rules.cable_gap_mm, "moving": clearances.moving_mm, "hot": clearances.hot_mm}
    parts = [Solid(n, m, rules.sharp_gap_mm if n in frame else rules.cable_gap_mm) for n, m in solids.items()]
    kept = [Solid(k.name, _trimesh(case.keep_outs[k.name]), gaps[k.kind]) for k in case.vehicle.keep_outs]
    return [*parts, *kept], [Solid(n, _trimesh(m), rules.cable_gap_mm) for n, m in case.zones.items()]


def _trimesh(mesh: Any) -> trimesh.Trimesh:
    return trimesh.Trimesh(mesh.vertices, mesh.faces, process=False)
