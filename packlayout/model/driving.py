"""Road load, rounds, driving cycles, propeller shafts and old dials: what the driving is reckoned from."""

from dataclasses import dataclass
from itertools import pairwise
from typing import Annotated, Literal

from pydantic import Field, model_validator

from packlayout.model.catalogue import Name, Text
from packlayout.model.record import Distinct, Record, Whole, Within, one_of
from packlayout.units import Measured

Source = Annotated[str, Field(min_length=1, max_length=2000)]
Percent = Annotated[float, Within("percent", 0, 100)]
Figure = Annotated[float, Within("1", -1e6, 1e6)]


class CoastDown(Record):
    """Road load as a coast-down gives it: force = f0 + f1 v + f2 v2, N with v in km/h.

    Attributes:
        f0: N.
        f1: N for each km/h.
        f2: N for each (km/h)2.
        tolerance_percent: Of the whole force, 95 % half-width.
        mass_kg: Mass it was run at; f0 is taken in proportion to mass.
    """

    f0: Annotated[float, Within("1", 0, 5000)]
    f1: Annotated[float, Within("1", -50, 100)]
    f2: Annotated[float, Within("1", 0, 1)]
    tolerance_percent: Percent = 5.0
    mass_kg: Annotated[float, Within("kg", 100, 8000)]


class DragData(Record):
    """Road load from its parts.

    Attributes:
        drag: Drag coefficient.
        frontal_area_m2: Of the whole vehicle.
        rolling: Coefficient of rolling resistance.
    """

    drag: Annotated[Measured, Within("1", 0.1, 1.5)]
    frontal_area_m2: Annotated[Measured, Within("m2", 0.5, 8)]
    rolling: Annotated[Measured, Within("1", 0.003, 0.06)]


class RoadLoad(Record):
    """What the vehicle needs to roll: a coast-down, or drag and rolling resistance.

    Attributes:
        coast_down: As driven.
        parts: Or from drag, frontal area and rolling resistance.
        rotating_percent: Equivalent mass of wheels, motor and gears, of the kerb mass.
        adhesion: Highest friction of the driven wheels on a dry road.
    """

    coast_down: CoastDown | None = None
    parts: DragData | None = None
    rotating_percent: Percent = 5.0
    adhesion: Annotated[float, Within("1", 0.1, 1.2)] = 0.7
    source: Source

    @model_validator(mode="after")
    def _one_kind(self) -> "RoadLoad":
        one_of(self, "coast_down", "parts")
        return self


class AxleTravel(Record):
    """How the rear axle's input flange moves and points, in the axes of the body; for the propeller shaft.

    Attributes:
        pinion_up_deg: The pinion's axis against the level, nose up positive, at kerb ride height.
        laden_up_mm: Rise of the flange, fully laden.
        bump_up_mm: Rise of the flange at full bump.
        turn_deg: Turn of the pinion, nose up, from static to full bump.
        max_input_torque_nm: Torque the original differential may take at its input.
        max_input_speed_rpm: Speed likewise.
        plunge_mm: What the sliding joint allows in all.
        source: Where the figures are from.
    """

    pinion_up_deg: Annotated[Measured, Within("deg", -15, 15)]
    laden_up_mm: Annotated[float, Within("mm", 0, 300)]
    bump_up_mm: Annotated[float, Within("mm", 0, 400)]
    turn_deg: Annotated[float, Within("deg", -10, 10)] = 0.0
    max_input_torque_nm: Annotated[float, Within("nm", 20, 5000)] | None = None
    max_input_speed_rpm: Annotated[float, Within("rpm", 500, 15_000)] | None = None
    plunge_mm: Annotated[float, Within("mm", 5, 300)] = 40.0
    source: Source

    @model_validator(mode="after")
    def _in_order(self) -> "AxleTravel":
        if self.bump_up_mm < self.laden_up_mm:
            raise ValueError("full bump below laden height; allowed: bump_up at least laden_up")
        return self


