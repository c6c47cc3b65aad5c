"""What all commands share: the app, the options, how faults are told, how the exit status is found.

Exit status: 0 done and every check holds; 1 done, results written, and a check fails or cannot be made;
2 bad input or usage; 130 interrupted.
"""

import _thread
import json
import os
import signal
import sys
import threading
from collections.abc import Callable
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any, NoReturn

import typer

from packlayout import __version__
from packlayout.errors import InputError, PacklayoutError

if TYPE_CHECKING:
    from collections.abc import Generator, Sequence
    from types import FrameType

    from packlayout.model.brief import Case
    from packlayout.model.check import Check
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

RETRY_S = 0.005
"""Until an interruption is told again that came where it would have been lost."""

BriefPath = Annotated[Path, typer.Argument(metavar="BRIEF", help="The brief: bays/VEHICLE/BRIEF.yaml.")]
LayoutPath = Annotated[
    Path | None,
    typer.Option("--layout", metavar="FILE", help="Take this layout file instead of searching one."),
]
HoldPath = Annotated[
    Path | None,
    typer.Option(
        "--hold", metavar="FILE", help="Search again, the locked parts of this layout file kept in place."
    ),
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


def say_to(quiet: bool) -> Callable[[str], None]:
    """Progress goes to stderr, one line each."""

    def say(text: str) -> None:
        if not quiet:
            print(text, file=sys.stderr, flush=True)

    return say


@contextmanager
def interruptible() -> "Generator[None]":
    """Ctrl-C raises `KeyboardInterrupt` in our own code, never inside a compiled kernel's way in or out.

    What is raised there is lost on the way and comes out as a SystemError: it is put off by some milliseconds.
    """
    if threading.current_thread() is not threading.main_thread():
        yield
        return
    before = signal.signal(signal.SIGINT, _interrupted)
    try:
        yield
    finally:
        signal.signal(signal.SIGINT, before)


def _interrupted(_: int, frame: "FrameType | None") -> None:
    if frame is not None and str(frame.f_globals.get("__name__")).startswith("numba."):
        later = threading.Timer(RETRY_S, _thread.interrupt_main)
        later.daemon = True
        later.start()
        return
    raise KeyboardInterrupt


@contextmanager
def _one_interruption() -> "Generator[None]":
    """An error that an interruption came out as, as when a library was being loaded, is that interruption."""
    try:
        yield
    except Exception as error:
        cause: BaseException | None = error
        while cause is not None and not isinstance(cause, KeyboardInterrupt):
            cause = cause.__cause__ or cause.__context__
        if cause is not None:
            raise KeyboardInterrupt from error
        raise


@contextmanager
def told(debug: bool) -> "Generator[None]":
    """Turns what is raised into a message and an exit status; tracebacks only with --debug."""
    try:
        with _one_interruption():
            yield
    except (typer.Exit, typer.BadParameter):
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


def study_of(
    brief: Path, layout: Path | None, seed: int, say: Callable[[str], None], hold: Path | None = None,
    *, halfway: bool = False,
) -> "Study":  # fmt: skip
    """Read a brief, and a layout when one is given, and compute everything.

    Args:
        brief: The brief.
        layout: To be judged instead of searching one.
        seed: Of the search.
        say: Told what is being done.
        hold: A layout whose locked parts stay.
        halfway: Whether the layouts alone will do, where it is interrupted once they are found.
    """
    from packlayout import study
    from packlayout.inputs.case import read_case
    from packlayout.inputs.layouts import read_layout_case

    if layout is not None and hold is not None:
        raise typer.BadParameter("--layout judges a layout, --hold searches round one: give one of the two")
    path = layout or hold
    case = read_case(brief)
    case, given = read_layout_case(path, case) if path is not None else (case, None)
    for note in case.notes:
        say(f"note: {note}")
    with interruptible():
        made = study.run(case, seed, given, say) if hold is None else study.run(case, seed, None, say, given)
    if made.halfway and not halfway:
        raise KeyboardInterrupt
    return made


def folder_of(case: "Case", out: Path | None) -> Path:
    """Where the results go."""
    return out if out is not None else case.root / "exports" / case.key


def close(study: "Study", more: "Sequence[Check]" = ()) -> NoReturn:
    """Exit status by the checks: an unknown one does not hold either; 130 when the search was interrupted."""
    if study.placed is not None and study.placed.stopped == "interrupted":
        raise typer.Exit(130)
    verdicts = {check.verdict for check in (*study.checks, *more)}
    raise typer.Exit(1 if verdicts & {"fail", "unknown"} else 0)


def print_json(document: dict[str, Any]) -> None:
    """The one document on stdout."""
    print(json.dumps(document, indent=1, ensure_ascii=False, allow_nan=False))


def print_groups(*groups: list[str]) -> None:
    """Groups of lines, an empty line between them."""
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
