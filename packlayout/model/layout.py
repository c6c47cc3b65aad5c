"""What was decided: where each part stands."""

from dataclasses import dataclass
from functools import reduce

from packlayout.model.brief import Aims, Clearances
from packlayout.model.catalogue import SignedAxis
from packlayout.model.geometry import Box, Pose, Rotation, Vec

_OWN: dict[SignedAxis, Vec] = {
    "+x": (1.0, 0.0, 0.0), "-x": (-1.0, 0.0, 0.0), "+y": (0.0, 1.0, 0.0),
    "-y": (0.0, -1.0, 0.0), "+z": (0.0, 0.0, 1.0), "-z": (0.0, 0.0, -1.0),
}  # fmt: skip
# which own axis looks rearward before any turn, for each own axis that may point up
_REARWARD: dict[SignedAxis, SignedAxis] = {
    "+z": "+x",
    "-z": "+x",
    "+x": "+y",
    "-x": "+y",
    "+y": "+z",
    "-y": "+z",
}
_TURN: dict[int, tuple[Vec, Vec]] = {
    0: ((1.0, 0.0, 0.0), (0.0, 1.0, 0.0)),
    90: ((0.0, -1.0, 0.0), (1.0, 0.0, 0.0)),
    180: ((-1.0, 0.0, 0.0), (0.0, -1.0, 0.0)),
    270: ((0.0, 1.0, 0.0), (-1.0, 0.0, 0.0)),
}


def axis(signed: SignedAxis) -> Vec:
    """`+x` ... `-z` as a unit vector."""
    return _OWN[signed]


def rotation(up: SignedAxis, turn_deg: int) -> Rotation:
    """Rotation of a part that stands with its own axis `up` upward, turned about the vertical.

    Args:
        up: Own axis that points up in the vehicle.
        turn_deg: 0, 90, 180 or 270, from the vehicle's x axis towards its y axis.

    Returns:
        The matrix that turns own axes into vehicle axes; one of the 24 rotations of a box.
    """
    a, c = _OWN[_REARWARD[up]], _OWN[up]
    b = (c[1] * a[2] - c[2] * a[1], c[2] * a[0] - c[0] * a[2], c[0] * a[1] - c[1] * a[0])
    first, second = _TURN[turn_deg]
    x = _sum(first[0], a, first[1], b)
    y = _sum(second[0], a, second[1], b)
    return x, y, c


def _sum(p: float, a: Vec, q: float, b: Vec) -> Vec:
    # adding 0.0 turns -0.0 into 0.0, so that files never show a negative nought
    return p * a[0] + q * b[0] + 0.0, p * a[1] + q * b[1] + 0.0, p * a[2] + q * b[2] + 0.0


@dataclass(frozen=True, slots=True)
class Placement:
    """One part in its place.

    Attributes:
        name: Unique within the layout, such as `module 3`.
        part: Name of the part's file in modules/.
        zone: Zone it stands in.
        at: Lowest corner of its box, mm, vehicle axes.
        up: Own axis that points up.
        turn_deg: Quarter turns about the vertical.
        size: Sides of its box in its own axes, mm.
        block: Number of the block of modules it belongs to; None for other parts.
        locked: True when the user fixed it.
    """

    name: str
    part: str
    zone: str
    at: Vec
    up: SignedAxis
    turn_deg: int
    size: Vec
    block: int | None = None
    locked: bool = False

    @property
    def box(self) -> Box:
        """The space it fills, vehicle axes."""
        x, y, z = turned_size(self.size, self.up, self.turn_deg)
        return Box(self.at, (self.at[0] + x, self.at[1] + y, self.at[2] + z))

    @property
    def pose(self) -> Pose:
        """Where its own origin and axes are."""
        matrix = rotation(self.up, self.turn_deg)
        corner = Pose((0.0, 0.0, 0.0), matrix).direction(self.size)
        lowest = (min(corner[0], 0.0), min(corner[1], 0.0), min(corner[2], 0.0))
        origin = (self.at[0] - lowest[0], self.at[1] - lowest[1], self.at[2] - lowest[2])
        return Pose(origin, matrix)


def turned_size(size: Vec, up: SignedAxis, turn_deg: int) -> Vec:
    """Sides of a part's box along the vehicle axes, mm."""
    x, y, z = Pose((0.0, 0.0, 0.0), rotation(up, turn_deg)).direction(size)
    return abs(x), abs(y), abs(z)


@dataclass(frozen=True, slots=True)
class Block:
    """Modules that stand together in one cradle."""

    number: int
    zone: str
    box: Box
    modules: tuple[Placement, ...]


@dataclass(frozen=True, slots=True)
class Layout:
    """Where every part stands.

    Attributes:
        placements: In the order modules, other parts.
        title: What it is best at, in one sentence; may be empty.
        clearances: Those it was made by, where they are not the brief's.
        aims: Likewise.
    """

    placements: tuple[Placement, ...]
    title: str = ""
    clearances: Clearances | None = None
    aims: Aims | None = None

    @property
    def modules(self) -> tuple[Placement, ...]:
        """The battery modules."""
        return tuple(p for p in self.placements if p.block is not None)

    @property
    def blocks(self) -> tuple[Block, ...]:
        """The blocks of modules, by number."""
        numbers = sorted({p.block for p in self.placements if p.block is not None})
        made: list[Block] = []
        for number in numbers:
            members = tuple(p for p in self.placements if p.block == number)
            box = reduce(Box.joined, (p.box for p in members))
            made.append(Block(number, members[0].zone, box, members))
        return tuple(made)
