"""How much may be carried, and where: each limit as a bound on the goods at each place of the load floor."""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from packlayout.mass.loads import Number
from packlayout.mass.propagate import Figures
from packlayout.mass.states import key
from packlayout.mass.weighing import PayloadCurve, PayloadRow
from packlayout.model.brief import Case
from packlayout.model.geometry import Floats
from packlayout.units import Measured

PLACES = 21
"""Places along the load floor, ends included; an odd number, so that one is the middle."""

ORIGINAL_REAR = "original laden rear axle"
"""Figure: rear axle load of the original, driver aboard, goods at the middle of the floor up to the plate."""


@dataclass(frozen=True, slots=True)
class Bound:
    """One limit at one place, linear in the mass m of the goods there: load + factor m <= limit.

    Attributes:
        place: Number of the place.
        x_mm: Where.
        name: What sets the limit.
        load: What is held: `front axle`, `rear axle`, `mass`, or `front share`.
        limit: kg; per cent for the front share; or the name of the figure that is the limit.
    """

    place: int
    x_mm: float
    name: str
    load: str
    limit: float | str

    @property
    def figure(self) -> str:
        """Name of its figure: the mass allowed, kg."""
        return f"payload {self.place}: {self.name}"

    def factor(self, share: Number) -> Number:
        """What one kg of goods at a share of the wheelbase adds to the load."""
        if self.load == "front axle":
            return 1 - share
        if self.load == "rear axle":
            return share
        if self.load == "front share":
            assert isinstance(self.limit, float)
            return share - 1 + self.limit / 100
        return share / share

    def allowed(self, front: Number, rear: Number, limit: Number, share: Number) -> Number:
        """Mass that may be carried at a share of the wheelbase on top of two axle loads; negative: over already."""
        mass = front + rear
        if self.load == "front share":
            room = front - limit / 100 * mass
        else:
            room = limit - {"front axle": front, "rear axle": rear, "mass": mass}[self.load]
        return room / self.factor(share)


def bounds(case: Case) -> tuple[Bound, ...]:
    """All bounds on goods, for each place of the load floor; none without a load floor."""
    floor = case.vehicle.load_floor
    if floor is None:
        return ()
    plate, tyres = case.vehicle.plated, case.vehicle.tyres
    limits: list[tuple[str, str, float | str]] = [
        ("front axle plate", "front axle", plate.front_axle_kg),
        ("rear axle plate", "rear axle", plate.rear_axle_kg),
        ("plated gross mass", "mass", plate.gross_kg),
        ("front tyres", "front axle", 2 * tyres.front_load_kg),
        ("rear tyres", "rear axle", 2 * tyres.rear_load_kg),
        ("laden rear axle of the original", "rear axle", ORIGINAL_REAR),
    ]
    for code in case.design_code.limits:
        if (code.quantity, code.sense, code.unit) == ("front axle share", "min", "percent"):
            limits.append(("least front axle share", "front share", code.value))
    wheelbase = case.vehicle.wheelbase_mm.value
    made: list[Bound] = []
    for place, x in enumerate(np.linspace(floor.begin_x_mm, floor.end_x_mm, PLACES)):
        for name, load, limit in limits:
            bound = Bound(place, float(x), name, load, limit)
            # a factor near nought bounds nothing: the goods stand over the other axle
            if bound.factor(float(x) / wheelbase) > 0.01:
                made.append(bound)
    return tuple(made)


def limit_of(bound: Bound, figures: Mapping[str, Number]) -> Number | float:
    """The limit of a bound, which may itself be a figure."""
    return figures[bound.limit] if isinstance(bound.limit, str) else bound.limit


def allowed_masses(
    made: tuple[Bound, ...], figures: Mapping[str, Floats], state: str, wheelbase: Floats
) -> dict[str, Floats]:
    """Mass that each bound allows on top of a state, kg, for a batch."""
    front, rear = figures[key(state, "front axle")], figures[key(state, "rear axle")]
    allowed: dict[str, Floats] = {}
    # one limit at all places at once
    for name in dict.fromkeys(bound.name for bound in made):
        same = [bound for bound in made if bound.name == name]
        x = np.array([[bound.x_mm] for bound in same])
        limit = np.asarray(limit_of(same[0], figures))
        allowed.update(
            zip((b.figure for b in same), same[0].allowed(front, rear, limit, x / wheelbase), strict=True)
        )
    return allowed


def payload_rows(made: tuple[Bound, ...], figures: Figures) -> tuple[PayloadRow, ...]:
    """The least bound at each place, with its tolerance; nought when nothing is left."""
    rows: list[PayloadRow] = []
    for place in range(PLACES if made else 0):
        tight = tightest(made, figures, place)
        found = figures.measured(tight.figure)
        rows.append(PayloadRow(tight.x_mm, Measured(max(found.value, 0.0), found.tolerance), tight.name))
    return tuple(rows)


def tightest(made: tuple[Bound, ...], figures: Figures, place: int) -> Bound:
    """The bound that allows least at one place."""
    return min((b for b in made if b.place == place), key=lambda bound: figures.value[bound.figure])


def payload_curves(made: tuple[Bound, ...], figures: Figures) -> tuple[PayloadCurve, ...]:
    """Each limit by itself along the load floor, for a chart."""
    names = dict.fromkeys(bound.name for bound in made)
    return tuple(
        PayloadCurve(
            name,
            tuple((b.x_mm, max(figures.value[b.figure], 0.0)) for b in made if b.name == name),
        )
        for name in names
    )
