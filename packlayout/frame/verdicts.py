"""What is judged of a solved frame: tubes, welds, bolts, foot plates, mounting points, stiffness, balance."""

import numpy as np

from packlayout.frame.bearing import check_brackets
from packlayout.frame.choose import Chosen
from packlayout.frame.judge import governing
from packlayout.frame.mounting import mount_use, vec
from packlayout.frame.stiffness import balance, critical_factor
from packlayout.frame.trial import Trial
from packlayout.model.check import Check, judge, unknown
from packlayout.units import Measured

LEAST_CRITICAL = 10.0  # EN 1993-1-1 clause 5.2.1 (3): first-order analysis will do (value from memory)
BALANCE = 1e-6


def slug(name: str) -> str:
    """A name as part of an id."""
    return name.replace(" ", "-")


def unsolved(trial: Trial) -> list[Check]:
    """Why a frame could not be solved: one failed or unknown check for each reason."""
    code = trial.case.design_code
    made = [
        judge(
            f"frame.path.{slug(what)}",
            f"Path of the load from {what} to the vehicle",
            Measured(0.0),
            1.0,
            "min",
            "paths",
            "every load needs a path to the ground (statics)",
            note=why,
        )
        for what, why in trial.model.faults
    ]
    title = "Strength of the frame"
    if not code.load_cases:
        missing = f"the design code {code.name} states no load_cases; add them to its file, or pick another design_code"
        made.append(unknown("frame.member.worst", title, "1", code.title, missing))
    elif not made:
        material = trial.case.brief.frame.material
        missing = f"weld_yield of {material} in shared/materials.yaml: its strength beside a weld"
        made.append(unknown("frame.member.worst", title, "1", "EN 1999-1-1 clause 6.1.6", missing))
    else:
        made.append(
            unknown("frame.member.worst", title, "1", code.title, "a frame that stands: see frame.path")
        )
    return made


def checks_of(trial: Trial, found: Chosen) -> list[Check]:
    """All checks of a frame that was solved."""
    model, solved, judged, case = trial.model, trial.solved, trial.uses, trial.case
    assert solved is not None
    assert judged is not None
    # every mass at the far end of its tolerance at once
    spread = trial.spread
    made: list[Check] = [*_tube_checks(trial, found, spread)]
    steel = judged.strength.steel
    if judged.welds is not None:
        k, n = governing(judged.welds.worst)
        joint = model.skeleton.joints[n]
        member = model.skeleton.lines[joint.member].member
        value = float(judged.welds.worst[k, n])
        basis = "EN 1993-1-8 clause 4.5.3.3, simplified method" if steel else "EN 1999-1-1 clause 8.6.3.3"
        made.append(
            judge(
                "frame.weld.worst",
                f"Worst weld: {member.name}, its {('start', 'end')[joint.end]}, {model.cases[k].name}",
                Measured(value, value * spread),
                1.0,
                "max",
                "1",
                basis,
                where=vec(np.array((member.start, member.end)[joint.end])),
                note="" if value <= 1 else "a thicker throat, or the next wall",
            )
        )
    else:
        metal = case.brief.frame.material
        made.append(
            unknown("frame.weld.worst", "Worst weld", "1", "EN 1993-1-8 table 4.1", f"weld_factor of {metal}")
        )
    for foot in judged.feet:
        made += _foot_checks(trial, foot.mount.name, spread)
    made += [*_lip_checks(trial, spread), *check_brackets(case, trial.made.brackets)]
    made += [*_chord_checks(trial, spread), *_cap_checks(trial, spread), *_stiffness_checks(trial)]
    return made


