"""The doors: one command each. No logic; heavy imports only inside the command that needs them.

Exit status: 0 done and every check holds; 1 done, results written, and a check fails or cannot be made;
2 bad input or usage; 130 interrupted.
"""

import json
import os
import sys
from collections.abc import Callable
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any, NoReturn

import typer

from packlayout import __version__
from packlayout.errors import InputError, PacklayoutError

if TYPE_CHECKING:
    from collections.abc import Generator

    from packlayout.model.brief import Case
    from packlayout.study import Study

app = typer.Typer(
    name="packlayout",
    help="Fit a standard electric drive into an old car or van: place it, weigh it, frame it, hand it over.",
    epilog="First steps:  packlayout init my-shop  then  packlayout fit my-shop/bays/quillon-estate/piano-tuner.yaml",
    no_args_is_help=True,
    add_completion=False,
    rich_markup_mode=None,
    pretty_exceptions_enable=False,
    context_settings={"help_option_names": ["-h", "--help"]},
)

BriefPath = Annotated[Path, typer.Argument(metavar="BRIEF", help="The brief: bays/VEHICLE/BRIEF.yaml.")]
LayoutPath = Annotated[
    Path | None,
    typer.Option("--layout", metavar="FILE", help="Take this layout file instead of searching one."),
]
OutDir = Annotated[
    Path | None, typer.Option("--out", metavar="DIR", help="Where to write; default exports/VEHICLE-BRIEF.")
]
Seed = Annotated[
    int, typer.Option("--seed", metavar="N", min=0, help="Seed of the search; same seed, same answer.")
]
AsJson = Annotated[bool, typer.Option("--json", help="One JSON document on stdout; messages go to stderr.")]
Quiet = Annotated[bool, typer.Option("--quiet", help="No progress messages.")]
Debug = Annotated[bool, typer.Option("--debug", help="Show the traceback of an unexpected fault.")]


def _say(quiet: bool) -> Callable[[str], None]:
    """Progress goes to stderr, one line each."""

    def say(text: str) -> None:
        if not quiet:
            print(text, file=sys.stderr, flush=True)

    return say


@contextmanager
def _told(debug: bool) -> "Generator[None]":
    """Turns what is raised into a message and an exit status; tracebacks only with --debug."""
    try:
        yield
    except typer.Exit:
        raise
    except KeyboardInterrupt:
        print("interrupted; what was written is whole", file=sys.stderr)
        raise typer.Exit(130) from None
    except BrokenPipeError:
        # the reader of our output has gone, as with `| head`: nothing is wrong, and nothing more can be said
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        raise typer.Exit(0) from None
    except InputError as error:
        print(error, file=sys.stderr)
        count = len(error.faults)
        print(f"{count} fault{'s' if count != 1 else ''} found; nothing was written", file=sys.stderr)
        raise typer.Exit(2) from None
    except PacklayoutError as error:
        print(error, file=sys.stderr)
        raise typer.Exit(2) from None
    except Exception as error:
        if debug:
            raise
        print(f"unexpected fault: {type(error).__name__}: {error}", file=sys.stderr)
        print("run again with --debug for the traceback, and report it with your files", file=sys.stderr)
        raise typer.Exit(2) from None


def _study(brief: Path, layout: Path | None, seed: int, say: Callable[[str], None]) -> "Study":
    from packlayout import study
    from packlayout.inputs.case import read_case
    from packlayout.inputs.layouts import read_layout

    case = read_case(brief)
    for note in case.notes:
        say(f"note: {note}")
    given = read_layout(layout, case) if layout is not None else None
    return study.run(case, seed, given, say)


def _folder(case: "Case", out: Path | None) -> Path:
    return out if out is not None else case.root / "exports" / case.key


def _close(study: "Study") -> NoReturn:
    """Exit status by the checks: an unknown one does not hold either."""
    raise typer.Exit(1 if any(check.verdict in ("fail", "unknown") for check in study.checks) else 0)


def _print_json(document: dict[str, Any]) -> None:
    print(json.dumps(document, indent=1, ensure_ascii=False, allow_nan=False))


def _print(*groups: list[str]) -> None:
    print("\n\n".join("\n".join(group) for group in groups if group))


@app.callback(invoke_without_command=True)
def _main(
    context: typer.Context,
    version: Annotated[bool, typer.Option("--version", help="Print the version and stop.")] = False,
) -> None:
    if version:
        print(f"packlayout {__version__}")
        raise typer.Exit(0)
    if context.invoked_subcommand is None:
        print(context.get_help())
        raise typer.Exit(2)


@app.command()
def init(
    folder: Annotated[Path, typer.Argument(metavar="DIR", help="A folder that is empty or not there yet.")],
    quiet: Quiet = False,
    debug: Debug = False,
) -> None:
    """Start a workshop folder: starter parts, reference tables, one demo vehicle.

    Example: packlayout init my-shop
    """
    with _told(debug):
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
    with _told(debug):
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
    with _told(debug):
        from packlayout.inputs.check import check_paths

        faults, notes = check_paths(paths)
        if as_json:
            rows = [
                {"file": str(f.file), "line": f.line, "field": f.field, "found": f.found, "allowed": f.allowed,
                 "advice": f.advice}
                for f in faults
            ]  # fmt: skip
            _print_json({"faults": rows, "notes": notes})
        else:
            for note in notes if not quiet else ():
                print(f"note: {note}")
            for fault in faults:
                print(fault)
            if not quiet:
                print(f"{len(faults)} fault{'s' if len(faults) != 1 else ''} found")
        raise typer.Exit(2 if faults else 0)


