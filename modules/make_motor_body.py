"""Writes `motor-45kw.stl`: a round motor with two end bells and a flange, as one closed surface.

Invented for demonstration. Run `python modules/make_motor_body.py` after a change; the STL stays beside it.
"""

import sys
from itertools import pairwise
from pathlib import Path

import numpy as np

AXIS_Y_Z = 135.0  # shaft line, mm from the lowest corner of the body's box
SIDES = 64
# radius at each station along the shaft, mm: rear bell, stator, drive-end bell, flange
PROFILE = (
    (0.0, 95.0), (18.0, 108.0), (26.0, 118.0), (250.0, 118.0), (256.0, 104.0), (284.0, 104.0), (284.0, 135.0),
    (300.0, 135.0),
)  # fmt: skip


def triangles() -> np.ndarray:
    """(n, 3, 3) corner points, mm, anticlockwise seen from outside."""
    angles = 2 * np.pi * np.arange(SIDES) / SIDES
    circle = np.column_stack([np.zeros(SIDES), np.cos(angles), np.sin(angles)])
    middle = np.array([0.0, AXIS_Y_Z, AXIS_Y_Z])
    rings = [np.array([x, 0.0, 0.0]) + middle + radius * circle for x, radius in PROFILE]
    made = []
    for a, b in pairwise(rings):
        a_next, b_next = np.roll(a, -1, axis=0), np.roll(b, -1, axis=0)
        made += [np.stack([a, a_next, b_next], axis=1), np.stack([a, b_next, b], axis=1)]
    first, last = rings[0], rings[-1]
    hub = np.broadcast_to(middle, first.shape)
    made.append(np.stack([hub, np.roll(first, -1, axis=0), first], axis=1))
    made.append(
        np.stack([hub + np.array([PROFILE[-1][0], 0.0, 0.0]), last, np.roll(last, -1, axis=0)], axis=1)
    )
    return np.concatenate(made)


def main(target: Path) -> None:
    """Write the binary STL, whole or not at all."""
    corners = triangles().astype("<f4")
    normals = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    normals /= np.linalg.norm(normals, axis=1, keepdims=True)
    rows = np.zeros(
        len(corners), dtype=[("normal", "<f4", 3), ("corners", "<f4", (3, 3)), ("attribute", "<u2")]
    )
    rows["normal"], rows["corners"] = normals, corners
    header = b"motor body, mm, invented for demonstration".ljust(80)
    unfinished = target.with_name(target.name + ".tmp")
    unfinished.write_bytes(header + np.uint32(len(rows)).astype("<u4").tobytes() + rows.tobytes())
    unfinished.replace(target)


if __name__ == "__main__":
    main(Path(sys.argv[1]) if len(sys.argv) > 1 else Path(__file__).with_name("motor-45kw.stl"))
