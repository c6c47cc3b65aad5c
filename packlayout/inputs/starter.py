"""A new workshop folder: starter parts, reference tables, one measured vehicle with its brief."""

import shutil
import tempfile
from pathlib import Path

import packlayout
from packlayout.errors import Fault, InputError
from packlayout.inputs.schemas import write_schemas
from packlayout.inputs.workshop import is_workshop

FIRST_VEHICLE = "quillon-estate"
FIRST_BRIEF = "piano-tuner.yaml"
_KEPT = {".yaml", ".md", ".csv", ".step", ".stp", ".stl", ".ply", ".obj", ".glb"}

_README = f"""\
# A packlayout workshop

    packlayout fit bays/{FIRST_VEHICLE}/{FIRST_BRIEF}

places, weighs and frames the first job; the results are in `exports/`, `report.html` is the place to start.

- `modules/` what can be fitted: one YAML file per part
- `bays/` one folder per measured vehicle, with the briefs for it
- `kits/` packs that are fitted again and again, to be tried on many vehicles with `packlayout screen`
- `shared/` reference tables: tube stock, materials, fasteners, design codes, each with its source
- `exports/` everything the program writes; may be deleted at any time

For a vehicle of your own run `packlayout survey bays/NAME`, print the measuring sheet it writes, and fill in
`bays/NAME/vehicle.yaml`. `packlayout check .` says what is still missing or wrong, each at file and line.

The vehicles and parts that come with the program are invented. The design codes are data, not law: the code in
force where the vehicle is registered, and a licensed engineer, decide.
"""

_EXPORTS = """\
# Results

Everything the program writes, one folder per vehicle and brief. `report.html` is the place to start. The layouts
(`layout-1.yaml` and on) may be edited and given back with `--layout`. The folder may be emptied at any time.
"""


def starter_folder() -> Path:
    """The starter data: packed with an installed program, else the program's own checkout.

    Raises:
        InputError: when there is neither.
    """
    package = Path(packlayout.__file__).parent
    for folder in (package / "starter", package.parent):
        if is_workshop(folder) and (folder / "bays" / FIRST_VEHICLE).is_dir():
            return folder
    raise InputError(
        Fault(package, 0, "", "the starter parts are not there", "", "install the program again")
    )


def start(folder: Path) -> None:
    """Make a new workshop folder, whole or not at all.

    Args:
        folder: Not there yet, or empty.

    Raises:
        InputError: when there is something in it, or it cannot be written.
    """
    if folder.exists() and (not folder.is_dir() or any(folder.iterdir())):
        found = "is not empty" if folder.is_dir() else "is a file"
        raise InputError(Fault(folder, 0, "", found, "a folder that is empty or not there yet"))
    starter = starter_folder()
    try:
        folder.parent.mkdir(parents=True, exist_ok=True)
        with tempfile.TemporaryDirectory(prefix=".packlayout-", dir=folder.parent) as holder:
            unfinished = Path(holder) / "workshop"
            _fill(unfinished, starter)
            _move(unfinished, folder)
    except OSError as error:
        reason = error.strerror or str(error)
        raise InputError(
            Fault(folder, 0, "", f"cannot be written ({reason})", "a folder you may write in")
        ) from error


def _fill(target: Path, starter: Path) -> None:
    for name in ("modules", "shared", "kits"):
        shutil.copytree(starter / name, target / name, ignore=_left_out)
    bays = target / "bays"
    bays.mkdir()
    shutil.copyfile(starter / "bays" / "README.md", bays / "README.md")
    shutil.copytree(starter / "bays" / FIRST_VEHICLE, bays / FIRST_VEHICLE, ignore=_left_out)
    write_schemas(target / "shared" / "schemas")
    (target / "exports").mkdir()
    (target / "exports" / "README.md").write_text(_EXPORTS, encoding="utf-8", newline="\n")
    (target / "README.md").write_text(_README, encoding="utf-8", newline="\n")


def _left_out(folder: str, names: list[str]) -> list[str]:
    """Files that belong to the making of the starter data, not to the data."""
    return [name for name in names if (Path(folder) / name).is_file() and Path(name).suffix not in _KEPT]


def _move(made: Path, folder: Path) -> None:
    """Put a finished folder in its place; an empty one that is there already is kept and filled."""
    if not folder.exists():
        made.replace(folder)
        return
    moved: list[Path] = []
    try:
        for child in sorted(made.iterdir()):
            moved.append(folder / child.name)
            child.replace(moved[-1])
    except OSError:
        for child in moved:
            shutil.rmtree(child, ignore_errors=True)
            child.unlink(missing_ok=True)
        raise
