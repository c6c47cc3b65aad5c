"""What a placement run answers: layouts, counts, and why not more."""

from dataclasses import dataclass

from packlayout.model.check import Check
from packlayout.model.layout import Layout


@dataclass(frozen=True, slots=True)
class Scored:
    """A layout and its figure for each aim.

    Attributes:
        layout: Where everything stands.
        objectives: Aim -> what it came to, in the unit of its key (`front_axle_change_kg`, ...).
        score: The weighed sum that the search made small.
        structure: How it is built, in words; layouts with the same words differ by shifts only.
    """

    layout: Layout
    objectives: dict[str, float]
    score: float
    structure: str = ""


@dataclass(frozen=True, slots=True)
class Count:
    """How many modules.

    Attributes:
        wanted: Asked for by the brief.
        packed: Placed.
        upper_bound: No layout can hold more.
        proven: True when packed meets the upper bound or what was wanted.
        bound_basis: What the bound rests on, in words.
        proof: What `proven` rests on, in words; empty when it is not proven.
    """

    wanted: int
    packed: int
    upper_bound: int
    proven: bool
    bound_basis: str
    proof: str = ""


@dataclass(frozen=True, slots=True)
class Change:
    """One change to the job that lets more modules in, found by solving again.

    Attributes:
        words: What to change, and by how much.
        size_mm: How large the change is; 0 for one that is not a length.
        modules: How many modules are placed then.
        kind: `keep-out`, `surface`, `clearance`, `orientation`, `blocks`, `zone` or `part`.
    """

    words: str
    size_mm: float
    modules: int
    kind: str


@dataclass(frozen=True, slots=True)
class Placed:
    """The answer of `place`.

    Attributes:
        layouts: Best first; at least one when anything could be placed.
        count: Modules.
        why_not_more: Sentences; empty when all was placed.
        changes: Smallest single changes that let one more module in, each tried out, smallest first.
        stopped: Why the search ended before its time: `time limit`, `interrupted`, or empty.
        checks: Counts, clearances, access.
        dropped: Layouts that the exact check refused, by reason.
    """

    layouts: tuple[Scored, ...]
    count: Count
    why_not_more: tuple[str, ...]
    checks: tuple[Check, ...]
    dropped: tuple[str, ...] = ()
    changes: tuple["Change", ...] = ()
    stopped: str = ""
