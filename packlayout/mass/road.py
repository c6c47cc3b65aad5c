"""On the road: axle loads when braking, static stability factor, grip that a hill start asks for."""

from math import atan, cos, sin

from packlayout.mass.loads import Number, axle_loads
from packlayout.mass.propagate import Figures
from packlayout.mass.states import key
from packlayout.mass.weighing import OnTheRoad
from packlayout.model.brief import Road
from packlayout.model.geometry import Floats
from packlayout.units import G0_M_S2


def braked_axle_loads(
    axle_kg: tuple[Number, Number], cg_z_mm: Number, wheelbase_mm: Number, deceleration_m_per_s2: float
) -> tuple[Number, Number]:
    """Axle loads while braking on the level, suspension taken as stiff.

    Args:
        axle_kg: Front and rear, standing.
        cg_z_mm: Height of the centre of gravity.
        wheelbase_mm: Distance of the axles.
        deceleration_m_per_s2: Of the vehicle.

    Returns:
        Front and rear axle load, kg.

    Source: Jazar, Vehicle Dynamics, accelerating car on a level pavement: m a h / (l g) goes forward.
    """
    front, rear = axle_kg
    moved = (front + rear) * deceleration_m_per_s2 / G0_M_S2 * cg_z_mm / wheelbase_mm
    return front + moved, rear - moved


def graded_axle_loads(
    mass_kg: Number, cg_x_mm: Number, cg_z_mm: Number, wheelbase_mm: Number, gradient_percent: float
) -> tuple[Number, Number]:
    """What each axle presses square on the road, parked nose up on a gradient, kg.

    Source: Jazar, Vehicle Dynamics, parked car on an inclined pavement:
        front m (a2 / l cos p - h / l sin p), rear m (a1 / l cos p + h / l sin p).
    """
    slope = atan(gradient_percent / 100)
    level_front, level_rear = axle_loads(mass_kg, cg_x_mm, wheelbase_mm)
    moved = mass_kg * cg_z_mm / wheelbase_mm * sin(slope)
    return level_front * cos(slope) - moved, level_rear * cos(slope) + moved


def hill_adhesion(cg_x_mm: Number, cg_z_mm: Number, wheelbase_mm: Number, gradient_percent: float) -> Number:
    """Friction coefficient that the rear wheels need to hold the vehicle on a gradient, nose up."""
    slope = atan(gradient_percent / 100)
    one = cg_x_mm / cg_x_mm
    _, rear = graded_axle_loads(one, cg_x_mm, cg_z_mm, wheelbase_mm, gradient_percent)
    return sin(slope) / rear


def stability_factor(track_front_mm: Number, track_rear_mm: Number, cg_z_mm: Number) -> Number:
    """Static stability factor T / 2 h, T the mean of the tracks.

    Source: NHTSA rollover resistance rating, 68 FR 59250 and following; saloons have about 1.3 to 1.5.
    """
    return (track_front_mm + track_rear_mm) / 4 / cg_z_mm


def road_figures(
    figures: dict[str, Floats], road: Road, wheelbase: Floats, tracks: tuple[Floats, Floats], state: str
) -> None:
    """Add one state on the road to the figures of a batch."""
    axle = figures[key(state, "front axle")], figures[key(state, "rear axle")]
    x, z = figures[key(state, "cg x")], figures[key(state, "cg z")]
    front, rear = braked_axle_loads(axle, z, wheelbase, road.deceleration_m_per_s2)
    figures[key(state, "braked front axle")] = front
    figures[key(state, "braked rear axle")] = rear
    figures[key(state, "braking moves")] = front - axle[0]
    figures[key(state, "stability factor")] = stability_factor(*tracks, z)
    figures[key(state, "hill adhesion")] = hill_adhesion(x, z, wheelbase, road.gradient_percent)


def on_the_road(figures: Figures, states: tuple[str, ...]) -> tuple[OnTheRoad, ...]:
    """Each state on the road."""
    return tuple(
        OnTheRoad(
            state,
            (
                figures.measured(key(state, "braked front axle")),
                figures.measured(key(state, "braked rear axle")),
            ),
            figures.measured(key(state, "braking moves")),
            figures.measured(key(state, "stability factor")),
            figures.measured(key(state, "hill adhesion")),
        )
        for state in states
    )
