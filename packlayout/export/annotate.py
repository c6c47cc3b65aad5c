"""Words on a picture: title, callouts, marks, legend, scale. All places are pixels from the upper left corner."""

import io
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from packlayout.export.lanes import Pointer, clipped, clusters, depth, lane
from packlayout.export.palette import CG_AFTER, CG_BEFORE, MOUNT
from packlayout.export.scene import Key, Scene, View
from packlayout.model.geometry import Floats, Vec

WIDTH, HEIGHT = 1600, 1000
_MARGIN = 40
_TITLE = 90
_CORNER = 500
"""Room for the scale and the axes in the upper right corner."""
_ROW = 25
_POINT = 100 / 72
"""Pixels in a typographic point, at the 100 pixels an inch that the picture is made with."""
_SIZE = 11.0
_INK = "#1A1A1A"
_FAINT = "#5A6068"


@dataclass(frozen=True, slots=True)
class Frame:
    """How vehicle axes map to pixels in one view, and the rows of words round the drawing.

    Attributes:
        width_px: Width of the picture.
        height_px: Height of the picture.
        centre: The point in the middle of the picture, mm.
        px_per_mm: Scale.
        right: Direction to the right, vehicle axes.
        up: Direction upward, vehicle axes.
        bottom_px: Where the drawing ends.
    """

    width_px: int
    height_px: int
    centre: Vec
    px_per_mm: float
    right: Vec
    up: Vec
    bottom_px: float

    def pixel(self, at: Vec) -> tuple[float, float]:
        """A point of the vehicle -> where it is in the picture."""
        away = np.subtract(at, self.centre) * self.px_per_mm
        return self.width_px / 2 + float(away @ self.right), self.height_px / 2 - float(away @ self.up)


def framed(scene: Scene, view: View) -> Frame:
    """The largest scale at which the drawing and the words round it fit."""
    top, below = float(_TITLE), 2
    frame = _fitted(scene, view, top, below)
    for _ in range(8):
        missing = _TITLE - min((words.y - _ROW / 2 for words in callout_lane(scene, frame)), default=_TITLE)
        need = depth([words.pointer for words in mark_lane(scene, frame)])
        if missing <= 1 and need == below:
            break
        top, below = top + max(0.0, missing), need
        frame = _fitted(scene, view, top, below)
    return frame


def _fitted(scene: Scene, view: View, top: float, below: int) -> Frame:
    captions = max((len(c.lines) for c in scene.captions), default=0) if view.flat else 0
    bottom = HEIGHT - _MARGIN - _ROW * (len(_legend(scene.keys)) + below + captions) - 24
    flat = np.column_stack([scene.frame @ view.right, scene.frame @ view.up])
    lo, hi = flat.min(axis=0), flat.max(axis=0)
    scale = float(min((WIDTH - 2 * _MARGIN) / (hi[0] - lo[0]), (bottom - top) / (hi[1] - lo[1])))
    across, aloft = (lo + hi) / 2
    aloft += ((top + bottom) / 2 - HEIGHT / 2) / scale
    x, y, z = across * np.array(view.right) + aloft * np.array(view.up)
    return Frame(WIDTH, HEIGHT, (float(x), float(y), float(z)), scale, view.right, view.up, bottom)


def width_px(text: str, size_pt: float = _SIZE, *, bold: bool = False) -> float:
    """Width of a text as it will be drawn."""
    from matplotlib.textpath import text_to_path

    width, _, _ = text_to_path.get_text_width_height_descent(text, _font(size_pt, bold=bold), ismath=False)
    return width * _POINT


def _font(size_pt: float, *, bold: bool = False) -> Any:
    from matplotlib.font_manager import FontProperties

    return FontProperties(family="DejaVu Sans", size=size_pt, weight="bold" if bold else "normal")


@dataclass(frozen=True, slots=True)
class Words:
    """Words with a leader and the height they stand at."""

    pointer: Pointer
    y: float


def _pointers(frame: Frame, things: Sequence[tuple[str, Vec]]) -> tuple[Pointer, ...]:
    texts = [(clipped(text, 48), frame.pixel(at)) for text, at in things]
    return lane([Pointer(text, x, y, width_px(text)) for text, (x, y) in texts], WIDTH - 10)


def callout_lane(scene: Scene, frame: Frame) -> tuple[Words, ...]:
    """The callouts, each cluster of them just above the solid things below it."""
    made: list[Words] = []
    solids = [_extent(frame, surface.mesh.vertices) for surface in scene.surfaces if surface.opacity == 1]
    solids += [(x - 16, x + 16, y - 16) for x, y in (frame.pixel(mark.at) for mark in scene.marks)]
    for cluster in clusters(_pointers(frame, [(callout.text, callout.at) for callout in scene.callouts])):
        left = min(min(p.x, p.begin) for p in cluster) - 4
        right = max(max(p.x, p.end) for p in cluster) + 4
        tops = [y for lo, hi, y in solids if lo < right and hi > left]
        base = min([*tops, *(p.y for p in cluster)]) - 20
        made += [Words(p, base - _ROW * (depth(cluster) - 1 - p.row)) for p in cluster]
    return tuple(made)


