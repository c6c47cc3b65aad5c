"""CSV as spreadsheets take it: UTF-8, CR LF, and never a cell that would be taken for a formula."""

import csv
import io
from collections.abc import Iterable, Sequence
from pathlib import Path


def write_csv(path: Path, head: Sequence[str], rows: Iterable[Sequence[str]]) -> Path:
    """Write a head line and rows."""
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\r\n")
    writer.writerow(head)
    writer.writerows([_safe(cell) for cell in row] for row in rows)
    path.write_bytes(text.getvalue().encode("utf-8"))
    return path


def _safe(cell: str) -> str:
    """A name that a spreadsheet would take for a formula gets an apostrophe, as spreadsheets do it."""
    return f"'{cell}" if cell[:1] in ("=", "+", "@", "\t", "\r") else cell
