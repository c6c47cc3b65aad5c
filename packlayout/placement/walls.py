"""Places asked of the surfaces themselves: a box grown by each clearance that touches no triangle of its surface.

Cells are quick and leave up to their own breadth unused on each side. Here the corners tried are those of a coarse
lattice and of the planes that flat walls have at their clearance, and each is tried against the triangles.
"""

from collections.abc import Sequence
from functools import lru_cache

import numba
import numpy as np

from packlayout.model.brief import Case
from packlayout.model.geometry import Floats, Ints, Vec
from packlayout.model.layout import axis
from packlayout.placement.clear import PITCH_MM, body_mm, keep_from
from packlayout.placement.forms import Form
from packlayout.space.cells import Bools, Space, Sums, all_set, running_sums
from packlayout.space.near_boxes import about, mark_near
from packlayout.space.points import Points, open_points
from packlayout.space.touching import box_touches
from packlayout.space.ways import triangles_of, walls_of

MOST_TRIANGLES = 6_000
"""Of all surfaces about a zone; a scan has more, and its cells are used as they are."""
MOST_PLANES = 60
FEW, FINE_MM = 1500, 5.0
"""So few places on the lattice, and a finer one is tried, of this step."""
FLAT = 1e-9
HAIR_MM = 1e-3
NEAR_MM = 0.01  # beyond the clearance, for surfaces that come in single precision


@lru_cache(maxsize=8)
def shell(case: Case, zone: str) -> tuple[tuple[Floats, float], ...]:
    """(t, 3, 3) triangles about a zone for each clearance, mm; nothing when there are too many."""
    sets = [(case.zones[zone], body_mm(case, zone)), *((k.mesh, k.distance_mm) for k in keep_from(case))]
    if sum(len(mesh.faces) for mesh, _ in sets) > MOST_TRIANGLES:
        return ()
    return tuple(
        (np.concatenate([triangles_of(mesh) for mesh, e in sets if e == d]), d)
        for d in sorted({d for _, d in sets})
    )


def clear_of(walls: Sequence[tuple[Floats, float]], lo: Floats, hi: Floats) -> Bools:
    """Whether boxes keep each clearance along the axes; a surface exactly at its clearance is clear.

    Args:
        walls: Triangles and the clearance to them, mm.
        lo: (n, 3) lowest corners.
        hi: (n, 3) highest corners.
    """
    touched = np.zeros(len(lo), dtype=np.bool_)
    for triangles, distance in walls:
        _touch(triangles, np.ascontiguousarray(lo), np.ascontiguousarray(hi), distance - 1e-6, touched)
    return ~touched


@numba.njit(cache=True)
def _touch(triangles: Floats, lo: Floats, hi: Floats, grown: float, touched: Bools) -> None:
    for r in range(lo.shape[0]):
        if not touched[r] and box_touches(triangles, lo[r] - grown, hi[r] + grown):
            touched[r] = True


def far_from(walls: Sequence[tuple[Floats, float]], lo: Floats, hi: Floats) -> Bools:
    """Whether boxes are as far from all triangles as their clearance, exactly; see `clear_of`."""
    near = np.zeros(len(lo), dtype=np.bool_)
    for triangles, distance in walls:
        some = about(triangles, lo.min(axis=0), hi.max(axis=0), distance) if len(lo) else triangles
        mark_near(some, np.ascontiguousarray(lo), np.ascontiguousarray(hi), distance - 1e-6, near)
    return ~near


@lru_cache(maxsize=8)
def points_in(case: Case, zone: str) -> tuple[Points, Sums]:
    """Optimistic points of a zone, and their running sums."""
    keep = [(k.mesh, k.distance_mm) for k in keep_from(case)]
    points = open_points(zone, case.zones[zone], body_mm(case, zone), keep, PITCH_MM)
    return points, running_sums(points.open)


@lru_cache(maxsize=8)
def _exits(case: Case, zone: str) -> tuple[tuple[Vec, Floats], ...]:
    """Each side a zone opens to, with the triangles that stand in the way."""
    record = next(z for z in case.vehicle.zones if z.name == zone)
    stay = [triangles_of(case.keep_outs[k.name]) for k in case.vehicle.keep_outs if not k.removable]
    lids = [record.lid_from_mm if n == 0 else None for n in range(len(record.opens))]
    return tuple(
        (axis(a), np.concatenate([walls_of(case.zones[zone], axis(a), lid), *stay]))
        for a, lid in zip(record.opens, lids, strict=True)
    )


def _planes(walls: Sequence[tuple[Floats, float]], k: int) -> Floats:
    """Coordinates at which a box may stand against flat walls square to an axis, mm."""
    both: list[Floats] = []
    for triangles, distance in walls:
        at = triangles[:, :, k]
        flat = at[np.ptp(at, axis=1) < FLAT, 0]
        both += [flat + distance + NEAR_MM, flat - distance - NEAR_MM]
    return np.unique(np.round(np.concatenate(both), 3))


def close_places(case: Case, space: Space, form: Form, step_mm: float = PITCH_MM) -> Floats:
    """(n, 3) lowest corners at which a form stands free, its access rooms open and a straight way out.

    Args:
        case: The case.
        space: Cells of the zone.
        form: How it stands.
        step_mm: Of the lattice that is tried besides the planes of walls.
    """
    at = _close_places(case, space, form, step_mm)
    # where few are left, each counts
    return at if len(at) >= FEW or step_mm <= FINE_MM else _close_places(case, space, form, FINE_MM)


