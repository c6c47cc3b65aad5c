"""Border and title block of a sheet, after ISO 5457 and ISO 7200, with the sign of the projection."""

import os
from dataclasses import dataclass
from typing import Literal

from packlayout import __version__
from packlayout.export.drawing.sheet import LETTERS_MM, Circle, Rect, Sheet, Text, shortened, text_width
from packlayout.export.pack import stamp
from packlayout.study import Study

Projection = Literal["first", "third"]
BLOCK_MM = (180.0, 42.0)
TOLERANCE = "General tolerances ISO 2768-m"
UNSIGNED = "Not released until a licensed engineer has approved it; local codes decide."


@dataclass(frozen=True, slots=True)
class Heading:
    """What the title block says beside title, scale and sheet number.

    Attributes:
        vehicle: And brief.
        number: Identification of the set of drawings.
        material: Of what is drawn; may be empty.
        projection: First-angle or third-angle.
        owner: Legal owner; may be empty.
        issued: Date of issue; empty leaves a line to write it on.
        revision: May be empty.
    """

    vehicle: str
    number: str
    material: str
    projection: Projection
    owner: str = ""
    issued: str = ""
    revision: str = ""


def heading_of(study: Study) -> Heading:
    """The heading of all sheets of a study.

    The date of issue is the brief's own, else that of SOURCE_DATE_EPOCH; never the clock's, which would make two
    exports of the same thing differ.
    """
    frame = study.framed.frame if study.framed is not None else None
    case, wanted = study.case, study.case.brief.documents
    by_epoch = stamp().strftime("%Y-%m-%d") if os.environ.get("SOURCE_DATE_EPOCH") else ""
    return Heading(
        f"{case.vehicle.name}: {case.brief.name}", case.key, frame.material.name if frame else "",
        "first" if wanted.projection == "first angle" else "third", wanted.owner, wanted.issued or by_epoch,
        wanted.revision,
    )  # fmt: skip


def block_box(sheet: Sheet) -> Rect:
    """Where the title block is: the lower right corner."""
    x0, y0, x1, _ = sheet.room
    wide = min(BLOCK_MM[0], x1 - x0)
    return x1 - wide, y0, x1, y0 + BLOCK_MM[1]


def add_frame(sheet: Sheet, heading: Heading) -> None:
    """Draw border and title block, and take their room; sheet numbers follow when the set is complete."""
    sheet.rect(sheet.room, "border")
    box = block_box(sheet)
    sheet.take("title block", sheet.title, box)
    sheet.rect(box, "visible")
    x0, y0, x1, _ = box
    wide = x1 - x0
    rows = (y0 + 9, y0 + 18, y0 + 27)
    for y in rows:
        sheet.stroke(((x0, y), (x1, y)), "thin")
    thirds = (x0 + 0.36 * wide, x0 + 0.68 * wide)
    for x in thirds:
        sheet.stroke(((x, y0), (x, rows[1])), "thin")
    sheet.stroke(((x0 + 0.76 * wide, rows[2]), (x0 + 0.76 * wide, box[3])), "thin")
    cells = (
        (x0, rows[2], 0.76 * wide, "title", sheet.title, 4.0),
        (x0, rows[1], 0.52 * wide, "vehicle and job", heading.vehicle, 3.0),
        (x0 + 0.52 * wide, rows[1], 0.34 * wide, "legal owner", heading.owner, LETTERS_MM),
        (x0, rows[0], 0.36 * wide, "identification number", heading.number, LETTERS_MM),
        (thirds[0], rows[0], 0.32 * wide, "material", heading.material or "see the list", LETTERS_MM),
        (
            thirds[1],
            rows[0],
            0.32 * wide,
            "tolerances, mm",
            TOLERANCE.removeprefix("General tolerances "),
            LETTERS_MM,
        ),
        (x0, y0, 0.36 * wide, "made by", f"packlayout {__version__}", LETTERS_MM),
        (thirds[0], y0, 0.32 * wide, "approved by, date", "", LETTERS_MM),
        (thirds[1], y0, 0.125 * wide, "date of issue", heading.issued, LETTERS_MM),
        (thirds[1] + 0.125 * wide, y0, 0.055 * wide, "rev.", heading.revision, LETTERS_MM),
        (thirds[1] + 0.18 * wide, y0, 0.05 * wide, "size", sheet.size, LETTERS_MM),
        (x0 + 0.76 * wide, rows[2], 0.24 * wide, "scale", sheet.scale, 4.0),
    )
    for x, y, room, label, text, height in cells:
        sheet.write(Text(x + 1.2, y + 6.7, label, 1.6), within=True)
        words, fit = fitted(text, room - 2.4, height)
        sheet.write(Text(x + 1.2, y + 1.6, words, fit), within=True)
    sheet.write(Text(x0 + 1.2, box[3] - 3.0, UNSIGNED, 1.8), within=True)
    _sign(sheet, heading.projection, x1 - 14.0, rows[1] + 4.5)


def fitted(text: str, width: float, height: float) -> tuple[str, float]:
    """A text in the largest letters up to a height in which it fits; cut short where the smallest are too large."""
    for share in (1.0, 0.9, 0.8, 0.7):
        if text_width(text, height * share) <= width:
            return text, height * share
    least = max(height * 0.7, min(height, 1.8))
    return shortened(text, width, least), least


def number_sheets(sheets: list[Sheet]) -> None:
    """Write `sheet n of m` into each title block."""
    for n, sheet in enumerate(sheets, start=1):
        x0, y0, x1, _ = block_box(sheet)
        x = x0 + 0.92 * (x1 - x0)
        sheet.write(Text(x + 1.2, y0 + 6.7, "sheet", 1.6), within=True)
        sheet.write(Text(x + 1.2, y0 + 1.6, f"{n} / {len(sheets)}"), within=True)


def _sign(sheet: Sheet, projection: Projection, x: float, y: float) -> None:
    """A cone seen from the side and from its end (ISO 5456-2): the end view on the other side for third angle."""
    cone, ring = (x - 5.5, x + 4.5) if projection == "first" else (x + 4.5, x - 5.5)
    small, large = (cone - 3.5, cone + 3.5)
    sheet.stroke(
        ((small, y - 1.5), (large, y - 3), (large, y + 3), (small, y + 1.5), (small, y - 1.5)), "thin"
    )
    sheet.marks += [Circle(ring, y, 1.5, "thin"), Circle(ring, y, 3.0, "thin")]
    sheet.stroke(((small - 1, y), (large + 1, y)), "centre")
    sheet.stroke(((ring - 4, y), (ring + 4, y)), "centre")
