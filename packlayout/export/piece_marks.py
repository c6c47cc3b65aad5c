"""Which pieces of the frame are the same thing, and the mark each kind bears in lists, drawings and DXF files."""

from collections.abc import Iterable
from dataclasses import dataclass
from math import acos, atan2, degrees

from packlayout.export.tree import bores_by_tube
from packlayout.export.tube_holes import TubeHole, tube_holes
from packlayout.frame.tubes import Member, Plate, TubeFrame
from packlayout.model.catalogue import TubeSection
from packlayout.model.geometry import Vec

SIDES = "ABCD"
_SQUARE_DEG = 0.05


@dataclass(frozen=True, slots=True)
class SawCut:
    """One cut of a tube.

    Attributes:
        off_square_deg: How far the saw is turned off a square cut; nought for a square one.
        long_deg: Where the longest point is, degrees round the tube from side A, clockwise looking along the tube
            from cut 1; nought for a square cut.
    """

    off_square_deg: float
    long_deg: float

    @property
    def long_side(self) -> str:
        """Side that ends in the longest point: A to D going round; `-` for a square cut."""
        return side_of(self.long_deg) if self.off_square_deg else "-"


def side_of(deg: float) -> str:
    """A to D going round; what lies between two sides by the degrees beyond the first."""
    turns, over = divmod(deg, 90.0)
    side = SIDES[int(turns) % 4]
    return side if over < _SQUARE_DEG else f"{side} + {over:.1f} deg"


@dataclass(frozen=True, slots=True, eq=False)
class TubeMark:
    """Tubes that are sawn alike.

    Attributes:
        mark: `T1`, `T2`, ...
        section: Stock.
        longest_mm: To the longest points.
        centre_mm: Along the centre line.
        cuts: Both cuts.
        members: Which they are.
        holes: For what is bolted to them.
    """

    mark: str
    section: TubeSection
    longest_mm: float
    centre_mm: float
    cuts: tuple[SawCut, SawCut]
    members: tuple[Member, ...]
    holes: tuple[TubeHole, ...] = ()


@dataclass(frozen=True, slots=True, eq=False)
class PlateMark:
    """Plates that are cut alike.

    Attributes:
        mark: `P1`, `P2`, ...
        size: Length, width, thickness, mm.
        holes: (x, y, diameter) from the first corner, mm.
        plates: Which they are.
    """

    mark: str
    size: Vec
    holes: tuple[tuple[float, float, float], ...]
    plates: tuple[Plate, ...]


def tube_marks(frame: TubeFrame) -> tuple[TubeMark, ...]:
    """The tubes of a frame, alike ones together, longest first within a section."""
    drilled = bores_by_tube(frame)
    groups: dict[tuple[str, float, float, tuple[SawCut, SawCut], tuple[TubeHole, ...]], list[Member]] = {}
    for member in frame.members:
        tilts = _tilt(member, member.start_cut), _tilt(member, member.end_cut)
        holes = tube_holes(member, drilled.get(member.name, ()), tilts)
        sizes = round(member.longest_mm, 1), round(member.length_mm, 1)
        groups.setdefault((member.section.name, *sizes, saw_cuts(member), holes), []).append(member)
    order = sorted(groups, key=lambda k: (k[0], -k[1], -k[2], k[3][0].off_square_deg, str(k[3]), k[4]))
    return tuple(
        TubeMark(f"T{n}", groups[key][0].section, groups[key][0].longest_mm, groups[key][0].length_mm, key[3],
                 tuple(groups[key]), key[4])
        for n, key in enumerate(order, start=1)
    )  # fmt: skip


def plate_marks(frame: TubeFrame) -> tuple[PlateMark, ...]:
    """The plates of a frame, alike ones together, thickest and largest first."""
    groups: dict[tuple[Vec, tuple[tuple[float, float, float], ...]], list[Plate]] = {}
    for plate in frame.plates:
        x, y, t = (round(v, 2) for v in plate.size)
        holes = tuple(sorted((round(a, 2), round(b, 2), round(d, 2)) for a, b, d in plate.holes))
        groups.setdefault(((x, y, t), holes), []).append(plate)
    order = sorted(groups, key=lambda k: (-k[0][2], -k[0][0] * k[0][1], k))
    return tuple(PlateMark(f"P{n}", *key, tuple(groups[key])) for n, key in enumerate(order, start=1))


def mark_of(marks: Iterable[TubeMark | PlateMark]) -> dict[str, str]:
    """Name of each piece -> its mark."""
    return {
        piece.name: mark.mark
        for mark in marks
        for piece in (mark.members if isinstance(mark, TubeMark) else mark.plates)
    }


def saw_cuts(member: Member) -> tuple[SawCut, SawCut]:
    """Both cuts as a saw is set, the same for tubes that only lie the other way round.

    The first cut is the more oblique one, and its longest point is on side A.
    """
    start, end = (_tilt(member, cut) for cut in (member.start_cut, member.end_cut))
    first, second = (start, end) if start[0] >= end[0] else (end, start)
    # seen from its other end a tube turns the other way round, and from the other cut: the two cancel
    turn = (end[1] - start[1]) % 360.0 if first[0] and second[0] else 0.0
    turn = 0.0 if turn > 359.95 else round(turn, 1)
    return SawCut(first[0], 0.0), SawCut(second[0], turn)


def _tilt(member: Member, cut: Vec) -> tuple[float, float]:
    """Degrees off square, and where round the tube the longest point is."""
    p, a = member.side, member.axis
    q = (a[1] * p[2] - a[2] * p[1], a[2] * p[0] - a[0] * p[2], a[0] * p[1] - a[1] * p[0])
    along, u, v = (sum(x * y for x, y in zip(cut, way, strict=True)) for way in (a, p, q))
    off = degrees(acos(min(1.0, abs(along))))
    if off < _SQUARE_DEG:
        return 0.0, 0.0
    # the cut's outward normal leans away from the longest point
    return round(off, 1), round(degrees(atan2(-v, -u)) % 360.0, 1)
