"""What was weighed: scale readings, lifts, ledger lines, and the springs that carry it."""

from typing import Annotated, Literal

from pydantic import Field, model_validator

from packlayout.model.catalogue import Name, Text
from packlayout.model.record import Flag, PointWithTolerance, Record, Whole, Within, one_of
from packlayout.units import Measured

AxleKg = Annotated[Measured, Within("kg", 50, 5000)]
CornerKg = Annotated[Measured, Within("kg", 10, 3000)]


class LedgerItem(Record):
    """A thing with a mass and a place: removed, aboard, kept or added.

    Attributes:
        at: Its centre of gravity, [x, y, z] in mm, vehicle axes; each may bear a tolerance.
        source: How the figures were found, such as 'crane scale'.
    """

    name: Name
    mass_kg: Annotated[Measured, Within("kg", 0.01, 3000)]
    at: PointWithTolerance
    source: Text = ""


class Corners(Record):
    """Four scale pads, kg."""

    front_left_kg: CornerKg
    front_right_kg: CornerKg
    rear_left_kg: CornerKg
    rear_right_kg: CornerKg


class AxleLoads(Record):
    """A weighbridge's two axles, kg."""

    front_kg: AxleKg
    rear_kg: AxleKg


class Weighed(Record):
    """The scale readings and the state the vehicle was in.

    Attributes:
        corners: Four scale pads; give corners or axles, not both.
        axles: A weighbridge's two readings.
        fuel_l: Fuel in the tank while it was weighed.
        aboard: What was in the vehicle and does not belong to it: tools, a person.
        source: Which scales, on what floor.
    """

    corners: Corners | None = None
    axles: AxleLoads | None = None
    fuel_l: Annotated[Measured, Within("l", 0, 500)]
    aboard: tuple[LedgerItem, ...] = ()
    source: Text = ""

    @model_validator(mode="after")
    def _one_kind(self) -> "Weighed":
        one_of(self, "corners", "axles")
        return self


class Stripped(Record):
    """A weighing of the stripped vehicle: everything in `removed` out, no fuel, nothing of `added` in.

    Attributes:
        corners: Four scale pads; give corners or axles, not both.
        axles: A weighbridge's two readings.
        aboard: What was in the vehicle and does not belong to it: trolley jack, a person.
        source: Which scales, on what floor.
    """

    corners: Corners | None = None
    axles: AxleLoads | None = None
    aboard: tuple[LedgerItem, ...] = ()
    source: Text = ""

    @model_validator(mode="after")
    def _one_kind(self) -> "Stripped":
        one_of(self, "corners", "axles")
        return self


class AsBuilt(Record):
    """Scale readings of the finished vehicle, and the state it was in.

    Attributes:
        state: Name of a state of the weighing, such as `converted kerb` or `driver`.
        corners: Four scale pads; give corners or axles, not both.
        axles: A weighbridge's two readings.
        aboard: What was in the vehicle beyond that state: tools, a person.
        source: Which scales, on what floor.
    """

    state: Name = "converted kerb"
    corners: Corners | None = None
    axles: AxleLoads | None = None
    aboard: tuple[LedgerItem, ...] = ()
    source: Text = ""

    @model_validator(mode="after")
    def _one_kind(self) -> "AsBuilt":
        one_of(self, "corners", "axles")
        return self


class Lift(Record):
    """One axle lifted on stands, the load read under the other one (ISO 10392).

    The suspension is blocked; `level_kg` and `lifted_kg` are the axle that stays on the ground.
    """

    raised: Literal["front", "rear"]
    height_mm: Annotated[Measured, Within("mm", 100, 1500)]
    level_kg: AxleKg
    lifted_kg: AxleKg
    wheel_radius_mm: Annotated[Measured, Within("mm", 150, 600)]
    suspension_blocked: Flag


class CgHeight(Record):
    """Height of the centre of gravity as weighed: a figure, or the lifts it is found from.

    Attributes:
        stated_mm: Where it is known already, above the ground.
        lifts: Lifted-axle readings; give these or stated.
        source: How it was found.
    """

    stated_mm: Annotated[Measured, Within("mm", 200, 1500)] | None = None
    lifts: Annotated[tuple[Lift, ...], Field(min_length=1, max_length=20)] | None = None
    source: Text = ""

    @model_validator(mode="after")
    def _one_kind(self) -> "CgHeight":
        one_of(self, "stated_mm", "lifts")
        return self


class LeafSpring(Record):
    """One semi-elliptic leaf spring of graded leaves of one thickness.

    Attributes:
        leaves: How many.
        width_mm: Across the leaves.
        thickness_mm: Of one leaf.
        length_mm: Between the eyes, along the flattened main leaf.
        modulus_mpa: Young's modulus of the spring steel.
    """

    leaves: Annotated[Whole, Field(ge=1, le=20)]
    width_mm: Annotated[Measured, Within("mm", 20, 150)]
    thickness_mm: Annotated[Measured, Within("mm", 2, 20)]
    length_mm: Annotated[Measured, Within("mm", 300, 2500)]
    modulus_mpa: Annotated[float, Within("mpa", 150_000, 250_000)] = 206_000.0


class SprungBy(Record):
    """A spring that acts through a lever.

    Attributes:
        rate_n_per_mm: Of the spring itself.
        motion_ratio: Travel of the spring for one mm of travel at the wheel.
    """

    rate_n_per_mm: Annotated[Measured, Within("n_per_mm", 1, 1000)]
    motion_ratio: Annotated[Measured, Within("1", 0.1, 1.5)]


class AxleSprings(Record):
    """What one axle stands on; both sides are alike.

    Attributes:
        wheel_rate_n_per_mm: Rate at one wheel as measured; or give spring or leaf instead.
        spring: Coil or torsion spring behind a lever.
        leaf: Leaf spring of one side of a rigid axle.
        spring_base_mm: Distance of the springs of a rigid axle; left out, the track.
        unsprung_kg: Wheels, brakes, axle: what does not ride on the springs.
    """

    wheel_rate_n_per_mm: Annotated[Measured, Within("n_per_mm", 2, 500)] | None = None
    spring: SprungBy | None = None
    leaf: LeafSpring | None = None
    spring_base_mm: Annotated[Measured, Within("mm", 400, 2500)] | None = None
    unsprung_kg: Annotated[Measured, Within("kg", 5, 600)] | None = None

    @model_validator(mode="after")
    def _one_kind(self) -> "AxleSprings":
        one_of(self, "wheel_rate_n_per_mm", "spring", "leaf")
        return self


class Suspension(Record):
    """Springs of both axles.

    Attributes:
        front: Front axle.
        rear: Rear axle.
        source: Where the figures are from.
    """

    front: AxleSprings
    rear: AxleSprings
    source: Text = ""
