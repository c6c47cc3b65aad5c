"""What a search for a route answers: a route that holds, or why there is none."""

from dataclasses import dataclass
from typing import Literal

from packlayout.model.geometry import Vec
from packlayout.space.bends import Line


@dataclass(frozen=True, slots=True)
class Route:
    """A route that was found and proven.

    Attributes:
        line: Its middle line.
        clearance_mm: Least clearance beyond the gaps, for the cable's radius taken off: not negative.
        nearest: What comes nearest.
        nearest_at: Where, mm.
        elbows: Port, and middle of the cable above it, for each end with an elbow connector.
    """

    line: Line
    clearance_mm: float
    nearest: str
    nearest_at: Vec
    elbows: tuple[tuple[Vec, Vec], ...] = ()


@dataclass(frozen=True, slots=True)
class NoRoute:
    """Why there is none.

    Attributes:
        missing_mm: By how much it falls short; None when no way leads there at all, or it is wide enough and the
            bends find no room: `shortfall` then finds out.
        at: The tightest spot, mm.
        near: What makes it tight.
        why: In words.
        of: What `missing_mm` is of: room on each side of the cable, its bend radius, both in proportion (told as
            room), or the wall that parts the two ends.
    """

    missing_mm: float | None
    at: Vec
    near: str
    why: str
    of: Literal["room", "bend", "both", "wall"] = "room"

    @property
    def remedy(self) -> str:
        """What would do, in words; empty where that is not known."""
        if self.missing_mm is None:
            return ""
        mm = f"{self.missing_mm:.1f}".removesuffix(".0")
        return {
            "room": f"{mm} mm more on each side would do",
            "bend": f"{mm} mm less bend radius would do",
            "both": f"{mm} mm more on each side, and a bend tighter in proportion, would do",
            "wall": f"a cable way through {mm} mm would do",
        }[self.of]
