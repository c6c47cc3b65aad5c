"""A chart as an SVG file of its own, in the light colours of the page."""

from html import escape

from packlayout.export.chart_looks import INK, LOOKS, WORD_LOOKS
from packlayout.export.charts import LETTER, WIDTH, Bar, Chart, Ring, Stroke

_OVAL = ("before", "after", "laden")


def svg(chart: Chart) -> str:
    """The chart as text."""
    lines = [
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {WIDTH:g} {chart.height:g}" role="img">',
        f"<title>{escape(chart.title)}</title><desc>{escape(chart.caption)}</desc>",
        f'<rect width="{WIDTH:g}" height="{chart.height:g}" fill="#ffffff"/>',
    ]
    for mark in chart.marks:
        if isinstance(mark, Stroke):
            points = " ".join(f"{x:.2f},{y:.2f}" for x, y in mark.points)
            lines.append(
                f'<{"polygon" if mark.closed else "polyline"} points="{points}" {_paint(mark.look, mark.closed)}/>'
            )
        elif isinstance(mark, Bar):
            lines.append(
                f'<rect x="{mark.x:.2f}" y="{mark.y:.2f}" width="{mark.width:.2f}" height="{mark.height:.2f}" '
                f"{_paint(mark.look, True)}/>"
            )
        elif isinstance(mark, Ring):
            lines.append(
                f'<circle cx="{mark.x:.2f}" cy="{mark.y:.2f}" r="{mark.radius:g}" {_paint(mark.look, True)}/>'
            )
        else:
            weight = ' font-weight="bold"' if mark.look == "strong" else ""
            lines.append(
                f'<text x="{mark.x:.2f}" y="{mark.y:.2f}" text-anchor="{mark.anchor}" font-size="{LETTER:g}"{weight} '
                f'font-family="DejaVu Sans, sans-serif" fill="{WORD_LOOKS.get(mark.look, INK)}">{escape(mark.text)}</text>'
            )
    return "\n".join([*lines, "</svg>\n"])


def _paint(look: str, filled: bool) -> str:
    stroke, width, fill = LOOKS.get(look, (INK, 1.0, None))
    made = f'fill="{fill if filled and fill else "none"}"'
    if stroke:
        made += f' stroke="{stroke}" stroke-width="{width:g}"'
    elif filled and look in _OVAL:
        made += f' stroke="{INK}" stroke-width="1" fill-opacity="0.55"'
    return made + (' stroke-dasharray="5 4"' if look == "limit" else "")
