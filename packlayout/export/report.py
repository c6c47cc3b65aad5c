"""`report.html`: one file that opens offline, with the answer first and everything it rests on after it."""

import base64
import hashlib
import tempfile
from pathlib import Path

from packlayout.errors import ExportError
from packlayout.export.pack import Made
from packlayout.export.pictures import SIDE, THREE_QUARTER, write_pictures
from packlayout.export.report_answers import SIGNS
from packlayout.export.report_content import content
from packlayout.export.turning import SCRIPT
from packlayout.export.use_picture import USE
from packlayout.study import Study

REPORT = "report.html"
PICTURES = {
    SIDE: "From the left side: the vehicle, what is put into it and the centre of gravity before and after",
    THREE_QUARTER: "The same from the front left, above",
    USE: "How far each tube of the frame is used in every load case; 1 is the limit",
}


def write_report(study: Study, folder: Path, notes: tuple[str, ...]) -> Made:
    """Write the report; pictures that are not in the folder yet are drawn for it.

    Args:
        study: What was computed.
        folder: Where to, and where the pictures are.
        notes: What the exporters before left out; told in the report.

    Returns:
        The file; a note when there are no pictures and nobody has said so yet.

    Raises:
        ExportError: when jinja2 is missing.
    """
    fresh: tuple[str, ...] = ()
    pictures = _pictures(folder)
    if not pictures and not any(note.startswith("pictures") for note in notes):
        with tempfile.TemporaryDirectory(prefix="packlayout-") as own:
            fresh = write_pictures(study, Path(own), notes).notes
            pictures = _pictures(Path(own))
    (folder / REPORT).write_text(report(study, pictures, notes + fresh), encoding="utf-8")
    return Made((folder / REPORT,), fresh)


def _pictures(folder: Path) -> dict[str, bytes]:
    return {name: (folder / name).read_bytes() for name in PICTURES if (folder / name).is_file()}


def _base64(data: bytes) -> str:
    return base64.b64encode(data).decode("ascii")


def _told(pictures: dict[str, bytes]) -> dict[str, tuple[str, bytes]]:
    return {name: (PICTURES[name], data) for name, data in pictures.items()}


def pictures_of(folder: Path) -> dict[str, tuple[str, bytes]]:
    """File name -> what it shows and its PNG bytes, of the pictures in a folder."""
    return _told(_pictures(folder))


def report(study: Study, pictures: dict[str, bytes], notes: tuple[str, ...] = ()) -> str:
    """The report as HTML.

    Every name in it is text that someone may have typed: the template escapes all of them.

    Args:
        study: What was computed.
        pictures: PNG bytes by file name, of those that `write_pictures` makes.
        notes: What was left out and why.

    Returns:
        The document; it loads nothing from anywhere.
    """
    try:
        import jinja2
        import markupsafe
    except ImportError as error:
        raise ExportError(f"{REPORT} needs jinja2, which cannot be imported here ({error})") from error
    script = SCRIPT.read_text(encoding="utf-8")  # the page allows this one script, by its hash, and no other
    digest = hashlib.sha256(script.encode()).digest()
    surroundings = jinja2.Environment(
        loader=jinja2.FileSystemLoader(Path(__file__).parent), autoescape=True, trim_blocks=True, lstrip_blocks=True,
        undefined=jinja2.StrictUndefined, keep_trailing_newline=True,
    )  # fmt: skip
    surroundings.filters["base64"] = _base64
    return surroundings.get_template("report.html.jinja").render(
        case=study.case,
        script=markupsafe.Markup(script),
        script_hash=f"sha256-{base64.b64encode(digest).decode()}",
        sections=content(study, _told(pictures), notes),
        signs=SIGNS,
        kind=lambda block: type(block).__name__,
    )
