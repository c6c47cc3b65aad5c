"""What each bracket bears and hands on: to the cradle, which is analysed with it, or to the body, which is not."""

from dataclasses import dataclass

import numpy as np

from packlayout.frame.brackets import Found
from packlayout.frame.mounting import MountLoad, vec
from packlayout.model.brief import Case
from packlayout.model.check import Check, judge
from packlayout.model.geometry import Vec
from packlayout.units import Measured


@dataclass(frozen=True, slots=True)
class HoldLoad:
    """One place that a bracket is bolted to.

    Attributes:
        onto: A tube of the cradle, or which wall of which zone.
        at: Middle of its bolts, mm.
        bolts: How many and of which thread, such as `2 x M8`.
        from_behind: True when they come from the other side of the panel.
        loads: What it has to take in each load case.
    """

    onto: str
    at: Vec
    bolts: str
    from_behind: bool
    loads: tuple[MountLoad, ...]


@dataclass(frozen=True, slots=True)
class BracketReport:
    """One bracket.

    Attributes:
        parts: Names of what it carries.
        onto: What carries it, in words.
        cradle: Number of the cradle; None: the body, for the engineer to judge.
        mass_kg: Of strips, posts and plates.
        flats: Sections of its strips, such as `flat 30x5`.
        part_bolts: Thread of the part's bolts.
        utilisation: 1 is the limit.
        by: What is used most.
        load_case: In which.
        by_case: Utilisation in each load case, in the order of `Designed.cases`.
        holds: Where it is bolted.
    """

    parts: tuple[str, ...]
    onto: str
    cradle: int | None
    mass_kg: float
    flats: tuple[str, ...]
    part_bolts: str
    utilisation: float
    by: str
    load_case: str
    by_case: tuple[float, ...]
    holds: tuple[HoldLoad, ...]


def bracket_report(case: Case, found: Found) -> BracketReport:
    """What one bracket bears and hands on."""
    bracket, use = found.bracket, found.use
    names = [c.name for c in case.design_code.load_cases] or ["its own weight"]
    by, worst = use.governing
    material = case.materials[case.brief.frame.material]
    holds: list[HoldLoad] = []
    for n, hold in enumerate(bracket.holds):
        normal = np.array(hold.normal)
        loads: list[MountLoad] = []
        for name, force, moment in zip(names, use.force[:, n], use.moment[:, n], strict=True):
            pull = -float(force @ normal)
            shear = float(np.linalg.norm(force + pull * normal))
            loads.append(
                MountLoad(name, vec(force), vec(moment), float(np.linalg.norm(force)), pull + 0.0, shear)
            )
        bolts = f"{len(hold.bolts)} x {hold.thread}"
        holds.append(HoldLoad(hold.onto, hold.point, bolts, hold.from_behind, tuple(loads)))
    pieces = (*bracket.plates, *bracket.members)
    by_case = np.max(list(use.used.values()), axis=0)
    return BracketReport(
        bracket.parts, bracket.onto, bracket.cradle, sum(p.mass_item(material).mass.value for p in pieces),
        tuple(dict.fromkeys(f"flat {s.width_mm:g}x{s.thick_mm:g}" for s in bracket.strips)), bracket.thread,
        use.worst, by, names[worst], tuple(float(v) for v in by_case), tuple(holds),
    )  # fmt: skip


def check_brackets(case: Case, found: tuple[Found, ...]) -> list[Check]:
    """Each bracket against its strength; the part's mass is taken at the far end of its tolerance."""
    checks: list[Check] = []
    for one in found:
        report = bracket_report(case, one)
        words = " and ".join(report.parts)
        value = report.utilisation
        where = f"to {report.onto}" + ("" if report.cradle is not None else ", for the engineer to judge")
        checks.append(
            judge(
                f"frame.bracket.{words.replace(' ', '-')}",
                f"Bracket of {words} {where}: {report.by}, {report.load_case}",
                Measured(value),
                1.0,
                "max",
                "1",
                "EN 1993-1-1 clause 6.2.1 (7), EN 1993-1-8 tables 3.4 and clause 4.5.3.3",
                note=""
                if value <= 1
                else "turn or move the part so that its fixing face is nearer to a wall",
                where=one.bracket.holds[0].point,
            )
        )
    return checks
