"""Pulling away, top speed, hills: what motor, gears and tyres give against the road."""

from dataclasses import dataclass
from math import atan, pi, sin, tan

import numpy as np

from packlayout.drive.road import KM_PER_H, Load, Train
from packlayout.units import G0_M_S2

STEP_S = 0.02
LONGEST_S = 300.0
CRAWL_M_PER_S = 2.0
"""Speed at which a hill is judged (common practice, no source)."""


@dataclass(frozen=True, slots=True)
class Performance:
    """How it goes in one state.

    Attributes:
        state: Of the weighing.
        mass_kg: In it.
        to_50_s: From standing to 50 km/h; None when never.
        top_km_per_h: On the level.
        top_bound: What sets it: `motor speed` or `power`.
        grade_percent: Steepest hill at a crawl.
        grade_bound: What sets it: `torque` or `adhesion`.
    """

    state: str
    mass_kg: float
    to_50_s: float | None
    top_km_per_h: float
    top_bound: str
    grade_percent: float
    grade_bound: str


def perform(
    state: str, load: Load, train: Train, rear_share: float, adhesion: float, high_m: float
) -> Performance:
    """How a vehicle goes.

    Args:
        state: Its name.
        load: Mass and road load.
        train: Power train on the rear axle.
        rear_share: Of the mass on the rear axle, level.
        adhesion: Friction of the driven wheels.
        high_m: Height of the centre of gravity over the wheelbase.
    """
    top, bound = top_speed(load, train)
    grade, limit = gradeability(load, train, rear_share, adhesion, high_m)
    grip = adhesion * rear_share * load.mass_kg * G0_M_S2
    return Performance(state, load.mass_kg, time_to(load, train, 50 / KM_PER_H, grip), top * KM_PER_H, bound,
                       100 * grade, limit)  # fmt: skip


def time_to(load: Load, train: Train, speed: float, grip_n: float = float("inf")) -> float | None:
    """Time from standing to a speed, m/s, by small steps of time (midpoint rule); None when it never gets there."""
    v, t = 0.0, 0.0
    while v < speed:
        half = v + STEP_S / 2 * _acceleration(load, train, v, grip_n)
        gain = STEP_S * _acceleration(load, train, half, grip_n)
        if gain <= 1e-5 or t > LONGEST_S:
            return None
        if v + gain >= speed:
            return t + STEP_S * (speed - v) / gain
        v, t = v + gain, t + STEP_S
    return t


def _acceleration(load: Load, train: Train, v: float, grip: float) -> float:
    at = np.array([max(v, 1e-3)])
    return float((np.minimum(train.tractive_n(at), grip) - load.force(at))[0]) / load.inertia_kg


def coast_down(load: Load, from_m_per_s: float, to_m_per_s: float) -> float:
    """Time in which a vehicle out of gear slows from one speed to another, s.

    Closed form of the integral of m dv / (a + b v + c v2).

    Valid for: 4 a c > b2, which every real road load meets.
    """
    a, b, c = load.a_n, load.b_ns_per_m, load.c_ns2_per_m2
    root = (4 * a * c - b * b) ** 0.5
    return (
        load.inertia_kg
        * 2
        / root
        * (atan((2 * c * from_m_per_s + b) / root) - atan((2 * c * to_m_per_s + b) / root))
    )


def top_speed(load: Load, train: Train) -> tuple[float, str]:
    """Highest steady speed on the level, m/s, and what sets it."""
    lo, hi = 0.1, train.max_rad_per_s * train.radius_m / train.ratio
    if _spare(load, train, hi) >= 0:
        return hi, "motor speed"
    for _ in range(60):
        middle = (lo + hi) / 2
        lo, hi = (middle, hi) if _spare(load, train, middle) >= 0 else (lo, middle)
    return lo, "power"


def _spare(load: Load, train: Train, v: float) -> float:
    at = np.array([v * (1 - 1e-12)])
    return float((train.tractive_n(at) - load.force(at))[0])


def gradeability(
    load: Load, train: Train, rear_share: float, adhesion: float, high_m: float
) -> tuple[float, str]:
    """Steepest hill at a crawl, rise over run, and what sets it.

    The rear axle's share of the load grows on the hill: W (share cos + h/L sin).

    Source: statics; as in any textbook of vehicle dynamics.
    """
    push = float(train.tractive_n(np.array([CRAWL_M_PER_S]))[0])
    weight = load.mass_kg * G0_M_S2
    lo, hi = 0.0, pi / 3
    for _ in range(60):
        middle = (lo + hi) / 2
        need = float(load.force(np.array([CRAWL_M_PER_S]), tan(middle))[0])
        grip = adhesion * weight * (rear_share * (1 - 2 * sin(middle / 2) ** 2) + high_m * sin(middle))
        lo, hi = (middle, hi) if need <= min(push, grip) else (lo, middle)
    grip = adhesion * weight * (rear_share * (1 - 2 * sin(lo / 2) ** 2) + high_m * sin(lo))
    return tan(lo), "torque" if push <= grip else "adhesion"
