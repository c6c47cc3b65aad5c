"""A surface of the vehicle, made ready once for the many questions that a frame asks of it."""

from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from packlayout.model.geometry import Box, Floats, TriMesh


@dataclass(frozen=True, slots=True, eq=False)
class Walls:
    """A surface.

    Attributes:
        triangles: (m, 3, 3) corners, mm.
        lo: (m, 3) lowest corner of the box around each.
        hi: (m, 3) highest corner.
    """

    triangles: Floats
    lo: Floats
    hi: Floats

    def near(self, box: Box) -> "Walls":
        """The part of it whose triangles reach into a box, as far as their own boxes tell."""
        close = np.ones(len(self.triangles), dtype=bool)
        for k in range(3):
            close &= (self.lo[:, k] <= box.hi[k]) & (self.hi[:, k] >= box.lo[k])
        return Walls(np.ascontiguousarray(self.triangles[close]), self.lo[close], self.hi[close])


@lru_cache(maxsize=64)
def walls_of(surface: TriMesh) -> Walls:
    """A surface made ready; the same one for the same surface."""
    triangles = np.ascontiguousarray(surface.triangles)
    return Walls(
        triangles, np.asfortranarray(triangles.min(axis=1)), np.asfortranarray(triangles.max(axis=1))
    )
