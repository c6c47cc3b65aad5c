"""`drawings.pdf`: general arrangement, frame and plates, as a shop draws them."""

from collections.abc import Mapping
from pathlib import Path
from typing import Any

from packlayout.errors import ExportError
from packlayout.export.drawing.frame_of_sheet import Projection, heading_of, number_sheets
from packlayout.export.drawing.frame_sheets import frame_sheets
from packlayout.export.drawing.general import general_sheet, parts_sheet
from packlayout.export.drawing.paper import write_pdf
from packlayout.export.drawing.plate_sheets import plate_sheet
from packlayout.export.drawing.sheet import Sheet
from packlayout.export.drawing.views import FRONT, ROUND, SIDE, TOP, View, compound, shapes_of, view
from packlayout.export.flats import flat
from packlayout.export.pack import Made
from packlayout.export.piece_marks import plate_marks
from packlayout.export.tree import Group, assembly_tree, frame_tree, leaves
from packlayout.model.brief import Case
from packlayout.study import Study

DRAWINGS = "drawings.pdf"
PROJECTION: Projection = "first"


def write_drawings(study: Study, folder: Path, notes: tuple[str, ...]) -> Made:
    """Write all sheets as one PDF.

    Args:
        study: What was computed.
        folder: Where to.
        notes: What the exporters before had to say; not needed here.

    Returns:
        The file, or a note why there is none.

    Raises:
        ExportError: when cadquery, reportlab or shapely is missing.
    """
    try:
        made = sheets(study)
    except ImportError as error:
        raise ExportError(f"{DRAWINGS} needs cadquery, shapely and reportlab ({error})") from error
    if not made:
        return Made((), (f"{DRAWINGS} left out: nothing was placed",))
    title = f"{study.case.vehicle.name}, {study.case.brief.name}: drawings"
    return Made((write_pdf(made, folder / DRAWINGS, title),))


def sheets(study: Study, projection: Projection = PROJECTION) -> list[Sheet]:
    """All sheets in their order; none when nothing was placed.

    Args:
        study: What was computed.
        projection: First-angle as in Europe, or third-angle.
    """
    root = assembly_tree(study)
    if root is None:
        return []
    heading = heading_of(study, projection)
    shapes = shapes_of(leaves(root), study.case)
    whole = _views(root, study.case, shapes)
    made = [general_sheet(study, whole, heading), parts_sheet(study, whole, heading)]
    frame = study.framed.frame if study.framed is not None else None
    if frame is not None and frame.members:
        made += frame_sheets(frame, _views(frame_tree(frame), study.case, shapes), heading)
        made += [plate_sheet(mark, flat(mark.plates[0], study.case), heading) for mark in plate_marks(frame)]
    number_sheets(made)
    return made


def _views(root: Group, case: Case, shapes: Mapping[int, Any]) -> dict[str, View]:
    looks = (SIDE, FRONT, TOP, ROUND)
    return {look.name: view(compound(leaves(root), case, shapes, look), look) for look in looks}
