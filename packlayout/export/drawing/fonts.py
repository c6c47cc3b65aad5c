"""The font of sheets and of the PDF report: DejaVu Sans, embedded, since it has the signs a drawing needs."""

from functools import cache
from pathlib import Path

from packlayout.errors import ExportError

_FILES = {"DejaVuSans": "DejaVuSans.ttf", "DejaVuSans-Bold": "DejaVuSans-Bold.ttf"}
# height of capital letters over the size of the font
_CAPITALS = 0.729


@cache
def _registered() -> None:
    try:
        import matplotlib
        from reportlab.pdfbase import pdfmetrics
        from reportlab.pdfbase.ttfonts import TTFont
    except ImportError as error:
        raise ExportError(f"PDF files need reportlab and matplotlib ({error})") from error
    folder = Path(matplotlib.get_data_path()) / "fonts" / "ttf"
    for name, file in _FILES.items():
        pdfmetrics.registerFont(TTFont(name, str(folder / file)))
    pdfmetrics.registerFontFamily("DejaVuSans", normal="DejaVuSans", bold="DejaVuSans-Bold", italic="DejaVuSans",
                                  boldItalic="DejaVuSans-Bold")  # fmt: skip


def face(*, bold: bool = False) -> str:
    """Name of the font, ready for use."""
    _registered()
    return "DejaVuSans-Bold" if bold else "DejaVuSans"


def points(height_mm: float) -> float:
    """Size of the font, points, at which capital letters are so high."""
    return height_mm / _CAPITALS / 25.4 * 72
