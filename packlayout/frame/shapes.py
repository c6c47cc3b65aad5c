"""Outer surfaces of members and plates as triangles, for exact distance checks without a CAD kernel.

A tube is taken with sharp corners, a round one as the many-sided prism around it, so the real one is never nearer.
"""

import numpy as np

from packlayout.frame.tubes import Member, Plate
from packlayout.model.geometry import Box, TriMesh
from packlayout.space.envelope import box_mesh

_UNIT = box_mesh(Box((0.0, 0.0, 0.0), (1.0, 1.0, 1.0)))


_ROUND = 12


def member_mesh(member: Member) -> TriMesh:
    """A tube from cut to cut: each side line ended by the cut planes."""
    if member.section.kind == "round":
        return _round_mesh(member)
    axis, p = np.array(member.axis), np.array(member.side)
    q = np.cross(axis, p)
    high, wide = member.section.side_mm / 2, member.section.narrow_mm / 2
    points = []
    for x, y, z in _UNIT.vertices:
        middle, cut = (member.end, member.end_cut) if x > 0.5 else (member.start, member.start_cut)
        offset = p * high * (1 if y > 0.5 else -1) + q * wide * (1 if z > 0.5 else -1)
        normal = np.array(cut)
        slide = -(offset @ normal) / (axis @ normal)
        points.append(np.array(middle) + offset + axis * slide)
    return TriMesh(np.array(points), _UNIT.faces.copy())


def _round_mesh(member: Member) -> TriMesh:
    axis, p = np.array(member.axis), np.array(member.side)
    q = np.cross(axis, p)
    turns = np.arange(_ROUND) * 2 * np.pi / _ROUND
    radius = member.section.side_mm / 2 / np.cos(np.pi / _ROUND)
    offsets = radius * (np.outer(np.cos(turns), p) + np.outer(np.sin(turns), q))
    rings: list[np.ndarray] = []
    for middle, cut in ((member.start, member.start_cut), (member.end, member.end_cut)):
        normal = np.array(cut)
        slide = -(offsets @ normal) / (axis @ normal)
        rings.append(np.array(middle) + offsets + np.outer(slide, axis))
    here, after = np.arange(_ROUND), (np.arange(_ROUND) + 1) % _ROUND
    fan = np.arange(1, _ROUND - 1)
    faces = np.concatenate([
        np.column_stack([here, after, after + _ROUND]), np.column_stack([here, after + _ROUND, here + _ROUND]),
        np.column_stack([0 * fan, fan + 1, fan]), np.column_stack([0 * fan, fan, fan + 1]) + _ROUND,
    ])  # fmt: skip
    return TriMesh(np.concatenate(rings), faces.astype(np.int64))


def plate_mesh(plate: Plate) -> TriMesh:
    """A plate without its holes."""
    own = _UNIT.vertices * np.array(plate.size)
    matrix, origin = np.array(plate.pose.rotation), np.array(plate.pose.origin)
    return TriMesh(own @ matrix.T + origin, _UNIT.faces.copy())
