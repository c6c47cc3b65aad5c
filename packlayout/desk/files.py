"""The files that the desk keeps in exports/VEHICLE-BRIEF: the layout as it stands, written at every change."""

import os
from pathlib import Path

from packlayout.errors import ExportError
from packlayout.export.layout_file import layout_text
from packlayout.model.brief import Case
from packlayout.model.layout import Layout
from packlayout.study import Study

LAYOUT = "desk-layout.yaml"


def text_of_layout(case: Case, layout: Layout) -> str:
    """The layout file's text, the same as the exporter writes."""
    bare = Study(
        case=case, seed=0, placed=None, layout=layout, framed=None, weighing=None, checks=(), not_done=()
    )
    return layout_text(bare, layout)


def save_layout(case: Case, layout: Layout, folder: Path) -> None:
    """Write `desk-layout.yaml`, whole or not at all.

    Raises:
        ExportError: when it cannot be written; what was there before is as it was.
    """
    path = folder / LAYOUT
    beside = folder / f".{LAYOUT}.{os.getpid()}.tmp"
    try:
        folder.mkdir(parents=True, exist_ok=True)
        with beside.open("w", encoding="utf-8") as file:
            file.write(text_of_layout(case, layout))
            file.flush()
            os.fsync(file.fileno())
        beside.replace(path)
    except OSError as error:
        raise ExportError(f"{path} could not be written: {error.strerror}") from error
