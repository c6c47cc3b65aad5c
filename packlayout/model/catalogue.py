"""What can be bought: parts with their faces, ports and data, and the stock a frame is made of.

A part's own axes start at the lowest corner of its box: length along own x, width along own y,
height along own z as it stands on its base.
"""

from typing import Annotated, Literal

from pydantic import Field, TypeAdapter, model_validator

from packlayout.model.geometry import MeasuredPoint, Vec
from packlayout.model.loads import LeastFrequency, LoadCase, PartialFactors
from packlayout.model.record import (
    Direction,
    Distinct,
    Point,
    PointWithTolerance,
    Record,
    Size,
    Within,
)
from packlayout.model.stock import Material, Thread, TubeSection
from packlayout.units import Measured

SignedAxis = Literal["+x", "-x", "+y", "-y", "+z", "-z"]
Name = Annotated[str, Field(min_length=1, max_length=120)]
Text = Annotated[str, Field(max_length=2000)]
Figure = Annotated[float, Within("1", -1e6, 1e6)]
Volts = Annotated[float, Within("v", 1, 1500)]
Amps = Annotated[float, Within("a", 0.1, 5000)]


PORT_ROOM_MM = {"HV": 45.0, "coolant": 45.0, "12 V": 30.0}
"""Plug or gland and the first of the bend, by kind of port (common practice, no source)."""


class AccessFace(Record):
    """A face that a hand or a tool must reach: nothing may stand in front of it.

    Attributes:
        face: Which face, in the part's own axes.
        depth_mm: How far in front of it nothing may stand.
        reason: What the room is for.
    """

    face: SignedAxis
    depth_mm: Annotated[float, Within("mm", 1, 1500)]
    reason: Text = ""


class Port(Record):
    """Where a cable, hose or shaft leaves the part, in its own axes.

    Attributes:
        at: Where it leaves the part, own axes.
        direction: The way it leaves, own axes.
        room_mm: Straight out of it nothing may stand this far, so that the plug goes on and the cable finds its
            first bend; left out, 45 for high voltage and coolant, 30 for 12 V, none for signal and shaft (common
            practice, no source).
    """

    name: Name
    kind: Literal["HV", "12 V", "coolant", "signal", "shaft"]
    at: Point
    direction: Direction
    room_mm: Annotated[float, Within("mm", 0, 500)] | None = None

    @property
    def depth_mm(self) -> float:
        """Room to be kept free straight out of it, mm."""
        return PORT_ROOM_MM.get(self.kind, 0.0) if self.room_mm is None else self.room_mm


class MountHole(Record):
    """A hole the part is bolted down by, in its own axes."""

    at: Point
    diameter_mm: Annotated[float, Within("mm", 2, 60)]


class BodyFile(Record):
    """The part's shape as a file beside its YAML.

    Attributes:
        file: STEP, STL, PLY, OBJ or GLB in this folder.
        unit: Unit of a mesh file; a STEP file states its own.
    """

    file: Name
    unit: Literal["mm", "cm", "m", "in"] = "mm"


class PartRecord(Record):
    """What every part has, whatever its kind.

    Attributes:
        size: [length, width, height] along its own x, y, z in mm; may be left out where there is a body.
        body: Its shape, where it is more than a box.
        cg: Its centre of gravity in own axes; the middle of the box within a tenth of each side where left out.
        up: Own axes that may point up in the vehicle.
        access: Faces to be kept reachable.
        source: Where the figures are from.
        sources: Field -> where that figure is from.
    """

    name: Name
    maker: Name
    size: Size | None = None
    body: BodyFile | None = None
    mass_kg: Annotated[Measured, Within("kg", 0.01, 2000)]
    cg: PointWithTolerance | None = None
    up: Annotated[tuple[SignedAxis, ...], Field(min_length=1, max_length=6)] = ("+z",)
    access: tuple[AccessFace, ...] = ()
    ports: tuple[Port, ...] = ()
    holes: tuple[MountHole, ...] = ()
    source: Annotated[str, Field(min_length=1, max_length=2000)]
    sources: dict[str, Text] = Field(default_factory=dict)

    @model_validator(mode="after")
    def _has_a_shape(self) -> "PartRecord":
        if self.size is None and self.body is None:
            raise ValueError("neither size nor body is given; allowed: size [length, width, height] or body")
        return self

    @property
    def box_size(self) -> Vec:
        """Sides of the part's box in its own axes, mm."""
        assert self.size is not None  # filled in by the reader from the body where it was left out
        return self.size

    @property
    def centre_of_gravity(self) -> MeasuredPoint:
        """Own centre of gravity, mm, own axes.

        Where none is given: the middle of the box, within a tenth of each side (common practice, no source).
        """
        if self.cg is not None:
            return self.cg
        x, y, z = (Measured(side / 2, side / 10) for side in self.box_size)
        return x, y, z


