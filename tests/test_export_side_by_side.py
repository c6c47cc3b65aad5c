"""The layouts offered side by side, as the report and the terminal show them."""

from dataclasses import replace

from packlayout.export.figures import typed
from packlayout.export.report_tables import aims_table
from packlayout.export.side_by_side import FOOTING, side_by_side
from packlayout.export.summary import side_by_side_lines
from packlayout.placement.result import Scored
from tests.studies import study


def _offered():
    made = study()
    assert made.placed is not None
    first, second = made.placed.layouts
    figures = {
        "cable_length_mm": 4000.0,
        "routed_cable_length_mm": 5250.0,
        "price": 20100.4,
        "shaft_angle_deg": 4.25,
    }
    rows = (
        Scored(first.layout, figures | {"front_axle_change_kg": -16.7}, 1.25),
        Scored(second.layout, {**figures, "price": 20301.0, "routed_cable_length_mm": 6000.0}, 1.61),
    )
    return replace(made, placed=replace(made.placed, layouts=rows))


# ---------------------------------------------------------------- by hand


def test_a_line_for_each_figure_and_a_column_for_each_layout():
    head, rows = side_by_side(_offered())
    assert head == ("layout", "1", "2")
    assert rows == (
        ("front axle load against its aim, kg", "−16.7", ""),
        ("high-voltage cable as it runs, m", "5.25", "6.00"),
        ("greater joint angle of the shaft, deg", "4.2", "4.2"),
        ("price", "20100", "20301"),
        ("weighed sum of the aims", "1.25", "1.61"),
    )


def test_report_and_terminal_show_the_same():
    made = _offered()
    table = aims_table(made)
    assert table.caption == FOOTING
    lines = side_by_side_lines(made)
    assert lines[0] == "1: least change of the axle loads"
    for row in table.rows:
        line = next(line for line in lines if line.startswith(row[0]))
        assert line.removeprefix(row[0]).split() == [typed(cell) for cell in row[1:] if cell]
    assert all(line.isascii() for line in lines)


# ---------------------------------------------------------------- refusal


def test_a_single_layout_is_not_set_beside_anything():
    made = study()
    assert made.placed is not None
    alone = replace(made, placed=replace(made.placed, layouts=made.placed.layouts[:1]))
    assert side_by_side(alone) == ((), ())
    assert side_by_side_lines(alone) == []
    assert aims_table(alone).rows == ()
