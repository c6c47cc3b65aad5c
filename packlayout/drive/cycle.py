"""Driving cycles and rounds as speed and gradient over time."""

from dataclasses import dataclass

import numpy as np

from packlayout.model.driving import Cycle, CycleTable, Round
from packlayout.model.geometry import Floats

STEP_S = 0.5
PARKED_S = 300.0
"""A longer stop is a parked vehicle: nothing draws on the battery (common practice, no source)."""


@dataclass(frozen=True, slots=True, eq=False)
class Drive:
    """Speed over time.

    Attributes:
        name: Of the cycle or round.
        time_s: (n,) rising.
        speed_m_per_s: (n,).
        slope: (n,) rise over run.
    """

    name: str
    time_s: Floats
    speed_m_per_s: Floats
    slope: Floats

    @property
    def distance_km(self) -> float:
        """Driven in all; speed runs straight between points."""
        v, dt = self.speed_m_per_s, np.diff(self.time_s)
        return float(((v[1:] + v[:-1]) / 2 * dt).sum()) / 1000

    @property
    def mean_km_per_h(self) -> float:
        """Stops included."""
        return self.distance_km / (float(self.time_s[-1]) / 3600)

    def capped(self, top_m_per_s: float) -> "Drive":
        """The same, no faster than a vehicle can go: as UN Regulation No. 101 has it, it is driven flat out there."""
        if float(self.speed_m_per_s.max()) <= top_m_per_s:
            return self
        return Drive(self.name, self.time_s, np.minimum(self.speed_m_per_s, top_m_per_s), self.slope)


def cycle_drive(table: CycleTable, name: str) -> Drive:
    """A cycle of the table, its parts driven one after the other, cut to steps of half a second.

    Raises:
        KeyError: for an unknown name; lists the known ones.
    """
    known = {cycle.name: cycle for cycle in table.cycles}
    if name not in known:
        raise KeyError(f"no cycle {name!r}; known: {', '.join(known)}")
    parts: list[Cycle] = [known[n] for n in known[name].made_of or (name,)]
    times, speeds, begin = [np.zeros(1)], [np.zeros(1)], 0.0
    for n, part in enumerate(parts):
        points = np.array(part.points)
        keep = slice(0, None) if n == 0 else slice(1, None)
        times.append(points[keep, 0] + begin)
        speeds.append(points[keep, 1] / 3.6)
        begin += float(points[-1, 0])
    t, v = np.concatenate(times[1:]), np.concatenate(speeds[1:])
    grid = np.union1d(np.arange(0.0, float(t[-1]), STEP_S), t)
    return Drive(name, grid, np.interp(grid, t, v), np.zeros(len(grid)))


def round_drive(given: Round, acceleration_m_per_s2: float) -> Drive:
    """A round as a careful driver drives it.

    Each stretch is driven at its speed; between stretches and at stops the speed changes at the given
    rate, as late and as early as can be.

    Args:
        given: Distance, speed, stops, height.
        acceleration_m_per_s2: Speeding up and slowing down.
    """
    at = np.array(given.distance_m)
    grid = np.arange(0.0, at[-1], 5.0)
    # a grid point right beside a given one would ask for a change of speed in no time
    beside = np.abs(grid - at[np.clip(np.searchsorted(at, grid), 0, len(at) - 1)]) < 0.5
    beside |= np.abs(grid - at[np.clip(np.searchsorted(at, grid) - 1, 0, len(at) - 1)]) < 0.5
    fine = np.union1d(grid[~beside], at)
    stretch = np.clip(np.searchsorted(at, fine, side="left"), 1, len(at) - 1)
    top = np.array(given.speed_km_per_h)[stretch] / 3.6
    stops = at[(np.array(given.stop_s) > 0)]
    top[np.isin(fine, np.concatenate([stops, at[[0, -1]]]))] = 0.0
    v2 = top**2
    for k in range(1, len(fine)):
        v2[k] = min(v2[k], v2[k - 1] + 2 * acceleration_m_per_s2 * (fine[k] - fine[k - 1]))
    for k in range(len(fine) - 2, -1, -1):
        v2[k] = min(v2[k], v2[k + 1] + 2 * acceleration_m_per_s2 * (fine[k + 1] - fine[k]))
    v = np.sqrt(v2)
    steps = 2 * np.diff(fine) / np.maximum(v[1:] + v[:-1], 0.05)
    pause = np.interp(fine, at, np.zeros(len(at)))
    stood = np.array(given.stop_s)
    pause[np.searchsorted(fine, at)] = np.where(stood > PARKED_S, 0.0, stood)
    rise = np.interp(fine, at, given.height_m)
    slope = np.gradient(rise, fine)
    times, speeds, slopes, now = [0.0], [float(v[0])], [float(slope[0])], 0.0
    for k in range(1, len(fine)):
        now += float(steps[k - 1])
        times.append(now)
        speeds.append(float(v[k]))
        slopes.append(float((rise[k] - rise[k - 1]) / (fine[k] - fine[k - 1])))
        if pause[k] > 0:
            now += float(pause[k])
            times.append(now)
            speeds.append(float(v[k]))
            slopes.append(0.0)
    return Drive(given.name, np.array(times), np.array(speeds), np.array(slopes))
