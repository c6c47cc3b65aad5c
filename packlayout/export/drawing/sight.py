"""What can be seen of a thing from one side, so that a leader or an arrow ends on something that shows."""

from collections.abc import Iterable, Sequence

import numpy as np

from packlayout.export.drawing.views import Look
from packlayout.export.meshes import surface
from packlayout.export.tree import Leaf
from packlayout.model.brief import Case
from packlayout.model.geometry import Floats, Vec

_GRAZE_MM = 1.0


class Sight:
    """Surfaces seen from one side.

    Args:
        things: What stands there.
        case: Holds the bodies of the parts.
        look: From where.
    """

    def __init__(self, things: Iterable[Leaf], case: Case, look: Look) -> None:
        toward = np.array(look.toward) / np.linalg.norm(look.toward)
        right = np.array(look.right) / np.linalg.norm(look.right)
        self._axes = np.stack([right, np.array(look.up), toward], axis=1)
        corners = np.concatenate([surface(leaf, case).triangles for leaf in things]) @ self._axes
        self._a, self._u, self._v = (
            corners[:, 0],
            corners[:, 1] - corners[:, 0],
            corners[:, 2] - corners[:, 0],
        )
        self._low, self._high = corners[:, :, :2].min(axis=1), corners[:, :, :2].max(axis=1)

    def free(self, at: Vec) -> bool:
        """Whether nothing stands between a point and the eye."""
        p: Floats = np.array(at) @ self._axes
        near = ((self._low <= p[:2]) & (p[:2] <= self._high)).all(axis=1)
        a, u, v = self._a[near], self._u[near], self._v[near]
        area = u[:, 0] * v[:, 1] - u[:, 1] * v[:, 0]
        flat = np.abs(area) > 1e-6
        a, u, v, area = a[flat], u[flat], v[flat], area[flat]
        d = p[:2] - a[:, :2]
        s = (d[:, 0] * v[:, 1] - d[:, 1] * v[:, 0]) / area
        t = (u[:, 0] * d[:, 1] - u[:, 1] * d[:, 0]) / area
        depth = a[:, 2] + s * u[:, 2] + t * v[:, 2]
        return not bool(((s >= 0) & (t >= 0) & (s + t <= 1) & (depth > p[2] + _GRAZE_MM)).any())

    def nearness(self, at: Vec) -> float:
        """How far a point stands toward the eye, mm."""
        return float((np.array(at) @ self._axes)[2])

    def best(self, candidates: Sequence[Vec]) -> Vec:
        """The first point that is seen; where none is, the one nearest to the eye."""
        seen = next((at for at in candidates if self.free(at)), None)
        return seen if seen is not None else max(candidates, key=self.nearness)
