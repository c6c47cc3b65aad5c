"""The weighing: every state with its tolerances, the change, the payload, the ledger and the checks."""

from packlayout.mass.figures import Weigher, weigher
from packlayout.mass.ledger import base_items, part_items
from packlayout.mass.limits import judged_loads
from packlayout.mass.movable import movables
from packlayout.mass.next_measurement import next_measurements
from packlayout.mass.payload import payload_curves, payload_rows
from packlayout.mass.propagate import Figures, propagate
from packlayout.mass.readings import CORNERS, SIDE_SHARE
from packlayout.mass.reconcile import reconciled
from packlayout.mass.ride import restores, rides
from packlayout.mass.road import on_the_road
from packlayout.mass.states import CHANGE, CONVERTED, ORIGINAL, TERMS, key
from packlayout.mass.weighing import Change, State, Weighing
from packlayout.model.brief import Case
from packlayout.model.geometry import MassItem
from packlayout.model.layout import Layout
from packlayout.units import Measured


def weigh(case: Case, layout: Layout, frame_items: tuple[MassItem, ...] = ()) -> Weighing:
    """Weigh the vehicle before and after, in every state.

    Args:
        case: Vehicle, brief, parts, design code and conventions.
        layout: Where the parts stand.
        frame_items: What the frame weighs; empty before there is one.

    Returns:
        States from `original kerb` to `full load`; the change from original to converted kerb state; the
        payload along the load floor; the ledger, whose sum is the converted kerb state; how it rides and
        brakes; and the checks. Tolerances are 95 % half-widths by first-order propagation of every
        measured input. Where the stripped vehicle was weighed too, all figures take that in, so that they
        differ from the sum of the ledger by what its lines were out.

    Raises:
        GeometryError: for readings that cannot be, or more removed than there was.

    Source: ISO/IEC Guide 98-3 for the tolerances; terms after ISO 1176.
    """
    ledger = (*base_items(case), *part_items(case, layout), *frame_items)
    evaluate, figures = predict(case, layout, frame_items)
    figures, stripped = reconciled(case, evaluate, figures)
    laden = tuple(aboard for aboard, _ in evaluate.laden)
    names = (ORIGINAL, CONVERTED, *(aboard.name for aboard in laden))
    judged = judged_loads(case, figures, laden, evaluate.bounds)
    note = _note(case)
    return Weighing(
        tuple(_state(figures, name, note) for name in names),
        Change(
            figures.measured(key(CHANGE, "mass")), figures.point(key(CHANGE, "cg")), *_loads(figures, CHANGE)
        ),
        payload_rows(evaluate.bounds, figures),
        ledger,
        (*(j.check for j in judged), *(stripped.checks if stripped else ())),
        payload_curves(evaluate.bounds, figures),
        movables(case, layout, evaluate.bounds, figures),
        rides(figures, names) if evaluate.springs else (),
        restores(figures) if evaluate.springs else (),
        on_the_road(figures, names),
        stripped,
        next_measurements(judged, figures),
    )


def predict(case: Case, layout: Layout, frame_items: tuple[MassItem, ...] = ()) -> tuple[Weigher, Figures]:
    """The evaluator of a case and its first-order figures, before any reading of the stripped vehicle."""
    evaluate, inputs = weigher(case, layout, frame_items)
    return evaluate, propagate(evaluate, inputs)


def _state(figures: Figures, name: str, note: str) -> State:
    mass, cg, inertia = (
        figures.measured(key(name, "mass")),
        figures.point(key(name, "cg")),
        figures.point(key(name, "inertia")),
    )
    rows = figures.covariance(*(key(name, f"cg {axis}") for axis in "xyz"))
    covariance = tuple((float(a), float(b), float(c)) for a, b, c in rows)
    return State(
        name,
        mass,
        cg,
        inertia,
        *_loads(figures, name),
        note,
        figures.measured(key(name, "front share")),
        (covariance[0], covariance[1], covariance[2]),
        TERMS.get(name, ""),
    )


def _loads(
    figures: Figures, name: str
) -> tuple[tuple[Measured, Measured], tuple[Measured, Measured, Measured, Measured]]:
    front, rear = (figures.measured(key(name, f"{end} axle")) for end in ("front", "rear"))
    a, b, c, d = (figures.measured(key(name, f"{wheel} corner")) for wheel in CORNERS)
    return (front, rear), (a, b, c, d)


def _note(case: Case) -> str:
    measured = case.vehicle.weighed.corners is not None
    sides = (
        "twist as on the four pads"
        if measured
        else "no pads were weighed: left and right of the original are taken as equal within "
        f"{100 * SIDE_SHARE.tolerance:g} % of the axle load"
    )
    split = (
        "what came since is split fairly, both axles bearing the same offset to the side"
        if case.vehicle.suspension is None
        else "what came since is split as a rigid body on four springs"
    )
    return (
        f"Corners: {sides}; {split}. "
        "Inertia of the original: estimate from published regressions; parts as boxes."
    )
