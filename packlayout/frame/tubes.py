"""The nouns of the frame: tube members, plates, and the frame made of them; what each weighs.

A member is a tube along a straight centre line, cut by a plane at either end. The mass is exact:
a prism cut by planes holds section area times the length of the line through the centroids of its sections.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from math import pi

from packlayout.model.catalogue import Material, TubeSection
from packlayout.model.geometry import Box, MassItem, Pose, Vec, exact_point
from packlayout.units import Measured

# mass tolerance of EN 10219-2 clause 7: 6 % on single lengths (value from memory); as 95 % half-width
TUBE_MASS_SHARE = 0.06
# plate thickness tolerance of EN 10029 class A for 8 mm: about 5 % (value from memory)
PLATE_MASS_SHARE = 0.05


@dataclass(frozen=True, slots=True)
class Member:
    """One length of tube.

    Attributes:
        name: Unique in the frame, such as `cradle 1 post 2`.
        group: What it is part of: `cradle 1`, `leg front left`.
        section: From the stock table.
        start: Middle of the section at the cut at one end, mm.
        end: The same at the other end.
        side: Unit vector square to the centre line, along which the section's longer side is measured.
        start_cut: Normal of the cut plane at the start, pointing out of the tube.
        end_cut: The same at the end.
    """

    name: str
    group: str
    section: TubeSection
    start: Vec
    end: Vec
    side: Vec
    start_cut: Vec
    end_cut: Vec

    @property
    def length_mm(self) -> float:
        """Length of the centre line between the cuts."""
        return sum((b - a) ** 2 for a, b in zip(self.start, self.end, strict=True)) ** 0.5

    @property
    def axis(self) -> Vec:
        """Unit vector from start to end."""
        length = self.length_mm
        return (
            (self.end[0] - self.start[0]) / length,
            (self.end[1] - self.start[1]) / length,
            (self.end[2] - self.start[2]) / length,
        )

    @property
    def longest_mm(self) -> float:
        """Length to the longest point: what is sawn off the stock length."""
        return self.length_mm + self.overhang_mm(self.start_cut) + self.overhang_mm(self.end_cut)

    def overhang_mm(self, cut: Vec) -> float:
        """How far the longest side reaches beyond the centre line at a cut."""
        # the cut plane rises by tan(angle) over half the side, in each of the two side directions
        along = abs(_dot(cut, self.axis))
        if self.section.kind == "round":
            return self.section.side_mm / 2 * max(0.0, 1 - along * along) ** 0.5 / along
        return self._reach(cut) / along

    def _reach(self, way: Vec) -> float:
        """How far the square or rectangular section reaches from the centre line along a direction."""
        p, q = self.side, _cross(self.axis, self.side)
        return (self.section.side_mm * abs(_dot(way, p)) + self.section.narrow_mm * abs(_dot(way, q))) / 2

    def reach_mm(self, way: Vec) -> float:
        """How far the section reaches from the centre line along a direction, mm."""
        if self.section.kind == "round":
            return self.section.side_mm / 2 * max(0.0, 1 - _dot(way, self.axis) ** 2) ** 0.5
        return self._reach(way)

    def mass_item(self, material: Material) -> MassItem:
        """Mass and centre of gravity, both exact for a tube between two cut planes.

        With the planes w = a u + b v at the start and w = L + c u + d v at the end, the first moments of the
        prism over its section (A; I of u2, J of v2) give the centre at u = I (c - a) / (A L),
        v = J (d - b) / (A L), w = L / 2 + (I (c2 - a2) + J (d2 - b2)) / (2 A L).
        """
        length, way, p = self.length_mm, self.axis, self.side
        q = _cross(way, p)
        mass = self.section.area_mm2 * length * material.density_kg_per_m3 * 1e-9
        a, b = (-_dot(self.start_cut, k) / _dot(self.start_cut, way) for k in (p, q))
        c, d = (-_dot(self.end_cut, k) / _dot(self.end_cut, way) for k in (p, q))
        share = self.section.inertia_mm4 / (self.section.area_mm2 * length)
        other = (self.section.minor_inertia_mm4 or self.section.inertia_mm4) / (
            self.section.area_mm2 * length
        )
        u, v = share * (c - a), other * (d - b)
        w = length / 2 + share / 2 * (c * c - a * a) + other / 2 * (d * d - b * b)
        middle = tuple(s + w * x + u * y + v * z for s, x, y, z in zip(self.start, way, p, q, strict=True))
        size = tuple(
            abs(b - a) + self.section.side_mm * (1 - abs(t))
            for a, b, t in zip(self.start, self.end, self.axis, strict=True)
        )
        return MassItem(
            self.name,
            Measured(mass, mass * TUBE_MASS_SHARE),
            exact_point((middle[0], middle[1], middle[2])),
            "frame",
            (size[0], size[1], size[2]),
            f"{self.section.name} {material.name}, computed",
        )


@dataclass(frozen=True, slots=True)
class Plate:
    """A flat rectangular plate with round holes.

    Attributes:
        name: Unique in the frame.
        group: What it is part of.
        pose: Own axes: x and y along the sides from one corner, z through the thickness.
        size: Length, width, thickness, mm.
        holes: (x, y, diameter) in own axes, mm.
    """

    name: str
    group: str
    pose: Pose
    size: Vec
    holes: tuple[tuple[float, float, float], ...] = ()

    @property
    def volume_mm3(self) -> float:
        """Metal that is left after drilling."""
        x, y, t = self.size
        return (x * y - sum(pi / 4 * d * d for _, _, d in self.holes)) * t

    def mass_item(self, material: Material) -> MassItem:
        """Mass and centre of gravity, holes taken out."""
        x, y, t = self.size
        area = self.volume_mm3 / t
        moment_x = x * y * x / 2 - sum(pi / 4 * d * d * hx for hx, _, d in self.holes)
        moment_y = x * y * y / 2 - sum(pi / 4 * d * d * hy for _, hy, d in self.holes)
        at = self.pose.point((moment_x / area, moment_y / area, t / 2))
        mass = self.volume_mm3 * material.density_kg_per_m3 * 1e-9
        side = self.pose.direction(self.size)
        return MassItem(
            self.name,
            Measured(mass, mass * PLATE_MASS_SHARE),
            exact_point(at),
            "frame",
            (abs(side[0]), abs(side[1]), abs(side[2])),
            f"{t:g} mm plate {material.name}, computed",
        )


@dataclass(frozen=True, slots=True)
class TubeFrame:
    """Everything that is welded: members and plates of one material."""

    members: tuple[Member, ...]
    plates: tuple[Plate, ...]
    material: Material

    @property
    def mass_items(self) -> tuple[MassItem, ...]:
        """One item for each member and plate."""
        return tuple(piece.mass_item(self.material) for piece in (*self.members, *self.plates))

    @property
    def mass_kg(self) -> float:
        """Mass of all of it."""
        return sum(item.mass.value for item in self.mass_items)


def member_box(member: Member) -> Box:
    """The box around a member that runs along an axis, cuts included."""
    first, last = member.overhang_mm(member.start_cut), member.overhang_mm(member.end_cut)
    lo: list[float] = []
    hi: list[float] = []
    for k in range(3):
        reach = member.reach_mm((float(k == 0), float(k == 1), float(k == 2)))
        ends = (member.start[k] - first * member.axis[k], member.end[k] + last * member.axis[k])
        lo.append(min(ends) - reach)
        hi.append(max(ends) + reach)
    return Box((lo[0], lo[1], lo[2]), (hi[0], hi[1], hi[2]))


def plate_box(plate: Plate) -> Box:
    """The box around a plate, mm."""
    corners = [
        plate.pose.point((x, y, z))
        for x in (0.0, plate.size[0])
        for y in (0.0, plate.size[1])
        for z in (0.0, plate.size[2])
    ]
    lo = tuple(min(c[k] for c in corners) for k in range(3))
    hi = tuple(max(c[k] for c in corners) for k in range(3))
    return Box((lo[0], lo[1], lo[2]), (hi[0], hi[1], hi[2]))


def flat_plate(name: str, group: str, box: Box, thin: int, holes: Sequence[tuple[Vec, float]] = ()) -> Plate:
    """A plate that fills a box, flat along the axes.

    Args:
        name: Unique in the frame.
        group: What it is part of.
        box: It fills, mm.
        thin: 0, 1 or 2: the axis that its thickness lies along.
        holes: (a point on the hole's middle line, diameter), mm.
    """
    a, b = (thin + 1) % 3, (thin + 2) % 3
    rows = [[float(j == k) for j in (a, b, thin)] for k in range(3)]
    matrix = tuple((row[0], row[1], row[2]) for row in rows)
    drilled = tuple((at[a] - box.lo[a], at[b] - box.lo[b], diameter) for at, diameter in holes)
    pose = Pose(box.lo, (matrix[0], matrix[1], matrix[2]))
    return Plate(name, group, pose, (box.size[a], box.size[b], box.size[thin]), drilled)


def _dot(a: Vec, b: Vec) -> float:
    return a[0] * b[0] + a[1] * b[1] + a[2] * b[2]


def _cross(a: Vec, b: Vec) -> Vec:
    return a[1] * b[2] - a[2] * b[1], a[2] * b[0] - a[0] * b[2], a[0] * b[1] - a[1] * b[0]
