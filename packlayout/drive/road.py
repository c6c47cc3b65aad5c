"""Road load and power train: what the wheels ask for, and what the battery gives for it."""

from dataclasses import dataclass
from math import pi

import numpy as np

from packlayout.drive.cycle import Drive
from packlayout.model.catalogue import MotorData, MotorLosses
from packlayout.model.driving import RoadLoad
from packlayout.model.geometry import Floats
from packlayout.units import G0_M_S2

KM_PER_H = 3.6
CORNER_EFFICIENCY, COPPER_SHARE, STANDING_SHARE = 0.94, 0.85, 0.02
"""Of a motor whose data sheet gives no losses; see `estimated_losses`."""


@dataclass(frozen=True, slots=True)
class Load:
    """Resistance of one vehicle: force = a + b v + c v2 and weight times slope.

    Attributes:
        mass_kg: As it drives.
        inertia_kg: Mass that is sped up: with what turns.
        a_n: N.
        b_ns_per_m: N s/m.
        c_ns2_per_m2: N s2/m2.
    """

    mass_kg: float
    inertia_kg: float
    a_n: float
    b_ns_per_m: float
    c_ns2_per_m2: float

    def force(self, speed: Floats, slope: Floats | float = 0.0) -> Floats:
        """N, at speeds in m/s on a slope (rise over run); standing still there is no rolling resistance."""
        slope = np.asarray(slope, dtype=np.float64)
        along = slope / np.sqrt(1 + slope**2)
        rolling = np.where(speed > 1e-6, self.a_n / np.sqrt(1 + slope**2) + self.b_ns_per_m * speed, 0.0)
        return rolling + self.c_ns2_per_m2 * speed**2 + self.mass_kg * G0_M_S2 * along


def load_of(road: RoadLoad, mass_kg: float, kerb_kg: float, air_kg_per_m3: float) -> Load:
    """Road load at a mass.

    Args:
        road: Coast-down coefficients, or drag and rolling resistance.
        mass_kg: As it drives.
        kerb_kg: Of which the rotating parts are a share.
        air_kg_per_m3: Density of air.

    Source: F = Crr m g + rho / 2 Cd A v2; the coast-down's f0 in proportion to mass.
    """
    inertia = mass_kg + road.rotating_percent / 100 * kerb_kg
    if road.coast_down is not None:
        c = road.coast_down
        return Load(mass_kg, inertia, c.f0 * mass_kg / c.mass_kg, c.f1 * KM_PER_H, c.f2 * KM_PER_H**2)
    assert road.parts is not None
    p = road.parts
    drag = air_kg_per_m3 / 2 * p.drag.value * p.frontal_area_m2.value
    return Load(mass_kg, inertia, p.rolling.value * mass_kg * G0_M_S2, 0.0, drag)


@dataclass(frozen=True, slots=True)
class Train:
    """From battery to wheel.

    Attributes:
        peak_nm: Of the motor.
        peak_w: Of the motor, at its shaft.
        max_rad_per_s: Of the motor.
        losses: Of the motor.
        controller: Efficiency of the controller.
        gearing: Efficiency from motor shaft to wheel.
        ratio: Turns of the motor for one of the wheel.
        radius_m: Of the wheel.
        battery_w: The most the battery gives.
        back_w: The most the battery takes.
        battery_ohm: Inner resistance.
        battery_v: Nominal.
        regeneration: Share of braking that the motor may take.
        standing_w: Accessories.
    """

    peak_nm: float
    peak_w: float
    max_rad_per_s: float
    losses: MotorLosses
    controller: float
    gearing: float
    ratio: float
    radius_m: float
    battery_w: float
    back_w: float
    battery_ohm: float
    battery_v: float
    regeneration: float
    standing_w: float

    def torque_nm(self, motor_rad_per_s: Floats) -> Floats:
        """The most the motor gives: constant torque, then constant power, nothing beyond its top speed.

        What the battery gives is a bound as well.
        """
        speed = np.maximum(motor_rad_per_s, 1e-6)
        shaft_w = np.minimum(self.peak_w, self._shaft_from_battery(speed))
        torque = np.minimum(self.peak_nm, shaft_w / speed)
        return np.where(speed <= self.max_rad_per_s * (1 + 1e-9), torque, 0.0)

    def _shaft_from_battery(self, speed: Floats) -> Floats:
        free = self.losses.constant + self.losses.iron * speed + self.losses.windage * speed**3
        given = np.maximum(0.0, (self.battery_w - self.standing_w) * self.controller - free)
        c = self.losses.copper
        if c == 0:
            return given
        # given = T w + c T2 solved for T
        torque = (-speed + np.sqrt(speed**2 + 4 * c * given)) / (2 * c)
        return torque * speed

    def tractive_n(self, speed: Floats) -> Floats:
        """The most the wheels push, N, at speeds in m/s."""
        return self.torque_nm(speed / self.radius_m * self.ratio) * self.ratio * self.gearing / self.radius_m

    def battery_power(self, force: Floats, speed: Floats) -> Floats:
        """Power out of the battery's terminals, W, negative into it, for a force at the wheels, N.

        Braking is shared: the motor takes the share of `regeneration`, brakes the rest.
        """
        wheel = np.where(force >= 0, force, force * self.regeneration)
        turn = speed / self.radius_m * self.ratio
        torque = wheel * self.radius_m / self.ratio
        torque = np.where(torque >= 0, torque / self.gearing, torque * self.gearing)
        torque = np.clip(torque, -self.torque_nm(turn), None)
        m = self.losses
        lost = m.constant + m.iron * turn + m.windage * turn**3 + m.copper * torque**2
        shaft = torque * turn
        moving = (speed > 1e-3) | (np.abs(torque) > 1e-9)
        electric = np.where(moving, shaft + lost, 0.0)
        dc = np.where(electric >= 0, electric / self.controller, electric * self.controller)
        return np.maximum(dc, -self.back_w) + self.standing_w

    def drawn(self, power: Floats) -> Floats:
        """Power out of the cells, W: what the terminals give and the loss inside, I2 R."""
        current = power / self.battery_v
        return power + current**2 * self.battery_ohm


