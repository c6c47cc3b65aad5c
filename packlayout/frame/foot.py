"""Foot plates: one on each original mounting point, drilled to its holes, with room for the tube beside them.

A drill and a socket must reach each hole, so a tube never lands on a hole or its washer.
"""

from dataclasses import dataclass

import numpy as np

from packlayout.frame.tubes import Plate
from packlayout.model.brief import Case
from packlayout.model.catalogue import Thread
from packlayout.model.geometry import Floats, Pose, Vec
from packlayout.model.vehicle import MountPoint

WELD_ROOM_MM = 6.0  # plate left beside the tube for the fillet (common practice, no source)
EDGE_SHARE = 1.5  # edge distance in hole diameters; EN 1993-1-8 table 3.3 asks 1.2 (value from memory)
FURTHEST_LANDING_MM = 120.0


@dataclass(frozen=True, slots=True)
class Foot:
    """A plate and the way a tube lands on it.

    Attributes:
        plate: Drilled.
        landing: Where the tube's centre line meets the plate, mm, vehicle axes.
        axis: 0, 1 or 2: the axis that the tube leaves along.
        sign: +1 or -1.
        normal: Unit normal of the plate, away from the vehicle.
        shift_mm: How far the landing is from the middle of the holes.
    """

    plate: Plate
    landing: Vec
    axis: int
    sign: int
    normal: Vec
    shift_mm: float


def _plane(normal: Floats) -> tuple[Floats, Floats]:
    """Two unit vectors in a plane, the first as near to the vehicle's x axis as may be."""
    reference = np.array([1.0, 0.0, 0.0]) if abs(normal[0]) < 0.9 else np.array([0.0, 1.0, 0.0])
    u = reference - normal * (reference @ normal)
    u /= np.linalg.norm(u)
    return u, np.cross(normal, u)


def feet(case: Case, mount: MountPoint, wanted: list[Vec]) -> list[Foot]:
    """Every plate worth trying for one mounting point, the tube nearest to its holes first.

    Args:
        case: Supplies the tube, plate thickness and bolt table.
        mount: The mounting point.
        wanted: Points near which a tube would like to land, besides the usual ones.
    """
    n = np.array(mount.face)
    u, v = _plane(n)
    axis = int(np.argmax(np.abs(n)))
    sign = 1 if n[axis] > 0 else -1
    holes = np.array(mount.holes)
    middle = holes.mean(axis=0)
    flat = np.stack([(holes - middle) @ u, (holes - middle) @ v], axis=1)
    thread = case.threads[mount.thread]
    section = case.sections[case.brief.frame.leg_tube]
    thick = case.brief.frame.plate_mm
    lean = np.eye(3)[axis]
    # footprint of a square tube along the axis on the sloping plate, half sides in u and v
    half = section.side_mm / 2
    foot_u, foot_v = _footprint(u, v, n, lean, axis, half)
    made: list[Foot] = []
    on_plate = [_under(point, middle + n * thick, u, v, axis) for point in wanted]
    for place in _landings(flat, on_plate, (foot_u, foot_v), thread):
        if not _free_of_holes(place, flat, (foot_u, foot_v), thread):
            continue
        plate = _plate(mount.name, flat, place, (foot_u, foot_v), thread, (middle, u, v, n), thick)
        top = middle + u * place[0] + v * place[1] + n * thick
        landing = (float(top[0]), float(top[1]), float(top[2]))
        made.append(Foot(plate, landing, axis, sign, mount.face, float(np.hypot(*place))))
    return sorted(made, key=lambda f: (round(f.shift_mm, 3), f.landing))


def _footprint(u: Floats, v: Floats, n: Floats, lean: Floats, axis: int, half: float) -> tuple[float, float]:
    """Half sides in u and v of the box around an axis tube cut by the plate's plane."""
    others = [np.eye(3)[k] for k in range(3) if k != axis]
    reach_u, reach_v = 0.0, 0.0
    for a in (-half, half):
        for b in (-half, half):
            point = others[0] * a + others[1] * b
            point = point - lean * (point @ n) / (lean @ n)
            reach_u, reach_v = max(reach_u, abs(point @ u)), max(reach_v, abs(point @ v))
    return reach_u, reach_v


def _under(point: Vec, top: Floats, u: Floats, v: Floats, axis: int) -> tuple[float, float]:
    """Where on the top of a plate a tube along an axis lands that aims at a point, in u and v from the holes."""
    k, m = (i for i in range(3) if i != axis)
    matrix = np.array([[u[k], v[k]], [u[m], v[m]]])
    a, b = np.linalg.solve(matrix, np.array([point[k] - top[k], point[m] - top[m]]))
    return float(a), float(b)


def _landings(
    flat: Floats, on_plate: list[tuple[float, float]], half: tuple[float, float], thread: Thread
) -> list[tuple[float, float]]:
    spots: list[tuple[float, float]] = [(0.0, 0.0)]
    away_u = half[0] + thread.washer_diameter_mm / 2 + 2.5 + float(np.abs(flat[:, 0]).max())
    away_v = half[1] + thread.washer_diameter_mm / 2 + 2.5 + float(np.abs(flat[:, 1]).max())
    spots += [(away_u, 0.0), (-away_u, 0.0), (0.0, away_v), (0.0, -away_v)]
    for a, b in on_plate:
        spots += [(a, b), (a, 0.0), (0.0, b), (away_u, b), (-away_u, b)]
    near = [s for s in spots if max(abs(s[0]), abs(s[1])) <= FURTHEST_LANDING_MM]
    # to a millionth of a millimetre, so that a tube that aims at a rail meets it
    return list(dict.fromkeys((round(a, 9), round(b, 9)) for a, b in near))


def _free_of_holes(
    place: tuple[float, float], flat: Floats, half: tuple[float, float], thread: Thread
) -> bool:
    room = thread.washer_diameter_mm / 2 + 2.0
    du = np.abs(flat[:, 0] - place[0]) - half[0]
    dv = np.abs(flat[:, 1] - place[1]) - half[1]
    return bool(np.all(np.maximum(du, dv) >= room))


def _plate(
    name: str, flat: Floats, place: tuple[float, float], half: tuple[float, float], thread: Thread,
    frame: tuple[Floats, Floats, Floats, Floats], thick: float,
) -> Plate:  # fmt: skip
    edge = max(EDGE_SHARE * thread.clearance_hole_mm, thread.washer_diameter_mm / 2 + 1.0)
    lo = [min(float(flat[:, k].min()) - edge, place[k] - half[k] - WELD_ROOM_MM) for k in (0, 1)]
    hi = [max(float(flat[:, k].max()) + edge, place[k] + half[k] + WELD_ROOM_MM) for k in (0, 1)]
    lo, hi = [float(np.floor(v)) for v in lo], [float(np.ceil(v)) for v in hi]
    middle, u, v, n = frame
    corner = middle + u * lo[0] + v * lo[1]
    rows = [(float(u[k]), float(v[k]), float(n[k])) for k in range(3)]
    pose = Pose((float(corner[0]), float(corner[1]), float(corner[2])), (rows[0], rows[1], rows[2]))
    holes = tuple((float(a) - lo[0], float(b) - lo[1], thread.clearance_hole_mm) for a, b in flat)
    return Plate(f"foot plate {name}", f"leg {name}", pose, (hi[0] - lo[0], hi[1] - lo[1], thick), holes)
