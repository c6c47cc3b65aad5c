"""A small study made by hand: two blocks of modules, a motor with a body of its own, a frame with mitred tubes.

Nothing is searched or computed here beyond masses, so that what is written can be held against visible numbers.
"""

from dataclasses import replace
from math import cos, pi, sin
from pathlib import Path

import numpy as np

from packlayout.frame.tubes import Member, Plate, TubeFrame
from packlayout.mass.weighing import Change, PayloadRow, State, Weighing
from packlayout.model.brief import Brief, Case, PartBody
from packlayout.model.catalogue import PART, Conventions, DesignCode, Material, Part, Thread, TubeSection
from packlayout.model.check import Check, judge, unknown
from packlayout.model.geometry import MassItem, Pose, TriMesh, Vec, exact_point
from packlayout.model.layout import Layout, Placement
from packlayout.model.vehicle import Vehicle
from packlayout.placement.result import Count, Placed, Scored
from packlayout.study import Framed, Study
from packlayout.units import Measured

INVENTED = "invented for the tests"
S235 = Material(
    name="S235", density_kg_per_m3=7850, yield_mpa=235, ultimate_mpa=360, modulus_mpa=210000, source=INVENTED
)
# EN 10219-2 annex B: external corner radius 2 T, internal T
SHS30 = TubeSection(name="SHS 30x2", side_mm=30, wall_mm=2, outer_radius_mm=4, area_mm2=213.7,
                    inertia_mm4=27220, modulus_mm3=1815)  # fmt: skip
SHS40 = TubeSection(name="SHS 40x3", side_mm=40, wall_mm=3, outer_radius_mm=6, area_mm2=420.8,
                    inertia_mm4=93240, modulus_mm3=4662)  # fmt: skip

_WINDOW = {"min_v": 200, "max_v": 400}
_MODULE = {"energy_kwh": 2.4, "capacity_ah": 50, "min_v": 36, "nominal_v": 44, "max_v": 50, "continuous_a": 150,
           "peak_a": 300}  # fmt: skip
_PARTS: dict[str, dict[str, object]] = {
    "marsh-module-12": {"kind": "battery module", "size": [390, 150, 110], "mass_kg": "12.2 +/- 0.2",
                        "electrical": _MODULE},
    "marsh-junction-box": {"kind": "junction box", "size": [300, 200, 110], "mass_kg": "5.5 +/- 0.2",
                           "electrical": _WINDOW},
    "fen-controller": {"kind": "controller", "size": [330, 220, 120], "mass_kg": "9.8 +/- 0.3",
                       "electrical": _WINDOW},
    "fen-motor-80": {"kind": "motor", "size": [320, 240, 240], "mass_kg": "41 +/- 0.5",
                     "electrical": {**_WINDOW, "continuous_kw": 40, "peak_kw": 80, "peak_nm": 180,
                                    "max_rpm": 9000}},
    "holt-charger-3": {"kind": "charger", "size": [280, 180, 90], "mass_kg": 6.4,
                       "electrical": {**_WINDOW, "power_kw": 3.3}},
    "holt-dc-dc": {"kind": "DC-DC converter", "size": [220, 130, 70], "mass_kg": 2.6,
                   "electrical": {**_WINDOW, "power_kw": 1.5}},
    "holt-12v": {"kind": "12 V battery", "size": [175, 165, 175], "mass_kg": 9.1},
    "brook-pump": {"kind": "pump", "size": [160, 90, 90], "mass_kg": 1.1},
}  # fmt: skip


