"""What a tube bears: cross-section and buckling by EN 1993-1-1, aluminium beside welds by EN 1999-1-1.

All functions take arrays of internal forces N, Vy, Vz, T, My, Mz (N and N mm) in the last axis and give utilisations:
1 is the limit. Clauses are cited beside each formula; their wording and figures are values from memory.
"""

from dataclasses import dataclass
from math import pi, sqrt

import numpy as np

from packlayout.frame.section import SectionValues
from packlayout.model.catalogue import Material
from packlayout.model.geometry import Floats
from packlayout.model.loads import PartialFactors


@dataclass(frozen=True, slots=True)
class Strength:
    """Strength that tubes are judged with.

    Attributes:
        yield_mpa: Of the metal; for aluminium that of the heat-affected zone, since every tube is welded at both ends.
        gamma: Partial factor on cross-sections.
        gamma_buckling: On members that buckle.
        modulus_mpa: Young's modulus.
        imperfection: Of the buckling curve.
        plateau: Slenderness where the curve begins.
        steel: True: plastic resistance by EN 1993-1-1; false: elastic, a linear sum, EN 1999-1-1.
    """

    yield_mpa: float
    gamma: float
    gamma_buckling: float
    modulus_mpa: float
    imperfection: float
    plateau: float
    steel: bool

    @property
    def design_mpa(self) -> float:
        """Yield strength over its partial factor."""
        return self.yield_mpa / self.gamma

    @property
    def shear_mpa(self) -> float:
        """Design strength in shear."""
        return self.design_mpa / sqrt(3)


def strength_of(material: Material, factors: PartialFactors) -> Strength | None:
    """Strength of a frame's material; None where aluminium lacks the figures of its heat-affected zone."""
    steel = material.family == "steel"
    softened = material.yield_mpa if steel else material.weld_yield_mpa
    if softened is None:
        return None
    gamma = factors.yielding if steel else factors.aluminium
    return Strength(
        min(softened, material.yield_mpa), gamma, factors.buckling if steel else factors.aluminium,
        material.modulus_mpa, material.imperfection, material.plateau, steel,
    )  # fmt: skip


def section_class(values: SectionValues, strength: Strength) -> int:
    """Class 1 to 4 of a square tube in compression: EN 1993-1-1 table 5.2, internal parts, c = b - 3 t."""
    epsilon = sqrt(235 / strength.yield_mpa * strength.modulus_mpa / 210_000)
    slender = values.flat_mm / values.wall_mm / epsilon
    return 1 if slender <= 33 else 2 if slender <= 38 else 3 if slender <= 42 else 4


@dataclass(frozen=True, slots=True, eq=False)
class Sections:
    """Section values as arrays, one for each bar or member."""

    area: Floats
    elastic: Floats
    plastic: Floats
    inertia: Floats
    shear_area: Floats
    torsion_modulus: Floats
    web_share: Floats
    grade: Floats

    @staticmethod
    def of(values: tuple[SectionValues, ...], strength: Strength) -> "Sections":
        """From records; `grade` is the class of the section."""
        return Sections(
            np.array([v.area_mm2 for v in values]),
            np.array([v.elastic_mm3 for v in values]),
            np.array([v.plastic_mm3 for v in values]),
            np.array([v.inertia_mm4 for v in values]),
            np.array([v.shear_area_mm2 for v in values]),
            np.array([v.torsion_modulus_mm3 for v in values]),
            np.array([min(0.5, (v.area_mm2 - 2 * v.side_mm * v.wall_mm) / v.area_mm2) for v in values]),
            np.array([section_class(v, strength) for v in values], dtype=float),
        )

    def at(self, index: np.ndarray) -> "Sections":
        """Those of an index array."""
        return Sections(
            self.area[index], self.elastic[index], self.plastic[index], self.inertia[index], self.shear_area[index],
            self.torsion_modulus[index], self.web_share[index], self.grade[index],
        )  # fmt: skip


@dataclass(frozen=True, slots=True, eq=False)
class CrossSection:
    """Utilisations of cross-sections, arrays of one shape, and what they were reckoned from.

    Attributes:
        torsion: tau over its strength, clause 6.2.7.
        shear: Larger of both directions, beside torsion, clause 6.2.7 (9).
        bending: Axial force and both moments together, clauses 6.2.8 to 6.2.10.
        shear_left: Share of the shear resistance that torsion leaves.
        weaker: Share of the moment resistance that shear leaves.
        n: Axial force over its resistance.
        exponent: Of the interaction of moments.
        moment_n_mm: Moment resistance beside the axial force.
    """

    torsion: Floats
    shear: Floats
    bending: Floats
    shear_left: Floats
    weaker: Floats
    n: Floats
    exponent: Floats
    moment_n_mm: Floats

    @property
    def worst(self) -> Floats:
        """The largest of the three."""
        return np.maximum(np.maximum(self.torsion, self.shear), self.bending)


