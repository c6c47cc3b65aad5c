"""What the cables of a layout come to at the least, without routing them: for layouts laid side by side."""

from packlayout.electrical.pack import pack_of
from packlayout.electrical.protection import protect
from packlayout.electrical.wanted import wanted_runs
from packlayout.model.brief import Case
from packlayout.model.layout import Layout


def least_cable_mm(case: Case, layout: Layout) -> float | None:
    """Lower bound of the length of all high-voltage runs: straight from port to port, mm.

    No run can be shorter than the straight line between its ports, so that of two layouts the one with the smaller
    figure need not be the better one, but a figure above another layout's routed length is surely worse.

    Args:
        case: Supplies ports and data.
        layout: Where the parts stand.

    Returns:
        The sum over the runs that `wire` would lay; None where not one string can be made.
    """
    if len(layout.modules) < case.brief.wiring.strings:
        return None
    pack = pack_of(case, layout)
    runs = wanted_runs(case, layout, pack, protect(case, layout, pack))
    return sum(
        sum((a - b) ** 2 for a, b in zip(run.start.at, run.goal.at, strict=True)) ** 0.5
        for run in runs
        if run.kind == "HV"
    )
