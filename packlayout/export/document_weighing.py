"""What `weigh` found as plain JSON: states, change, payload, ride, road, ledger, and the finished vehicle."""

from collections.abc import Iterable
from dataclasses import asdict

from packlayout.export.plain import Json, axles_json, check_json, checks_json, plain, with_tolerance
from packlayout.mass.weighing import (
    Comparison,
    NextMeasurements,
    OnTheRoad,
    Restore,
    Ride,
    State,
    Weighing,
)  # fmt: skip
from packlayout.model.geometry import MassItem
from packlayout.units import Measured

KEYS = (
    "states", "change", "payload", "payload_curves", "movables", "rides", "restores", "road", "stripped",
    "next_measurements", "ledger", "checks",
)  # fmt: skip
"""What a weighing answers; all null when the vehicle could not be weighed."""

_LEDGER = {"removed": "removed", "added": "added", "part": "added", "frame": "added"}
_CORNERS = ("front_left", "front_right", "rear_left", "rear_right")


def weighing_json(weighing: Weighing | None) -> Json:
    """A weighing, every key there.

    Args:
        weighing: What was weighed; None for what could not be.

    Returns:
        Plain values. Lists that could not be computed for want of an input are empty.
    """
    if weighing is None:
        return dict.fromkeys(KEYS)
    change, then = weighing.change, weighing.next_measurements
    return {
        "states": [_state(state) for state in weighing.states],
        "change": {"mass_kg": with_tolerance(change.mass), "cg_mm": with_tolerance(change.cg),
                   "axle_kg": axles_json(change.axle), "corner_kg": _corners(change.corner)},
        "payload": [
            {"x_mm": float(row.x_mm), "allowed_kg": with_tolerance(row.allowed_kg), "bound_by": row.bound_by}
            for row in weighing.payload
        ],
        "payload_curves": [
            {"name": curve.name, "points": [{"x_mm": plain(x), "allowed_kg": plain(kg)} for x, kg in curve.points]}
            for curve in weighing.payload_curves
        ],
        "movables": [plain(asdict(movable)) for movable in weighing.movables],
        "rides": [_ride(ride) for ride in weighing.rides],
        "restores": [_restore(restore) for restore in weighing.restores],
        "road": [_road(row) for row in weighing.road],
        "stripped": comparison_json(weighing.stripped) if weighing.stripped is not None else None,
        "next_measurements": _next(then) if then is not None else None,
        "ledger": _ledger(weighing.ledger),
        "checks": checks_json(weighing.checks),
    }  # fmt: skip


def comparison_json(found: Comparison) -> Json:
    """Scale readings against the prediction."""
    lone = found.unlisted
    return {
        "state": found.state,
        "rows": [
            {"name": row.name, "predicted_kg": with_tolerance(row.predicted), "read_kg": with_tolerance(row.read),
             "difference_kg": with_tolerance(row.difference), "within": bool(row.within)}
            for row in found.rows
        ],
        "suspects": [plain(asdict(suspect)) for suspect in found.suspects],
        "unlisted": None if lone is None else {
            "mass_kg": with_tolerance(lone.mass), "x_mm": with_tolerance(lone.x),
            "y_mm": None if lone.y is None else with_tolerance(lone.y),
        },
        "note": found.note,
        "checks": checks_json(found.checks),
    }  # fmt: skip


def _state(state: State) -> Json:
    return {
        "name": state.name,
        "term": state.term,
        "mass_kg": with_tolerance(state.mass),
        "cg_mm": with_tolerance(state.cg),
        "cg_covariance_mm2": plain(state.cg_covariance),
        "inertia_kg_m2": with_tolerance(state.inertia),
        "axle_kg": axles_json(state.axle),
        "corner_kg": _corners(state.corner),
        "front_percent": None if state.front_percent is None else with_tolerance(state.front_percent),
        "note": state.note,
    }


def _ride(ride: Ride) -> Json:
    return {
        "state": ride.state,
        "height_change_mm": axles_json(ride.height_change_mm),
        "pitch_deg": with_tolerance(ride.pitch_deg),
        "frequency_hz": axles_json(ride.frequency_hz),
    }


def _restore(restore: Restore) -> Json:
    now, then = restore.rate_n_per_mm
    return {
        "axle": restore.axle,
        "rate_n_per_mm": with_tolerance(now),
        "restoring_rate_n_per_mm": with_tolerance(then),
        "rate_change_percent": with_tolerance(restore.rate_change_percent),
        "packing_mm": with_tolerance(restore.packing_mm),
    }


def _road(row: OnTheRoad) -> Json:
    return {
        "state": row.state,
        "braked_axle_kg": axles_json(row.braked_axle_kg),
        "moved_kg": with_tolerance(row.moved_kg),
        "stability_factor": with_tolerance(row.stability_factor),
        "hill_adhesion": with_tolerance(row.hill_adhesion),
    }


def _next(found: NextMeasurements) -> Json:
    return {
        "check": None if found.check is None else check_json(found.check),
        "rows": [plain(asdict(row)) for row in found.rows],
        "unknown": list(found.unknown),
    }


def _corners(corners: tuple[Measured, Measured, Measured, Measured]) -> Json:
    return {name: with_tolerance(load) for name, load in zip(_CORNERS, corners, strict=True)}


def _ledger(items: Iterable[MassItem]) -> Json:
    rows: dict[str, list[Json]] = {"removed": [], "added": [], "other": []}
    for item in items:
        sort = _LEDGER.get(item.kind, "other")
        if item.kind == "fluid" and item.mass.value < 0:
            sort = "removed"  # the fuel that goes out with its tank
        rows[sort].append({
            "name": item.name, "kind": item.kind, "mass_kg": with_tolerance(item.mass),
            "position_mm": with_tolerance(item.position), "size_mm": plain(item.size), "source": item.source,
        })  # fmt: skip
    return dict(rows)
