"""Where a thing may stand when nothing else is there: on cell corners, on the shaft line, or close to walls.

On cell corners is quick and keeps a cell's breadth off slanted surfaces. Close to walls is asked of the surfaces
themselves: corners of a coarse lattice and of the planes of flat walls at their clearance, each tried against
every triangle near it. So a bay with a few millimetres to spare is used to the last of them.
"""

from collections.abc import Sequence
from functools import lru_cache
from math import ceil, cos, floor, radians
from typing import cast

import numba
import numpy as np
from numpy.typing import NDArray

from packlayout.model.brief import Case, PartOrder, ShaftLine
from packlayout.model.catalogue import Part
from packlayout.model.geometry import Box, Floats, Ints, Vec
from packlayout.model.layout import Placement, axis
from packlayout.placement.forms import Form, Slab
from packlayout.placement.sides import Stand, stand, stand_at
from packlayout.placement.tables import Cell, Kind, spots
from packlayout.placement.walls import clear_places, close_places
from packlayout.space.cells import Bools, Space, Sums, all_set
from packlayout.space.ways import way_sums

MOST_ROWS, MOST_CLOSE_ROWS = 30_000, 60_000
LINE_STEP_MM = 5.0
FAR = 1_000_000
Rows = tuple[Floats, Ints, Ints]
Places = list[tuple[Floats | Ints, int, int]]
"""Anchors, as corners or as cells (places in the flat array), with the form and the zone they are for."""


def places(
    case: Case, forms: Sequence[Form], spaces: Sequence[Space], zones: Sequence[str], order: PartOrder | None,
    close: bool = False,
) -> Places:  # fmt: skip
    """Every anchor of every form in every allowed zone, access faces reachable.

    Args:
        case: The case.
        forms: Ways the thing may stand.
        spaces: Cells of the zones.
        zones: Those it may stand in.
        order: Of a part; None for a block.
        close: Also where only the surfaces themselves tell that it stands free.

    Returns:
        For each form and zone with any; forms that have the same places share them.
    """
    found: Places = []
    opens = {z.name: {axis(a) for a in z.opens} for z in case.vehicle.zones}
    for z, space in enumerate(spaces):
        if space.zone not in zones:
            continue
        known: dict[tuple[Vec, tuple[Slab, ...]], Floats | Ints] = {}
        for f, form in enumerate(forms):
            if order is not None and order.on_line is not None:
                at = _on_line(case, case.parts[order.part], order.on_line, form, space)
                at = clear_places(case, space, form, at) if close else _open_on_line(case, space, form, at)
            else:
                # forms that take the same room, turned half round for instance, have the same places
                key = form.size, form.slabs
                if key not in known:
                    known[key] = (
                        close_places(case, space, form)
                        if close
                        else _on_cells(case, space, form, opens[space.zone])
                    )
                at = known[key]
            if len(at):
                found.append((at, f, z))
    return found


def rows(found: Places, spaces: Sequence[Space], close: bool = False) -> Rows:
    """The same anchors thinned evenly to a budget: (n, 3) lowest corners, mm; form and zone of each."""
    if not found:
        return np.empty((0, 3)), np.empty(0, dtype=np.int64), np.empty(0, dtype=np.int64)
    budget = (MOST_CLOSE_ROWS if close else MOST_ROWS) / sum(len(at) for at, _, _ in found)
    kept: list[tuple[Floats, int, int]] = []
    for at, f, z in found:
        want = max(64, int(len(at) * budget))
        few = at[np.linspace(0, len(at) - 1, want).astype(np.int64)] if want < len(at) else at
        # cells are kept as places in the flat array until few are left
        corners = _corners(spaces[z], cast("Ints", few)) if few.ndim == 1 else cast("Floats", few)
        kept.append((corners, f, z))
    return (
        np.concatenate([at for at, _, _ in kept]),
        np.concatenate([np.full(len(at), f, dtype=np.int64) for at, f, _ in kept]),
        np.concatenate([np.full(len(at), z, dtype=np.int64) for at, _, z in kept]),
    )


