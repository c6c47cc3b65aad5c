"""Calculation sheets of a frame's joints: its worst weld and its worst bolts, line by line."""

from math import pi, sqrt

import numpy as np

from packlayout.frame.judge import FootUse, Uses, governing, head_mean_mm
from packlayout.frame.model import FrameModel
from packlayout.frame.sheet import Sheet, SheetRow
from packlayout.frame.sheets import EC3_8, EC9, case_row
from packlayout.model.brief import Case


def weld_sheet(case: Case, model: FrameModel, uses: Uses) -> Sheet | None:
    """The weld that is used most, in its worst load case."""
    if uses.welds is None or not model.skeleton.joints:
        return None
    case_n, k = governing(uses.welds.worst)
    joint = model.skeleton.joints[k]
    member, v = model.skeleton.lines[joint.member].member, model.sections[joint.member]
    n, vy, vz, t, my, mz = (abs(float(x)) for x in uses.welds.forces[case_n, k])
    b = v.side_mm - (2 - pi / 2) * 2 * v.wall_mm
    square = n / (4 * b) + (my + mz) / (4 * b**2 / 3)
    along = max(vy, vz) / (2 * b) + t / (2 * b**2)
    throat, strength = float(uses.welds.throat[k]), uses.welds.strength_mpa
    used = float(uses.welds.worst[case_n, k])
    material = case.materials[case.brief.frame.material]
    gamma = case.design_code.factors.joints
    if material.family == "steel":
        formula, numbers = (
            "fu / (sqrt 3 bw gM2)",
            f"{material.ultimate_mpa:g} / (sqrt 3 x {material.weld_factor} x {gamma:g})",
        )
        clause = f"{EC3_8} (4.4), table 4.1"
    else:
        formula, numbers = "fw / (sqrt 3 gMw)", f"{material.filler_mpa} / (sqrt 3 x {gamma:g})"
        clause = f"{EC9} 8.6.3.3"
    rows = (
        case_row(model.cases[case_n]),
        SheetRow(
            "side of the weld, a square as long as the outline",
            "b - 0.43 r",
            f"{v.side_mm:g} - 0.43 x {2 * v.wall_mm:g}",
            b,
            "mm",
        ),
        SheetRow(
            "square to the joint",
            "N/(4 b) + (My + Mz)/(4 b^2/3)",
            f"{n:.0f}/(4 x {b:.1f}) + ({my:.0f} + {mz:.0f})/(4 x {b:.1f}^2/3)",
            square,
            "N/mm",
        ),
        SheetRow(
            "along the joint",
            "V/(2 b) + T/(2 b^2)",
            f"{max(vy, vz):.0f}/(2 x {b:.1f}) + {t:.0f}/(2 x {b:.1f}^2)",
            along,
            "N/mm",
        ),
        SheetRow(
            "resultant",
            "sqrt(square^2 + along^2)",
            f"sqrt({square:.1f}^2 + {along:.1f}^2)",
            sqrt(square**2 + along**2),
            "N/mm",
            f"{EC3_8} 4.5.3.3, simplified method",
        ),
        SheetRow("strength of the weld", formula, numbers, strength, "MPa", clause),
        SheetRow(
            "resistance",
            "a fvw,d",
            f"{throat:g} x {strength:.1f}",
            throat * strength,
            "N/mm",
            f"{EC3_8} (4.3)",
        ),
        SheetRow(
            "utilisation",
            "resultant / resistance",
            f"{sqrt(square**2 + along**2):.1f} / {throat * strength:.1f}",
            used,
            "",
        ),
    )
    about = f"{member.name}, its {('start', 'end')[joint.end]}, {model.cases[case_n].name}"
    return Sheet("frame.weld.worst", "Worst weld", about, rows, used)


def bolt_sheet(case: Case, model: FrameModel, foot: FootUse) -> Sheet | None:
    """The bolts of one mounting point in their worst load case; None without figures for the thread."""
    r = foot.resistance
    if r is None:
        return None
    name = max(foot.bolts, key=lambda key: (float(foot.bolts[key].max()), key))
    case_n = int(foot.bolts[name].argmax())
    shear, pull = float(foot.shear[case_n].max()), float(foot.tension[case_n].max())
    thread, gamma = case.threads[foot.mount.thread], case.design_code.factors.joints
    thick, cls = foot.leg.plate.size[2], case.brief.frame.bolt_class
    mean = head_mean_mm(thread) or 0.0
    force = foot.reaction[case_n, :3]
    rows = (
        case_row(model.cases[case_n]),
        SheetRow(
            "force of the mounting point on the frame",
            "F",
            ", ".join(f"{v:.0f}" for v in force),
            float(np.linalg.norm(force)),
            "N",
        ),
        SheetRow(
            "shear on the worst bolt",
            "Fv",
            f"{foot.shear.shape[1]} bolts {thread.thread} {cls}",
            shear,
            "N",
            "elastic bolt group",
        ),
        SheetRow(
            "tension on the worst bolt", "Ft", f"{foot.shear.shape[1]} bolts", pull, "N", "elastic bolt group"
        ),
        SheetRow(
            "shear resistance, threads in the plane",
            "av fub As / gM2",
            f"class {cls}, As {thread.stress_area_mm2:g}, gM2 {gamma:g}",
            r.shear_n,
            "N",
            f"{EC3_8} table 3.4",
        ),
        SheetRow(
            "tension resistance",
            "0.9 fub As / gM2",
            f"As {thread.stress_area_mm2:g}",
            r.tension_n,
            "N",
            f"{EC3_8} table 3.4",
        ),
        SheetRow(
            "bearing of the plate",
            "k1 ab fu d t / gM2",
            f"d {thread.diameter_mm:g}, t {thick:g}",
            r.bearing_n,
            "N",
            f"{EC3_8} table 3.4",
        ),
        SheetRow(
            "pull-through",
            "0.6 pi dm tp fu / gM2",
            f"dm {mean:.1f}, tp {thick:g}",
            r.punching_n,
            "N",
            f"{EC3_8} table 3.4",
        ),
        SheetRow(
            "shear",
            "Fv / Fv,Rd",
            f"{shear:.0f} / {r.shear_n:.0f}",
            shear / r.shear_n,
            "",
            f"{EC3_8} table 3.2",
        ),
        SheetRow(
            "tension",
            "Ft / Ft,Rd",
            f"{pull:.0f} / {r.tension_n:.0f}",
            pull / r.tension_n,
            "",
            f"{EC3_8} table 3.2",
        ),
        SheetRow(
            "shear and tension",
            "Fv/Fv,Rd + Ft/(1.4 Ft,Rd)",
            f"{shear / r.shear_n:.3f} + {pull / r.tension_n:.3f}/1.4",
            shear / r.shear_n + pull / 1.4 / r.tension_n,
            "",
            f"{EC3_8} table 3.4",
        ),
        SheetRow(
            "bearing",
            "Fv / Fb,Rd",
            f"{shear:.0f} / {r.bearing_n:.0f}",
            shear / r.bearing_n,
            "",
            f"{EC3_8} table 3.2",
        ),
        SheetRow(
            "pull-through",
            "Ft / Bp,Rd",
            f"{pull:.0f} / {r.punching_n:.0f}",
            pull / r.punching_n,
            "",
            f"{EC3_8} table 3.2",
        ),
    )
    used = float(foot.bolts[name].max())
    about = (
        f"bolts at {foot.mount.name}, {model.cases[case_n].name}; the old metal beneath them is not judged"
    )
    return Sheet(f"frame.bolt.{foot.mount.name.replace(' ', '-')}", "Worst bolt", about, rows, used)
