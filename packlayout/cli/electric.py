"""The commands for what hangs on the layout: electrics and cable runs, and driving."""

from packlayout.cli.door import (
    AsJson,
    BriefPath,
    Debug,
    LayoutPath,
    Quiet,
    Seed,
    app,
    close,
    print_groups,
    print_json,
    say_to,
    study_of,
    told,
)


@app.command()
def wire(
    brief: BriefPath,
    layout: LayoutPath = None,
    seed: Seed = 0,
    as_json: AsJson = False,
    quiet: Quiet = False,
    debug: Debug = False,
) -> None:
    """Pack voltage and energy, protection, and the cable runs routed through the free space.

    Example: packlayout wire my-shop/bays/quillon-estate/piano-tuner.yaml
    """
    with told(debug):
        from packlayout.export.electric_documents import wire_json, wire_lines
        from packlayout.export.summary import check_lines, headline

        study = study_of(brief, layout, seed, say_to(quiet))
        wiring = study.wiring
        checks = wiring.checks if wiring is not None else study.checks
        if as_json:
            print_json(wire_json(wiring))
        else:
            print_groups(headline(study), wire_lines(wiring), check_lines(checks, every=True))
        close(study, checks)


@app.command()
def drive(
    brief: BriefPath,
    layout: LayoutPath = None,
    seed: Seed = 0,
    as_json: AsJson = False,
    quiet: Quiet = False,
    debug: Debug = False,
) -> None:
    """Propeller shaft, performance, range, charging, the old gauge, and the price.

    Example: packlayout drive my-shop/bays/quillon-estate/piano-tuner.yaml --layout my-layout.yaml
    """
    with told(debug):
        from packlayout.export.electric_documents import drive_json, drive_lines
        from packlayout.export.summary import check_lines, headline

        study = study_of(brief, layout, seed, say_to(quiet))
        driving, priced = study.driving, study.priced
        checks = driving.checks if driving is not None else study.checks
        if as_json:
            print_json(drive_json(driving, priced))
        else:
            print_groups(headline(study), drive_lines(driving, priced), check_lines(checks, every=True))
        close(study, checks)
