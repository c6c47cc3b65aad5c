"""`templates.pdf`: at full size, over as many A4 pages as they need, with bars to check the print.

Drill templates of plates, and wrap-around prints for the oblique cuts of round tubes.
"""

from dataclasses import dataclass
from math import cos, pi, radians, tan
from pathlib import Path

from packlayout.errors import ExportError
from packlayout.export.drawing.dimensions import figure_text
from packlayout.export.drawing.paper import write_pdf
from packlayout.export.drawing.plate_sheets import outline_view
from packlayout.export.drawing.sheet import Circle, Line, Rect, Sheet, Text, overlap, shortened, text_width
from packlayout.export.drawing.views import Path2
from packlayout.export.flats import Flat, flat
from packlayout.export.pack import Made
from packlayout.export.piece_marks import SIDES, PlateMark, TubeMark, plate_marks, tube_marks
from packlayout.study import Study

TEMPLATES = "templates.pdf"
WINDOW: Rect = (36.0, 34.0, 198.0, 270.0)
"""Where the drawing goes on a page, mm."""
OVERLAP_MM = 15.0
BAR_MM = 100.0


def write_templates(study: Study, folder: Path, notes: tuple[str, ...]) -> Made:
    """Write a template for each kind of plate that is drilled, and for each oblique cut of a round tube.

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
        return Made((), (f"{TEMPLATES} left out: no plate is drilled and no round tube is cut oblique",))
    title = f"{study.case.vehicle.name}, {study.case.brief.name}: drill templates"
    return Made((write_pdf(made, folder / TEMPLATES, title),))


@dataclass(frozen=True, slots=True)
class Pattern:
    """Something to be printed at full size.

    Attributes:
        name: For the head of its pages: `Drill template P1`.
        size: Width and height, mm; its lower left corner is the origin.
        lines: Paths, and the kind of line each is drawn in.
        circles: (x, y, diameter) of holes.
        labels: (x, y, text), where the text begins.
        words: Under the head.
    """

    name: str
    size: tuple[float, float]
    lines: tuple[tuple[Path2, Line], ...]
    circles: tuple[tuple[float, float, float], ...]
    labels: tuple[tuple[float, float, str], ...]
    words: str


def template_sheets(study: Study) -> list[Sheet]:
    """All pages: for each mark of drilled plates and of round tubes with oblique cuts, as many as it covers."""
    frame = study.framed.frame if study.framed is not None else None
    made: list[Sheet] = []
    for mark in plate_marks(frame) if frame is not None else ():
        if mark.holes:
            found = flat(mark.plates[0], study.case)
            made += _pages(_drilling(mark, found, frame.material.name if frame else ""))
    for mark in tube_marks(frame) if frame is not None else ():
        for pattern in copes(mark):
            made += _pages(pattern)
    return made


def _drilling(mark: PlateMark, found: Flat, material: str) -> Pattern:
    size = " × ".join(figure_text(v) for v in mark.size)
    pieces = f"{len(mark.plates)} piece{'s' if len(mark.plates) > 1 else ''}"
    lines: tuple[tuple[Path2, Line], ...] = tuple((path, "visible") for path in outline_view(found).visible)
    made = Pattern(
        f"Drill template {mark.mark}", mark.size[:2], lines, found.circles, (), f"{size} mm {material}, {pieces}."
    )  # fmt: skip
    return min(made, turned(made), key=lambda pattern: pages_of(pattern.size))


def turned(pattern: Pattern) -> Pattern:
    """The same a quarter turn on: a long one may lie along the page."""
    wide, tall = pattern.size

    def at(x: float, y: float) -> tuple[float, float]:
        return tall - y, x

    lines: tuple[tuple[Path2, Line], ...] = tuple(
        (tuple(at(*point) for point in path), kind) for path, kind in pattern.lines
    )
    circles = tuple((*at(x, y), d) for x, y, d in pattern.circles)
    return Pattern(pattern.name, (tall, wide), lines, circles, (), pattern.words)


def pages_of(size: tuple[float, float]) -> int:
    """How many pages a pattern covers."""
    x0, y0, x1, y1 = WINDOW
    return len(tiles(size[0], x1 - x0)) * len(tiles(size[1], y1 - y0))


_COPE_STEPS = 144
_COPE_ROOM_MM = 25.0
"""Paper below the curve, to hold it on by (common practice, no source)."""


def copes(mark: TubeMark) -> tuple[Pattern, ...]:
    """Wrap-around prints for the oblique cuts of a round tube; none for any other.

    The paper goes round the outside of the tube with its straight lower edge square to it; saw or grind along the
    curve. Both prints bear the lines A to D, which run on along the tube from the one to the other.
    """
    if mark.section.kind != "round":
        return ()
    radius = mark.section.side_mm / 2
    around = 2 * pi * radius
    made: list[Pattern] = []
    for number, cut in enumerate(mark.cuts, start=1):
        if not cut.off_square_deg:
            continue
        rise = radius * tan(radians(cut.off_square_deg))
        # seen from outside with the cut upward, to the right is anticlockwise seen along the tube from that cut
        way = -1.0 if number == 1 else 1.0

        def height(x: float, rise: float = rise, way: float = way, long_deg: float = cut.long_deg) -> float:
            return _COPE_ROOM_MM + rise * (1 + cos(way * x / radius - radians(long_deg)))

        xs = [around * k / _COPE_STEPS for k in range(_COPE_STEPS + 1)]
        curve = tuple((x, height(x)) for x in xs)
        edge: Path2 = ((0.0, height(0.0)), (0.0, 0.0), (around, 0.0), (around, height(around)))
        lines: list[tuple[Path2, Line]] = [(curve, "visible"), (edge, "thin")]
        labels: list[tuple[float, float, str]] = []
        for k in range(5):
            x = around * k / 4
            lines.append((((x, 0.0), (x, height(x))), "centre"))
            if k < 4:
                labels.append((x + 1.5, 3.0, SIDES[int(way * k) % 4]))
        words = (
            f"{mark.section.name}, {len(mark.members)} of them, {figure_text(cut.off_square_deg)}° off square. Wrap round "
            f"the outside, letters readable, curve to the end; the ends of the paper meet on line A. From the longest "
            f"point of one cut to that of the other: {figure_text(mark.longest_mm)} mm."
        )
        size = around, _COPE_ROOM_MM + 2 * rise
        made.append(Pattern(f"Cope {mark.mark}, cut {number}", size, tuple(lines), (), tuple(labels), words))
    return tuple(made)


def tiles(length: float, window: float) -> tuple[float, ...]:
    """Where each page begins along one side of a plate: as few as may be, each with the overlap over the last."""
    if length <= window:
        return ((length - window) / 2,)  # one page, in its middle
    step = window - OVERLAP_MM
    count = 1 + int(-(-(length - window) // step))
    return tuple(k * step for k in range(count))


def _pages(pattern: Pattern) -> list[Sheet]:
    x0, y0, x1, y1 = WINDOW
    columns, rows = tiles(pattern.size[0], x1 - x0), tiles(pattern.size[1], y1 - y0)
    whole = len(rows) * len(columns)
    made: list[Sheet] = []
    for r, low in enumerate(rows):
        for c, left in enumerate(columns):
            sheet = Sheet("A4", pattern.name, "1:1")
            _draw(sheet, pattern, (x0 - left, y0 - low))
            _bars(sheet)
            page = f"page {r * len(columns) + c + 1} of {whole}"
            where = f", column {c + 1}, row {r + 1} from the lower left" if whole > 1 else ""
            sheet.write(Text(20.0, 283.0, f"{pattern.name}, {page}{where}", 3.5))
            words = f"{pattern.words} Print at 100 %: both bars must measure 100 mm."
            for k, line in enumerate(wrapped(words, 178.0, 2.2)[:3]):
                sheet.write(Text(20.0, 279.0 - 3.4 * k, line, 2.2))
            _joins(sheet, (c > 0, r > 0, c < len(columns) - 1, r < len(rows) - 1))
            made.append(sheet)
    return made


def wrapped(text: str, width: float, height: float) -> list[str]:
    """A text as lines of at most a width."""
    lines = [""]
    for word in text.split():
        longer = f"{lines[-1]} {word}".strip()
        if lines[-1] and text_width(longer, height) > width:
            lines.append(word)
        else:
            lines[-1] = longer
    return [shortened(line, width, height) for line in lines]


def _draw(sheet: Sheet, pattern: Pattern, origin: tuple[float, float]) -> None:
    """What of the pattern lies on this page."""
    from shapely import LineString, Point, box

    def at(point: tuple[float, float]) -> tuple[float, float]:
        return origin[0] + point[0], origin[1] + point[1]

    window = box(*WINDOW)
    drawn: list[Rect] = []
    told: list[Rect] = []
    edge = min(at((pattern.size[0], 0.0))[0], WINDOW[2])
    lines: list[tuple[LineString, Line]] = [
        (LineString([at(p) for p in path]), kind) for path, kind in pattern.lines
    ]
    for n, (x, y, diameter) in enumerate(pattern.circles, start=1):
        px, py = at((x, y))
        radius = diameter / 2
        ring = Point(px, py).buffer(radius, quad_segs=32).exterior
        if window.contains(ring):
            sheet.marks.append(Circle(px, py, radius, "thin"))
        else:
            lines.append((LineString(ring.coords), "thin"))
        reach = radius + 4
        lines.append((LineString([(px - reach, py), (px + reach, py)]), "thin"))
        lines.append((LineString([(px, py - reach), (px, py + reach)]), "thin"))
        words, off = f"{n}: Ø {figure_text(diameter)}", radius * 0.75 + 1
        # beside its hole where it lies on no other and not over the edge
        for sx, sy in ((1, 1), (-1, 1), (1, -1), (-1, -1)):
            drop = 0.0 if sy > 0 else 2.5
            label = Text(px + sx * off, py + sy * off - drop, words, 2.5, "start" if sx > 0 else "end")
            clear = not any(overlap(label.box, other) for other in told)
            if window.contains(box(*label.box)) and label.box[2] <= edge - 1 and clear:
                sheet.write(label, within=True)
                told.append(label.box)
                break
    for x, y, words in pattern.labels:
        label = Text(*at((x, y)), words, 3.0)
        if window.contains(box(*label.box)):
            sheet.write(label, within=True)
    for line, kind in lines:
        cut = line.intersection(window)
        for piece in getattr(cut, "geoms", [cut]):
            if piece.geom_type == "LineString" and piece.length > 0:
                sheet.stroke(tuple(piece.coords), kind)
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
