"""`report.html`: one file that opens offline, with the answer first and everything it rests on after it."""

import base64
import tempfile
from pathlib import Path
from typing import Any

from packlayout import __version__
from packlayout.errors import ExportError
from packlayout.export import report_tables as tables
from packlayout.export.pack import Made
from packlayout.export.pictures import SIDE, THREE_QUARTER, write_pictures
from packlayout.export.report_answers import SIGNS, answers
from packlayout.export.report_drawing import axle_drawing
from packlayout.study import Study

REPORT = "report.html"
_PICTURES = {SIDE: "From the left side", THREE_QUARTER: "From the front left, above"}
# high voltage: the limit of class B, 60 V d.c., is from ISO 6469-3 (value from memory)
_CAUTIONS = (
    "A battery pack is live at all times: above 60 V d.c. it can kill, and nothing in this report makes it safe to "
    "touch. Work on it with the service disconnect out, proven dead, by people trained for it.",
    "Battery modules, motors and frames are heavy and fall: lift with tackle, keep hands and feet from under.",
    "In a crash the parts pull at their frame with many times their mass. Whether frame, welds, bolts and the body "
    "round them hold is to be shown by calculation or test for the design code that applies.",
    "A converted vehicle brakes, steers and tips differently. Brakes, springs and tyres are to be looked at for the "
    "new axle loads.",
    "Limits in this report are data from the files named below, not law. Local codes, the approval authority and "
    "licensed engineers and electricians decide.",
)


def write_report(study: Study, folder: Path, notes: tuple[str, ...]) -> Made:
    """Write the report; pictures that are not in the folder yet are drawn for it.

    Args:
        study: What was computed.
        folder: Where to, and where the pictures are.
        notes: What the exporters before left out; told in the report.

    Returns:
        The file; a note when there are no pictures and nobody has said so yet.

    Raises:
        ExportError: when jinja2 is missing.
    """
    fresh: tuple[str, ...] = ()
    pictures = _pictures(folder)
    if not pictures and not any(note.startswith("pictures") for note in notes):
        with tempfile.TemporaryDirectory(prefix="packlayout-") as own:
            fresh = write_pictures(study, Path(own), notes).notes
            pictures = _pictures(Path(own))
    (folder / REPORT).write_text(report(study, pictures, notes + fresh), encoding="utf-8")
    return Made((folder / REPORT,), fresh)


def _pictures(folder: Path) -> dict[str, bytes]:
    return {name: (folder / name).read_bytes() for name in _PICTURES if (folder / name).is_file()}


def report(study: Study, pictures: dict[str, bytes], notes: tuple[str, ...] = ()) -> str:
    """The report as HTML.

    Every name in it is text that someone may have typed: the template escapes all of them.

    Args:
        study: What was computed.
        pictures: PNG bytes by file name, of those that `write_pictures` makes.
        notes: What was left out and why.

    Returns:
        The document; it loads nothing from anywhere.
    """
    try:
        import jinja2
    except ImportError as error:
        raise ExportError(f"{REPORT} needs jinja2, which cannot be imported here ({error})") from error
    surroundings = jinja2.Environment(
        loader=jinja2.FileSystemLoader(Path(__file__).parent), autoescape=True, trim_blocks=True, lstrip_blocks=True,
        undefined=jinja2.StrictUndefined, keep_trailing_newline=True,
    )  # fmt: skip
    return surroundings.get_template("report.html.jinja").render(**_content(study, pictures, notes))


def _content(study: Study, pictures: dict[str, bytes], notes: tuple[str, ...]) -> dict[str, Any]:
    case, layout, weighing = study.case, study.layout, study.weighing
    frame = study.framed.frame if study.framed is not None else None
    return {
        "case": case,
        "version": __version__,
        "seed": study.seed,
        "answers": answers(study),
        "signs": SIGNS,
        "drawing": axle_drawing(case, weighing) if weighing is not None else None,
        "pictures": [(_PICTURES[name], base64.b64encode(data).decode("ascii")) for name, data in pictures.items()],
        "layouts": tables.layout_table(study),
        "placements": tables.placement_rows(case, layout) if layout is not None else [],
        "why_not_more": study.placed.why_not_more if study.placed is not None else (),
        "weighing": [
            tables.state_table(weighing), tables.payload_table(weighing), tables.ledger_table(weighing),
            tables.inertia_table(weighing),
        ] if weighing is not None else [],
        "frame": [tables.cut_table(frame), tables.plate_table(frame)] if frame is not None else [],
        "frame_kg": tables.frame_mass(frame) if frame is not None else "",
        "checks": tables.check_rows(study.checks),
        "sources": tables.source_table(case, layout),
        "notes": case.notes,
        "not_done": study.not_done,
        "left_out": notes,
        "cautions": _CAUTIONS,
    }  # fmt: skip
