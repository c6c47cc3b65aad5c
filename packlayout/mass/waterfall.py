"""The ledger as steps from the original to the converted kerb mass, for a chart."""

from dataclasses import dataclass
from itertools import groupby

from packlayout.model.brief import Case
from packlayout.model.geometry import MassItem, MassKind
from packlayout.model.layout import Layout

SMALL_KG = 0.05
"""Less than this is a nought in a chart that tells tenths."""


@dataclass(frozen=True, slots=True)
class Step:
    """One step.

    Attributes:
        name: What comes or goes; several of one part are one step, and so are things too light to show.
        kind: Which stage it comes from.
        change_kg: Negative for what is taken out.
        total_kg: Afterwards.
    """

    name: str
    kind: MassKind
    change_kg: float
    total_kg: float


def waterfall(case: Case, layout: Layout, ledger: tuple[MassItem, ...]) -> tuple[Step, ...]:
    """The ledger as steps.

    Args:
        case: Supplies the names of the parts.
        layout: Which placement is which part.
        ledger: Of the weighing.

    Returns:
        The original in kerb state; each thing taken out, the heaviest first; what the survey added; the parts,
        copies of one together; the frame as one. The last total is the converted kerb mass.
    """
    parts = {placement.name: case.parts[placement.part].name for placement in layout.placements}
    original = sum(item.mass.value for item in ledger if _group(item) == 0)
    steps = [Step("original kerb", "original", original, original)]
    total = original
    for group, rows in groupby(sorted((i for i in ledger if _group(i)), key=_group), key=_group):
        lines: dict[str, tuple[MassKind, int, float]] = {}
        for item in rows:
            name = "frame" if item.kind == "frame" else parts.get(item.name, item.name)
            kind, count, kg = lines.get(name, (item.kind, 0, 0.0))
            lines[name] = (kind, count + 1, kg + item.mass.value)
        for name, (kind, count, kg) in sorted(_gathered(lines).items(), key=lambda line: -abs(line[1][2])):
            total += kg
            steps.append(
                Step(f"{name} x {count}" if count > 1 and group == _PARTS else name, kind, kg, total)
            )
    return tuple(steps)


def _gathered(lines: dict[str, tuple[MassKind, int, float]]) -> dict[str, tuple[MassKind, int, float]]:
    """Lines of one group, those too light to show as one; a single one stays as it is."""
    light = {name: line for name, line in lines.items() if abs(line[2]) < SMALL_KG}
    if len(light) < 2:
        return lines
    kind = next(iter(light.values()))[0]
    heavy = {name: line for name, line in lines.items() if name not in light}
    return {
        **heavy,
        f"{len(light)} under {SMALL_KG:g} kg each": (kind, 1, sum(kg for _, _, kg in light.values())),
    }


_PARTS = 3


def _group(item: MassItem) -> int:
    """Order of the steps: original with what brings it to kerb state, out, added, parts, frame and the rest."""
    if item.kind == "original" or (item.kind == "fluid" and item.name != "fuel"):
        return 0
    if item.mass.value < 0:
        return 1
    return {"added": 2, "part": _PARTS}.get(item.kind, 4)
