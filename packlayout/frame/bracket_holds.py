"""Where the end of a strip can be held: on a tube, on the wall behind, on a post, or by an end plate."""

from collections.abc import Iterator, Sequence
from itertools import product

from packlayout.frame.bracket import Hold, boxes_of
from packlayout.frame.bracket_bed import Bed, Feet, Row
from packlayout.frame.bracket_on_cradle import PACKING_MM, on_cradle
from packlayout.frame.site import Site
from packlayout.frame.tubes import Member, Plate, flat_plate
from packlayout.model.catalogue import Thread, TubeSection
from packlayout.model.geometry import Box, Vec

FOOT_MM = 6.0  # plate of a foot or an end (common practice, no source)
TAPPED_MM = 8.0  # of one that is tapped, a diameter of M8 (common practice, no source)
TALLEST_POST_MM = 450.0
LONGEST_ARM_MM = 200.0
SOCKET_MM = 40.0  # in front of a bolt, for a socket (common practice, no source)
BESIDE_MM = 4.0
_WORDS = {
    "cradle": "packing", "clamp": "packing", "wall": "a bolt on the wall behind", "end": "an end plate", "post": "a post",
}  # fmt: skip


def pads(site: Site, holds: Sequence[Hold]) -> float:
    """Clearance of a strip from the walls: none where it is bolted to one."""
    return site.own_mm if all(h.cradle is not None for h in holds) else -0.1


def holds_of(
    site: Site, bed: Bed, row: Row, sign: int, post: TubeSection, feet: Feet, why: dict[str, None]
) -> Iterator[Hold]:
    """Every way to hold one end of a strip that nothing stands in the way of; the simplest first."""
    for make in (on_cradle,) if bed.on_cradle else (_on_wall, _by_end, _by_post):
        behind: list[Hold] = []
        for hold, clearance in make(site, bed, row, sign, post, feet, why):
            blocked = ""
            for piece in hold.pieces:
                seat = isinstance(piece, Plate) and hold.cradle is None
                blocked = blocked or site.meets(boxes_of([piece])[0], clearance, seat=seat, but=bed.parts)
            socket = (
                "" if blocked or hold.cradle is not None or hold.from_behind else _socket(site, bed, hold)
            )
            if blocked or socket:
                why[f"{_WORDS[hold.kind]} meets {blocked or socket}"] = None
                continue
            if hold.from_behind:
                behind.append(hold)
            else:
                yield hold
        yield from behind


def _socket(site: Site, bed: Bed, hold: Hold) -> str:
    """What stands where a socket goes on the bolts."""
    k = max(range(3), key=lambda j: abs(hold.normal[j]))
    for bolt in hold.bolts:
        lo, hi = list(bolt), list(bolt)
        for j in range(3):
            if j != k:
                lo[j], hi[j] = bolt[j] - 8.0, bolt[j] + 8.0
        # from in front of the foot
        first = FOOT_MM + 1.0 if hold.kind != "wall" else bed.thick + 1.0
        ends = sorted((bolt[k] - hold.normal[k] * first, bolt[k] - hold.normal[k] * (first + SOCKET_MM)))
        lo[k], hi[k] = ends
        room = Box((lo[0], lo[1], lo[2]), (hi[0], hi[1], hi[2]))
        hit = site.crossed(room, ("access room",))
        if hit:
            return f"{hit} before its bolt"
    return ""


def _end_of(bed: Bed, row: Row, sign: int) -> float:
    return bed.part.hi[row.along] if sign > 0 else bed.part.lo[row.along]


def _corners(bed: Bed, row: Row, lo: float, hi: float, low: float, high: float, behind: float) -> list[Vec]:
    middle = (row.lo + row.hi) / 2
    return [
        bed.point(row, at, off - middle, behind)
        for at, off in ((lo, low), (lo, high), (hi, low), (hi, high), ((lo + hi) / 2, (low + high) / 2))
    ]


def _word(site: Site, axis: int, sign: int) -> str:
    words = (("front", "rear"), ("left", "right"), ("lower", "upper"))[axis]
    return f"{words[sign > 0]} wall of {site.zone}"


def _on_wall(
    site: Site, bed: Bed, row: Row, sign: int, post: TubeSection, feet: Feet, why: dict[str, None]
) -> Iterator[tuple[Hold, float]]:
    """A bolt through the wall behind, beside the part."""
    bolt = feet[0]
    half = bolt.washer_diameter_mm / 2 + 2.0
    at = _end_of(bed, row, sign) + sign * (BESIDE_MM + half)
    behind = site.wall(_corners(bed, row, at - half, at + half, row.lo, row.hi, 0.0), bed.axis, bed.sign)
    if behind is None or behind < bed.thick or behind - bed.thick > PACKING_MM:
        return
    point = bed.point(row, at, 0.0, behind)
    pieces: tuple[Plate, ...] = ()
    if behind - bed.thick > 0.3:
        pad = bed.box(row, at - half, at + half, bed.thick, behind)
        name = f"{bed.strip} packing {'-+'[sign > 0]}"
        pieces = (flat_plate(name, bed.group, pad, bed.axis, [(point, bolt.clearance_hole_mm)]),)
    yield Hold(
        "wall", at, _word(site, bed.axis, bed.sign), point, bed.normal(), (point,), bolt.thread,
        (row.hi - row.lo) / 2, 0.0, pieces, (at - half, at + half), bolt.clearance_hole_mm,
    ), -0.1  # fmt: skip