def _chord_checks(trial: Trial, spread: float) -> list[Check]:
    model, judged = trial.model, trial.uses
    assert judged is not None
    if judged.chords is None:
        return []
    k, n = governing(judged.chords.worst)
    value, joint = float(judged.chords.worst[k, n]), model.skeleton.joints[int(judged.chords.joint[n])]
    line = model.skeleton.lines[joint.member]
    onto = model.skeleton.lines[joint.onto or 0].member.name
    return [
        judge(
            "frame.joint.worst",
            f"Worst wall beneath a tube: {line.member.name} on {onto}, {model.cases[k].name}",
            Measured(value, value * spread),
            1.0,
            "max",
            "1",
            "EN 1993-1-8 tables 7.11 and 7.14, a guide below walls of 2.5 mm",
            note="" if value <= 1 else "a thicker wall of the tube beneath",
            where=vec(line.point(line.faces[joint.end])),
        )
    ]


def _lip_checks(trial: Trial, spread: float) -> list[Check]:
    model, judged = trial.model, trial.uses
    assert judged is not None
    if judged.lips is None:
        return []
    k, n = governing(judged.lips.worst)
    value, (module, post) = float(judged.lips.worst[k, n]), judged.lips.what[n]
    return [
        judge(
            "frame.lip.worst",
            f"Worst lip: {module} on {post}, {model.cases[k].name}",
            Measured(value, value * spread),
            1.0,
            "max",
            "1",
            "EN 1993-1-1 clause 6.2.5, plastic, and EN 1993-1-8 clause 4.5.3.3",
            note="" if value <= 1 else "more studs, so that less of the push goes to the corners",
        )
    ]


def _cap_checks(trial: Trial, spread: float) -> list[Check]:
    model, judged = trial.model, trial.uses
    assert judged is not None
    if judged.caps is None:
        return []
    by = max(
        judged.caps.bolts,
        key=lambda key: (float(judged.caps.bolts[key].max()), key) if judged.caps else (0.0, key),
    )
    k, n = governing(judged.caps.bolts[by])
    value = float(judged.caps.bolts[by][k, n])
    title = f"{judged.caps.thread} bolts of {judged.caps.bars[n]}, {by}, {model.cases[k].name}"
    return [
        judge(
            "frame.bolt.bars",
            title,
            Measured(value, value * spread),
            1.0,
            "max",
            "1",
            f"EN 1993-1-8 table 3.4, class {trial.case.brief.frame.bolt_class}, captive nuts in the rails",
            note="" if value <= 1 else "a thicker wall of the rails, or more bars",
        )
    ]


def _tube_checks(trial: Trial, found: Chosen, spread: float) -> list[Check]:
    model, judged = trial.model, trial.uses
    assert judged is not None
    k, n = governing(judged.tubes.worst)
    value, line = float(judged.tubes.worst[k, n]), model.skeleton.lines[n]
    help_ = ""
    if value > 1:
        help_ = "a larger section, a shorter leg, or another mounting point"
        if found.trade:
            help_ = f"no set of the stock that was tried holds ({found.trials} tried); {help_}"
    basis = (
        "EN 1993-1-1 clauses 6.2 and 6.3.3"
        if judged.strength.steel
        else "EN 1999-1-1 clauses 6.2 and 6.3, heat-affected"
    )
    made = [
        judge(
            "frame.member.worst",
            f"Worst tube: {line.member.name}, {model.cases[k].name}",
            Measured(value, value * spread),
            1.0,
            "max",
            "1",
            basis,
            note=help_,
            where=vec(line.point(line.length / 2)),
        )
    ]
    frame = trial.case.brief.frame
    names = {m.section.name for m in trial.made.frame.members}
    made.append(
        judge(
            "frame.sections",
            "Different sections",
            Measured(len(names)),
            frame.sections_at_most,
            "max",
            "sections",
            "the brief's sections_at_most",
            note=", ".join(sorted(names)),
        )
    )
    wall = min(m.section.wall_mm for m in trial.made.frame.members)
    made.append(
        judge(
            "frame.wall",
            "Thinnest wall",
            Measured(wall),
            frame.least_wall_mm,
            "min",
            "mm",
            "the brief's least_wall",
        )
    )
    return made