def _extent(frame: Frame, points: Floats) -> tuple[float, float, float]:
    """Left, right and upper end of points in the picture."""
    away = (points - np.array(frame.centre)) * frame.px_per_mm
    x = frame.width_px / 2 + away @ np.array(frame.right)
    y = frame.height_px / 2 - away @ np.array(frame.up)
    return float(x.min()), float(x.max()), float(y.min())


def mark_lane(scene: Scene, frame: Frame) -> tuple[Words, ...]:
    """The words of the marks, below the drawing."""
    found = _pointers(frame, [(mark.text, mark.at) for mark in scene.marks])
    return tuple(Words(p, frame.bottom_px + 22 + _ROW * (depth(found) - 1 - p.row)) for p in found)


def _legend(keys: Sequence[Key]) -> list[list[tuple[Key, float]]]:
    """Rows of the legend, each entry with its x."""
    rows: list[list[tuple[Key, float]]] = []
    x = float(WIDTH)
    for key in keys:
        need = 30 + width_px(clipped(key.text)) + 26
        if x + need > WIDTH - _MARGIN + 26:
            rows.append([])
            x = float(_MARGIN)
        rows[-1].append((key, x))
        x += need
    return rows


class Sheet:
    """A matplotlib figure whose units are pixels from the upper left corner.

    Args:
        image: (height, width, 3) uint8, its background.
    """

    def __init__(self, image: Any) -> None:
        from matplotlib.backends.backend_agg import FigureCanvasAgg
        from matplotlib.figure import Figure

        height, width = image.shape[:2]
        self.figure = Figure(figsize=(width / 100, height / 100), dpi=100)
        FigureCanvasAgg(self.figure)
        self.axes: Any = self.figure.add_axes((0, 0, 1, 1))
        self.figure.figimage(image, zorder=-1)
        self.axes.set(xlim=(0, width), ylim=(height, 0))
        self.axes.axis("off")

    def words(
        self, x: float, y: float, text: str, *, size: float = _SIZE, bold: bool = False, faint: bool = False,
        side: str = "left", plate: bool = False,
    ) -> None:  # fmt: skip
        """One line of text, y at its middle; a plate keeps lines behind it from crossing it.

        A name with $ in it is a name, not a formula.
        """
        behind = {"facecolor": "white", "edgecolor": "none", "alpha": 0.8, "pad": 1.5} if plate else None
        self.axes.text(x, y, text, fontproperties=_font(size, bold=bold), color=_FAINT if faint else _INK, ha=side,
                       va="center_baseline", parse_math=False, bbox=behind)  # fmt: skip

    def line(self, *points: tuple[float, float], ink: str = _INK, width: float = 0.8) -> None:
        """A line through points."""
        xs, ys = zip(*points, strict=True)
        self.axes.plot(xs, ys, color=ink, linewidth=width, solid_capstyle="butt")

    def sign(self, x: float, y: float, key: Key, *, ring: float = 18.0) -> None:
        """The sign of a legend entry, or of a mark in the drawing, where the ring shows round the diamond."""
        if key.sign == "line":
            self.line((x - 11, y), (x + 11, y), ink=key.colour, width=1.6)
            return
        if key.sign == "square":
            look: dict[str, Any] = {"marker": "s", "markersize": 11, "markerfacecolor": (key.colour, key.opacity),
                                    "markeredgecolor": _INK, "markeredgewidth": 0.6}  # fmt: skip
        elif key.sign == "cross":
            look = {"marker": "x", "markersize": 8, "markeredgecolor": key.colour, "markeredgewidth": 1.8}
        elif key.sign == "ring":
            self.axes.plot([x], [y], marker="o", markersize=ring, markerfacecolor=("white", 0.5),
                           markeredgecolor=key.colour, markeredgewidth=2.0)  # fmt: skip
            look = {"marker": "+", "markersize": ring, "markeredgecolor": key.colour, "markeredgewidth": 1.4}
        else:
            look = {"marker": "D", "markersize": 8, "markerfacecolor": key.colour, "markeredgecolor": "white",
                    "markeredgewidth": 1.0}  # fmt: skip
        self.axes.plot([x], [y], linestyle="none", **look)

    def png(self) -> bytes:
        """The picture; no date and no version in it."""
        out = io.BytesIO()
        self.figure.savefig(
            out, format="png", dpi=100, metadata={"Software": None}, pil_kwargs={"compress_level": 6}
        )
        return out.getvalue()