def _by_end(
    site: Site, bed: Bed, row: Row, sign: int, post: TubeSection, feet: Feet, why: dict[str, None]
) -> Iterator[tuple[Hold, float]]:
    """An end plate on the wall that the strip runs up to, behind the part or beside it."""
    bolt = feet[0]
    start = _end_of(bed, row, sign)
    middle, half = (row.lo + row.hi) / 2, (row.hi - row.lo) / 2
    washer = bolt.washer_diameter_mm
    # bolts on either side of the strip, or one before the other
    for (wide, deep), (foot, tapped) in product(
        ((half + washer + 12.0, washer + 20.0), (max(half, washer / 2 + 4.0), 2 * washer + 24.0)),
        ((max(FOOT_MM, bed.thick), False), (max(TAPPED_MM, bed.thick), True)),
    ):
        for near in (0.0, bed.thick / 2 - deep / 2, bed.thick - deep):
            far = near + deep
            spots = [
                bed.point(row, start, off, behind)
                for off, behind in (
                    (-wide, near),
                    (wide, near),
                    (-wide, far),
                    (wide, far),
                    (0.0, bed.thick / 2),
                )
            ]
            off = site.wall(spots, row.along, sign)
            if off is None or off < foot or off > LONGEST_ARM_MM:
                continue
            wall = start + sign * off
            inner = wall - sign * foot
            ends = sorted((inner, wall))
            box = bed.over(row, ends[0], ends[1], middle - wide, middle + wide, near, far)
            if box.grown(-0.05).overlap_depth(bed.part) > 0:
                continue
            deeper = deep > washer + 20.0
            apart = washer / 2 + 8.0 if deeper else half + washer / 2 + 4.0
            bolts = tuple(
                bed.point(
                    row, wall, 0.0 if deeper else s * apart, (near + far) / 2 + (s * apart if deeper else 0.0)
                )
                for s in (-1, 1)
            )
            made = (box, bolts, inner, wall, (near + far) / 2, deep)
            yield _end_hold(site, bed, row, sign, made, bolt, tapped), -0.1


def _end_hold(
    site: Site, bed: Bed, row: Row, sign: int,
    made: tuple[Box, tuple[Vec, ...], float, float, float, float], bolt: Thread, tapped: bool,
) -> Hold:  # fmt: skip
    box, bolts, inner, wall, behind, deep = made
    start = _end_of(bed, row, sign)
    name = f"{bed.strip} end plate {'-+'[sign > 0]}"
    plate = flat_plate(name, bed.group, box, row.along, [(b, bolt.clearance_hole_mm) for b in bolts])
    way = [0.0, 0.0, 0.0]
    way[row.along] = float(sign)
    return Hold(
        "end", inner, _word(site, row.along, sign), bed.point(row, wall, 0.0, behind), (way[0], way[1], way[2]), bolts,
        bolt.thread, min(deep / 2, bolt.washer_diameter_mm / 2 + 4.0), 0.0, (plate,),
        (min(inner, start), max(inner, start)), bolt.clearance_hole_mm, from_behind=tapped,
    )  # fmt: skip


def _by_post(
    site: Site, bed: Bed, row: Row, sign: int, post: TubeSection, feet: Feet, why: dict[str, None]
) -> Iterator[tuple[Hold, float]]:
    """A post beside the part, from the strip to the wall opposite."""
    bolt = feet[0]
    half = post.side_mm / 2
    at = _end_of(bed, row, sign) + sign * (site.own_mm + half + 0.5)
    wide = half + bolt.washer_diameter_mm + 6.0
    middle = (row.lo + row.hi) / 2
    off = site.wall(
        _corners(bed, row, at - half - 6, at + half + 6, middle - wide, middle + wide, 0.0),
        bed.axis,
        -bed.sign,
    )
    if off is None or not FOOT_MM + 10.0 <= off <= TALLEST_POST_MM:
        return
    box = bed.over(row, at - half - 6, at + half + 6, middle - wide, middle + wide, -off, -off + FOOT_MM)
    apart = half + bolt.washer_diameter_mm / 2 + 3.0
    bolts = tuple(bed.point(row, at, side * apart, -off) for side in (-1, 1))
    word = "-+"[sign > 0]
    foot = flat_plate(
        f"{bed.strip} foot {word}", bed.group, box, bed.axis, [(b, bolt.clearance_hole_mm) for b in bolts]
    )
    side = [0.0, 0.0, 0.0]
    side[row.along] = 1.0
    way = bed.normal(-1)
    start, end = bed.point(row, at, 0.0, 0.0), bed.point(row, at, 0.0, -off + FOOT_MM)
    tube = Member(
        f"{bed.strip} post {word}",
        bed.group,
        post,
        start,
        end,
        (side[0], side[1], side[2]),
        bed.normal(),
        way,
    )
    yield Hold(
        "post", at, _word(site, bed.axis, -bed.sign), bed.point(row, at, 0.0, -off), way, bolts, bolt.thread,
        half + 6.0, off, (tube, foot), (at - half, at + half), bolt.clearance_hole_mm,
    ), site.own_mm  # fmt: skip
