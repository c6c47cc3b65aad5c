"""The report's section on the statics of the frame: for the engineer who follows it line by line and signs."""

import re
from collections.abc import Mapping, Sequence
from math import inf

from packlayout.export.blocks import Block, Bullets, Head, Picture, Table, Text
from packlayout.export.figures import figure, number, point
from packlayout.export.report_answers import SIGNS, places_of, unit_of
from packlayout.export.report_brackets import brackets
from packlayout.export.structure_charts import case_chart, utilisation_chart
from packlayout.export.use_picture import USE
from packlayout.frame.design import AID, Designed, MemberUse
from packlayout.frame.mounting import MountLoad, MountUse
from packlayout.frame.sheet import Sheet
from packlayout.frame.trial import group_of
from packlayout.frame.tubes import Member
from packlayout.model.check import Check
from packlayout.model.geometry import MassItem
from packlayout.study import Study
from packlayout.units import Measured

WORST = 10
NOT_SOLVED = (
    "Not computed: the frame was not solved, so nothing is known here of its strength, its stiffness or what the "
    "mounting points have to take."
)
_COUNTED = ("legs", "tubes", "sections", "paths")
_UNITS = {"mm2": "mm²", "mm3": "mm³", "mm4": "mm⁴"}


def structure(study: Study, pictures: Mapping[str, tuple[str, bytes]] | None = None) -> tuple[Block, ...]:
    """The section: worst checks, pictures, reactions, masses, trade, calculation sheets.

    Args:
        study: What was computed.
        pictures: File name -> what it shows, and its PNG bytes.
    """
    framed = study.framed
    designed = framed.designed if framed is not None else None
    if framed is None or designed is None:
        return (Text(AID), Text(NOT_SOLVED))
    blocks: list[Block] = [Text(AID), Head("The ten worst checks of the frame", "worst-checks")]
    blocks += [worst_table(framed.checks)]
    if designed.model is None:
        return (*blocks, Text(NOT_SOLVED), *_trade(designed))
    shown = [Picture(*pictures[USE])] if pictures is not None and USE in pictures else [case_chart(designed)]
    blocks += [
        Head("How far the tubes are used", "utilisation"), utilisation_chart(designed), use_table(designed),
        *shown, Head("What the mounting points have to take", "reactions"), Text(_REACTIONS),
        Bullets(tuple(worst_load(mount) for mount in designed.mounts)), reaction_table(designed),
        *brackets(designed), Head("Masses", "masses"), mass_table(designed), *_frequency(designed), *_trade(designed),
        Head("Calculation sheets", "sheets"), Text(_SHEETS),
    ]  # fmt: skip
    for sheet in designed.sheets:
        blocks += [Head(f"{sheet.title}: {sheet.about}"), sheet_table(sheet), Text(_outcome(sheet))]
    if not designed.sheets:
        blocks.append(Text("Not computed: there is no sheet."))
    return tuple(blocks)


_REACTIONS = (
    "Forces and moments of the frame on the vehicle, x rearward, y to the right, z up, at the middle of the holes; "
    "factors of the load case included. Pull is away from the face of the mounting point, a negative one presses on "
    "it. The old body behind the mounting points was not computed: an engineer judges it by these figures."
)
_SHEETS = (
    "The tube, the weld and the bolts that are used most, each in its worst load case. N, mm, MPa. The others were "
    "computed in the same way; their results are in the tables above and in the output for machines. A is an area, "
    "N an axial force, V a shear force, M a moment, T torsion, fy yield strength, fu ultimate strength, gM a partial "
    "factor, chi the reduction for buckling, b the side and r the outer corner of the tube, a the throat of a weld, bw "
    "its factor; the axes y and z of a tube lie along its sides."
)


def used(check: Check) -> float:
    """How much of its limit a check uses: 1 is the limit, more fails; a limit of nought cannot be shared."""
    if check.value is None or check.limit is None:
        return inf
    over, under = (check.value, check.limit) if check.sense == "max" else (check.limit, check.value)
    if under > 0:
        return over / under
    return inf if check.verdict == "fail" else 0.0


def worst_checks(checks: Sequence[Check]) -> tuple[Check, ...]:
    """The checks nearest to their limit or beyond, gravest verdict first; things counted only when they fail."""
    order = list(SIGNS)
    shown = [c for c in checks if c.verdict != "pass" or not (c.unit in _COUNTED or c.id == "frame.wall")]
    return tuple(sorted(shown, key=lambda c: (order.index(c.verdict), -used(c)))[:WORST])


