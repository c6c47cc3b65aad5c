"""`templates.pdf`: drill templates at full size, over as many A4 pages as they need, with bars to check the print."""

from pathlib import Path

from packlayout.errors import ExportError
from packlayout.export.drawing.dimensions import figure_text
from packlayout.export.drawing.paper import write_pdf
from packlayout.export.drawing.placing import Placed
from packlayout.export.drawing.plate_sheets import outline_view
from packlayout.export.drawing.sheet import Circle, Rect, Sheet, Text, shortened
from packlayout.export.flats import Flat, flat
from packlayout.export.pack import Made
from packlayout.export.piece_marks import PlateMark, plate_marks
from packlayout.study import Study

TEMPLATES = "templates.pdf"
WINDOW: Rect = (36.0, 34.0, 198.0, 270.0)
"""Where the drawing goes on a page, mm."""
OVERLAP_MM = 15.0
BAR_MM = 100.0


def write_templates(study: Study, folder: Path, notes: tuple[str, ...]) -> Made:
    """Write a template for each kind of plate that is drilled.

    Args:
        study: What was computed.
        folder: Where to.
        notes: What the exporters before had to say; not needed here.

    Returns:
        The file, or a note why there is none.

    Raises:
        ExportError: when a library is missing.
    """
    try:
        made = template_sheets(study)
    except ImportError as error:
        raise ExportError(f"{TEMPLATES} needs cadquery, ezdxf, shapely and reportlab ({error})") from error
    if not made:
        return Made((), (f"{TEMPLATES} left out: no plate is drilled",))
    title = f"{study.case.vehicle.name}, {study.case.brief.name}: drill templates"
    return Made((write_pdf(made, folder / TEMPLATES, title),))


def template_sheets(study: Study) -> list[Sheet]:
    """All pages: for each mark as many as its plate covers."""
    frame = study.framed.frame if study.framed is not None else None
    made: list[Sheet] = []
    for mark in plate_marks(frame) if frame is not None else ():
        if mark.holes:
            made += _pages(mark, flat(mark.plates[0], study.case), frame.material.name if frame else "")
    return made


