"""The ledger of removed things, held against a weighing of the stripped vehicle."""

from packlayout.mass.compare import compare, scale_readings
from packlayout.mass.propagate import Evaluate, Figures
from packlayout.mass.states import STRIPPED
from packlayout.mass.weighing import Comparison
from packlayout.model.brief import Case


def reconciled(case: Case, evaluate: Evaluate, figures: Figures) -> tuple[Figures, Comparison | None]:
    """Take a weighing of the stripped vehicle into account, when there is one.

    Args:
        case: Supplies the readings.
        evaluate: The evaluator.
        figures: Before.

    Returns:
        The figures, moved and narrowed by the readings, and the comparison of these with what the original
        less the removed things should weigh: a check fails when the removed items do not add up.
    """
    given = case.vehicle.stripped
    if given is None:
        return figures, None
    comparison, after = compare(
        evaluate, figures, scale_readings(given, STRIPPED), STRIPPED, "ledger.stripped", "stripped vehicle"
    )
    return after, comparison
