"""Tolerances: how the half-widths of the inputs come through to the results, to first order.

One function of all independent inputs, `(k, B)` values -> named `(B,)` results, serves the nominal
values, the sensitivities and the random draws. What two results share, such as the wheelbase or a fuel
tank that is weighed and then taken out, is one input, so that it cancels where it should.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass

import numpy as np

from packlayout.model.geometry import Floats, MeasuredPoint
from packlayout.units import Measured

BATCH = 256
"""Inputs that are moved in one call: few enough for the processor's cache."""

Evaluate = Callable[[Floats], Mapping[str, Floats]]


@dataclass(frozen=True, slots=True, eq=False)
class Inputs:
    """The independent inputs of a calculation, in the order of their rows.

    Attributes:
        names: For people, such as `mass of engine`; they need not differ.
        about: The thing each belongs to, such as `engine`.
        units: Symbol of each.
        nominal: (k,) values.
        tolerance: (k,) 95 % half-widths; nought for what is exact.
    """

    names: tuple[str, ...]
    about: tuple[str, ...]
    units: tuple[str, ...]
    nominal: Floats
    tolerance: Floats


class Register:
    """Collects inputs and gives each its row."""

    def __init__(self) -> None:
        self._names: list[str] = []
        self._about: list[str] = []
        self._units: list[str] = []
        self._values: list[Measured] = []

    def add(self, name: str, unit: str, value: Measured, about: str = "") -> int:
        """Row of a new input; `about` is the thing it belongs to, when not itself."""
        self._names.append(name)
        self._about.append(about or name)
        self._units.append(unit)
        self._values.append(value)
        return len(self._values) - 1

    def point(self, name: str, at: MeasuredPoint, about: str = "") -> tuple[int, int, int]:
        """Rows of a new position."""
        x, y, z = (
            self.add(f"{name}, {axis}", "mm", c, about or name) for axis, c in zip("xyz", at, strict=True)
        )
        return x, y, z

    def inputs(self) -> Inputs:
        """All of them."""
        return Inputs(
            tuple(self._names),
            tuple(self._about),
            tuple(self._units),
            np.array([v.value for v in self._values], dtype=np.float64),
            np.array([v.tolerance for v in self._values], dtype=np.float64),
        )


@dataclass(frozen=True, slots=True, eq=False)
class Mix:
    """How a reading of a result ties inputs together that were independent before: I + V diag(f) V'.

    Attributes:
        directions: (k, p) V, orthonormal, in units of the tolerances.
        factors: (p,) f, between -1 and 0.
    """

    directions: Floats
    factors: Floats

    def __call__(self, effect: Floats) -> Floats:
        """The effects (..., k) of the inputs after the reading."""
        return effect + (effect @ self.directions * self.factors) @ self.directions.T


@dataclass(frozen=True, slots=True, eq=False)
class Figures:
    """Results with their sensitivities.

    Attributes:
        inputs: What they were computed from.
        value: Result -> nominal value.
        effect: Result -> (k,) change of the result when one input moves by its tolerance. After
            readings of results (`mixes`) the inputs are no longer independent: then the entries belong
            to independent mixtures, each nearly one input.
        mixes: Of those readings, in their order.
    """

    inputs: Inputs
    value: Mapping[str, float]
    effect: Mapping[str, Floats]
    mixes: tuple[Mix, ...] = ()

    def measured(self, name: str) -> Measured:
        """A result with its tolerance: the effects of independent inputs add in quadrature."""
        return Measured(self.value[name], float(np.sqrt(np.sum(self.effect[name] ** 2))))

    def covariance(self, *names: str) -> Floats:
        """(n, n) covariance of results, from standard deviations of half the tolerance."""
        rows = np.stack([self.effect[name] / 2 for name in names])
        return rows @ rows.T

    def point(self, name: str) -> MeasuredPoint:
        """Three results called `NAME x`, `NAME y`, `NAME z`."""
        return self.measured(f"{name} x"), self.measured(f"{name} y"), self.measured(f"{name} z")


def propagate(evaluate: Evaluate, inputs: Inputs, mixes: tuple[Mix, ...] = ()) -> Figures:
    """Nominal results and their sensitivities.

    Each input with a tolerance is moved up and down by one standard deviation; half the difference of the
    two results, times the coverage factor 2, is the effect at 95 %.

    Source: ISO/IEC Guide 98-3 (GUM) clauses 5.1.2 and 5.1.3, note 2: numerical sensitivity coefficients.
    """
    value = {name: float(found[0]) for name, found in evaluate(inputs.nominal[:, None]).items()}
    spread = np.zeros((len(value), len(inputs.nominal)))
    moved = np.flatnonzero(inputs.tolerance > 0)
    for begin in range(0, len(moved), BATCH):
        rows = moved[begin : begin + BATCH]
        up = np.arange(len(rows))
        batch = np.repeat(inputs.nominal[:, None], 2 * len(rows), axis=1)
        batch[rows, up] += inputs.tolerance[rows] / 2
        batch[rows, up + len(rows)] -= inputs.tolerance[rows] / 2
        for n, found in enumerate(evaluate(batch).values()):
            spread[n, rows] = found[: len(rows)] - found[len(rows) :]
    for mix in mixes:
        spread = mix(spread)
    return Figures(inputs, value, dict(zip(value, spread, strict=True)), mixes)