def stands(found: Places, spaces: Sequence[Space], forms: Sequence[Form], gap_mm: float) -> tuple[Stand, ...]:
    """All anchors, none left out, as sets for the search over sides.

    Room in front of access faces and ports is kept free over a whole side of the box.
    """
    made: list[Stand] = []
    known: set[tuple[int, int]] = set()
    for at, f, z in found:
        if (id(at), z) in known:
            continue
        known.add((id(at), z))
        form, room = forms[f], side_rooms(forms[f], gap_mm)
        if at.ndim == 1:
            held, lowest = boxed(cast("Ints", at), np.array(spaces[z].free.shape))
            step = spaces[z].pitch_mm
            x, y, w = (float(o + step * n) for o, n in zip(spaces[z].origin, lowest, strict=True))
            one = stand(f, z, form.size, room, (x, y, w), step, 0.0, held)
        else:
            one = stand_at(f, z, form.size, room, cast("Floats", at))
        made += [one] if one is not None else []
    return tuple(made)


@numba.njit(cache=True)
def boxed(flat: Ints, shape: Ints) -> tuple[Bools, Ints]:
    """Cells, given as places in the flat array, within the box around them; and its lowest cell."""
    lo, hi = shape.copy(), np.zeros(3, dtype=np.int64)
    plane, row = shape[1] * shape[2], shape[2]
    at = np.empty(3, dtype=np.int64)
    for n in range(len(flat)):
        at[0], at[1], at[2] = flat[n] // plane, flat[n] % plane // row, flat[n] % row
        for k in range(3):
            lo[k], hi[k] = min(lo[k], at[k]), max(hi[k], at[k])
    held = np.zeros((hi[0] - lo[0] + 1, hi[1] - lo[1] + 1, hi[2] - lo[2] + 1), dtype=np.bool_)
    for n in range(len(flat)):
        held[flat[n] // plane - lo[0], flat[n] % plane // row - lo[1], flat[n] % row - lo[2]] = True
    return held, lo


def side_rooms(form: Form, gap_mm: float) -> tuple[float, ...]:
    """Room that a form wants before and behind it along each axis, mm: to other parts, or in front of a face."""
    room = [gap_mm] * 6
    for slab in form.slabs:
        k = max(range(3), key=lambda n: abs(slab.face[n]))
        if slab.face[k] > 0:
            room[2 * k + 1] = max(room[2 * k + 1], slab.box.hi[k] - form.size[k])
        else:
            room[2 * k] = max(room[2 * k], -slab.box.lo[k])
    return tuple(room)


def _corners(space: Space, flat: Ints) -> Floats:
    """Lowest corners of cells, from their places in the flat array of cells."""
    index = np.stack(np.unravel_index(flat, space.free.shape), axis=1)
    return np.array(space.origin, dtype=np.float64) + index.astype(np.float64) * space.pitch_mm


def _on_cells(case: Case, space: Space, form: Form, opens: set[Vec]) -> Ints:
    """Cells (places in the flat array) where it stands free, access open, with a straight way out."""
    pitch = space.pitch_mm
    others, ways = _others(case, space)
    x, y, z = (max(1, ceil(side / pitch - 1e-9)) for side in form.size)
    cells: Cell = (x, y, z)
    rooms: list[tuple[int, Cell, Cell]] = []
    for slab in form.slabs:
        lo = tuple(floor(v / pitch + 1e-9) for v in slab.box.lo)
        hi = tuple(ceil(v / pitch - 1e-9) for v in slab.box.hi)
        rooms.append((1 if slab.face in opens else 0, (lo[0], lo[1], lo[2]), (hi[0], hi[1], hi[2])))
    good = np.zeros(space.free.shape, dtype=np.bool_)
    for n, way in enumerate(ways):
        lo = tuple(-FAR if w < -0.5 else 0 for w in way)
        hi = tuple(FAR if w > 0.5 else c for w, c in zip(way, cells, strict=True))
        out = (n + 2, (lo[0], lo[1], lo[2]), (hi[0], hi[1], hi[2]))
        good |= spots(space.free_sums, others, Kind(1, cells, (0, 0, 0), cells, (out, *rooms)))
    flat = np.flatnonzero(good)
    zone = next(z for z in case.vehicle.zones if z.name == space.zone)
    return flat if zone.opening is None else flat[_has_way(case, space, _corners(space, flat), form.size)]


@lru_cache(maxsize=8)
def _others(case: Case, space: Space) -> tuple[NDArray[np.int32], tuple[Vec, ...]]:
    """Sums of air, of what is open, and of each way out, one on the other; and the ways."""
    ways = _ways(case, space)
    return np.stack([space.air_sums, space.open_sums, *(sums for _, sums in ways)]), tuple(
        way for way, _ in ways
    )


def _reachable(space: Space, sums: Sums, at: Floats, box: Box) -> Bools:
    """Whether the access room is open; room beyond the cells counts as open when the zone opens that way."""
    lo, hi = at + np.array(box.lo), at + np.array(box.hi)
    if sums is space.open_sums:
        top = np.array(space.origin) + (np.array(space.free.shape)) * space.pitch_mm
        lo, hi = np.maximum(lo, space.origin), np.minimum(hi, top)
    return all_set(space, sums, lo, hi)


@lru_cache(maxsize=8)
def _ways(case: Case, space: Space) -> tuple[tuple[Vec, Sums], ...]:
    """The sides a zone opens to, each with the cells one may pass through on the way there."""
    zone = next(z for z in case.vehicle.zones if z.name == space.zone)
    solids = tuple(case.keep_outs[k.name] for k in case.vehicle.keep_outs if not k.removable)
    surface = case.zones[space.zone]
    lids = [zone.lid_from_mm if n == 0 else None for n in range(len(zone.opens))]
    return tuple(
        (axis(a), way_sums(space, surface, solids, axis(a), lid))
        for a, lid in zip(zone.opens, lids, strict=True)
    )


def _has_way(case: Case, space: Space, at: Floats, size: Vec) -> Bools:
    """Whether a box at each anchor can leave the zone straight, when nothing else is there."""
    zone = next(z for z in case.vehicle.zones if z.name == space.zone)
    bottom = np.array(space.origin)
    top = bottom + np.array(space.free.shape) * space.pitch_mm
    good = np.zeros(len(at), dtype=np.bool_)
    for way, sums in _ways(case, space):
        lo, hi = at.copy(), at + np.array(size)
        fits = np.ones(len(at), dtype=np.bool_)
        for k in range(3):
            if way[k] > 0.5:
                hi[:, k] = top[k]
            elif way[k] < -0.5:
                lo[:, k] = bottom[k]
            elif zone.opening is not None:
                a, b = sorted((zone.opening.corner[k], zone.opening.opposite[k]))
                fits &= (lo[:, k] >= a) & (hi[:, k] <= b)
        good |= fits & all_set(space, sums, lo, hi)
    return good


def _on_line(case: Case, part: Part, wanted: ShaftLine, form: Form, space: Space) -> Floats:
    """Anchors that put a part's last shaft port on the shaft line, where its shaft runs along it."""
    line = shaft_line(case)
    ports = [p for p in part.ports if p.kind == "shaft"]
    if line is None or not ports:
        return np.empty((0, 3))
    start, along = line
    member = form.members[0]
    pose = Placement("", "", "", (0.0, 0.0, 0.0), member.up, member.turn_deg, part.box_size).pose
    looks = pose.direction(ports[-1].direction)
    if sum(a * b for a, b in zip(looks, along, strict=True)) < cos(radians(wanted.angle_deg)):
        return np.empty((0, 3))
    at = np.array(start)[None] + np.arange(-2000.0, 2000.0, LINE_STEP_MM)[:, None] * np.array(along)[None]
    return at - np.array(pose.point(ports[-1].at))


def _open_on_line(case: Case, space: Space, form: Form, at: Floats) -> Floats:
    """Those on free cells, their access open and with a straight way out."""
    opens = {axis(a) for z in case.vehicle.zones if z.name == space.zone for a in z.opens}
    at = at[all_set(space, space.free_sums, at, at + np.array(form.size))]
    for slab in form.slabs:
        at = at[_reachable(space, space.open_sums if slab.face in opens else space.air_sums, at, slab.box)]
    return at[_has_way(case, space, at, form.size)]


def shaft_line(case: Case) -> tuple[Vec, Vec] | None:
    """A point of the shaft line and its direction, from the old gearbox output to the axle input."""
    drive = case.vehicle.driveline
    if drive is None:
        return None
    d = [b - a for a, b in zip(drive.gearbox_output, drive.axle_input, strict=True)]
    length = sum(v * v for v in d) ** 0.5
    return drive.gearbox_output, (d[0] / length, d[1] / length, d[2] / length)
