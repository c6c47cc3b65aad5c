"""What lies on the desk when it is opened."""

from collections.abc import Callable
from pathlib import Path

from packlayout.desk.catalogue import Catalogue
from packlayout.desk.session import Desk
from packlayout.inputs.layouts import read_layout_case
from packlayout.inputs.workshop import find_workshop
from packlayout.model.brief import Case
from packlayout.model.layout import Layout

FIRST = "layout-1.yaml"


def open_desk(case: Case, folder: Path, layout: Path | None, seed: int, say: Callable[[str], None]) -> Desk:
    """The desk with a layout on it: the one given, the one left there, the best one found before, or a new search.

    Args:
        case: As read.
        folder: `exports/VEHICLE-BRIEF`.
        layout: A layout file to begin with.
        seed: Of the search.
        say: Told what is being done.

    Raises:
        InputError: for a layout file that is no good.
        ExportError: when the folder cannot be written.
    """
    made = Desk(case, folder, Catalogue(find_workshop(case.root)))
    if layout is not None:
        noted, given = read_layout_case(layout, case)
        for note in noted.notes[len(case.notes) :]:
            say(f"note: {note}")
        made.begin_with(given, f"opened {layout.name}")
        return made
    if made.resume():
        say("going on where the desk was left")
        return made
    first = folder / FIRST
    if first.is_file():
        made.begin_with(read_layout_case(first, case)[1], f"opened {FIRST}")
        return made
    from packlayout.study import run

    study = run(case, seed, progress=say)
    made.begin_with(study.layout if study.layout is not None else Layout(()), "searched")
    return made
