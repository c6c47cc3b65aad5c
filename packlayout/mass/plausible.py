"""Readings that cannot be: which one, what it would imply, and the slip that most likely made it."""

from dataclasses import replace
from typing import NoReturn

import numpy as np

from packlayout.errors import ReadingError
from packlayout.mass.combine import centre
from packlayout.mass.propagate import Register
from packlayout.mass.readings import Readings, read
from packlayout.model.brief import Case
from packlayout.model.geometry import Floats

LB_IN_KG = 2.20462262
# Beyond these a reading is a slip, not a car (common practice, no source).
LEAN_ALLOWED = 0.25  # (right - left) / total
TWIST_ALLOWED = 0.30  # difference of that share between the axles
LEVEL_ALLOWED = 0.10  # level load of a lift against the axle as weighed
LIGHTEST = 0.30  # kerb mass over plated gross
HEIGHT_ALLOWED_MM = (200.0, 1500.0)


def refuse_readings(case: Case) -> None:
    """Refuse scale readings and lifts that no vehicle can give.

    Args:
        case: Supplies the vehicle.

    Raises:
        GeometryError: with the reading, what it would imply, what is allowed and the likely slip.
    """
    register = Register()
    readings = read(register, case)
    nominal = register.inputs().nominal[:, None]
    _fuel(case)
    _total(case, readings, nominal)
    _balance(case, readings, nominal)
    _sides(case, readings, nominal)
    for number in range(len(readings.lifts)):
        _lift(case, readings, nominal, number)


def _refuse(where: str, found: str, implies: str, allowed: str, slip: str) -> NoReturn:
    raise ReadingError(where, f"{found}: {implies}", allowed, f"likely slip: {slip}")


def _fuel(case: Case) -> None:
    found, capacity = case.vehicle.weighed.fuel_l, case.vehicle.fuel_tank.capacity_l
    if found.value - found.tolerance > capacity:
        _refuse(
            "weighed.fuel",
            f"{found.value:g} l",
            f"more than the tank of {capacity:g} l holds",
            f"0 to {capacity:g} l",
            "gallons or per cent written as litres",
        )


def _total(case: Case, readings: Readings, nominal: Floats) -> None:
    kerb, gross = float(readings.kerb_sums(nominal)[0, 0]), case.vehicle.plated.gross_kg
    where = "weighed.corners" if case.vehicle.weighed.corners else "weighed.axles"
    if kerb <= 0:
        _refuse(
            where,
            f"a kerb mass of {kerb:.0f} kg",
            "what is taken off weighs more than the vehicle",
            "more than 0 kg",
            "lb for kg in weighed.aboard",
        )
    if kerb >= gross:
        pounds = kerb / LB_IN_KG >= LIGHTEST * gross and kerb > 1.5 * gross
        _refuse(
            where,
            f"a kerb mass of {kerb:.0f} kg",
            f"no payload at all on a plated gross mass of {gross:.0f} kg",
            f"less than {gross:.0f} kg",
            f"lb for kg ({kerb:.0f} lb is {kerb / LB_IN_KG:.0f} kg)"
            if pounds
            else "laden for kerb: name what was aboard in weighed.aboard",
        )
    if kerb < LIGHTEST * gross:
        _refuse(
            where,
            f"a kerb mass of {kerb:.0f} kg",
            f"a payload of {gross - kerb:.0f} kg on a plated gross mass of {gross:.0f} kg",
            f"more than {LIGHTEST * gross:.0f} kg",
            "kg written as lb, one axle read for both, or a plated mass in lb",
        )


def _balance(case: Case, readings: Readings, nominal: Floats) -> None:
    sums = readings.kerb_sums(nominal)
    x, wheelbase = float(centre(sums)[0, 0]), case.vehicle.wheelbase_mm.value
    rear = float(sums[1, 0]) / wheelbase
    front = float(sums[0, 0]) - rear
    if not 0 < x < wheelbase:
        _refuse(
            "weighed",
            f"axle loads of {front:.0f} and {rear:.0f} kg in kerb state",
            f"the centre of gravity would lie {x:.0f} mm behind the front axle, outside the wheelbase",
            f"0 to {wheelbase:.0f} mm",
            "a thing in weighed.aboard in lb for kg, or at a wrong x",
        )
    plate = case.vehicle.plated
    fits_swapped = front <= plate.rear_axle_kg and rear <= plate.front_axle_kg
    if (front > plate.front_axle_kg or rear > plate.rear_axle_kg) and fits_swapped:
        _refuse(
            "weighed",
            f"axle loads of {front:.0f} and {rear:.0f} kg in kerb state",
            f"over the plate of {plate.front_axle_kg:.0f} and {plate.rear_axle_kg:.0f} kg while empty",
            "each axle within its plate",
            "front and rear swapped, in weighed or in plated",
        )


