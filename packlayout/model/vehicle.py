"""What was measured: the vehicle, its axles and masses, its zones, keep-outs and mounting points."""

from contextlib import suppress
from typing import Annotated, Any, Literal, cast

from pydantic import Field, model_validator

from packlayout.model.catalogue import Name, SignedAxis, Text
from packlayout.model.driving import AxleTravel, RoadLoad, Sender, Speedometer
from packlayout.model.electrics import CableEnd, WayBox
from packlayout.model.record import (
    Direction,
    Distinct,
    Flag,
    Point,
    PointWithTolerance,
    Record,
    Within,
    one_of,
)
from packlayout.model.weighed import CgHeight, LedgerItem, Stripped, Suspension, Weighed
from packlayout.units import Measured, parse

Coordinate = Annotated[float, Within("mm", -20_000, 20_000)]
Track = Annotated[Measured, Within("mm", 700, 2500)]


class Plated(Record):
    """The limits on the maker's plate, kg."""

    front_axle_kg: Annotated[float, Within("kg", 50, 5000)]
    rear_axle_kg: Annotated[float, Within("kg", 50, 5000)]
    gross_kg: Annotated[float, Within("kg", 100, 8000)]
    source: Text = ""


class Tyres(Record):
    """Tyres: size, the load one tyre may bear, its loaded radius."""

    size: Name
    front_load_kg: Annotated[float, Within("kg", 50, 3000)]
    rear_load_kg: Annotated[float, Within("kg", 50, 3000)]
    radius_mm: Annotated[float, Within("mm", 150, 600)]
    source: Text = ""


class FuelTank(Record):
    """The tank that goes out with the engine."""

    capacity_l: Annotated[float, Within("l", 1, 500)]
    at: PointWithTolerance


class BoxShape(Record):
    """A box between two opposite corners."""

    corner: Point
    opposite: Point

    @model_validator(mode="after")
    def _has_volume(self) -> "BoxShape":
        if any(abs(a - b) < 1 for a, b in zip(self.corner, self.opposite, strict=True)):
            raise ValueError(
                "a box without volume; allowed: opposite corners at least 1 mm apart along each axis"
            )
        return self


class CylinderShape(Record):
    """A round bar between the middles of its ends."""

    start: Point
    end: Point
    diameter_mm: Annotated[float, Within("mm", 2, 3000)]

    @model_validator(mode="after")
    def _has_length(self) -> "CylinderShape":
        if sum((a - b) ** 2 for a, b in zip(self.start, self.end, strict=True)) < 1:
            raise ValueError("a cylinder without length; allowed: ends at least 1 mm apart")
        return self


def _bare(found: Any, tolerances: list[float]) -> Any:
    """A length without its tolerance, which goes into a list; lists of them alike, all else as it is."""
    if isinstance(found, list | tuple):
        return [_bare(item, tolerances) for item in cast("list[Any]", found)]
    if isinstance(found, str):
        with suppress(ValueError):
            read = parse(found, "mm")
            tolerances.append(read.tolerance)
            return read.value
    return found


Outline = Annotated[tuple[tuple[Coordinate, Coordinate], ...], Field(min_length=3, max_length=500)]


class ExtrudedShape(Record):
    """A closed outline carried along an axis; points are the other two axes in the order x, y, z.

    Attributes:
        along: Axis it runs along.
        outline: Points of the other two axes, in the order x, y, z.
        begin: Where it begins on that axis, mm.
        end: Where it ends, mm.
    """

    along: Literal["x", "y", "z"]
    outline: Outline
    begin: Coordinate
    end: Coordinate

    @model_validator(mode="after")
    def _has_length(self) -> "ExtrudedShape":
        if self.end - self.begin < 1:
            raise ValueError("nothing between begin and end; allowed: end at least 1 mm beyond begin")
        return self


class Station(Record):
    """A closed outline in y-z, taken with a tape at one x.

    Attributes:
        x: Distance behind the front axle line, mm.
        outline: Points [y, z] in order round it; all stations begin at the same corner.
        tolerance_mm: Of its points, 95 % half-width. x and each figure of a point may bear one of its own, as in
            '612 +/- 3', and the largest counts for the station.
    """

    x: Coordinate
    outline: Outline
    tolerance_mm: Annotated[float, Within("mm", 0, 100)] = 0.0

    @model_validator(mode="before")
    @classmethod
    def _tolerance_of_its_points(cls, found: Any) -> Any:
        """Figures with a tolerance -> figures without, and the largest tolerance for the station."""
        if not isinstance(found, dict):
            return found
        raw = cast("dict[str, Any]", found)
        largest: list[float] = []
        plain = {key: _bare(raw[key], largest) for key in ("x", "outline") if key in raw}
        if not any(largest):
            return raw
        with suppress(ValueError):  # what is no length is told where it stands
            largest.append(parse(raw.get("tolerance", 0.0), "mm").value)
            return {**raw, **plain, "tolerance": max(largest)}
        return raw


