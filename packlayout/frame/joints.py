"""Fillet welds, bolts and foot plates by EN 1993-1-8, bolts of the classes of ISO 898-1. Numbers and arrays only.

Clauses are cited beside each formula; figures that are not in the arguments are values from memory.
"""

from dataclasses import dataclass
from math import pi, sqrt

import numpy as np

from packlayout.model.geometry import Floats

LEAST_THROAT_MM = 3.0
"""Smallest throat of a fillet weld that counts: EN 1993-1-8 clause 4.5.2 (2)."""

FULL_THROAT = 1.2
"""Throat of a fillet that bears about as much as the wall it joins, in walls (common practice, no source)."""


def weld_strength(ultimate_mpa: float, weld_factor: float, gamma: float) -> float:
    """Design shear strength of a fillet weld, MPa: EN 1993-1-8 clause 4.5.3.3, formula 4.4."""
    return ultimate_mpa / (sqrt(3) * weld_factor * gamma)


def filler_strength(filler_mpa: float, gamma: float) -> float:
    """The same for aluminium from the strength of the weld metal, MPa: EN 1999-1-1 clause 8.6.3.3, all as shear."""
    return filler_mpa / (sqrt(3) * gamma)


def weld_line_force(
    forces: Floats, side: Floats, radius: Floats, width: Floats | None = None, ring: Floats | None = None
) -> Floats:
    """Largest force on a millimetre of a fillet that runs all round the end of a tube.

    The weld is a line on the tube's outline, a rectangle of the same length, or a circle; the forces are spread on it
    elastically.

    Args:
        forces: (..., 6) N, Vy, Vz, T, My, Mz, N and N mm.
        side: Of the tube, the longer one, along local z, mm; broadcast against the axes before the last.
        radius: Of its outer corners, mm.
        width: The other side; that of a square tube where left out.
        ring: 1 where the tube is round; nowhere where left out.

    Returns:
        (...) N/mm, the resultant of all directions: the simplified method, EN 1993-1-8 clause 4.5.3.3.
    """
    less = (2 - pi / 2) * radius
    h, b = side - less, (side if width is None else width) - less
    n, vy, vz, t, my, mz = (np.abs(forces[..., k]) for k in range(6))
    # four sides: length 2 (b + h), modulus b h + h2/3; torsion flows round 2 b h; two sides bear each shear
    square = n / (2 * (b + h)) + my / (b * h + h**2 / 3) + mz / (b * h + b**2 / 3)
    along = np.maximum(vy / (2 * b), vz / (2 * h)) + t / (2 * b * h)
    if ring is not None:
        # a circle: length pi d, modulus pi d2/4, torsion round pi d2/2, largest shear twice the mean
        square_r = n / (pi * side) + np.hypot(my, mz) / (pi * side**2 / 4)
        along_r = 2 * np.hypot(vy, vz) / (pi * side) + t / (pi * side**2 / 2)
        square, along = np.where(ring > 0, square_r, square), np.where(ring > 0, along_r, along)
    return np.hypot(square, along)


def bolt_strengths(bolt_class: str) -> tuple[float, float, float]:
    """Ultimate and yield strength, MPa, and the shear coefficient of a property class.

    Source: the designation itself, ISO 898-1 clause 5: a hundredth of the ultimate strength, and ten times the
    ratio of yield to ultimate; alpha v of EN 1993-1-8 table 3.4: 0.6 for 4.6, 5.6, 8.8 and 0.5 for the others.
    """
    first, second = bolt_class.split(".")
    ultimate = 100.0 * int(first)
    return ultimate, ultimate * int(second) / 10, 0.6 if bolt_class in ("4.6", "5.6", "8.8") else 0.5


@dataclass(frozen=True, slots=True)
class BoltResistance:
    """What one bolt bears, N: EN 1993-1-8 table 3.4.

    Attributes:
        shear_n: One shear plane, through the threads or the shank.
        tension_n: In the threads.
        bearing_n: Of the plate on the bolt.
        punching_n: Pulling head and washer through the plate.
    """

    shear_n: float
    tension_n: float
    bearing_n: float
    punching_n: float


