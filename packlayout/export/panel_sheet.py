"""Words on pictures side by side: title, one heading a panel, figures at the things they belong to, legend."""

from collections.abc import Sequence
from typing import Any

import numpy as np

from packlayout.export.annotate import Frame, Sheet, clipped_to, width_px
from packlayout.export.lanes import clipped
from packlayout.export.scene import Panels

WIDTH, COLUMNS = 1600, 3
_MARGIN, _TOP, _HEAD, _FOOT, _TALL = 30, 92, 46, 64, 300
LABELLED = 6


def panel_frame(panels: Panels) -> Frame:
    """How vehicle axes map to pixels within each panel."""
    points = np.concatenate([mesh.vertices for mesh in panels.surfaces])
    flat = np.column_stack([points @ panels.right, points @ panels.up])
    lo, hi = flat.min(axis=0), flat.max(axis=0)
    wide = (WIDTH - (COLUMNS + 1) * _MARGIN) // COLUMNS
    scale = float(min((wide - 40) / (hi[0] - lo[0]), (_TALL - 24) / (hi[1] - lo[1])))
    across, aloft = (lo + hi) / 2
    x, y, z = across * np.array(panels.right) + aloft * np.array(panels.up)
    return Frame(wide, _TALL, (float(x), float(y), float(z)), scale, panels.right, panels.up, float(_TALL))


def panel_sheet(panels: Panels, frame: Frame, shots: Sequence[Any]) -> bytes:
    """All panels on one picture, as PNG.

    Args:
        panels: What is said.
        frame: Where things are within a panel.
        shots: (height, width, 3) uint8 of each panel, without words.
    """
    rows = -(-len(shots) // COLUMNS)
    height = _TOP + rows * (_HEAD + _TALL) + _FOOT
    image = np.full((height, WIDTH, 3), 255, dtype=np.uint8)
    corners = [
        (_MARGIN + (n % COLUMNS) * (frame.width_px + _MARGIN), _TOP + (n // COLUMNS) * (_HEAD + _TALL))
        for n in range(len(shots))
    ]
    for (left, top), shot in zip(corners, shots, strict=True):
        image[top + _HEAD : top + _HEAD + _TALL, left : left + frame.width_px] = shot
    sheet = Sheet(image)
    sheet.words(_MARGIN, 32, panels.title, size=16.0, bold=True)
    sheet.words(_MARGIN, 64, panels.caption, size=10.5, faint=True)
    for (left, top), panel in zip(corners, panels.panels, strict=True):
        sheet.words(left, top + 12, clipped_to(panel.title, frame.width_px, bold=True), bold=True)
        sheet.words(left, top + 34, clipped_to(panel.words, frame.width_px), faint=True)
        for text, x, y in placed_figures(panel.figures, frame):
            sheet.words(left + x, top + _HEAD + y, text, side="center", plate=True)
    x = float(_MARGIN)
    for key in panels.keys:
        sheet.sign(x + 10, height - 28, key)
        sheet.words(x + 28, height - 28, clipped(key.text))
        x += 28 + width_px(clipped(key.text)) + 34
    return sheet.png()


def placed_figures(
    figures: Sequence[tuple[str, tuple[float, float, float]]], frame: Frame
) -> list[tuple[str, float, float]]:
    """The figures that find room, the most important first: text, x and y of its middle within the panel."""
    taken: list[tuple[float, float, float, float]] = []
    made: list[tuple[str, float, float]] = []
    for text, at in figures:
        x, y = frame.pixel(at)
        half = width_px(text) / 2 + 4
        box = (x - half, y - 12, x + half, y + 12)
        if len(made) < LABELLED and not any(
            box[0] < t[2] and t[0] < box[2] and box[1] < t[3] and t[1] < box[3] for t in taken
        ):
            taken.append(box)
            made.append((text, x, y))
    return made
