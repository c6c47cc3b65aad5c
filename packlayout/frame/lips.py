"""The lips on a cradle's posts: strips that hold the corners of the modules against sideways pushes."""

from dataclasses import dataclass

import numpy as np

from packlayout.frame.cradle import LIP_OVER_MM, LIP_THICK_MM
from packlayout.frame.loading import WAYS
from packlayout.frame.model import FrameModel, push_of
from packlayout.frame.stiffness import Floats
from packlayout.frame.strength import Strength
from packlayout.frame.welding import throat_of, weld_mpa
from packlayout.model.brief import Case


@dataclass(frozen=True, slots=True, eq=False)
class LipUse:
    """All corners of modules that lean on a lip; c cases, k corners.

    Attributes:
        what: (module, post) of each corner.
        force_n: (c, k) that the module pushes with.
        length_mm: (k,) of the lip that bears it.
        arm_mm: From the face of the post to the middle of the module's edge.
        bending: (c, k) plastic bending of the strip at the post.
        weld: (c, k) of the seam along the post; nought when the material has no figures for it.
    """

    what: tuple[tuple[str, str], ...]
    force_n: Floats
    length_mm: Floats
    arm_mm: float
    bending: Floats
    weld: Floats

    @property
    def worst(self) -> Floats:
        """(c, k) the larger of bending and weld."""
        return np.maximum(self.bending, self.weld)


def lip_use(case: Case, model: FrameModel, strength: Strength) -> LipUse | None:
    """How far the lips are used; None where no module leans on one.

    A lip is a cantilever as long as the module is high: it bends at the post with its plastic modulus, EN 1993-1-1
    clause 6.2.5, and its seam bears the same moment and the push, EN 1993-1-8 clause 4.5.3.3.
    """
    lines = model.skeleton.lines
    leaning = [
        patch
        for patch in model.loading.patches
        if WAYS[patch.way][0] != 2 and " post " in lines[patch.member].member.name and patch.end > patch.begin
    ]
    if not leaning:
        return None
    arm = case.brief.frame.liner_mm + LIP_OVER_MM / 2
    force = np.zeros((len(model.cases), len(leaning)))
    for n, load in enumerate(model.cases):
        push = push_of(load)
        for k, patch in enumerate(leaning):
            axis, sign = WAYS[patch.way]
            force[n, k] = max(push[axis] * sign, 0.0) * float(np.linalg.norm(patch.push))
    length = np.array([patch.end - patch.begin for patch in leaning])
    bending = force * arm / (length * LIP_THICK_MM**2 / 4 * strength.design_mpa)
    material = case.materials[case.brief.frame.material]
    metal = weld_mpa(case, material)
    weld = np.zeros_like(bending)
    if metal is not None:
        # one seam along the strip's edge: the push along it, the moment as a pull over the strip's thickness
        line = np.hypot(force / length, force * arm / (length * LIP_THICK_MM))
        weld = line / (throat_of(case, 0.0) * metal)
    what = tuple((patch.what, lines[patch.member].member.name) for patch in leaning)
    return LipUse(what, force, length, arm, bending, weld)
