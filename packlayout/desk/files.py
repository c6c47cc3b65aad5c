"""The files that the desk keeps in exports/VEHICLE-BRIEF: the layout as it stands, written at every change."""

import os
from dataclasses import replace
from pathlib import Path

from packlayout.desk.state import State
from packlayout.errors import ExportError
from packlayout.export.layout_file import layout_text
from packlayout.model.brief import Case
from packlayout.study import Study

LAYOUT = "desk-layout.yaml"


def text_of_layout(case: Case, state: State) -> str:
    """The layout file's text, as the exporter writes it.

    It states the clearances and the aims where they are not those of the brief, so that `--layout` judges as the
    desk does.

    Args:
        case: With the clearances and aims of the brief.
        state: What stands on the desk.
    """
    brief = case.brief
    layout = replace(
        state.layout,
        clearances=None if state.clearances == brief.clearances else state.clearances,
        aims=None if state.aims == brief.aims else state.aims,
    )
    bare = Study(
        case=case, seed=0, placed=None, layout=layout, framed=None, weighing=None, checks=(), not_done=()
    )
    return layout_text(bare, layout)


def save_layout(case: Case, state: State, folder: Path) -> None:
    """Write `desk-layout.yaml`, whole or not at all.

    Raises:
        ExportError: when it cannot be written; what was there before is as it was.
    """
    write_whole(folder / LAYOUT, text_of_layout(case, state))


def write_whole(path: Path, text: str) -> None:
    """Write a file beside its place, have the disk take it, and put it in its place.

    Raises:
        ExportError: when it cannot be written; what was there before is as it was.
    """
    beside = path.with_name(f".{path.name}.{os.getpid()}.tmp")
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        with beside.open("w", encoding="utf-8") as file:
            file.write(text)
            file.flush()
            os.fsync(file.fileno())
        beside.replace(path)
    except OSError as error:
        raise ExportError(f"{path} could not be written: {error.strerror}") from error


def set_aside(path: Path) -> None:
    """Give a file that is about something else the first free name with a number."""
    n = 1
    while (other := path.with_name(f"{path.stem}-{n}{path.suffix}")).exists():
        n += 1
    path.replace(other)
