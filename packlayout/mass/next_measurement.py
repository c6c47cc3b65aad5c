"""What to measure next: the single measurement that would most narrow the verdict that matters."""

from collections.abc import Sequence

import numpy as np

from packlayout.mass.limits import Judged
from packlayout.mass.propagate import Figures
from packlayout.mass.weighing import NextMeasurement, NextMeasurements
from packlayout.model.check import judge
from packlayout.units import Measured

BETTER = 0.5
"""By default a measurement is thought of with half its tolerance."""
ROWS = 5


def next_measurements(judged: Sequence[Judged], figures: Figures, better: float = BETTER) -> NextMeasurements:
    """What to measure next.

    The verdict that matters is the one whose value lies nearest to its limit, in units of its tolerance: the
    one that a better measurement would be most likely to turn.

    Args:
        judged: The checks of a weighing.
        figures: Theirs.
        better: Tolerance of the better measurement over the present one, 0 to 1.

    Returns:
        That check; the inputs that, made better one at a time, would leave it the least tolerance, and
        the verdict then if the value stayed; and the notes of checks that lack an input altogether.
    """
    unknown = tuple(dict.fromkeys(j.check.note for j in judged if j.figure is None))
    open_ones = [j for j in judged if j.figure is not None and j.check.tolerance > 0]
    if not open_ones:
        return NextMeasurements(None, (), unknown)
    nearest = min(open_ones, key=lambda j: abs(j.check.margin or 0.0) / j.check.tolerance)
    check, figure = nearest.check, nearest.figure
    assert figure is not None
    assert check.value is not None
    assert check.limit is not None
    effect, inputs = figures.effect[figure], figures.inputs
    total = float(np.sum(effect**2))
    rows: list[NextMeasurement] = []
    for row in np.argsort(-np.abs(effect), kind="stable")[:ROWS]:
        if effect[row] == 0:
            break
        left = float(np.sqrt(max(total - (1 - better**2) * float(effect[row]) ** 2, 0.0)))
        then = judge(
            check.id,
            check.title,
            Measured(check.value, left),
            check.limit,
            check.sense,
            check.unit,
            check.basis,
        )
        assert then.confidence is not None
        tolerance = float(inputs.tolerance[row])
        name, unit, about = inputs.names[row], inputs.units[row], inputs.about[row]
        found = (about, name, unit, tolerance, better * tolerance, left, then.verdict, then.confidence)
        rows.append(NextMeasurement(*found))
    return NextMeasurements(check, tuple(rows), unknown)
