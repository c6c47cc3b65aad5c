"""Calculation sheets of a frame's joints: its worst weld and its worst bolts, line by line."""

from math import pi, sqrt

import numpy as np

from packlayout.frame.joints import BoltResistance, bolt_strengths
from packlayout.frame.judge import FootUse, Uses, governing, head_mean_mm, least_pitch
from packlayout.frame.model import FrameModel
from packlayout.frame.section import SectionValues
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
    outline, square, along = _weld_rows(v, (n, vy, vz, t, my, mz))
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
        *outline,
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


def _weld_rows(v: SectionValues, forces: tuple[float, ...]) -> tuple[tuple[SheetRow, ...], float, float]:
    """The weld as a line, and what it bears on a millimetre square to the joint and along it."""
    n, vy, vz, t, my, mz = forces
    if v.kind == "round":
        d = v.side_mm
        m, shear = sqrt(my**2 + mz**2), sqrt(vy**2 + vz**2)
        square = n / (pi * d) + m / (pi * d**2 / 4)
        along = 2 * shear / (pi * d) + t / (pi * d**2 / 2)
        rows = (
            SheetRow("square to the joint", "N/(pi d) + M/(pi d^2/4)",
                     f"{n:.0f}/(pi x {d:g}) + {m:.0f}/(pi x {d:g}^2/4)", square, "N/mm"),
            SheetRow("along the joint", "2 V/(pi d) + T/(pi d^2/2)",
                     f"2 x {shear:.0f}/(pi x {d:g}) + {t:.0f}/(pi x {d:g}^2/2)", along, "N/mm"),
        )  # fmt: skip
        return rows, square, along
    less = (2 - pi / 2) * v.radius_mm
    h, b = v.side_mm - less, v.width_mm - less
    square = n / (2 * (b + h)) + my / (b * h + h**2 / 3) + mz / (b * h + b**2 / 3)
    along = max(vy / (2 * b), vz / (2 * h)) + t / (2 * b * h)
    shear, side, word = (vy, b, "b") if vy / b > vz / h else (vz, h, "h")
    rows = (
        SheetRow("longer side of the weld, a rectangle as long as the outline", "h - 0.43 r",
                 f"{v.side_mm:g} - 0.43 x {v.radius_mm:g}", h, "mm"),
        SheetRow("its other side", "b - 0.43 r", f"{v.width_mm:g} - 0.43 x {v.radius_mm:g}", b, "mm"),
        SheetRow("square to the joint", "N/(2 (b + h)) + My/(b h + h^2/3) + Mz/(b h + b^2/3)",
                 f"{n:.0f}/(2 x {b + h:.1f}) + {my:.0f}/{b * h + h**2 / 3:.0f} + {mz:.0f}/{b * h + b**2 / 3:.0f}",
                 square, "N/mm"),
        SheetRow("along the joint", f"V/(2 {word}) + T/(2 b h)",
                 f"{shear:.0f}/(2 x {side:.1f}) + {t:.0f}/(2 x {b:.1f} x {h:.1f})", along, "N/mm"),
    )  # fmt: skip
    return rows, square, along