ScanFigure = Annotated[float, Within("1", -1e7, 1e7)]


class ReferencePoint(Record):
    """One point in the axes of the scan and in the axes of the vehicle."""

    scan: tuple[ScanFigure, ScanFigure, ScanFigure]
    vehicle: Point


class MeshFile(Record):
    """A scan: file beside vehicle.yaml, its unit, and three points that tie it to the vehicle axes.

    Attributes:
        file: STL, PLY, OBJ or GLB in this folder; or a cloud of points, as PLY without triangles or as XYZ text.
        unit: Unit of the file's coordinates.
        reference: Three or more points, well apart and not on one line, in both axes.
        widest_hole_mm: Holes up to this width are filled, in a cloud gaps between points.
        inside_out: true when the faces look into the space, as a scanner standing in it sees them.
    """

    file: Name
    unit: Literal["mm", "cm", "m", "in"]
    reference: Annotated[tuple[ReferencePoint, ...], Field(min_length=3, max_length=20)]
    widest_hole_mm: Annotated[float, Within("mm", 0, 1000)] = 150.0
    inside_out: Flag = False


class Opening(Record):
    """The opening of a zone, seen square on: of its two corners the axes across the way in count."""

    corner: Point
    opposite: Point


class Zone(Record):
    """Space that parts may be put in: from tape stations, a box, or a scan.

    Attributes:
        stations: Tape measurements, in the order of x.
        box: Or a plain box.
        mesh: Or a scan.
        opens: Sides that parts can be brought in from.
        opening: Two opposite corners of the opening on those sides; left out, the whole side is open.
        lid_from_mm: Coordinate along the axis of the first open side from which on the walls come away with the lid,
            as those of an engine cover do; left out, walls stay.
        tolerance_mm: Of its surface, 95 % half-width: tape or noise of the scan. Left out, that of the stations'
            points, or the scatter found in the scan.
    """

    name: Name
    use: Literal["engine bay", "gearbox tunnel", "former fuel tank", "boot", "under floor", "other"]
    stations: Annotated[tuple[Station, ...], Field(min_length=2, max_length=200)] | None = None
    box: BoxShape | None = None
    mesh: MeshFile | None = None
    opens: tuple[SignedAxis, ...] = ("+z",)
    opening: Opening | None = None
    lid_from_mm: Coordinate | None = None
    tolerance_mm: Annotated[float, Within("mm", 0, 100)] = 0.0

    @model_validator(mode="after")
    def _one_kind(self) -> "Zone":
        one_of(self, "stations", "box", "mesh")
        return self


class KeepOut(Record):
    """Something that stays in the vehicle and takes room.

    Attributes:
        kind: solid: stands still; moving: steering, suspension; hot: exhaust. Each has its own clearance.
        clearance_mm: Distance to keep from this one, where it differs from that of its kind.
        removable: true when it comes off to let parts in and out, such as a bolted-on cylinder or a pipe.
        tolerance_mm: Of its surface, 95 % half-width.
    """

    name: Name
    kind: Literal["solid", "moving", "hot"] = "solid"
    box: BoxShape | None = None
    cylinder: CylinderShape | None = None
    extruded: ExtrudedShape | None = None
    clearance_mm: Annotated[float, Within("mm", 0, 500)] | None = None
    removable: Flag = False
    tolerance_mm: Annotated[float, Within("mm", 0, 100)] = 0.0

    @model_validator(mode="after")
    def _one_kind(self) -> "KeepOut":
        one_of(self, "box", "cylinder", "extruded")
        return self


class Rubber(Record):
    """Stiffness of a rubber mount.

    Attributes:
        axial_n_per_mm: Square to the face.
        radial_n_per_mm: Along the face, either way.
        source: Where the figures are from.
    """

    axial_n_per_mm: Annotated[float, Within("n_per_mm", 1, 1e6)]
    radial_n_per_mm: Annotated[float, Within("n_per_mm", 1, 1e6)]
    source: Text = ""