def estimated_losses(motor: MotorData) -> MotorLosses:
    """Losses of a motor whose data sheet gives none.

    94 % at continuous power and the corner of its curve, as four-pole motors of 30 to 75 kW have (93.6 to 95.0 %, class
    IE3 of IEC 60034-30-1, values from memory). There, at low speed and high torque, most of the loss is copper: 85 %,
    and 2 % stands always (common practice, no source).
    """
    corner = 1000 * motor.peak_kw / motor.peak_nm
    torque = 1000 * motor.continuous_kw / corner
    lost = 1000 * motor.continuous_kw * (1 / CORNER_EFFICIENCY - 1)
    return MotorLosses(
        copper=COPPER_SHARE * lost / torque**2,
        iron=(1 - COPPER_SHARE - STANDING_SHARE) * lost / corner,
        windage=0.0,
        constant=STANDING_SHARE * lost,
    )


@dataclass(frozen=True, slots=True)
class Used:
    """What one drive took.

    Attributes:
        name: Of the cycle or round.
        distance_km: Driven.
        mean_km_per_h: Stops included.
        energy_kwh: Out of the cells.
        per_km_wh: Likewise for each km.
        regained_kwh: Given back to the battery.
        short_s: Time in which the motor or the battery could not follow.
    """

    name: str
    distance_km: float
    mean_km_per_h: float
    energy_kwh: float
    per_km_wh: float
    regained_kwh: float
    short_s: float


def consumption(drive: Drive, load: Load, train: Train) -> Used:
    """Energy that a drive takes.

    Force and power at the middle of each step, speed and acceleration as the drive prescribes; where the motor
    cannot follow, it gives all it has and the time is counted.

    Args:
        drive: Speed and slope over time.
        load: Of the vehicle.
        train: Power train.

    Source: longitudinal dynamics, F = m_e a + a + b v + c v2 + m g sin.
    """
    dt = np.diff(drive.time_s)
    v = (drive.speed_m_per_s[1:] + drive.speed_m_per_s[:-1]) / 2
    acceleration = np.diff(drive.speed_m_per_s) / dt
    slope = drive.slope[1:]
    force = load.force(v, slope) + load.inertia_kg * acceleration
    force = np.where(v > 1e-6, force, 0.0)
    most = train.tractive_n(v)
    short = (force > most * 1.001 + 1.0) & (v > 1e-6)
    terminals = train.battery_power(np.minimum(force, most), v)
    energy = float((train.drawn(terminals) * dt).sum()) / 3.6e6
    back = float((np.minimum(terminals, 0) * dt).sum()) / -3.6e6
    km = drive.distance_km
    return Used(drive.name, km, drive.mean_km_per_h, energy, 1000 * energy / km, back, float(dt[short].sum()))


def rpm(rad_per_s: float) -> float:
    """Angular speed as revolutions a minute."""
    return rad_per_s * 30 / pi