def bolt_sheet(case: Case, model: FrameModel, foot: FootUse) -> Sheet | None:
    """The bolts of one mounting point in their worst load case; None without figures for the thread."""
    r = foot.resistance
    thread = case.threads[foot.mount.thread]
    if r is None or thread.diameter_mm is None or thread.stress_area_mm2 is None:
        return None
    name = max(foot.bolts, key=lambda key: (float(foot.bolts[key].max()), key))
    case_n = int(foot.bolts[name].argmax())
    shear, pull = float(foot.shear[case_n].max()), float(foot.tension[case_n].max())
    gamma = case.design_code.factors.joints
    force = foot.reaction[case_n, :3]
    both = int((foot.shear[case_n] / r.shear_n + foot.tension[case_n] / 1.4 / r.tension_n).argmax())
    rows = (
        case_row(model.cases[case_n]),
        SheetRow(
            "force of the mounting point on the frame",
            "F",
            ", ".join(f"{v:.0f}" for v in force),
            float(np.linalg.norm(force)),
            "N",
        ),
        *_group_rows(foot, case_n),
        *_resistance_rows(case, foot, r, thread.diameter_mm, thread.stress_area_mm2, gamma),
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
            "shear and tension of the worst bolt",
            "Fv/Fv,Rd + Ft/(1.4 Ft,Rd)",
            f"{foot.shear[case_n, both]:.0f} / {r.shear_n:.0f} + {foot.tension[case_n, both]:.0f} / (1.4 x {r.tension_n:.0f})",
            float(foot.bolts["both"][case_n]),
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


def _group_rows(foot: FootUse, case_n: int) -> tuple[SheetRow, ...]:
    """From the force and moment at the middle of the holes to the worst bolt."""
    rotation = np.array(foot.leg.plate.pose.rotation)
    f, m = -foot.reaction[case_n, :3] @ rotation, -foot.reaction[case_n, 3:] @ rotation
    holes = np.array([(x, y) for x, y, _ in foot.leg.plate.holes])
    arms = holes - holes.mean(axis=0)
    count, polar = len(holes), float((arms**2).sum())
    worst, pulled = int(foot.shear[case_n].argmax()), int(foot.tension[case_n].argmax())
    turn = m[2] / polar if polar > 1 else 0.0
    x, y = arms[worst]
    rows = [
        SheetRow(
            "force on the bolts in the plate's axes: along it, across it, pull",
            "Fx, Fy, Fz",
            ", ".join(f"{v:.0f}" for v in f),
            float(np.linalg.norm(f)),
            "N",
        ),
        SheetRow(
            "moments about the same",
            "Mx, My, Mz",
            ", ".join(f"{v:.0f}" for v in m),
            float(np.linalg.norm(m)),
            "N mm",
        ),
        SheetRow(
            f"shear on bolt {worst + 1} of {count}, ({x:.1f}, {y:.1f}) mm from the middle",
            "sqrt((Fx/n - Mz y/sum r^2)^2 + (Fy/n + Mz x/sum r^2)^2)",
            f"sqrt(({f[0]:.0f}/{count} - {turn:.3f} x {y:.1f})^2 + ({f[1]:.0f}/{count} + {turn:.3f} x {x:.1f})^2)",
            float(foot.shear[case_n, worst]),
            "N",
            "elastic bolt group, statics",
        ),
    ]
    x, y = arms[pulled]
    rows.append(
        SheetRow(
            f"tension on bolt {pulled + 1} of {count}, ({x:.1f}, {y:.1f}) mm from the middle",
            "Fz/n + Mx y/sum y^2 - My x/sum x^2; about a line of holes |M|/(n e)",
            f"{f[2]:.0f}/{count}, Mx {m[0]:.0f}, My {m[1]:.0f}, sum x^2 {float((arms[:, 0] ** 2).sum()):.0f}, "
            f"sum y^2 {float((arms[:, 1] ** 2).sum()):.0f}, e {_edge(foot):.1f}; not below nought",
            float(foot.tension[case_n, pulled]),
            "N",
            "elastic bolt group, statics",
        )
    )
    return tuple(rows)


def _edge(foot: FootUse) -> float:
    """From a hole to the nearest edge of the foot plate."""
    plate = foot.leg.plate
    return min(min(x, y, plate.size[0] - x, plate.size[1] - y) for x, y, _ in plate.holes)


def _resistance_rows(
    case: Case, foot: FootUse, r: BoltResistance, d: float, area: float, gamma: float
) -> tuple[SheetRow, ...]:
    """Table 3.4 of EN 1993-1-8, each factor by itself."""
    frame, thread, plate = case.brief.frame, case.threads[foot.mount.thread], foot.leg.plate
    ultimate, _, alpha_v = bolt_strengths(frame.bolt_class)
    hole, thick = thread.clearance_hole_mm, plate.size[2]
    fu = case.materials[frame.material].ultimate_mpa
    edge, mean = _edge(foot), head_mean_mm(thread) or 0.0
    pitch = least_pitch(np.array([(x, y) for x, y, _ in plate.holes]))
    parts = [f"{edge:.1f}/(3 x {hole:g})", f"{ultimate:g}/{fu:g}", "1"]
    alpha_b = min(edge / (3 * hole), ultimate / fu, 1.0)
    if pitch is not None:
        parts.insert(1, f"{pitch:.1f}/(3 x {hole:g}) - 0.25")
        alpha_b = min(alpha_b, pitch / (3 * hole) - 0.25)
    alpha_b = max(alpha_b, 0.0)
    k1 = max(min(2.8 * edge / hole - 1.7, 2.5), 0.0)
    law = f"{EC3_8} table 3.4"
    return (
        SheetRow(
            f"strength of a bolt of class {frame.bolt_class}",
            "100 x the first figure",
            f"{ultimate:g}",
            ultimate,
            "MPa",
            "ISO 898-1 clause 5",
        ),
        SheetRow(
            "shear resistance, threads in the plane",
            "av fub As / gM2",
            f"{alpha_v:g} x {ultimate:g} x {area:g} / {gamma:g}",
            r.shear_n,
            "N",
            law,
        ),
        SheetRow(
            "tension resistance",
            "0.9 fub As / gM2",
            f"0.9 x {ultimate:g} x {area:g} / {gamma:g}",
            r.tension_n,
            "N",
            law,
        ),
        SheetRow(
            "ab",
            "least of e/(3 d0), p/(3 d0) - 0.25, fub/fu, 1",
            f"least of {', '.join(parts)}",
            alpha_b,
            "",
            law,
        ),
        SheetRow(
            "k1", "2.8 e/d0 - 1.7, at most 2.5", f"2.8 x {edge:.1f}/{hole:g} - 1.7, at most 2.5", k1, "", law
        ),
        SheetRow(
            "bearing of the plate",
            "k1 ab fu d t / gM2",
            f"{k1:.3f} x {alpha_b:.3f} x {fu:g} x {d:g} x {thick:g} / {gamma:g}",
            r.bearing_n,
            "N",
            law,
        ),
        SheetRow(
            "pull-through",
            "0.6 pi dm tp fu / gM2",
            f"0.6 x pi x {mean:.2f} x {thick:g} x {fu:g} / {gamma:g}",
            r.punching_n,
            "N",
            law,
        ),
    )
