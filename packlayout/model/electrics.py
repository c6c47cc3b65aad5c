"""Cables, fuses and electrical rules as they stand in shared/, and what a brief and a vehicle say of wiring."""

from typing import Annotated, Literal

from pydantic import Field, model_validator

from packlayout.model.catalogue import Name, Text
from packlayout.model.record import Direction, Distinct, Point, Record, Whole, Within

Source = Annotated[str, Field(min_length=1, max_length=2000)]
Percent = Annotated[float, Within("percent", 0, 100)]


class CableSize(Record):
    """One single-core cable.

    Attributes:
        area_mm2: Copper.
        resistance_ohm_per_km: At 20 degrees C.
        ampacity_a: In free air at the table's ambient temperature, conductor at its highest.
        diameter_mm: Outside.
        mass_kg_per_m: With insulation and screen.
    """

    area_mm2: Annotated[float, Within("1", 0.3, 400)]
    resistance_ohm_per_km: Annotated[float, Within("ohm_per_km", 0.01, 100)]
    ampacity_a: Annotated[float, Within("a", 0.5, 2000)]
    diameter_mm: Annotated[float, Within("mm", 1, 80)]
    mass_kg_per_m: Annotated[float, Within("kg_per_m", 0.001, 20)]


class CableTable(Record):
    """`shared/cables.yaml`: single-core copper cables, in the order of their area.

    Attributes:
        conductor_degc: Highest temperature of the conductor in service.
        ambient_degc: At which the ampacities stand.
        short_circuit_degc: Highest temperature at the end of a short circuit.
    """

    source: Source
    conductor_degc: Annotated[float, Within("degc", 40, 250)]
    ambient_degc: Annotated[float, Within("degc", 0, 80)]
    short_circuit_degc: Annotated[float, Within("degc", 80, 400)]
    sizes: Annotated[tuple[CableSize, ...], Field(min_length=1), Distinct("area_mm2", "size")]
    sources: dict[str, Text]

    @model_validator(mode="after")
    def _in_order(self) -> "CableTable":
        for before, after in zip(self.sizes, self.sizes[1:], strict=False):
            if after.area_mm2 < before.area_mm2 or after.ampacity_a < before.ampacity_a:
                raise ValueError(
                    f"{after.area_mm2:g} mm2 after {before.area_mm2:g} mm2 is out of order; "
                    "allowed: area and ampacity that rise from row to row"
                )
        return self


class Fuse(Record):
    """One fuse for direct current.

    Attributes:
        voltage_v: Highest DC voltage it breaks.
        breaking_a: Greatest short-circuit current it breaks.
        clearing_a2s: I2t until it has broken a short circuit, A2 s.
    """

    name: Name
    rating_a: Annotated[float, Within("a", 0.5, 2000)]
    voltage_v: Annotated[float, Within("v", 12, 1500)]
    breaking_a: Annotated[float, Within("a", 100, 300_000)]
    clearing_a2s: Annotated[float, Within("1", 1, 1e9)]


class FuseTable(Record):
    """`shared/fuses.yaml`: fuses in stock, in the order of their rating."""

    source: Source
    fuses: Annotated[tuple[Fuse, ...], Field(min_length=1), Distinct("name", "fuse")]


class Hose(Record):
    """Coolant hose, filled.

    Attributes:
        diameter_mm: Outside.
        bend_mm: Least bend radius of its middle line.
    """

    diameter_mm: Annotated[float, Within("mm", 4, 100)]
    mass_kg_per_m: Annotated[float, Within("kg_per_m", 0.01, 10)]
    bend_mm: Annotated[float, Within("mm", 5, 1000)]


class Conduit(Record):
    """One size of conduit for cables.

    Attributes:
        inside_mm: Clear diameter.
        outside_mm: Over its ribs.
        bend_mm: Least bend radius of its middle line.
        metal: How far its wall is a barrier round signal cables: none, open (braid, mesh), perforated, or solid.
    """

    name: Name
    inside_mm: Annotated[float, Within("mm", 3, 150)]
    outside_mm: Annotated[float, Within("mm", 4, 160)]
    bend_mm: Annotated[float, Within("mm", 5, 1000)]
    mass_kg_per_m: Annotated[float, Within("kg_per_m", 0.005, 10)]
    metal: Literal["no", "open", "perforated", "solid"] = "no"

    @model_validator(mode="after")
    def _has_a_wall(self) -> "Conduit":
        if self.outside_mm <= self.inside_mm:
            raise ValueError("outside not above inside; allowed: an outside diameter above the inside")
        return self