def vehicle() -> Vehicle:
    """An estate car of no real make."""
    corners = {"front_left": "258 +/- 2", "front_right": "254 +/- 2", "rear_left": "231 +/- 2",
               "rear_right": "229 +/- 2"}  # fmt: skip
    outline = [
        [-560, 300], [-590, 480], [-560, 690], [-420, 820], [560, 930], [900, 1400], [1250, 1490], [2560, 1470],
        [2890, 960], [2930, 560], [2880, 330], [2640, 300], [2000, 230], [400, 230],
    ]  # fmt: skip
    return Vehicle.model_validate({
        "name": "Heron Estate", "maker": "Wending Motor Works", "wheelbase": "2310 +/- 3",
        "track_front": "1230 +/- 5", "track_rear": "1225 +/- 5",
        "plated": {"front_axle": 640, "rear_axle": 760, "gross": 1380, "source": "maker's plate"},
        "tyres": {"size": "5.60-15", "front_load": 400, "rear_load": 420, "radius": 315, "source": "tyre wall"},
        "weighed": {"corners": corners, "fuel_l": "20 +/- 2", "source": "four scale pads in the workshop"},
        "cg_height": {"stated": "560 +/- 25", "source": INVENTED},
        "fuel_tank": {"capacity_l": 36, "at": [2600, 0, 420]},
        "removed": [{"name": "engine", "mass": "148 +/- 2", "at": ["60 +/- 20", 0, "560 +/- 20"],
                     "source": "weighed on the crane"},
                    {"name": "gearbox", "mass": "31 +/- 1", "at": [640, 0, 420]}],
        "added": [{"name": "coolant", "mass": "4 +/- 0.5", "at": [100, 0, 500]}],
        "mounts": [
            {"name": "engine mount left", "face": "+z", "thread": "M10", "was": "engine mount",
             "holes": [[260, -330, 420], [320, -330, 420]]},
            {"name": "engine mount right", "face": "+z", "thread": "M10", "was": "engine mount",
             "holes": [[260, 330, 420], [320, 330, 420]]},
        ],
        "zones": [
            {"name": "engine bay", "use": "engine bay",
             "box": {"corner": [-300, -360, 360], "opposite": [680, 360, 860]}},
            {"name": "former fuel tank", "use": "former fuel tank",
             "box": {"corner": [2350, -420, 330], "opposite": [2850, 420, 700]}},
        ],
        "keep_outs": [
            {"name": "steering column", "kind": "moving",
             "cylinder": {"start": [180, -300, 480], "end": [660, -330, 760], "diameter": 50}},
            {"name": "front axle", "kind": "solid", "box": {"corner": [-60, -500, 280],
                                                            "opposite": [60, 500, 350]}},
        ],
        "load_floor": {"begin_x": 1600, "end_x": 2800, "half_width": 500, "height": 720},
        "outline": {"side": outline, "width": 1520},
    })  # fmt: skip


def brief() -> Brief:
    """Ten modules in two places."""
    return Brief.model_validate({
        "name": "Piano tuner", "customer": "a piano tuner", "design_code": "workshop-default",
        "modules": {"part": "marsh-module-12", "count": 10, "zones": ["engine bay", "former fuel tank"]},
        "parts": [{"part": name, "zones": ["engine bay"]} for name in _PARTS if name != "marsh-module-12"],
        "frame": {"cradle_tube": "SHS 30x2", "leg_tube": "SHS 40x3", "material": "S235"},
    })  # fmt: skip


def parts() -> dict[str, Part]:
    """The parts of the brief by name."""
    return {
        key: PART.validate_python(
            {"name": key.replace("-", " ").capitalize(), "maker": "Marsh & Fen", "source": INVENTED,
             "size": data["size"], **{k.removesuffix("_kg"): v for k, v in data.items() if k != "size"}}
        )
        for key, data in _PARTS.items()
    }  # fmt: skip


def drum(length: float, diameter: float, sides: int = 24) -> TriMesh:
    """A round body that lies along x, from the own origin; its diameter is over the corners."""
    r = diameter / 2
    rim = [(r + r * cos(2 * pi * k / sides), r + r * sin(2 * pi * k / sides)) for k in range(sides)]
    points = [(x, y, z) for x in (0.0, length) for y, z in rim] + [(0.0, r, r), (length, r, r)]
    near, far = 2 * sides, 2 * sides + 1
    faces: list[tuple[int, int, int]] = []
    for k in range(sides):
        a, b = k, (k + 1) % sides
        c, d = a + sides, b + sides
        faces += [(a, d, c), (a, b, d), (near, b, a), (far, c, d)]
    return TriMesh(np.array(points), np.array(faces, dtype=np.int64))


