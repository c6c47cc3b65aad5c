"""A judgement: what was found, what is allowed, and how sure it is. The same shape for every stage."""

from dataclasses import dataclass
from math import erf, sqrt
from typing import Literal

from packlayout.model.geometry import Vec
from packlayout.units import Measured

Verdict = Literal["pass", "marginal", "fail", "unknown"]
Sense = Literal["max", "min"]


@dataclass(frozen=True, slots=True)
class Check:
    """One judgement.

    Attributes:
        id: Dotted key, such as `axle.rear.max`.
        title: For people.
        value: What was found; None when an input is missing.
        tolerance: 95 % half-width of the value.
        limit: What is allowed; None when it is not known.
        sense: `max`: the value may not exceed the limit; `min`: not fall below it.
        unit: Symbol of value, tolerance, limit and margin.
        margin: Distance to the limit, positive when it holds.
        verdict: `pass`; `marginal`: holds at the value but not over its whole tolerance; `fail`; `unknown`.
        confidence: Probability that the limit holds, the value taken as normally distributed with a
            standard deviation of half the tolerance; None when unknown.
        basis: Where the limit is from.
        note: What would help, or which input is missing; may be empty.
        where: A point to look at, mm, vehicle axes.
    """

    id: str
    title: str
    value: float | None
    tolerance: float
    limit: float | None
    sense: Sense
    unit: str
    margin: float | None
    verdict: Verdict
    confidence: float | None
    basis: str
    note: str = ""
    where: Vec | None = None


def judge(
    id: str, title: str, found: Measured, limit: float, sense: Sense, unit: str, basis: str, *,
    note: str = "", where: Vec | None = None,
) -> Check:  # fmt: skip
    """Hold a measured value against a limit.

    Args:
        id: Key of the check.
        title: For people.
        found: Value and tolerance, in `unit`.
        limit: In the same unit.
        sense: `max` or `min`.
        unit: Symbol.
        basis: Where the limit is from.
        note: What would help.
        where: A point to look at.

    Returns:
        The check. Exactly on the limit holds. Confidence by the normal distribution.
    """
    margin = limit - found.value if sense == "max" else found.value - limit
    deviation = found.tolerance / 2
    sure = 1.0 if margin >= 0 else 0.0
    confidence = 0.5 * (1 + erf(margin / deviation / sqrt(2))) if deviation > 0 else sure
    verdict: Verdict = "fail" if margin < 0 else "marginal" if margin < found.tolerance else "pass"
    return Check(
        id,
        title,
        found.value,
        found.tolerance,
        limit,
        sense,
        unit,
        margin,
        verdict,
        confidence,
        basis,
        note,
        where,
    )


def unknown(id: str, title: str, unit: str, basis: str, missing: str, *, sense: Sense = "max") -> Check:
    """A check that cannot be made: `missing` names the input that it lacks."""
    return Check(id, title, None, 0.0, None, sense, unit, None, "unknown", None, basis, missing)
