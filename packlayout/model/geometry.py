"""Words for space and mass: `Vec`, `Pose`, `Box`, `Cylinder`, `TriMesh`, `MassItem`.

Everything is in mm and kg, in the axes of the vehicle unless a docstring says otherwise
(ISO 4130: x rearward from the front axle line, y to the right, z up from the ground).
"""

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from packlayout.units import Measured

Vec = tuple[float, float, float]
MeasuredPoint = tuple[Measured, Measured, Measured]
Rotation = tuple[Vec, Vec, Vec]
"""3x3 rotation matrix by rows."""
Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

IDENTITY: Rotation = ((1.0, 0.0, 0.0), (0.0, 1.0, 0.0), (0.0, 0.0, 1.0))


@dataclass(frozen=True, slots=True)
class Pose:
    """Position and rotation: p_vehicle = origin + rotation @ p_own."""

    origin: Vec
    rotation: Rotation = IDENTITY

    def point(self, own: Vec) -> Vec:
        """A point in own axes -> the same point in vehicle axes."""
        x, y, z = self.direction(own)
        return self.origin[0] + x, self.origin[1] + y, self.origin[2] + z

    def direction(self, own: Vec) -> Vec:
        """A direction in own axes -> vehicle axes."""
        r = self.rotation
        return (
            r[0][0] * own[0] + r[0][1] * own[1] + r[0][2] * own[2],
            r[1][0] * own[0] + r[1][1] * own[1] + r[1][2] * own[2],
            r[2][0] * own[0] + r[2][1] * own[1] + r[2][2] * own[2],
        )


@dataclass(frozen=True, slots=True)
class Box:
    """A box whose sides are parallel to the axes."""

    lo: Vec
    hi: Vec

    @property
    def size(self) -> Vec:
        """Sides, mm."""
        return self.hi[0] - self.lo[0], self.hi[1] - self.lo[1], self.hi[2] - self.lo[2]

    @property
    def centre(self) -> Vec:
        """Middle, mm."""
        return (self.lo[0] + self.hi[0]) / 2, (self.lo[1] + self.hi[1]) / 2, (self.lo[2] + self.hi[2]) / 2

    def grown(self, by: float) -> "Box":
        """The box with each face moved out by a distance, mm."""
        x0, y0, z0 = self.lo
        x1, y1, z1 = self.hi
        return Box((x0 - by, y0 - by, z0 - by), (x1 + by, y1 + by, z1 + by))

    def joined(self, other: "Box") -> "Box":
        """The smallest box around both."""
        a, b, c, d = self.lo, other.lo, self.hi, other.hi
        lo = (min(a[0], b[0]), min(a[1], b[1]), min(a[2], b[2]))
        return Box(lo, (max(c[0], d[0]), max(c[1], d[1]), max(c[2], d[2])))

    def overlap_depth(self, other: "Box") -> float:
        """How far the two boxes reach into each other, mm; negative: the gap along the best axis."""
        return min(
            min(a_hi, b_hi) - max(a_lo, b_lo)
            for a_lo, a_hi, b_lo, b_hi in zip(self.lo, self.hi, other.lo, other.hi, strict=True)
        )

    def distance(self, other: "Box") -> float:
        """Shortest distance between the two, mm; nought when they touch or overlap."""
        gaps = (
            max(b_lo - a_hi, a_lo - b_hi, 0.0)
            for a_lo, a_hi, b_lo, b_hi in zip(self.lo, self.hi, other.lo, other.hi, strict=True)
        )
        return sum(gap * gap for gap in gaps) ** 0.5


def box_between(a: Vec, b: Vec) -> Box:
    """The box with two opposite corners, in any order."""
    lo = (min(a[0], b[0]), min(a[1], b[1]), min(a[2], b[2]))
    return Box(lo, (max(a[0], b[0]), max(a[1], b[1]), max(a[2], b[2])))


@dataclass(frozen=True, slots=True)
class Cylinder:
    """A round bar or hole: from the middle of one end to the middle of the other."""

    start: Vec
    end: Vec
    radius: float


@dataclass(frozen=True, slots=True, eq=False)
class TriMesh:
    """A closed or open surface of triangles.

    Attributes:
        vertices: (n, 3) float64, mm; not writeable.
        faces: (m, 3) int64 indices; anticlockwise seen from outside; not writeable.
    """

    vertices: Floats
    faces: Ints

    def __post_init__(self) -> None:
        self.vertices.setflags(write=False)
        self.faces.setflags(write=False)

    @property
    def triangles(self) -> Floats:
        """(m, 3, 3) corner points, mm."""
        return self.vertices[self.faces]

    @property
    def bounds(self) -> Box:
        """The box around it."""
        lo, hi = self.vertices.min(axis=0), self.vertices.max(axis=0)
        return Box((float(lo[0]), float(lo[1]), float(lo[2])), (float(hi[0]), float(hi[1]), float(hi[2])))

    @property
    def volume(self) -> float:
        """Enclosed volume, mm3, by the divergence theorem; negative when the faces look inward."""
        # about the middle of the box, so that a far-off origin costs no digits
        a, b, c = np.moveaxis(self.triangles - self.vertices.mean(axis=0), 1, 0)
        return float(np.einsum("ij,ij->", a, np.cross(b, c))) / 6


MassKind = Literal["original", "removed", "added", "part", "frame", "occupant", "payload", "fluid"]


@dataclass(frozen=True, slots=True)
class MassItem:
    """One thing that weighs something. A removed thing has a negative mass.

    Attributes:
        name: What it is, for people.
        mass: kg, with tolerance.
        position: Its own centre of gravity, mm, with tolerances.
        kind: Which stage it comes from.
        size: Sides of the box it fills, mm, for its own inertia; None for a point.
        source: Where the figures are from.
    """

    name: str
    mass: Measured
    position: MeasuredPoint
    kind: MassKind
    size: Vec | None = None
    source: str = ""


def exact_point(at: Vec) -> MeasuredPoint:
    """A position without tolerance."""
    return Measured(at[0]), Measured(at[1]), Measured(at[2])
