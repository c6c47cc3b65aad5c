"""`design`: the frame of a layout, its sections chosen, solved in every load case and judged.

A design aid: a licensed engineer signs, and local codes rule.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from packlayout.frame.bearing import BracketReport, bracket_report, check_brackets
from packlayout.frame.choose import TradeRow, choose
from packlayout.frame.generate import Generated, generate
from packlayout.frame.joint_sheets import bolt_sheet, weld_sheet
from packlayout.frame.judge import Uses
from packlayout.frame.model import FrameModel
from packlayout.frame.mounting import MountUse, mount_use
from packlayout.frame.sheet import Sheet
from packlayout.frame.sheets import member_sheet
from packlayout.frame.stiffness import Solved
from packlayout.frame.trial import shift_of_tubes
from packlayout.frame.verdicts import checks_of, unsolved
from packlayout.model.brief import Case
from packlayout.model.check import Check, unknown
from packlayout.model.geometry import Box, Vec
from packlayout.model.layout import Layout

AID = "A design aid: a licensed engineer signs, and local codes rule."


@dataclass(frozen=True, slots=True)
class MemberUse:
    """How far one tube is used.

    Attributes:
        name: Of the member.
        section: As chosen.
        utilisation: 1 is the limit.
        load_case: The worst.
        by: `buckling` or `cross-section`.
        by_case: Utilisation in each load case, in the order of `Designed.cases`.
        shift_mm: The furthest it moves in any load case.
    """

    name: str
    section: str
    utilisation: float
    load_case: str
    by: str
    by_case: tuple[float, ...]
    shift_mm: float


@dataclass(frozen=True, slots=True)
class JointUse:
    """One welded end of a tube.

    Attributes:
        member: The tube.
        end: `start` or `end`.
        onto: The tube it stands on; `foot plate`.
        at: Where, mm.
        throat_mm: Of the fillet weld all round.
        line_force_n_per_mm: Largest resultant.
        utilisation: 1 is the limit; None when the material has no figures for welds.
        load_case: The worst.
        wall_utilisation: Of the wall it stands on; None where it stands on none.
    """

    member: str
    end: str
    onto: str
    at: Vec
    throat_mm: float
    line_force_n_per_mm: float | None
    utilisation: float | None
    load_case: str
    wall_utilisation: float | None = None


@dataclass(frozen=True, slots=True, eq=False)
class Designed:
    """The answer of `design`.

    Attributes:
        case: The case with its brief changed to the chosen sections and plates: use it from here on.
        made: The frame as chosen; solids, masses and clearances are to be taken from it.
        cases: Names of the load cases.
        members: One for each member of the frame, in its order; empty when it could not be solved.
        joints: Welded ends.
        mounts: Mounting points.
        model: What was solved; None when it could not be.
        solved: The answer of the solver; None likewise.
        first_frequency_hz: Of the loaded frame.
        checks: Of strength, stiffness, welds, bolts and mounting points; those of shape are `check_frame`'s.
        sheets: Calculation of the worst tube, weld and bolts.
        trade: Mass against the number of different sections; empty when nothing was chosen.
        trials: How many sets of sections were drawn and solved.
        brackets: What carries the parts that are no modules, and what each hands on.
        carried: Parts that stand on the cradles and were counted.
        elsewhere: Parts that the vehicle carries and that were not.
    """

    case: Case
    made: Generated
    cases: tuple[str, ...]
    members: tuple[MemberUse, ...]
    joints: tuple[JointUse, ...]
    mounts: tuple[MountUse, ...]
    model: FrameModel | None
    solved: Solved | None
    first_frequency_hz: float | None
    checks: tuple[Check, ...]
    sheets: tuple[Sheet, ...]
    trade: tuple[TradeRow, ...]
    trials: int
    carried: tuple[str, ...]
    elsewhere: tuple[str, ...]
    brackets: tuple[BracketReport, ...] = ()


def design(
    case: Case, layout: Layout, rooms: Sequence[Box] = (), made: Generated | None = None,
    say: Callable[[str], None] | None = None, core: tuple[str, str] | None = None,
) -> Designed:  # fmt: skip
    """Choose, solve and judge the frame of a layout.

    Args:
        case: Supplies the brief, stock, load cases, mounting points and masses.
        layout: What is carried.
        rooms: Access room of placed parts that no tube may cross, vehicle axes.
        made: The frame with the sections the brief names, when it is there already.
        say: Told what is being tried.
        core: Sections of cradle and bars that are settled, so that only the legs are chosen.

    Returns:
        The design. A frame that cannot stand is a design with failed checks that say why.

    Source: EN 1993-1-1, EN 1993-1-8, EN 1999-1-1 and the load cases of the design code; clauses stand in the sheets.
    """
    if not layout.blocks:
        return _nothing(case, layout, rooms)
    found = choose(case, layout, rooms, made, say, core)
    trial = found.trial
    model, solved, judged = trial.model, trial.solved, trial.uses
    brackets = tuple(bracket_report(trial.case, f) for f in trial.made.brackets)
    if solved is None or judged is None:
        checks = (*unsolved(trial), *check_brackets(trial.case, trial.made.brackets))
        return Designed(
            trial.case, trial.made, tuple(c.name for c in case.design_code.load_cases), (), (), (), None, None, None,
            checks, (), found.trade, found.trials, model.loading.carried, model.loading.elsewhere, brackets,
        )  # fmt: skip
    sheets = [member_sheet(model, judged), weld_sheet(trial.case, model, judged)]
    bolts = [bolt_sheet(trial.case, model, foot) for foot in judged.feet]
    worst = max((s for s in bolts if s is not None), key=lambda s: s.utilisation, default=None)
    return Designed(
        trial.case,
        trial.made,
        tuple(c.name for c in model.cases),
        (*_members(model, solved, judged), *_posts(trial.made, tuple(c.name for c in model.cases))),
        _joints(model, judged),
        tuple(mount_use(model, judged, n) for n in range(len(judged.feet))),
        model,
        solved,
        trial.frequency_hz,
        tuple(checks_of(trial, found)),
        tuple(s for s in (*sheets, worst) if s is not None),
        found.trade,
        found.trials,
        model.loading.carried,
        model.loading.elsewhere,
        brackets,
    )


def _nothing(case: Case, layout: Layout, rooms: Sequence[Box]) -> Designed:
    missing = "no module is placed, so there is nothing to carry"
    check = unknown("frame.member.worst", "Strength of the frame", "1", case.design_code.title, missing)
    others = tuple(p.name for p in layout.placements)
    return Designed(
        case, generate(case, layout, rooms), tuple(c.name for c in case.design_code.load_cases), (), (), (), None, None,
        None, (check,), (), (), 0, (), others,
    )  # fmt: skip


def _members(model: FrameModel, solved: Solved, judged: Uses) -> tuple[MemberUse, ...]:
    moved = shift_of_tubes(model, solved.displacements).max(axis=0)
    made: list[MemberUse] = []
    for n, line in enumerate(model.skeleton.lines):
        column = judged.tubes.worst[:, n]
        k = int(column.argmax())
        bent = judged.tubes.buckling.utilisation[k, n] >= judged.tubes.by_section[k, n]
        made.append(
            MemberUse(
                line.member.name, line.member.section.name, float(column[k]), model.cases[k].name,
                "buckling" if bent else "cross-section", tuple(float(u) for u in column), float(moved[n]),
            )
        )  # fmt: skip
    return tuple(made)


def _posts(made: Generated, cases: tuple[str, ...]) -> tuple[MemberUse, ...]:
    """Posts of brackets, after the tubes of the frame; they are judged with their bracket."""
    rows: list[MemberUse] = []
    for found in made.brackets:
        for post in found.bracket.members:
            by_case = tuple(float(v) for v in found.use.used["post"])
            worst = max(by_case)
            rows.append(
                MemberUse(
                    post.name, post.section.name, worst, cases[by_case.index(worst)], "bracket", by_case, 0.0
                )
            )
    return tuple(rows)


def _joints(model: FrameModel, judged: Uses) -> tuple[JointUse, ...]:
    made: list[JointUse] = []
    walls: dict[int, float] = {}
    if judged.chords is not None:
        walls = {
            int(n): float(v)
            for n, v in zip(judged.chords.joint, judged.chords.worst.max(axis=0), strict=True)
        }
    for n, joint in enumerate(model.skeleton.joints):
        line = model.skeleton.lines[joint.member]
        at = line.point(line.faces[joint.end])
        onto = "foot plate" if joint.onto is None else model.skeleton.lines[joint.onto].member.name
        welds = judged.welds
        k = int(welds.worst[:, n].argmax()) if welds is not None else 0
        made.append(
            JointUse(
                line.member.name, ("start", "end")[joint.end], onto, (float(at[0]), float(at[1]), float(at[2])),
                float(welds.throat[n]) if welds is not None else 0.0,
                float(welds.line_force[k, n]) if welds is not None else None,
                float(welds.worst[k, n]) if welds is not None else None,
                model.cases[k].name if welds is not None else "",
                walls.get(n),
            )
        )  # fmt: skip
    return tuple(made)
