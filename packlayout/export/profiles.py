"""The outline of a tube's section in its own axes: x along `side`, z along the tube; as points and as exact wires."""

import math
from typing import Any

import numpy as np

from packlayout.model.geometry import Floats
from packlayout.model.stock import TubeSection

_CORNER_STEPS, _ROUND_STEPS = 6, 48


def _sides(section: TubeSection, inset: float) -> tuple[float, float, float]:
    """Both sides and the corner's radius, so far within the outside."""
    radius = section.outer_radius_mm if not inset else section.inner_radius_mm
    long, narrow = section.side_mm - 2 * inset, section.narrow_mm - 2 * inset
    return long, narrow, min(radius, long / 2, narrow / 2)


def outline(section: TubeSection, inset: float = 0.0) -> Floats:
    """Points round a section, anticlockwise.

    Args:
        section: Of the tube.
        inset: How far within the outside, mm: nought, or the wall.
    """
    if section.kind == "round":
        turns = np.linspace(0.0, 2 * np.pi, _ROUND_STEPS, endpoint=False)
        return (section.side_mm / 2 - inset) * np.column_stack([np.cos(turns), np.sin(turns)])
    long, narrow, r = _sides(section, inset)
    bow = np.linspace(0.0, np.pi / 2, _CORNER_STEPS + 1)
    corner = r * np.column_stack([np.cos(bow), np.sin(bow)])
    made: list[Floats] = []
    for cos, sin in ((1, 0), (0, 1), (-1, 0), (0, -1)):
        middle = ((long / 2 - r) * (cos - sin), (narrow / 2 - r) * (sin + cos))
        made.append(corner @ np.array([[cos, sin], [-sin, cos]]) + middle)
    return np.concatenate(made)


def wire(section: TubeSection, inset: float, z: float) -> Any:
    """The same as a closed exact wire (cadquery), square to z."""
    from cadquery import Edge, Vector, Wire

    if section.kind == "round":
        return Wire.makeCircle(section.side_mm / 2 - inset, Vector(0, 0, z), Vector(0, 0, 1))
    long, narrow, r = _sides(section, inset)
    a, b = long / 2, narrow / 2
    s = r * (1 - math.sqrt(0.5))
    edges: list[Any] = []
    for turn in range(4):
        cos, sin = ((1, 0), (0, 1), (-1, 0), (0, -1))[turn]
        h, k = (a, b) if turn % 2 == 0 else (b, a)  # the side that is met first, and half of the one along it

        def at(x: float, y: float, cos: int = cos, sin: int = sin) -> Any:
            return Vector(cos * x - sin * y, sin * x + cos * y, z)

        if k - r > 1e-9:
            edges.append(Edge.makeLine(at(h, r - k), at(h, k - r)))
        if r > 1e-9:
            edges.append(Edge.makeThreePointArc(at(h, k - r), at(h - s, k - s), at(h - r, k)))
    return Wire.assembleEdges(edges)
