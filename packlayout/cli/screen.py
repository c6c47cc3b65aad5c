"""The command for many vehicles: is this car compatible with our pack?"""

from pathlib import Path
from typing import Annotated

import typer

from packlayout.cli.door import (
    AsJson,
    Debug,
    Quiet,
    Seed,
    app,
    interruptible,
    print_groups,
    print_json,
    say_to,
    told,
)


@app.command()
def screen(
    kit: Annotated[Path, typer.Argument(metavar="KIT", help="The kit: kits/NAME.yaml.")],
    vehicles: Annotated[
        list[Path],
        typer.Argument(metavar="VEHICLE...", help="Surveyed vehicles: bays/NAME or its vehicle.yaml."),
    ],
    seed: Seed = 0,
    as_json: AsJson = False,
    quiet: Quiet = False,
    debug: Debug = False,
) -> None:
    """One kit against many vehicles: which it fits, what is in the way, and what each comes to.

    Example: packlayout screen my-shop/kits/eight-modules.yaml my-shop/bays/quillon-estate my-shop/bays/brindlow-van
    """
    with told(debug):
        from packlayout.export.screening_documents import screen_json, screen_lines
        from packlayout.inputs.kits import read_candidates
        from packlayout.screening import screen as screened

        candidates = read_candidates(kit, vehicles)
        say = say_to(quiet)
        for candidate in candidates:
            for note in candidate.case.notes if candidate.case is not None else ():
                say(f"note: {candidate.vehicle}: {note}")
        with interruptible():
            found = screened({c.vehicle: (c.case, c.lacking) for c in candidates}, seed, say)
        if as_json:
            print_json(screen_json(kit.stem, seed, found))
        else:
            print_groups(*screen_lines(kit.stem, found))
        raise typer.Exit(0 if all(row.answer == "fits" for row in found.rows) else 1)
