"""What a square hollow section resists with: the closed formulae of the product standard."""

from dataclasses import dataclass
from functools import lru_cache
from math import pi

from packlayout.model.catalogue import TubeSection

_CORNER_AT = (10 - 3 * pi) / (12 - 3 * pi)
_CORNER_INERTIA = 1 / 3 - pi / 16 - 1 / (3 * (12 - 3 * pi))


@dataclass(frozen=True, slots=True)
class SectionValues:
    """Properties about either axis of a square tube.

    Attributes:
        side_mm: Outer side.
        wall_mm: Wall.
        area_mm2: Cross-section.
        inertia_mm4: Second moment.
        elastic_mm3: Elastic modulus.
        plastic_mm3: Plastic modulus.
        torsion_mm4: Torsion constant.
        torsion_modulus_mm3: Torque over the largest shear stress.
        shear_area_mm2: Of the two webs; EN 1993-1-1 clause 6.2.6 (3): A h / (b + h).
        flat_mm: Flat width of a side, b - 3 t by EN 1993-1-1 table 5.2.
    """

    side_mm: float
    wall_mm: float
    area_mm2: float
    inertia_mm4: float
    elastic_mm3: float
    plastic_mm3: float
    torsion_mm4: float
    torsion_modulus_mm3: float
    shear_area_mm2: float
    flat_mm: float


def tube_values(section: TubeSection) -> SectionValues:
    """Properties of a square hollow section with round corners.

    Args:
        section: From the stock table; side, wall and corner radius are used.

    Source: EN 10219-2:2006 Annex B (formulae from memory; held against the tables of the standard and against a
        finite-element computation in the tests).
    """
    return _values(section.side_mm, section.wall_mm, section.outer_radius_mm, section.inner_radius_mm)


@lru_cache(maxsize=256)
def _values(b: float, t: float, ro: float, ri: float) -> SectionValues:
    hollow = b - 2 * t
    area = 2 * t * (2 * b - 2 * t) - (4 - pi) * (ro**2 - ri**2)
    inertia, plastic = (b**4 - hollow**4) / 12, (b**3 - hollow**3) / 4
    for sign, radius, side in ((-4, ro, b), (4, ri, hollow)):
        corner, arm = (1 - pi / 4) * radius**2, side / 2 - _CORNER_AT * radius
        inertia += sign * (_CORNER_INERTIA * radius**4 + corner * arm**2)
        plastic += sign * corner * arm
    mean = (ro + ri) / 2
    way = 4 * (b - t) - 2 * mean * (4 - pi)
    inside = (b - t) ** 2 - mean**2 * (4 - pi)
    k = 2 * inside * t / way
    torsion = t**3 * way / 3 + 2 * k * inside
    return SectionValues(
        b, t, area, inertia, inertia / (b / 2), plastic, torsion, torsion / (t + k / t), area / 2, b - 3 * t
    )  # fmt: skip
