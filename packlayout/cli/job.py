"""The commands for one job: all of it in one go, or one stage of it."""

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, NoReturn

import typer

from packlayout.cli.door import (
    AsJson,
    BriefPath,
    Debug,
    HoldPath,
    LayoutPath,
    OutDir,
    Quiet,
    Seed,
    app,
    close,
    folder_of,
    print_groups,
    print_json,
    say_to,
    study_of,
    told,
)

if TYPE_CHECKING:
    from packlayout.study import Study

AsBuiltPath = Annotated[
    Path | None,
    typer.Option("--as-built", metavar="FILE", help="The finished vehicle's scale readings, to compare."),
]


@app.command()
def fit(
    brief: BriefPath,
    layout: LayoutPath = None,
    hold: HoldPath = None,
    out: OutDir = None,
    seed: Seed = 0,
    as_json: AsJson = False,
    quiet: Quiet = False,
    debug: Debug = False,
) -> None:
    """The whole job in one go: place, weigh, frame, export, report.

    Example: packlayout fit my-shop/bays/quillon-estate/piano-tuner.yaml
    """
    with told(debug):
        from packlayout.export import write
        from packlayout.export.documents import fit_json
        from packlayout.export.summary import CAUTION, check_lines, headline, not_done_lines, weighing_lines

        say = say_to(quiet)
        study = study_of(brief, layout, seed, say, hold, halfway=True)
        folder = folder_of(study.case, out)
        kinds = ("layout",) if study.halfway else None
        written = write(study, folder, kinds=kinds, keep=kept(layout, hold), progress=say)
        if as_json:
            print_json(fit_json(study, written))
        else:
            weighed = weighing_lines(study.weighing) if study.weighing else []
            print_groups(
                headline(study), weighed, check_lines(study.checks), not_done_lines(study), [CAUTION]
            )
            print(f"\nWritten to {folder}: {', '.join(w.path.name for w in written)}")
        close(study)


@app.command()
def place(
    brief: BriefPath,
    layout: LayoutPath = None,
    hold: HoldPath = None,
    out: OutDir = None,
    seed: Seed = 0,
    as_json: AsJson = False,
    quiet: Quiet = False,
    debug: Debug = False,
) -> None:
    """Find layouts of the parts in the measured space, and write each as a file to edit.

    Example: packlayout place my-shop/bays/quillon-estate/piano-tuner.yaml --seed 3
    """
    with told(debug):
        from time import perf_counter

        from packlayout.export import write
        from packlayout.export.documents import place_json
        from packlayout.export.summary import check_lines, headline, layout_lines, side_by_side_lines

        start = perf_counter()
        study = study_of(brief, layout, seed, say_to(quiet), hold, halfway=True)
        folder = folder_of(study.case, out)
        written = write(study, folder, kinds=("layout",), keep=kept(layout, hold), progress=say_to(quiet))
        if as_json:
            print_json(place_json(study, elapsed_s=perf_counter() - start))
        else:
            lines = layout_lines(study.layout) if study.layout else []
            print_groups(headline(study), lines, side_by_side_lines(study), check_lines(study.checks))
            print(f"\nWritten to {folder}: {', '.join(w.path.name for w in written)}")
        close(study)


@app.command()
def weigh(
    brief: BriefPath,
    layout: LayoutPath = None,
    as_built: AsBuiltPath = None,
    seed: Seed = 0,
    as_json: AsJson = False,
    quiet: Quiet = False,
    debug: Debug = False,
) -> None:
    """Masses, centre of gravity, axle and corner loads, before and after, in every load state.

    Example: packlayout weigh my-shop/bays/quillon-estate/piano-tuner.yaml --layout my-layout.yaml
    """
    with told(debug):
        from packlayout.export.documents import weigh_json
        from packlayout.export.summary import as_built_lines, check_lines, headline, weighing_lines

        study = _compared(brief, layout, seed, as_built, quiet)
        found = study.comparison
        if as_json:
            print_json(weigh_json(study, found))
        else:
            checks = study.weighing.checks if study.weighing else study.checks
            weighed = weighing_lines(study.weighing) if study.weighing else []
            compared = as_built_lines(found) if found else []
            print_groups(headline(study), weighed, check_lines(checks, every=True), compared)
        close(study, found.checks if found else ())


