"""Results as plain JSON values: one way for figures with a tolerance, for checks, for numbers of any library."""

import math
from collections.abc import Iterable
from dataclasses import asdict
from typing import Any

from packlayout.model.check import Check
from packlayout.model.geometry import MeasuredPoint
from packlayout.units import Measured

Json = dict[str, Any]


def plain(value: Any) -> Any:
    """Numbers of any library as Python's own, tuples as lists; what is not finite as null."""
    if isinstance(value, dict):
        return {str(key): plain(member) for key, member in value.items()}
    if isinstance(value, list | tuple):
        return [plain(member) for member in value]
    if value is None or isinstance(value, str | bool):
        return value
    if hasattr(value, "item"):
        return plain(value.item())
    if isinstance(value, float):
        return value + 0.0 if math.isfinite(value) else None
    return value


def with_tolerance(found: Measured | MeasuredPoint) -> Json:
    """A figure as value and tolerance, both lists for a position."""
    if isinstance(found, Measured):
        return {"value": plain(found.value), "tolerance": plain(found.tolerance)}
    return {"value": [plain(m.value) for m in found], "tolerance": [plain(m.tolerance) for m in found]}


def axles_json(axles: tuple[Measured, Measured]) -> Json:
    """Something that is known for each axle."""
    return {"front": with_tolerance(axles[0]), "rear": with_tolerance(axles[1])}


def check_json(check: Check) -> Json:
    """One check, in the shape that all stages share."""
    made: Json = {key: plain(value) for key, value in asdict(check).items() if key != "where"}
    return made | {"where_mm": None if check.where is None else [float(x) for x in check.where]}


def checks_json(checks: Iterable[Check]) -> list[Json]:
    """Checks in their order."""
    return [check_json(check) for check in checks]