def tiles(length: float, window: float) -> tuple[float, ...]:
    """Where each page begins along one side of a plate: as few as may be, each with the overlap over the last."""
    if length <= window:
        return ((length - window) / 2,)  # one page, in its middle
    step = window - OVERLAP_MM
    count = 1 + int(-(-(length - window) // step))
    return tuple(k * step for k in range(count))


def _pages(mark: PlateMark, found: Flat, material: str) -> list[Sheet]:
    x0, y0, x1, y1 = WINDOW
    columns, rows = tiles(mark.size[0], x1 - x0), tiles(mark.size[1], y1 - y0)
    made: list[Sheet] = []
    for r, low in enumerate(rows):
        for c, left in enumerate(columns):
            sheet = Sheet("A4", f"template {mark.mark}", "1:1")
            placed = Placed(outline_view(found), x0 - left, y0 - low, 1.0)
            _draw(sheet, placed, found)
            _bars(sheet)
            page = f"page {r * len(columns) + c + 1} of {len(rows) * len(columns)}"
            where = (
                f", column {c + 1}, row {r + 1} from the lower left" if len(rows) * len(columns) > 1 else ""
            )
            sheet.write(Text(20.0, 282.0, f"Drill template {mark.mark}, {page}{where}", 3.5))
            size = " × ".join(figure_text(v) for v in mark.size)
            pieces = f"{len(mark.plates)} piece{'s' if len(mark.plates) > 1 else ''}"
            words = f"{size} mm {material}, {pieces}. Print at 100 %: both bars must measure 100 mm."
            sheet.write(Text(20.0, 276.0, shortened(words, 178.0, 2.5)))
            _joins(sheet, (c > 0, r > 0, c < len(columns) - 1, r < len(rows) - 1))
            made.append(sheet)
    return made


def _draw(sheet: Sheet, placed: Placed, found: Flat) -> None:
    """What of the plate lies on this page."""
    from shapely import LineString, Point, box

    window = box(*WINDOW)
    drawn: list[Rect] = []
    edge = min(placed.box[2], WINDOW[2])
    lines = [(LineString([placed.at(p) for p in path]), "visible") for path in placed.view.visible]
    for n, (x, y, diameter) in enumerate(found.circles, start=1):
        px, py = placed.at((x, y))
        radius = diameter / 2
        ring = Point(px, py).buffer(radius, quad_segs=32).exterior
        if window.contains(ring):
            sheet.marks.append(Circle(px, py, radius, "thin"))
        else:
            lines.append((LineString(ring.coords), "thin"))
        reach = radius + 4
        lines += [(LineString([(px - reach, py), (px + reach, py)]), "thin"),
                  (LineString([(px, py - reach), (px, py + reach)]), "thin")]  # fmt: skip
        words, off = f"{n}: Ø {figure_text(diameter)}", radius * 0.75 + 1
        label = Text(px + off, py + off, words, 2.5)
        if label.box[2] > edge - 1:
            label = Text(px - off, py + off, words, 2.5, "end")
        if window.contains(box(*label.box)):
            sheet.write(label, within=True)
    for line, kind in lines:
        cut = line.intersection(window)
        for piece in getattr(cut, "geoms", [cut]):
            if piece.geom_type == "LineString" and piece.length > 0:
                sheet.stroke(tuple(piece.coords), "visible" if kind == "visible" else "thin")
                drawn.append(piece.bounds)
    if drawn:
        lo = [min(b[k] for b in drawn) for k in (0, 1)]
        hi = [max(b[k] for b in drawn) for k in (2, 3)]
        sheet.take("view", sheet.title, (lo[0], lo[1], hi[0], hi[1]))


def _bars(sheet: Sheet) -> None:
    """A bar of 100 mm along each side of the paper: a printer may stretch one way only."""
    x0, y0, middle = WINDOW[0], WINDOW[1], BAR_MM / 2
    bars = (
        ("across", ((x0, 20.0), (x0 + BAR_MM, 20.0)), Text(x0 + middle, 22.2, "100 mm", 2.5, "middle")),
        ("along", ((26.0, y0), (26.0, y0 + BAR_MM)), Text(24.8, y0 + middle, "100 mm", 2.5, "middle", 90.0)),
    )
    for name, ends, text in bars:
        sheet.stroke(ends, "calibration")
        (ax, ay), (bx, by) = ends
        for x, y in ends:
            tick = ((x, y - 2), (x, y + 2)) if ay == by else ((x - 2, y), (x + 2, y))
            sheet.stroke(tick, "thin")
        sheet.write(text, within=True)
        b = text.box
        sheet.take(
            "calibration", name, (min(ax - 2, b[0]), min(ay - 2, b[1]), max(bx + 2, b[2]), max(by + 2, b[3]))
        )


def _joins(sheet: Sheet, sides: tuple[bool, bool, bool, bool]) -> None:
    """Where this page lies over its neighbours: a dashed line and crosses that must meet."""
    x0, y0, x1, y1 = WINDOW
    left, low, right, high = sides
    half = OVERLAP_MM / 2
    lines = [
        (left, ((x0 + half, y0), (x0 + half, y1))),
        (right, ((x1 - half, y0), (x1 - half, y1))),
        (low, ((x0, y0 + half), (x1, y0 + half))),
        (high, ((x0, y1 - half), (x1, y1 - half))),
    ]
    for wanted, (a, b) in lines:
        if not wanted:
            continue
        sheet.stroke((a, b), "fold")
        for share in (0.2, 0.8):
            x, y = a[0] + share * (b[0] - a[0]), a[1] + share * (b[1] - a[1])
            sheet.stroke(((x - 4, y), (x + 4, y)), "thin")
            sheet.stroke(((x, y - 4), (x, y + 4)), "thin")
