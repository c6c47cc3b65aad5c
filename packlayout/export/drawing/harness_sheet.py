"""Where cables and hoses run: side view and plan with the vehicle's outline, keyed to a list."""

from dataclasses import replace

from packlayout.electrical.cables import Run
from packlayout.export.drawing.dimensions import Call, balloons
from packlayout.export.drawing.frame_of_sheet import Heading, add_frame, block_box
from packlayout.export.drawing.general import car_lines, note, with_car
from packlayout.export.drawing.placing import BETWEEN, Placed, draw, in_words, three_views
from packlayout.export.drawing.sheet import Sheet
from packlayout.export.drawing.tables import add_table, table_size
from packlayout.export.drawing.views import SIDE, TOP, View
from packlayout.export.electric_lists import WANTS_CONDUIT
from packlayout.export.figures import number
from packlayout.export.tree import laid_runs
from packlayout.study import Study

_STEP_MM = 8.0
_WIDEST_MM = 108.0


def harness_sheets(study: Study, views: dict[str, View], heading: Heading) -> list[Sheet]:
    """One sheet on A3; none when nothing was laid.

    Args:
        study: What was computed.
        views: By the name of the look: everything that was placed, and the frame, without the harness.
        heading: For the title block.
    """
    runs = laid_runs(study)
    if not runs:
        return []
    sheet = Sheet("A3", "Cables and hoses")
    x0, _, x1, y1 = sheet.room
    box = block_box(sheet)
    head = ("no.", "run", "kind", "mm²", "length", "clips", "in conduit")
    rows = [_row(n, run) for n, run in enumerate(runs, start=1)]
    widths, tall = table_size(head, rows, _WIDEST_MM)
    left = x1 - 4 - sum(widths)
    side, top = with_car(views[SIDE.name], study.case), with_car(views[TOP.name], study.case)
    # the view from the front, which would stand between, is not drawn
    narrow = View(side.look, (), (), (0.0, 0.0, 0.1, 0.1))
    room = (x0 + 14, box[3] + 14, left - 8, y1 - 16)
    one, _, two = three_views((side, narrow, top), room, (0.0, 26.0), heading.projection, BETWEEN)
    sheet.scale = in_words(one.scale)
    add_frame(sheet, replace(heading, material=""))  # the frame's, not that of cables
    for placed in (one, two):
        draw(sheet, placed, faint=True)
        car_lines(sheet, placed, study.case)
        for run in runs:
            _draw_run(sheet, placed, run)
    calls = [Call(str(n), *one.seen(_middle(run))) for n, run in enumerate(runs, start=1)]
    balloons(sheet, one, calls, ("above", "below"), 9.0)
    add_table(sheet, left, y1 - 6, head, rows, name="runs", figures=frozenset((0, 4, 5)), widest=_WIDEST_MM)
    note(sheet, left, y1 - 6 - tall - 7, (
        "Lengths in mm along the middle line, port to port.",
        "Thick: in conduit; its length to cut and its outside diameter, mm.",
        "All figures: cable-schedule.csv.",
        "High voltage: qualified people only.",
    ))  # fmt: skip
    return [sheet]


def _row(n: int, run: Run) -> tuple[str, ...]:
    size = f"{run.cores} × {run.area_mm2:g}" if run.cores else f"Ø {run.diameter_mm:g}"
    return str(n), run.name, run.kind, size, number(run.length_mm, 0), str(run.clips), _conduit(run)


def _conduit(run: Run) -> str:
    if not run.sleeves:
        return WANTS_CONDUIT if run.conduit_mm else ""
    cut = " + ".join(number(sleeve.line.length_mm, 0) for sleeve in run.sleeves)
    return f"{cut} of Ø {run.sleeves[0].conduit.outside_mm:g}"


def _draw_run(sheet: Sheet, placed: Placed, run: Run) -> None:
    assert run.line is not None, "only runs that were laid are drawn"
    points = [(float(x), float(y), float(z)) for x, y, z in run.line.points(_STEP_MM)]
    sheet.stroke(tuple(placed.seen(p) for p in points), "run")
    for sleeve in run.sleeves:
        covered = [(float(x), float(y), float(z)) for x, y, z in sleeve.line.points(_STEP_MM)]
        sheet.stroke(tuple(placed.seen(p) for p in covered), "conduit")


def _middle(run: Run) -> tuple[float, float, float]:
    assert run.line is not None, "only runs that were laid are drawn"
    points = run.line.points(_STEP_MM)
    x, y, z = (float(v) for v in points[len(points) // 2])
    return x, y, z