class ShaftTube(Record):
    """One tube of the shaft stock, with the joint that fits it.

    Attributes:
        joint_torque_nm: Torque the joint bears for short times.
        joint_mass_kg: Mass of yoke, cross and flange at one end.
        joint_length_mm: From the middle of the joint to the end of the tube.
    """

    name: Name
    diameter_mm: Annotated[float, Within("mm", 20, 200)]
    wall_mm: Annotated[float, Within("mm", 0.5, 20)]
    joint_torque_nm: Annotated[float, Within("nm", 20, 20_000)]
    joint_mass_kg: Annotated[float, Within("kg", 0.1, 30)]
    joint_length_mm: Annotated[float, Within("mm", 5, 200)]


class ShaftRules(Record):
    """`shared/shafts.yaml`: tube stock and what propeller shafts are held to.

    Attributes:
        modulus_mpa: Young's modulus of the tube.
        density_kg_per_m3: Of the tube.
        shear_mpa: Allowed shear stress of the welded tube.
        speed_over_critical: Highest running speed over critical speed, at most.
        joint_deg: Working angle of one joint at static height, at most.
        joint_travel_deg: The same at full bump.
        least_deg: Working angle below which the needles do not turn and dent their track.
        unequal_deg: Equivalent angle of the two joints, at most.
    """

    source: Source
    modulus_mpa: Annotated[float, Within("mpa", 1000, 500_000)]
    density_kg_per_m3: Annotated[float, Within("kg_per_m3", 500, 20_000)]
    shear_mpa: Annotated[float, Within("mpa", 5, 1000)]
    speed_over_critical: Annotated[float, Within("1", 0.1, 1)]
    joint_deg: Annotated[float, Within("deg", 0.5, 30)]
    joint_travel_deg: Annotated[float, Within("deg", 0.5, 45)]
    least_deg: Annotated[float, Within("deg", 0, 5)]
    unequal_deg: Annotated[float, Within("deg", 0.1, 10)]
    tubes: Annotated[tuple[ShaftTube, ...], Field(min_length=1), Distinct("name", "tube")]
    sources: dict[str, Text]


CyclePoint = tuple[Annotated[float, Within("s", 0, 1e5)], Annotated[float, Within("km_per_h", 0, 250)]]
CyclePoints = Annotated[tuple[CyclePoint, ...], Field(min_length=2, max_length=20_000)]


class Cycle(Record):
    """A driving cycle of straight lines between points (time s, speed km/h).

    Attributes:
        points: The first at 0 s; give points or made_of.
        made_of: Names of cycles driven one after the other.
        distance_km: As published.
        mean_km_per_h: As published, stops included.
    """

    name: Name
    source: Source
    points: CyclePoints | None = None
    made_of: Annotated[tuple[Name, ...], Field(min_length=1, max_length=50)] | None = None
    distance_km: Annotated[float, Within("km", 0.01, 1000)]
    mean_km_per_h: Annotated[float, Within("km_per_h", 1, 200)]

    @model_validator(mode="after")
    def _in_order(self) -> "Cycle":
        one_of(self, "points", "made_of")
        points = self.points or ((0.0, 0.0),)
        if points[0][0] != 0:
            raise ValueError("the first point is not at 0 s; allowed: 0")
        for before, after in pairwise(points):
            if after[0] <= before[0]:
                raise ValueError(f"{after[0]:g} s after {before[0]:g} s; allowed: times that rise")
        return self


class CycleTable(Record):
    """`shared/cycles.yaml`."""

    cycles: Annotated[tuple[Cycle, ...], Field(min_length=1), Distinct("name", "cycle")]

    @model_validator(mode="after")
    def _known(self) -> "CycleTable":
        plain = {cycle.name for cycle in self.cycles if cycle.points is not None}
        for cycle in self.cycles:
            for name in cycle.made_of or ():
                if name not in plain:
                    raise ValueError(f"{cycle.name} is made of {name!r}; allowed: {', '.join(sorted(plain))}")
        return self


