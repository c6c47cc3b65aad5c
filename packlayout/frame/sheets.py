"""The calculation sheet of a frame's worst tube, line by line."""

from math import pi

import numpy as np

from packlayout.frame.judge import Uses, governing
from packlayout.frame.model import FrameModel, push_of
from packlayout.frame.sheet import Sheet, SheetRow
from packlayout.frame.strength import Sections
from packlayout.model.loads import LoadCase
from packlayout.units import G0_M_S2

EC3, EC9, EC3_8 = "EN 1993-1-1", "EN 1999-1-1", "EN 1993-1-8"


def case_row(case: LoadCase) -> SheetRow:
    """The line that states the load case."""
    push = push_of(case) / G0_M_S2
    words = ", ".join(f"{v:g}" for v in push)
    gravity = " with its own weight" if case.own_weight else ""
    factor = f", factor {case.factor:g}" if case.factor != 1 else ""
    return SheetRow(
        f"load case {case.name}{gravity}{factor}",
        "a = (ax, ay, az)",
        f"({words}) g",
        float(np.linalg.norm(push)),
        "g",
        f"{case.source}{': ' + case.clause if case.clause else ''}",
    )


def member_sheet(model: FrameModel, uses: Uses) -> Sheet:
    """The tube that is used most, in its worst load case."""
    case_n, tube = governing(uses.tubes.worst)
    if uses.tubes.buckling.utilisation[case_n, tube] >= uses.tubes.by_section[case_n, tube]:
        return _buckling_sheet(model, uses, case_n, tube)
    return _section_sheet(model, uses, case_n, tube)


def _head(model: FrameModel, uses: Uses, case_n: int, tube: int) -> list[SheetRow]:
    v, s = model.sections[tube], uses.strength
    law = f"{EC3} 6.1" if s.steel else f"{EC9} 6.1.3"
    metal = "yield strength" if s.steel else "proof strength beside a weld"
    return [
        case_row(model.cases[case_n]),
        SheetRow(metal, "fy / gM", f"{s.yield_mpa:g} / {s.gamma:g}", s.design_mpa, "MPa", law),
        SheetRow(
            "section",
            "A",
            f"{v.size}, corners of radius {v.radius_mm:g}",
            v.area_mm2,
            "mm2",
            "EN 10219-2 annex B",
        ),
    ]


