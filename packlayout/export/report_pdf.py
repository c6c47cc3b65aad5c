"""`report.pdf`: the same blocks as the page, set on A4 with vectors for charts and text that can be selected."""

import io
from pathlib import Path
from typing import Any

from packlayout import __version__
from packlayout.errors import ExportError
from packlayout.export import charts
from packlayout.export.blocks import (
    Answer,
    Block,
    Bullets,
    Danger,
    Digests,
    Fact,
    Facts,
    Head,
    Picture,
    Section,
    Table,
    Text,
    Turning,
)
from packlayout.export.chart_looks import FAINT, INK, LOOKS, RULE, WORD_LOOKS
from packlayout.export.drawing.fonts import face
from packlayout.export.pack import Made
from packlayout.export.report import pictures_of
from packlayout.export.report_answers import SIGNS
from packlayout.export.report_content import content
from packlayout.study import Study

REPORT_PDF = "report.pdf"
_MM = 72 / 25.4
_WIDE = 180 * _MM
_LONG_WORD, _BROKEN_WORD = 95.0, 60.0
"""As wide as a column gets for its longest word: where there is room, and where there is none, points."""
_LEAST_UNDER_HEAD = 35 * _MM
_TALLEST = 235 * _MM
_VERDICTS = {"pass": "#00664a", "fail": "#a80036", "marginal": "#7a5200", "unknown": "#4b4f56"}


def write_report_pdf(study: Study, folder: Path, notes: tuple[str, ...]) -> Made:
    """Write the report as PDF.

    Args:
        study: What was computed.
        folder: Where to, and where the pictures are.
        notes: What the exporters before left out; told in the report.

    Raises:
        ExportError: when reportlab is missing.
    """
    path = folder / REPORT_PDF
    path.write_bytes(report_pdf(study, content(study, pictures_of(folder), notes)))
    return Made((path,))


def report_pdf(study: Study, sections: tuple[Section, ...]) -> bytes:
    """The report as the bytes of a PDF.

    Args:
        study: For the title.
        sections: What it says.
    """
    try:
        from reportlab.platypus import BaseDocTemplate, Frame, PageTemplate
    except ImportError as error:
        raise ExportError(f"{REPORT_PDF} needs reportlab, which cannot be imported here ({error})") from error
    face()
    case = study.case
    title = f"{case.vehicle.name}, {case.brief.name}: conversion report"
    made = io.BytesIO()
    document = BaseDocTemplate(
        made, pagesize=(210 * _MM, 297 * _MM), leftMargin=15 * _MM, rightMargin=15 * _MM, topMargin=14 * _MM,
        bottomMargin=16 * _MM, title=title, author="", creator=f"packlayout {__version__}", invariant=1,
    )  # fmt: skip
    body = Frame(15 * _MM, 16 * _MM, _WIDE, 267 * _MM, 0, 0, 0, 0)

    def footer(canvas: Any, _: Any) -> None:
        canvas.saveState()
        canvas.setFont("DejaVuSans", 7)
        canvas.setFillColor(FAINT)
        canvas.drawString(15 * _MM, 9 * _MM, title[:110])
        canvas.drawRightString(195 * _MM, 9 * _MM, str(canvas.getPageNumber()))
        canvas.restoreState()

    document.addPageTemplates(PageTemplate("page", [body], onPage=footer))
    document.build(_story(study, sections))
    return made.getvalue()


def _style(name: str) -> Any:
    from reportlab.lib.colors import HexColor
    from reportlab.lib.styles import ParagraphStyle

    size, lead, bold, ink, before, after = {
        "title": (18.0, 22.0, True, INK, 0, 2), "under": (11.0, 14.0, False, FAINT, 0, 4),
        "section": (13.0, 16.0, True, INK, 12, 4), "head": (10.0, 13.0, True, INK, 8, 3),
        "fact": (13.0, 16.0, True, INK, 0, 1),
        "body": (8.5, 11.5, False, INK, 0, 3), "faint": (7.5, 10.0, False, FAINT, 0, 3),
        "cell": (7.0, 8.6, False, INK, 0, 0), "cell-head": (7.0, 8.6, True, FAINT, 0, 0),
        "close": (5.9, 7.2, False, INK, 0, 0), "close-head": (5.9, 7.2, True, FAINT, 0, 0),
    }[name]  # fmt: skip
    return ParagraphStyle(
        name, fontName=face(bold=bold), fontSize=size, leading=lead, textColor=HexColor(ink), spaceBefore=before,
        spaceAfter=after, splitLongWords=1,
    )  # fmt: skip


def _said(text: str) -> str:
    """Text that someone may have typed, safe in reportlab's little markup."""
    return text.replace("&", "&amp;").replace("<", "&lt;").replace(">", "&gt;")


def _paragraph(text: str, style: str, *, right: bool = False) -> Any:
    from reportlab.platypus import Paragraph

    look = _style(style)
    if right:
        look.alignment = 2
    return Paragraph(text, look)


