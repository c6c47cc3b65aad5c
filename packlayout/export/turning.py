"""The model that turns in the page: every solid as triangles, small enough to ship within the report."""

import base64
from pathlib import Path

import numpy as np

from packlayout.export.blocks import Turning
from packlayout.export.meshes import surface
from packlayout.export.palette import channels, colour
from packlayout.export.tree import assembly_tree, leaves
from packlayout.study import Study

SCRIPT = Path(__file__).with_name("turning.js")
_STEPS = 65535


def turning(study: Study) -> Turning | None:
    """Everything that was placed and the frame, vehicle axes; None when there is nothing.

    Positions are rounded to the box over 65535: less than a tenth of a millimetre for a vehicle.
    """
    root = assembly_tree(study)
    if root is None:
        return None
    meshes = [(surface(leaf, study.case), channels(colour(leaf.kind))) for leaf in leaves(root)]
    points = np.concatenate([mesh.vertices for mesh, _ in meshes])
    tints = np.concatenate(
        [np.tile(np.round(np.array(rgb) * 255), (len(mesh.vertices), 1)) for mesh, rgb in meshes]
    )
    starts = np.cumsum([0, *(len(mesh.vertices) for mesh, _ in meshes)])
    faces = np.concatenate([mesh.faces + start for (mesh, _), start in zip(meshes, starts, strict=False)])
    lo, hi = points.min(axis=0), points.max(axis=0)
    size = np.maximum(hi - lo, 1e-6)
    return Turning(
        _text(np.round((points - lo) / size * _STEPS).astype("<u2")), _text(tints.astype("u1")),
        _text(faces.astype("<u4")), " ".join(f"{v:.3f}" for v in size),
    )  # fmt: skip


def _text(values: np.ndarray) -> str:
    return base64.b64encode(values.tobytes()).decode("ascii")
