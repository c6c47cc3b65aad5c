"""Each plate on a sheet of its own: outline to scale, hole table, thickness, material, pieces."""

from collections.abc import Sequence

from packlayout.export.drawing.dimensions import figure_text, running, single
from packlayout.export.drawing.frame_of_sheet import Heading, add_frame, block_box
from packlayout.export.drawing.general import note
from packlayout.export.drawing.placing import centred, draw, in_words
from packlayout.export.drawing.sheet import LETTERS_MM, Circle, Sheet, Text, broken
from packlayout.export.drawing.tables import add_table
from packlayout.export.drawing.views import Look, View
from packlayout.export.figures import together
from packlayout.export.flats import Flat, Outline
from packlayout.export.piece_marks import PlateMark

Ring = tuple[tuple[float, float], ...]
FLAT = Look("true shape", (0.0, 0.0, 1.0), (1.0, 0.0, 0.0))


def plate_sheet(mark: PlateMark, found: Flat, heading: Heading, etched: Sequence[Ring] = ()) -> Sheet:
    """Draw one plate on A4.

    Args:
        mark: What it is.
        found: Its outline and holes.
        heading: For the title block.
        etched: Where tubes stand on it.
    """
    sheet = Sheet("A4", f"Plate {mark.mark}, {figure_text(mark.size[2])} mm")
    x0, _, x1, y1 = sheet.room
    box = block_box(sheet)
    seen = outline_view(found)
    rows = [
        (str(n), figure_text(x), figure_text(y), figure_text(d))
        for n, (x, y, d) in enumerate(found.circles, start=1)
    ]
    count = f"{len(mark.plates)} piece{'s' if len(mark.plates) > 1 else ''}"
    pieces = broken(f"{count}: {together(p.name for p in mark.plates)}", x1 - x0 - 12, LETTERS_MM)
    under = box[3] + 40 + 4.6 * (len(rows) + 1) + 4.4 * (len(pieces) - 1)
    placed = centred(seen, (x0 + 24, under, x1 - 24, y1 - 24))
    sheet.scale = in_words(placed.scale)
    add_frame(sheet, heading)
    draw(sheet, placed)
    for ring in etched:
        sheet.stroke(tuple(placed.at(p) for p in (*ring, ring[0])), "phantom")
    wide, tall = seen.box[2], seen.box[3]
    for n, (x, y, d) in enumerate(found.circles, start=1):
        px, py = placed.at((x, y))
        radius = d / 2 / placed.scale
        sheet.marks.append(Circle(px, py, radius, "visible"))
        for dx, dy in ((1.0, 0.0), (0.0, 1.0)):
            reach = radius + 2
            sheet.stroke(((px - reach * dx, py - reach * dy), (px + reach * dx, py + reach * dy)), "centre")
        sheet.write(Text(px + radius * 0.75 + 0.8, py + radius * 0.75 + 0.8, str(n)), within=True)
    single(sheet, placed, ((0.0, tall), (wide, tall)), "above", 8.0, figure_text(wide))
    single(sheet, placed, ((wide, 0.0), (wide, tall)), "right", 8.0, figure_text(tall))
    if found.circles:
        running(sheet, placed, 0.0, {x: y for x, y, _ in found.circles}, "below", 9.0, "x of the holes")
        running(
            sheet, placed, 0.0, {y: x for x, y, _ in reversed(found.circles)}, "left", 9.0, "y of the holes"
        )
    y = under - 24
    if rows:
        _, high = add_table(
            sheet, x0 + 6, y, ("hole", "x", "y", "Ø"), rows, name="holes", figures=frozenset((1, 2, 3))
        )
        y -= high + 6
    lines = [
        *pieces,
        f"Cut to plates/{mark.mark}.dxf; deburr, break edges 0.5 mm.",
    ]
    lines += ["Line with two dots: where the tube stands; etched."] if etched else []
    note(sheet, x0 + 6, y, tuple(lines))
    return sheet


def outline_view(found: Flat) -> View:
    """The outline of a plate as a view; round pieces broken up finely."""
    paths = tuple(_polyline(o) for o in found.outlines)
    xs = [x for path in paths for x, _ in path]
    ys = [y for path in paths for _, y in path]
    return View(FLAT, paths, (), (min(xs), min(ys), max(xs), max(ys)))


def _polyline(outline: Outline) -> tuple[tuple[float, float], ...]:
    from ezdxf import path
    from ezdxf.filemanagement import new

    line = new().modelspace().add_lwpolyline(outline.corners, format="xyb", close=True)
    points = [(float(v.x), float(v.y)) for v in path.make_path(line).flattening(0.02)]
    return tuple(points)