def _foot_checks(trial: Trial, name: str, spread: float) -> list[Check]:
    model, judged = trial.model, trial.uses
    assert judged is not None
    n = next(k for k, foot in enumerate(judged.feet) if foot.mount.name == name)
    use, foot, key = mount_use(model, judged, n), judged.feet[n], slug(name)
    made: list[Check] = []
    if use.bolt_utilisation is None:
        made.append(
            unknown(
                f"frame.bolt.{key}",
                f"Bolts at {name}",
                "1",
                "EN 1993-1-8 table 3.4",
                f"diameter, stress_area_mm2 and head_flats of {foot.mount.thread} in shared/fasteners.yaml",
            )
        )
    else:
        value = use.bolt_utilisation
        made.append(
            judge(
                f"frame.bolt.{key}",
                f"Bolts at {name}: {use.bolt_by}, {use.bolt_case}",
                Measured(value, value * spread),
                1.0,
                "max",
                "1",
                f"EN 1993-1-8 table 3.4, class {trial.case.brief.frame.bolt_class} of ISO 898-1",
                note="" if value <= 1 else "bolts of class 10.9, or another mounting point",
                where=foot.leg.load_point,
            )
        )
    value = use.plate_utilisation
    made.append(
        judge(
            f"frame.foot.{key}",
            f"Foot plate at {name}, {use.plate_case}",
            Measured(value, value * spread),
            1.0,
            "max",
            "1",
            "EN 1993-1-1 clause 6.2.5, plastic",
            note="" if value <= 1 else "a thicker plate",
            where=foot.leg.load_point,
        )
    )
    if use.rated_n is not None:
        worst = max(use.loads, key=lambda load: load.size_n)
        made.append(
            judge(
                f"frame.mount.{key}",
                f"Load on mounting point {name}, {worst.load_case}",
                Measured(worst.size_n, worst.size_n * spread),
                use.rated_n,
                "max",
                "N",
                "rated load in the vehicle's file; the engineer judges the old metal",
                note=""
                if worst.size_n <= use.rated_n
                else "share the load with another mounting point, or reinforce this one",
                where=foot.leg.load_point,
            )
        )
    return made


def _stiffness_checks(trial: Trial) -> list[Check]:
    model, solved, code = trial.model, trial.solved, trial.case.design_code
    assert solved is not None
    made: list[Check] = []
    if trial.sag_left_mm is not None:
        made.append(
            judge(
                "frame.sag",
                f"Room left in a crash: {trial.sag_where}",
                Measured(trial.sag_left_mm),
                0.0,
                "min",
                "mm",
                "the frame gives way elastically and must not strike the body (statics)",
                note="" if trial.sag_left_mm >= 0 else "a stiffer frame, or more room around it",
            )
        )
    if trial.frequency_hz is not None and code.least_frequency is not None:
        made.append(
            judge(
                "frame.frequency",
                "First natural frequency of the loaded frame",
                Measured(trial.frequency_hz),
                code.least_frequency.hz,
                "min",
                "Hz",
                code.least_frequency.source,
                note=""
                if trial.frequency_hz >= code.least_frequency.hz
                else "larger legs, or mounting points further apart",
            )
        )
    factors = [critical_factor(model.structure, solved, k) for k in range(len(model.cases))]
    k = int(np.argmin(factors))
    made.append(
        judge(
            "frame.stability",
            f"Load at which the frame buckles, over the load of {model.cases[k].name}",
            Measured(min(factors[k], 1e6)),
            LEAST_CRITICAL,
            "min",
            "times",
            "EN 1993-1-1 clause 5.2.1 (3)",
            note="" if factors[k] >= LEAST_CRITICAL else "second-order effects count: a stiffer frame",
        )
    )
    rest = balance(model.structure, solved, model.loads, model.line_loads)
    size = np.abs(solved.reactions[..., :3]).sum(axis=(1, 2)) + 1e-9
    part = float((np.abs(rest[:, :3]).max(axis=1) / size).max())
    made.append(
        judge(
            "frame.balance",
            "What reactions and loads leave over",
            Measured(part),
            BALANCE,
            "max",
            "1",
            "equilibrium of each load case",
        )
    )
    return made
