"""A chart as plain marks, so that HTML and PDF draw the same one. Its units are a thousandth of its width.

A mark has a look, not a colour: the style sheet and the PDF know what `before`, `limit` or `faint` looks like.
"""

from dataclasses import dataclass
from math import cos, pi, sin
from typing import Literal

WIDTH = 1000.0
LETTER = 15.0
"""Height of letters."""

Look = Literal[
    "", "strong", "faint", "limit", "ground", "body", "wheel", "before", "after", "laden", "spread", "rule", "out",
    "in", "room", "curve", "mark", "cross", "use-1", "use-2", "use-3", "use-4", "use-5",
]  # fmt: skip
Anchor = Literal["start", "middle", "end"]


@dataclass(frozen=True, slots=True)
class Stroke:
    """A line through points; closed and filled when `closed`."""

    points: tuple[tuple[float, float], ...]
    look: Look
    closed: bool = False


@dataclass(frozen=True, slots=True)
class Bar:
    """An upright rectangle."""

    x: float
    y: float
    width: float
    height: float
    look: Look


@dataclass(frozen=True, slots=True)
class Ring:
    """A circle."""

    x: float
    y: float
    radius: float
    look: Look


@dataclass(frozen=True, slots=True)
class Words:
    """A line of text; x, y is on its base line."""

    x: float
    y: float
    text: str
    look: Look = ""
    anchor: Anchor = "start"

    @property
    def box(self) -> tuple[float, float, float, float]:
        """Left, top, right, bottom of what the letters may fill."""
        wide = width_of(self.text, strong=self.look == "strong")
        left = self.x - {"start": 0.0, "middle": wide / 2, "end": wide}[self.anchor]
        return left, self.y - 0.8 * LETTER, left + wide, self.y + 0.25 * LETTER


Mark = Stroke | Bar | Ring | Words


@dataclass(frozen=True, slots=True)
class Chart:
    """A chart.

    Attributes:
        title: What it shows, for those who cannot see it and for its heading.
        height: In its units.
        marks: From back to front.
        caption: How to read it.
    """

    title: str
    height: float
    marks: tuple[Mark, ...]
    caption: str


# widths of letters in the widest font that is asked for, DejaVu Sans, in heights of a letter
_NARROW, _WIDE = frozenset(" .,:;'|!()[]ijltfrI/-"), frozenset("mwMW@%±−")


def width_of(text: str, *, strong: bool = False) -> float:
    """About how wide a text is; never less than it is drawn."""
    share = sum(0.42 if c in _NARROW else 1.0 if c in _WIDE else 0.69 if c.isupper() else 0.64 for c in text)
    return share * LETTER * (1.1 if strong else 1.0)


def fitting(text: str, width: float, *, strong: bool = False) -> str:
    """A text cut short so that it is no wider; the rest becomes an ellipsis."""
    plain = " ".join(text.split())
    if width_of(plain, strong=strong) <= width:
        return plain
    while plain and width_of(plain + "…", strong=strong) > width:
        plain = plain[:-1].rstrip()
    return plain + "…"


def ellipse(
    x: float, y: float, along: float, across: float, turn: float, look: Look, steps: int = 48
) -> Stroke:
    """An ellipse as a closed line: half axes, and how far the first is turned from x, radians."""
    points = tuple(
        (
            x + along * cos(a) * cos(turn) - across * sin(a) * sin(turn),
            y + along * cos(a) * sin(turn) + across * sin(a) * cos(turn),
        )
        for a in (2 * pi * k / steps for k in range(steps))
    )
    return Stroke(points, look, closed=True)


def ticks(low: float, high: float, most: int) -> tuple[float, ...]:
    """Round figures between two values, at most so many."""
    step = next(
        s for power in range(-3, 8) for s in (10.0**power, 2 * 10.0**power, 5 * 10.0**power)
        if (high - low) / s <= most - 1
    )  # fmt: skip
    first = int(-(-low // step))
    return tuple(k * step for k in range(first, int(high // step) + 1))
