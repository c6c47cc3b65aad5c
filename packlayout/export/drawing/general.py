"""The general arrangement: the vehicle's outline with everything that is put into it, from four sides."""

from collections.abc import Sequence
from dataclasses import replace
from math import atan2, cos, pi, radians, sin

from packlayout.export.danger import danger
from packlayout.export.drawing.dimensions import Call, balloons, figure_text, single
from packlayout.export.drawing.frame_of_sheet import Heading, add_frame, block_box
from packlayout.export.drawing.placing import (
    BETWEEN,
    Placed,
    centred,
    clear_of,
    draw,
    in_words,
)
from packlayout.export.drawing.sheet import LETTERS_MM, Circle, Sheet, Text, shortened
from packlayout.export.drawing.sight import Sight
from packlayout.export.drawing.tables import add_table, table_size
from packlayout.export.drawing.views import FRONT, ROUND, SIDE, TOP, View
from packlayout.export.figures import number
from packlayout.model.brief import Case
from packlayout.model.geometry import Vec
from packlayout.model.layout import Placement
from packlayout.study import Study


def general_sheet(study: Study, views: dict[str, View], heading: Heading) -> Sheet:
    """Draw the general arrangement on A3.

    Args:
        study: What was computed.
        views: By the name of the look: everything that was placed, and the frame.
        heading: For the title block.
    """
    case = study.case
    sheet = Sheet("A3", "General arrangement")
    x0, y0, x1, y1 = sheet.room
    seen = (
        with_car(views[SIDE.name], case),
        with_car(views[FRONT.name], case),
        with_car(views[TOP.name], case),
    )
    room = (x0 + 18, y0 + 16, x1 - 14, y1 - 16)
    below = 3.0 if heading.projection == "first" else 18.0  # in third angle dimensions stand there
    side, front, top = clear_of(block_box(sheet), seen, room, (20.0, 20.0), heading.projection, below)
    sheet.scale = in_words(side.scale)
    add_frame(sheet, heading)
    for placed in (side, front, top):
        draw(sheet, placed)
        car_lines(sheet, placed, case)
    _sizes(sheet, case, side, front)
    for k, line in enumerate(danger(study)):
        note(sheet, x0 + 4, y1 - 6 - 4.4 * k, (shortened(line, x1 - x0 - 8, LETTERS_MM),))
    rows, calls = _items(study)
    balloons(sheet, side, [Call(mark, *side.seen(_middle(p))) for mark, p in calls], ("above",), 9.0)
    head = ("item", "part", "pieces", "mass, kg", "at x", "y", "z, mm")
    widths, tall = table_size(head, rows, 55.0)
    spot = (x1 - 2 - sum(widths), block_box(sheet)[3] + 4 + tall)
    if sheet.free((spot[0], spot[1] - tall, x1 - 2, spot[1])):
        add_table(sheet, *spot, head, rows, name="parts", figures=frozenset((2, 3, 4, 5, 6)), widest=55.0)
    return sheet


def parts_sheet(study: Study, views: dict[str, View], heading: Heading, sight: Sight) -> Sheet:
    """The isometric view with the parts list, on A3; leaders end where a part shows."""
    sheet = Sheet("A3", "General arrangement, isometric")
    x0, _, x1, y1 = sheet.room
    box = block_box(sheet)
    placed = centred(
        with_car(views[ROUND.name], study.case), (x0 + 22, box[3] + 20, x1 - 118, y1 - 20), BETWEEN
    )
    sheet.scale = in_words(placed.scale)
    add_frame(sheet, heading)
    draw(sheet, placed)
    car_lines(sheet, placed, study.case)
    rows, calls = _items(study)
    around = ("left", "above", "right", "below")
    points = [(mark, sight.best(_faces(p))) for mark, p in calls]
    balloons(sheet, placed, [Call(mark, *placed.seen(at)) for mark, at in points], around, 9.0)
    add_table(sheet, x1 - 106, y1 - 8, ("item", "part", "pieces", "mass, kg"), rows_short(rows), name="parts",
              figures=frozenset((2, 3)), widest=60.0)  # fmt: skip
    return sheet


def rows_short(rows: list[tuple[str, ...]]) -> list[tuple[str, ...]]:
    """The parts list without places."""
    return [row[:4] for row in rows]


def with_car(view: View, case: Case) -> View:
    """The same view with room for the vehicle's outline and the ground."""
    xs, zs = zip(*case.vehicle.outline.side, strict=True)
    half = case.vehicle.outline.width_mm / 2
    corners = [(x, y, z) for x in (min(xs), max(xs)) for y in (-half, half) for z in (0.0, max(zs))]
    flat = [view.look.seen(corner) for corner in corners]
    box = {
        ROUND.name: (
            min(p[0] for p in flat),
            min(p[1] for p in flat),
            max(p[0] for p in flat),
            max(p[1] for p in flat),
        ),
        SIDE.name: (min(xs), 0.0, max(xs), max(zs)),
        FRONT.name: (-half, 0.0, half, max(zs)),
        TOP.name: (min(xs), -half, max(xs), half),
    }[view.look.name]
    a = view.box
    return replace(view, box=(min(a[0], box[0]), min(a[1], box[1]), max(a[2], box[2]), max(a[3], box[3])))