class MountPoint(Record):
    """An original mounting point: hole centres on one flat face, and the way the face looks.

    Attributes:
        face: The way its flat face looks, out of the metal.
        holes: Centres of the holes on the face.
        thread: Such as M10, from shared/fasteners.yaml.
        rated_n: Load it may bear, where known.
        was: What it held.
        fixing: How the plate sits: pinned holds it in place and, by two bolts, from turning on its face, but lets it
            tilt, the cautious reading of a few bolts on old sheet metal; fixed keeps it from tilting as well.
        rubber: Or on rubber, of this stiffness; then it may tilt.
    """

    name: Name
    face: Direction
    holes: Annotated[tuple[Point, ...], Field(min_length=1, max_length=8)]
    thread: Name
    rated_n: Annotated[float, Within("n", 1, 1e6)] | None = None
    was: Text = ""
    fixing: Literal["pinned", "fixed"] = "pinned"
    rubber: Rubber | None = None

    @model_validator(mode="after")
    def _flat(self) -> "MountPoint":
        heights = [sum(p * n for p, n in zip(hole, self.face, strict=True)) for hole in self.holes]
        if max(heights) - min(heights) > 2:
            raise ValueError(
                f"the holes are {max(heights) - min(heights):.1f} mm out of one plane across the face; "
                "allowed: 2 mm; check the face direction and the hole positions"
            )
        return self


class LoadFloor(Record):
    """The floor that goods stand on.

    Attributes:
        begin_x_mm: Front end of the floor.
        end_x_mm: Rear end.
        half_width_mm: From the centre plane to its edge.
        height_mm: Above the ground.
        goods_cg_above_mm: Height of the goods' centre of gravity above the floor.
    """

    begin_x_mm: Coordinate
    end_x_mm: Coordinate
    half_width_mm: Annotated[float, Within("mm", 100, 1500)]
    height_mm: Annotated[float, Within("mm", 100, 2000)]
    goods_cg_above_mm: Annotated[float, Within("mm", 0, 1500)] = 250.0

    @model_validator(mode="after")
    def _in_order(self) -> "LoadFloor":
        if self.end_x_mm - self.begin_x_mm < 50:
            raise ValueError("a load floor without length; allowed: end_x at least 50 mm behind begin_x")
        return self


class Seat(Record):
    """Where a person's centre of gravity is when seated."""

    name: Name
    at: PointWithTolerance


class Driveline(Record):
    """Where the old gearbox gave its drive and where the rear axle takes it.

    Attributes:
        gearbox_output: Centre of the old gearbox's output flange.
        axle_input: Centre of the rear axle's input flange.
        axle_ratio: Turns of the input for one of the wheel.
        travel: How the axle moves and what it bears, for the propeller shaft.
    """

    gearbox_output: Point
    axle_input: Point
    axle_ratio: Annotated[float, Within("1", 1, 15)]
    travel: AxleTravel | None = None


class BodyOutline(Record):
    """The vehicle from the side, for pictures only: x and z of a closed line, and the body width."""

    side: Outline
    width_mm: Annotated[float, Within("mm", 800, 2600)]


class Vehicle(Record):
    """One vehicle, as surveyed.

    Attributes:
        plated: From the maker's plate.
        removed: Everything that goes out with the engine; the fuel is reckoned from the tank.
        added: New things that are no parts to be placed: shaft, cables, hoses.
        mounts: Original mounting points that the frame may use.
        zones: Spaces that parts may go in.
        keep_outs: What stays and takes room.
        outline: For pictures only.
        cable_ways: Where cables may run between zones.
        cable_ends: Fixed points that cables and hoses go to.
        road_load: What it needs to roll.
        gauge: The old fuel gauge.
        speedometer: The old speedometer.
        laden_drop_mm: How far the body sinks from kerb to full load, at the lowest place of the parts.
    """

    name: Name
    maker: Name
    notes: Text = ""
    wheelbase_mm: Annotated[Measured, Within("mm", 1200, 5000)]
    track_front_mm: Track
    track_rear_mm: Track
    plated: Plated
    tyres: Tyres
    weighed: Weighed
    cg_height: CgHeight
    fuel_tank: FuelTank
    removed: tuple[LedgerItem, ...]
    added: tuple[LedgerItem, ...] = ()
    mounts: Annotated[tuple[MountPoint, ...], Field(max_length=60), Distinct("name", "mount")] = ()
    zones: Annotated[tuple[Zone, ...], Field(min_length=1, max_length=30), Distinct("name", "zone")]
    keep_outs: Annotated[tuple[KeepOut, ...], Field(max_length=200), Distinct("name", "keep-out")] = ()
    load_floor: LoadFloor | None = None
    stripped: Stripped | None = None
    suspension: Suspension | None = None
    seats: Annotated[tuple[Seat, ...], Field(max_length=20), Distinct("name", "seat")] = ()
    driveline: Driveline | None = None
    cable_ways: Annotated[tuple[WayBox, ...], Field(max_length=60), Distinct("name", "cable way")] = ()
    cable_ends: Annotated[tuple[CableEnd, ...], Field(max_length=60), Distinct("name", "cable end")] = ()
    road_load: RoadLoad | None = None
    gauge: Sender | None = None
    speedometer: Speedometer | None = None
    laden_drop_mm: Annotated[float, Within("mm", 0, 300)] = 0.0
    outline: BodyOutline
