"""What changes for the driver: ride height, pitch and ride frequency, from the wheel rates."""

from math import pi

import numpy as np

from packlayout.mass.loads import Number
from packlayout.mass.propagate import Figures
from packlayout.mass.springs import AxleRows, Springs
from packlayout.mass.states import CONVERTED, ORIGINAL, key
from packlayout.mass.weighing import Restore, Ride
from packlayout.model.geometry import Floats
from packlayout.units import G0_M_S2, MM_PER_M, Measured

ENDS = ("front", "rear")


def height_change_mm(load_change_kg: Number, wheel_rate_n_per_mm: Number) -> Number:
    """Change of ride height over an axle: the load change goes into its two springs.

    Source: Barton and Fieldhouse, Automotive Chassis Engineering: 936 N more on 35.2 N/mm sink by 26.6 mm.
    """
    return -load_change_kg * G0_M_S2 / (2 * wheel_rate_n_per_mm)


def natural_frequency_hz(wheel_rate_n_per_mm: Floats, sprung_kg: Floats) -> Floats:
    """Undamped natural frequency of one mass on its spring.

    Args:
        wheel_rate_n_per_mm: Rate.
        sprung_kg: What rides on that one spring.

    Source: sqrt(k / m) / 2 pi; 28.125 N/mm under 350 kg give 1.427 Hz.
    """
    return np.sqrt(wheel_rate_n_per_mm * MM_PER_M / sprung_kg) / (2 * pi)


def ride_figures(
    figures: dict[str, Floats], springs: Springs, inputs: Floats, wheelbase: Floats, state: str
) -> None:
    """Add the ride of one state to the figures of a batch."""
    change: dict[str, Floats] = {}
    for end, axle in _axles(springs):
        load, before = figures[key(state, f"{end} axle")], figures[key(ORIGINAL, f"{end} axle")]
        rate, sprung = axle.rate(inputs), axle.sprung_kg(inputs, load)
        change[end] = height_change_mm(load - before, rate)
        figures[key(state, f"{end} height change")] = change[end]
        # half the axle's load on each spring; a negative one has no frequency
        figures[key(state, f"{end} frequency")] = natural_frequency_hz(rate, np.maximum(sprung, 1e-6) / 2)
        if state == CONVERTED:
            needed = rate * sprung / axle.sprung_kg(inputs, before)
            figures[f"{end} wheel rate"] = rate
            figures[f"{end} restoring rate"] = needed
            figures[f"{end} rate change"] = 100 * (needed / rate - 1)
    further = np.abs(change["front"]) > np.abs(change["rear"])
    figures[key(state, "greater height change")] = np.where(further, change["front"], change["rear"])
    figures[key(state, "pitch")] = np.degrees(np.arctan2(change["front"] - change["rear"], wheelbase))


def rides(figures: Figures, states: tuple[str, ...]) -> tuple[Ride, ...]:
    """The ride of each state."""
    return tuple(
        Ride(
            state,
            _pair(figures, state, "height change"),
            figures.measured(key(state, "pitch")),
            _pair(figures, state, "frequency"),
        )
        for state in states
    )


def restores(figures: Figures) -> tuple[Restore, ...]:
    """What brings each axle back to its height."""
    made: list[Restore] = []
    for end in ENDS:
        change = figures.measured(key(CONVERTED, f"{end} height change"))
        rates = figures.measured(f"{end} wheel rate"), figures.measured(f"{end} restoring rate")
        packing = Measured(-change.value, change.tolerance)
        made.append(Restore(end, rates, figures.measured(f"{end} rate change"), packing))
    return tuple(made)


def _pair(figures: Figures, state: str, what: str) -> tuple[Measured, Measured]:
    front, rear = (figures.measured(key(state, f"{end} {what}")) for end in ENDS)
    return front, rear


def _axles(springs: Springs) -> tuple[tuple[str, AxleRows], ...]:
    return (("front", springs.front), ("rear", springs.rear))
