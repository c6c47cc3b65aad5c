"""The only sum of masses: total, centre of gravity and inertia about it, for one set of items or many."""

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np

from packlayout.errors import GeometryError
from packlayout.model.geometry import Floats, MassItem, Vec

KG_MM2 = 1e6
"""kg mm2 in one kg m2."""


@dataclass(frozen=True, slots=True)
class Combined:
    """Mass properties of a set of items.

    Attributes:
        mass_kg: Total.
        cg: Centre of gravity, mm, vehicle axes.
        inertia_kg_m2: Ixx, Iyy, Izz about the centre of gravity.
    """

    mass_kg: float
    cg: Vec
    inertia_kg_m2: Vec


def combine(items: Iterable[MassItem]) -> Combined:
    """Sum of mass items.

    Each item counts as a box of its `size` with its mass spread evenly, a point when it has no size,
    moved by the parallel-axis theorem. The order of the items is of no influence beyond rounding.

    Args:
        items: Removed things have a negative mass.

    Returns:
        Nominal values. Tolerances are not added here, because the items of one vehicle share inputs:
        `weigh` carries them.

    Raises:
        GeometryError: if the total mass is not positive; the message gives it.

    Source: statics; the box and the parallel-axis theorem are in any textbook of dynamics.
    """
    rows = list(items)
    mass = np.array([item.mass.value for item in rows])
    at = np.array([[c.value for c in item.position] for item in rows]).reshape(len(rows), 3)
    own = np.array([box_inertia_per_kg(item.size) for item in rows]).reshape(len(rows), 3)
    sums = moments(mass[:, None], at[:, 0, None], at[:, 1, None], at[:, 2, None], own)
    if not sums[0, 0] > 0:
        parts = f"{len(rows)} items" if rows else "no items"
        raise GeometryError(
            f"the total mass of {parts} is {sums[0, 0]:.1f} kg; allowed: more than 0 kg; "
            "look for a removed item that is heavier than what carried it"
        )
    cg, inertia = centre(sums), inertia_about_centre(sums)
    return Combined(
        float(sums[0, 0]),
        (float(cg[0, 0]), float(cg[1, 0]), float(cg[2, 0])),
        (float(inertia[0, 0]), float(inertia[1, 0]), float(inertia[2, 0])),
    )


def box_inertia_per_kg(size: Vec | None) -> Vec:
    """Inertia of a box about its own middle, mm2 (kg mm2 for each kg); nought for a point.

    Source: m (b2 + c2) / 12; 1100 kg of 4.30 x 1.70 x 1.47 m give 463.0, 1893.0, 1959.8 kg m2.
    """
    if size is None:
        return 0.0, 0.0, 0.0
    a, b, c = (side * side / 12 for side in size)
    return b + c, a + c, a + b


def moments(mass: Floats, x: Floats, y: Floats, z: Floats, own: Floats) -> Floats:
    """Sums over items, for a batch of cases. Sums of disjoint sets of items add.

    Args:
        mass: (n, B) kg.
        x: (n, B) mm; y and z the same.
        y: See x.
        z: See x.
        own: (n, 3) inertia of each item about its own centre, mm2 for each kg.

    Returns:
        (7, B): total mass, kg; first moments in x, y, z, kg mm; second moments about the x, y and z
        axes of the vehicle, kg mm2.
    """
    mx, my, mz = mass * x, mass * y, mass * z
    xx, yy, zz = (_dot(first, at) for first, at in ((mx, x), (my, y), (mz, z)))
    around = own.T @ mass
    return np.stack(
        [
            mass.sum(axis=0),
            mx.sum(axis=0),
            my.sum(axis=0),
            mz.sum(axis=0),
            yy + zz + around[0],
            xx + zz + around[1],
            xx + yy + around[2],
        ]
    )


def _dot(a: Floats, b: Floats) -> Floats:
    return np.einsum("nb,nb->b", a, b)


def centre(sums: Floats) -> Floats:
    """(3, B) centre of gravity, mm, from (7, B) sums."""
    return sums[1:4] / sums[0]


def inertia_about_centre(sums: Floats) -> Floats:
    """(3, B) inertia about the centre of gravity, kg m2, from (7, B) sums: the parallel-axis theorem."""
    return (sums[4:7] - _shift(sums)) / KG_MM2


def with_inertia(sums: Floats, inertia_kg_m2: Floats) -> Floats:
    """The sums of a body with the same mass and centre and a given inertia, (3, B) kg m2, about it."""
    return np.concatenate([sums[:4], inertia_kg_m2 * KG_MM2 + _shift(sums)])


def _shift(sums: Floats) -> Floats:
    xx, yy, zz = sums[1:4] ** 2 / sums[0]
    return np.stack([yy + zz, xx + zz, xx + yy])
