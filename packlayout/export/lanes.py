"""Where words stand in a picture so that none covers another and no leader runs through words.

Places are pixels from the upper left corner. Words that point at something stand in rows; each has an upright leader
at the x it points to. Row 0 is the one farthest from the drawing.
"""

import itertools
from collections.abc import Sequence
from dataclasses import dataclass, replace
from graphlib import TopologicalSorter

_GAP = 10.0
"""Least distance between words, and between words and a leader, px."""
_LEADERS_APART = 9.0


@dataclass(frozen=True, slots=True)
class Pointer:
    """Words with a leader.

    Attributes:
        text: What stands there.
        x: Where the leader is.
        y: Where the leader ends.
        width: Of the words, px.
        leftward: True when the words end at the leader instead of beginning there.
        row: Row of the lane.
    """

    text: str
    x: float
    y: float
    width: float
    leftward: bool = False
    row: int = 0

    @property
    def begin(self) -> float:
        """Left end of the words."""
        return self.x - 5 - self.width if self.leftward else self.x + 5

    @property
    def end(self) -> float:
        """Right end of the words."""
        return self.begin + self.width

    def covers(self, x: float) -> bool:
        """Whether an upright line at x would touch the words."""
        return self.begin - _GAP < x < self.end + _GAP


def lane(pointers: Sequence[Pointer], right_px: float) -> tuple[Pointer, ...]:
    """Give each pointer its row and its side.

    Args:
        pointers: In any order; `row` and `leftward` are not looked at.
        right_px: No words may go beyond it.

    Returns:
        By x, with leaders moved apart where they would be one; a pointer whose leader another's words cover stands
        nearer to the drawing than those words.
    """
    row = sorted(pointers, key=lambda p: (p.x, p.y, p.text))
    for k in range(1, len(row)):
        row[k] = replace(row[k], x=max(row[k].x, row[k - 1].x + _LEADERS_APART))
    row = [replace(p, leftward=p.x + 5 + p.width > right_px, row=0) for p in row]
    # where each of two covers the other's leader, no rows would do: both look to the left
    while crossed := [
        a for a, p in enumerate(row) for q in row[a + 1 :]
        if not p.leftward and q.leftward and p.covers(q.x) and q.covers(p.x)
    ]:  # fmt: skip
        row[crossed[-1]] = replace(row[crossed[-1]], leftward=True)
    covering = {
        b: [a for a in range(len(row)) if a != b and row[a].covers(row[b].x)] for b in range(len(row))
    }
    settled: list[Pointer] = []
    for k in TopologicalSorter(covering).static_order():
        least = max((row[a].row + 1 for a in covering[k]), default=0)
        free = next(
            n for n in itertools.count(least) if not any(_touch(row[k], p) for p in settled if p.row == n)
        )
        row[k] = replace(row[k], row=free)
        settled.append(row[k])
    return tuple(row)


def _touch(a: Pointer, b: Pointer) -> bool:
    """Whether the words of two pointers would touch in one row."""
    return a.begin < b.end + _GAP and b.begin < a.end + _GAP


def clusters(pointers: Sequence[Pointer]) -> tuple[tuple[Pointer, ...], ...]:
    """Pointers whose words and leaders stand one above the other, from left to right.

    Two clusters share no upright line, so that each may have its own height.
    """
    made: list[list[Pointer]] = []
    reach = float("-inf")
    for pointer in sorted(pointers, key=lambda p: min(p.x, p.begin)):
        if min(pointer.x, pointer.begin) > reach + _GAP:
            made.append([])
        made[-1].append(pointer)
        reach = max(reach, pointer.x, pointer.end)
    return tuple(tuple(cluster) for cluster in made)


def depth(pointers: Sequence[Pointer]) -> int:
    """How many rows a lane has."""
    return max((p.row + 1 for p in pointers), default=0)


def clipped(text: str, most: int = 34) -> str:
    """A text of at most so many characters; the rest becomes an ellipsis."""
    plain = " ".join(text.split())
    return plain if len(plain) <= most else plain[: most - 1].rstrip() + "…"