def block(lo: Vec, hi: Vec) -> TriMesh:
    """The surface of a box."""
    points = [(x, y, z) for z in (lo[2], hi[2]) for y in (lo[1], hi[1]) for x in (lo[0], hi[0])]
    faces = [(0, 2, 1), (1, 2, 3), (4, 5, 6), (5, 7, 6), (0, 1, 4), (1, 5, 4),
             (2, 6, 3), (3, 6, 7), (0, 4, 2), (2, 4, 6), (1, 3, 5), (3, 7, 5)]  # fmt: skip
    return TriMesh(np.array(points), np.array(faces, dtype=np.int64))


def case() -> Case:
    """Everything the study is made from."""
    car = vehicle()
    zones = {zone.name: block(zone.box.corner, zone.box.opposite) for zone in car.zones if zone.box}
    bar = drum(556.0, 50.0, 12)
    column = TriMesh(np.add(bar.vertices, (180.0, -340.0, 590.0)), np.array(bar.faces))
    return Case(
        key="heron-estate-piano-tuner", root=Path("workshop"), vehicle=car, brief=brief(), parts=parts(),
        bodies={"fen-motor-80": PartBody(drum(320.0, 240.0))}, zones=zones,
        keep_outs={"steering column": column, "front axle": block((-60, -500, 280), (60, 500, 350))},
        sections={s.name: s for s in (SHS30, SHS40)}, materials={"S235": S235},
        threads={"M10": Thread(thread="M10", clearance_hole_mm=11, washer_diameter_mm=20)},
        design_code=DesignCode(name="workshop-default", title="Limits of the workshop", limits=()),
        conventions=Conventions(driver_kg=75, fuel_percent=90, fuel_kg_per_m3=745,
                                inertia_slope=(0.497, 3.079, 3.176), inertia_offset_kg_m2=(-181.4, -1728.8, -1754.2),
                                inertia_tolerance_percent=30, sources={}),
        notes=("the scan of the engine bay was closed at 2 holes of up to 40 mm",),
        inputs=(("bays/heron-estate/vehicle.yaml", "1" * 64), ("modules/marsh-module-12.yaml", "2" * 64)),
    )  # fmt: skip


def layout() -> Layout:
    """Six modules over the front axle, four where the tank was, and the other parts."""
    size = (390.0, 150.0, 110.0)
    front = [Placement(f"module {3 * row + k + 1}", "marsh-module-12", "engine bay",
                       (-250.0 + 160.0 * k, -195.0, 385.0 + 120.0 * row), "+z", 90, size, 1)
             for row in range(2) for k in range(3)]  # fmt: skip
    rear = [Placement(f"module {7 + 2 * row + k}", "marsh-module-12", "former fuel tank",
                      (2400.0, -155.0 + 160.0 * k, 360.0 + 120.0 * row), "+z", 0, size, 2)
            for row in range(2) for k in range(2)]  # fmt: skip
    sizes = {name: tuple(map(float, data["size"])) for name, data in _PARTS.items()}  # type: ignore[arg-type]

    def put(name: str, part: str, zone: str, at: Vec, turn: int = 0, *, locked: bool = False) -> Placement:
        return Placement(name, part, zone, at, "+z", turn, sizes[part], None, locked)

    others = (
        put("motor", "fen-motor-80", "engine bay", (340.0, -120.0, 370.0), locked=True),
        put("controller", "fen-controller", "engine bay", (260.0, -110.0, 640.0)),
        put("junction box", "marsh-junction-box", "engine bay", (-250.0, -100.0, 650.0)),
        put("DC-DC converter", "holt-dc-dc", "engine bay", (70.0, -110.0, 650.0), 90),
        put("12 V battery", "holt-12v", "engine bay", (400.0, 160.0, 640.0)),
        put("pump", "brook-pump", "engine bay", (-250.0, 230.0, 390.0)),
        put("charger", "holt-charger-3", "former fuel tank", (2450.0, 190.0, 400.0)),
    )
    return Layout((*front, *rear, *others), "least change of the axle loads")


