"""The propeller shaft: from the reduction gear to the untouched rear axle, at static, laden and full-bump height."""

from dataclasses import dataclass
from math import atan2, cos, degrees, pi, radians, sin, sqrt, tan

from packlayout.model.brief import Case
from packlayout.model.check import Check, judge, unknown
from packlayout.model.driving import ShaftRules, ShaftTube
from packlayout.model.geometry import MassItem, Vec, exact_point
from packlayout.model.layout import Layout
from packlayout.units import MM_PER_M, Measured

HEIGHTS = ("static", "laden", "full bump")


@dataclass(frozen=True, slots=True)
class ShaftState:
    """The shaft at one height of the axle.

    Attributes:
        height: static, laden, full bump.
        length_mm: Between the middles of the joints.
        gear_deg: Working angle of the joint at the gear.
        axle_deg: Of the joint at the axle.
        equivalent_deg: What of the two is not made up: sqrt of the difference of their squares.
        variation_percent: Speed variation that one joint at that angle would give.
    """

    height: str
    length_mm: float
    gear_deg: float
    axle_deg: float
    equivalent_deg: float
    variation_percent: float


@dataclass(frozen=True, slots=True)
class Shaft:
    """The answer of `shaft`.

    Attributes:
        start: Flange of the gear, mm.
        end: Flange of the axle at kerb height, mm.
        states: At each height.
        plunge_mm: Longest less shortest.
        torque_nm: Highest, in the shaft.
        speed_rpm: At the motor's highest speed.
        tube: Chosen; None when none of the stock will do.
        shear_mpa: In it.
        critical_rpm: Of it, at its longest.
        mass: Tube and joints.
        items: For the weighing.
        checks: Angles, plunge, critical speed, torque, the old differential.
    """

    start: Vec
    end: Vec
    states: tuple[ShaftState, ...]
    plunge_mm: float
    torque_nm: float
    speed_rpm: float
    tube: ShaftTube | None
    shear_mpa: float
    critical_rpm: float
    mass: Measured
    items: tuple[MassItem, ...]
    checks: tuple[Check, ...]


def critical_rpm(
    modulus_mpa: float, inertia_mm4: float, area_mm2: float, kg_per_m3: float, length_mm: float
) -> float:
    """First critical speed of a uniform shaft on pinned ends, rpm.

    Args:
        modulus_mpa: Young's modulus.
        inertia_mm4: Second moment of area.
        area_mm2: Section.
        kg_per_m3: Density.
        length_mm: Between the joints.

    Valid for: uniform tubes; heavy ends lower it.
    Source: beam formula w = (pi / L)2 sqrt(E I / (rho A)).
    """
    # N/mm2 mm4 / (kg/m3 mm2) in metres: MPa -> Pa 1e6, mm4 -> m4 1e-12, mm2 -> m2 1e-6
    stiffness = modulus_mpa * 1e6 * inertia_mm4 * 1e-12 / (kg_per_m3 * area_mm2 * 1e-6)
    return (pi / (length_mm / MM_PER_M)) ** 2 * sqrt(stiffness) * 30 / pi


def tube_area(diameter_mm: float, wall_mm: float) -> float:
    """Section of a round tube, mm2."""
    return pi / 4 * (diameter_mm**2 - (diameter_mm - 2 * wall_mm) ** 2)


def tube_inertia(diameter_mm: float, wall_mm: float) -> float:
    """Second moment of area of a round tube about a diameter, mm4."""
    return pi / 64 * (diameter_mm**4 - (diameter_mm - 2 * wall_mm) ** 4)


def speed_ratio(angle_rad: float, turn_rad: float) -> float:
    """Output over input speed of a Hooke's joint: cos b / (1 - sin2 b cos2 a).

    Args:
        angle_rad: Working angle b.
        turn_rad: Turn a of the input yoke, from the plane of the two shafts.
    """
    return cos(angle_rad) / (1 - sin(angle_rad) ** 2 * cos(turn_rad) ** 2)


def variation(angle_rad: float) -> float:
    """Greatest less smallest output speed of one Hooke's joint, over input speed: sin b tan b."""
    return sin(angle_rad) * tan(angle_rad)