def worst_table(checks: Sequence[Check]) -> Table:
    """The ten worst checks with limit and basis."""
    rows: list[tuple[str, ...]] = []
    for c in worst_checks(checks):
        share, bound = used(c), "≤" if c.sense == "max" else "≥"
        places = places_of(c)
        rows.append((
            c.verdict, f"{c.title}\n{c.note}" if c.note else c.title,
            "" if c.value is None else figure(Measured(c.value, c.tolerance), places),
            "" if c.limit is None else f"{bound} {number(c.limit, places)}", unit_of(c),
            "" if share in (inf, 0.0) else f"{100 * share:.0f} %", c.basis,
        ))  # fmt: skip
    head = ("verdict", "what", "found", "allowed", "unit", "of the limit", "limit from")
    caption = "Nearest to their limit first within a verdict; the list of all checks follows below"
    return Table(head, tuple(rows), frozenset((2, 3, 5)), caption, verdicts=0)


def use_table(designed: Designed) -> Table:
    """The tubes used most, with what governs."""
    worst = sorted(designed.members, key=lambda use: -use.utilisation)
    rows = tuple(_use(use) for use in worst[:WORST])
    more = len(worst) - len(rows)
    caption = f"The tubes used most; {more} others are used less" if more else "All tubes"
    head = ("tube", "section", "utilisation", "load case", "governed by", "moves at most, mm")
    return Table(head, rows, frozenset((2, 5)), caption)


def _use(use: MemberUse) -> tuple[str, ...]:
    return (use.name, use.section, number(use.utilisation, 2), use.load_case, use.by, number(use.shift_mm))


def worst_of(mount: MountUse) -> MountLoad:
    """The load case that asks most of a mounting point."""
    return max(mount.loads, key=lambda load: load.size_n)


def worst_load(mount: MountUse) -> str:
    """What a mounting point has to take at most, in a sentence."""
    load = worst_of(mount)
    rated = "no rated load is given" if mount.rated_n is None else f"rated for {number(mount.rated_n, 0)} N"
    pull = max(0.0, *(one.pull_n for one in mount.loads))
    shear = max(one.shear_n for one in mount.loads)
    bolts = "bolts not computed, the thread has no figures"
    if mount.bolt_utilisation is not None:
        bolts = f"bolts used {number(mount.bolt_utilisation, 2)} ({mount.bolt_by}, {mount.bolt_case})"
    return (
        f"{mount.mount}: at most {number(load.size_n, 0)} N ({load.load_case}), pull at most {number(pull, 0)} N, "
        f"shear at most {number(shear, 0)} N; {rated}; {bolts}; foot plate of {mount.plate_mm:g} mm used "
        f"{number(mount.plate_utilisation, 2)} ({mount.plate_case})."
    )


def reaction_table(designed: Designed) -> Table:
    """Every mounting point in every load case."""
    rows: list[tuple[str, ...]] = []
    for mount in designed.mounts:
        worst = worst_of(mount)
        for load in mount.loads:
            moment = point([m / 1000 for m in load.moment_n_mm], 1) if any(load.moment_n_mm) else "0"
            rows.append((
                mount.mount, load.load_case, *(number(f, 0) for f in load.force_n), moment, number(load.pull_n, 0),
                number(load.shear_n, 0), number(load.size_n, 0), "largest" if load is worst else "",
            ))  # fmt: skip
    head = ("mounting point", "load case", "Fx, N", "Fy, N", "Fz, N", "Mx, My, Mz, N m", "pull, N", "shear, N",
            "whole, N", "")  # fmt: skip
    return Table(
        head, tuple(rows), frozenset(range(2, 9)), "Forces of the frame on each mounting point", close=True
    )


_GROUPS = {"cradle": "cradle tubes", "bars": "bars and studs of the cradles", "legs": "legs and braces"}


