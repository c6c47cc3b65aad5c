"""Exact distances between real shapes, in continuous coordinates: what the cells only promise.

Distances come from the collision library python-fcl on closed triangle surfaces; containment from the
winding number. Nothing here looks at a grid.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Any, cast

import numpy as np

from packlayout.model.geometry import TriMesh, Vec
from packlayout.space.cells import winding


@dataclass(frozen=True, slots=True, eq=False)
class Solid:
    """A closed surface made ready for distance questions.

    Attributes:
        name: For messages.
        mesh: The surface.
        body: fcl's own object.
    """

    name: str
    mesh: TriMesh
    body: Any


def solid(name: str, mesh: TriMesh) -> Solid:
    """Make a closed surface ready for distance questions."""
    return Solid(name, mesh, _body(mesh))


@lru_cache(maxsize=256)
def _body(mesh: TriMesh) -> Any:
    """What fcl needs of one surface: half a second for a scan, so each surface is prepared once."""
    import fcl

    model = fcl.BVHModel()
    model.beginModel(len(mesh.vertices), len(mesh.faces))
    model.addSubModel(np.asarray(mesh.vertices), np.asarray(mesh.faces))
    model.endModel()
    return fcl.CollisionObject(model, fcl.Transform())


@dataclass(frozen=True, slots=True)
class Gap:
    """The distance between two things, and where.

    Attributes:
        first: Name.
        second: Name.
        distance_mm: Shortest distance between the surfaces; negative never: overlaps are told apart by
            `inside` and nought distance.
        at: Point on the first, mm.
    """

    first: str
    second: str
    distance_mm: float
    at: Vec


def gap(a: Solid, b: Solid) -> Gap:
    """Shortest distance between two surfaces; nought when they cross or touch."""
    import fcl

    crossing = fcl.CollisionResult()
    if fcl.collide(a.body, b.body, fcl.CollisionRequest(), crossing) > 0:
        return Gap(a.name, b.name, 0.0, a.mesh.bounds.centre)
    answer = fcl.DistanceResult()
    fcl.distance(a.body, b.body, fcl.DistanceRequest(enable_nearest_points=True), answer)
    x, y, z = (float(v) for v in cast("list[float]", answer.nearest_points[0]))
    return Gap(a.name, b.name, float(answer.min_distance), (x, y, z))


def inside(point: Vec, surface: TriMesh) -> bool:
    """Whether a point lies within a closed surface."""
    return winding(surface, np.asarray(point)) > 0.5


def nearest(one: Solid, others: Sequence[Solid]) -> Gap | None:
    """The smallest gap between one thing and many; None when there are none."""
    gaps = [gap(one, other) for other in others]
    return min(gaps, key=lambda g: g.distance_mm) if gaps else None
