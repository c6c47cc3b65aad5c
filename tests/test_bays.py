"""The demo vehicles and briefs hold together: geometry, masses, readings and the scan."""

from itertools import combinations, pairwise
from math import asin, dist, pi, tan
from pathlib import Path

import numpy as np
import pytest
import trimesh
from pydantic import ValidationError

from packlayout.model.layout import turned_size
from packlayout.model.vehicle import LedgerItem, Vehicle
from tests.demo import (
    BRIEFS,
    ROOT,
    SCAN_SCRIPT,
    brief,
    each_brief,
    each_vehicle,
    part,
    plain,
    run,
    scan_script,
    surface,
    vehicle,
)  # fmt: skip

# ---------------------------------------------------------------- by hand


@pytest.mark.parametrize(
    ("name", "modules", "energy_kwh", "nominal_v"),
    [("piano-tuner", 8, 19.2, 355.2), ("boatyard", 6, 14.4, 266.4), ("travelling-library", 12, 19.2, 355.2)],
)
def test_packs(name: str, modules: int, energy_kwh: float, nominal_v: float) -> None:
    order = next(brief(path) for path in BRIEFS if path.stem == name).modules
    data = part(order.part).electrical
    count = order.count or -int(-order.energy_kwh // data.energy_kwh)
    assert count == modules
    assert count * data.energy_kwh == pytest.approx(energy_kwh)
    assert count * data.nominal_v == pytest.approx(nominal_v)


# The readings were made for these heights and rounded to the scale's 0.1 kg, with some scatter.
@pytest.mark.parametrize(("bay", "height_mm"), [("quillon-estate", 560), ("brindlow-van", 640)])
def test_lifted_axle_readings_agree(bay: str, height_mm: float) -> None:
    found = vehicle(ROOT / "bays" / bay / "vehicle.yaml")
    corners, lifts = found.weighed.corners, found.cg_height.lifts
    assert corners is not None
    assert lifts is not None
    axle = {
        "rear": corners.front_left_kg.value + corners.front_right_kg.value,
        "front": corners.rear_left_kg.value + corners.rear_right_kg.value,
    }
    total = sum(axle.values())
    assert len(lifts) >= 3
    for lift in lifts:
        assert lift.level_kg.value == axle[lift.raised]
        slope = tan(asin(lift.height_mm.value / found.wheelbase_mm.value))
        moved = found.wheelbase_mm.value * (lift.lifted_kg.value - lift.level_kg.value)
        # moments about the raised axle: what moves over is W (h - r) tan(theta) / L
        assert lift.wheel_radius_mm.value + moved / (total * slope) == pytest.approx(height_mm, abs=6)


# ---------------------------------------------------------------- invariant


def ledger(path: Path) -> list[LedgerItem]:
    found = vehicle(path)
    return [*found.removed, *found.added, *found.weighed.aboard]


@each_vehicle
def test_vehicle_figures_have_sources_and_tolerances(path: Path) -> None:
    found = vehicle(path)
    assert all(
        row.source for row in [found.plated, found.tyres, found.weighed, found.cg_height, *ledger(path)]
    )
    assert all(item.mass_kg.tolerance > 0 for item in ledger(path))
    assert found.plated.front_axle_kg + found.plated.rear_axle_kg > found.plated.gross_kg
    # a tyre bears half of what its axle is plated for
    assert 2 * found.tyres.front_load_kg >= found.plated.front_axle_kg
    assert 2 * found.tyres.rear_load_kg >= found.plated.rear_axle_kg


@each_vehicle
def test_zones_are_closed_and_apart(path: Path) -> None:
    zones = [surface(zone) for zone in vehicle(path).zones]
    for zone in zones:
        assert zone.is_watertight
        assert zone.volume > 20e6  # 20 litres
    for one, other in combinations(zones, 2):
        gaps = np.maximum(one.bounds[0] - other.bounds[1], other.bounds[0] - one.bounds[1])
        assert gaps.max() > 0


@each_vehicle
def test_foot_plates_lie_inside_the_bay(path: Path) -> None:
    found = vehicle(path)
    bay = surface(next(zone for zone in found.zones if zone.use == "engine bay"))
    assert len(found.mounts) == 4
    for mount in found.mounts:
        normal, holes = np.array(mount.face), np.array(mount.holes)
        along = (holes[-1] - holes[0]) / np.linalg.norm(holes[-1] - holes[0])
        across = np.cross(normal, along)
        # an 8 mm plate that reaches 25 mm beyond the hole centres
        corners = [
            hole + 25 * (i * along + j * across) + above * normal
            for hole in holes for i in (-1, 1) for j in (-1, 1) for above in (0, 8)
        ]  # fmt: skip
        assert trimesh.proximity.signed_distance(bay, corners).min() > 10
        # room for a spanner round each hole, and the floor well below it
        turns = np.linspace(0, 2 * pi, 24, endpoint=False)
        ring = [hole + 45 * (np.cos(t) * along + np.sin(t) * across) for hole in holes for t in turns]
        assert bay.contains([*ring, *(holes - 15 * normal)]).all()


@each_brief
def test_fixed_parts_lie_inside_their_zone(path: Path) -> None:
    found, zones = brief(path), {zone.name: zone for zone in vehicle(path.with_name("vehicle.yaml")).zones}
    assert set(found.modules.zones) <= set(zones)
    boxes = []
    for order in found.parts:
        assert set(order.zones) <= set(zones)
        if order.fixed is None:
            continue
        lo = np.array(order.fixed.at)
        hi = lo + turned_size(part(order.part).box_size, order.fixed.up, order.fixed.turn_deg)
        zone = surface(zones[order.zones[0]]).bounds
        assert (lo - zone[0]).min() >= found.clearances.body_mm
        assert (zone[1] - hi).min() >= found.clearances.body_mm
        boxes.append((lo, hi))
    assert len(boxes) == 2  # motor and reduction gear
    for (_, ahead), (behind, _) in pairwise(boxes):
        assert behind[0] - ahead[0] >= found.clearances.parts_mm


@each_brief
def test_motor_gear_and_old_gearbox_are_in_line(path: Path) -> None:
    driveline = vehicle(path.with_name("vehicle.yaml")).driveline
    assert driveline is not None
    for order in brief(path).parts:
        if order.fixed is not None:
            shafts = [port for port in part(order.part).ports if port.kind == "shaft"]
            assert shafts
            for shaft in shafts:
                line = np.array(order.fixed.at) + shaft.at
                np.testing.assert_allclose(line[1:], driveline.gearbox_output[1:], atol=1)


@each_brief
def test_pack_suits_every_device(path: Path) -> None:
    found = brief(path)
    module = part(found.modules.part).electrical
    count = found.modules.count or -int(-found.modules.energy_kwh // module.energy_kwh)
    for order in found.parts:
        window = getattr(part(order.part), "electrical", None)
        if window is not None:
            assert window.min_v <= count * module.min_v
            assert count * module.max_v <= window.max_v


# ---------------------------------------------------------------- the scan


def test_scan_is_the_same_each_time(tmp_path: Path) -> None:
    first = run(SCAN_SCRIPT, tmp_path / "first.ply")
    assert first == run(SCAN_SCRIPT, tmp_path / "second.ply")
    mesh = trimesh.load_mesh(tmp_path / "first.ply", process=False)
    assert 295_000 <= len(mesh.faces) <= 305_000
    assert not mesh.is_watertight  # gaps
    assert mesh.body_count == 1 + len(scan_script()["STRAYS"])


def test_scan_noise_is_as_stated(tmp_path: Path) -> None:
    script = scan_script()
    clean, faces = script["clean_surface"]()
    noisy = script["with_noise"](clean, faces, np.random.default_rng(7))
    moved = np.linalg.norm(noisy - clean, axis=1)
    assert np.sqrt((moved**2).mean()) == pytest.approx(script["NOISE_MM"], rel=0.02)


def test_scan_reference_points_agree() -> None:
    mesh = next(zone.mesh for zone in vehicle(SCAN_SCRIPT.with_name("vehicle.yaml")).zones if zone.mesh)
    assert len(mesh.reference) >= 3
    for one, other in combinations(mesh.reference, 2):
        assert 1000 * dist(one.scan, other.scan) == pytest.approx(dist(one.vehicle, other.vehicle), abs=0.3)
    for point in mesh.reference:
        np.testing.assert_allclose(
            scan_script()["as_scanned"](np.array(point.vehicle)), point.scan, atol=1e-4
        )


# ---------------------------------------------------------------- refusal


@each_vehicle
def test_a_wheelbase_in_metres_is_refused(path: Path) -> None:
    data = {**plain(path), "wheelbase": 2.44}
    with pytest.raises(ValidationError, match=r"2\.44 is out of range; allowed: 1200 to 5000 mm.*'2\.44 m'"):
        Vehicle.model_validate(data)
