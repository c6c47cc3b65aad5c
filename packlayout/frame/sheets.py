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
            f"SHS {v.side_mm:g}x{v.wall_mm:g}, corners 2 t",
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
    modulus, symbol = (v.plastic_mm3, "Wpl") if plastic else (v.elastic_mm3, "Wel")
    m_n, weak, left = float(c.moment_n_mm[at]), float(c.weaker[at]), float(c.shear_left[at])
    tau, alpha = float(c.torsion[at]), float(c.exponent[at])
    shear_rd = v.shear_area_mm2 * s.shear_mpa
    rows = _head(model, uses, case_n, tube)
    rows += [
        SheetRow(
            "class of the section",
            "(b - 3 t) / t",
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
            f"{max(vy, vz):.0f} / {shear_rd:.0f} + {tau:.3f}",
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
            f"V/VplT {max(vy, vz) / (shear_rd * left):.3f}",
            weak,
            "",
            f"{EC3} (6.45)",
        ),
        SheetRow(
            f"moment resistance beside N, {symbol}",
            f"{symbol} fy/gM0 (1 - n)/(1 - 0.5 aw)" if plastic else f"{symbol} fy/gM",
            f"{modulus:.0f} x {s.design_mpa:.0f}, n {float(c.n[at]):.3f}",
            m_n,
            "N mm",
            f"{EC3} (6.39)" if plastic else f"{EC3} (6.14)" if s.steel else f"{EC9} 6.2.5",
        ),
        SheetRow("moment about y", "My", "from the analysis", my, "N mm"),
        SheetRow("moment about z", "Mz", "from the analysis", mz, "N mm"),
    ]
    a, b = my / (m_n * weak), mz / (m_n * weak)
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
    my, mz = float(np.abs(forces[..., 4]).max()), float(np.abs(forces[..., 5]).max())
    chi, slender, k = float(b.chi[at]), float(b.slenderness[at]), float(b.k[at])
    grade = int(Sections.of((v,), s).grade[0])
    plastic = s.steel and grade <= 2
    modulus, symbol = (v.plastic_mm3, "Wpl") if plastic else (v.elastic_mm3, "Wel")
    phi = 0.5 * (1 + s.imperfection * (slender - s.plateau) + slender**2)
    critical = pi**2 * s.modulus_mpa * v.inertia_mm4 / length**2
    f = s.yield_mpa / s.gamma_buckling
    law = EC3 if s.steel else EC9
    used = float(b.utilisation[at])
    share = n / (chi * v.area_mm2 * f)
    rise = min(max(slender - 0.2, 0.0), 0.8) if plastic else min(0.6 * slender, 0.6)
    cross = 0.6 if plastic else 1.0
    rows = _head(model, uses, case_n, tube)
    rows += [
        SheetRow(
            "Euler load, buckling length = length",
            "pi^2 E I / L^2",
            f"pi^2 x {s.modulus_mpa:.0f} x {v.inertia_mm4:.0f} / {length:.1f}^2",
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
            share,
            "",
            f"{law} (6.46)",
        ),
        SheetRow(
            "interaction factor k, Cm 0.9",
            "0.9 (1 + (slenderness - 0.2) n), in brackets 0 to 0.8"
            if plastic
            else "0.9 (1 + 0.6 slenderness n), slenderness at most 1",
            f"0.9 x (1 + {rise:.3f} x {share:.3f})",
            k,
            "",
            f"{EC3} table B.1",
        ),
        SheetRow(
            "moment resistance MRd",
            f"{symbol} fy/gM1",
            f"{modulus:.0f} x {f:.1f}",
            modulus * f,
            "N mm",
            f"{EC3} 6.3.3",
        ),
        SheetRow(
            f"N and both moments, the larger in full, the smaller {cross:g}",
            f"n + k M1/MRd + {cross:g} k M2/MRd",
            f"{share:.3f} + {k:.3f} x {max(my, mz):.0f}/{modulus * f:.0f} "
            f"+ {cross:g} x {k:.3f} x {min(my, mz):.0f}/{modulus * f:.0f}",
            used,
            "",
            f"{EC3} (6.61), (6.62), table B.1",
        ),
    ]
    about = f"{line.member.name}, {model.cases[case_n].name}"
    return Sheet("frame.member.worst", "Worst tube", about, tuple(rows), used)
