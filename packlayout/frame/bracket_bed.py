"""The face that a bracket's strips lie against, and the rows of holes that they lie under."""

from dataclasses import dataclass

from packlayout.model.catalogue import Thread
from packlayout.model.geometry import Box, Vec

Feet = tuple[Thread, ...]
"""Threads that a bracket's own bolts may have, the usual one first."""


@dataclass(frozen=True, slots=True)
class Row:
    """Holes that one strip lies under.

    Attributes:
        along: Axis the strip runs along.
        across: The other axis in the face.
        lo: Lower edge of the strip across, mm.
        hi: Upper edge.
        holes: Middles, mm.
        owners: Index of the part that each is for.
        diameters: Of each, mm.
    """

    along: int
    across: int
    lo: float
    hi: float
    holes: tuple[Vec, ...]
    owners: tuple[int, ...]
    diameters: tuple[float, ...]


@dataclass(frozen=True, slots=True)
class Bed:
    """The face that strips lie against.

    Attributes:
        axis: Square to it.
        sign: The way it looks, out of the part.
        plane: Its coordinate, mm.
        thick: Of the strips.
        lift: From the face to the strips, which stand off by spacers; nought where they touch it.
        on_cradle: True: bolted to the cradle; false: to the body.
        hole_mm: Of the part's bolts.
        part: Box of the part; around all of them where it is for several.
        parts: Their names.
        strip: Name of the strip.
        group: Of the bracket.
    """

    axis: int
    sign: int
    plane: float
    thick: float
    hole_mm: float
    part: Box
    parts: tuple[str, ...]
    strip: str
    group: str
    lift: float = 0.0
    on_cradle: bool = True

    @property
    def back(self) -> float:
        """From the face to the far side of the strips."""
        return self.lift + self.thick

    def box(self, row: Row, lo: float, hi: float, near: float, far: float) -> Box:
        """The box over a strip's width, from lo to hi along it, from near to far behind the face."""
        return self.over(row, lo, hi, row.lo, row.hi, near, far)

    def over(
        self, row: Row, lo: float, hi: float, low: float, high: float, near: float, far: float
    ) -> Box:  # fmt: skip
        """The same over another width."""
        a, b = [0.0, 0.0, 0.0], [0.0, 0.0, 0.0]
        a[row.along], b[row.along] = lo, hi
        a[row.across], b[row.across] = low, high
        ends = sorted((self.plane + self.sign * near, self.plane + self.sign * far))
        a[self.axis], b[self.axis] = ends
        return Box((a[0], a[1], a[2]), (b[0], b[1], b[2]))

    def point(self, row: Row, at: float, off: float, behind: float) -> Vec:
        """A point at a place along the strip, off its middle, behind the face."""
        out = [0.0, 0.0, 0.0]
        out[row.along], out[row.across] = at, (row.lo + row.hi) / 2 + off
        out[self.axis] = self.plane + self.sign * behind
        return out[0], out[1], out[2]

    def normal(self, sign: int = 1) -> Vec:
        """Out of the part through the face, or the other way."""
        out = [0.0, 0.0, 0.0]
        out[self.axis] = float(self.sign * sign)
        return out[0], out[1], out[2]
