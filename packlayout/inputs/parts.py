"""A part's file -> the part with its size, its body, and what does not agree within it."""

from pathlib import Path

from packlayout.errors import InputError
from packlayout.inputs.reader import Reader
from packlayout.inputs.source import Source, Where
from packlayout.model.brief import PartBody
from packlayout.model.catalogue import PART, Part
from packlayout.model.geometry import Vec
from packlayout.space.envelope import EnvelopeError

SIZE_SLACK_MM = 1.0
PORT_REACH_MM = 100.0
"""A gland or a shaft end may stand this far out of the part's box (our choice)."""


def read_part(reader: Reader, path: Path) -> tuple[Part, PartBody | None] | None:
    """One part, with its size filled in from its body where it is left out.

    Args:
        reader: Keeps the faults, the notes, and the digests of what is read.
        path: The part's YAML file.

    Returns:
        The part and its body; None when something is wrong with it.
    """
    source = reader.source(path)
    part = reader.record(source, PART)
    if source is None or part is None:
        return None
    before = len(reader.faults)
    body: PartBody | None = None
    if part.body is not None:
        made = _body(reader, source, part)
        if made is None:
            return None
        body, own = made
        size = _size(reader, source, part, own)
        part = part.model_copy(update={"size": size})
    _check_inside(reader, source, part)
    return None if len(reader.faults) > before else (part, body)


def _body(reader: Reader, source: Source, part: Part) -> tuple[PartBody, Vec] | None:
    from packlayout.inputs.bodies import (  # scipy and the mesh readers: only for who needs them
        LARGEST_FILE,
        body_of,
    )

    assert part.body is not None
    where: Where = ("body", "file")
    path = reader.beside(source, where, part.body.file)
    if path is None:
        return None
    try:
        body, size, notes = body_of(reader.raw(path, LARGEST_FILE), path.suffix, part.body.unit)
    except EnvelopeError as error:
        reader.refuse(source, ("body", *(error.where or ("file",))), error.found, error.allowed, error.advice)
        return None
    except InputError as error:
        reader.faults.extend(error.faults)
        return None
    reader.notes.extend(f"{part.name}: {note}" for note in notes)
    return body, size


def _size(reader: Reader, source: Source, part: Part, own: Vec) -> Vec:
    """The given size held against the body's own; the larger of the two, side by side."""
    if part.size is None:
        return own
    said = " x ".join(f"{side:.1f}" for side in own)
    if any(a > b + SIZE_SLACK_MM for a, b in zip(own, part.size, strict=True)):
        reader.refuse(source, ("size",), f"the body is larger, {said} mm", "a size that holds the body",
                      "leave size out: it is read from the body")  # fmt: skip
    elif max(own) < max(part.size) / 2:
        reader.refuse(source, ("body",), f"the body is much smaller than size, {said} mm",
                      "a body that fills its size", "is its unit right?")  # fmt: skip
    x, y, z = (max(a, b) for a, b in zip(own, part.size, strict=True))
    return x, y, z


def _check_inside(reader: Reader, source: Source, part: Part) -> None:
    """Own centre of gravity, ports and holes must be where the part is."""
    size = part.box_size
    said = " x ".join(f"{side:g}" for side in size)
    allowed = f"a point within the part's box, [0, 0, 0] to {said} mm"
    if part.cg is not None:
        at = (part.cg[0].value, part.cg[1].value, part.cg[2].value)
        if _beyond(at, size) > 0:
            reader.refuse(
                source, ("cg",), f"the centre of gravity is {_beyond(at, size):.0f} mm outside", allowed
            )
    for group, rows in (("ports", part.ports), ("holes", part.holes)):
        for index, row in enumerate(rows):
            out = _beyond(row.at, size)
            if out > PORT_REACH_MM:
                reader.refuse(source, (group, index, "at"), f"it is {out:.0f} mm outside", f"{allowed}, "
                              f"or at most {PORT_REACH_MM:g} mm out of it")  # fmt: skip


def _beyond(at: Vec, size: Vec) -> float:
    return max(max(-value, value - side) for value, side in zip(at, size, strict=True))
