"""The commands for the workshop folder itself: begin one, begin a vehicle, check what is in it."""

from pathlib import Path
from typing import Annotated

import typer

from packlayout.cli.door import AsJson, Debug, Quiet, app, print_json, told


@app.command()
def init(
    folder: Annotated[Path, typer.Argument(metavar="DIR", help="A folder that is empty or not there yet.")],
    quiet: Quiet = False,
    debug: Debug = False,
) -> None:
    """Start a workshop folder: starter parts, reference tables, one demo vehicle.

    Example: packlayout init my-shop
    """
    with told(debug):
        from packlayout.inputs.starter import start

        start(folder)
        if not quiet:
            print(f"{folder} is ready. Try: packlayout fit {folder}/bays/quillon-estate/piano-tuner.yaml")


@app.command()
def survey(
    folder: Annotated[
        Path, typer.Argument(metavar="DIR", help="The new vehicle's folder: my-shop/bays/NAME.")
    ],
    quiet: Quiet = False,
    debug: Debug = False,
) -> None:
    """Begin a new vehicle: a measuring sheet to print, and a vehicle.yaml to fill in from it.

    Example: packlayout survey my-shop/bays/grey-van
    """
    with told(debug):
        from packlayout.inputs.survey import survey as make

        for path in make(folder):
            if not quiet:
                print(path)


@app.command()
def check(
    paths: Annotated[list[Path], typer.Argument(metavar="PATH...", help="Files or folders.")],
    as_json: AsJson = False,
    quiet: Quiet = False,
    debug: Debug = False,
) -> None:
    """Read files and say all that is wrong with them, each at file:line.

    Example: packlayout check my-shop
    """
    with told(debug):
        from packlayout.inputs.check import check_paths

        faults, notes = check_paths(paths)
        if as_json:
            rows = [
                {"file": str(f.file), "line": f.line, "field": f.field, "found": f.found, "allowed": f.allowed,
                 "advice": f.advice}
                for f in faults
            ]  # fmt: skip
            print_json({"faults": rows, "notes": notes})
        else:
            for note in notes if not quiet else ():
                print(f"note: {note}")
            for fault in faults:
                print(fault)
            if not quiet:
                print(f"{len(faults)} fault{'s' if len(faults) != 1 else ''} found")
        raise typer.Exit(2 if faults else 0)
