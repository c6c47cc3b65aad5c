"""Where the holes of a tube are, as a driller measures: from cut 1, on which side, how far off its middle."""

from dataclasses import dataclass
from math import atan2, degrees

import numpy as np

from packlayout.export.tree import tube_pose
from packlayout.frame.bolting import Bore
from packlayout.frame.tubes import Member


@dataclass(frozen=True, slots=True, order=True)
class TubeHole:
    """One hole in one wall.

    Attributes:
        from_cut_1_mm: From the longest point of cut 1, along the tube.
        side_deg: Which way it looks, degrees round the tube from side A, clockwise seen along the tube from cut 1.
        aside_mm: Off the middle of that side, clockwise.
        clearance_mm: Hole of the plate that is bolted there.
    """

    from_cut_1_mm: float
    side_deg: float
    aside_mm: float
    clearance_mm: float


def tube_holes(
    member: Member, bores: tuple[Bore, ...], tilts: tuple[tuple[float, float], tuple[float, float]]
) -> tuple[TubeHole, ...]:
    """The holes of a tube, told in the same words for tubes that only lie otherwise.

    Args:
        member: The tube.
        bores: Its holes.
        tilts: Of both cuts: degrees off square, and where round the tube the longest point is.

    Returns:
        In their order from cut 1. Where both cuts are square, side A is that of one of the holes.
    """
    if not bores:
        return ()
    frame = np.array(tube_pose(member).rotation)
    rows: list[tuple[float, float, float, float]] = []
    for bore in bores:
        u, v, w = frame.T @ (np.array(bore.at) - np.array(member.start))
        out = -(frame.T @ np.array(bore.into))
        aside = -u * out[1] + v * out[0]
        rows.append((float(w), degrees(atan2(out[1], out[0])), float(aside), bore.clearance_mm))
    made: list[tuple[TubeHole, ...]] = []
    first, second = tilts
    if first[0] >= second[0]:
        made += _told(rows, member.overhang_mm(member.start_cut), first, 1.0)
    if second[0] >= first[0]:
        turned = [(member.length_mm - w, side, aside, d) for w, side, aside, d in rows]
        made += _told(turned, member.overhang_mm(member.end_cut), second, -1.0)
    return min(made)


def _told(
    rows: list[tuple[float, float, float, float]], overhang_mm: float, tilt: tuple[float, float], way: float
) -> list[tuple[TubeHole, ...]]:
    """The holes from one end; with a square cut, as often as there are sides that may be called A."""
    zeros = [tilt[1]] if tilt[0] else sorted({round(side, 1) for _, side, _, _ in rows})
    return [
        tuple(sorted(
            TubeHole(round(w + overhang_mm, 1), round(way * (side - zero), 1) % 360.0, round(way * aside, 1) + 0.0, d)
            for w, side, aside, d in rows
        ))
        for zero in zeros
    ]  # fmt: skip
