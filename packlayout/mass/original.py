"""The original vehicle in kerb state, as mass items, from what a shop can measure."""

from math import hypot

import numpy as np

from packlayout.mass.plausible import refuse_readings
from packlayout.mass.propagate import Register, propagate
from packlayout.mass.readings import CORNERS, LITRES_IN_M3, SIDE_SHARE, mass_item, read
from packlayout.model.brief import Case
from packlayout.model.geometry import Floats, MassItem, MeasuredPoint
from packlayout.units import Measured


def original_kerb(case: Case) -> tuple[MassItem, ...]:
    """The original vehicle in kerb state: what was weighed, less what was aboard, fuel at the kerb level.

    The vehicle itself is four points under its wheels, at the height of its centre of gravity: that
    gives the mass and the centre exactly, but not the inertia, which `original_inertia` estimates.
    Readings of two axles are split into halves, with a tolerance for the side that was not measured.

    Args:
        case: Supplies the vehicle and the fuel convention.

    Returns:
        Four corners, the things taken off (negative), and the fuel added or taken out.

    Raises:
        GeometryError: for readings that cannot be: which one, what it implies, and the likely slip.

    Source: mass in running order with the tank at 90 %: EU 1230/2012 article 2; terms after ISO 1176.
    """
    refuse_readings(case)
    vehicle = case.vehicle
    height = cg_height(case)
    items = [
        MassItem(f"original, {name} corner", mass, at, "original", None, vehicle.weighed.source)
        for name, mass, at in zip(CORNERS, _corner_masses(case), _corner_places(case, height), strict=True)
    ]
    items += [mass_item(item, "original", -1.0) for item in vehicle.weighed.aboard]
    tank, found = vehicle.fuel_tank, vehicle.weighed.fuel_l
    kg_per_l = case.conventions.fuel_kg_per_m3 / LITRES_IN_M3
    wanted_l = tank.capacity_l * case.conventions.fuel_percent / 100
    fuel = Measured((wanted_l - found.value) * kg_per_l, found.tolerance * kg_per_l)
    if fuel.value or fuel.tolerance:
        name = f"fuel from {found.value:g} l to {case.conventions.fuel_percent:g} % of the tank"
        source = case.conventions.sources.get("fuel_percent", "")
        items.append(MassItem(name, fuel, tank.at, "fluid", None, source))
    return tuple(items)


def fuel_out(case: Case) -> MassItem:
    """The fuel of kerb state, gone with the tank."""
    tank = case.vehicle.fuel_tank
    litres = tank.capacity_l * case.conventions.fuel_percent / 100
    kg = litres * case.conventions.fuel_kg_per_m3 / LITRES_IN_M3
    source = case.conventions.sources.get("fuel_kg_per_m3", "")
    return MassItem("fuel", Measured(-kg), tank.at, "fluid", None, source)


def cg_height(case: Case) -> Measured:
    """Height of the centre of gravity as weighed, mm: as stated, or from the lifts."""
    register = Register()
    readings = read(register, case)
    figures = propagate(lambda inputs: {"height": readings.cg_height(inputs)}, register.inputs())
    return figures.measured("height")


def original_inertia(case: Case, mass_kg: Floats, factors: Floats) -> Floats:
    """Inertia of the original vehicle about its own centre of gravity, kg m2: an estimate.

    Args:
        case: Supplies the regressions, and the outline of the body.
        mass_kg: (B,) kerb mass.
        factors: (3, B) true value over estimate; one each at the nominal.

    Returns:
        (3, B) Ixx, Iyy, Izz. Where the regression gives less than half the inertia of an evenly filled
        box of the body's size, as below some 650 kg, half of that box's stands in its place (common
        practice, no source).

    Valid for: cars and vans of about 800 to 2700 kg, the range that was measured.

    Source: regressions over vehicles measured by NHTSA (SAE 1999-01-1336), in the conventions file.
    """
    line = [
        np.maximum(slope * mass_kg + offset, floor * mass_kg)
        for slope, offset, floor in zip(
            case.conventions.inertia_slope,
            case.conventions.inertia_offset_kg_m2,
            _half_box_per_kg(case),
            strict=True,
        )
    ]
    return np.stack(line) * factors


def _half_box_per_kg(case: Case) -> tuple[float, float, float]:
    side = case.vehicle.outline.side
    length, height = (max(p[k] for p in side) - min(p[k] for p in side) for k in (0, 1))
    a, b, c = (s * s / 24e6 for s in (length, case.vehicle.outline.width_mm, height))
    return b + c, a + c, a + b


def _corner_masses(case: Case) -> tuple[Measured, ...]:
    corners, axles = case.vehicle.weighed.corners, case.vehicle.weighed.axles
    if corners is not None:
        return (corners.front_left_kg, corners.front_right_kg, corners.rear_left_kg, corners.rear_right_kg)
    assert axles is not None
    halves = [
        Measured(kg.value / 2, hypot(kg.tolerance / 2, kg.value * SIDE_SHARE.tolerance))
        for kg in (axles.front_kg, axles.rear_kg)
    ]
    return halves[0], halves[0], halves[1], halves[1]


def _corner_places(case: Case, height: Measured) -> tuple[MeasuredPoint, ...]:
    vehicle = case.vehicle
    made: list[MeasuredPoint] = []
    for x, track in ((Measured(0.0), vehicle.track_front_mm), (vehicle.wheelbase_mm, vehicle.track_rear_mm)):
        for sign in (-0.5, 0.5):
            made.append((x, Measured(sign * track.value, track.tolerance / 2), height))
    return tuple(made)
