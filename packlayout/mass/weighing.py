"""What a weighing answers: states, change, payload, ledger, checks. The nouns only; `weigh` makes them."""

from dataclasses import dataclass

from packlayout.model.check import Check, Verdict
from packlayout.model.geometry import MassItem, MeasuredPoint, Vec
from packlayout.units import Measured


@dataclass(frozen=True, slots=True)
class State:
    """The vehicle in one state.

    Attributes:
        name: `original kerb`, `converted kerb`, ...
        mass: kg.
        cg: Centre of gravity, mm, vehicle axes.
        inertia: Ixx, Iyy, Izz about the centre of gravity, kg m2.
        axle: Front and rear axle load, kg, as read on a weighbridge.
        corner: Front left, front right, rear left, rear right, kg.
        note: How the corner split and the inertias were found.
        front_percent: Front axle load over mass.
        cg_covariance: Of the centre of gravity, mm2, from standard deviations; by rows.
        term: What the state is called in ISO 1176 or in law.
    """

    name: str
    mass: Measured
    cg: MeasuredPoint
    inertia: MeasuredPoint
    axle: tuple[Measured, Measured]
    corner: tuple[Measured, Measured, Measured, Measured]
    note: str
    front_percent: Measured | None = None
    cg_covariance: tuple[Vec, Vec, Vec] | None = None
    term: str = ""


@dataclass(frozen=True, slots=True)
class Change:
    """Converted kerb minus original kerb; what both share cancels out of the tolerances."""

    mass: Measured
    cg: MeasuredPoint
    axle: tuple[Measured, Measured]
    corner: tuple[Measured, Measured, Measured, Measured]


@dataclass(frozen=True, slots=True)
class PayloadRow:
    """How much may be carried with its centre at one place of the load floor.

    Attributes:
        x_mm: Place.
        allowed_kg: Mass of goods; nought when nothing is left.
        bound_by: What sets it, such as `rear axle plate`.
    """

    x_mm: float
    allowed_kg: Measured
    bound_by: str


@dataclass(frozen=True, slots=True)
class PayloadCurve:
    """What one limit by itself would allow along the load floor.

    Attributes:
        name: Of the limit, as in `PayloadRow.bound_by`.
        points: Place, mm, and mass of goods, kg.
    """

    name: str
    points: tuple[tuple[float, float], ...]


@dataclass(frozen=True, slots=True)
class Movable:
    """Where a part stands and where it would leave the most payload at the middle of the load floor.

    Attributes:
        name: Of the placement.
        zone: It stands in.
        x_mm: Middle of its box now.
        allowed_kg: Payload now.
        best_zone: Of the zones the brief allows it.
        best_x_mm: Middle of its box there.
        best_allowed_kg: Payload then.
        bound_by: What sets it then.
    """

    name: str
    zone: str
    x_mm: float
    allowed_kg: float
    best_zone: str
    best_x_mm: float
    best_allowed_kg: float
    bound_by: str


@dataclass(frozen=True, slots=True)
class Ride:
    """How the vehicle stands and rides in one state, against the original in kerb state.

    Attributes:
        state: Its name.
        height_change_mm: At the front and at the rear axle; negative: lower.
        pitch_deg: Nose up is positive.
        frequency_hz: Natural frequency of the body on each axle's springs, tyres taken as stiff.
    """

    state: str
    height_change_mm: tuple[Measured, Measured]
    pitch_deg: Measured
    frequency_hz: tuple[Measured, Measured]


@dataclass(frozen=True, slots=True)
class Restore:
    """What brings one axle of the converted vehicle back to its original height. One of the two is enough.

    Attributes:
        axle: `front` or `rear`.
        rate_n_per_mm: Wheel rate now, and the one that carries the new load at the old height.
        rate_change_percent: From the one to the other.
        packing_mm: Packing at the wheel with the old spring; negative: a lowering block.
    """

    axle: str
    rate_n_per_mm: tuple[Measured, Measured]
    rate_change_percent: Measured
    packing_mm: Measured


@dataclass(frozen=True, slots=True)
class OnTheRoad:
    """One state on the road.

    Attributes:
        state: Its name.
        braked_axle_kg: Front and rear axle load at the deceleration of the brief; a negative rear one: it lifts.
        moved_kg: What braking moves from the rear to the front axle.
        stability_factor: Half the mean track over the height of the centre of gravity.
        hill_adhesion: Friction that the driven rear wheels need on the gradient of the brief.
    """

    state: str
    braked_axle_kg: tuple[Measured, Measured]
    moved_kg: Measured
    stability_factor: Measured
    hill_adhesion: Measured