def bolt_resistance(
    *, diameter: float, hole: float, stress_area: float, bolt_class: str, edge: float, pitch: float | None,
    thick: float, head_mean: float, plate_ultimate: float, gamma: float, shank: bool = False,
) -> BoltResistance:  # fmt: skip
    """Resistances of one bolt in a plate.

    Args:
        diameter: Of the bolt, mm.
        hole: Of its hole, mm.
        stress_area: Tensile stress area, mm2.
        bolt_class: ISO 898-1.
        edge: Distance of the hole from the nearest edge, mm; taken for both directions.
        pitch: To the next hole, mm; None when there is one hole.
        thick: Plate, mm.
        head_mean: Mean of the widths across flats and across corners, mm.
        plate_ultimate: Strength of the plate, MPa.
        gamma: Partial factor.
        shank: True when the shear plane passes through the unthreaded part.
    """
    ultimate, _, alpha_v = bolt_strengths(bolt_class)
    area = pi / 4 * diameter**2 if shank else stress_area
    alpha_b = min(edge / (3 * hole), ultimate / plate_ultimate, 1.0)
    k1 = min(2.8 * edge / hole - 1.7, 2.5)
    if pitch is not None:
        alpha_b = min(alpha_b, pitch / (3 * hole) - 0.25)
    return BoltResistance(
        (0.6 if shank else alpha_v) * ultimate * area / gamma,
        0.9 * ultimate * stress_area / gamma,
        max(k1, 0.0) * max(alpha_b, 0.0) * plate_ultimate * diameter * thick / gamma,
        0.6 * pi * head_mean * thick * plate_ultimate / gamma,
    )


def preload(stress_area: float, bolt_class: str) -> float:
    """Design preload of a bolt, N: EN 1993-1-8 clause 3.6.1 (2), 0.7 fub As / gamma M7, gamma M7 1.1."""
    return 0.7 * bolt_strengths(bolt_class)[0] * stress_area / 1.1


def bolt_utilisations(shear: Floats, tension: Floats, r: BoltResistance) -> dict[str, Floats]:
    """How far each bolt force uses each resistance; `both` is the interaction in the last row of table 3.4."""
    return {
        "shear": shear / r.shear_n,
        "tension": tension / r.tension_n,
        "both": shear / r.shear_n + tension / (1.4 * r.tension_n),
        "bearing": shear / r.bearing_n,
        "pull-through": tension / r.punching_n,
    }


def bolt_forces(holes: Floats, force: Floats, moment: Floats, edge: float) -> tuple[Floats, Floats]:
    """Force on each bolt of a plate that is bolted to a face.

    Args:
        holes: (b, 2) in the plane of the plate, mm.
        force: (c, 3) of the plate on the bolts at the middle of the holes: two components in the plane and the pull
            away from the face, N.
        moment: (c, 3) about the middle: about both axes of the plane and about its normal, N mm.
        edge: Arm of the moment about a line of holes: from it to the plate's edge, mm.

    Returns:
        (c, b) shear and tension, N: the elastic bolt group. A plate that presses on its face pulls on no bolt.
    """
    arms = holes - holes.mean(axis=0)
    count = len(holes)
    polar = float((arms**2).sum())
    turn = moment[:, 2:3] / polar if polar > 1 else np.zeros((len(force), 1))
    x = force[:, 0:1] / count - turn * arms[:, 1]
    y = force[:, 1:2] / count + turn * arms[:, 0]
    pull = np.repeat(force[:, 2:3] / count, count, axis=1)
    for axis, sign in ((0, 1.0), (1, -1.0)):
        across = arms[:, 1 - axis]
        second = float((across**2).sum())
        if second > 1:
            pull = pull + sign * moment[:, axis : axis + 1] * across / second
        else:
            # holes in one line: the plate pries about its edge
            pull = pull + np.abs(moment[:, axis : axis + 1]) / (count * edge)
    return np.hypot(x, y), np.maximum(pull, 0.0)


def group_forces(at: Floats, force: Floats, moment: Floats) -> tuple[Floats, Floats]:
    """A push shared by points of a stiff body: even shares, and couples in proportion to the distance from the middle.

    Args:
        at: (n, 3) points, mm.
        force: (c, 3) N.
        moment: (c, 3) about the middle of the points, N mm.

    Returns:
        (c, n, 3) force on each point, and (c, 3) what points in one line cannot take as couples.

    Source: elastic bolt group, in space.
    """
    arms = at - at.mean(axis=0)
    spread = np.einsum("ni,ni->", arms, arms) * np.eye(3) - arms.T @ arms
    spin = moment @ np.linalg.pinv(spread, rcond=1e-6).T
    turned = np.cross(spin[:, None, :], arms[None])
    left = moment - np.cross(arms[None], turned).sum(axis=1)
    return force[:, None, :] / len(at) + turned, left