def _close_places(case: Case, space: Space, form: Form, step_mm: float) -> Floats:
    walls = shell(case, space.zone)
    if not walls:
        return np.empty((0, 3))
    lines: list[Floats] = []
    for k in range(3):
        first, side = space.origin[k], form.size[k]
        last = first + space.free.shape[k] * space.pitch_mm - side
        planes = _planes(walls, k)
        if len(planes) > MOST_PLANES:
            planes = planes[:0]
        tried = np.concatenate([np.arange(first, last, step_mm), planes, planes - side])
        lines.append(np.unique(np.round(tried[(tried >= first) & (tried <= last)], 3)))
    points, sums = points_in(case, space.zone)
    index = _open(sums, *(_held(points, k, lines[k], form.size[k]) for k in range(3)))
    at = np.stack([lines[k][index[:, k]] for k in range(3)], axis=1)
    return at[_stands(case, space, form, at)]


def clear_places(case: Case, space: Space, form: Form, at: Floats, exact: bool = False) -> Floats:
    """Those of some lowest corners, (n, 3), at which a form stands free, its access open and with a way out.

    `exact` asks for the distance itself where the clearance along the axes is not kept, round the corners of the
    box as well: slower, for tight bays.
    """
    if not shell(case, space.zone):
        return np.empty((0, 3))
    points, sums = points_in(case, space.zone)
    held = [_held(points, k, at[:, k], form.size[k]) for k in range(3)]
    at = at[[len(_open(sums, *(h[n : n + 1] for h in held))) > 0 for n in range(len(at))]]
    return at[_stands(case, space, form, at, exact)]


def _stands(case: Case, space: Space, form: Form, at: Floats, exact: bool = False) -> Bools:
    """Of corners that leave a form open points only; see `clear_places`."""
    hi = at + np.array(form.size)
    good = all_set(space, space.free_sums, at, hi)
    unsure = np.flatnonzero(~good)
    good[unsure] = (far_from if exact else clear_of)(shell(case, space.zone), at[unsure], hi[unsure])
    sure = np.flatnonzero(good)
    good[sure] = _reached(case, space.zone, form, at[sure])
    return good


def _held(points: Points, k: int, lines: Floats, side: float) -> Ints:
    """(n, 2) first point that a box holds along an axis and the one after its last, from each of these lines on."""
    lo = np.ceil((lines - points.first[k]) / points.pitch_mm - 1e-9).astype(np.int64)
    hi = np.floor((lines + side - points.first[k]) / points.pitch_mm + 1e-9).astype(np.int64) + 1
    return np.stack([lo, hi], axis=1)


@numba.njit(cache=True)
def _open(s: Sums, x: Ints, y: Ints, z: Ints) -> Ints:
    """Which corners of three sets of lines leave a box with open points only."""
    out = []
    for i in range(x.shape[0]):
        x0, x1 = x[i, 0], x[i, 1]
        if x0 < 0 or x1 >= s.shape[0]:
            continue
        for j in range(y.shape[0]):
            y0, y1 = y[j, 0], y[j, 1]
            if y0 < 0 or y1 >= s.shape[1]:
                continue
            for k in range(z.shape[0]):
                z0, z1 = z[k, 0], z[k, 1]
                if z0 < 0 or z1 >= s.shape[2]:
                    continue
                count = (
                    s[x1, y1, z1] - s[x0, y1, z1] - s[x1, y0, z1] - s[x1, y1, z0]
                    + s[x0, y0, z1] + s[x0, y1, z0] + s[x1, y0, z0] - s[x0, y0, z0]
                )  # fmt: skip
                if count == (x1 - x0) * (y1 - y0) * (z1 - z0):
                    out.append((i, j, k))
    made = np.empty((len(out), 3), dtype=np.int64)
    for n in range(len(out)):
        made[n, 0], made[n, 1], made[n, 2] = out[n][0], out[n][1], out[n][2]
    return made


def room_open(case: Case, zone: str, face: Vec, lo: Floats, hi: Floats) -> Bools:
    """Whether access rooms, (n, 3) lowest and highest corners, hold no surface; a side the zone opens to is open."""
    opens = {axis(a) for z in case.vehicle.zones if z.name == zone for a in z.opens}
    walls = [triangles_of(mesh) for mesh in case.keep_outs.values()]
    if face not in opens:
        walls.append(triangles_of(case.zones[zone]))
    return clear_of([(w, -HAIR_MM) for w in walls], lo, hi)


def _reached(case: Case, zone: str, form: Form, at: Floats) -> Bools:
    """Whether access rooms are open and a straight way out is there, nothing else being in the zone."""
    record = next(z for z in case.vehicle.zones if z.name == zone)
    good = np.ones(len(at), dtype=np.bool_)
    for slab in form.slabs:
        good &= room_open(case, zone, slab.face, at + np.array(slab.box.lo), at + np.array(slab.box.hi))
    out = np.zeros(len(at), dtype=np.bool_)
    bounds = case.zones[zone].bounds
    for way, walls in _exits(case, zone):
        lo, hi = at.copy(), at + np.array(form.size)
        fits = np.ones(len(at), dtype=np.bool_)
        for k in range(3):
            if way[k] > 0.5:
                hi[:, k] = np.maximum(hi[:, k], bounds.hi[k])
            elif way[k] < -0.5:
                lo[:, k] = np.minimum(lo[:, k], bounds.lo[k])
            elif record.opening is not None:
                a, b = sorted((record.opening.corner[k], record.opening.opposite[k]))
                fits &= (lo[:, k] >= a) & (hi[:, k] <= b)
        out |= fits & clear_of([(walls, -HAIR_MM)], lo, hi)
    return good & out
