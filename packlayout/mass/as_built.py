"""The finished car on the scales, against the prediction."""

from packlayout.errors import ReadingError
from packlayout.mass.compare import compare, scale_readings
from packlayout.mass.figures import weigher
from packlayout.mass.propagate import propagate
from packlayout.mass.readings import mass_item
from packlayout.mass.reconcile import reconciled
from packlayout.mass.states import CONVERTED, Aboard, laden_states
from packlayout.mass.weighing import Comparison
from packlayout.model.brief import Case
from packlayout.model.geometry import MassItem
from packlayout.model.layout import Layout
from packlayout.model.weighed import AsBuilt

STATE = "as built"


def as_built(case: Case, layout: Layout, frame_items: tuple[MassItem, ...], readings: AsBuilt) -> Comparison:
    """Compare the finished car's scale readings with the prediction.

    Args:
        case: As for `weigh`.
        layout: As built.
        frame_items: As built.
        readings: Scale readings, the state they were taken in, and what was aboard beyond it.

    Returns:
        Per corner or axle and in total: predicted, read, and whether the difference lies within the tolerance
        of both; the items most likely to blame; and, when the total is out, the one unlisted thing
        that would make it up.

    Raises:
        GeometryError: for a state that is not weighed, or that is loaded up to the plate.
    """
    states = {CONVERTED: Aboard(CONVERTED, ()), **{aboard.name: aboard for aboard in laden_states(case)}}
    state = states.get(readings.state)
    if state is None or state.goods_at is not None:
        known = ", ".join(name for name, aboard in states.items() if aboard.goods_at is None)
        raise ReadingError("state", repr(readings.state), known, "give the state the vehicle was weighed in")
    extra = tuple(mass_item(item, "payload") for item in readings.aboard)
    evaluate, inputs = weigher(case, layout, frame_items, (Aboard(STATE, (*state.items, *extra)),))
    figures, _ = reconciled(case, evaluate, propagate(evaluate, inputs))
    found, _ = compare(evaluate, figures, scale_readings(readings, STATE), STATE, "as-built", readings.state)
    return found