def _sides(case: Case, readings: Readings, nominal: Floats) -> None:
    if case.vehicle.weighed.corners is None:
        return
    front_left, front_right, rear_left, rear_right = (float(c[0]) for c in readings.corners(nominal))
    front, rear = front_left + front_right, rear_left + rear_right
    front_lean, rear_lean = (front_right - front_left) / front, (rear_right - rear_left) / rear
    lean = (front_right + rear_right - front_left - rear_left) / (front + rear)
    seen = f"{front_left:.0f}, {front_right:.0f}, {rear_left:.0f}, {rear_right:.0f} kg"
    if abs(front_lean - rear_lean) > TWIST_ALLOWED:
        _refuse(
            "weighed.corners",
            seen,
            f"the front axle leans {100 * front_lean:+.0f} % to the right and the rear axle "
            f"{100 * rear_lean:+.0f} %, a body twisted on its springs",
            f"a difference of {100 * TWIST_ALLOWED:.0f} % at most",
            "left and right swapped on one axle, or a wheel not on its pad",
        )
    if abs(lean) > LEAN_ALLOWED:
        side = "right" if lean > 0 else "left"
        _refuse(
            "weighed.corners",
            seen,
            f"the {side} wheels would carry {100 * abs(lean):.0f} % of the mass more than the others",
            f"{100 * LEAN_ALLOWED:.0f} % at most",
            "one pad in lb, or the vehicle weighed on a slope",
        )


def _lift(case: Case, readings: Readings, nominal: Floats, number: int) -> None:
    lifts = case.vehicle.cg_height.lifts
    assert lifts is not None
    lift = lifts[number]
    where = f"cg_height.lifts.{number}"
    wheelbase = case.vehicle.wheelbase_mm.value
    if lift.height_mm.value >= wheelbase / 2:
        _refuse(
            f"{where}.height",
            f"{lift.height_mm.value:.0f} mm",
            f"more than half the wheelbase of {wheelbase:.0f} mm",
            f"100 to {wheelbase / 2:.0f} mm",
            "cm or in for mm",
        )
    corners = [float(c[0]) for c in readings.corners(nominal)]
    front, rear = corners[0] + corners[1], corners[2] + corners[3]
    down, up = (front, rear) if lift.raised == "rear" else (rear, front)
    standing = "front" if lift.raised == "rear" else "rear"
    level, lifted = lift.level_kg.value, lift.lifted_kg.value
    if abs(level - down) > LEVEL_ALLOWED * down + lift.level_kg.tolerance:
        if abs(level - up) <= LEVEL_ALLOWED * up:
            slip = f"the wrong axle named: the {standing} one was raised"
        elif abs(level / LB_IN_KG - down) <= LEVEL_ALLOWED * down:
            slip = "lb for kg"
        else:
            slip = "the lift was done in another state than the weighing, or one pad was read for two"
        _refuse(
            f"{where}.level",
            f"{level:.0f} kg under the {standing} axle",
            f"the weighing put {down:.0f} kg there",
            f"within {100 * LEVEL_ALLOWED:.0f} %",
            slip,
        )
    one = _only(readings, number)
    height = float(one.cg_height(nominal)[0])
    low, high = HEIGHT_ALLOWED_MM
    if not (np.isfinite(height) and low <= height <= high):
        _refuse(
            f"{where}.lifted",
            f"{lifted:.0f} kg after {level:.0f} kg level",
            f"a centre of gravity {height:.0f} mm above the ground",
            f"{low:.0f} to {high:.0f} mm",
            "level and lifted swapped"
            if lifted < level
            else "cm for mm in the lift, lb for kg in one reading",
        )


def _only(readings: Readings, number: int) -> Readings:
    """The same readings with one lift alone."""
    return replace(readings, lifts=(readings.lifts[number],))