def _compared(brief: Path, layout: Path | None, seed: int, as_built: Path | None, quiet: bool) -> "Study":
    """The study, with the finished vehicle's readings held against it where they are given; a slip in them first."""
    from packlayout.inputs.readings import at_line_of, read_as_built
    from packlayout.study import compare

    readings = read_as_built(as_built) if as_built is not None else None
    study = study_of(brief, layout, seed, say_to(quiet))
    if as_built is None or readings is None or study.layout is None:
        return study
    with at_line_of(as_built):
        return compare(study, readings)


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
    with told(debug):
        from packlayout.export.documents import frame_json
        from packlayout.export.summary import check_lines, frame_lines, headline, not_done_lines

        study = study_of(brief, layout, seed, say_to(quiet))
        if as_json:
            print_json(frame_json(study))
        else:
            checks = study.framed.checks if study.framed else study.checks
            print_groups(
                headline(study), frame_lines(study), check_lines(checks, True), not_done_lines(study)
            )
        close(study)


def kept(*given: Path | None) -> tuple[Path, ...]:
    """A layout file that was given stays as it is, comments and all."""
    return tuple(path for path in given if path is not None)


def _written(
    brief: Path, layout: Path | None, out: Path | None, seed: int, kinds: tuple[str, ...] | None, as_json: bool,
    quiet: bool, as_built: Path | None = None,
) -> NoReturn:  # fmt: skip
    from packlayout.export import write
    from packlayout.export.documents import export_json

    say = say_to(quiet)
    study = _compared(brief, layout, seed, as_built, quiet)
    folder = folder_of(study.case, out)
    written = write(study, folder, kinds=kinds, keep=kept(layout), progress=say)
    if as_json:
        print_json(export_json(written))
    else:
        print(f"Written to {folder}:")
        for item in written:
            print(f"  {item.path.name}")
    close(study, study.comparison.checks if study.comparison else ())


@app.command()
def export(
    brief: BriefPath,
    layout: LayoutPath = None,
    out: OutDir = None,
    verify: Annotated[
        bool, typer.Option("--verify", help="Write nothing: say what of an old pack no longer matches.")
    ] = False,
    seed: Seed = 0,
    as_json: AsJson = False,
    quiet: Quiet = False,
    debug: Debug = False,
) -> None:
    """Write the files for the workshop: STEP, DXF, drawings, lists, pictures, report; or check an old pack.

    Example: packlayout export my-shop/bays/quillon-estate/piano-tuner.yaml --out for-the-welder
    """
    with told(debug):
        if verify:
            _verified(brief, out, as_json)
        _written(brief, layout, out, seed, None, as_json, quiet)


def _verified(brief: Path, out: Path | None, as_json: bool) -> NoReturn:
    from packlayout.export.manifest import verify
    from packlayout.inputs.case import read_case

    case = read_case(brief)
    folder = folder_of(case, out)
    found = verify(folder, case.root)
    if as_json:
        rows = [{"what": m.what, "path": m.path, "why": m.why} for m in found]
        print_json({"folder": folder.as_posix(), "matches": not found, "mismatches": rows})
    else:
        for mismatch in found:
            print(mismatch)
        print(f"{folder}: {'as it was made' if not found else f'{len(found)} things no longer match'}")
    raise typer.Exit(1 if found else 0)


@app.command()
def report(
    brief: BriefPath,
    layout: LayoutPath = None,
    as_built: AsBuiltPath = None,
    out: OutDir = None,
    seed: Seed = 0,
    as_json: AsJson = False,
    quiet: Quiet = False,
    debug: Debug = False,
) -> None:
    """The before-and-after document for customer and inspector, as one HTML file with its pictures.

    Example: packlayout report my-shop/bays/quillon-estate/piano-tuner.yaml
    """
    with told(debug):
        _written(brief, layout, out, seed, ("picture", "report", "report-pdf"), as_json, quiet, as_built)
