"""All kinds of output, and the writing of them into one folder.

Each kind is one file of this folder and one line of `EXPORTERS`. An exporter gets the study, a folder to
write into and the notes of those before it; the order is the order of writing, so that the report, which is last,
finds the pictures.
"""

from collections.abc import Iterable
from pathlib import Path

from packlayout.errors import ExportError
from packlayout.export.documents import write_checks
from packlayout.export.drawings import write_drawings
from packlayout.export.electric_lists import write_electrics
from packlayout.export.flats import write_flats
from packlayout.export.glb import write_glb
from packlayout.export.layout_file import write_layouts
from packlayout.export.lists import write_lists
from packlayout.export.manifest import MANIFEST, manifest_of
from packlayout.export.pack import Exporter, Progress, Written, sha256, staged
from packlayout.export.pictures import write_pictures
from packlayout.export.report import write_report
from packlayout.export.report_pdf import write_report_pdf
from packlayout.export.step import write_parts, write_step
from packlayout.export.templates import write_templates
from packlayout.study import Study

EXPORTERS: dict[str, Exporter] = {
    "layout": Exporter(write_layouts, ("layout-*.yaml",)),
    "step": Exporter(write_step, ("assembly.step", "frame.step")),
    "parts": Exporter(write_parts, ("parts/*.step",)),
    "plates": Exporter(write_flats, ("plates/*.dxf",)),
    "lists": Exporter(
        write_lists,
        ("cut-list.csv", "stock-list.csv", "weld-list.csv", "bolt-list.csv", "bill-of-materials.csv"),
    ),
    "electrics": Exporter(
        write_electrics, ("cable-schedule.csv", "gauge-table.*", "gauge-curve.svg", "speedometer-table.*")
    ),
    "drawings": Exporter(write_drawings, ("drawings.pdf",)),
    "templates": Exporter(write_templates, ("templates.pdf",)),
    "glb": Exporter(write_glb, ("layout.glb",)),
    "picture": Exporter(write_pictures, ("picture-*.png",)),
    "checks": Exporter(write_checks, ("checks.json",)),
    "report": Exporter(write_report, ("report.html",)),
    "report-pdf": Exporter(write_report_pdf, ("report.pdf",)),
}
"""Kind of output -> what writes it, in the order of writing."""


def _quiet(line: str) -> None:
    del line


def write(
    study: Study, folder: Path, *, kinds: Iterable[str] | None = None, keep: Iterable[Path] = (),
    progress: Progress = _quiet,
) -> tuple[Written, ...]:  # fmt: skip
    """Write the results of a study into a folder, whole or not at all.

    Everything is made in a temporary folder beside and moved in at the end. Files of the kinds that are written and
    are no longer made (a third layout, pictures where there is no OpenGL) are taken away; all else in the folder
    stays. A whole pack gets a manifest; writing a part of it leaves the manifest as it was, so that `verify` tells
    what was made anew since.

    Args:
        study: What was computed.
        folder: Such as `exports/VEHICLE-BRIEF`; made when it is not there.
        kinds: Keys of `EXPORTERS`; all of them when None.
        keep: Files that are neither written over nor taken away: a layout file that the user gave.
        progress: Is told, one line at a time, what is being made and what was left out.

    Returns:
        The files, in the order of `EXPORTERS`.

    Raises:
        ExportError: when a kind is not known, a library is missing or a file cannot be written. The old pack is as
            it was.
        GeometryError: for a part's body that makes no solid.
    """
    wanted = set(EXPORTERS if kinds is None else kinds)
    if unknown := sorted(wanted - set(EXPORTERS)):
        raise ExportError(f"unknown kind of output {unknown[0]!r}; known: {', '.join(EXPORTERS)}")
    chosen = {kind: exporter for kind, exporter in EXPORTERS.items() if kind in wanted}
    made: list[tuple[str, Path]] = []
    notes: tuple[str, ...] = ()
    patterns = [pattern for exporter in chosen.values() for pattern in exporter.files]
    whole = len(chosen) == len(EXPORTERS)
    with staged(folder, patterns, keep) as new:
        for kind, exporter in chosen.items():
            progress(f"writing {kind}")
            result = exporter.make(study, new, notes)
            for note in result.notes:
                progress(note)
            notes += result.notes
            made += [(kind, folder / path.relative_to(new)) for path in result.files]
        if whole:
            _manifest(study, folder, new, made, keep)
            made.append(("manifest", folder / MANIFEST))
    return tuple(Written(path, kind, sha256(path)) for kind, path in made)


def _manifest(
    study: Study, folder: Path, new: Path, made: Iterable[tuple[str, Path]], keep: Iterable[Path]
) -> None:
    """Write the manifest of a pack; a file that is kept counts as it is."""
    kept = {path.resolve() for path in keep}
    files: dict[str, tuple[str, Path]] = {}
    for kind, path in made:
        name = path.relative_to(folder)
        files[name.as_posix()] = (kind, path if path.resolve() in kept else new / name)
    given = [path for path in keep if path.resolve() not in {f.resolve() for _, f in files.values()}]
    (new / MANIFEST).write_text(manifest_of(study, files, given), encoding="utf-8")
