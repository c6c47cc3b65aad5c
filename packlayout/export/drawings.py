"""`drawings.pdf`: general arrangement, frame and plates, as a shop draws them."""

from collections.abc import Mapping, Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any

from packlayout.errors import ExportError
from packlayout.export.drawing.assemblies import assemblies
from packlayout.export.drawing.bracket_sheets import bracket_sheets
from packlayout.export.drawing.frame_of_sheet import heading_of, number_sheets
from packlayout.export.drawing.frame_sheets import frame_sheets, hole_sheets, list_sheets
from packlayout.export.drawing.general import general_sheet, parts_sheet
from packlayout.export.drawing.harness_sheet import harness_sheets
from packlayout.export.drawing.paper import write_pdf
from packlayout.export.drawing.plate_sheets import plate_sheet
from packlayout.export.drawing.sheet import Sheet
from packlayout.export.drawing.sight import Sight
from packlayout.export.drawing.views import FRONT, ROUND, SIDE, TOP, Look, View, compound, shapes_of, view
from packlayout.export.drawing.weld_sheets import kinds_of, weld_list, weld_sheet
from packlayout.export.flats import flat, landings
from packlayout.export.pack import Made
from packlayout.export.piece_marks import plate_marks
from packlayout.export.tree import Leaf, assembly_tree, frame_tree, leaves
from packlayout.export.welds import welds
from packlayout.frame.bolting import bore_mm
from packlayout.frame.tubes import Plate
from packlayout.model.brief import Case
from packlayout.study import Study

DRAWINGS = "drawings.pdf"


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


def sheets(study: Study) -> list[Sheet]:
    """All sheets in their order, in the projection that the brief asks for; none when nothing was placed."""
    root = assembly_tree(study, harness=False)
    if root is None:
        return []
    heading = heading_of(study)
    plain = [undrilled(leaf) for leaf in leaves(root)]
    shapes = shapes_of(plain, study.case)
    whole = {look.name: _view(plain, study.case, shapes, look) for look in (SIDE, FRONT, TOP, ROUND)}
    made = [
        general_sheet(study, whole, heading),
        parts_sheet(study, whole, heading, Sight(leaves(root), study.case, ROUND)),
    ]
    made += harness_sheets(study, whole, heading)
    frame = study.framed.frame if study.framed is not None else None
    if frame is not None and frame.members:
        found = welds(frame, study.case)
        things = list(leaves(frame_tree(frame)))
        bare = [undrilled(leaf) for leaf in things]
        exact, rough = shapes_of(things, study.case), shapes_of(bare, study.case)
        frames, brackets = assemblies(frame, found)
        kinds = kinds_of(found)
        for one in frames:
            names = {piece.name for piece in (*one.frame.members, *one.frame.plates)}
            drilled = [leaf for leaf in things if leaf.piece.name in names]
            plain = [leaf for leaf in bare if leaf.piece.name in names]
            # holes cost the kernel dear: the plan gets them as circles, and from the sides they would not show
            views = {look.name: _view(plain, study.case, rough, look) for look in (SIDE, FRONT, TOP)}
            views[ROUND.name] = _view(drilled, study.case, exact, ROUND)
            sights = {look.name: Sight(drilled, study.case, look) for look in (ROUND, TOP)}
            bored = [
                (b.at, b.into, bore_mm(b.clearance_mm, study.case.threads))
                for leaf in drilled
                for b in leaf.bores
            ]
            made += frame_sheets(one, views, heading, sights, bored)
            made.append(weld_sheet(one, kinds, views[ROUND.name], heading, sights[ROUND.name]))
        made += hole_sheets(frame, heading, study.case.threads)
        made += bracket_sheets(brackets, things, study.case, exact, heading)
        made += list_sheets(*weld_list(found, frame), heading)
        made += [
            plate_sheet(mark, flat(mark.plates[0], study.case), heading, landings(mark, frame, study.case))
            for mark in plate_marks(frame)
        ]
    number_sheets(made)
    return made


def _view(things: Sequence[Leaf], case: Case, shapes: Mapping[int, Any], look: Look) -> View:
    return view(compound(things, case, shapes, look), look)


def undrilled(leaf: Leaf) -> Leaf:
    """The same thing without its holes: what a small scale shows."""
    if isinstance(leaf.piece, Plate):
        return Leaf(leaf.name, leaf.kind, replace(leaf.piece, holes=()))
    return Leaf(leaf.name, leaf.kind, leaf.piece)
