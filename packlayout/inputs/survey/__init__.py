"""The start of a new vehicle: a measuring sheet to print, and a vehicle.yaml to fill in from it.

The two belong together: each box on the sheet bears the name of the field it is copied to.
"""

import html
import os
from importlib.resources import files
from pathlib import Path

from packlayout.errors import Fault, InputError
from packlayout.inputs.workshop import find_workshop

SHEET, VEHICLE = "measuring-sheet.html", "vehicle.yaml"


def survey(folder: Path) -> tuple[Path, ...]:
    """Write the sheet and the skeleton for one vehicle.

    Args:
        folder: `bays/NAME` in a workshop; made when it is not there.

    Returns:
        The files written.

    Raises:
        InputError: for a folder elsewhere, or one that has a vehicle already.
    """
    workshop = find_workshop(folder)
    absolute = Path(os.path.abspath(folder))  # noqa: PTH100 - `resolve` would follow symlinks
    if absolute.parent != workshop.root / "bays" or not workshop.holds(absolute):
        allowed = f"a folder of its own in {workshop.shown(workshop.root / 'bays')}"
        raise InputError(Fault(folder, 0, "", "is not a vehicle's folder", allowed))
    taken = [name for name in (VEHICLE, SHEET) if (absolute / name).exists()]
    if taken or absolute.is_file():
        found = f"has a {taken[0]} already" if taken else "is a file"
        raise InputError(
            Fault(folder, 0, "", found, "a new folder", "choose another name, or move the file away")
        )
    texts = {VEHICLE: _filled(VEHICLE, absolute.name), SHEET: _filled(SHEET, html.escape(absolute.name))}
    try:
        return _written(absolute, folder, texts)
    except OSError as error:
        reason = error.strerror or str(error)
        raise InputError(
            Fault(folder, 0, "", f"cannot be written ({reason})", "a folder you may write in")
        ) from error


def _filled(name: str, vehicle: str) -> str:
    text = (files("packlayout.inputs.survey") / name).read_text(encoding="utf-8")
    return text.replace("VEHICLE-NAME", vehicle)


def _written(target: Path, folder: Path, texts: dict[str, str]) -> tuple[Path, ...]:
    """Both files, or neither."""
    made = not target.exists()
    target.mkdir(exist_ok=True)
    unfinished = [(target / f"{name}.tmp", text) for name, text in texts.items()]
    try:
        for file, text in unfinished:
            file.write_text(text, encoding="utf-8", newline="\n")
        for file, _ in unfinished:
            file.replace(file.with_suffix(""))
    except OSError:
        for file, _ in unfinished:
            file.unlink(missing_ok=True)
        if made:
            target.rmdir()
        raise
    return tuple(folder / name for name in texts)