class ModuleData(Record):
    """Electrical data of a battery module.

    Attributes:
        resistance_ohm: Between its terminals, for the short-circuit current and the losses.
        charge_a: Highest current it may be charged with for long; or `charge_rate`.
        charge_rate: The same over its capacity: 0.5 for a current that fills it in two hours.
        lowest_charge_degc: Below this it must not be charged.
    """

    energy_kwh: Annotated[float, Within("kwh", 0.05, 50)]
    capacity_ah: Annotated[float, Within("ah", 1, 1000)]
    min_v: Volts
    nominal_v: Volts
    max_v: Volts
    continuous_a: Amps
    peak_a: Amps
    resistance_ohm: Annotated[Measured, Within("ohm", 1e-5, 10)] | None = None
    charge_a: Amps | None = None
    charge_rate: Annotated[float, Within("1", 0.02, 20)] | None = None
    lowest_charge_degc: Annotated[float, Within("degc", -60, 60)] | None = None

    @model_validator(mode="after")
    def _in_order(self) -> "ModuleData":
        if not self.min_v < self.nominal_v < self.max_v:
            raise ValueError("voltages out of order; allowed: min < nominal < max")
        if self.charge_a is not None and self.charge_rate is not None:
            raise ValueError("charge and charge_rate are both given; allowed: one of them")
        return self

    @property
    def most_charge_a(self) -> float | None:
        """Highest charging current, A; None where the part does not say."""
        return self.charge_rate * self.capacity_ah if self.charge_rate is not None else self.charge_a


class DcWindow(Record):
    """The DC voltage a device works in and the current it takes."""

    min_v: Volts
    max_v: Volts
    continuous_a: Amps | None = None
    peak_a: Amps | None = None

    @model_validator(mode="after")
    def _in_order(self) -> "DcWindow":
        if not self.min_v < self.max_v:
            raise ValueError("voltages out of order; allowed: min < max")
        return self


class JunctionData(DcWindow):
    """What the junction box holds.

    Attributes:
        fuse: Main fuse fitted, from shared/fuses.yaml.
        precharge_ohm: Resistor that fills the bus capacitors.
        discharge_ohm: Resistor that empties them, where one is fitted.
    """

    fuse: Name | None = None
    precharge_ohm: Annotated[float, Within("ohm", 1, 100_000)] | None = None
    discharge_ohm: Annotated[float, Within("ohm", 100, 1e7)] | None = None


class ControllerData(DcWindow):
    """Electrical data of a motor controller.

    Attributes:
        capacitance_uf: Of its capacitor bank.
        efficiency_percent: At rated load.
    """

    capacitance_uf: Annotated[float, Within("uf", 1, 100_000)] | None = None
    efficiency_percent: Annotated[float, Within("percent", 50, 100)] | None = None


class MotorLosses(Record):
    """Losses of the motor, W = constant + copper T2 + iron w + windage w3 (T in N m, w in rad/s).

    Attributes:
        copper: W for each (N m)2.
        iron: W for each rad/s.
        windage: W for each (rad/s)3.
        constant: W.
    """

    copper: Annotated[float, Within("1", 0, 100)]
    iron: Annotated[float, Within("1", 0, 100)]
    windage: Annotated[float, Within("1", 0, 1)] = 0.0
    constant: Annotated[float, Within("1", 0, 10_000)] = 0.0


class MotorData(DcWindow):
    """Electrical and mechanical data of a motor.

    Attributes:
        losses: Coefficients of its losses; left out, an estimate is used.
    """

    # without their suffix these would take the names of the voltages and currents
    # the current and voltage of the window have the short names: these keep their suffix in a file as well
    continuous_kw: Annotated[float, Within("kw", 0.5, 500)] = Field(alias="continuous_kw")
    peak_kw: Annotated[float, Within("kw", 0.5, 800)] = Field(alias="peak_kw")
    peak_nm: Annotated[float, Within("nm", 1, 3000)] = Field(alias="peak_nm")
    max_rpm: Annotated[float, Within("rpm", 500, 30_000)] = Field(alias="max_rpm")
    losses: MotorLosses | None = None