def _ring(group: str, section: TubeSection, lo: Vec, hi: Vec) -> list[Member]:
    """Four tubes round a rectangle at height lo z, mitred at 45 degrees; lo and hi are on the centre lines."""
    z = lo[2]
    corners = [(lo[0], lo[1], z), (hi[0], lo[1], z), (hi[0], hi[1], z), (lo[0], hi[1], z)]
    made: list[Member] = []
    for k, name in enumerate(("left", "rear", "right", "front")):
        start, end = corners[k], corners[(k + 1) % 4]
        length = sum((b - a) ** 2 for a, b in zip(start, end, strict=True)) ** 0.5
        a = ((end[0] - start[0]) / length, (end[1] - start[1]) / length)
        out = (a[1], -a[0])  # away from the middle
        h = 0.5**0.5
        start_cut = (h * (-a[0] - out[0]), h * (-a[1] - out[1]), 0.0)
        end_cut = (h * (a[0] - out[0]), h * (a[1] - out[1]), 0.0)
        made.append(
            Member(f"{group} {name}", group, section, start, end, (0.0, 0.0, 1.0), start_cut, end_cut)
        )
    return made


def frame() -> TubeFrame:
    """A ring under each block, a post, two oblique legs and their foot plates."""
    post = Member("cradle 1 post", "cradle 1", SHS30, (-265.0, -210.0, 385.0), (-265.0, -210.0, 600.0),
                  (1.0, 0.0, 0.0), (0.0, 0.0, -1.0), (0.0, 0.0, 1.0))  # fmt: skip
    legs: list[Member] = []
    plates: list[Plate] = []
    for word, s in (("left", -1.0), ("right", 1.0)):
        # cut upright where it meets the ring, level where it stands on its plate
        legs.append(Member(f"leg front {word} strut", f"leg front {word}", SHS40, (232.0, 210.0 * s, 370.0),
                           (290.0, 330.0 * s, 428.0), _square_to((58.0, 120.0 * s, 58.0)), (0.0, -s, 0.0),
                           (0.0, 0.0, 1.0)))  # fmt: skip
        plates.append(Plate(f"leg front {word} foot", f"leg front {word}",
                            Pose((230.0, 330.0 * s - 30.0, 420.0)), (120.0, 60.0, 8.0),
                            ((30.0, 30.0, 11.0), (90.0, 30.0, 11.0))))  # fmt: skip
    rings = [*_ring("cradle 1", SHS30, (-265.0, -210.0, 370.0), (232.0, 210.0, 370.0)),
             *_ring("cradle 2", SHS30, (2385.0, -170.0, 345.0), (2805.0, 170.0, 345.0))]  # fmt: skip
    return TubeFrame((*rings, post, *legs), tuple(plates), S235)


def _square_to(axis: Vec) -> Vec:
    """A level unit vector square to an axis."""
    length = (axis[0] ** 2 + axis[1] ** 2) ** 0.5
    return axis[1] / length, -axis[0] / length, 0.0


