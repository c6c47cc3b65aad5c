"""Dimensions after ISO 129-1: single ones with two arrows, running ones from a datum edge; and balloons."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Literal

from packlayout.export.drawing.placing import Placed, spread
from packlayout.export.drawing.sheet import LETTERS_MM, Anchor, Circle, Rect, Sheet, Text, arrow, text_width

Edge = Literal["below", "above", "left", "right"]
_FROM_VIEW, _BEYOND = 1.0, 1.5
BALLOON_MM = 3.6


def figure_text(value: float) -> str:
    """A dimension in mm: whole ones without a point."""
    return f"{value:.1f}".removesuffix(".0")


def single(
    sheet: Sheet,
    placed: Placed,
    ends: tuple[tuple[float, float], tuple[float, float]],
    edge: Edge,
    away: float,
    text: str,
) -> None:
    """One dimension between two points of a view.

    Args:
        sheet: Drawn on.
        placed: The view.
        ends: Two points of the view, mm at full size.
        edge: On which side of the view the dimension line lies.
        away: How far from the view, mm on paper.
        text: What it says.
    """
    (ax, ay), (bx, by) = (placed.at(p) for p in ends)
    x0, y0, x1, y1 = placed.box
    if edge in ("below", "above"):
        y = y0 - away if edge == "below" else y1 + away
        beyond = -_BEYOND if edge == "below" else _BEYOND
        for x, from_y in ((ax, ay), (bx, by)):
            sheet.stroke(
                ((x, from_y + (_FROM_VIEW if edge == "above" else -_FROM_VIEW)), (x, y + beyond)), "thin"
            )
        line = ((min(ax, bx), y), (max(ax, bx), y))
        middle = Text((ax + bx) / 2, y + 0.9, text, LETTERS_MM, "middle")
    else:
        x = x0 - away if edge == "left" else x1 + away
        beyond = -_BEYOND if edge == "left" else _BEYOND
        for from_x, y in ((ax, ay), (bx, by)):
            sheet.stroke(
                ((from_x + (_FROM_VIEW if edge == "right" else -_FROM_VIEW), y), (x + beyond, y)), "thin"
            )
        line = ((x, min(ay, by)), (x, max(ay, by)))
        middle = Text(x - 0.9, (ay + by) / 2, text, LETTERS_MM, "middle", 90.0)
    sheet.stroke(line, "thin")
    arrow(sheet, line[0], line[1])
    arrow(sheet, line[1], line[0])
    sheet.write(middle, within=True)
    sheet.take("dimension", text, around(middle.box, (*line[0], *line[1])))


def running(
    sheet: Sheet,
    placed: Placed,
    datum: float,
    places: Mapping[float, float],
    edge: Edge,
    away: float,
    name: str,
) -> None:
    """Running dimensions from a datum: one line each, the figures at its end, moved apart where they would touch.

    Args:
        sheet: Drawn on.
        placed: The view.
        datum: Coordinate of the datum in the view, mm at full size, along the edge.
        places: Coordinate along the edge of what is dimensioned -> the other one, where its line begins.
        edge: On which side of the view the figures stand.
        away: From the view to the figures, mm on paper.
        name: What is dimensioned, for the register.
    """
    level = edge in ("below", "above")
    x0, y0, x1, y1 = placed.box
    sign = 1 if edge in ("above", "right") else -1
    face = {"below": y0, "above": y1, "left": x0, "right": x1}[edge]
    from_edge = {"below": placed.view.box[1], "above": placed.view.box[3], "left": placed.view.box[0],
                 "right": placed.view.box[2]}[edge]  # fmt: skip
    begins = {round(place, 2): begin for place, begin in places.items()}
    begins.setdefault(round(datum, 2), from_edge)
    rows = sorted(begins)
    along, across = (0, 1) if level else (1, 0)
    on_paper = [placed.at((row, row))[along] for row in rows]
    low, high = (sheet.room[0], sheet.room[2]) if level else (sheet.room[1], sheet.room[3])
    spots = spread(on_paper, LETTERS_MM * 1.35, low + 3, high - 3)
    knee, tip = face + sign * (_FROM_VIEW + 2), face + sign * away
    boxes: list[Rect] = []
    for row, start, spot in zip(rows, on_paper, spots, strict=True):
        foot = placed.at((begins[row], begins[row]))[across] + sign * _FROM_VIEW
        path = ((start, foot), (start, knee), (spot, tip - sign * 2), (spot, tip))
        sheet.stroke(path if level else tuple((b, a) for a, b in path), "thin")
        words = figure_text(row - datum).replace("-", "−")
        anchor: Anchor = "start" if sign > 0 else "end"
        centre, end = LETTERS_MM * 0.36, tip + sign * 1.0
        text = (
            Text(spot + centre, end, words, LETTERS_MM, anchor, 90.0)
            if level
            else Text(end, spot - centre, words, LETTERS_MM, anchor)
        )
        sheet.write(text, within=True)
        boxes.append(text.box)
        if abs(row - datum) < 0.005:
            sheet.marks.append(Circle(*((start, knee) if level else (knee, start)), 0.9, "thin"))
    whole = boxes[0]
    for box in boxes[1:]:
        whole = around(whole, box)
    near, far = sorted((knee, tip))
    strip = (whole[0], near, whole[2], far) if level else (near, whole[1], far, whole[3])
    sheet.take("dimension", name, around(whole, strip))


def around(a: Rect, b: Rect) -> Rect:
    """The rectangle around two."""
    return (
        min(a[0], b[0], b[2]), min(a[1], b[1], b[3]), max(a[2], b[0], b[2]), max(a[3], b[1], b[3]),
    )  # fmt: skip


@dataclass(frozen=True, slots=True)
class Call:
    """A balloon: what it says and what it points at, on the sheet."""

    text: str
    x: float
    y: float


def balloons(sheet: Sheet, placed: Placed, calls: Sequence[Call], edges: Sequence[Edge], away: float) -> None:
    """Balloons in rows beside a view, each with a leader that ends in a dot.

    They are shared out among the given sides of the view by where they point, and stand in that order, so that
    leaders do not cross within a row.
    """
    x0, y0, x1, y1 = placed.box
    radius = max([BALLOON_MM, *(text_width(c.text, LETTERS_MM) / 2 + 1.2 for c in calls)])
    step = 2 * radius + 1.0
    groups: dict[Edge, list[Call]] = {edge: [] for edge in edges}

    def gap(edge: Edge, call: Call) -> float:
        return {"above": y1 - call.y, "below": call.y - y0, "left": call.x - x0, "right": x1 - call.x}[edge]

    def room(edge: Edge) -> float:
        return (x1 - x0 if edge in ("above", "below") else y1 - y0) + 2 * away

    for call in calls:
        open_edges: list[Edge] = [e for e in edges if (len(groups[e]) + 1) * step <= room(e)] or list(edges)
        best = open_edges[0]
        for edge in open_edges[1:]:
            if (gap(edge, call), len(groups[edge])) < (gap(best, call), len(groups[best])):
                best = edge
        groups[best].append(call)
    for edge, found in groups.items():
        along = 0 if edge in ("above", "below") else 1
        found.sort(key=lambda c: (c.x, c.y) if along == 0 else (c.y, c.x))
        wanted = [(c.x, c.y)[along] for c in found]
        lo, hi = ((x0, x1), (y0, y1))[along]
        lo, hi = lo - away + radius, hi + away - radius
        line = {"above": y1 + away, "below": y0 - away, "left": x0 - away, "right": x1 + away}[edge]
        for call, spot in zip(found, spread(wanted, step, lo, hi), strict=True):
            centre = (spot, line) if along == 0 else (line, spot)
            _balloon(sheet, call, centre, radius)


def _balloon(sheet: Sheet, call: Call, centre: tuple[float, float], radius: float) -> None:
    dx, dy = call.x - centre[0], call.y - centre[1]
    length = max((dx * dx + dy * dy) ** 0.5, 1e-9)
    start = (centre[0] + dx / length * radius, centre[1] + dy / length * radius)
    sheet.stroke((start, (call.x, call.y)), "leader")
    sheet.marks += [Circle(call.x, call.y, 0.35, "visible"), Circle(*centre, radius, "thin")]
    sheet.write(Text(centre[0], centre[1] - LETTERS_MM * 0.36, call.text, LETTERS_MM, "middle"), within=True)
    x, y = centre
    sheet.take("balloon", call.text, (x - radius, y - radius, x + radius, y + radius))
