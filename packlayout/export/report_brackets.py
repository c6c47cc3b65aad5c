"""The report's section on brackets: what holds each part that no module cradle holds by itself."""

from packlayout.export.blocks import Block, Head, Table, Text
from packlayout.export.figures import number, point
from packlayout.frame.bearing import BracketReport
from packlayout.frame.design import Designed


def brackets(designed: Designed) -> list[Block]:
    """Each bracket with its utilisation, and what it hands on where it is bolted."""
    head: Block = Head("Brackets", "brackets")
    if not designed.brackets:
        return [head, Text("There are none: no part wants one, or none was found; the checks say which.")]
    rows = tuple(
        (" and ".join(b.parts), b.onto, "cradle" if b.cradle is not None else "body", ", ".join(b.flats),
         number(b.mass_kg, 2), number(b.utilisation, 2), b.by, b.load_case)
        for b in designed.brackets
    )  # fmt: skip
    columns = (
        "holds",
        "bolted to",
        "carried by",
        "strips",
        "mass, kg",
        "utilisation",
        "governed by",
        "load case",
    )
    caption = "Where a bracket is carried by the body, an engineer judges the old metal by the forces below"
    return [head, Table(columns, rows, frozenset((4, 5)), caption), _loads(designed)]


def _loads(designed: Designed) -> Table:
    rows: list[tuple[str, ...]] = []
    for bracket in designed.brackets:
        for hold in bracket.holds:
            worst = max(hold.loads, key=lambda load: load.size_n)
            rows.append((
                " and ".join(bracket.parts), hold.onto, point(hold.at), f"{hold.bolts}{_behind(hold.from_behind)}",
                worst.load_case, number(worst.size_n, 0), number(max(0.0, worst.pull_n), 0), number(worst.shear_n, 0),
            ))  # fmt: skip
    columns = (
        "holds",
        "bolted to",
        "at x, y, z, mm",
        "bolts",
        "worst load case",
        "whole, N",
        "pull, N",
        "shear, N",
    )
    return Table(columns, tuple(rows), frozenset((2, 5, 6, 7)), "What each place has to take", close=True)


def _behind(from_behind: bool) -> str:
    return ", from behind the panel" if from_behind else ""


def bracket_lines(found: tuple[BracketReport, ...]) -> list[tuple[str, ...]]:
    """Rows for the terminal, under `BRACKET_HEAD`."""
    return [
        (
            " and ".join(b.parts),
            b.onto,
            ", ".join(b.flats),
            f"{b.mass_kg:.2f}",
            f"{b.utilisation:.2f}",
            b.load_case,
        )
        for b in found
    ]


BRACKET_HEAD = ("bracket of", "bolted to", "strips", "kg", "used", "worst load case")
