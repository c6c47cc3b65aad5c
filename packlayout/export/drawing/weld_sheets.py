"""The welds for the welder: one symbol after ISO 2553 for each kind of seam, and all seams in their order."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

import numpy as np

from packlayout.export.drawing.assemblies import Assembly
from packlayout.export.drawing.dimensions import figure_text
from packlayout.export.drawing.frame_of_sheet import Heading, add_frame, block_box
from packlayout.export.drawing.general import note
from packlayout.export.drawing.placing import Placed, centred, draw, in_words, spread
from packlayout.export.drawing.sheet import LETTERS_MM, Circle, Sheet, Text, arrow, text_width
from packlayout.export.drawing.sight import Sight
from packlayout.export.drawing.tables import add_table
from packlayout.export.drawing.views import View
from packlayout.export.meshes import tube_outline
from packlayout.export.piece_marks import mark_of, plate_marks, tube_marks
from packlayout.export.tree import tube_pose
from packlayout.export.welds import Weld
from packlayout.frame.tubes import TubeFrame
from packlayout.model.geometry import Vec

_LINE_MM, _TAIL_MM, _SYMBOL_MM, _STEP_MM = 17.0, 3.0, 3.4, 13.0
_AWAY_MM = 14.0
_WORDS = {
    "mitre": "mitre of two tubes", "onto a side": "tube onto the side of a tube", "foot plate": "tube onto its foot plate",
    "end plate": "bar onto its end plate", "lip": "lip along a post",
    "post": "post onto a plate of a bracket", "plate": "plate on edge, both sides",
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class Kind:
    """Seams that are made alike.

    Attributes:
        number: As the drawing calls it.
        joint: What is joined.
        throat_mm: Of the fillet.
        round_: All round the tube.
        welds: All of them, in their order.
    """

    number: int
    joint: str
    throat_mm: float
    round_: bool
    welds: tuple[Weld, ...]


def kinds_of(welds: Sequence[Weld]) -> tuple[Kind, ...]:
    """Seams of one joint and one throat together, in the order of welding."""
    groups: dict[tuple[str, float], list[Weld]] = {}
    for weld in welds:
        groups.setdefault((weld.kind, round(weld.throat_mm, 1)), []).append(weld)
    return tuple(
        Kind(n, joint, throat, joint not in OPEN, tuple(found))
        for n, ((joint, throat), found) in enumerate(groups.items(), start=1)
    )


OPEN = frozenset({"lip", "plate"})
"""Joints whose seam does not run all round."""


def weld_sheet(one: Assembly, kinds: Sequence[Kind], view: View, heading: Heading, sight: Sight) -> Sheet:
    """The frame with a symbol at one seam of each kind, and what the symbols stand for, on A3.

    Args:
        one: What is welded.
        kinds: Of all seams, as the drawings number them.
        view: The frame, isometric.
        heading: For the title block.
        sight: Of the frame in that view; an arrow ends on a seam that shows.
    """
    sheet = Sheet("A3", f"{one.title}, welds")
    x0, _, x1, y1 = sheet.room
    own = {weld.order for weld in one.welds}
    kinds = [replace(k, welds=tuple(w for w in k.welds if w.order in own)) for k in kinds]
    kinds = [k for k in kinds if k.welds]
    wide = max((_width(kind) for kind in kinds), default=0.0)
    box = block_box(sheet)
    placed = centred(view, (x0 + wide + _AWAY_MM + 4, box[3] + 46, x1 - wide - _AWAY_MM - 4, y1 - 14))
    sheet.scale = in_words(placed.scale)
    add_frame(sheet, heading)
    draw(sheet, placed)
    _symbols(sheet, placed, kinds, one.frame, sight)
    rows = [
        (str(k.number), _WORDS.get(k.joint, k.joint), f"a{figure_text(k.throat_mm)}", figure_text(k.throat_mm * 2**0.5),
         str(len(k.welds)), figure_text(sum(w.length_mm for w in k.welds) / 1000), numbers(w.order for w in k.welds))
        for k in kinds
    ]  # fmt: skip
    head = ("kind", "joint", "throat, mm", "leg, mm", "seams", "together, m", "in the order of welding")
    _, tall = add_table(sheet, x0 + 4, box[3] + 40, head, rows, name="welds", figures=frozenset((0, 3, 4, 5)),
                        widest=170.0)  # fmt: skip
    note(sheet, x0 + 4, box[3] + 36 - tall - 4, (
        "Symbols after ISO 2553, system A; a circle: all round. The number at the tail is the kind.",
        "Tack everything first; rings, then what joins them, legs last; each next seam far from the last.",
        "Process and filler by the shop's own procedure; quality level C of ISO 5817 unless agreed otherwise.",
    ))  # fmt: skip
    return sheet


def numbers(found: Iterable[int]) -> str:
    """`1 to 8, 11, 14 to 20`."""
    runs: list[list[int]] = []
    for n in sorted(found):
        if runs and n == runs[-1][1] + 1:
            runs[-1][1] = n
        else:
            runs.append([n, n])
    return ", ".join(f"{a}" if a == b else f"{a}, {b}" if b == a + 1 else f"{a} to {b}" for a, b in runs)


def _size(kind: Kind) -> str:
    return f"a{figure_text(kind.throat_mm)}"


def _width(kind: Kind) -> float:
    return _LINE_MM + _TAIL_MM + text_width(str(kind.number), LETTERS_MM) + 2.0


def _symbols(sheet: Sheet, placed: Placed, kinds: Sequence[Kind], frame: TubeFrame, sight: Sight) -> None:
    """Symbols to the left and right of the view, each with its arrow to a seam that shows."""
    x0, y0, x1, y1 = placed.box
    sides: dict[bool, list[tuple[Kind, tuple[float, float]]]] = {True: [], False: []}
    for kind in kinds:
        seams = sorted(kind.welds, key=lambda w: -sight.nearness(w.at))
        tip = placed.seen(sight.best([at for weld in seams for at in seam_points(weld, frame)]))
        sides[tip[0] < (x0 + x1) / 2].append((kind, tip))
    for to_left, found in sides.items():
        found.sort(key=lambda pair: pair[1][1])
        heights = spread([tip[1] for _, tip in found], _STEP_MM, y0, y1)
        for (kind, tip), y in zip(found, heights, strict=True):
            knee = x0 - _AWAY_MM if to_left else x1 + _AWAY_MM
            _symbol(sheet, kind, tip, (knee, y), -1.0 if to_left else 1.0)


def _symbol(
    sheet: Sheet, kind: Kind, tip: tuple[float, float], knee: tuple[float, float], way: float
) -> None:
    """A fillet symbol on the arrow side, ISO 2553: line, dashed line, triangle, size, tail."""
    x, y = knee
    end = x + way * _LINE_MM
    sheet.stroke((tip, knee), "leader")
    arrow(sheet, tip, knee)
    sheet.stroke((knee, (end, y)), "thin")
    sheet.stroke(((x + way * 2.5, y - 1.3), (end, y - 1.3)), "hidden")
    if kind.round_:
        sheet.marks.append(Circle(x, y, 1.5, "thin"))
    # the upright leg of the triangle is always at its left, the size before it
    size = _size(kind)
    low = min(x, end) + (_LINE_MM - text_width(size, LETTERS_MM) - 1.0 - _SYMBOL_MM) / 2 + 0.8
    sheet.write(Text(low, y + 0.9, size), within=True)
    foot = low + text_width(size, LETTERS_MM) + 1.0
    sheet.stroke(((foot, y), (foot, y + _SYMBOL_MM), (foot + _SYMBOL_MM, y)), "thin")
    for sign in (1.0, -1.0):
        sheet.stroke(((end, y), (end + way * _TAIL_MM, y + sign * 2.2)), "thin")
    number = str(kind.number)
    sheet.write(
        Text(
            end + way * (_TAIL_MM + 0.8),
            y - LETTERS_MM * 0.36,
            number,
            LETTERS_MM,
            "start" if way > 0 else "end",
        ),
        within=True,
    )
    far = end + way * (_TAIL_MM + 1.0 + text_width(number, LETTERS_MM))
    sheet.take("weld symbol", number, (min(x, far), y - 2.4, max(x, far), y + 4.2))


def seam_points(weld: Weld, frame: TubeFrame) -> list[Vec]:
    """Points round a seam, a little outside the tube; on the strip for a lip."""
    member = next((m for m in frame.members if m.name == weld.piece), None)
    if member is None:
        plate = next((p for p in frame.plates if p.name == weld.piece), None)
        if plate is None:
            return [weld.at]
        x, y, t = plate.size
        shares = (0.5, 0.2, 0.8, 0.05, 0.95)
        return [plate.pose.point((x * a, y * b, c)) for a in shares for b in shares for c in (0.0, t)]
    cut = member.start_cut if weld.at == member.start else member.end_cut
    around = np.array(tube_pose(member).rotation)
    a, b, c = around.T @ np.array(cut)
    ring = tube_outline(member)[::3] * 1.02
    own = np.column_stack([ring, -(a * ring[:, 0] + b * ring[:, 1]) / c])
    return [(float(x), float(y), float(z)) for x, y, z in own @ around.T + np.array(weld.at)]


def weld_list(
    welds: Sequence[Weld], frame: TubeFrame
) -> tuple[str, str, tuple[str, ...], list[tuple[str, ...]], int]:
    """All seams in their order, for a sheet that is a list: title, words, head, rows, first column of figures."""
    marks = mark_of((*tube_marks(frame), *plate_marks(frame)))
    kind = {w.order: k.number for k in kinds_of(welds) for w in k.welds}
    rows = [
        (str(w.order), w.stage, f"{marks[w.piece]} {w.piece}", f"{marks.get(w.onto, '')} {w.onto}".strip(),
         str(kind[w.order]), f"a{figure_text(w.throat_mm)}", figure_text(w.length_mm))
        for w in welds
    ]  # fmt: skip
    head = ("order", "stage", "piece", "onto", "kind", "throat", "seam, mm")
    return "Frame, welds in their order", "Kinds: see the sheet of welds.", head, rows, 6
