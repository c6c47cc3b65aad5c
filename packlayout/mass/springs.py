"""The springs as inputs: rate at the wheel, how they share a roll moment, and what rides on them."""

from dataclasses import dataclass

from packlayout.mass.loads import Number
from packlayout.mass.propagate import Register
from packlayout.model.brief import Case
from packlayout.model.geometry import Floats
from packlayout.model.weighed import AxleSprings
from packlayout.units import Measured


@dataclass(frozen=True, slots=True)
class AxleRows:
    """Inputs of one axle: three ways to a wheel rate, of which one is used."""

    wheel_rate: int | None
    spring: tuple[int, int] | None
    leaf: tuple[float, int, int, int] | None  # E times the number of leaves; width, thickness, length
    base: int
    unsprung: int | None

    def rate(self, inputs: Floats) -> Floats:
        """Rate at one wheel, N/mm."""
        if self.wheel_rate is not None:
            return inputs[self.wheel_rate]
        if self.spring is not None:
            return inputs[self.spring[0]] * inputs[self.spring[1]] ** 2
        assert self.leaf is not None
        times_leaves, width, thickness, length = self.leaf
        return leaf_rate(times_leaves, 1, inputs[width], inputs[thickness], inputs[length])

    def sprung_kg(self, inputs: Floats, axle_kg: Floats) -> Floats:
        """What rides on the springs of the axle; all of its load when the unsprung mass is not known."""
        return axle_kg if self.unsprung is None else axle_kg - inputs[self.unsprung]

    def roll_stiffness(self, inputs: Floats) -> Floats:
        """Moment for one radian of roll, N mm: two springs half the base from the middle."""
        return self.rate(inputs) * inputs[self.base] ** 2 / 2


@dataclass(frozen=True, slots=True)
class Springs:
    """Inputs of both axles."""

    front: AxleRows
    rear: AxleRows

    def front_share(self, inputs: Floats) -> Floats:
        """Share of a roll moment that the front axle bears: a rigid body on four springs."""
        front, rear = self.front.roll_stiffness(inputs), self.rear.roll_stiffness(inputs)
        return front / (front + rear)


def leaf_rate(
    modulus_mpa: float, leaves: float, width_mm: Number, thickness_mm: Number, length_mm: Number
) -> Number:
    """Rate of a semi-elliptic leaf spring at its middle, N/mm.

    Args:
        modulus_mpa: Young's modulus.
        leaves: Number of leaves, all of one thickness, graded in length.
        width_mm: Across a leaf.
        thickness_mm: Of a leaf.
        length_mm: Between the eyes.

    Returns:
        8 E n b t3 / (3 L3): a beam of uniform strength, loaded in the middle. Friction between the leaves
        makes a real spring stiffer in small movements.

    Source: any machine-design textbook; 206 GPa, 5 leaves of 60 x 6 mm, 1200 mm give 20.6 N/mm.
    """
    return 8 * modulus_mpa * leaves * width_mm * thickness_mm**3 / (3 * length_mm**3)


def springs(register: Register, case: Case, tracks: tuple[int, int]) -> Springs | None:
    """Enter the springs of the vehicle; None when they are not given."""
    suspension = case.vehicle.suspension
    if suspension is None:
        return None
    return Springs(
        _axle(register, suspension.front, "front", tracks[0]),
        _axle(register, suspension.rear, "rear", tracks[1]),
    )


def _axle(register: Register, given: AxleSprings, end: str, track: int) -> AxleRows:
    def add(what: str, unit: str, value: Measured) -> int:
        return register.add(f"{end} {what}", unit, value, f"{end} springs")

    rate, spring, leaf = given.wheel_rate_n_per_mm, given.spring, given.leaf
    return AxleRows(
        None if rate is None else add("wheel rate", "N/mm", rate),
        None
        if spring is None
        else (
            add("spring rate", "N/mm", spring.rate_n_per_mm),
            add("motion ratio", "1", spring.motion_ratio),
        ),
        None
        if leaf is None
        else (
            leaf.modulus_mpa * leaf.leaves,
            add("leaf width", "mm", leaf.width_mm),
            add("leaf thickness", "mm", leaf.thickness_mm),
            add("leaf length", "mm", leaf.length_mm),
        ),
        track if given.spring_base_mm is None else add("spring base", "mm", given.spring_base_mm),
        None if given.unsprung_kg is None else add("unsprung mass", "kg", given.unsprung_kg),
    )
