"""What a hollow section resists with: the closed formulae of the product standard; and its outline."""

from dataclasses import dataclass
from functools import lru_cache
from math import pi

import numpy as np

from packlayout.model.catalogue import TubeSection
from packlayout.model.geometry import Floats

_CORNER_AT = (10 - 3 * pi) / (12 - 3 * pi)
_CORNER_INERTIA = 1 / 3 - pi / 16 - 1 / (3 * (12 - 3 * pi))


@dataclass(frozen=True, slots=True)
class SectionValues:
    """Properties of a tube. The major ones: bent with its longer side in the plane of bending.

    Attributes:
        kind: `square`, `rectangular` or `round`.
        side_mm: Outer side; the longer one; the diameter.
        width_mm: The shorter side; the same as `side_mm` but for a rectangular tube.
        wall_mm: Wall.
        radius_mm: Outer corners.
        area_mm2: Cross-section.
        inertia_mm4: Second moment.
        elastic_mm3: Elastic modulus.
        plastic_mm3: Plastic modulus.
        minor_inertia_mm4: Second moment, bent the other way.
        minor_elastic_mm3: Elastic modulus, likewise.
        minor_plastic_mm3: Plastic modulus, likewise.
        torsion_mm4: Torsion constant.
        torsion_modulus_mm3: Torque over the largest shear stress.
        shear_area_mm2: Along the longer side; EN 1993-1-1 clause 6.2.6 (3): A h / (b + h), round 2 A / pi.
        minor_shear_area_mm2: Along the shorter one: A b / (b + h).
        flat_mm: Flat width of the longer side, h - 3 t for EN 1993-1-1 table 5.2 (general notes of the Blue
            Book of steel sections, 2.2, which call it cautious); the diameter of a round tube.
    """

    kind: str
    side_mm: float
    width_mm: float
    wall_mm: float
    radius_mm: float
    area_mm2: float
    inertia_mm4: float
    elastic_mm3: float
    plastic_mm3: float
    minor_inertia_mm4: float
    minor_elastic_mm3: float
    minor_plastic_mm3: float
    torsion_mm4: float
    torsion_modulus_mm3: float
    shear_area_mm2: float
    minor_shear_area_mm2: float
    flat_mm: float

    @property
    def size(self) -> str:
        """The usual designation, such as `SHS 40x2`."""
        if self.kind == "rectangular":
            return f"RHS {self.side_mm:g}x{self.width_mm:g}x{self.wall_mm:g}"
        return f"{'CHS' if self.kind == 'round' else 'SHS'} {self.side_mm:g}x{self.wall_mm:g}"


def tube_values(section: TubeSection) -> SectionValues:
    """Properties of a hollow section.

    Args:
        section: From the stock table; sides, wall and corner radius are used.

    Source: EN 10219-2:2006 Annex B (formulae from memory; held against the tables of the standard and against a
        finite-element computation in the tests). A round tube is the case of corners as large as half the side.
    """
    return _values(
        section.kind,
        section.side_mm,
        section.narrow_mm,
        section.wall_mm,
        section.outer_radius_mm,
        section.inner_radius_mm,
    )


def _moments(h: float, b: float, t: float, ro: float, ri: float) -> tuple[float, float]:
    """Second moment and plastic modulus with the side h in the plane of bending."""
    high, wide = h - 2 * t, b - 2 * t
    inertia = (b * h**3 - wide * high**3) / 12
    plastic = (b * h**2 - wide * high**2) / 4
    for sign, radius, side in ((-4, ro, h), (4, ri, high)):
        corner, arm = (1 - pi / 4) * radius**2, side / 2 - _CORNER_AT * radius
        inertia += sign * (_CORNER_INERTIA * radius**4 + corner * arm**2)
        plastic += sign * corner * arm
    return inertia, plastic


@lru_cache(maxsize=256)
def _values(kind: str, h: float, b: float, t: float, ro: float, ri: float) -> SectionValues:
    area = 2 * t * (b + h - 2 * t) - (4 - pi) * (ro**2 - ri**2)
    inertia, plastic = _moments(h, b, t, ro, ri)
    minor, minor_plastic = _moments(b, h, t, ro, ri)
    if kind == "round":
        torsion, torsion_modulus = 2 * inertia, 4 * inertia / h
        shear = minor_shear = 2 * area / pi
        flat = h
    else:
        mean = (ro + ri) / 2
        way = 2 * (b + h - 2 * t) - 2 * mean * (4 - pi)
        inside = (b - t) * (h - t) - mean**2 * (4 - pi)
        k = 2 * inside * t / way
        torsion = t**3 * way / 3 + 2 * k * inside
        torsion_modulus = torsion / (t + k / t)
        shear, minor_shear = area * h / (b + h), area * b / (b + h)
        flat = h - 3 * t
    return SectionValues(
        kind, h, b, t, ro, area, inertia, 2 * inertia / h, plastic, minor, 2 * minor / b, minor_plastic, torsion,
        torsion_modulus, shear, minor_shear, flat,
    )  # fmt: skip


def outline(section: TubeSection, *, inner: bool = False, steps: int = 6) -> Floats:
    """Points round a section, anticlockwise.

    Args:
        section: From the stock table.
        inner: Round the inside of its wall.
        steps: Straight pieces of each corner; of each quarter of a round tube.

    Returns:
        (4 (steps + 1), 2) mm from the middle: along the longer side, which is the tube's `side`, and along the other.
    """
    t = section.wall_mm if inner else 0.0
    high, wide = section.side_mm / 2 - t, section.narrow_mm / 2 - t
    r = min(section.inner_radius_mm if inner else section.outer_radius_mm, high, wide)
    bow = np.linspace(0.0, pi / 2, steps + 1)
    arc = np.column_stack([np.cos(bow), np.sin(bow)]) * r
    rings = [
        arc @ np.array([[c, s], [-s, c]]) + np.array([x * (high - r), y * (wide - r)])
        for (c, s), (x, y) in zip(
            ((1, 0), (0, 1), (-1, 0), (0, -1)), ((1, 1), (-1, 1), (-1, -1), (1, -1)), strict=True
        )
    ]
    return np.concatenate(rings)
