"""The layouts offered side by side: a line for each figure, a column for each layout; for the report and the terminal."""

from packlayout.export.figures import number
from packlayout.study import Study

FOOTING = (
    "To stand on the same footing, cables and price are reckoned round a frame as first drawn, with each cable as if "
    "it were the only one and without hoses; those of the first layout as it is built follow."
)
FIGURES: tuple[tuple[str, str, float, int], ...] = (
    ("front_axle_change_kg", "front axle load against its aim, kg", 1.0, 1),
    ("rear_axle_change_kg", "rear axle load against its aim, kg", 1.0, 1),
    ("side_difference_kg", "right heavier than left, kg", 1.0, 1),
    ("cg_height_change_mm", "height of the CG against the original, mm", 1.0, 0),
    ("compactness_mm", "other parts from the pack, together, mm", 1.0, 0),
    ("further_blocks", "blocks beyond the first", 1.0, 0),
    ("cable_length_mm", "high-voltage cable along the axes, m", 1e-3, 2),
    ("routed_cable_length_mm", "high-voltage cable as it runs, m", 1e-3, 2),
    ("cables_without_way", "high-voltage cables without a way", 1.0, 0),
    ("shaft_angle_deg", "greater joint angle of the shaft, deg", 1.0, 1),
    ("price", "price", 1.0, 0),
    ("price_over_least_percent", "over the cheapest, %", 1.0, 1),
)
"""Objective -> what it is called, factor into the unit it is shown in, places."""


def side_by_side(study: Study) -> tuple[tuple[str, ...], tuple[tuple[str, ...], ...]]:
    """Head and rows; no rows where fewer than two layouts are offered.

    The estimate of the cable length gives way to the length as routed, where that is known.
    """
    scored = study.placed.layouts if study.placed is not None else ()
    if len(scored) < 2:
        return (), ()
    known = {key for one in scored for key in one.objectives}
    if "routed_cable_length_mm" in known:
        known.discard("cable_length_mm")
    prices = study.case.tables.prices
    rows = [
        (
            f"{words}, {prices.currency}" if key == "price" and prices is not None else words,
            *(
                number(one.objectives[key] * factor, places) if key in one.objectives else ""
                for one in scored
            ),
        )
        for key, words, factor, places in FIGURES
        if key in known
    ]
    rows.append(("weighed sum of the aims", *(number(one.score, 2) for one in scored)))
    return ("layout", *(str(n) for n in range(1, len(scored) + 1))), tuple(rows)