def shaft(case: Case, layout: Layout) -> Shaft | None:
    """The propeller shaft of one layout.

    Args:
        case: Supplies axle, motor, gear, shaft stock.
        layout: Where the reduction gear stands.

    Returns:
        The shaft; None when there is nothing to reckon it from, which `check_shaft_missing` tells.
    """
    line, rules = case.vehicle.driveline, case.tables.shafts
    start = gear_flange(case, layout)
    if line is None or line.travel is None or rules is None or start is None:
        return None
    travel = line.travel
    at, way = start
    heights = (0.0, travel.laden_up_mm, travel.bump_up_mm)
    states: list[ShaftState] = []
    for name, up in zip(HEIGHTS, heights, strict=True):
        turn = travel.turn_deg * (up / travel.bump_up_mm if travel.bump_up_mm else 0.0)
        states.append(_state(name, at, way, _up(line.axle_input, up), travel.pinion_up_deg.value + turn))
    motor, gear = _torque(case, layout)
    torque, speed = motor[0] * gear, motor[1] / gear
    longest = max(s.length_mm for s in states)
    tube, shear, critical = _choose(rules, torque, speed, longest)
    items, mass = _items(rules, tube, at, line.axle_input, states[0].length_mm)
    made = Shaft(at, line.axle_input, tuple(states), longest - min(s.length_mm for s in states), torque, speed, tube,
                 shear, critical, mass, items, ())  # fmt: skip
    checks = _checks(case, rules, made)
    return Shaft(made.start, made.end, made.states, made.plunge_mm, made.torque_nm, made.speed_rpm, made.tube,
                 made.shear_mpa, made.critical_rpm, made.mass, made.items, checks)  # fmt: skip


def static_angle_deg(case: Case, layout: Layout) -> float | None:
    """The greater working angle of the two joints at kerb height: cheap, for layouts laid side by side.

    None where the driveline is not measured or nothing with a shaft is placed.
    """
    line, start = case.vehicle.driveline, gear_flange(case, layout)
    if line is None or line.travel is None or start is None:
        return None
    state = _state(HEIGHTS[0], *start, line.axle_input, line.travel.pinion_up_deg.value)
    return max(state.gear_deg, state.axle_deg)


def check_shaft_missing(case: Case, layout: Layout) -> Check:
    """What keeps the shaft from being reckoned."""
    line = case.vehicle.driveline
    missing = (
        "driveline is not given in vehicle.yaml" if line is None
        else "driveline: travel is not given in vehicle.yaml" if line.travel is None
        else "shared/shafts.yaml is not there" if case.tables.shafts is None
        else "no motor or reduction gear with a shaft port is placed"
    )  # fmt: skip
    return unknown("drive.shaft", "Propeller shaft", "", "measured driveline", missing)


def gear_flange(case: Case, layout: Layout) -> tuple[Vec, Vec] | None:
    """Output flange of the reduction gear, failing that of the motor: place and direction."""
    for kind in ("reduction gear", "motor"):
        for placed in layout.placements:
            part = case.parts[placed.part]
            ports = [p for p in part.ports if p.kind == "shaft"]
            if part.kind == kind and ports:
                ends = [(placed.pose.point(p.at), placed.pose.direction(p.direction)) for p in ports]
                return max(ends, key=lambda end: end[0][0])
    return None


def _torque(case: Case, layout: Layout) -> tuple[tuple[float, float], float]:
    """Peak torque and top speed of the motor, and the gear's ratio."""
    torque, speed, ratio = 0.0, 0.0, 1.0
    for placed in layout.placements:
        part = case.parts[placed.part]
        if part.kind == "motor":
            torque, speed = torque + part.electrical.peak_nm, part.electrical.max_rpm
        elif part.kind == "reduction gear":
            ratio *= part.gear.ratio
    return (torque, speed), ratio


def _up(at: Vec, by: float) -> Vec:
    return at[0], at[1], at[2] + by


def _state(name: str, start: Vec, way: Vec, end: Vec, pinion_up_deg: float) -> ShaftState:
    span = (end[0] - start[0], end[1] - start[1], end[2] - start[2])
    length = sqrt(sum(v * v for v in span))
    # the pinion looks forward and, nose up, upward: the shaft meets it against that direction
    p = radians(pinion_up_deg)
    gear, axle = _between(way, span), _between((cos(p), 0.0, -sin(p)), span)
    equivalent = sqrt(abs(gear**2 - axle**2))
    return ShaftState(name, length, degrees(gear), degrees(axle), degrees(equivalent),
                      100 * variation(max(gear, axle)))  # fmt: skip


def _between(a: Vec, b: Vec) -> float:
    cross = (a[1] * b[2] - a[2] * b[1], a[2] * b[0] - a[0] * b[2], a[0] * b[1] - a[1] * b[0])
    return atan2(sqrt(sum(v * v for v in cross)), sum(x * y for x, y in zip(a, b, strict=True)))


def shear_mpa(torque_nm: float, diameter_mm: float, wall_mm: float) -> float:
    """Shear stress at the outside of a round tube, N/mm2: T r / (2 I)."""
    return torque_nm * MM_PER_M * diameter_mm / 2 / (2 * tube_inertia(diameter_mm, wall_mm))


