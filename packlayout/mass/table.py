"""A table of items whose masses and places are inputs, summed for many cases at once."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np

from packlayout.mass.combine import box_inertia_per_kg, moments
from packlayout.mass.propagate import Register
from packlayout.model.geometry import Floats, Ints, MassItem, Pose, Vec

VEHICLE_AXES = Pose((0.0, 0.0, 0.0))


@dataclass(frozen=True, slots=True)
class Row:
    """One item.

    Attributes:
        mass: Input that is its mass.
        scale: Factor on it: -1 for a thing taken off, a density for a volume.
        at: Inputs that are its position, in the axes of `pose`.
        pose: Where those axes are.
        size: Box it fills, vehicle axes; None for a point.
    """

    mass: int
    scale: float
    at: tuple[int, int, int]
    pose: Pose = VEHICLE_AXES
    size: Vec | None = None


@dataclass(frozen=True, slots=True, eq=False)
class _Block:
    """Rows as arrays; `rotation` and `origin` only where poses are not those of the vehicle axes."""

    mass: Ints
    scale: Floats
    at: Ints
    own: Floats
    rotation: Floats | None
    origin: Floats

    def sums(self, inputs: Floats) -> Floats:
        mass = inputs[self.mass] * self.scale[:, None]
        x, y, z = (inputs[self.at[:, k]] for k in range(3))
        if self.rotation is not None:
            r, o = self.rotation[..., None], self.origin[..., None]
            x, y, z = (o[:, k] + r[:, k, 0] * x + r[:, k, 1] * y + r[:, k, 2] * z for k in range(3))
        return moments(mass, x, y, z, self.own)


@dataclass(frozen=True, slots=True, eq=False)
class Table:
    """Items as arrays; made by `table`."""

    blocks: tuple[_Block, ...]

    def sums(self, inputs: Floats) -> Floats:
        """(7, B) sums of `combine.moments` for (k, B) inputs."""
        total = np.zeros((7, inputs.shape[1]))
        for block in self.blocks:
            total = total + block.sums(inputs)
        return total


def table(rows: Sequence[Row]) -> Table:
    """Rows as arrays: those in vehicle axes apart from the turned ones, which cost more."""
    straight = [row for row in rows if row.pose == VEHICLE_AXES]
    turned = [row for row in rows if row.pose != VEHICLE_AXES]
    return Table(tuple(_block(group, group is turned) for group in (straight, turned) if group))


def _block(rows: Sequence[Row], turned: bool) -> _Block:
    return _Block(
        np.array([row.mass for row in rows], dtype=np.int64),
        np.array([row.scale for row in rows]),
        np.array([row.at for row in rows], dtype=np.int64),
        np.array([box_inertia_per_kg(row.size) for row in rows]),
        np.array([row.pose.rotation for row in rows]) if turned else None,
        np.array([row.pose.origin for row in rows]),
    )


def rows_of(register: Register, items: Iterable[MassItem]) -> tuple[Row, ...]:
    """Items that share nothing: each mass and place is an input of its own."""
    return tuple(
        Row(
            register.add(f"mass of {item.name}", "kg", item.mass, item.name),
            1.0,
            register.point(f"place of {item.name}", item.position, item.name),
            size=item.size,
        )
        for item in items
    )
