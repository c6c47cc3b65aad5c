"""The answers a report begins with, in sentences."""

from collections import Counter
from collections.abc import Iterable
from math import ceil, log10

from packlayout.export.blocks import Answer
from packlayout.export.figures import figure, number
from packlayout.mass.states import CONVERTED, ORIGINAL
from packlayout.mass.weighing import Weighing
from packlayout.model.check import Check, Verdict
from packlayout.study import Study
from packlayout.units import Measured

SIGNS: dict[Verdict, str] = {"fail": "✗", "unknown": "?", "marginal": "≈", "pass": "✓"}
"""Verdict -> sign, gravest first: the order in which checks are shown."""

SHOWN = 3
"""Failed checks told on the first page; all of them stand in the table of checks."""


def answers(study: Study) -> tuple[Answer, ...]:
    """Does it fit; what do the axles carry; does everything hold."""
    return tuple(filter(None, (_fit(study), _axle_answer(study), _hold(study))))


def _fit(study: Study) -> Answer:
    wanted = study.case.modules_wanted
    packed = len(study.layout.modules) if study.layout is not None else 0
    details = list(study.placed.why_not_more) if study.placed is not None else []
    if study.layout is None:
        sentence = f"No: not one of {wanted} battery modules could be placed."
        return Answer("Does it fit?", "fail", sentence, tuple(details))
    others = len(study.layout.placements) - packed
    ordered = len(study.case.brief.parts)
    if packed >= wanted and others >= ordered:
        rest = f" and {_count(others, 'other part')}" if others else ""
        return Answer(
            "Does it fit?", "pass", f"Yes: {_count(packed, 'battery module')}{rest} have their place."
        )
    modules, rest = _count(wanted, "battery module"), _count(ordered, "other part")
    short = f"No: {packed} of {modules} and {others} of {rest} have their place."
    if study.placed is not None:
        count = study.placed.count
        proven = "proven" if count.proven else "not proven to be the most"
        details.append(
            f"At most {count.upper_bound} modules could go in ({count.bound_basis}); {packed} is {proven}."
        )
    return Answer("Does it fit?", "fail", short, tuple(details))


def _axle_answer(study: Study) -> Answer | None:
    weighing = study.weighing
    if weighing is None:
        return None
    change, plate = weighing.change, study.case.vehicle.plated
    sentence = (
        f"In kerb state the front axle carries {_change(weighing, 0)}, the rear axle {_change(weighing, 1)}; "
        f"the whole vehicle is {figure(change.mass, signed=True)} kg."
    )
    laden = [state for state in weighing.states if state.name not in (ORIGINAL, CONVERTED)]
    details = [
        f"{_sentence(state.name)}: front {figure(state.axle[0], 0)} of {number(plate.front_axle_kg, 0)} kg, "
        f"rear {figure(state.axle[1], 0)} of {number(plate.rear_axle_kg, 0)} kg, "
        f"altogether {figure(state.mass, 0)} of {number(plate.gross_kg, 0)} kg."
        for state in laden
    ]
    axle = [check for check in weighing.checks if check.id.startswith(("axle.", "gross.", "mass.", "tyre."))]
    return Answer("What do the axles carry?", _gravest(axle), sentence, tuple(details))


def _change(weighing: Weighing, axle: int) -> str:
    before, after = (weighing.state(name).axle[axle].value for name in (ORIGINAL, CONVERTED))
    return f"{number(after, 0)} kg after {number(before, 0)} kg ({figure(weighing.change.axle[axle], signed=True)} kg)"


def _sentence(text: str) -> str:
    """The text with a capital letter."""
    return text[:1].upper() + text[1:]


def _hold(study: Study) -> Answer:
    found = Counter(check.verdict for check in study.checks)
    words: dict[Verdict, tuple[str, str]] = {
        "fail": ("fails", "fail"),
        "unknown": ("lacks an input", "lack an input"),
        "marginal": ("is marginal", "are marginal"),
    }
    said: list[str] = []
    for verdict, forms in words.items():
        count = found[verdict]
        if count:
            said.append(f"{count} {forms[count > 1]}")
    if not study.checks:
        return Answer("Does it hold?", "unknown", "Nothing was checked.")
    total = _count(len(study.checks), "check")
    sentence = f"Of {total}, {', '.join(said)}." if said else f"Yes: {total} made, every one holds."
    failures = tuple(in_words(check) for check in study.checks if check.verdict == "fail")
    shown = failures if len(failures) <= SHOWN + 1 else failures[:SHOWN]
    more = (f"And {len(failures) - SHOWN} more: see the checks.",) if len(shown) < len(failures) else ()
    return Answer("Does it hold?", _gravest(study.checks), sentence, (*shown, *more))


def _gravest(checks: Iterable[Check]) -> Verdict:
    found = {check.verdict for check in checks}
    for verdict in SIGNS:
        if verdict in found:
            return verdict
    return "unknown"


def _count(count: int, word: str) -> str:
    return f"{count} {word}{'' if count == 1 else 's'}"


def places_of(check: Check) -> int:
    """Places after the point of a check's figures: none for counts and newtons, two or more for shares."""
    if check.unit == "N":
        return 0
    limit = abs(check.limit or 0.0)
    if check.unit == "1":
        return 2 if limit == 0 else max(2, ceil(-log10(limit)) + 1)
    figures = [value for value in (check.value, check.limit) if value is not None]
    return 0 if not check.tolerance and all(value == int(value) for value in figures) else 1


def unit_of(check: Check) -> str:
    """Unit of a check as it is written: nothing for a bare figure."""
    return "" if check.unit == "1" else check.unit


def in_words(check: Check) -> str:
    """A check as a sentence: what was found, what is allowed, by how much it misses, what would help."""
    if check.value is None or check.limit is None:
        return f"{_sentence(check.title)}: not known. {_sentence(check.note)}".strip()
    unit = f" {unit_of(check)}" if unit_of(check) else ""
    places = places_of(check)
    found = figure(Measured(check.value, check.tolerance), places)
    bound = f"{'at most' if check.sense == 'max' else 'at least'} {number(check.limit, places)}{unit}"
    miss = ""
    if check.margin is not None and check.verdict == "fail":
        miss = f": {number(-check.margin, places)}{unit} too {'much' if check.sense == 'max' else 'little'}"
    return f"{_sentence(check.title)}: {found}{unit}, allowed {bound}{miss}. {_sentence(check.note)}".strip()
