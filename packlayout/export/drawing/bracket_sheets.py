"""Brackets, six to a sheet: each as it stands, with marks, and what is welded."""

from collections.abc import Mapping, Sequence
from typing import Any

from packlayout.export.drawing.assemblies import Assembly
from packlayout.export.drawing.dimensions import Call, balloons, figure_text
from packlayout.export.drawing.frame_of_sheet import Heading, add_frame, block_box
from packlayout.export.drawing.frame_sheets import list_sheets, plate_points, tube_points
from packlayout.export.drawing.placing import BETWEEN, centred, draw, in_words
from packlayout.export.drawing.sheet import LETTERS_MM, Sheet, Text, shortened
from packlayout.export.drawing.sight import Sight
from packlayout.export.drawing.views import ROUND, compound, view
from packlayout.export.drawing.weld_sheets import numbers
from packlayout.export.piece_marks import mark_of
from packlayout.export.tree import Leaf
from packlayout.frame.tubes import member_box, plate_box
from packlayout.model.brief import Case

_COLUMNS, _ROWS = 3, 2


def bracket_sheets(
    brackets: Sequence[Assembly],
    things: Sequence[Leaf],
    case: Case,
    shapes: Mapping[int, Any],
    heading: Heading,
) -> list[Sheet]:
    """All brackets on as many sheets as they need.

    Args:
        brackets: What is welded or laid together.
        things: All pieces of the frame.
        case: Holds the bodies of the parts.
        shapes: The exact solid of each piece.
        heading: For the title block.
    """
    made: list[Sheet] = []
    step = _COLUMNS * _ROWS
    for first in range(0, len(brackets), step):
        sheet = Sheet("A3", "Brackets", "as stated")
        add_frame(sheet, heading)
        x0, _, x1, y1 = sheet.room
        low = block_box(sheet)[3] + 4
        wide, tall = (x1 - x0 - 8) / _COLUMNS, (y1 - 4 - low) / _ROWS
        for n, bracket in enumerate(brackets[first : first + step]):
            left, top = x0 + 4 + (n % _COLUMNS) * wide, y1 - 4 - (n // _COLUMNS) * tall
            _one(sheet, bracket, things, case, shapes, (left, top - tall, left + wide, top))
        made.append(sheet)
    return [*made, *list_sheets("Brackets, places", _WORDS, _HEAD, _places(brackets), 2, heading)]


_WORDS = "Lowest and highest corner of each piece as it stands, mm, vehicle axes: x rearward, y to the right, z up."
_HEAD = ("mark", "piece", "from x", "y", "z", "to x", "y", "z")


def _places(brackets: Sequence[Assembly]) -> list[tuple[str, ...]]:
    rows: list[tuple[str, ...]] = []
    for bracket in brackets:
        marks = mark_of((*bracket.tubes, *bracket.plates))
        boxes = [(m.name, member_box(m)) for m in bracket.frame.members]
        boxes += [(p.name, plate_box(p)) for p in bracket.frame.plates]
        rows += [
            (
                marks[name],
                name,
                *(figure_text(v).replace("-", "−") for v in (*box.lo, *box.hi)),
            )
            for name, box in boxes
        ]
    return rows


def _one(
    sheet: Sheet, bracket: Assembly, things: Sequence[Leaf], case: Case, shapes: Mapping[int, Any],
    room: tuple[float, float, float, float],
) -> None:  # fmt: skip
    names = {piece.name for piece in (*bracket.frame.members, *bracket.frame.plates)}
    own = [leaf for leaf in things if leaf.piece.name in names]
    x0, y0, x1, y1 = room
    seen = view(compound(own, case, shapes, ROUND), ROUND)
    placed = centred(seen, (x0 + 20, y0 + 32, x1 - 20, y1 - 20), BETWEEN)
    draw(sheet, placed, name=bracket.title)
    sight = Sight(own, case, ROUND)
    calls = [
        Call(m.mark, *placed.seen(sight.best([at for t in m.members for at in tube_points(t)])))
        for m in bracket.tubes
    ]
    calls += [
        Call(m.mark, *placed.seen(sight.best([at for p in m.plates for at in plate_points(p)])))
        for m in bracket.plates
    ]
    balloons(sheet, placed, calls, ("above", "right", "left"), 9.0)
    pieces = [f"{len(m.members)} x {m.mark}" for m in bracket.tubes]
    pieces += [f"{len(m.plates)} x {m.mark}" for m in bracket.plates]
    seams = f"Welds: {numbers(w.order for w in bracket.welds)}." if bracket.welds else "Nothing is welded."
    lines = (f"{bracket.title}, {in_words(placed.scale)}", ", ".join(pieces), seams)
    for k, line in enumerate(lines):
        words = shortened(line, x1 - x0 - 8, LETTERS_MM, bold=not k)
        sheet.write(Text(x0 + 3, y0 + 16 - 4.4 * k, words, LETTERS_MM, bold=not k))