def _section_sheet(model: FrameModel, uses: Uses, case_n: int, tube: int) -> Sheet:
    bars = np.flatnonzero(model.tube == tube)
    part = uses.tubes.stations[case_n, bars]
    k, station = governing(part)
    bar = int(bars[k])
    f = uses.tubes.forces[case_n, bar, station]
    s, v, c = uses.strength, model.sections[tube], uses.tubes.section
    at = (case_n, bar, station)
    grade = int(Sections.of((v,), s).grade[0])
    plastic = s.steel and grade <= 2
    n, vy, vz, t, my, mz = (abs(float(x)) for x in f)
    moduli = (v.plastic_mm3, v.minor_plastic_mm3) if plastic else (v.elastic_mm3, v.minor_elastic_mm3)
    symbol = "Wpl" if plastic else "Wel"
    m_n, m_n_z = float(c.moment_n_mm[at]), float(c.moment_z_n_mm[at])
    weak, left = float(c.weaker[at]), float(c.shear_left[at])
    tau, alpha = float(c.torsion[at]), float(c.exponent[at])
    # the direction whose shear counts, and its area
    pair = ((vy, v.minor_shear_area_mm2), (vz, v.shear_area_mm2))
    shear, shear_area = max(pair, key=lambda row: row[0] / row[1])
    shear_rd = shear_area * s.shear_mpa
    rest = "(1 - n^1.7)" if v.kind == "round" else "(1 - n)/(1 - 0.5 aw)"
    rows = _head(model, uses, case_n, tube)
    rows += [
        SheetRow(
            "class of the section",
            "d / t" if v.kind == "round" else "(h - 3 t) / t",
            f"{v.flat_mm:g} / {v.wall_mm:g}",
            grade,
            "",
            f"{EC3} table 5.2",
        ),
        SheetRow(
            "axial force",
            "N / (A fy/gM0)",
            f"{n:.0f} / ({v.area_mm2:.1f} x {s.design_mpa:.0f})",
            float(c.n[at]),
            "",
            f"{EC3} (6.9), (6.10)",
        ),
        SheetRow(
            "torsion",
            "T / Wt / (fy/gM0/sqrt 3)",
            f"{t:.0f} / {v.torsion_modulus_mm3:.0f} / {s.shear_mpa:.1f}",
            tau,
            "",
            f"{EC3} 6.2.7",
        ),
        SheetRow(
            "shear beside torsion",
            "V / (Av fy/gM0/sqrt 3) + torsion",
            f"{shear:.0f} / {shear_rd:.0f} + {tau:.3f}",
            float(c.shear[at]),
            "",
            f"{EC3} (6.25), (6.28)",
        ),
        SheetRow(
            "shear resistance left by torsion", "1 - torsion", f"1 - {tau:.3f}", left, "", f"{EC3} (6.28)"
        ),
        SheetRow(
            "moment resistance left by shear",
            "1 - (2 V/VplT - 1)^2 where V > VplT/2",
            f"V/VplT {shear / (shear_rd * left):.3f}",
            weak,
            "",
            f"{EC3} (6.45)",
        ),
        *(
            SheetRow(
                f"moment resistance about {axis} beside N, {symbol}",
                f"{symbol} fy/gM0 {rest}" if plastic else f"{symbol} fy/gM",
                f"{modulus:.0f} x {s.design_mpa:.0f}, n {float(c.n[at]):.3f}",
                found,
                "N mm",
                f"{EC3} (6.39), (6.40)" if plastic else f"{EC3} (6.14)" if s.steel else f"{EC9} 6.2.5",
            )
            for axis, modulus, found in (("y", moduli[0], m_n), ("z", moduli[1], m_n_z))
        ),
        SheetRow("moment about y", "My", "from the analysis", my, "N mm"),
        SheetRow("moment about z", "Mz", "from the analysis", mz, "N mm"),
    ]
    a, b = my / (m_n * weak), mz / (m_n_z * weak)
    if plastic:
        rows.append(
            SheetRow(
                "both moments beside N",
                "((My/MN)^a + (Mz/MN)^a)^(1/a)",
                f"a {alpha:.2f}: ({a:.3f}^a + {b:.3f}^a)^(1/a)",
                float(c.bending[at]),
                "",
                f"{EC3} (6.41)",
            )
        )
    else:
        rows.append(
            SheetRow(
                "N and both moments",
                "n + My/MRd + Mz/MRd",
                f"{float(c.n[at]):.3f} + {a:.3f} + {b:.3f}",
                float(c.bending[at]),
                "",
                f"{EC3} (6.2)" if s.steel else f"linear sum, on the safe side of {EC9} 6.2.9",
            )
        )
    used = float(uses.tubes.worst[case_n, tube])
    if used > 1:
        rows.append(
            SheetRow("load over what is just borne", "1 / factor", "all forces scaled alike", used, "")
        )
    line = model.skeleton.lines[tube]
    place = model.stretch[bar, 0] + (model.stretch[bar, 1] - model.stretch[bar, 0]) * station / 4
    about = f"{line.member.name}, {place:.0f} mm from its start, {model.cases[case_n].name}"
    return Sheet("frame.member.worst", "Worst tube", about, tuple(rows), used)