@app.command()
def fit(
    brief: BriefPath,
    layout: LayoutPath = None,
    out: OutDir = None,
    seed: Seed = 0,
    as_json: AsJson = False,
    quiet: Quiet = False,
    debug: Debug = False,
) -> None:
    """The whole job in one go: place, weigh, frame, export, report.

    Example: packlayout fit my-shop/bays/quillon-estate/piano-tuner.yaml
    """
    with _told(debug):
        from packlayout.export import write
        from packlayout.export.documents import fit_json
        from packlayout.export.summary import CAUTION, check_lines, headline, not_done_lines, weighing_lines

        say = _say(quiet)
        study = _study(brief, layout, seed, say)
        folder = _folder(study.case, out)
        written = write(study, folder, progress=say)
        if as_json:
            _print_json(fit_json(study, written))
        else:
            weighed = weighing_lines(study.weighing) if study.weighing else []
            _print(headline(study), weighed, check_lines(study.checks), not_done_lines(study), [CAUTION])
            print(f"\nWritten to {folder}: {', '.join(w.path.name for w in written)}")
        _close(study)


@app.command()
def place(
    brief: BriefPath,
    layout: LayoutPath = None,
    out: OutDir = None,
    seed: Seed = 0,
    as_json: AsJson = False,
    quiet: Quiet = False,
    debug: Debug = False,
) -> None:
    """Find layouts of the parts in the measured space, and write each as a file to edit.

    Example: packlayout place my-shop/bays/quillon-estate/piano-tuner.yaml --seed 3
    """
    with _told(debug):
        from time import perf_counter

        from packlayout.export import write
        from packlayout.export.documents import place_json
        from packlayout.export.summary import check_lines, headline, layout_lines

        start = perf_counter()
        study = _study(brief, layout, seed, _say(quiet))
        folder = _folder(study.case, out)
        written = write(study, folder, kinds=("layout",), progress=_say(quiet))
        if as_json:
            _print_json(place_json(study, elapsed_s=perf_counter() - start))
        else:
            lines = layout_lines(study.layout) if study.layout else []
            _print(headline(study), lines, check_lines(study.checks))
            print(f"\nWritten to {folder}: {', '.join(w.path.name for w in written)}")
        _close(study)


@app.command()
def weigh(
    brief: BriefPath,
    layout: LayoutPath = None,
    seed: Seed = 0,
    as_json: AsJson = False,
    quiet: Quiet = False,
    debug: Debug = False,
) -> None:
    """Masses, centre of gravity, axle and corner loads, before and after, in every load state.

    Example: packlayout weigh my-shop/bays/quillon-estate/piano-tuner.yaml --layout my-layout.yaml
    """
    with _told(debug):
        from packlayout.export.documents import weigh_json
        from packlayout.export.summary import check_lines, headline, weighing_lines

        study = _study(brief, layout, seed, _say(quiet))
        if as_json:
            _print_json(weigh_json(study))
        else:
            checks = study.weighing.checks if study.weighing else study.checks
            _print(
                headline(study),
                weighing_lines(study.weighing) if study.weighing else [],
                check_lines(checks, True),
            )
        _close(study)


@app.command()
def frame(
    brief: BriefPath,
    layout: LayoutPath = None,
    seed: Seed = 0,
    as_json: AsJson = False,
    quiet: Quiet = False,
    debug: Debug = False,
) -> None:
    """The welded frame: cradle, legs to the original mounting points, cut list, clearances.

    Example: packlayout frame my-shop/bays/quillon-estate/piano-tuner.yaml
    """
    with _told(debug):
        from packlayout.export.documents import frame_json
        from packlayout.export.summary import check_lines, frame_lines, headline, not_done_lines

        study = _study(brief, layout, seed, _say(quiet))
        if as_json:
            _print_json(frame_json(study))
        else:
            checks = study.framed.checks if study.framed else study.checks
            _print(headline(study), frame_lines(study), check_lines(checks, True), not_done_lines(study))
        _close(study)


def _written(
    brief: Path, layout: Path | None, out: Path | None, seed: int, kinds: tuple[str, ...] | None, as_json: bool,
    quiet: bool,
) -> NoReturn:  # fmt: skip
    from packlayout.export import write
    from packlayout.export.documents import export_json

    say = _say(quiet)
    study = _study(brief, layout, seed, say)
    folder = _folder(study.case, out)
    written = write(study, folder, kinds=kinds, progress=say)
    if as_json:
        _print_json(export_json(written))
    else:
        print(f"Written to {folder}:")
        for item in written:
            print(f"  {item.path.name}")
    _close(study)


@app.command()
def export(
    brief: BriefPath,
    layout: LayoutPath = None,
    out: OutDir = None,
    seed: Seed = 0,
    as_json: AsJson = False,
    quiet: Quiet = False,
    debug: Debug = False,
) -> None:
    """Write the files for the workshop: STEP, GLB, layout files, pictures, checks, report.

    Example: packlayout export my-shop/bays/quillon-estate/piano-tuner.yaml --out for-the-welder
    """
    with _told(debug):
        _written(brief, layout, out, seed, None, as_json, quiet)


@app.command()
def report(
    brief: BriefPath,
    layout: LayoutPath = None,
    out: OutDir = None,
    seed: Seed = 0,
    as_json: AsJson = False,
    quiet: Quiet = False,
    debug: Debug = False,
) -> None:
    """The before-and-after document for customer and inspector, as one HTML file with its pictures.

    Example: packlayout report my-shop/bays/quillon-estate/piano-tuner.yaml
    """
    with _told(debug):
        _written(brief, layout, out, seed, ("report",), as_json, quiet)


def main() -> None:
    """Entry point of the `packlayout` command."""
    app()


if __name__ == "__main__":
    main()
