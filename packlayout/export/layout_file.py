"""`layout-1.yaml` ...: where each part stands, written to be edited by hand and read back."""

import json
import re
from pathlib import Path

from packlayout.export.pack import Made
from packlayout.model.brief import Aims, Clearances
from packlayout.model.layout import Layout, Placement
from packlayout.study import Study

SCHEMA_LINE = "# yaml-language-server: $schema=../../shared/schemas/layout.schema.json"

_HOW_TO = """\
# Where each part stands. Change what you like and give the file back with --layout: everything is computed anew.
#   at      lowest corner of the part's box as it stands, [x, y, z] in mm: x rearward from the front axle line,
#           y to the right of the centre plane, z up from the ground
#   up      which of the part's own axes points up: +x, -x, +y, -y, +z or -z
#   turn    quarter turns about the vertical, anticlockwise seen from above: 0, 90, 180 or 270
#   block   battery modules only: modules of one number stand in one cradle
#   locked  true: the program leaves the part where it is
# The program writes this file anew each time; save an edited one under another name, or in the bay's folder.
"""
# words that YAML readers of one version or another take for something else than text
_NOT_TEXT = re.compile(r"(?i:y|n|yes|no|on|off|true|false|null|nan|inf)")


def layouts(study: Study) -> tuple[Layout, ...]:
    """The layouts of a study, best first: those that were found, or the one that was given."""
    if study.placed is not None:
        return tuple(scored.layout for scored in study.placed.layouts)
    return (study.layout,) if study.layout is not None else ()


def file_of(number: int) -> str:
    """Name of the n-th layout's file, from 1."""
    return f"layout-{number}.yaml"


def write_layouts(study: Study, folder: Path, notes: tuple[str, ...]) -> Made:
    """Write one file for each layout.

    Args:
        study: What was computed.
        folder: Where to.
        notes: What the exporters before had to say; not needed here.

    Returns:
        The files; a note when there is no layout at all.
    """
    files: list[Path] = []
    for number, layout in enumerate(layouts(study), start=1):
        files.append(folder / file_of(number))
        files[-1].write_text(layout_text(study, layout), encoding="utf-8")
    return Made(tuple(files), () if files else ("no layout written: nothing was placed",))


def layout_text(study: Study, layout: Layout) -> str:
    """One layout as YAML."""
    head = {"vehicle": study.case.vehicle.name, "brief": study.case.brief.name, "title": layout.title}
    lines = [
        SCHEMA_LINE,
        _HOW_TO,
        *(f"{key}: {_scalar(value)}" for key, value in head.items()),
        *_settings("clearances", layout.clearances),
        *_settings("aims", layout.aims),
        "placements:",
    ]
    for placement in layout.placements:
        first, *rest = _fields(placement)
        lines += [f"  - {first}", *(f"    {field}" for field in rest)]
    if not layout.placements:
        lines[-1] += " []"
    return "\n".join(lines) + "\n"


def _settings(name: str, record: Clearances | Aims | None) -> list[str]:
    """Clearances or aims of a layout's own on one line; nothing where the brief's hold."""
    if record is None:
        return []
    given = record.model_dump(by_alias=True, exclude_none=True)
    inner = ", ".join(
        f"{key}: {_scalar(v) if isinstance(v, str) else _number(v)}" for key, v in given.items()
    )
    return [f"{name}: {{{inner}}}  # in place of the brief's"]


def _fields(placement: Placement) -> list[str]:
    at = ", ".join(_number(value) for value in placement.at)
    return [
        f"name: {_scalar(placement.name)}",
        f"part: {_scalar(placement.part)}",
        f"zone: {_scalar(placement.zone)}",
        f"at: [{at}]",
        f'up: "{placement.up}"',
        f"turn: {placement.turn_deg}",
        *([f"block: {placement.block}"] if placement.block is not None else []),
        f"locked: {'true' if placement.locked else 'false'}",
    ]


def _number(value: float) -> str:
    text = f"{value:.6f}".rstrip("0").rstrip(".")
    return "0" if text == "-0" else text


def _scalar(text: str) -> str:
    """Text as YAML: bare where no reader can mistake it, else in double quotes with JSON's escapes."""
    if re.fullmatch(r"[A-Za-z][A-Za-z0-9_-]*(?: [A-Za-z0-9_-]+)*", text) and not _NOT_TEXT.fullmatch(text):
        return text
    quoted = json.dumps(text, ensure_ascii=False)
    return re.sub(r"[\x7f-\x9f\u2028\u2029\ufeff]", lambda m: f"\\u{ord(m.group()):04x}", quoted)