def annotated(scene: Scene, view: View, frame: Frame, image: Any) -> bytes:
    """A drawn scene with its words, as PNG.

    Args:
        scene: What is shown.
        view: From where.
        frame: Where it is in the picture.
        image: (height, width, 3) uint8, without words.
    """
    sheet = Sheet(image)
    title, size = _title(scene.title)
    sheet.words(_MARGIN, 34, title, size=size, bold=True)
    sheet.words(_MARGIN, 64, view.title, size=_SIZE, faint=True)
    for at in scene.crosses:
        sheet.sign(*frame.pixel(at), Key("", MOUNT, sign="cross"))
    for words in callout_lane(scene, frame):
        _point(sheet, words, words.y + 9)
    below = mark_lane(scene, frame)
    for words in below:
        _point(sheet, words, words.y - 9)
    for mark in scene.marks:
        sheet.sign(*frame.pixel(mark.at), mark_key(after=mark.after))
    if view.flat:
        _captions(
            sheet, scene, frame, frame.bottom_px + 22 + _ROW * depth([words.pointer for words in below])
        )
        _scale_bar(sheet, frame)
    _axes(sheet, frame)
    rows = _legend(scene.keys)
    for k, row in enumerate(rows):
        y = HEIGHT - _MARGIN + 8 - _ROW * (len(rows) - 1 - k)
        for key, x in row:
            sheet.sign(x + 10, y, key, ring=12.0)
            sheet.words(x + 28, y, clipped(key.text))
    return sheet.png()


def _title(text: str) -> tuple[str, float]:
    """The title and the size in points at which it ends before the scale."""
    room = WIDTH - _MARGIN - _CORNER
    size = next((s for s in (17.0, 15.0, 13.0) if width_px(text, s, bold=True) < room), 13.0)
    most = len(text)
    while width_px(clipped(text, most), size, bold=True) > room:
        most -= 1
    return clipped(text, most), size


def clipped_to(text: str, width: float, *, bold: bool = False) -> str:
    """A text cut short to a width in pixels."""
    most = len(text)
    while most > 1 and width_px(clipped(text, most), bold=bold) > width:
        most -= 1
    return clipped(text, most)


def mark_key(*, after: bool) -> Key:
    """How a centre of gravity is marked."""
    if after:
        return Key("centre of gravity after", CG_AFTER, sign="diamond")
    return Key("centre of gravity before", CG_BEFORE, sign="ring")


def _point(sheet: Sheet, words: Words, foot: float) -> None:
    pointer, y = words.pointer, words.y
    sheet.line((pointer.x, pointer.y), (pointer.x, foot), ink="white", width=2.6)
    sheet.line((pointer.x, pointer.y), (pointer.x, 2 * y - foot), width=0.9)
    sheet.axes.plot([pointer.x], [pointer.y], marker="o", markersize=5, markerfacecolor=_INK,
                    markeredgecolor="white", markeredgewidth=1.0)  # fmt: skip
    sheet.words(pointer.begin, y, pointer.text, plate=True)


def _captions(sheet: Sheet, scene: Scene, frame: Frame, top: float) -> None:
    for caption in scene.captions:
        x, _ = frame.pixel(caption.at)
        half = max(width_px(text, bold=not k) for k, text in enumerate(caption.lines)) / 2
        x = min(max(x, _MARGIN + half), WIDTH - _MARGIN - half)
        for k, text in enumerate(caption.lines):
            sheet.words(x, top + _ROW * k, text, bold=not k, side="center")


def _scale_bar(sheet: Sheet, frame: Frame) -> None:
    length = next(mm for mm in (1000, 500, 200, 100, 50, 20, 10) if mm * frame.px_per_mm < 300)
    end = WIDTH - _MARGIN - 120.0
    begin, y = end - length * frame.px_per_mm, 50.0
    sheet.line((begin, y), (end, y), width=2.0)
    for x in (begin, end):
        sheet.line((x, y - 6), (x, y + 6), width=2.0)
    sheet.words((begin + end) / 2, y - 15, f"{length} mm", side="center")


def _axes(sheet: Sheet, frame: Frame) -> None:
    """The vehicle's axes as they look in this view, in the corner beside the title."""
    from matplotlib.patches import FancyArrowPatch

    x0, y0 = WIDTH - 90.0, 66.0
    for name, axis in (("x", (1.0, 0.0, 0.0)), ("y", (0.0, 1.0, 0.0)), ("z", (0.0, 0.0, 1.0))):
        across, aloft = float(np.dot(axis, frame.right)), float(np.dot(axis, frame.up))
        length = (across**2 + aloft**2) ** 0.5
        if length < 0.2:
            continue  # it points at the eye
        tip = (x0 + 36 * across, y0 - 36 * aloft)
        sheet.axes.add_patch(FancyArrowPatch((x0, y0), tip, arrowstyle="-|>", mutation_scale=10, linewidth=1.2,
                                             color=_FAINT, shrinkA=0, shrinkB=0))  # fmt: skip
        words = (x0 + (36 + 11 / length) * across, y0 - (36 + 11 / length) * aloft)
        sheet.words(*words, name, faint=True, side="center")
