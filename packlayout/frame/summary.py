"""What a frame comes down to: its worst checks, what weighs what, and its use by load case."""

from collections.abc import Sequence
from dataclasses import dataclass
from math import inf

from packlayout.frame.design import Designed
from packlayout.frame.generate import Generated
from packlayout.model.check import Check

TEN = 10


@dataclass(frozen=True, slots=True)
class WorstRow:
    """One of the checks that have least in hand.

    Attributes:
        check: As judged.
        used: How much of its limit is used: 1 is the limit, whichever way it counts.
    """

    check: Check
    used: float


@dataclass(frozen=True, slots=True)
class MassRow:
    """One kind of piece.

    Attributes:
        what: `core: rails`, `adapter: foot plates`, `brackets: charger`.
        count: How many.
        mass_kg: Together.
        share: Of the whole frame.
    """

    what: str
    count: int
    mass_kg: float
    share: float


@dataclass(frozen=True, slots=True)
class CaseRow:
    """One load case.

    Attributes:
        load_case: Its name.
        worst: Largest utilisation of a tube.
        member: Which.
        by_member: Utilisation of every tube, in the order of `Designed.members`: for pictures by colour.
    """

    load_case: str
    worst: float
    member: str
    by_member: tuple[float, ...]


def used_of(check: Check) -> float:
    """How much of its limit a check uses; infinite where it fails outright or cannot be told."""
    if check.value is None or check.limit is None:
        return inf
    if check.sense == "max":
        return check.value / check.limit if check.limit > 0 else inf if check.value > check.limit else 0.0
    if check.value <= 0:
        return inf if check.limit > check.value else 1.0
    return max(check.limit, 0.0) / check.value


def ten_worst(checks: Sequence[Check], count: int = TEN) -> tuple[WorstRow, ...]:
    """The checks with least in hand, the worst first; those of counts and of balance are not among them."""
    rows = [
        WorstRow(c, used_of(c)) for c in checks if c.unit not in ("sections", "legs", "tubes", "brackets")
    ]
    rows = [r for r in rows if r.check.id not in ("frame.balance", "frame.wall")]
    return tuple(sorted(rows, key=lambda r: (-r.used, r.check.id))[:count])


_KINDS = (
    (" brace ", "adapter: knee braces"), ("foot plate ", "adapter: foot plates"), (" lip ", "core: lips"),
    (" end plate ", "core: end plates of bars"), (" rail ", "core: rails"), (" post ", "core: posts"),
    (" stud ", "core: studs"), (" bar ", "core: bars"),
)  # fmt: skip


def mass_rows(made: Generated) -> tuple[MassRow, ...]:
    """Mass of a frame by kind of piece, the heaviest first."""
    found: dict[str, tuple[int, float]] = {}
    for piece in (*made.frame.members, *made.frame.plates):
        what = _kind(piece.group, piece.name)
        count, kg = found.get(what, (0, 0.0))
        found[what] = (count + 1, kg + piece.mass_item(made.frame.material).mass.value)
    whole = sum(kg for _, kg in found.values())
    rows = [MassRow(what, count, kg, kg / whole) for what, (count, kg) in found.items()]
    return tuple(sorted(rows, key=lambda r: (-r.mass_kg, r.what)))


def _kind(group: str, name: str) -> str:
    if group.startswith("bracket "):
        return f"brackets: {group.removeprefix('bracket ')}"
    if group.startswith("link "):
        return "core: links"
    return next((what for word, what in _KINDS if word in name), "adapter: legs")


def by_case(designed: Designed) -> tuple[CaseRow, ...]:
    """How far every tube is used in each load case."""
    rows: list[CaseRow] = []
    for n, name in enumerate(designed.cases):
        used = tuple(m.by_case[n] for m in designed.members)
        if used:
            k = max(range(len(used)), key=lambda i: used[i])
            rows.append(CaseRow(name, used[k], designed.members[k].name, used))
    return tuple(rows)
