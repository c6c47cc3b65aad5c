"""A small invented case, built by hand, for tests that need one without reading files."""

from pathlib import Path
from typing import Any

from packlayout.model.brief import Brief, Case, FrameOrder, LoadState, ModuleOrder
from packlayout.model.catalogue import (
    BatteryModule,
    CodeLimit,
    Conventions,
    DesignCode,
    ModuleData,
    Motor,
    MotorData,
)
from packlayout.model.geometry import MassItem, exact_point
from packlayout.model.layout import Layout, Placement
from packlayout.model.vehicle import (
    BodyOutline,
    BoxShape,
    FuelTank,
    LoadFloor,
    Plated,
    Seat,
    Tyres,
    Vehicle,
    Zone,
)
from packlayout.model.weighed import AxleLoads, CgHeight, Corners, LedgerItem, Lift, Weighed
from packlayout.units import Measured

CONVENTIONS = Conventions(
    driver_kg=75,
    fuel_percent=90,
    fuel_kg_per_m3=745,
    inertia_slope=(0.497, 3.079, 3.176),
    inertia_offset_kg_m2=(-181.4, -1728.8, -1754.2),
    inertia_tolerance_percent=30,
    sources={"driver_kg": "EU 1230/2012 article 2"},
)

CODE = DesignCode(
    name="test-code",
    title="Test code",
    limits=(
        CodeLimit(
            quantity="kerb mass ratio",
            sense="max",
            value=120,
            unit="percent",
            source="common practice, no source",
        ),
        CodeLimit(
            quantity="side difference",
            sense="max",
            value=4,
            unit="percent",
            source="common practice, no source",
        ),
        CodeLimit(
            quantity="front axle share",
            sense="min",
            value=35,
            unit="percent",
            source="common practice, no source",
        ),
        CodeLimit(
            quantity="CG height", sense="max", value=795, unit="mm", source="common practice, no source"
        ),
        CodeLimit(
            quantity="CG height change", sense="max", value=20, unit="mm", source="common practice, no source"
        ),
    ),
)


def ledger_item(name: str, kg: str | float, at: tuple[Any, Any, Any], source: str = "test") -> LedgerItem:
    """A ledger line; mass and place as a user writes them."""
    return LedgerItem.model_validate({"name": name, "mass": kg, "at": at, "source": source})


def corners(a: str | float, b: str | float, c: str | float, d: str | float) -> Corners:
    """Front left, front right, rear left, rear right pad."""
    return Corners.model_validate({"front_left": a, "front_right": b, "rear_left": c, "rear_right": d})


def axles(front: str | float, rear: str | float) -> AxleLoads:
    """A weighbridge ticket."""
    return AxleLoads.model_validate({"front": front, "rear": rear})


def lift(raised: str, height: Any, level: Any, lifted: Any, radius: Any = 300, blocked: bool = True) -> Lift:
    """One lifted-axle reading."""
    return Lift.model_validate(
        {
            "raised": raised,
            "height": height,
            "level": level,
            "lifted": lifted,
            "wheel_radius": radius,
            "suspension_blocked": blocked,
        }
    )


def stated(height: str | float) -> CgHeight:
    """A stated height of the centre of gravity."""
    return CgHeight.model_validate({"stated": height})


def weighed(
    pads: Corners | None = None,
    ticket: AxleLoads | None = None,
    fuel: str | float = 36,
    aboard: tuple[LedgerItem, ...] = (),
) -> Weighed:
    """A weighing; 36 l is 90 % of the tank of `vehicle`."""
    return Weighed.model_validate({"corners": pads, "axles": ticket, "fuel": fuel, "aboard": aboard})


