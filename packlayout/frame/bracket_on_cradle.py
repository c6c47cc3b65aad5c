"""Where a strip of a bracket can be bolted to the tubes of a cradle."""

from collections.abc import Iterator

from packlayout.frame.bracket import Hold
from packlayout.frame.bracket_bed import Bed, Feet, Row
from packlayout.frame.site import Site
from packlayout.frame.tubes import Member, Plate, flat_plate, member_box
from packlayout.model.catalogue import Thread, TubeSection

PACKING_MM = (
    40.0  # more than this between strip and what it is bolted to is no packing (common practice, no source)
)
LEAST_EDGE_MM = 9.0  # from a blind nut to the edge of a tube (common practice, no source)
LEAST_SPACER_MM = 2.0


def on_cradle(
    site: Site, bed: Bed, row: Row, sign: int, post: TubeSection, feet: Feet, why: dict[str, None]
) -> Iterator[tuple[Hold, float]]:
    """A tube of the cradle behind the strip: bolted once where it crosses or lies along it, or twice and so clamped."""
    places = [h[row.along] for h in row.holes]
    middle, far = sum(places) / len(places), (min(places) if sign < 0 else max(places))
    centre = (row.lo + row.hi) / 2
    room = feet[0].washer_diameter_mm / 2 + bed.hole_mm
    found: list[tuple[float, float, Hold]] = []
    for number, tube, box in site.tubes:
        behind = ((box.lo[bed.axis] if bed.sign > 0 else box.hi[bed.axis]) - bed.plane) * bed.sign
        packing = behind - bed.back
        lo, hi = box.lo[row.along], box.hi[row.along]
        if not -0.01 <= packing <= PACKING_MM or abs(tube.axis[bed.axis]) > 0.5:
            continue
        if not box.lo[row.across] + LEAST_EDGE_MM <= centre <= box.hi[row.across] - LEAST_EDGE_MM:
            continue
        crosses = abs(tube.axis[row.across]) > 0.5
        if crosses:
            reach = (hi - lo) / 2 - LEAST_EDGE_MM
            spots = [(lo + hi) / 2, (lo + hi) / 2 + sign * reach, (lo + hi) / 2 - sign * reach]
            covers = (lo, hi)
        else:
            spots = [far + sign * (room + 1.0), far - sign * (room + 1.0)]
            covers = (0.0, 0.0)
        free = [s for s in spots if all(abs(s - p) >= room for p in places)]
        free = [s for s in free if lo + LEAST_EDGE_MM - 0.01 <= s <= hi - LEAST_EDGE_MM + 0.01]
        if not free:
            continue
        at = free[0]
        if not crosses:
            covers = (at - 15.0, at + 15.0)
        if (at - middle) * sign > 0:
            outside = (at - far) * sign
            # the first tube beyond the last hole, else the nearest before it
            rank = outside if outside >= 0 else 1000.0 - outside
            found.append((rank, at, _bolted(bed, row, sign, number, tube, behind, (at,), covers, feet[0])))
        if crosses:
            found += _clamps(bed, row, sign, number, tube, behind, feet)
    for _, _, hold in sorted(found, key=lambda row: row[:2])[:4]:
        yield hold, site.own_mm


def _clamps(
    bed: Bed, row: Row, sign: int, number: int, tube: Member, behind: float, feet: Feet
) -> Iterator[tuple[float, float, Hold]]:
    """Two bolts beside each other along the strip, of the largest thread that finds room in the tube's side."""
    box = member_box(tube)
    lo, hi = box.lo[row.along], box.hi[row.along]
    places = [h[row.along] for h in row.holes]
    middle = sum(places) / len(places)
    for thread in feet:
        # from the middle of a bolt to the edge of the tube, and between two: EN 1993-1-8 table 3.3, 2.2 diameters
        half = (hi - lo) / 2 - max(LEAST_EDGE_MM * thread.clearance_hole_mm / 9.0, thread.clearance_hole_mm)
        pair = ((lo + hi) / 2 - half, (lo + hi) / 2 + half)
        room = thread.washer_diameter_mm / 2 + bed.hole_mm
        if 2 * half < 2.2 * thread.clearance_hole_mm or any(abs(s - p) < room for p in places for s in pair):
            continue
        hold = _bolted(bed, row, sign, number, tube, behind, pair, (lo, hi), thread)
        yield 500.0 + abs((lo + hi) / 2 - middle), (lo + hi) / 2, hold
        return


def stand_offs(site: Site, bed: Bed) -> list[float]:
    """How far from the face a strip may lie: against it, or on the nearest tubes of a cradle behind it."""
    found: list[float] = []
    for _, tube, box in site.tubes:
        if abs(tube.axis[bed.axis]) > 0.5:
            continue
        behind = ((box.lo[bed.axis] if bed.sign > 0 else box.hi[bed.axis]) - bed.plane) * bed.sign
        others = [k for k in range(3) if k != bed.axis]
        beneath = all(box.lo[k] < bed.part.hi[k] and box.hi[k] > bed.part.lo[k] for k in others)
        if beneath and 0.0 < behind <= PACKING_MM:
            found.append(behind)
    off = min(found, default=0.0) - bed.thick
    return [0.0, off] if off >= LEAST_SPACER_MM else [0.0]


def _bolted(
    bed: Bed, row: Row, sign: int, number: int, tube: Member, behind: float, spots: tuple[float, ...],
    covers: tuple[float, float], feet: Thread,
) -> Hold:  # fmt: skip
    """A hold on a cradle's tube, with packing where the strip does not lie on it."""
    bolts = tuple(bed.point(row, at, 0.0, behind) for at in spots)
    at = sum(spots) / len(spots)
    pieces: tuple[Plate, ...] = ()
    if behind - bed.back > 0.3:
        pad = bed.box(row, *covers, bed.back, behind)
        name = f"{bed.strip} packing {'-+'[sign > 0]}"
        pieces = (flat_plate(name, bed.group, pad, bed.axis, [(b, feet.clearance_hole_mm) for b in bolts]),)
    return Hold(
        "cradle" if len(spots) == 1 else "clamp", at, tube.name, bed.point(row, at, 0.0, behind), bed.normal(), bolts,
        feet.thread, (row.hi - row.lo) / 2, 0.0, pieces, covers, feet.clearance_hole_mm, number, wall_mm=tube.section.wall_mm,
    )  # fmt: skip
