"""A small invented workshop job for the tests of placement and frame: a box-shaped bay and a few parts."""

from typing import Any

from packlayout.model.brief import Case, FrameOrder, ModuleOrder, PartOrder
from packlayout.model.catalogue import PART, Material, Part, Thread, TubeSection
from packlayout.model.geometry import Box
from packlayout.model.vehicle import BoxShape, KeepOut, MountPoint, Zone
from packlayout.space.envelope import box_mesh
from tests.cases import brief, case, vehicle

SHS30 = TubeSection(
    name="SHS 30x2",
    side_mm=30,
    wall_mm=2,
    outer_radius_mm=4,
    area_mm2=213.7,
    inertia_mm4=27220,
    modulus_mm3=1815,
)
S235 = Material(
    name="S235",
    density_kg_per_m3=7850,
    yield_mpa=235,
    ultimate_mpa=360,
    modulus_mpa=210_000,
    source="EN 10025-2, value from memory",
)
M10 = Thread(thread="M10", clearance_hole_mm=11, washer_diameter_mm=20)


def part(kind: str, size: tuple[float, float, float], kg: float, **more: Any) -> Part:
    """A part with the data its kind asks for."""
    window = {"min_v": 100, "max_v": 450}
    data: dict[str, dict[str, Any]] = {
        "battery module": {
            "energy_kwh": 2.4, "capacity_ah": 54, "min_v": 33, "nominal_v": 44, "max_v": 50, "continuous_a": 100,
            "peak_a": 200,
        },
        "motor": {**window, "continuous_kw": 25, "peak_kw": 50, "peak_nm": 120, "max_rpm": 9000},
        "charger": {**window, "power_kw": 3.3},
        "heater": {**window, "power_kw": 4},
    }  # fmt: skip
    fields: dict[str, Any] = {
        "name": kind, "maker": "Invented", "kind": kind, "size": list(size), "mass": kg, "source": "invented",
        "electrical": data.get(kind, window), **more,
    }  # fmt: skip
    if kind in ("pump", "other", "bracket", "12 V battery"):
        fields.pop("electrical")
    return PART.validate_python(fields)


MODULE = part(
    "battery module", (340, 175, 118), 14, access=[{"face": "+x", "depth": 70}], up=["+z", "+y", "-y"]
)
PARTS: dict[str, Part] = {
    "module": MODULE,
    "box": part("junction box", (300, 200, 120), 6, access=[{"face": "+z", "depth": 20}]),
    "controller": part("controller", (360, 240, 120), 11),
    "charger": part("charger", (330, 230, 95), 7.5, up=["+z", "+y"]),
}
MOUNTS = tuple(
    MountPoint.model_validate(
        {
            "name": name,
            "face": "+z",
            "holes": [[x - 30, y, 330], [x + 30, y, 330]],
            "thread": "M10",
        }
    )
    for name, x, y in (
        ("engine left", 0, -300),
        ("engine right", 0, 300),
        ("scuttle left", 480, -300),
        ("scuttle right", 480, 300),
    )
)
BAY = Box((-350.0, -380.0, 280.0), (600.0, 380.0, 900.0))


def job(
    *,
    bay: Box = BAY,
    count: int = 8,
    parts: tuple[PartOrder, ...] | None = None,
    keep_outs: tuple[tuple[str, str, Box], ...] = (),
    mounts: tuple[MountPoint, ...] = MOUNTS,
    blocks_at_most: int = 2,
    known: dict[str, Part] | None = None,
    **changed: Any,
) -> Case:
    """A job in one box-shaped engine bay that opens upward."""
    orders = parts
    if orders is None:
        orders = (
            PartOrder(part="box", zones=("bay",), on_pack=True),
            PartOrder(part="controller", zones=("bay",)),
        )
    zone = Zone(name="bay", use="engine bay", box=BoxShape(corner=bay.lo, opposite=bay.hi))
    keep = tuple(
        KeepOut.model_validate({"name": n, "kind": k, "box": {"corner": b.lo, "opposite": b.hi}})
        for n, k, b in keep_outs
    )
    return case(
        vehicle=vehicle(zones=(zone,), keep_outs=keep, mounts=mounts),
        brief=brief(
            modules=ModuleOrder(part="module", count=count, zones=("bay",), blocks_at_most=blocks_at_most),
            parts=orders,
            frame=FrameOrder(cradle_tube="SHS 30x2", leg_tube="SHS 30x2", material="S235"),
            **changed,
        ),
        parts=known or PARTS,
        zones={"bay": box_mesh(bay)},
        keep_outs={n: box_mesh(b) for n, _, b in keep_outs},
        sections={"SHS 30x2": SHS30},
        materials={"S235": S235},
        threads={"M10": M10},
    )
