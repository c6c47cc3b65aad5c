"""How thick the fillet welds of a frame are, and what their metal bears."""

from packlayout.frame import joints
from packlayout.model.brief import Case
from packlayout.model.catalogue import Material


def throat_of(case: Case, wall: float) -> float:
    """Throat of the weld round a tube, mm: as the brief says, else that of a full-strength weld."""
    stated = case.brief.frame.weld_throat_mm
    return stated if stated is not None else max(joints.FULL_THROAT * wall, joints.LEAST_THROAT_MM)


def weld_mpa(case: Case, material: Material) -> float | None:
    """Design strength of a fillet weld; None when the material lacks a figure."""
    gamma = case.design_code.factors.joints
    if material.family == "aluminium":
        return joints.filler_strength(material.filler_mpa, gamma) if material.filler_mpa else None
    return (
        joints.weld_strength(material.ultimate_mpa, material.weld_factor, gamma)
        if material.weld_factor
        else None
    )