@dataclass(frozen=True, slots=True)
class Suspect:
    """A thing that may be to blame for a misfit.

    Attributes:
        about: What it is: an item, a part, a pad.
        name: Which of its inputs would have to move most.
        off_by: True less given that the readings speak for, in `unit`.
        tolerance: What its tolerance allows.
        unit: Symbol.
        share: How much of the whole misfit it explains, 0 to 1.
    """

    about: str
    name: str
    off_by: float
    tolerance: float
    unit: str
    share: float


@dataclass(frozen=True, slots=True)
class Compared:
    """One scale reading and its prediction.

    Attributes:
        name: `front left`, `rear axle`, ..., `total`.
        predicted: kg.
        read: kg.
        difference: Read less predicted, with the tolerance of both.
        within: Whether the difference lies within its tolerance.
    """

    name: str
    predicted: Measured
    read: Measured
    difference: Measured
    within: bool


@dataclass(frozen=True, slots=True)
class Unlisted:
    """The one thing that would make up a difference in the total: what to look for, and where.

    Attributes:
        mass: Negative: something counted that is not there.
        x: Behind the front axle, mm.
        y: To the right of the centre plane, mm; None when only axles were weighed.
    """

    mass: Measured
    x: Measured
    y: Measured | None


@dataclass(frozen=True, slots=True)
class Comparison:
    """Scale readings against the prediction.

    Attributes:
        state: Which state was weighed.
        rows: One for each reading, the total last.
        suspects: Most likely to blame first; of weight when a difference is out of tolerance.
        unlisted: None while the total is within tolerance.
        checks: One for each row.
        note: What else the readings look like, such as pads read the wrong way round; may be empty.
    """

    state: str
    rows: tuple[Compared, ...]
    suspects: tuple[Suspect, ...]
    unlisted: Unlisted | None
    checks: tuple[Check, ...]
    note: str = ""


@dataclass(frozen=True, slots=True)
class NextMeasurement:
    """One input, and what knowing it better would do to one check.

    Attributes:
        about: The thing it belongs to.
        name: Which input.
        unit: Symbol.
        tolerance: Now.
        better: As it would be measured.
        check_tolerance: Of the check, then.
        verdict: Of the check, then, should the value stay.
        confidence: Likewise.
    """

    about: str
    name: str
    unit: str
    tolerance: float
    better: float
    check_tolerance: float
    verdict: Verdict
    confidence: float


@dataclass(frozen=True, slots=True)
class NextMeasurements:
    """What to measure next, for the verdict that matters: the one nearest to turning.

    Attributes:
        check: As it stands.
        rows: The single measurements that would narrow it most, best first.
        unknown: Notes of checks that lack an input altogether.
    """

    check: Check | None
    rows: tuple[NextMeasurement, ...]
    unknown: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Weighing:
    """The answer of `weigh`.

    Attributes:
        states: From original kerb to full load.
        change: From original to converted kerb.
        payload: Along the load floor; empty without one.
        ledger: Every item; their sum is the converted kerb state.
        checks: Plate, tyres, design code, ledger.
        payload_curves: Each limit by itself, for a chart.
        movables: Parts that could stand elsewhere, the greatest gain first.
        rides: Of each state; empty when the springs are not given.
        restores: What brings each axle back to its height.
        road: Each state on the road.
        stripped: The ledger held against a weighing of the stripped vehicle; None without one.
        next_measurements: What would most narrow the verdict that matters.
    """

    states: tuple[State, ...]
    change: Change
    payload: tuple[PayloadRow, ...]
    ledger: tuple[MassItem, ...]
    checks: tuple[Check, ...]
    payload_curves: tuple[PayloadCurve, ...] = ()
    movables: tuple[Movable, ...] = ()
    rides: tuple[Ride, ...] = ()
    restores: tuple[Restore, ...] = ()
    road: tuple[OnTheRoad, ...] = ()
    stripped: Comparison | None = None
    next_measurements: NextMeasurements | None = None

    def state(self, name: str) -> State:
        """The state of that name; `KeyError` lists the known ones."""
        for state in self.states:
            if state.name == name:
                return state
        raise KeyError(f"no state {name!r}; known: {', '.join(s.name for s in self.states)}")