def mass_table(designed: Designed) -> Table:
    """What the frame weighs by what it is, and what it carries."""
    frame = designed.made.frame
    tubes: dict[tuple[str, str], list[Member]] = {}
    for member in frame.members:
        tubes.setdefault((_GROUPS[group_of(member)], member.section.name), []).append(member)
    rows: list[tuple[str, ...]] = []
    whole = sum(item.mass.value for item in frame.mass_items)

    def row(name: str, count: int, metres: float | None, items: Sequence[MassItem]) -> tuple[str, ...]:
        mass = Measured(sum(i.mass.value for i in items), sum(i.mass.tolerance for i in items))
        long = "" if metres is None else number(metres, 2)
        return name, str(count), long, figure(mass, 2), f"{100 * mass.value / whole:.0f} %"

    for (name, section), members in tubes.items():
        items = [m.mass_item(frame.material) for m in members]
        rows.append(row(f"{name}, {section}", len(members), sum(m.length_mm for m in members) / 1000, items))
    feet = {leg.plate.name for leg in designed.made.legs}
    for name, plates in (
        ("foot plates", [p for p in frame.plates if p.name in feet]),
        ("other plates", [p for p in frame.plates if p.name not in feet]),
    ):
        if plates:
            rows.append(row(name, len(plates), None, [p.mass_item(frame.material) for p in plates]))
    count = len(frame.members) + len(frame.plates)
    rows.append(row("frame", count, sum(m.length_mm for m in frame.members) / 1000, frame.mass_items))
    if designed.model is not None:
        load = designed.model.mass_kg
        also = f"modules and {', '.join(designed.carried)}" if designed.carried else "modules"
        rows += [(f"carried: {also}", "", "", number(load - whole, 2), ""),
                 ("as solved", "", "", number(load, 2), "")]  # fmt: skip
    caption = "Bolts, nuts and weld metal are not in it."
    if designed.elsewhere:
        caption += f" Not counted, the vehicle carries them: {', '.join(designed.elsewhere)}."
    head = ("what", "pieces", "length, m", "mass, kg", "of the frame")
    return Table(head, tuple(rows), frozenset((1, 2, 3, 4)), caption)


def _frequency(designed: Designed) -> list[Block]:
    if designed.first_frequency_hz is None:
        return [Text("First natural frequency: not computed.")]
    least = designed.case.design_code.least_frequency
    wanted = f"at least {number(least.hz)} Hz, {least.source}" if least else "no least frequency is asked for"
    return [
        Text(
            f"First natural frequency of the loaded frame: {number(designed.first_frequency_hz)} Hz ({wanted})."
        )
    ]


def _trade(designed: Designed) -> list[Block]:
    head: Block = Head("Mass against the number of different sections", "trade")
    if not designed.trade:
        return [head, Text("Not computed: the sections are those that the brief names.")]
    rows = tuple(
        (str(r.sections), r.choice.cradle, r.choice.bars, r.choice.legs, f"{r.choice.plate_mm:g}", number(r.mass_kg, 2),
         number(r.worst, 2), "" if r.first_frequency_hz is None else number(r.first_frequency_hz),
         "yes" if r.holds else "no", "taken" if r.chosen else "")
        for r in designed.trade
    )  # fmt: skip
    columns = ("sections at most", "cradle", "bars", "legs", "foot plates, mm", "frame, kg", "utilisation",
               "first frequency, Hz", "holds", "")  # fmt: skip
    sets = f"{designed.trials} {'set' if designed.trials == 1 else 'sets'} of sections"
    caption = f"The lightest frame found for each number; {sets} drawn and solved"
    return [head, Table(columns, rows, frozenset((4, 5, 6, 7)), caption)]


def sheet_table(sheet: Sheet) -> Table:
    """A calculation, line by line."""
    rows = tuple(
        (str(n), row.what, _printed(row.formula), _printed(row.numbers), _result(row.value),
         _UNITS.get(row.unit, row.unit), row.clause)
        for n, row in enumerate(sheet.rows, start=1)
    )  # fmt: skip
    head = ("line", "what", "formula", "numbers", "result", "unit", "clause")
    return Table(head, rows, frozenset((4,)), shares=(0.04, 0.19, 0.19, 0.2, 0.09, 0.06, 0.23))


def _outcome(sheet: Sheet) -> str:
    word = "holds" if sheet.utilisation <= 1 else "does not hold"
    return f"Utilisation {number(sheet.utilisation, 3)}, 1 is the limit: {word}. {sheet.caution}"


def _printed(text: str) -> str:
    """A formula in the signs of a keyboard as it is printed: `sqrt 3 x b^2` is `√3 × b²`."""
    for plain, sign in (("^2", "²"), ("^3", "³"), ("sqrt ", "√"), ("sqrt", "√"), (" x ", " × ")):
        text = text.replace(plain, sign)
    return re.sub(r"(?<![a-z])pi(?![a-z])", "π", text)


def _result(value: float) -> str:
    size = abs(value)
    if value == int(value) and size < 1e6:
        return number(value, 0)
    return number(value, 0 if size >= 10000 else 1 if size >= 100 else 2 if size >= 10 else 3)