def plate_bending(
    holes: Floats, forces: Floats, tube: tuple[float, float, float, float], size: tuple[float, float], thick: float,
    design_mpa: float,
) -> Floats:  # fmt: skip
    """Bending of a foot plate between its bolts and the tube on it.

    Cut along each face of the tube, the plate beyond the cut bears the bolt forces there with its whole width:
    plastic modulus b t2/4, EN 1993-1-1 clause 6.2.5.

    Args:
        holes: (b, 2) in the plate, mm.
        forces: (c, b) square to the plate, N, either way.
        tube: Outline of the tube on the plate: x from, x to, y from, y to.
        size: Sides of the plate.
        thick: Plate, mm.
        design_mpa: Yield strength over its partial factor.

    Returns:
        (c,) utilisation of the worst cut.
    """
    worst = np.zeros(len(forces))
    for axis in (0, 1):
        resistance = size[1 - axis] * thick**2 / 4 * design_mpa
        for cut, sign in ((tube[2 * axis], -1.0), (tube[2 * axis + 1], 1.0)):
            arm = np.maximum((holes[:, axis] - cut) * sign, 0.0)
            worst = np.maximum(worst, np.abs(forces @ arm) / resistance)
    return worst


@dataclass(frozen=True, slots=True)
class ChordResistance:
    """What the walls of a tube bear where another stands square on it: N, N mm.

    Attributes:
        axial_n: Push or pull of the one that stands.
        in_plane_n_mm: Its moment in the plane of both.
        out_of_plane_n_mm: Its moment across.
    """

    axial_n: float
    in_plane_n_mm: float
    out_of_plane_n_mm: float


def chord_resistance(
    chord_side: float, chord_wall: float, brace_side: float, yield_mpa: float, modulus_mpa: float, *,
    chord_depth: float | None = None, brace_along: float | None = None, ring: bool = False,
) -> ChordResistance:  # fmt: skip
    """T-joint of a tube on a square or rectangular one: EN 1993-1-8 tables 7.11 and 7.14 (formulae from memory).

    The straight line between the two and pi/4 for round braces are notes of table 7.11 as quoted on eurocode.us, "Design
    of joints". Gamma M5 is 1.0. Up to 0.85 of the chord's side its face yields; at its full side its side walls crush; between,
    by straight line. The tables speak of walls of 2.5 mm and more; below, they are taken as a guide. A chord that
    could lose its shape is held by the tubes beside the joint. A round brace bears pi/4 of a square one of its
    diameter.

    Args:
        chord_side: Width of the face that is stood on, mm.
        chord_wall: Its wall.
        brace_side: Of the tube that stands, across the chord; the diameter of a round one.
        yield_mpa: Of the chord.
        modulus_mpa: Young's modulus.
        chord_depth: Height of the chord's side walls; that of a square one where left out.
        brace_along: Side of the tube that stands, along the chord; the same as across where left out.
        ring: True when it is round.
    """
    b0, t0, b1, fy = chord_side, chord_wall, min(brace_side, chord_side), yield_mpa
    h0, h1 = chord_depth or chord_side, brace_along or brace_side
    beta, eta = b1 / b0, h1 / b0

    def face(ratio: float) -> tuple[float, float, float]:
        rest = 1 - ratio
        axial = fy * t0**2 / rest * (2 * eta + 4 * sqrt(rest))
        inside = fy * t0**2 * h1 * (1 / (2 * eta) + 2 / sqrt(rest) + eta / rest)
        across = fy * t0**2 * (h1 * (1 + ratio) / (2 * rest) + sqrt(2 * b0 * b1 * (1 + ratio) / rest))
        return axial, inside, across

    def wall() -> tuple[float, float, float]:
        # side walls as struts of the chord's height, curve a
        slender = 3.46 * (h0 / t0 - 2) / (pi * sqrt(modulus_mpa / fy))
        phi = 0.5 * (1 + 0.21 * (slender - 0.2) + slender**2)
        chi = min(1.0, 1 / (phi + sqrt(phi**2 - slender**2)))
        axial = chi * fy * t0 * (2 * h1 + 10 * t0)
        return axial, 0.5 * fy * t0 * (h1 + 5 * t0) ** 2, fy * t0 * (b0 - t0) * (h1 + 5 * t0)

    if beta <= 0.85:
        found = face(beta)
    else:
        share = (beta - 0.85) / 0.15
        found = tuple((1 - share) * a + share * b for a, b in zip(face(0.85), wall(), strict=True))
    return ChordResistance(*(v * (pi / 4 if ring else 1.0) for v in found))