def vehicle(**changed: Any) -> Vehicle:
    """A 1000 kg estate car: wheelbase 2500 mm, 520 kg on the front axle, tank of 40 l over the rear axle."""
    fields: dict[str, Any] = {
        "name": "Plover",
        "maker": "Invented",
        "wheelbase_mm": Measured(2500.0, 4.0),
        "track_front_mm": Measured(1250.0, 4.0),
        "track_rear_mm": Measured(1250.0, 4.0),
        "plated": Plated(front_axle_kg=700, rear_axle_kg=850, gross_kg=1450),
        "tyres": Tyres(size="5.60-13", front_load_kg=400, rear_load_kg=450, radius_mm=290),
        "weighed": weighed(corners("262 +/- 2", "258 +/- 2", "241 +/- 2", "239 +/- 2")),
        "cg_height": stated("550 +/- 30"),
        "fuel_tank": FuelTank.model_validate({"capacity": 40, "at": [2700, 0, 400]}),
        "removed": (
            ledger_item("engine", "150 +/- 4", ("50 +/- 20", "0 +/- 10", "600 +/- 30")),
            ledger_item("gearbox", "32 +/- 2", ("650 +/- 20", 0, "450 +/- 20")),
            ledger_item("exhaust", "14 +/- 1", (1600, -300, 250)),
        ),
        "zones": (
            Zone(
                name="bay", use="engine bay", box=BoxShape(corner=(-400, -400, 200), opposite=(800, 400, 900))
            ),
        ),
        "load_floor": LoadFloor(begin_x_mm=1600, end_x_mm=2900, half_width_mm=500, height_mm=500),
        "seats": (Seat.model_validate({"name": "driver", "at": ["1300 +/- 30", 350, 600]}),),
        "outline": BodyOutline(side=((-600, 200), (3400, 200), (3400, 1600), (-600, 1600)), width_mm=1600),
    }
    return Vehicle(**{**fields, **changed})


MODULE = BatteryModule(
    name="Module",
    maker="Invented",
    kind="battery module",
    size=(400.0, 200.0, 250.0),
    mass_kg=Measured(24.0, 0.5),
    cg=(Measured(200.0, 5.0), Measured(100.0, 5.0), Measured(120.0, 10.0)),
    up=("+z", "+x"),
    source="invented",
    electrical=ModuleData(
        energy_kwh=3.0, capacity_ah=62, min_v=40, nominal_v=48, max_v=55, continuous_a=100, peak_a=200
    ),
)
MOTOR = Motor(
    name="Motor",
    maker="Invented",
    kind="motor",
    size=(420.0, 300.0, 300.0),
    mass_kg=Measured(55.0, 1.0),
    source="invented",
    electrical=MotorData(min_v=200, max_v=450, continuous_kw=30, peak_kw=60, peak_nm=160, max_rpm=9000),
)


def brief(**changed: Any) -> Brief:
    """Four modules in the bay."""
    fields: dict[str, Any] = {
        "name": "test",
        "design_code": "test-code",
        "modules": ModuleOrder(part="module", count=4, zones=("bay",)),
        "frame": FrameOrder(cradle_tube="30x2", leg_tube="40x3", material="S235"),
        "load_states": (
            LoadState(
                name="driver and passenger",
                aboard=(
                    ledger_item("driver", "75 +/- 5", ("1300 +/- 30", 350, 600)),
                    ledger_item("passenger", "75 +/- 5", ("1300 +/- 30", -350, 600)),
                ),
            ),
        ),
    }
    return Brief(**{**fields, **changed})


def case(**changed: Any) -> Case:
    """A case of the vehicle, brief and parts above; any of `Case`'s fields may be changed."""
    fields: dict[str, Any] = {
        "key": "plover-test",
        "root": Path(),
        "vehicle": vehicle(),
        "brief": brief(),
        "parts": {"module": MODULE, "motor": MOTOR},
        "bodies": {},
        "zones": {},
        "keep_outs": {},
        "sections": {},
        "materials": {},
        "threads": {},
        "design_code": CODE,
        "conventions": CONVENTIONS,
    }
    return Case(**{**fields, **changed})


def layout() -> Layout:
    """Four modules in two rows of two over the front axle, and a motor where the gearbox was."""
    size = MODULE.box_size
    spots = [(-200.0 + 410 * (k // 2), -205.0 + 210 * (k % 2), 450.0) for k in range(4)]
    modules = tuple(
        Placement(f"module {k + 1}", "module", "bay", at, "+z", 0, size, block=1)
        for k, at in enumerate(spots)
    )
    motor = Placement("motor", "motor", "bay", (650.0, -150.0, 300.0), "+z", 0, MOTOR.box_size)
    return Layout((*modules, motor))


def frame_items() -> tuple[MassItem, ...]:
    """Two lengths of one stock and a plate."""
    rail, long, stock = Measured(3.0, 0.18), (800.0, 30.0, 30.0), "30x2 S235"
    foot, flat, plate = Measured(1.0, 0.05), (100.0, 100.0, 8.0), "8 mm plate S235"
    return (
        MassItem("rail left", rail, exact_point((200, -220, 440)), "frame", long, stock),
        MassItem("rail right", rail, exact_point((200, 220, 440)), "frame", long, stock),
        MassItem("foot", foot, exact_point((0, 0, 400)), "frame", flat, plate),
    )
