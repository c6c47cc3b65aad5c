"""The inner loop: score every anchor of one entity against what already stands. Arrays only."""

import numba
import numpy as np

from packlayout.model.geometry import Floats, Ints


@numba.njit(cache=True)
def best_anchor(
    pos: Floats, form: Ints, size: Floats, cg: Floats, port: Floats, slabs: Floats, slab_count: Ints,
    boxes: Floats, rooms: Floats, clearance: float, tops: Floats, rise: float,
    masses: Floats, base: Floats, goal: Floats, weight: Floats, ends: Floats, limits: Floats, centre: Floats,
    noise: Floats,
) -> tuple[int, float]:  # fmt: skip
    """The anchor with the smallest sum of aims that meets nothing.

    Args:
        pos: (n, 3) lowest corners, mm.
        form: (n,) which form each stands in.
        size: (f, 3) sides of each form, mm.
        cg: (f, 3) offset of its centre of gravity.
        port: (f, 3) offset of its high-voltage port.
        slabs: (f, s, 6) access room of each form: lowest and highest corner, offsets.
        slab_count: (f,) how many of them count.
        boxes: (k, 6) what already stands: lowest and highest corners.
        rooms: (r, 6) access room that must stay open.
        clearance: Between boxes, mm.
        tops: (b, 5) x0, y0, x1, y1, z of tops it must stand on; no rows: anywhere.
        rise: How far above a top it may stand, mm.
        masses: (f,) of this entity in each form, kg.
        base: mass and moments of all else: M, Mx, My, Mz.
        goal: wheelbase, track, front and rear to aim at, cg height of the original, band about the two axle loads.
        weight: factors of front, rear, side, height, compactness, cable; per unit of each.
        ends: (e, 3) ports its cables run to.
        limits: (e,) longest cable allowed to each, mm.
        centre: (3,) middle of the pack; NaN when this entity is the pack.
        noise: (n,) added to each score, to vary the starts.

    Returns:
        Row of the best anchor and its score; -1 when every anchor meets something.
    """
    best, best_score = -1, np.inf
    for r in range(pos.shape[0]):
        f = form[r]
        x0, y0, z0 = pos[r, 0], pos[r, 1], pos[r, 2]
        x1, y1, z1 = x0 + size[f, 0], y0 + size[f, 1], z0 + size[f, 2]
        gx, gy, gz = x0 + cg[f, 0], y0 + cg[f, 1], z0 + cg[f, 2]
        mass = masses[f]
        total = base[0] + mass
        rear = (base[1] + mass * gx) / goal[0]
        front = total - rear
        score = weight[0] * max(0.0, abs(front - goal[2]) - goal[5])
        score += weight[1] * max(0.0, abs(rear - goal[3]) - goal[5])
        score += weight[2] * abs(2 * (base[2] + mass * gy) / goal[1])
        score += weight[3] * max(0.0, (base[3] + mass * gz) / total - goal[4]) + noise[r]
        if not np.isnan(centre[0]):
            dx, dy, dz = (x0 + x1) / 2 - centre[0], (y0 + y1) / 2 - centre[1], (z0 + z1) / 2 - centre[2]
            score += weight[4] * np.sqrt(dx * dx + dy * dy + dz * dz)
        within = True
        for e in range(ends.shape[0]):
            cable = (
                abs(x0 + port[f, 0] - ends[e, 0])
                + abs(y0 + port[f, 1] - ends[e, 1])
                + abs(z0 + port[f, 2] - ends[e, 2])
            )
            score += weight[5] * cable
            within = within and cable <= limits[e]
        if score >= best_score or not within:
            continue
        if tops.shape[0] > 0 and not _on_top(tops, rise, x0, y0, z0, x1, y1):
            continue
        if _meets(boxes, clearance, x0, y0, z0, x1, y1, z1) or _meets(rooms, 0.0, x0, y0, z0, x1, y1, z1):
            continue
        blocked = False
        for s in range(slab_count[f]):
            if _meets(
                boxes, 0.0, x0 + slabs[f, s, 0], y0 + slabs[f, s, 1], z0 + slabs[f, s, 2],
                x0 + slabs[f, s, 3], y0 + slabs[f, s, 4], z0 + slabs[f, s, 5],
            ):  # fmt: skip
                blocked = True
                break
        if not blocked:
            best, best_score = r, score
    return best, best_score


@numba.njit(cache=True)
def _meets(
    boxes: Floats, gap: float, x0: float, y0: float, z0: float, x1: float, y1: float, z1: float
) -> bool:
    for k in range(boxes.shape[0]):
        if (
            x0 < boxes[k, 3] + gap - 1e-9 and x1 > boxes[k, 0] - gap + 1e-9
            and y0 < boxes[k, 4] + gap - 1e-9 and y1 > boxes[k, 1] - gap + 1e-9
            and z0 < boxes[k, 5] + gap - 1e-9 and z1 > boxes[k, 2] - gap + 1e-9
        ):  # fmt: skip
            return True
    return False


@numba.njit(cache=True)
def _on_top(tops: Floats, rise: float, x0: float, y0: float, z0: float, x1: float, y1: float) -> bool:
    """Stands within `rise` above a top, with three quarters of its footprint or of the top's over it."""
    for k in range(tops.shape[0]):
        above = z0 - tops[k, 4]
        if above < -1e-9 or above > rise:
            continue
        wide = min(x1, tops[k, 2]) - max(x0, tops[k, 0])
        deep = min(y1, tops[k, 3]) - max(y0, tops[k, 1])
        least = min((x1 - x0) * (y1 - y0), (tops[k, 2] - tops[k, 0]) * (tops[k, 3] - tops[k, 1]))
        if wide > 0 and deep > 0 and wide * deep >= 0.75 * least:
            return True
    return False
