"""Sheets -> one PDF: vectors to scale, text that can be selected, the same bytes each time."""

from collections.abc import Sequence
from pathlib import Path
from typing import Any

from packlayout import __version__
from packlayout.export.drawing.fonts import face, points
from packlayout.export.drawing.sheet import SIZES, Circle, Sheet, Stroke

# widths of line groups after ISO 128-2: 0.5 mm wide, 0.25 narrow; dashes in mm
_LINES: dict[str, tuple[float, tuple[float, ...]]] = {
    "visible": (0.35, ()), "thin": (0.18, ()), "leader": (0.18, ()), "hidden": (0.18, (2.0, 1.0)),
    "phantom": (0.18, (6.0, 1.0, 0.5, 1.0, 0.5, 1.0)), "centre": (0.18, (6.0, 1.0, 0.5, 1.0)), "border": (0.7, ()),
    "fold": (0.13, (1.0, 1.0)), "calibration": (0.5, ()), "run": (0.6, ()), "conduit": (1.2, ()),
}  # fmt: skip
_MM = 72 / 25.4


def write_pdf(sheets: Sequence[Sheet], path: Path, title: str) -> Path:
    """Write sheets as the pages of a PDF at true size; a viewer is told not to scale them when printing."""
    from reportlab.pdfgen.canvas import Canvas

    canvas = Canvas(str(path), invariant=1, pageCompression=1)
    canvas.setTitle(title)
    canvas.setCreator(f"packlayout {__version__}")
    canvas.setViewerPreference("PrintScaling", "None")
    for sheet in sheets:
        wide, tall = SIZES[sheet.size]
        canvas.setPageSize((wide * _MM, tall * _MM))
        canvas.scale(_MM, _MM)
        canvas.setLineJoin(1)
        for mark in sheet.marks:
            if isinstance(mark, Stroke):
                _stroke(canvas, mark)
            elif isinstance(mark, Circle):
                _line(canvas, mark.kind)
                canvas.circle(mark.x, mark.y, mark.radius, stroke=1, fill=0)
            else:
                _text(canvas, mark)
        canvas.showPage()
    canvas.save()
    return path


def _line(canvas: Any, kind: str) -> None:
    width, dashes = _LINES[kind]
    canvas.setLineWidth(width)
    canvas.setDash(list(dashes))
    # a round end would make the bar longer by its width
    canvas.setLineCap(0 if kind == "calibration" else 1)


def _stroke(canvas: Any, mark: Stroke) -> None:
    _line(canvas, mark.kind)
    path = canvas.beginPath()
    path.moveTo(*mark.points[0])
    for point in mark.points[1:]:
        path.lineTo(*point)
    if mark.filled:
        path.close()
    canvas.drawPath(path, stroke=0 if mark.filled else 1, fill=1 if mark.filled else 0)


def _text(canvas: Any, mark: Any) -> None:
    canvas.saveState()
    canvas.translate(mark.x, mark.y)
    if mark.angle:
        canvas.rotate(mark.angle)
    canvas.setFont(face(bold=mark.bold), points(mark.height) / _MM)
    draw = {"start": canvas.drawString, "middle": canvas.drawCentredString, "end": canvas.drawRightString}[
        mark.anchor
    ]
    draw(0, 0, mark.text)
    canvas.restoreState()
