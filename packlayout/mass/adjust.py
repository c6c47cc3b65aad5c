"""Readings held against predictions: do they agree, what is most likely to blame, and what is known afterwards.

A scale reading of the stripped or of the finished vehicle is a second way to know what the ledger
predicts. Least squares gives the smallest set of shifts, each in units of its own tolerance, that makes both agree.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from packlayout.mass.propagate import Evaluate, Figures, Mix, propagate
from packlayout.mass.weighing import Suspect
from packlayout.model.geometry import Floats
from packlayout.units import Measured

LEAST_TOLERANCE = 1e-3
"""A reading without a tolerance is taken to have this one, in its unit, so that it can be weighed against others."""


@dataclass(frozen=True, slots=True)
class Reading:
    """A scale reading of something that was predicted.

    Attributes:
        figure: Name of the prediction.
        name: For people, such as `front left`.
        found: What the scale said, in the unit of the prediction.
    """

    figure: str
    name: str
    found: Measured


@dataclass(frozen=True, slots=True, eq=False)
class Adjustment:
    """What readings say of the inputs.

    Attributes:
        readings: Held against the predictions.
        misfit: (p,) found less predicted.
        covariance: (p, p) of the misfit, in tolerances: its diagonal holds squared 95 % half-widths.
        suspects: Most likely first.
        figures: Everything predicted anew with the readings taken in.
    """

    readings: tuple[Reading, ...]
    misfit: Floats
    covariance: Floats
    suspects: tuple[Suspect, ...]
    figures: Figures

    def difference(self, weights: Sequence[float]) -> Measured:
        """A weighted sum of the misfits, with its tolerance."""
        w = np.asarray(weights, dtype=np.float64)
        return Measured(float(w @ self.misfit), float(np.sqrt(w @ self.covariance @ w)))


def adjust(evaluate: Evaluate, figures: Figures, readings: Sequence[Reading]) -> Adjustment:
    """Take readings of results into account.

    Args:
        evaluate: The evaluator that the figures came from.
        figures: What was predicted.
        readings: What the scales said; their errors are independent of each other and of the inputs.

    Returns:
        Misfits with their tolerances, suspects, and the figures after the readings: values moved, tolerances narrowed.

    Source: least-squares adjustment with prior knowledge (generalised Gauss-Markov estimate), linear about
        the nominal values; the same result as ISO/IEC Guide 98-3 supplement 2 gives for a linear model.
    """
    effects = np.stack([figures.effect[r.figure] for r in readings])
    noise = np.array([max(r.found.tolerance, LEAST_TOLERANCE) for r in readings])
    misfit = np.array([r.found.value - figures.value[r.figure] for r in readings])
    covariance = effects @ effects.T + np.diag(noise**2)
    weights: Floats = np.linalg.solve(covariance, misfit).astype(np.float64)
    shift = effects.T @ weights
    # singular values of the effects in units of the readings' tolerances say how much each mixture narrows
    _, sizes, rows = np.linalg.svd(effects / noise[:, None], full_matrices=False)
    mix = Mix(rows.T, np.sqrt(1 / (1 + sizes**2)) - 1)
    moved = shift
    for earlier in reversed(figures.mixes):
        moved = earlier(moved)
    inputs = figures.inputs
    after = replace(inputs, nominal=inputs.nominal + moved * inputs.tolerance)
    return Adjustment(
        tuple(readings),
        misfit,
        covariance,
        _suspects(figures, readings, moved, noise, weights, float(misfit @ weights)),
        propagate(evaluate, after, (*figures.mixes, mix)),
    )


def _suspects(
    figures: Figures, readings: Sequence[Reading], shift: Floats, noise: Floats, weights: Floats, total: float
) -> tuple[Suspect, ...]:
    inputs = figures.inputs
    groups: dict[str, list[int]] = {}
    for row in np.flatnonzero(np.abs(shift) > 1e-9):
        groups.setdefault(inputs.about[row], []).append(int(row))
    made: list[Suspect] = []
    for about, rows in groups.items():
        most = max(rows, key=lambda row: abs(shift[row]))
        tolerance = float(inputs.tolerance[most])
        share = float(sum(shift[row] ** 2 for row in rows)) / total if total else 0.0
        made.append(
            Suspect(
                about,
                inputs.names[most],
                float(shift[most]) * tolerance,
                tolerance,
                inputs.units[most],
                share,
            )
        )
    for reading, tolerance, weight in zip(readings, noise, weights, strict=True):
        off = -float(tolerance**2 * weight)
        share = float(tolerance**2 * weight**2) / total if total else 0.0
        made.append(Suspect(f"{reading.name} reading", reading.name, off, float(tolerance), "kg", share))
    return tuple(sorted(made, key=lambda suspect: -suspect.share))