def _story(study: Study, sections: tuple[Section, ...]) -> list[Any]:
    case = study.case
    story = [
        _paragraph(_said(f"Conversion report, {case.vehicle.maker}"), "faint"),
        _paragraph(_said(case.vehicle.name), "title"),
        _paragraph(_said(case.brief.name), "under"),
    ]
    if case.brief.customer:
        story.append(_paragraph(_said(f"For: {case.brief.customer}"), "body"))
    heads: list[Any] = []
    for section in sections:
        heads.append(_paragraph(_said(section.title), "section"))
        for block in section.blocks:
            if isinstance(block, Head):
                heads += _set(block)
                continue
            story += _under(heads, _set(block))
            heads = []
    return [*story, *heads]


def _under(heads: list[Any], found: list[Any]) -> list[Any]:
    """Headings stay with what follows them."""
    from reportlab.platypus import CondPageBreak, KeepTogether

    if found and isinstance(found[0], list):
        return [KeepTogether([*heads, *found[0]]), *found[1:]]
    return [CondPageBreak(_LEAST_UNDER_HEAD), *heads, *found] if heads else found


def _set(block: Block) -> list[Any]:
    """A block as flowables; a list within the list is kept on one page."""
    from reportlab.platypus import Image, Spacer

    match block:
        case Text():
            return [_paragraph(_said(block.text), "faint" if block.faint else "body")]
        case Head():
            return [_paragraph(_said(block.text), "head")]
        case Bullets():
            return [_paragraph(f"•&nbsp;&nbsp;{_said(line)}", "body") for line in block.lines]
        case Answer():
            return [_answer(block), Spacer(1, 5 if block.details else 1)]
        case Danger():
            return [_danger(block), Spacer(1, 5)]
        case Facts():
            return [_facts(block), Spacer(1, 5)]
        case Picture():
            wide, tall = block.size
            width = min(_WIDE, _TALLEST * wide / tall)
            image = Image(io.BytesIO(block.png), width=width, height=width * tall / wide)
            return [[image, _paragraph(_said(block.words), "faint")]]
        case charts.Chart():
            return [[_drawing(block), Spacer(1, 2), _paragraph(_said(block.caption), "faint")]]
        case Turning():
            return []
        case Digests():
            return [_grid(Table(("file", "sha256"), block.rows, shares=(0.4, 0.6))), Spacer(1, 6)]
        case Table():
            if not block.rows:
                return []
            made = [_paragraph(_said(block.caption), "faint")] if block.caption else []
            return [*made, _grid(block), Spacer(1, 6)]


def _answer(answer: Answer) -> list[Any]:
    sign, ink = SIGNS[answer.verdict], _VERDICTS[answer.verdict]
    head = f'{_said(answer.question)} <font color="{ink}">{sign} {answer.verdict}</font>'
    if not answer.details:
        return [_paragraph(f"<b>{head}</b>: {_said(answer.sentence)}", "body")]
    return [
        _paragraph(head, "head"), _paragraph(_said(answer.sentence), "body"),
        *(_paragraph(f"•&nbsp;&nbsp;{_said(line)}", "body") for line in answer.details),
    ]  # fmt: skip


def _danger(block: Danger) -> Any:
    from reportlab.platypus import Table as Grid

    red = _VERDICTS["fail"]
    lines = [[_paragraph(f'<font color="{red}"><b>{_said(line)}</b></font>', "body")] for line in block.lines]
    return Grid(lines, colWidths=[_WIDE], style=[("BOX", (0, 0), (-1, -1), 1.6, red)])


def _facts(block: Facts) -> Any:
    """Three in a row, framed."""
    from reportlab.platypus import Table as Grid

    def cell(fact: Fact) -> list[Any]:
        return [
            _paragraph(_said(fact.name), "cell-head"), _paragraph(_said(fact.figure), "fact"),
            _paragraph(_said(fact.words), "close"),
        ]  # fmt: skip

    rows = [[cell(f) for f in block.facts[k : k + 3]] for k in range(0, len(block.facts), 3)]
    rows[-1] += [[] for _ in range(3 - len(rows[-1]))]
    look = [("GRID", (0, 0), (-1, -1), 0.5, RULE), ("VALIGN", (0, 0), (-1, -1), "TOP")]
    return Grid(rows, colWidths=[_WIDE / 3] * 3, style=look)


def _grid(table: Table) -> Any:
    from reportlab.platypus import LongTable

    style = "close" if table.close or len(table.head) > 7 else "cell"
    rows = [
        [_paragraph(_said(w), f"{style}-head", right=k in table.figures) for k, w in enumerate(table.head)]
    ]
    for n, row in enumerate(table.rows):
        rows.append(
            [
                _paragraph(_cell(table, n, k, text), style, right=k in table.figures)
                for k, text in enumerate(row)
            ]
        )
    look = [
        ("LINEBELOW", (0, 0), (-1, 0), 0.9, FAINT), ("LINEBELOW", (0, 1), (-1, -1), 0.3, RULE),
        ("VALIGN", (0, 0), (-1, -1), "TOP"), ("LEFTPADDING", (0, 0), (-1, -1), 2),
        ("RIGHTPADDING", (0, 0), (-1, -1), 3),
        ("TOPPADDING", (0, 0), (-1, -1), 1.6), ("BOTTOMPADDING", (0, 0), (-1, -1), 1.8),
    ]  # fmt: skip
    return LongTable(rows, colWidths=_widths(table, style), style=look, repeatRows=1, hAlign="LEFT")


