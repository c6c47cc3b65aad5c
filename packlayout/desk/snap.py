"""Snapping: a thing that is let go close to a neighbour or a wall goes to exactly its distance."""

import numpy as np

from packlayout.model.geometry import Box, Floats, Vec

WITHIN_MM = 12.0
"""How close it must come (our choice)."""

BESIDE_MM = 300.0
"""How far away a neighbour may stand whose side it comes flush with (our choice)."""


def snapped(box: Box, others: tuple[Floats, Floats], room: Box, gap_mm: float, body_mm: float) -> Vec:
    """Where the lowest corner of a box goes when it snaps.

    Along each axis by itself: to a neighbour's face at the clearance between parts, flush with a neighbour's side, or
    to the outermost faces of the zone at the clearance to the body, whichever is nearest within `WITHIN_MM`. Only
    neighbours count that it stands beside: those whose shadow along the axis meets its own, and for flush sides those
    no farther away than `BESIDE_MM`.

    Args:
        box: Where it is held.
        others: (n, 3) lowest and (n, 3) highest corners of the other things, cradles included.
        room: Bounds of its zone.
        gap_mm: Clearance between parts.
        body_mm: Clearance to the body.

    Returns:
        Its lowest corner, mm.
    """
    low, high = others
    a, b = np.array(box.lo), np.array(box.hi)
    meets = (a < high) & (low < b)
    apart = np.maximum(np.maximum(low - b, a - high), 0.0)
    beside = (apart * apart).sum(axis=1) < BESIDE_MM**2
    lo = [*box.lo]
    for k in range(3):
        side = box.hi[k] - box.lo[k]
        facing = meets[:, [n for n in range(3) if n != k]].all(axis=1)
        flush = beside & ~facing
        places = np.concatenate(
            [
                [room.lo[k] + body_mm, room.hi[k] - body_mm - side],
                high[facing, k] + gap_mm, low[facing, k] - gap_mm - side,
                low[flush, k], high[flush, k] - side,
            ]
        )  # fmt: skip
        best = float(places[np.argmin(np.abs(places - box.lo[k]))])
        if abs(best - box.lo[k]) <= WITHIN_MM:
            lo[k] = best
    return lo[0], lo[1], lo[2]
