"""Directions to look from, as right and up of a picture."""

import numpy as np

from packlayout.model.geometry import Vec


def looking_from(x: float, y: float, z: float) -> tuple[Vec, Vec]:
    """Right and up of a picture taken from a direction."""
    toward = np.array([x, y, z]) / np.linalg.norm([x, y, z])
    right = np.cross([0.0, 0.0, 1.0], toward)
    right /= np.linalg.norm(right)
    up = np.cross(toward, right)
    return (float(right[0]), float(right[1]), float(right[2])), (float(up[0]), float(up[1]), float(up[2]))
