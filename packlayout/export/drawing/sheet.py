"""A sheet of paper as plain marks in mm, origin at its lower left corner, y upward.

Everything that may not be covered is registered with its rectangle: views, dimensions, balloons, texts, tables. A
sheet can be asked what overlaps and what lies outside the margins, and it is tested that nothing does.
"""

from dataclasses import dataclass, field
from math import hypot
from typing import Literal

Line = Literal[
    "visible", "thin", "hidden", "phantom", "centre", "border", "leader", "fold", "calibration", "run",
    "conduit",
]  # fmt: skip
"""Kinds of line after ISO 128-2: wide continuous, narrow continuous, narrow dashed, narrow with two dots, with one."""

Anchor = Literal["start", "middle", "end"]
Rect = tuple[float, float, float, float]
SIZES = {"A4": (210.0, 297.0), "A3": (420.0, 297.0)}
MARGIN_MM = 10.0
BINDING_MM = 20.0
LETTERS_MM = 2.5
_APART_MM = 0.2


@dataclass(frozen=True, slots=True)
class Stroke:
    """A line through points; filled when it is a closed arrow."""

    points: tuple[tuple[float, float], ...]
    kind: Line
    filled: bool = False


@dataclass(frozen=True, slots=True)
class Circle:
    """A circle."""

    x: float
    y: float
    radius: float
    kind: Line


@dataclass(frozen=True, slots=True)
class Text:
    """A line of text; x, y is on its base line, the angle in degrees anticlockwise."""

    x: float
    y: float
    text: str
    height: float = LETTERS_MM
    anchor: Anchor = "start"
    angle: float = 0.0
    bold: bool = False

    @property
    def box(self) -> Rect:
        """The rectangle it fills; for level and upright text."""
        wide = text_width(self.text, self.height, bold=self.bold)
        left = -{"start": 0.0, "middle": wide / 2, "end": wide}[self.anchor]
        low, high = (
            -0.32 * self.height,
            1.04 * self.height,
        )  # of the font: descenders, and ascenders over capitals
        if self.angle:
            return self.x - high, self.y + left, self.x - low, self.y + left + wide
        return self.x + left, self.y + low, self.x + left + wide, self.y + high


@dataclass(frozen=True, slots=True)
class Taken:
    """A rectangle that belongs to something."""

    kind: Literal[
        "view", "dimension", "balloon", "text", "table", "title block", "calibration", "weld symbol"
    ]
    name: str
    box: Rect


@dataclass(slots=True)
class Sheet:
    """A sheet that is being drawn on.

    Attributes:
        size: `A4` or `A3`.
        title: Of the drawing.
        scale: In words, such as `1:10`.
        marks: From back to front.
        taken: What may not be covered.
    """

    size: str
    title: str
    scale: str = ""
    marks: list[Stroke | Circle | Text] = field(default_factory=list)
    taken: list[Taken] = field(default_factory=list)

    @property
    def room(self) -> Rect:
        """Within the border: 20 mm for binding at the left, 10 mm elsewhere (ISO 5457)."""
        wide, tall = SIZES[self.size]
        return BINDING_MM, MARGIN_MM, wide - MARGIN_MM, tall - MARGIN_MM

    def stroke(self, points: tuple[tuple[float, float], ...], kind: Line, *, filled: bool = False) -> None:
        """Draw a line."""
        self.marks.append(Stroke(points, kind, filled))

    def rect(self, box: Rect, kind: Line) -> None:
        """Draw a rectangle."""
        x0, y0, x1, y1 = box
        self.stroke(((x0, y0), (x1, y0), (x1, y1), (x0, y1), (x0, y0)), kind)

    def write(self, text: Text, name: str = "", *, within: bool = False) -> None:
        """Write a text, and register it unless it stands within something that is registered as a whole."""
        self.marks.append(text)
        if not within:
            self.take("text", name or text.text, text.box)

    def take(self, kind: str, name: str, box: Rect) -> None:
        """Register a rectangle."""
        self.taken.append(Taken(kind, name, box))  # type: ignore[arg-type]

    def free(self, box: Rect) -> bool:
        """Whether a rectangle lies inside the border and covers nothing registered."""
        return inside(box, self.room) and not any(overlap(box, other.box) for other in self.taken)

    def faults(self) -> tuple[str, ...]:
        """What lies outside the border, and what overlaps."""
        said = [f"{t.kind} {t.name!r} leaves the sheet" for t in self.taken if not inside(t.box, self.room)]
        for k, a in enumerate(self.taken):
            said += [f"{a.kind} {a.name!r} covers {b.kind} {b.name!r}" for b in self.taken[k + 1 :]
                     if overlap(a.box, b.box)]  # fmt: skip
        return tuple(said)


def inside(box: Rect, room: Rect) -> bool:
    """Whether a rectangle lies in another."""
    return (
        box[0] >= room[0] - 1e-6 and box[1] >= room[1] - 1e-6
        and box[2] <= room[2] + 1e-6 and box[3] <= room[3] + 1e-6
    )  # fmt: skip


def overlap(a: Rect, b: Rect) -> bool:
    """Whether two rectangles share more than an edge."""
    return min(a[2], b[2]) - max(a[0], b[0]) > _APART_MM and min(a[3], b[3]) - max(a[1], b[1]) > _APART_MM


def text_width(text: str, height: float, *, bold: bool = False) -> float:
    """Width of a text in the font of the sheets, mm; its letters are `height` high from base line to top.

    Measured with the font's own table of widths.
    """
    from reportlab.pdfbase.pdfmetrics import stringWidth

    from packlayout.export.drawing.fonts import face, points

    return stringWidth(text, face(bold=bold), points(height)) / 72 * 25.4


def shortened(text: str, width: float, height: float, *, bold: bool = False) -> str:
    """A text cut short to a width; the rest becomes an ellipsis."""
    if text_width(text, height, bold=bold) <= width:
        return text
    while text and text_width(text + "…", height, bold=bold) > width:
        text = text[:-1].rstrip()
    return text + "…"


def broken(text: str, width: float, height: float) -> tuple[str, ...]:
    """A text over as many lines as it needs, broken between words; a single word that is too wide is shortened."""
    lines: list[str] = []
    for word in text.split(" "):
        longer = f"{lines[-1]} {word}" if lines else word
        if lines and text_width(longer, height) <= width:
            lines[-1] = longer
        else:
            lines.append(shortened(word, width, height))
    return tuple(lines)


def arrow(sheet: Sheet, tip: tuple[float, float], tail: tuple[float, float], size: float = 2.5) -> None:
    """A filled arrow head at the tip, three times as long as wide."""
    dx, dy = tip[0] - tail[0], tip[1] - tail[1]
    length = hypot(dx, dy) or 1.0
    dx, dy = dx / length, dy / length
    base = (tip[0] - size * dx, tip[1] - size * dy)
    half = size / 6
    sheet.stroke((tip, (base[0] - half * dy, base[1] + half * dx), (base[0] + half * dy, base[1] - half * dx), tip),
                 "thin", filled=True)  # fmt: skip