def weighing(built: TubeFrame, placed: Layout) -> Weighing:
    """Figures in the right order of size; they are not the point here."""

    def state(name: str, mass: float, front: float, tolerance: float, z: float, note: str = "") -> State:
        rear = mass - front
        cg = (Measured(2310 * rear / mass, 6.0), Measured(-4.0, 5.0), Measured(z, 25.0))
        inertia = (Measured(390.0, 60.0), Measured(1480.0, 120.0), Measured(1630.0, 130.0))
        corner = [Measured(load * share, tolerance / 2) for load in (front, rear) for share in (0.506, 0.494)]
        return State(name, Measured(mass, 1.4 * tolerance), cg, inertia,
                     (Measured(front, tolerance), Measured(rear, tolerance)),
                     (corner[0], corner[1], corner[2], corner[3]), note)  # fmt: skip

    states = (
        state("original kerb", 979.0, 514.0, 3.0, 560.0, "corners as weighed"),
        state("converted kerb", 1014.5, 497.3, 5.2, 531.0, "corners: side split of the original kept"),
        state("laden", 1349.5, 588.1, 7.7, 612.0),
    )
    change = Change(Measured(35.5, 4.1), (Measured(70.0, 5.0), Measured(-1.0, 2.0), Measured(-29.0, 9.0)),
                    (Measured(-16.7, 3.1), Measured(52.2, 3.3)),
                    (Measured(-8.0, 2.0), Measured(-8.7, 2.0), Measured(26.5, 2.0), Measured(25.7, 2.0)))  # fmt: skip
    mass = {name: part.mass_kg for name, part in parts().items()}
    ledger = (
        MassItem("engine", Measured(-148.0, 2.0), (Measured(60, 20), Measured(0), Measured(560, 20)), "removed",
                 None, "weighed on the crane"),
        MassItem("coolant", Measured(4.0, 0.5), exact_point((100.0, 0.0, 500.0)), "added"),
        *(MassItem(p.name, mass[p.part], exact_point(p.box.centre), "part", p.box.size, INVENTED)
          for p in placed.placements),
        *built.mass_items,
    )  # fmt: skip
    payload = (PayloadRow(1700.0, Measured(365.5, 9.0), "gross mass"),
               PayloadRow(2600.0, Measured(229.0, 7.0), "rear axle plate"))  # fmt: skip
    return Weighing(states, change, payload, ledger, _weighing_checks())


def _weighing_checks() -> tuple[Check, ...]:
    return (
        judge("axle.rear.max", "Rear axle, laden", Measured(761.4, 7.7), 760.0, "max", "kg", "maker's plate",
              note="carry 2 kg less behind the axle"),
        judge("axle.front.max", "Front axle, laden", Measured(588.1, 7.7), 640.0, "max", "kg", "maker's plate"),
        judge("mass.gross.max", "Gross mass, laden", Measured(1349.5, 11.0), 1355.0, "max", "kg", "maker's plate"),
        unknown("tyre.front", "Front tyres", "kg", "tyre wall", "the load one tyre may bear is not given"),
    )  # fmt: skip


def study() -> Study:
    """The whole of it."""
    made, built = layout(), frame()
    weighed = weighing(built, made)
    second = Layout(tuple(replace(p, zone=p.zone) for p in made.placements[:-1]), "lowest centre of gravity")
    scored = (Scored(made, {"front_axle_change_kg": -16.7, "cg_height_mm": 531.0}, 1.25),
              Scored(second, {"front_axle_change_kg": -20.1, "cg_height_mm": 525.0}, 1.61))  # fmt: skip
    count = judge("count.modules", "Battery modules placed", Measured(10.0), 10.0, "min", "", "brief")
    placed = Placed(
        scored, Count(10, 10, 12, True, "volume of the zones over that of a module"), (), (count,)
    )
    support = judge("frame.support", "Each module stands on a tube", Measured(10.0), 10.0, "min", "", "count")
    checks = sorted(
        (*weighed.checks, count, support),
        key=lambda c: ("fail", "unknown", "marginal", "pass").index(c.verdict),
    )
    return Study(
        case=case(), seed=1, placed=placed, layout=made, framed=Framed(case(), built, (support,)), weighing=weighed,
        checks=tuple(checks),
        not_done=("strength of the frame and of its welds", "pack voltage, protection and cables", "range"),
    )  # fmt: skip
