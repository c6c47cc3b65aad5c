"""Outer surfaces of members and plates as triangles, for exact distance checks without a CAD kernel.

A tube is taken as its full square with sharp corners, so the real one with rounded corners is never nearer.
"""

import numpy as np

from packlayout.frame.tubes import Member, Plate
from packlayout.model.geometry import Box, TriMesh
from packlayout.space.envelope import box_mesh

_UNIT = box_mesh(Box((0.0, 0.0, 0.0), (1.0, 1.0, 1.0)))


def member_mesh(member: Member) -> TriMesh:
    """A tube from cut to cut: eight corners, each side line ended by the cut planes."""
    axis, p = np.array(member.axis), np.array(member.side)
    q = np.cross(axis, p)
    half = member.section.side_mm / 2
    points = []
    for x, y, z in _UNIT.vertices:
        middle, cut = (member.end, member.end_cut) if x > 0.5 else (member.start, member.start_cut)
        offset = p * half * (1 if y > 0.5 else -1) + q * half * (1 if z > 0.5 else -1)
        normal = np.array(cut)
        slide = -(offset @ normal) / (axis @ normal)
        points.append(np.array(middle) + offset + axis * slide)
    return TriMesh(np.array(points), _UNIT.faces.copy())


def plate_mesh(plate: Plate) -> TriMesh:
    """A plate without its holes."""
    own = _UNIT.vertices * np.array(plate.size)
    matrix, origin = np.array(plate.pose.rotation), np.array(plate.pose.origin)
    return TriMesh(own @ matrix.T + origin, _UNIT.faces.copy())
