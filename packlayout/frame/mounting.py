"""What each mounting point has to take, for the engineer who judges the old body."""

from dataclasses import dataclass

import numpy as np

from packlayout.frame.judge import Uses
from packlayout.frame.model import FrameModel
from packlayout.frame.stiffness import Floats
from packlayout.model.geometry import Vec


@dataclass(frozen=True, slots=True)
class MountLoad:
    """What a mounting point has to take in one load case.

    Attributes:
        load_case: Its name.
        force_n: On the vehicle, vehicle axes.
        moment_n_mm: On the vehicle about the middle of the holes. A pinned mount of two bolts or more takes one about
            the square to its face, which keeps the plate from turning on it; a fixed one takes all three; a single
            bolt and rubber take none.
        size_n: Of the force.
        pull_n: The part that pulls away from the face; negative presses on it.
        shear_n: The part along the face.
    """

    load_case: str
    force_n: Vec
    moment_n_mm: Vec
    size_n: float
    pull_n: float
    shear_n: float


@dataclass(frozen=True, slots=True)
class MountUse:
    """One mounting point.

    Attributes:
        mount: Its name.
        loads: In each load case.
        rated_n: As the vehicle file says.
        bolt_utilisation: Worst of shear, tension, both, bearing, pull-through; None without figures for the thread.
        bolt_by: Which of them.
        bolt_case: Its load case.
        plate_mm: Thickness of the foot plate.
        plate_utilisation: Its bending.
        plate_case: Its load case.
    """

    mount: str
    loads: tuple[MountLoad, ...]
    rated_n: float | None
    bolt_utilisation: float | None
    bolt_by: str
    bolt_case: str
    plate_mm: float
    plate_utilisation: float
    plate_case: str


def vec(v: Floats) -> Vec:
    """Three floats; no negative nought."""
    return float(v[0]) + 0.0, float(v[1]) + 0.0, float(v[2]) + 0.0


def mount_use(model: FrameModel, judged: Uses, n: int) -> MountUse:
    """One mounting point."""
    foot = judged.feet[n]
    face = np.array(foot.mount.face)
    loads: list[MountLoad] = []
    for case, row in zip(model.cases, foot.reaction, strict=True):
        force = -row[:3]
        pull = float(force @ face)
        shear = float(np.linalg.norm(force - pull * face))
        loads.append(
            MountLoad(case.name, vec(force), vec(-row[3:]), float(np.linalg.norm(force)), pull, shear)
        )
    by = max(foot.bolts, key=lambda key: (float(foot.bolts[key].max()), key), default="")
    k = int(foot.plate.argmax())
    return MountUse(
        foot.mount.name,
        tuple(loads),
        foot.mount.rated_n,
        float(foot.bolts[by].max()) if by else None,
        by,
        model.cases[int(foot.bolts[by].argmax())].name if by else "",
        foot.leg.plate.size[2],
        float(foot.plate[k]),
        model.cases[k].name,
    )
