"""The place a bracket is built in: the walls of the zone, the tubes of its cradles, and what is in the way."""

from collections.abc import Collection, Sequence
from dataclasses import dataclass, replace

import numpy as np

from packlayout.frame.tubes import Member
from packlayout.frame.walls import Walls, walls_of
from packlayout.model.brief import Case
from packlayout.model.geometry import Box, Floats, Vec
from packlayout.model.layout import Layout, Placement, axis
from packlayout.space.rays import ray
from packlayout.space.touching import box_touches

UNEVEN_MM = 3.0
"""A wall that is more out of flat than this under a foot is no seat for it (common practice, no source)."""

REACH_MM = 600.0


@dataclass(frozen=True, slots=True, eq=False)
class Site:
    """One zone, as brackets see it.

    Attributes:
        zone: Its name.
        body: Its walls.
        open: (axis, sign) of the sides without a wall.
        surfaces: (walls, clearance mm): keep-outs.
        own_mm: Clearance of the frame from everything.
        boxes: (name, box): other parts, access room, tubes, plates, brackets that are there.
        tubes: (number, tube, box around it) of the cradles in the zone.
        corners: Lowest and highest corners of `boxes`, (n, 3) each.
    """

    zone: str
    body: Walls
    open: frozenset[tuple[int, int]]
    surfaces: tuple[tuple[Walls, float], ...]
    own_mm: float
    boxes: tuple[tuple[str, Box], ...]
    tubes: tuple[tuple[int, Member, Box], ...]
    corners: tuple[Floats, Floats] = (np.zeros((0, 3)), np.zeros((0, 3)))

    def with_boxes(self, boxes: Sequence[tuple[str, Box]]) -> "Site":
        """The same with more in the way."""
        return replace(self, boxes=(*self.boxes, *boxes))

    def near(self, box: Box) -> "Site":
        """The same with only what a bracket of a part could reach."""
        room = box.grown(REACH_MM)
        boxes = tuple(row for row in self.boxes if row[1].overlap_depth(room) > 0)
        lo = np.array([row[1].lo for row in boxes]).reshape(-1, 3)
        hi = np.array([row[1].hi for row in boxes]).reshape(-1, 3)
        return replace(self, body=self.body.near(room), boxes=boxes, corners=(lo, hi))

    def wall(self, points: Sequence[Vec], along: int, sign: int) -> float | None:
        """How far the wall is from the nearest of some points along an axis.

        Returns:
            The least distance, mm; None where that side is open, a point has no wall, or the wall is not flat.
        """
        if (along, sign) in self.open:
            return None
        found: list[float] = []
        for point in points:
            distance = ray(self.body.triangles, np.array(point), along, sign)
            if not np.isfinite(distance):
                return None
            found.append(distance)
        return min(found) if max(found) - min(found) <= UNEVEN_MM else None

    def crossed(self, box: Box, but: Collection[str] = ()) -> str:
        """The first thing in the way that a box reaches into; empty when there is none."""
        lo, hi = self.corners
        if not len(lo):
            return ""
        deep = (np.minimum(hi, box.hi) > np.maximum(lo, box.lo)).all(axis=1)
        return next((self.boxes[n][0] for n in np.flatnonzero(deep) if self.boxes[n][0] not in but), "")

    def meets(self, box: Box, clearance: float, *, seat: bool = False, but: Collection[str] = ()) -> str:
        """What a piece of a bracket would run into, in words; empty when it is clear.

        Args:
            box: Around the piece.
            clearance: From the walls; what is bolted to one may touch it.
            seat: True for a piece that lies on a wall.
            but: Names of the parts it is for.
        """
        hit = self.crossed(box.grown(-0.05), but)
        if hit:
            return hit
        room = box.grown(-0.3 if seat else clearance)
        if box_touches(self.body.triangles, np.array(room.lo), np.array(room.hi)):
            return "the body"
        for walls, distance in self.surfaces:
            grown = box.grown(distance)
            if box_touches(walls.triangles, np.array(grown.lo), np.array(grown.hi)):
                return "a keep-out"
        return ""


def site_of(case: Case, layout: Layout, zone: str, rooms: Sequence[Box]) -> Site:
    """A zone before anything of the frame stands in it."""
    c, own = case.brief.clearances, case.brief.frame.clearance_mm
    distance = {"solid": own, "moving": c.moving_mm, "hot": c.hot_mm}
    record = next(z for z in case.vehicle.zones if z.name == zone)
    opens = [axis(side) for side in record.opens]
    sides = [(k, int(way[k])) for way in opens for k in range(3) if way[k]]
    surfaces = tuple((walls_of(case.keep_outs[k.name]), distance[k.kind]) for k in case.vehicle.keep_outs)
    boxes = [(p.name, _room_of(p, case, own)) for p in layout.placements]
    boxes += [("access room", room.grown(-0.01)) for room in rooms]
    return Site(
        zone, walls_of(case.zones[zone]), frozenset(sides), surfaces, own,
        tuple(boxes), (),
    )  # fmt: skip


def _room_of(part: Placement, case: Case, own: float) -> Box:
    return part.box.grown(min(own, case.brief.frame.liner_mm) if part.block is not None else own)
