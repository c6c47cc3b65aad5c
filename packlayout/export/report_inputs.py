"""Every input that is a figure: its value with tolerance, its unit, where it is from. Read off the records themselves."""

from collections.abc import Iterator, Mapping

from packlayout.export.blocks import Block, Head, Table, Text
from packlayout.export.figures import figure, number
from packlayout.model.brief import Case
from packlayout.model.layout import Layout
from packlayout.model.record import Record, file_name
from packlayout.units import LABEL, Measured

_SHAPES = frozenset({"outline", "stations", "scan", "polygon", "points"})
"""Fields that are whole shapes: their files are named among the inputs."""
_LONG = 12


def input_blocks(case: Case, layout: Layout | None) -> list[Block]:
    """One table for the vehicle, one for the parts that are used, one for the brief."""
    used = (
        dict.fromkeys(p.part for p in layout.placements) if layout is not None else dict.fromkeys(case.parts)
    )
    parts = [row for key in used for row in _figures(case.parts[key], case.parts[key].name, "")]
    head = ("figure", "value", "unit", "from")
    shares = (0.34, 0.26, 0.08, 0.32)
    made: list[Block] = [
        Head("Every figure that was given", "figures"),
        Text(
            "As read, in the units of this report; a tolerance is a 95 % half-width. What bears none is taken as exact."
        ),
    ]
    for title, rows in (
        ("The vehicle", list(_figures(case.vehicle, "", ""))), ("Parts", parts),
        ("The brief", list(_figures(case.brief, "", ""))),
    ):  # fmt: skip
        made.append(Table(head, tuple(rows), frozenset((1,)), title, close=True, shares=shares))
    return made


def _figures(record: Record, name: str, source: str) -> Iterator[tuple[str, str, str, str]]:
    """Rows of one record and of those in it; a source holds for all below it that have none of their own."""
    own = getattr(record, "source", "") or source
    told: Mapping[str, str] = getattr(record, "sources", None) or {}
    for field in type(record).model_fields:
        value = getattr(record, field)
        short = file_name(field)
        if short in _SHAPES or value is None:
            continue
        words = f"{name}: {short.replace('_', ' ')}" if name else short.replace("_", " ")
        yield from _value(value, words, field, told.get(short, told.get(field, own)))


def _value(value: object, words: str, field: str, source: str) -> Iterator[tuple[str, str, str, str]]:
    unit = next((u for u in sorted(LABEL, key=len, reverse=True) if field.endswith(f"_{u}")), "")
    if isinstance(value, Record):
        yield from _figures(value, words, source)
    elif isinstance(value, Measured):
        yield words, _told(value), LABEL.get(unit, ""), source
    elif isinstance(value, bool | str):
        return
    elif isinstance(value, int | float):
        yield words, number(float(value), _places(float(value))), LABEL.get(unit, ""), source
    elif isinstance(value, tuple):
        yield from _several(value, words, field, unit, source)


def _several(
    value: tuple[object, ...], words: str, field: str, unit: str, source: str
) -> Iterator[tuple[str, str, str, str]]:
    """Records under their names; a few figures in one row; positions and sizes are mm."""
    records = [item for item in value if isinstance(item, Record)]
    if records:
        for n, item in enumerate(records, start=1):
            title = getattr(item, "name", None) or f"{words} {n}"
            yield from _figures(item, str(title), source)
        return
    cells: list[str] = []
    for item in value:
        if isinstance(item, Measured):
            cells.append(_told(item))
        elif isinstance(item, int | float) and not isinstance(item, bool):
            cells.append(number(float(item), _places(float(item))))
    if cells and len(cells) == len(value) <= _LONG:
        length = field in ("at", "cg", "size", "corner", "opposite", "start", "end")
        yield words, ", ".join(cells), "mm" if length else LABEL.get(unit, ""), source


def _told(found: Measured) -> str:
    return figure(found, max(_places(found.value), _places(found.tolerance)))


def _places(value: float) -> int:
    """As many places as the figure bears, three at most."""
    return next((n for n in range(3) if abs(round(value, n) - value) < 1e-9), 3)
