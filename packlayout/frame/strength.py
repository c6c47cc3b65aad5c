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
    """Class 1 to 4 of a tube in compression: EN 1993-1-1 table 5.2, internal parts with c = h - 3 t, round tubes."""
    epsilon = sqrt(235 / strength.yield_mpa * strength.modulus_mpa / 210_000)
    slender = values.flat_mm / values.wall_mm
    limits = [50, 70, 90] if values.kind == "round" else [33, 38, 42]
    power = 2 if values.kind == "round" else 1
    return 1 + sum(slender > limit * epsilon**power for limit in limits)


@dataclass(frozen=True, slots=True, eq=False)
class Sections:
    """Section values as arrays, one for each bar or member. About y: the longer side in the plane of bending."""

    area: Floats
    elastic: Floats
    plastic: Floats
    inertia: Floats
    elastic_z: Floats
    plastic_z: Floats
    inertia_z: Floats
    shear_area_y: Floats
    shear_area_z: Floats
    torsion_modulus: Floats
    web_share: Floats
    flange_share: Floats
    round: Floats
    grade: Floats

    @staticmethod
    def of(values: tuple[SectionValues, ...], strength: Strength) -> "Sections":
        """From records; `grade` is the class of the section, `round` 1 for round tubes."""

        def left(v: SectionValues, side: float) -> float:
            return min(0.5, (v.area_mm2 - 2 * side * v.wall_mm) / v.area_mm2)

        columns = [
            (
                v.area_mm2, v.elastic_mm3, v.plastic_mm3, v.inertia_mm4, v.minor_elastic_mm3, v.minor_plastic_mm3,
                v.minor_inertia_mm4, v.minor_shear_area_mm2, v.shear_area_mm2, v.torsion_modulus_mm3,
                left(v, v.width_mm), left(v, v.side_mm), float(v.kind == "round"), float(section_class(v, strength)),
            )
            for v in values
        ]  # fmt: skip
        return Sections(*np.array(columns).reshape(-1, 14).T)

    def at(self, index: np.ndarray) -> "Sections":
        """Those of an index array."""
        return Sections(*(getattr(self, name)[index] for name in Sections.__slots__))


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
        moment_n_mm: Moment resistance about y beside the axial force.
        moment_z_n_mm: The same about z.
    """

    torsion: Floats
    shear: Floats
    bending: Floats
    shear_left: Floats
    weaker: Floats
    n: Floats
    exponent: Floats
    moment_n_mm: Floats
    moment_z_n_mm: Floats

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
        sections; other: the linear sum 6.2 with elastic moduli, which is on the safe side. Round tubes beside an
        axial force: 1 - n^1.7 of EN 1993-1-1:2022 clause 8.2.9.1 (value from memory).
    """
    n_abs, vy, vz, t, my, mz = (np.abs(forces[..., k]) for k in range(6))
    f, tau = strength.design_mpa, strength.shear_mpa
    torsion = t / s.torsion_modulus / tau
    left = np.maximum(1 - torsion, 0.02)  # (6.28)
    share_y, share_z = vy / (s.shear_area_y * tau), vz / (s.shear_area_z * tau)
    # V <= (1 - tau / strength) Vpl holds just when V / Vpl + tau / strength <= 1, which grows evenly with the load
    sheared = np.maximum(share_y, share_z) + torsion
    ratios = (share_z / left, share_y / left)
    weak = [1 - np.where(u > 0.5, np.minimum((2 * u - 1) ** 2, 0.98), 0.0) for u in ratios]  # (6.45)
    n = n_abs / (s.area * f)
    plastic = (s.grade <= 2) & strength.steel
    rest = (s.round > 0, 1 - np.minimum(n, 1.0) ** 1.7)
    exponent = np.clip(1.66 / np.maximum(1 - 1.13 * n**2, 1e-9), 1.66, 6.0)  # 6.2.9.1 (6)
    exponent = np.where(rest[0], 2.0, exponent)
    resistances: list[Floats] = []
    for full, thin, part in (
        (s.plastic, s.elastic, s.web_share),
        (s.plastic_z, s.elastic_z, s.flange_share),
    ):
        # (6.39), (6.40): moment resistance of a hollow section beside an axial force
        flat = (1 - n) / (1 - 0.5 * part)
        beside = np.clip(np.where(plastic, np.where(rest[0], rest[1], flat), 1.0), 0.02, 1.0)
        resistances.append(np.where(plastic, full, thin) * f * beside)
    m_rd, m_rd_z = resistances
    a, b = my / (m_rd * weak[0]), mz / (m_rd_z * weak[1])
    together = (a**exponent + b**exponent) ** (1 / exponent)  # (6.41)
    bending = np.where(plastic, np.maximum(together, n), n + a + b)
    bending = np.where(s.grade >= 4, np.maximum(bending, 9.99), bending)  # too thin-walled for these rules
    return CrossSection(torsion, sheared, bending, left, np.minimum(*weak), n, exponent, m_rd, m_rd_z)


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
    """Members in compression and bending, arrays of one shape; of a pair the first is about y.

    Attributes:
        slenderness: Non-dimensional, clause 6.3.1.2.
        chi: Reduction factors.
        k: Interaction factors kyy and kzz of annex B.
        sums: Formulae 6.61 and 6.62.
        utilisation: The larger of them.
    """

    slenderness: tuple[Floats, Floats]
    chi: tuple[Floats, Floats]
    k: tuple[Floats, Floats]
    sums: tuple[Floats, Floats]
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
        Hollow sections as thick-set as those of the stock, which do not buckle sideways under bending (clause
        6.3.2.1). Cm is taken as 0.9, that of a frame that sways (table B.3).
    """
    f = strength.yield_mpa / strength.gamma_buckling
    plastic = (s.grade <= 2) & strength.steel
    slender: list[Floats] = []
    chi: list[Floats] = []
    k: list[Floats] = []
    n: list[Floats] = []
    used: list[Floats] = []
    for inertia, full, thin, moment in (
        (s.inertia, s.plastic, s.elastic, moment_y),
        (s.inertia_z, s.plastic_z, s.elastic_z, moment_z),
    ):
        critical = pi**2 * strength.modulus_mpa * inertia / length**2
        own = np.sqrt(s.area * strength.yield_mpa / critical)
        phi = 0.5 * (1 + strength.imperfection * (own - strength.plateau) + own**2)
        reduced = np.minimum(1.0, 1 / (phi + np.sqrt(np.maximum(phi**2 - own**2, 1e-12))))
        reduced = np.where(own <= strength.plateau, 1.0, reduced)
        share = compression / (reduced * s.area * f)
        rise = np.where(plastic, np.clip(own - 0.2, 0.0, 0.8), np.minimum(0.6 * own, 0.6))  # table B.1
        slender.append(np.broadcast_to(own, share.shape))
        chi.append(np.broadcast_to(reduced, share.shape))
        n.append(share)
        k.append(0.9 * (1 + rise * share))
        used.append(np.abs(moment) / (np.where(plastic, full, thin) * f))
    cross = np.where(plastic, 0.6, 1.0)
    first = n[0] + k[0] * used[0] + cross * k[1] * used[1]  # (6.61)
    second = n[1] + cross * k[0] * used[0] + k[1] * used[1]  # (6.62)
    first, second = (np.where(compression > 0, u, 0.0) for u in (first, second))
    pair = ((slender[0], slender[1]), (chi[0], chi[1]), (k[0], k[1]), (first, second))
    return Buckling(*pair, np.maximum(first, second))