def _cell(table: Table, row: int, column: int, text: str) -> str:
    if column == table.verdicts:
        return f'<font color="{_VERDICTS[text]}">{SIGNS[text]} {text}</font>'  # type: ignore[index]
    lines = [_said(line) for line in text.split("\n")]
    said = lines[0] + "".join(f'<br/><font color="{FAINT}">{line}</font>' for line in lines[1:])
    return f'<font color="{table.colours[row]}">■</font> {said}' if table.colours and column == 1 else said


def _widths(table: Table, style: str) -> list[float]:
    """As wide as the words need them; where that is too much, columns of figures keep their width."""
    from reportlab.pdfbase.pdfmetrics import stringWidth

    if table.shares:
        return [_WIDE * share for share in table.shares]
    size = 5.9 if style == "close" else 7.0

    def width(text: str, *, bold: bool = False) -> float:
        return max(stringWidth(part, face(bold=bold), size) for part in text.split("\n")) + 7

    def word(text: str, *, bold: bool = False) -> float:
        return max((width(w, bold=bold) for w in text.split()), default=7.0)

    whole, figures, words = [], [], []
    for k, name in enumerate(table.head):
        cells = [
            f"{'■ ' if table.colours and k == 1 else ''}{row[k]}{'xx' if k == table.verdicts else ''}"
            for row in table.rows
        ]
        body = max(width(c) for c in cells)
        head_word = word(name, bold=True)
        whole.append(max(body, min(width(name, bold=True), 1.6 * head_word)))
        fixed = k in table.figures or k == table.verdicts
        figures.append(max(head_word, body if fixed else 0.0))
        words.append(0.0 if fixed else max(word(c) for c in cells))
    if sum(whole) <= _WIDE:
        return whole
    # a word is broken only where there is no room for it
    least = list(figures)
    for longest in (_LONG_WORD, _BROKEN_WORD):
        least = [max(f, min(w, longest)) for f, w in zip(figures, words, strict=True)]
        if sum(least) < _WIDE:
            break
    # what is over the least is shared out to those that want more
    room = _WIDE - sum(least)
    if room <= 0:
        return [_WIDE * w / sum(least) for w in least]
    wish = [w - b for w, b in zip(whole, least, strict=True)]
    return [b + room * w / sum(wish) for b, w in zip(least, wish, strict=True)]


def _drawing(chart: charts.Chart) -> Any:
    """A chart as vectors."""
    from reportlab.graphics import shapes
    from reportlab.lib.colors import HexColor

    scale = _WIDE / charts.WIDTH
    drawing = shapes.Drawing(_WIDE, chart.height * scale)
    words: list[Any] = []
    group = shapes.Group(transform=(scale, 0, 0, -scale, 0, chart.height * scale))

    def paint(look: str, *, filled: bool) -> dict[str, Any]:
        stroke, width, fill = LOOKS.get(look, (INK, 1.0, None))
        made: dict[str, Any] = {"strokeColor": HexColor(stroke) if stroke else None, "strokeWidth": width}
        if filled:
            made["fillColor"] = HexColor(fill) if fill else None
        if look == "limit":
            made["strokeDashArray"] = [5, 4]
        return made

    for mark in chart.marks:
        match mark:
            case charts.Stroke():
                flat = [v for point in mark.points for v in point]
                if mark.closed:
                    made = paint(mark.look, filled=True)
                    if mark.look in ("before", "after", "laden"):
                        made |= {"strokeColor": HexColor(INK), "strokeWidth": 1.0, "fillOpacity": 0.55}
                    group.add(shapes.Polygon(flat, **made))
                else:
                    group.add(shapes.PolyLine(flat, **paint(mark.look, filled=False)))
            case charts.Bar():
                group.add(
                    shapes.Rect(mark.x, mark.y, mark.width, mark.height, **paint(mark.look, filled=True))
                )
            case charts.Ring():
                made = paint(mark.look, filled=True)
                if mark.look in ("before", "after", "laden"):
                    made |= {"strokeColor": HexColor("#ffffff"), "strokeWidth": 1.5}
                group.add(shapes.Circle(mark.x, mark.y, mark.radius, **made))
            case charts.Words():
                text = shapes.String(
                    mark.x * scale, (chart.height - mark.y) * scale, mark.text, textAnchor=mark.anchor,
                    fontName=face(bold=mark.look == "strong"), fontSize=charts.LETTER * scale,
                    fillColor=HexColor(WORD_LOOKS.get(mark.look, INK)),
                )  # fmt: skip
                words.append(text)
    drawing.add(group)
    for text in words:  # by itself: within the group it would stand on its head
        drawing.add(text)
    return drawing