def car_lines(sheet: Sheet, placed: Placed, case: Case) -> None:
    """What is known of the vehicle's shape, in lines with two dots: it is not part of what is made."""
    car = case.vehicle
    xs, zs = zip(*car.outline.side, strict=True)
    half, high = car.outline.width_mm / 2, max(zs)
    name = placed.view.look.name
    if name == ROUND.name:
        for y in (-half, half):
            outline = [*car.outline.side, car.outline.side[0]]
            sheet.stroke(tuple(placed.seen((x, y, z)) for x, z in outline), "phantom")
        for x, z in _corners(car.outline.side):
            sheet.stroke((placed.seen((x, -half, z)), placed.seen((x, half, z))), "thin")
        for x, track in ((0.0, car.track_front_mm.value), (car.wheelbase_mm.value, car.track_rear_mm.value)):
            for y in (-track / 2, track / 2):
                sheet.stroke(tuple(placed.seen(p) for p in _rim(x, y, car.tyres.radius_mm)), "phantom")
    elif name == SIDE.name:
        outline = [*car.outline.side, car.outline.side[0]]
        sheet.stroke(tuple(placed.at((x, z)) for x, z in outline), "phantom")
        for x in (0.0, car.wheelbase_mm.value):
            radius = car.tyres.radius_mm
            sheet.marks.append(Circle(*placed.at((x, radius)), radius / placed.scale, "phantom"))
        sheet.stroke((placed.at((min(xs), 0.0)), placed.at((max(xs), 0.0))), "thin")
    elif name == FRONT.name:
        corners = ((-half, min(zs)), (half, min(zs)), (half, high), (-half, high), (-half, min(zs)))
        sheet.stroke(tuple(placed.at(c) for c in corners), "phantom")
        sheet.stroke((placed.at((-half, 0.0)), placed.at((half, 0.0))), "thin")
        sheet.stroke((placed.at((0.0, 0.0)), placed.at((0.0, high))), "centre")
    else:
        corners = ((min(xs), -half), (max(xs), -half), (max(xs), half), (min(xs), half), (min(xs), -half))
        sheet.stroke(tuple(placed.at(c) for c in corners), "phantom")
        sheet.stroke((placed.at((min(xs), 0.0)), placed.at((max(xs), 0.0))), "centre")
        for x in (0.0, car.wheelbase_mm.value):
            sheet.stroke((placed.at((x, -half)), placed.at((x, half))), "centre")


def _corners(outline: Sequence[tuple[float, float]]) -> list[tuple[float, float]]:
    """Points of a closed outline where it turns by more than 25 degrees: edges that an eye sees."""
    made: list[tuple[float, float]] = []
    for before, at, after in zip((outline[-1], *outline), outline, (*outline[1:], outline[0]), strict=False):
        a = atan2(at[1] - before[1], at[0] - before[0])
        b = atan2(after[1] - at[1], after[0] - at[0])
        if abs((b - a + pi) % (2 * pi) - pi) > radians(25):
            made.append(at)
    return made


def _rim(x: float, y: float, radius: float) -> list[tuple[float, float, float]]:
    """Points round a wheel that stands on the ground."""
    turns = [2 * pi * k / 48 for k in range(49)]
    return [(x + radius * cos(t), y, radius + radius * sin(t)) for t in turns]


def _sizes(sheet: Sheet, case: Case, side: Placed, front: Placed) -> None:
    car = case.vehicle
    xs, zs = zip(*car.outline.side, strict=True)
    wheelbase, half = car.wheelbase_mm.value, car.outline.width_mm / 2
    single(sheet, side, ((0.0, 0.0), (wheelbase, 0.0)), "below", 6.0, figure_text(wheelbase))
    single(sheet, side, ((min(xs), 0.0), (max(xs), 0.0)), "below", 13.0, figure_text(max(xs) - min(xs)))
    single(sheet, side, ((min(xs), 0.0), (min(xs), max(zs))), "left", 8.0, figure_text(max(zs)))
    single(sheet, front, ((-half, 0.0), (half, 0.0)), "below", 6.0, figure_text(2 * half))


def _items(study: Study) -> tuple[list[tuple[str, ...]], list[tuple[str, Placement]]]:
    """Parts list, alike parts in one row, and what each balloon points at: the first of them in each block."""
    rows: list[tuple[str, ...]] = []
    calls: list[tuple[str, Placement]] = []
    groups: dict[str, list[Placement]] = {}
    for p in study.layout.placements if study.layout is not None else ():
        groups.setdefault(p.part, []).append(p)
    for n, (key, found) in enumerate(groups.items(), start=1):
        part = study.case.parts[key]
        at = (number(v, 0) for v in found[0].box.lo)
        rows.append((str(n), part.name, str(len(found)), number(part.mass_kg.value * len(found)), *at))
        calls += [(str(n), p) for p in {p.block: p for p in reversed(found)}.values()]
    return rows, calls


def _middle(placement: Placement) -> tuple[float, float, float]:
    return placement.box.centre


def _faces(placement: Placement) -> list[Vec]:
    """Points on the sides of a part that look to the front, the left and upward."""
    lo, hi = placement.box.lo, placement.box.hi
    made: list[Vec] = []
    for axis, face in ((2, hi), (1, lo), (0, lo)):
        for a in (0.5, 0.2, 0.8):
            for b in (0.5, 0.2, 0.8):
                at = [0.0, 0.0, 0.0]
                for k, share in zip((n for n in range(3) if n != axis), (a, b), strict=True):
                    at[k] = lo[k] + share * (hi[k] - lo[k])
                at[axis] = face[axis]
                made.append((at[0], at[1], at[2]))
    return made


def note(sheet: Sheet, x: float, y: float, lines: tuple[str, ...]) -> None:
    """Notes, one under the other."""
    for k, line in enumerate(lines):
        sheet.write(Text(x, y - 4.4 * k, line, LETTERS_MM))
