"""The vehicle as weighed: scale readings, geometry and lifts as inputs, and what they say of masses."""

from dataclasses import dataclass

import numpy as np

from packlayout.mass.combine import moments
from packlayout.mass.loads import cross_moment
from packlayout.mass.propagate import Register
from packlayout.mass.table import Row, Table, rows_of, table
from packlayout.model.brief import Case
from packlayout.model.geometry import Floats, MassItem, MassKind
from packlayout.model.weighed import LedgerItem, Lift
from packlayout.units import Measured

CORNERS = ("front left", "front right", "rear left", "rear right")
LITRES_IN_M3 = 1000.0

# A weighbridge tells nothing of left and right: halves, and either side of an axle up to 2 % of its load more
# or less (common practice, no source; body builders' guides allow 4 % of the total between the sides).
SIDE_SHARE = Measured(0.0, 0.02)
# A body left on its springs rises or sinks in a lift by some of their travel (common practice, no source).
LOOSE_SPRINGS_MM = Measured(0.0, 25.0)


@dataclass(frozen=True, slots=True)
class LiftRows:
    """Inputs of one lift; `loose` is the height error of a suspension that was not blocked."""

    height: int
    level: int
    lifted: int
    radius: int
    loose: int


@dataclass(frozen=True, slots=True, eq=False)
class Readings:
    """The inputs that were read off the vehicle, by their rows.

    Attributes:
        wheelbase: Row.
        tracks: Front and rear.
        pads: Four pads, or two axles.
        sides: Share of the axle's load by which its right wheel bears more than half; axle readings only.
        stated: CG height, when it was stated.
        lifts: When it was measured.
        taken_off: What was aboard and is taken off again.
        fuel: Litres in the tank.
        tank: Its place.
        one: Exactly one, for masses that are exact.
    """

    wheelbase: int
    tracks: tuple[int, int]
    pads: tuple[int, ...]
    sides: tuple[int, int] | None
    stated: int | None
    lifts: tuple[LiftRows, ...]
    taken_off: Table
    fuel: int
    tank: tuple[int, int, int]
    one: int
    full_kg: float
    kg_per_l: float

    def corners(self, inputs: Floats) -> tuple[Floats, Floats, Floats, Floats]:
        """The four corners as weighed, kg."""
        if self.sides is None:
            front_left, front_right, rear_left, rear_right = (inputs[pad] for pad in self.pads)
            return front_left, front_right, rear_left, rear_right
        front, rear = (inputs[pad] for pad in self.pads)
        front_side, rear_side = (inputs[side] for side in self.sides)
        return (
            front * (0.5 - front_side),
            front * (0.5 + front_side),
            rear * (0.5 - rear_side),
            rear * (0.5 + rear_side),
        )

    def cg_height(self, inputs: Floats) -> Floats:
        """Height of the centre of gravity as weighed, mm: stated, or the mean over the lifts."""
        if self.stated is not None:
            return inputs[self.stated]
        total = sum(self.corners(inputs))
        found = [
            lifted_height(
                inputs[lift.level],
                inputs[lift.lifted],
                np.asarray(total),
                inputs[self.wheelbase],
                inputs[lift.height],
                inputs[lift.radius],
            )
            + inputs[lift.loose]
            for lift in self.lifts
        ]
        return np.mean(found, axis=0)

    def cross(self, inputs: Floats) -> Floats:
        """Twist between the axles as weighed, kg mm; see `loads.cross_moment`."""
        return cross_moment(self.corners(inputs), (inputs[self.tracks[0]], inputs[self.tracks[1]]))

    def fuel_rows(self) -> tuple[Row, Row]:
        """What brings the tank from the litres found to the litres of kerb state."""
        return Row(self.fuel, -self.kg_per_l, self.tank), self.fuel_out(-1.0)

    def fuel_out(self, sign: float = 1.0) -> Row:
        """The fuel of kerb state, taken out again."""
        return Row(self.one, -sign * self.full_kg, self.tank)

    def weighed_sums(self, inputs: Floats) -> Floats:
        """(7, B) sums of the four corners, each a point at the height of the centre of gravity."""
        mass = np.stack(self.corners(inputs))
        wheelbase = inputs[self.wheelbase]
        nought = np.zeros_like(wheelbase)
        front, rear = inputs[self.tracks[0]] / 2, inputs[self.tracks[1]] / 2
        x = np.stack([nought, nought, wheelbase, wheelbase])
        y = np.stack([-front, front, -rear, rear])
        z = np.tile(self.cg_height(inputs), (4, 1))
        return moments(mass, x, y, z, np.zeros((4, 3)))

    def kerb_sums(self, inputs: Floats) -> Floats:
        """The same, with what was aboard taken off and the tank brought to kerb state."""
        fuel = table(self.fuel_rows())
        return self.weighed_sums(inputs) + self.taken_off.sums(inputs) + fuel.sums(inputs)