class Sender(Record):
    """The old tank sender and its dial, measured.

    Attributes:
        quantity: What the sender gives to the dial.
        points: (level %, reading), dial read against the sender, in the order of the level.
        full_percent: State of charge, as the battery monitor tells it, at which the dial shows full.
        empty_percent: And empty.
    """

    quantity: Literal["ohm", "V"]
    points: Annotated[tuple[tuple[Percent, Annotated[float, Within("1", 0, 10_000)]], ...],
                      Field(min_length=2, max_length=50)]  # fmt: skip
    full_percent: Percent = 95.0
    empty_percent: Percent = 10.0
    source: Source

    @model_validator(mode="after")
    def _in_order(self) -> "Sender":
        levels = [level for level, _ in self.points]
        if any(b <= a for a, b in pairwise(levels)):
            raise ValueError("levels out of order; allowed: levels that rise from point to point")
        readings = [reading for _, reading in self.points]
        if readings != sorted(readings) and readings != sorted(readings, reverse=True):
            raise ValueError("readings go up and down; allowed: readings that only rise, or only fall")
        if len(set(readings)) < len(readings):
            raise ValueError("two levels with one reading; allowed: a reading for each level")
        if self.full_percent - self.empty_percent < 5:
            raise ValueError("full not above empty; allowed: full at least 5 % above empty")
        return self


class Speedometer(Record):
    """The old speedometer and the sensor that is to drive it.

    Attributes:
        cable_turns: Turns of its cable for one km, from its dial (a dial in miles: turns per mile x 0.6214).
        sensor: Where the pulses come from.
        pulses_per_turn: Of the shaft or wheel the sensor looks at.
        largest_km_per_h: End of the scale.
    """

    cable_turns: Annotated[Measured, Within("1", 100, 3000)]
    sensor: Literal["propeller shaft", "wheel"]
    pulses_per_turn: Annotated[Whole, Field(ge=1, le=1000)]
    largest_km_per_h: Annotated[float, Within("km_per_h", 40, 300)]
    source: Source


class RoundOrder(Record):
    """A round of the user's own.

    Attributes:
        file: CSV beside the brief: distance_m, speed_kmh, stop_s, height_m.
        payload_kg: Aboard beside the driver.
        repeat: How often it is driven in a day.
    """

    name: Name
    file: Name
    payload_kg: Annotated[float, Within("kg", 0, 5000)] = 0.0
    repeat: Annotated[Whole, Field(ge=1, le=50)] = 1


class DrivingOrder(Record):
    """What the brief says of the driving; all of it may be left out.

    Attributes:
        cycles: Names in shared/cycles.yaml; left out, all of them.
        rounds: The user's own.
        daily_km: Driven on a full day.
        supply_kw: What the socket at home gives.
        plugged_s: How long it is plugged in at night.
        coldest_degc: Of the battery when charging begins, on the coldest night.
        heater_kw: Mean power of the cabin heater in winter.
        accessories_kw: Lights, wipers, pumps, converter losses.
        regeneration_percent: Share of the braking at the driven wheels that the motor may take.
        acceleration_m_per_s2: A gentle driver's, between the speeds of a round.
        air_kg_per_m3: Density of air.
    """

    cycles: tuple[Name, ...] = ()
    rounds: Annotated[tuple[RoundOrder, ...], Field(max_length=20), Distinct("name", "round")] = ()
    daily_km: Annotated[float, Within("km", 0.5, 1000)] | None = None
    supply_kw: Annotated[float, Within("kw", 0.5, 350)] | None = None
    plugged_s: Annotated[float, Within("s", 600, 86_400)] = 36_000.0
    coldest_degc: Annotated[float, Within("degc", -60, 60)] | None = None
    heater_kw: Annotated[float, Within("kw", 0, 10)] = 2.0
    accessories_kw: Annotated[float, Within("kw", 0, 5)] = 0.25
    regeneration_percent: Percent = 50.0
    acceleration_m_per_s2: Annotated[float, Within("m_per_s2", 0.2, 4)] = 0.8
    air_kg_per_m3: Annotated[float, Within("kg_per_m3", 0.5, 1.5)] = 1.2


@dataclass(frozen=True, slots=True)
class Round:
    """One round as read.

    Attributes:
        name: As the brief calls it.
        distance_m: (n,) from the start, rising.
        speed_km_per_h: (n,) at which the stretch up to that point is driven.
        stop_s: (n,) stood still at that point; nought drives through.
        height_m: (n,) above any level.
    """

    name: str
    distance_m: tuple[float, ...]
    speed_km_per_h: tuple[float, ...]
    stop_s: tuple[float, ...]
    height_m: tuple[float, ...]
