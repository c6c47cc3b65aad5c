"""The side view with the axle loads as bars: lengths only; the template draws it."""

from dataclasses import dataclass

from packlayout.export.figures import figure, number
from packlayout.export.lanes import clipped
from packlayout.mass.states import CONVERTED, ORIGINAL
from packlayout.mass.weighing import State, Weighing
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


_LOOKS = {ORIGINAL: "before", CONVERTED: "after"}


def axle_drawing(case: Case, weighing: Weighing) -> AxleDrawing:
    """Side view and bars."""
    car = case.vehicle
    xs, zs = zip(*car.outline.side, strict=True)
    scale = 620 / (max(xs) - min(xs))
    ground = 20 + scale * max(zs)

    def px(x: float) -> float:
        return 190 + scale * (x - min(xs))

    plates = (car.plated.front_axle_kg, car.plated.rear_axle_kg)
    loads = [load for state in weighing.states for load in state.axle]
    most = 1.02 * max(*plates, *(load.value + load.tolerance for load in loads))

    def bar(state: State, axle: int) -> Bar:
        load, label = state.axle[axle], clipped(state.name, 30)
        share, spread = max(0.0, load.value) / most, load.tolerance / most
        return Bar(label, _LOOKS.get(state.name, "laden"), share, spread, f"{figure(load, 0)} kg")

    ends = tuple(
        (name, tuple(bar(state, k) for state in weighing.states), plates[k] / most, f"plate {number(plates[k], 0)} kg")
        for k, name in enumerate(("front axle", "rear axle"))
    )  # fmt: skip
    outline = " ".join(f"{px(x):.1f},{ground - scale * z:.1f}" for x, z in car.outline.side)
    radius = scale * car.tyres.radius_mm
    wheels = tuple((px(x), ground - radius) for x in (0.0, car.wheelbase_mm.value))
    return AxleDrawing(outline, wheels, radius, ground, ends)
