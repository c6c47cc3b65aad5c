"""What the wheels carry: axle loads by moments, corner loads by a statically fair split.

All functions take floats or arrays of one shape, and are exact for level ground.
"""

from typing import TypeVar

from packlayout.model.geometry import Floats

Number = TypeVar("Number", float, Floats)


def axle_loads(mass_kg: Number, cg_x_mm: Number, wheelbase_mm: Number) -> tuple[Number, Number]:
    """Static load on each axle: moment balance about the front axle.

    Args:
        mass_kg: Total mass.
        cg_x_mm: Centre of gravity behind the front axle.
        wheelbase_mm: Distance of the axles.

    Returns:
        Front and rear axle load, kg, as read on a weighbridge. A negative one means that the centre
        of gravity lies outside the wheelbase: a result, which the checks report.

    Source: statics; Jazar, Vehicle Dynamics, axle-load example.
    """
    rear = mass_kg * cg_x_mm / wheelbase_mm
    return mass_kg - rear, rear


def corner_loads(
    axle_kg: tuple[Number, Number], cg_y_mm: Number, tracks_mm: tuple[Number, Number], cross_kg_mm: Number
) -> tuple[Number, Number, Number, Number]:
    """Load on each wheel.

    Three conditions fix four wheels but for one: how the sideways moment is shared by the axles. The fair
    split lets each axle bear it in proportion to its load, so that both have the same offset to the side.
    `cross_kg_mm` is what the front axle bears beyond that, as measured on four pads: twist of the body,
    unequal springs.

    Args:
        axle_kg: Front and rear axle load, kg.
        cg_y_mm: Centre of gravity to the right of the centre plane.
        tracks_mm: Front and rear track.
        cross_kg_mm: Moment on the front axle beyond its fair share; the rear axle bears the opposite.

    Returns:
        Front left, front right, rear left, rear right, kg. They sum to the axle loads, and their moment about
        the centre plane is the mass times its offset, whatever the split.

    Source: statics.
    """
    front, rear = axle_kg
    front_lean = (front * cg_y_mm + cross_kg_mm) / tracks_mm[0]
    rear_lean = (rear * cg_y_mm - cross_kg_mm) / tracks_mm[1]
    return front / 2 - front_lean, front / 2 + front_lean, rear / 2 - rear_lean, rear / 2 + rear_lean


def cross_moment(
    corners_kg: tuple[Number, Number, Number, Number], tracks_mm: tuple[Number, Number]
) -> Number:
    """Moment on the front axle beyond its fair share, kg mm, from four measured corners."""
    front_left, front_right, rear_left, rear_right = corners_kg
    front, rear = front_left + front_right, rear_left + rear_right
    front_moment = (front_right - front_left) * tracks_mm[0] / 2
    rear_moment = (rear_right - rear_left) * tracks_mm[1] / 2
    return front_moment - front * (front_moment + rear_moment) / (front + rear)
