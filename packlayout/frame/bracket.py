"""The nouns of brackets: what holds a part that stands outside a cradle, or on top of one.

A bracket is one or two flat strips under the part, drilled and tapped to its own holes. Each strip is held at one end
or both: bolted to a tube of the cradle, bolted through the wall behind it, on a post that stands on the wall opposite,
or by an end plate on the wall that it runs up to.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from packlayout.frame.tubes import Member, Plate, member_box, plate_box
from packlayout.model.geometry import Box, Vec

HoldKind = Literal["cradle", "clamp", "wall", "post", "end"]


@dataclass(frozen=True, slots=True)
class Hold:
    """One place that a strip is held at.

    Attributes:
        kind: On a cradle's tube by one bolt or clamped by two, on the wall behind, by a post on the wall opposite, by
            an end plate.
        at: Where along the strip, a coordinate along its axis, mm.
        onto: Name of the cradle's tube; else which wall of which zone.
        point: Middle of its bolts on what they go into, mm.
        normal: Unit vector from the part's side into what they go into.
        bolts: Middles of its bolts on that face, mm.
        thread: Of the bolts.
        edge_mm: From its bolts to the nearest edge of what they hold down.
        reach_mm: From the strip to what it is bolted to, along a post; nought where there is none.
        pieces: Post, foot plate, packing or end plate.
        covers: From where to where the strip has to reach for it, mm along the strip.
        hole_mm: Of its bolts.
        cradle: Number of the cradle that the tube belongs to; None for a wall.
        wall_mm: Of the cradle's tube, which its bolts hold in by captive nuts; nought for a wall.
        from_behind: True when no socket reaches its bolts from the part's side: they come from the other side of the
            panel, into threads in the plate.
    """

    kind: HoldKind
    at: float
    onto: str
    point: Vec
    normal: Vec
    bolts: tuple[Vec, ...]
    thread: str
    edge_mm: float
    reach_mm: float = 0.0
    pieces: tuple[Member | Plate, ...] = ()
    covers: tuple[float, float] = (0.0, 0.0)
    hole_mm: float = 9.0
    cradle: int | None = None
    from_behind: bool = False
    wall_mm: float = 0.0

    @property
    def stiff(self) -> bool:
        """Whether it keeps the strip from turning, so that one alone can hold it."""
        return self.kind in ("clamp", "post", "end")


@dataclass(frozen=True, slots=True)
class Strip:
    """One strip under a part.

    Attributes:
        plate: Drilled.
        along: 0, 1 or 2: the axis it runs along.
        across: The other axis in its plane.
        middle: Coordinate of its middle line on that axis, mm.
        plane: Coordinate of the part's face on the third axis, mm.
        width_mm: Across.
        thick_mm: Its thickness.
        holes: Places of the part's bolts on it, mm, vehicle axes, on the part's face.
        owners: Index of the part that each hole is for.
        holds: Where it is held; one or two.
        bore_mm: Across a large hole in its middle, such as that of a shaft; nought where there is none.
        spacers: Between the part and a strip that stands off it.
    """

    plate: Plate
    along: int
    across: int
    middle: float
    plane: float
    width_mm: float
    thick_mm: float
    holes: tuple[Vec, ...]
    owners: tuple[int, ...]
    holds: tuple[Hold, ...]
    bore_mm: float = 0.0
    spacers: tuple[Plate, ...] = ()

    @property
    def pieces(self) -> tuple[Member | Plate, ...]:
        """All of it, with what holds it."""
        return (self.plate, *self.spacers, *(p for hold in self.holds for p in hold.pieces))


@dataclass(frozen=True, slots=True)
class Bracket:
    """What holds one part, or several side by side.

    Attributes:
        parts: Names of the placements.
        group: `bracket` and the first of them.
        normal: Unit vector out of the part through its fixing face.
        thread: Of the part's bolts, into the strips; the smallest of several.
        strips: One or two.
        cradle: Number of the cradle that carries it; None: the vehicle does.
    """

    parts: tuple[str, ...]
    group: str
    normal: Vec
    thread: str
    strips: tuple[Strip, ...]
    cradle: int | None

    @property
    def holds(self) -> tuple[Hold, ...]:
        """All of them."""
        return tuple(hold for strip in self.strips for hold in strip.holds)

    @property
    def plates(self) -> tuple[Plate, ...]:
        """Strips, feet, packing and end plates."""
        return tuple(p for strip in self.strips for p in strip.pieces if isinstance(p, Plate))

    @property
    def members(self) -> tuple[Member, ...]:
        """Posts."""
        return tuple(p for h in self.holds for p in h.pieces if isinstance(p, Member))

    @property
    def onto(self) -> str:
        """What carries it, in words."""
        return ", ".join(dict.fromkeys(hold.onto for hold in self.holds))


def boxes_of(pieces: Sequence[Member | Plate]) -> list[Box]:
    """The box around each piece."""
    return [member_box(p) if isinstance(p, Member) else plate_box(p) for p in pieces]
