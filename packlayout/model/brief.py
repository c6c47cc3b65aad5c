"""What is wanted: the brief, its clearances, aims and limits; and the `Case` that everything starts from."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Annotated, Literal

from pydantic import Field, model_validator

from packlayout.model.catalogue import (
    Conventions,
    DesignCode,
    Material,
    Name,
    Part,
    SignedAxis,
    Text,
    Thread,
    TubeSection,
)  # fmt: skip
from packlayout.model.driving import CycleTable, DrivingOrder, Round, ShaftRules
from packlayout.model.electrics import CableTable, ElectricalRules, FuseTable, WiringOrder
from packlayout.model.geometry import TriMesh
from packlayout.model.prices import PriceTable
from packlayout.model.record import Distinct, Flag, Point, Quarter, Record, Whole, Within
from packlayout.model.stock import CuttingStock
from packlayout.model.vehicle import Vehicle
from packlayout.model.weighed import LedgerItem

Gap = Annotated[float, Within("mm", 0, 500)]
Share = Annotated[float, Within("1", 0, 100)]
PerSide = Annotated[Whole, Field(ge=1, le=20)]
Zones = Annotated[tuple[Name, ...], Field(min_length=1, max_length=30)]


class Fixed(Record):
    """A part the user has put in place.

    `at` is the lowest corner of the part's box in vehicle axes, `up` the own axis that points up and
    `turn` the quarter turns about the vertical, anticlockwise seen from above.
    """

    at: Point
    up: SignedAxis = "+z"
    turn_deg: Quarter = 0


class CoreOrder(Record):
    """The one arrangement of modules that the shop's core frame is made for; it may be turned as a whole.

    Attributes:
        modules: How many along x, along y and in layers, the core as it stands at turn 0.
        up: The module's own axis that points up.
    """

    modules: tuple[PerSide, PerSide, PerSide]
    up: SignedAxis = "+z"


class ModuleOrder(Record):
    """The battery: which module, and how many or how much energy.

    Attributes:
        part: Name of its file in modules/, without .yaml.
        count: How many; give count or energy.
        energy_kwh: The least that holds this much.
        zones: Zones of the vehicle they may go in.
        blocks_at_most: How many cradles they may be split over.
        plate_between_mm: Thickness of the plate between layers of modules, for cooling or bearing.
        end_plate_mm: Thickness of the plate at each end of the rows of a block, of the frame's material.
        loose: true when modules may also stand singly, each in a cradle of its own.
        core: The one arrangement that each block must have; left out, any that fits.
    """

    part: Name
    count: Annotated[Whole, Field(ge=1, le=200)] | None = None
    energy_kwh: Annotated[float, Within("kwh", 0.1, 500)] | None = None
    zones: Zones
    blocks_at_most: Annotated[Whole, Field(ge=1, le=3)] = 2
    plate_between_mm: Annotated[float, Within("mm", 0, 60)] = 0.0
    end_plate_mm: Annotated[float, Within("mm", 0, 60)] = 0.0
    loose: Flag = False
    core: CoreOrder | None = None

    @model_validator(mode="after")
    def _one_kind(self) -> "ModuleOrder":
        if (self.count is None) == (self.energy_kwh is None):
            raise ValueError("the number of modules is not clear; allowed: exactly one of count, energy")
        return self


class ShaftLine(Record):
    """How near a part's shaft must be to the shaft line.

    Attributes:
        offset_mm: Of its shaft port from the line.
        angle_deg: Between its shaft and the line.
    """

    offset_mm: Annotated[float, Within("mm", 0, 100)] = 2.0
    angle_deg: Annotated[float, Within("deg", 0, 20)] = 5.0


class PartOrder(Record):
    """One other part: where it may go, or where it is.

    Attributes:
        part: Name of its file in modules/, without .yaml.
        name: What to call it, where two are alike.
        zones: Zones of the vehicle it may go in.
        on_pack: true when it sits on top of the modules.
        fixed: Where it stands, when that is settled.
        on_line: Or how near its shaft must be to the shaft line, from the old gearbox output to the axle input.
        reach_mm: Longest cable, along the axes, from its port to each pack block.
        serviced: true when it must be got out for service: what comes off before it is told.
        removals_at_most: How many other things may have to come off before a serviced part.
    """

    part: Name
    name: Name | None = None
    zones: Zones
    on_pack: Flag = False
    fixed: Fixed | None = None
    on_line: ShaftLine | None = None
    reach_mm: Annotated[float, Within("mm", 10, 10_000)] | None = None
    serviced: Flag = False
    removals_at_most: Annotated[Whole, Field(ge=0, le=50)] | None = None


class Clearances(Record):
    """Least distances, mm: to the body, between parts, to things that move, to things that get hot.

    What is measured is not exact: `surface` says how much of the tolerance of the surfaces is added to the
    distances to them.

    Attributes:
        body_mm: To the zone's surface and to what stands still.
        parts_mm: Between parts.
        moving_mm: To what moves.
        hot_mm: To what gets hot.
        road_mm: From the road to the lowest part, at full load; left out, not judged.
        surface: How surfaces are taken. As measured (nominal), with their stated tolerance added to each distance
            (95 %), or with three halves of it (worst case).
    """

    body_mm: Gap = 10.0
    parts_mm: Gap = 10.0
    moving_mm: Gap = 25.0
    hot_mm: Gap = 50.0
    road_mm: Gap | None = None
    surface: Literal["nominal", "95 %", "worst case"] = "nominal"


class Aims(Record):
    """How much each aim counts against the others; nought leaves it out.

    The search works with a cable length along the axes; where layouts are set side by side, cables are routed, and
    `cable_length` goes by that. Shaft angle and price count there alone: within one layout they hardly change.

    Attributes:
        splitting: For each block beyond the first.
        shaft_angle: For the greater joint angle of the propeller shaft at kerb height.
        price: For each percent above the cheapest layout offered.
        front_target_kg: Front axle load to aim at; left out, that of the original.
        rear_target_kg: Rear axle load to aim at; left out, that of the original.
        axle_band_kg: How far from its target an axle may be at no cost.
    """

    front_axle: Share = 1.0
    rear_axle: Share = 1.0
    side_balance: Share = 1.0
    cg_height: Share = 0.5
    compactness: Share = 0.3
    cable_length: Share = 0.5
    splitting: Share = 0.3
    shaft_angle: Share = 0.3
    price: Share = 0.3
    front_target_kg: Annotated[float, Within("kg", 50, 5000)] | None = None
    rear_target_kg: Annotated[float, Within("kg", 50, 5000)] | None = None
    axle_band_kg: Annotated[float, Within("kg", 0, 500)] = 0.0


class FrameOrder(Record):
    """What the cradle and its legs are made of.

    Attributes:
        cradle_tube: Section of the cradle, from shared/tubes.yaml.
        leg_tube: Section of the legs.
        material: From shared/materials.yaml.
        plate_mm: Thickness of foot plates.
        liner_mm: Thickness of the liner between modules and tubes.
        clearance_mm: Between the frame and everything else.
        choose_sections: true: the lightest sections of the stock that bear the load cases are taken; false: the
            two named here are kept and judged.
        sections_at_most: How many different sections may be bought.
        leg_braces: true: knee braces in the corners of square legs, where there is room; the choice of sections turns
            them on where they save mass.
        bar_tube: Section of the bars and studs between the rails; left out, that of the cradle.
        least_wall_mm: Thinnest wall the shop can weld (2 mm by common practice, no source).
        bolt_class: Property class of the bolts at the mounting points, ISO 898-1.
        weld_throat_mm: Throat of the fillet welds; left out, 1.2 walls of the tube, at least the 3 mm of
            EN 1993-1-8 clause 4.5.2.
    """

    cradle_tube: Name
    leg_tube: Name
    material: Name
    plate_mm: Annotated[float, Within("mm", 3, 30)] = 8.0
    liner_mm: Annotated[float, Within("mm", 0, 20)] = 2.0
    clearance_mm: Annotated[float, Within("mm", 0, 50)] = 3.0
    choose_sections: Flag = True
    sections_at_most: Annotated[Whole, Field(ge=1, le=3)] = 2
    leg_braces: Flag = False
    bar_tube: Name | None = None
    least_wall_mm: Annotated[float, Within("mm", 0.5, 10)] = 2.0
    bolt_class: Literal["5.6", "8.8", "10.9"] = "8.8"
    weld_throat_mm: Annotated[float, Within("mm", 1, 20)] | None = None


class LoadState(Record):
    """A state the vehicle is weighed in: who and what is aboard the converted vehicle."""

    name: Name
    aboard: tuple[LedgerItem, ...]


class Road(Record):
    """What braking and hill starts are reckoned at.

    Attributes:
        deceleration_m_per_s2: Of a full braking; left out, 6.43 of the type 0 test of UN R13-H annex 3 (value
            from memory).
        gradient_percent: Of a hill start; left out, the 20 % of the parking brake in that annex (value from memory).
    """

    deceleration_m_per_s2: Annotated[float, Within("m_per_s2", 0.5, 12)] = 6.43
    gradient_percent: Annotated[float, Within("percent", 1, 60)] = 20.0


class Documents(Record):
    """How drawings and report are made out.

    Attributes:
        projection: First angle as in Europe, or third angle (ISO 5456-2).
        owner: Legal owner, for the title block (ISO 7200).
        issued: Date of issue, YYYY-MM-DD; left out, that of SOURCE_DATE_EPOCH, else a line to write it on.
        revision: Of the drawings.
    """

    projection: Literal["first angle", "third angle"] = "first angle"
    owner: Text = ""
    issued: Annotated[str, Field(pattern=r"^\d{4}-(0[1-9]|1[0-2])-(0[1-9]|[12]\d|3[01])$")] | None = None
    revision: Annotated[str, Field(max_length=8)] = ""


class Kit(Record):
    """What a shop fits again and again: a pack, its parts and what they are judged by, without a vehicle.

    In a kit file each place in `zones` may be the use of a zone (such as engine bay) as well as its name, so that
    one kit goes with every vehicle.

    Attributes:
        design_code: Name of a file in shared/design-codes/.
        modules: The battery.
        parts: Everything else that is to be placed.
        wiring: Strings, states of charge, temperatures.
        driving: Cycles, rounds, supply.
        documents: Projection, owner and date of the drawings.
        time_limit_s: The search stops between two of its jobs once this has passed; left out, it runs to its end.
    """

    name: Name
    design_code: Name
    modules: ModuleOrder
    parts: Annotated[tuple[PartOrder, ...], Field(max_length=60)] = ()
    clearances: Clearances = Clearances()
    aims: Aims = Aims()
    frame: FrameOrder
    road: Road = Road()
    wiring: WiringOrder = WiringOrder()
    driving: DrivingOrder = DrivingOrder()
    documents: Documents = Documents()
    time_limit_s: Annotated[float, Within("s", 0.1, 86_400)] | None = None


class Brief(Kit):
    """One job on one vehicle: a kit with the vehicle it goes into and what is carried.

    Attributes:
        customer: For the title of the report.
        vehicle: File of the vehicle, from this folder.
        load_states: Further states to weigh it in.
    """

    customer: Text = ""
    vehicle: Name = "vehicle.yaml"
    load_states: Annotated[tuple[LoadState, ...], Field(max_length=20), Distinct("name", "load state")] = ()


@dataclass(frozen=True, slots=True, eq=False)
class PartBody:
    """A part's own shape, where it is more than its box.

    Attributes:
        mesh: Surface in the part's own axes, mm.
        step: The STEP text it came from, so that the export carries the exact shape; None for a mesh file.
    """

    mesh: TriMesh
    step: str | None = None


@dataclass(frozen=True, slots=True, eq=False)
class Tables:
    """Reference tables that a workshop may do without; what rests on one that is not there is unknown.

    Attributes:
        cables: `shared/cables.yaml`.
        fuses: `shared/fuses.yaml`.
        electrical: `shared/electrical.yaml`.
        cycles: `shared/cycles.yaml`.
        shafts: `shared/shafts.yaml`.
        prices: `shared/prices.yaml`.
        stock: `shared/stock.yaml`; common practice where it is not there.
        rounds: The brief's own rounds, read.
    """

    cables: CableTable | None = None
    fuses: FuseTable | None = None
    electrical: ElectricalRules | None = None
    cycles: CycleTable | None = None
    shafts: ShaftRules | None = None
    prices: PriceTable | None = None
    rounds: tuple[Round, ...] = ()
    stock: CuttingStock = field(default_factory=CuttingStock)


@dataclass(frozen=True, slots=True, eq=False)
class Case:
    """Everything a calculation needs, read and checked. Same case and seed, same study.

    Attributes:
        key: `VEHICLE-BRIEF`, the name of its folder in exports/.
        root: The workshop folder.
        vehicle: As surveyed.
        brief: As wanted.
        parts: The parts the brief names, by the name of their file.
        bodies: Shapes of those parts that have one.
        zones: Closed surface of each zone's free space.
        keep_outs: Closed surface of each keep-out.
        sections: Tube stock by name.
        materials: By name.
        threads: Bolt data by thread.
        design_code: The limits picked by the brief.
        conventions: Driver and fuel masses, inertia regressions.
        notes: What the reader cleaned or assumed, for the user.
        inputs: (path within the workshop, sha256) of each file read.
        tables: Tables for electrics, driving and price.
    """

    key: str
    root: Path
    vehicle: Vehicle
    brief: Brief
    parts: Mapping[str, Part]
    bodies: Mapping[str, PartBody]
    zones: Mapping[str, TriMesh]
    keep_outs: Mapping[str, TriMesh]
    sections: Mapping[str, TubeSection]
    materials: Mapping[str, Material]
    threads: Mapping[str, Thread]
    design_code: DesignCode
    conventions: Conventions
    notes: tuple[str, ...] = ()
    inputs: tuple[tuple[str, str], ...] = ()
    tables: Tables = field(default_factory=Tables)

    @property
    def modules_wanted(self) -> int:
        """How many modules the brief asks for; by energy, the least number that holds it."""
        order = self.brief.modules
        if order.count is not None:
            return order.count
        part = self.parts[order.part]
        assert order.energy_kwh is not None
        assert part.kind == "battery module"
        return max(1, -int(-order.energy_kwh / part.electrical.energy_kwh // 1))
