"""Surfaces of straight bars and plates in any direction, for distances: closed, faces outward."""

import numpy as np

from packlayout.model.geometry import Box, Pose, TriMesh, Vec
from packlayout.space.envelope import box_mesh


def bar_mesh(start: Vec, end: Vec, side: Vec, width_mm: float) -> TriMesh:
    """A square bar along a line, square at its ends.

    Args:
        start: Middle of one end, mm.
        end: Middle of the other.
        side: Unit vector of one side, square to the line.
        width_mm: Of each side.
    """
    a, b, u = np.array(start), np.array(end), np.array(side)
    length = float(np.linalg.norm(b - a))
    x = (b - a) / length
    v = np.cross(x, u)
    half = width_mm / 2
    rows = np.stack([x, u, v])
    plain = box_mesh(Box((0.0, -half, -half), (length, half, half)))
    return TriMesh(a + plain.vertices @ rows, plain.faces)


def turned_mesh(mesh: TriMesh, pose: Pose) -> TriMesh:
    """A surface in own axes -> vehicle axes."""
    matrix = np.array(pose.rotation)
    return TriMesh(mesh.vertices @ matrix.T + np.array(pose.origin), mesh.faces)
