"""Tables on a sheet."""

from collections.abc import Sequence

from packlayout.export.drawing.sheet import LETTERS_MM, Sheet, Text, shortened, text_width

ROW_MM = 4.6


def table_size(
    head: Sequence[str], rows: Sequence[Sequence[str]], widest: float
) -> tuple[tuple[float, ...], float]:
    """Widths of the columns as their words need them, none wider than `widest`, and the height of all rows."""
    widths = tuple(
        min(
            widest,
            max(text_width(str(row[k]), LETTERS_MM, bold=not n) for n, row in enumerate((head, *rows))) + 3.0,
        )
        for k in range(len(head))
    )
    return widths, ROW_MM * (len(rows) + 1)


def add_table(
    sheet: Sheet, x: float, y: float, head: Sequence[str], rows: Sequence[Sequence[str]], *, name: str,
    figures: frozenset[int] = frozenset(), widest: float = 60.0,
) -> tuple[float, float]:  # fmt: skip
    """Draw a table with its upper left corner at x, y, and take its room.

    Returns:
        Its width and height.
    """
    widths, tall = table_size(head, rows, widest)
    wide = sum(widths)
    sheet.rect((x, y - tall, x + wide, y), "visible")
    sheet.take("table", name, (x, y - tall, x + wide, y))
    left = x
    for k, width in enumerate(widths):
        if k:
            sheet.stroke(((left, y), (left, y - tall)), "thin")
        for n, row in enumerate((head, *rows)):
            base = y - ROW_MM * (n + 1) + 1.3
            words = shortened(str(row[k]), width - 2.4, LETTERS_MM, bold=not n)
            right = k in figures and n > 0
            sheet.write(Text(left + (width - 1.2 if right else 1.2), base, words, LETTERS_MM,
                             "end" if right else "start", bold=not n), within=True)  # fmt: skip
        left += width
    for n in range(1, len(rows) + 1):
        sheet.stroke(((x, y - ROW_MM * n), (x + wide, y - ROW_MM * n)), "visible" if n == 1 else "thin")
    return wide, tall