def _choose(
    rules: ShaftRules, torque: float, speed: float, length: float
) -> tuple[ShaftTube | None, float, float]:
    """The lightest tube that holds; failing that the one of the highest critical speed, so that it can be judged."""
    rows = [
        (tube, shear_mpa(torque, tube.diameter_mm, tube.wall_mm),
         critical_rpm(rules.modulus_mpa, tube_inertia(tube.diameter_mm, tube.wall_mm),
                      tube_area(tube.diameter_mm, tube.wall_mm), rules.density_kg_per_m3, length))
        for tube in rules.tubes
    ]  # fmt: skip
    good = [
        row for row in rows
        if row[1] <= rules.shear_mpa and row[0].joint_torque_nm >= torque
        and speed <= rules.speed_over_critical * row[2]
    ]  # fmt: skip
    if good:
        return min(good, key=lambda row: tube_area(row[0].diameter_mm, row[0].wall_mm))
    return max(rows, key=lambda row: row[2])


def _items(
    rules: ShaftRules, tube: ShaftTube | None, start: Vec, end: Vec, length: float
) -> tuple[tuple[MassItem, ...], Measured]:
    if tube is None:
        return (), Measured(0.0)
    bare = max(0.0, length - 2 * tube.joint_length_mm)
    kg = (
        tube_area(tube.diameter_mm, tube.wall_mm) * bare * rules.density_kg_per_m3 * 1e-9
        + 2 * tube.joint_mass_kg
    )
    mass = Measured(kg, 0.06 * kg)
    middle = ((start[0] + end[0]) / 2, (start[1] + end[1]) / 2, (start[2] + end[2]) / 2)
    size = (abs(end[0] - start[0]), tube.diameter_mm, tube.diameter_mm)
    item = MassItem(
        "propeller shaft", mass, exact_point(middle), "added", size, f"tube {tube.name}, computed"
    )
    return (item,), mass


def _checks(case: Case, rules: ShaftRules, made: Shaft) -> tuple[Check, ...]:
    line = case.vehicle.driveline
    assert line is not None
    assert line.travel is not None
    travel, static = line.travel, made.states[0]
    spread = travel.pinion_up_deg.tolerance
    where = made.start
    found: list[Check] = []
    for joint in ("gear", "axle"):
        angle = static.gear_deg if joint == "gear" else static.axle_deg
        tolerance = spread if joint == "axle" else 0.0
        most = max(getattr(s, f"{joint}_deg") for s in made.states)
        least = min(getattr(s, f"{joint}_deg") for s in made.states[:2])
        found += [
            judge(f"drive.shaft.{joint}.angle", f"Joint at the {joint}: angle at static height",
                  Measured(angle, tolerance), rules.joint_deg, "max", "deg", rules.sources.get("joint", ""), where=where),
            judge(f"drive.shaft.{joint}.travel", f"Joint at the {joint}: greatest angle over the travel",
                  Measured(most, tolerance), rules.joint_travel_deg, "max", "deg", rules.sources.get("joint_travel", "")),
            judge(f"drive.shaft.{joint}.least", f"Joint at the {joint}: least angle, static and laden",
                  Measured(least), rules.least_deg, "min", "deg", rules.sources.get("least", "")),
        ]  # fmt: skip
    worst = max(made.states[:2], key=lambda s: s.equivalent_deg)
    found += [
        judge("drive.shaft.equal", f"Angles of the two joints, not made up, {worst.height}",
              Measured(worst.equivalent_deg, spread), rules.unequal_deg, "max", "deg", rules.sources.get("unequal", "")),
        judge("drive.shaft.plunge", "Plunge over the travel", Measured(made.plunge_mm), travel.plunge_mm, "max", "mm",
              f"sliding joint; {travel.source}"),
        judge("drive.shaft.critical", "Top speed of the shaft over its critical speed",
              Measured(made.speed_rpm / made.critical_rpm), rules.speed_over_critical, "max", "",
              f"beam formula, {made.critical_rpm:.0f} rpm; {rules.sources.get('speed_over_critical', '')}"),
    ]  # fmt: skip
    if made.tube is not None:
        name = made.tube.name
        found += [
            judge("drive.shaft.shear", f"Shear stress of the tube {name}", Measured(made.shear_mpa), rules.shear_mpa,
                  "max", "MPa", rules.sources.get("shear", "")),
            judge("drive.shaft.joint", f"Torque in the joints of the tube {name}", Measured(made.torque_nm),
                  made.tube.joint_torque_nm, "max", "Nm", rules.source),
        ]  # fmt: skip
    for id, title, value, limit, unit, field in (
        ("drive.differential.torque", "Torque into the original differential", made.torque_nm, travel.max_input_torque_nm,
         "Nm", "max_input_torque"),
        ("drive.differential.speed", "Speed of the original differential's pinion", made.speed_rpm,
         travel.max_input_speed_rpm, "rpm", "max_input_speed"),
    ):  # fmt: skip
        if limit is None:
            found.append(unknown(id, title, unit, travel.source, f"driveline: travel: {field} is not given"))
        else:
            note = "" if value <= limit else f"limit it in the controller to {limit / max(value, 1e-9):.0%}"
            found.append(judge(id, title, Measured(value), limit, "max", unit, travel.source, note=note))
    return tuple(found)
