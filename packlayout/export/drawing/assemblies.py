"""What is welded together, each on sheets of its own: frames that are one piece, and brackets."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

from packlayout.export.piece_marks import PlateMark, TubeMark, plate_marks, tube_marks
from packlayout.export.welds import Weld
from packlayout.frame.tubes import TubeFrame

BRACKET = "bracket"


@dataclass(frozen=True, slots=True, eq=False)
class Assembly:
    """Tubes and plates that are welded to each other.

    Attributes:
        title: For its sheets: `Frame`, `Frame 2`, `bracket charger`.
        frame: Its pieces.
        tubes: Marks of its tubes, as in the whole frame, with its own pieces only.
        plates: Likewise of its plates.
        welds: Its seams.
    """

    title: str
    frame: TubeFrame
    tubes: tuple[TubeMark, ...]
    plates: tuple[PlateMark, ...]
    welds: tuple[Weld, ...]


def assemblies(frame: TubeFrame, welds: Sequence[Weld]) -> tuple[tuple[Assembly, ...], tuple[Assembly, ...]]:
    """The frames that are one piece each, in their order, and the brackets.

    Args:
        frame: All tubes and plates.
        welds: Every seam of it.

    Returns:
        Frames; brackets. What is bolted in, such as a bar by its end plates, belongs to its group.
    """
    group = {piece.name: piece.group for piece in (*frame.members, *frame.plates)}
    names = list(dict.fromkeys(group.values()))
    joined = {name: name for name in names}

    def root(name: str) -> str:
        while joined[name] != name:
            name = joined[name]
        return name

    for weld in welds:
        a, b = root(group[weld.piece]), root(group[weld.onto])
        if a != b and not (a.startswith(BRACKET) or b.startswith(BRACKET)):
            first, second = sorted((a, b), key=names.index)
            joined[second] = first
    bodies = [name for name in names if root(name) == name]
    frames = [name for name in bodies if not name.startswith(BRACKET)]
    made: list[Assembly] = []
    for name in bodies:
        title = name
        if name in frames:
            title = "Frame" if len(frames) == 1 else f"Frame {frames.index(name) + 1}"
        made.append(_assembly(frame, title, {n for n in names if root(n) == name}, welds))
    return tuple(a for a in made if a.title.startswith("Frame")), tuple(
        a for a in made if not a.title.startswith("Frame")
    )


def _assembly(frame: TubeFrame, title: str, groups: set[str], welds: Sequence[Weld]) -> Assembly:
    part = TubeFrame(
        tuple(m for m in frame.members if m.group in groups), tuple(p for p in frame.plates if p.group in groups),
        frame.material,
    )  # fmt: skip
    pieces = {p.name for p in (*part.members, *part.plates)}
    tubes = [replace(m, members=tuple(t for t in m.members if t.name in pieces)) for m in tube_marks(frame)]
    plates = [replace(m, plates=tuple(p for p in m.plates if p.name in pieces)) for m in plate_marks(frame)]
    return Assembly(
        title, part, tuple(m for m in tubes if m.members), tuple(m for m in plates if m.plates),
        tuple(w for w in welds if w.piece in pieces),
    )  # fmt: skip
