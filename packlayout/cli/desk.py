"""The command for the job by hand, in the browser."""

from typing import Annotated

import typer

from packlayout.cli.door import (
    BriefPath,
    Debug,
    LayoutPath,
    OutDir,
    Quiet,
    Seed,
    app,
    folder_of,
    say_to,
    told,
)


@app.command()
def desk(
    brief: BriefPath,
    layout: LayoutPath = None,
    out: OutDir = None,
    port: Annotated[
        int,
        typer.Option("--port", metavar="N", min=0, max=65535, help="Port on this machine; 0: any free one."),
    ] = 0,
    no_browser: Annotated[
        bool, typer.Option("--no-browser", help="Print the address, open nothing.")
    ] = False,
    seed: Seed = 0,
    quiet: Quiet = False,
    debug: Debug = False,
) -> None:
    """The same job by hand, in the browser: drag parts and watch the axle loads; saved at every change.

    Example: packlayout desk my-shop/bays/quillon-estate/piano-tuner.yaml
    """
    with told(debug):
        from packlayout.desk.guard import new_token
        from packlayout.desk.opening import open_desk
        from packlayout.desk.server import listening, serve
        from packlayout.inputs.case import read_case

        say = say_to(quiet)
        case = read_case(brief)
        for note in case.notes:
            say(f"note: {note}")
        door = listening(port)
        with door:
            made = open_desk(case, folder_of(case, out), layout, seed, say)

            def ready(address: str) -> None:
                print(address, flush=True)
                say("Stop with Ctrl-C. Every change is saved as it is made.")
                if not no_browser:
                    _show(address)

            serve(made, new_token(), door, ready)


def _show(address: str) -> None:
    import webbrowser

    webbrowser.open(address)