def lifted_height(
    level_kg: Floats,
    lifted_kg: Floats,
    total_kg: Floats,
    wheelbase_mm: Floats,
    height_mm: Floats,
    radius_mm: Floats,
) -> Floats:
    """Height of the centre of gravity from one lift, mm.

    Args:
        level_kg: Load of the axle that stays on the ground, vehicle level.
        lifted_kg: The same with the other axle raised.
        total_kg: Mass of the vehicle in that state.
        wheelbase_mm: Level distance of the axles.
        height_mm: How far the wheel centres of the raised axle went up.
        radius_mm: Loaded radius of the wheels on the ground.

    Returns:
        r + L (lifted - level) / W cot(theta), theta = asin(H / L); the same for either axle.

    Source: ISO 10392, axle-lift method; written out in many textbooks as
        h = r + (b - L R / W) cot(theta) with b = L R_level / W and the raised axle's load R.
    """
    sine = height_mm / wheelbase_mm
    cotangent = np.sqrt(1 - sine * sine) / sine
    return radius_mm + wheelbase_mm * (lifted_kg - level_kg) / total_kg * cotangent


def mass_item(item: LedgerItem, kind: MassKind, sign: float = 1.0) -> MassItem:
    """A ledger line as a mass item; sign -1 for a thing taken off."""
    return MassItem(
        item.name,
        Measured(sign * item.mass_kg.value, item.mass_kg.tolerance),
        item.at,
        kind,
        None,
        item.source,
    )


def read(register: Register, case: Case) -> Readings:
    """Enter all that was measured of the original vehicle."""
    vehicle = case.vehicle
    weighed = vehicle.weighed
    wheelbase = register.add("wheelbase", "mm", vehicle.wheelbase_mm)
    tracks = (
        register.add("front track", "mm", vehicle.track_front_mm),
        register.add("rear track", "mm", vehicle.track_rear_mm),
    )
    sides = None
    if weighed.corners is not None:
        c = weighed.corners
        found = (c.front_left_kg, c.front_right_kg, c.rear_left_kg, c.rear_right_kg)
        pads = tuple(register.add(f"{name} pad", "kg", kg) for name, kg in zip(CORNERS, found, strict=True))
    else:
        assert weighed.axles is not None
        pads = (
            register.add("front axle reading", "kg", weighed.axles.front_kg),
            register.add("rear axle reading", "kg", weighed.axles.rear_kg),
        )
        sides = (
            register.add("left-right split of the front axle", "1", SIDE_SHARE),
            register.add("left-right split of the rear axle", "1", SIDE_SHARE),
        )
    height = vehicle.cg_height
    stated = None if height.stated_mm is None else register.add("stated CG height", "mm", height.stated_mm)
    lifts = tuple(_lift(register, lift, n + 1) for n, lift in enumerate(height.lifts or ()))
    taken_off = table(rows_of(register, (mass_item(item, "original", -1.0) for item in weighed.aboard)))
    fuel = register.add("fuel in the tank when weighed", "l", weighed.fuel_l)
    tank = register.point("place of the fuel", vehicle.fuel_tank.at)
    kg_per_l = case.conventions.fuel_kg_per_m3 / LITRES_IN_M3
    full = vehicle.fuel_tank.capacity_l * case.conventions.fuel_percent / 100 * kg_per_l
    one = register.add("one", "1", Measured(1.0))
    return Readings(
        wheelbase, tracks, pads, sides, stated, lifts, taken_off, fuel, tank, one, full, kg_per_l
    )  # fmt: skip


def _lift(register: Register, lift: Lift, number: int) -> LiftRows:
    where = f"lift {number}"
    return LiftRows(
        register.add(f"height of {where}", "mm", lift.height_mm),
        register.add(f"level load of {where}", "kg", lift.level_kg),
        register.add(f"raised load of {where}", "kg", lift.lifted_kg),
        register.add(f"wheel radius at {where}", "mm", lift.wheel_radius_mm),
        register.add(
            f"spring travel at {where}", "mm", Measured(0.0) if lift.suspension_blocked else LOOSE_SPRINGS_MM
        ),
    )