def _buckling_sheet(model: FrameModel, uses: Uses, case_n: int, tube: int) -> Sheet:
    s, v, b = uses.strength, model.sections[tube], uses.tubes.buckling
    line = model.skeleton.lines[tube]
    length, at = line.length, (case_n, tube)
    bars = np.flatnonzero(model.tube == tube)
    forces = uses.tubes.forces[case_n, bars]
    n = float(np.maximum(-forces[..., 0], 0).max())
    moments = [float(np.abs(forces[..., k]).max()) for k in (4, 5)]
    # the formula that governs: 6.61 with the reduction about y, 6.62 with that about z
    own = int(b.sums[1][at] > b.sums[0][at])
    other = 1 - own
    axis = "yz"[own]
    inertia = (v.inertia_mm4, v.minor_inertia_mm4)[own]
    chi, slender = float(b.chi[own][at]), float(b.slenderness[own][at])
    grade = int(Sections.of((v,), s).grade[0])
    plastic = s.steel and grade <= 2
    moduli = (v.plastic_mm3, v.minor_plastic_mm3) if plastic else (v.elastic_mm3, v.minor_elastic_mm3)
    symbol = "Wpl" if plastic else "Wel"
    phi = 0.5 * (1 + s.imperfection * (slender - s.plateau) + slender**2)
    critical = pi**2 * s.modulus_mpa * inertia / length**2
    f = s.yield_mpa / s.gamma_buckling
    law = EC3 if s.steel else EC9
    used = float(b.utilisation[at])
    cross = 0.6 if plastic else 1.0
    rows = _head(model, uses, case_n, tube)
    rows += [
        SheetRow(
            f"Euler load about {axis}, buckling length = length",
            "pi^2 E I / L^2",
            f"pi^2 x {s.modulus_mpa:.0f} x {inertia:.0f} / {length:.1f}^2",
            critical,
            "N",
            f"{EC3} 6.3.1.2",
        ),
        SheetRow(
            "slenderness",
            "sqrt(A fy / Ncr)",
            f"sqrt({v.area_mm2:.1f} x {s.yield_mpa:g} / {critical:.0f})",
            slender,
            "",
            f"{law} 6.3.1.2",
        ),
        SheetRow(
            "phi of the reduction factor",
            "0.5 (1 + alpha (slenderness - plateau) + slenderness^2)",
            f"0.5 x (1 + {s.imperfection:g} x ({slender:.3f} - {s.plateau:g}) + {slender:.3f}^2)",
            phi,
            "",
            f"{law} 6.3.1.2",
        ),
        SheetRow(
            "reduction factor chi, 1 up to the plateau",
            "1 / (phi + sqrt(phi^2 - slenderness^2))",
            f"1 / ({phi:.3f} + sqrt({phi:.3f}^2 - {slender:.3f}^2)), at most 1",
            chi,
            "",
            f"{law} (6.49)",
        ),
        SheetRow(
            "axial force n",
            "N / (chi A fy/gM1)",
            f"{n:.0f} / ({chi:.3f} x {v.area_mm2:.1f} x {f:.0f})",
            n / (chi * v.area_mm2 * f),
            "",
            f"{law} (6.46)",
        ),
    ]
    for k in (0, 1):
        lean, share = float(b.slenderness[k][at]), n / (float(b.chi[k][at]) * v.area_mm2 * f)
        rise = min(max(lean - 0.2, 0.0), 0.8) if plastic else min(0.6 * lean, 0.6)
        rows += [
            SheetRow(
                f"interaction factor k{'yz'[k] * 2}, Cm 0.9",
                "0.9 (1 + (slenderness - 0.2) n), in brackets 0 to 0.8"
                if plastic
                else "0.9 (1 + 0.6 slenderness n), slenderness at most 1",
                f"0.9 x (1 + {rise:.3f} x {share:.3f})",
                float(b.k[k][at]),
                "",
                f"{EC3} table B.1",
            ),
            SheetRow(
                f"moment resistance MRd about {'yz'[k]}",
                f"{symbol} fy/gM1",
                f"{moduli[k]:.0f} x {f:.1f}",
                moduli[k] * f,
                "N mm",
                f"{EC3} 6.3.3",
            ),
        ]
    k_own, k_other = float(b.k[own][at]), float(b.k[other][at])
    rows.append(
        SheetRow(
            f"N and both moments, that about {'yz'[other]} by {cross:g}",
            f"n + k{axis * 2} M{axis}/MRd + {cross:g} k{'yz'[other] * 2} M{'yz'[other]}/MRd",
            f"{n / (chi * v.area_mm2 * f):.3f} + {k_own:.3f} x {moments[own]:.0f}/{moduli[own] * f:.0f} "
            f"+ {cross:g} x {k_other:.3f} x {moments[other]:.0f}/{moduli[other] * f:.0f}",
            used,
            "",
            f"{EC3} ({('6.61', '6.62')[own]}), table B.1",
        )
    )
    about = f"{line.member.name}, {model.cases[case_n].name}"
    return Sheet("frame.member.worst", "Worst tube", about, tuple(rows), used)