class SignalGap(Record):
    """Distance between a class of signal cable and power cables, by what conduit it lies in.

    Attributes:
        cable: Class of the cable: a unscreened, b unscreened in balanced pairs, c screened, d screened pair by pair.
        none_mm: In no conduit, or in one of no metal.
        open_mm: In braid or mesh.
        perforated_mm: In perforated metal.
        solid_mm: In a solid metal tube.
    """

    cable: Literal["a", "b", "c", "d"]
    none_mm: Annotated[float, Within("mm", 0, 1000)]
    open_mm: Annotated[float, Within("mm", 0, 1000)]
    perforated_mm: Annotated[float, Within("mm", 0, 1000)]
    solid_mm: Annotated[float, Within("mm", 0, 1000)]

    def within(self, metal: str) -> float:
        """The distance for one sort of conduit, mm."""
        return {"open": self.open_mm, "perforated": self.perforated_mm, "solid": self.solid_mm}.get(
            metal, self.none_mm
        )


class ElectricalRules(Record):
    """`shared/electrical.yaml`: what the electrical checks hold to, each figure with its source.

    Attributes:
        insulation_per_volt_ohm: Least insulation resistance for each volt of working voltage.
        safe_v: DC voltage below which nobody is in danger.
        discharge_s: Time in which the bus must fall below it after the contactors open.
        precharge_share_percent: Share of the pack voltage at which the main contactor may close.
        precharge_s: Time in which it must get there.
        fuse_over_load: Fuse rating over continuous current, at least.
        peak_over_fuse: Peak current over fuse rating, at most, so that a pull-away does not blow it.
        half_share_percent: Share of the pack voltage that may be left on one side of the service disconnect.
        busbar_ohm: Of busbars, contactors, fuse and joints together, for the short-circuit current.
        adjacent_v: Voltage between neighbouring modules above which a barrier is wanted between terminals.
        drop_percent: Voltage drop at peak current.
        low_drop_percent: The same in 12 V circuits.
        bend_factor: Least bend radius over outside diameter; for cables up to 12 mm and above.
        cable_gap_mm: Between cables and parts, body and frame.
        sharp_gap_mm: Between cables and frame tubes, whose edges may be sharp.
        road_gap_mm: Between the road at ride height and anything under the floor.
        clip_mm: Clip spacing.
        gland_mm: Straight length out of a port.
        signal_gap_mm: Between signal cables and cables of high voltage or mains, where they run beside one another.
        signal_gaps: The same by class of cable and sort of conduit; a class that is not listed keeps `signal_gap_mm`.
        signal_beside_mm: Length that they may lie nearer than that: at ports and where they cross.
        conduit: Where high-voltage cable needs conduit.
        conduits: Sizes in stock; a run that needs conduit is laid with the outside diameter of its own. Left out, only
            the length is told.
        conduit_over_cable: Clear diameter of a conduit over the bundle in it, at least.
        hose: Coolant hose.
        resistors_ohm: Decade of the stock of resistors.
    """

    insulation_per_volt_ohm: Annotated[float, Within("ohm", 1, 10_000)]
    safe_v: Annotated[float, Within("v", 10, 120)]
    discharge_s: Annotated[float, Within("s", 0.1, 600)]
    precharge_share_percent: Annotated[float, Within("percent", 50, 99.9)]
    precharge_s: Annotated[float, Within("s", 0.01, 60)]
    fuse_over_load: Annotated[float, Within("1", 1, 3)]
    peak_over_fuse: Annotated[float, Within("1", 1, 6)]
    half_share_percent: Percent
    busbar_ohm: Annotated[float, Within("ohm", 0, 1)]
    adjacent_v: Annotated[float, Within("v", 12, 1500)]
    drop_percent: Percent
    low_drop_percent: Percent
    bend_factor: tuple[Annotated[float, Within("1", 1, 20)], Annotated[float, Within("1", 1, 20)]]
    cable_gap_mm: Annotated[float, Within("mm", 0, 100)]
    sharp_gap_mm: Annotated[float, Within("mm", 0, 100)]
    road_gap_mm: Annotated[float, Within("mm", 0, 500)]
    clip_mm: Annotated[float, Within("mm", 50, 2000)]
    gland_mm: Annotated[float, Within("mm", 0, 200)]
    signal_gap_mm: Annotated[float, Within("mm", 0, 1000)] | None = None
    signal_gaps: Annotated[
        tuple[SignalGap, ...], Field(max_length=4), Distinct("cable", "class of signal cable")
    ] = ()
    signal_beside_mm: Annotated[float, Within("mm", 0, 5000)] = 400.0
    conduit: tuple[Literal["under floor", "everywhere"], ...] = ("under floor",)
    conduits: Annotated[tuple[Conduit, ...], Field(max_length=40), Distinct("name", "conduit")] = ()
    conduit_over_cable: Annotated[float, Within("1", 1, 4)] = 1.1
    hose: Hose
    resistors_ohm: Annotated[tuple[Annotated[float, Within("1", 1, 10)], ...], Field(min_length=1)]
    sources: dict[str, Text]

    def conduit_named(self, name: str | None) -> Conduit | None:
        """One of the stock; None for no name or one that is not there."""
        return next((conduit for conduit in self.conduits if conduit.name == name), None)

    def goes_into(self, bundle_mm: float, conduit: Conduit) -> bool:
        """Whether a bundle of a diameter goes into a conduit with the room that the rules want."""
        return conduit.inside_mm >= bundle_mm * self.conduit_over_cable