class PoweredData(DcWindow):
    """A charger, heater or converter: its DC window, its power and its efficiency."""

    power_kw: Annotated[float, Within("kw", 0.05, 350)]
    efficiency_percent: Annotated[float, Within("percent", 50, 100)] | None = None


class GearData(Record):
    """A reduction gear."""

    ratio: Annotated[float, Within("1", 0.2, 30)]
    max_nm: Annotated[float, Within("nm", 1, 10_000)]


class BatteryModule(PartRecord):
    """One battery module."""

    kind: Literal["battery module"]
    electrical: ModuleData


class JunctionBox(PartRecord):
    """High-voltage junction box: fuses, contactors, precharge."""

    kind: Literal["junction box"]
    electrical: JunctionData


class Controller(PartRecord):
    """Motor controller (inverter)."""

    kind: Literal["controller"]
    electrical: ControllerData


class Motor(PartRecord):
    """Traction motor."""

    kind: Literal["motor"]
    electrical: MotorData


class ReductionGear(PartRecord):
    """Reduction gear between motor and propeller shaft."""

    kind: Literal["reduction gear"]
    gear: GearData


class PoweredPart(PartRecord):
    """Charger, DC-DC converter or heater."""

    kind: Literal["charger", "DC-DC converter", "heater"]
    electrical: PoweredData


class PlainPart(PartRecord):
    """Anything else that takes room and weighs something."""

    kind: Literal["12 V battery", "pump", "bracket", "other"]


Part = BatteryModule | JunctionBox | Controller | Motor | ReductionGear | PoweredPart | PlainPart
PART: TypeAdapter[Part] = TypeAdapter(Annotated[Part, Field(discriminator="kind")])
KINDS = (
    "battery module", "junction box", "controller", "motor", "reduction gear", "charger", "DC-DC converter",
    "heater", "12 V battery", "pump", "bracket", "other",
)  # fmt: skip


class TubeTable(Record):
    """`shared/tubes.yaml`."""

    source: Text
    sections: Annotated[tuple[TubeSection, ...], Field(min_length=1), Distinct("name", "section")]


class MaterialTable(Record):
    """`shared/materials.yaml`."""

    materials: Annotated[tuple[Material, ...], Field(min_length=1), Distinct("name", "material")]


class ThreadTable(Record):
    """`shared/fasteners.yaml`."""

    source: Text
    threads: Annotated[tuple[Thread, ...], Field(min_length=1), Distinct("thread", "row")]


class CodeLimit(Record):
    """One limit that a design code sets, with where it stands."""

    quantity: Literal[
        "kerb mass ratio", "side difference", "front axle share", "CG height", "CG height change",
        "payload", "ground clearance", "ride height change", "static stability factor", "hill-start adhesion",
    ]  # fmt: skip
    sense: Literal["max", "min"]
    value: Annotated[float, Within("1", -1e6, 1e6)]
    unit: Literal["percent", "mm", "kg", "1"]
    source: Annotated[str, Field(min_length=1, max_length=2000)]


class DesignCode(Record):
    """A set of limits: data, not law. Local codes and a licensed engineer decide.

    Attributes:
        load_cases: What the frame has to bear; without any its strength is not judged.
        factors: Partial factors on strength.
        least_frequency: Of the loaded frame.
    """

    name: Name
    title: Name
    note: Text = ""
    limits: tuple[CodeLimit, ...]
    load_cases: Annotated[tuple[LoadCase, ...], Field(max_length=40), Distinct("name", "load case")] = ()
    factors: PartialFactors = PartialFactors()
    least_frequency: LeastFrequency | None = None


class Conventions(Record):
    """`shared/conventions.yaml`: the masses that make vehicles comparable."""

    driver_kg: Annotated[float, Within("kg", 50, 150)]
    # without their suffixes these two would share one name in a file
    fuel_percent: Annotated[float, Within("percent", 0, 100)] = Field(alias="fuel_percent")
    fuel_kg_per_m3: Annotated[float, Within("kg_per_m3", 500, 1200)] = Field(alias="fuel_kg_per_m3")
    inertia_slope: tuple[Figure, Figure, Figure]
    inertia_offset_kg_m2: tuple[Figure, Figure, Figure]
    inertia_tolerance_percent: Annotated[float, Within("percent", 0, 100)]
    sources: dict[str, Text]