def cross_section(forces: Floats, s: Sections, strength: Strength) -> CrossSection:
    """Utilisation of cross-sections.

    Args:
        forces: (..., m, 6).
        s: Of m bars; broadcast against the axes before the last.
        strength: Of the metal.

    Returns:
        Arrays (..., m). Steel of class 1 and 2: plastic, with the interaction 6.41 and the exponents of hollow
        sections; other: the linear sum 6.2 with elastic moduli, which is on the safe side.
    """
    n_abs, vy, vz, t, my, mz = (np.abs(forces[..., k]) for k in range(6))
    f, tau = strength.design_mpa, strength.shear_mpa
    torsion = t / s.torsion_modulus / tau
    left = np.maximum(1 - torsion, 0.02)  # (6.28)
    capacity = s.shear_area * tau
    # V <= (1 - tau / strength) Vpl holds just when V / Vpl + tau / strength <= 1, which grows evenly with the load
    sheared = np.maximum(vy, vz) / capacity + torsion
    ratios = (vz / (capacity * left), vy / (capacity * left))
    weak = [1 - np.where(u > 0.5, np.minimum((2 * u - 1) ** 2, 0.98), 0.0) for u in ratios]  # (6.45)
    n = n_abs / (s.area * f)
    plastic = (s.grade <= 2) & strength.steel
    modulus = np.where(plastic, s.plastic, s.elastic)
    # (6.39): moment resistance of a hollow section beside an axial force
    beside = np.clip(np.where(plastic, (1 - n) / (1 - 0.5 * s.web_share), 1.0), 0.02, 1.0)
    exponent = np.clip(1.66 / np.maximum(1 - 1.13 * n**2, 1e-9), 1.66, 6.0)  # 6.2.9.1 (6)
    m_rd = modulus * f * beside
    a, b = my / (m_rd * weak[0]), mz / (m_rd * weak[1])
    together = (a**exponent + b**exponent) ** (1 / exponent)  # (6.41)
    bending = np.where(plastic, np.maximum(together, n), n + a + b)
    bending = np.where(s.grade >= 4, np.maximum(bending, 9.99), bending)  # too thin-walled for these rules
    return CrossSection(torsion, sheared, bending, left, np.minimum(*weak), n, exponent, m_rd)


def overload(forces: Floats, s: Sections, strength: Strength, worst: Floats) -> Floats:
    """Utilisations above 1 as what the load is to what would just be borne.

    The interaction formulae run away once a resistance is used up; this measure grows evenly with the load and is 1
    just where they are.

    Args:
        forces: (k, 6).
        s: Of the same k bars.
        strength: Of the metal.
        worst: (k,) utilisations by the formulae.
    """
    lo, hi = np.zeros(len(forces)), np.ones(len(forces))
    for _ in range(20):
        middle = (lo + hi) / 2
        borne = cross_section(forces * middle[:, None], s, strength).worst <= 1.0
        lo, hi = np.where(borne, middle, lo), np.where(borne, hi, middle)
    return np.where(worst > 1.0, 1 / np.maximum(lo, 1e-6), worst)


@dataclass(frozen=True, slots=True, eq=False)
class Buckling:
    """Members in compression and bending, arrays of one shape.

    Attributes:
        slenderness: Non-dimensional, clause 6.3.1.2.
        chi: Reduction factor.
        k: Interaction factor kyy = kzz of annex B.
        utilisation: Larger of 6.61 and 6.62.
    """

    slenderness: Floats
    chi: Floats
    k: Floats
    utilisation: Floats


def buckling(
    compression: Floats, moment_y: Floats, moment_z: Floats, length: Floats, s: Sections, strength: Strength
) -> Buckling:
    """Utilisation of whole members by EN 1993-1-1 clause 6.3.3 with annex B; aluminium likewise with its own curve.

    Args:
        compression: (..., m) largest compression in the member, N, not negative.
        moment_y: (..., m) largest moment, N mm, and the same about z.
        moment_z: See moment_y.
        length: (m,) between the joints at its ends, mm: taken as the buckling length.
        s: Of the members.
        strength: Of the metal.

    Valid for:
        Square hollow sections, which do not buckle sideways under bending (clause 6.3.2.1). Cm is taken as 0.9,
        that of a frame that sways (table B.3).
    """
    critical = pi**2 * strength.modulus_mpa * s.inertia / length**2
    slender = np.sqrt(s.area * strength.yield_mpa / critical)
    phi = 0.5 * (1 + strength.imperfection * (slender - strength.plateau) + slender**2)
    chi = np.minimum(1.0, 1 / (phi + np.sqrt(np.maximum(phi**2 - slender**2, 1e-12))))
    chi = np.where(slender <= strength.plateau, 1.0, chi)
    f = strength.yield_mpa / strength.gamma_buckling
    n = compression / (chi * s.area * f)
    plastic = (s.grade <= 2) & strength.steel
    modulus = np.where(plastic, s.plastic, s.elastic)
    rise = np.where(plastic, np.clip(slender - 0.2, 0.0, 0.8), np.minimum(0.6 * slender, 0.6))  # tables B.1
    k = 0.9 * (1 + rise * n)
    a, b = np.abs(moment_y) / (modulus * f), np.abs(moment_z) / (modulus * f)
    cross = np.where(plastic, 0.6, 1.0)
    used = np.maximum(n + k * a + cross * k * b, n + cross * k * a + k * b)
    used = np.where(compression > 0, used, 0.0)
    return Buckling(np.broadcast_to(slender, n.shape), np.broadcast_to(chi, n.shape), k, used)