class WayBox(Record):
    """A place where cables may run between zones: a box, inside measured, free of everything else.

    Attributes:
        where: under floor: below the body, above the road.
    """

    name: Name
    where: Literal["under floor", "inside", "through a panel"] = "inside"
    corner: Point
    opposite: Point

    @model_validator(mode="after")
    def _has_volume(self) -> "WayBox":
        if any(abs(a - b) < 10 for a, b in zip(self.corner, self.opposite, strict=True)):
            raise ValueError(
                "too thin for a cable; allowed: opposite corners at least 10 mm apart along each axis"
            )
        return self


class CableEnd(Record):
    """A fixed point that a cable or hose goes to: charging socket, 12 V distribution, radiator, a dial, a pedal.

    Attributes:
        at: Where the cable ends.
        direction: The way the cable leaves it.
    """

    name: Name
    kind: Literal["charging socket", "12 V feed", "coolant in", "coolant out", "signal"]
    at: Point
    direction: Direction


SignalEnd = Annotated[tuple[Name, ...], Field(min_length=1, max_length=2)]


class SignalRun(Record):
    """A signal cable, jacketed, of several cores.

    Attributes:
        start: Part and port, such as [motor-45kw, encoder]; the part by its file or its name in the layout. A fixed
            point of the vehicle by its name alone.
        goal: Likewise.
        cores: Wires in it.
        area_mm2: Of each.
        diameter_mm: Over the jacket.
        mass_kg_per_m: Of the whole cable.
        screen: Its class, which decides how far it keeps from power cables (see `SignalGap`).
        conduit: Conduit of the stock that it lies in from end to end; one of solid metal does away with the distance.
    """

    name: Name
    start: SignalEnd
    goal: SignalEnd
    cores: Annotated[Whole, Field(ge=1, le=60)] = 4
    area_mm2: Annotated[float, Within("1", 0.05, 4)] = 0.5
    diameter_mm: Annotated[float, Within("mm", 2, 30)] = 7.0
    mass_kg_per_m: Annotated[float, Within("kg_per_m", 0.005, 2)] = 0.07
    screen: Literal["a", "b", "c", "d"] = "c"
    conduit: Name | None = None


class WiringOrder(Record):
    """What the brief says of the electrics; all of it may be left out.

    Attributes:
        strings: Strings in parallel; the number of modules is a multiple of it.
        lowest_soc_percent: State of charge the driver is told is empty.
        highest_soc_percent: State of charge at which charging ends.
        ambient_degc: Hottest air round the cables.
        insulation_alarm_ohm: What the insulation monitor is set to.
        signals: Signal cables to be laid, kept apart from high voltage.
    """

    strings: Annotated[Whole, Field(ge=1, le=20)] = 1
    lowest_soc_percent: Percent = 10.0
    highest_soc_percent: Percent = 95.0
    ambient_degc: Annotated[float, Within("degc", 0, 85)] = 40.0
    insulation_alarm_ohm: Annotated[float, Within("ohm", 1000, 1e8)] | None = None
    signals: Annotated[tuple[SignalRun, ...], Field(max_length=40), Distinct("name", "signal cable")] = ()

    @model_validator(mode="after")
    def _in_order(self) -> "WiringOrder":
        if self.highest_soc_percent - self.lowest_soc_percent < 5:
            raise ValueError("states of charge out of order; allowed: highest at least 5 % above lowest")
        return self
