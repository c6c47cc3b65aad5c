"""The side view with the axle loads as bars: lengths only; the template draws it."""

from dataclasses import dataclass

from packlayout.export.figures import figure, number
from packlayout.mass.states import CONVERTED, ORIGINAL
from packlayout.mass.weighing import Weighing
from packlayout.model.brief import Case


@dataclass(frozen=True, slots=True)
class Bar:
    """One load as a bar: lengths are shares of the longest."""

    label: str
    look: str
    share: float
    spread: float
    text: str


@dataclass(frozen=True, slots=True)
class AxleDrawing:
    """A side view with the loads under each axle, in the units of a 1000 wide drawing."""

    outline: str
    wheels: tuple[tuple[float, float], ...]
    radius: float
    ground: float
    ends: tuple[tuple[str, tuple[Bar, ...], float, str], ...]
    """For each axle: name, bars, the limit as a share, the limit in words."""


def axle_drawing(case: Case, weighing: Weighing) -> AxleDrawing:
    """Side view and bars."""
    car = case.vehicle
    xs, zs = zip(*car.outline.side, strict=True)
    scale = 620 / (max(xs) - min(xs))
    ground = 20 + scale * max(zs)
    left = 190.0

    def px(x: float) -> float:
        return left + scale * (x - min(xs))

    outline = " ".join(f"{px(x):.1f},{ground - scale * z:.1f}" for x, z in car.outline.side)
    limits = (car.plated.front_axle_kg, car.plated.rear_axle_kg)
    most = 1.02 * max(*limits, *(s.axle[k].value + s.axle[k].tolerance for s in weighing.states for k in (0, 1)))
    looks = {ORIGINAL: "before", CONVERTED: "after"}
    ends = tuple(
        (name,
         tuple(Bar(s.name, looks.get(s.name, "laden"), max(0.0, s.axle[k].value) / most, s.axle[k].tolerance / most,
                   f"{figure(s.axle[k], 0)} kg") for s in weighing.states),
         limits[k] / most, f"plate {number(limits[k], 0)} kg")
        for k, name in enumerate(("front axle", "rear axle"))
    )  # fmt: skip
    wheels = tuple((px(x), ground - scale * car.tyres.radius_mm) for x in (0.0, car.wheelbase_mm.value))
    return AxleDrawing(outline, wheels, scale * car.tyres.radius_mm, ground, ends)
