"""Scale readings of the stripped or the finished vehicle, compared with what was predicted."""

from collections.abc import Sequence

import numpy as np

from packlayout.errors import ReadingError
from packlayout.mass.adjust import Adjustment, Reading, adjust
from packlayout.mass.plausible import LB_IN_KG
from packlayout.mass.propagate import Evaluate, Figures
from packlayout.mass.readings import CORNERS
from packlayout.mass.states import key
from packlayout.mass.weighing import Compared, Comparison, Unlisted
from packlayout.model.check import Check, judge
from packlayout.model.geometry import Floats
from packlayout.model.weighed import AsBuilt, Stripped
from packlayout.units import Measured

FAR_OFF = (0.6, 1.6)
"""A reading over its prediction beyond these is a slip, not a difference (common practice, no source)."""


def scale_readings(given: Stripped | AsBuilt, state: str) -> tuple[Reading, ...]:
    """The readings of a weighing, each tied to its prediction."""
    if given.corners is not None:
        c = given.corners
        found = (c.front_left_kg, c.front_right_kg, c.rear_left_kg, c.rear_right_kg)
        return tuple(
            Reading(key(state, f"{wheel} corner"), wheel, kg)
            for wheel, kg in zip(CORNERS, found, strict=True)
        )
    assert given.axles is not None
    return (
        Reading(key(state, "front axle"), "front axle", given.axles.front_kg),
        Reading(key(state, "rear axle"), "rear axle", given.axles.rear_kg),
    )


def compare(
    evaluate: Evaluate, figures: Figures, readings: Sequence[Reading], state: str, prefix: str, shown: str
) -> tuple[Comparison, Figures]:
    """Hold scale readings against a prediction.

    Args:
        evaluate: The evaluator.
        figures: What it predicts.
        readings: Four corners or two axles of one state.
        state: Name of the state in the figures.
        prefix: Of the ids of the checks, such as `as-built`.
        shown: What was weighed, for people.

    Returns:
        The comparison, and the figures with the readings taken in.

    Raises:
        GeometryError: for a total so far from the prediction that it is a slip: which, and likely why.

    Source: a difference is out of tolerance where the normalised error |En| of ISO/IEC 17043 exceeds one.
    """
    _refuse_slips(figures, readings, state, prefix)
    adjustment = adjust(evaluate, figures, readings)
    rows = [
        _row(reading.name, figures.measured(reading.figure), reading.found, adjustment, one)
        for reading, one in zip(readings, np.eye(len(readings)), strict=True)
    ]
    total = Measured(
        sum(reading.found.value for reading in readings),
        float(np.sqrt(sum(reading.found.tolerance**2 for reading in readings))),
    )
    every = np.ones(len(readings))
    rows.append(_row("total", figures.measured(key(state, "mass")), total, adjustment, every))
    unlisted = None if rows[-1].within else _unlisted(figures, adjustment, every)
    checks = tuple(_check(row, prefix, shown) for row in rows)
    note = "" if all(row.within for row in rows) else _swapped(adjustment)
    return Comparison(shown, tuple(rows), adjustment.suspects, unlisted, checks, note), adjustment.figures


def _refuse_slips(figures: Figures, readings: Sequence[Reading], state: str, prefix: str) -> None:
    total = sum(reading.found.value for reading in readings)
    predicted = figures.value[key(state, "mass")]
    if FAR_OFF[0] * predicted <= total <= FAR_OFF[1] * predicted:
        return
    if FAR_OFF[0] * predicted <= total / LB_IN_KG <= FAR_OFF[1] * predicted:
        slip = f"lb for kg ({total:.0f} lb is {total / LB_IN_KG:.0f} kg)"
    else:
        slip = "one axle or side read for the whole, or the readings of another vehicle"
    raise ReadingError(
        prefix,
        f"readings of {total:.0f} kg in all: {predicted:.0f} kg were predicted",
        f"{FAR_OFF[0] * predicted:.0f} to {FAR_OFF[1] * predicted:.0f} kg",
        f"likely slip: {slip}",
    )


def _swapped(adjustment: Adjustment) -> str:
    """Whether the readings would agree if the pads of an axle were the other way round."""
    if len(adjustment.readings) != len(CORNERS):
        return ""
    found = np.array([reading.found.value for reading in adjustment.readings])
    allowed = np.sqrt(np.diag(adjustment.covariance))
    for order, where in (
        ([1, 0, 2, 3], "front axle"),
        ([0, 1, 3, 2], "rear axle"),
        ([1, 0, 3, 2], "vehicle"),
    ):
        misfit = adjustment.misfit + found[order] - found
        if np.all(np.abs(misfit) <= allowed):
            return f"every corner would be within tolerance if left and right of the {where} were swapped"
    return ""


def _row(name: str, predicted: Measured, read: Measured, adjustment: Adjustment, weights: Floats) -> Compared:
    difference = adjustment.difference(list(weights))
    within = abs(difference.value) <= difference.tolerance
    return Compared(name, predicted, read, difference, within)


def _check(row: Compared, prefix: str, shown: str) -> Check:
    return judge(
        f"{prefix}.{row.name.replace(' ', '-')}",
        f"{row.name}, {shown}: reading against prediction",
        Measured(abs(row.difference.value)),
        row.difference.tolerance,
        "max",
        "kg",
        "tolerance of reading and prediction together; normalised error after ISO/IEC 17043",
        note=f"read {row.read.value:.1f} kg, predicted {row.predicted.value:.1f} kg",
    )


def _unlisted(figures: Figures, adjustment: Adjustment, every: Floats) -> Unlisted:
    """The one thing that would make up the difference of the total.

    Its place is the moment of the differences over their sum; the tolerance is that of the readings alone, to
    first order.
    """
    inputs = figures.inputs
    nominal = dict(zip(inputs.names, inputs.nominal, strict=True))
    wheelbase = float(nominal["wheelbase"])
    half = float(nominal["front track"]) / 2, float(nominal["rear track"]) / 2
    names = [reading.name for reading in adjustment.readings]
    x = np.array([wheelbase if name.startswith("rear") else 0.0 for name in names])
    mass = adjustment.difference(list(every))
    at_x = _centre(adjustment, x)
    if "axle" in names[0]:
        return Unlisted(mass, at_x, None)
    side = np.array([half[name.startswith("rear")] * (1 if "right" in name else -1) for name in names])
    return Unlisted(mass, at_x, _centre(adjustment, side))


def _centre(adjustment: Adjustment, arms: Floats) -> Measured:
    total = float(adjustment.misfit.sum())
    place = float(adjustment.misfit @ arms) / total
    spread = adjustment.difference(list((arms - place) / total))
    return Measured(place, spread.tolerance)
