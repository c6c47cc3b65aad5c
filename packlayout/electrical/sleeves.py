"""Conduit along a run: which one, where it lies, what it weighs. It is as thick as it is told when a run is routed."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from packlayout.model.brief import Case
from packlayout.model.electrics import Conduit, ElectricalRules
from packlayout.space.bends import Line
from packlayout.space.course import stretches

_STEP_MM = 2.0
"""How finely the ends of a conduit are told."""
_SHORTEST_MM = 10.0
"""A piece no longer than this is no conduit but a way that is grazed (common practice, no source)."""


@dataclass(frozen=True, slots=True)
class Sleeve:
    """One piece of conduit round a run.

    Attributes:
        name: Of the solid it is drawn as.
        conduit: Which one.
        line: Its middle line, which is the run's there.
    """

    name: str
    conduit: Conduit
    line: Line

    @property
    def mass_kg(self) -> float:
        """Of the piece."""
        return self.conduit.mass_kg_per_m * self.line.length_mm / 1000


def conduit_for(rules: ElectricalRules, bundle_mm: float) -> Conduit | None:
    """The thinnest conduit in stock, of no metal, that a bundle goes into; None when there is none."""
    fit = [c for c in rules.conduits if c.metal == "no" and rules.goes_into(bundle_mm, c)]
    return min(fit, key=lambda c: (c.outside_mm, c.name), default=None)


def covered(case: Case, rules: ElectricalRules, line: Line) -> tuple[Line, ...]:
    """The pieces of a high-voltage run that lie where the rules want conduit, from its start on."""
    if "everywhere" in rules.conduit:
        return (line,)
    if "under floor" not in rules.conduit:
        return ()
    points = line.points(_STEP_MM)
    middles, steps = (points[1:] + points[:-1]) / 2, np.linalg.norm(np.diff(points, axis=0), axis=1)
    under = np.zeros(len(middles), dtype=bool)
    for way in case.vehicle.cable_ways:
        if way.where == "under floor":
            lo, hi = np.minimum(way.corner, way.opposite), np.maximum(way.corner, way.opposite)
            under |= ((middles >= lo) & (middles <= hi)).all(axis=1)
    far = np.concatenate([[0.0], np.cumsum(steps)])
    far *= line.length_mm / far[-1]  # chords are shorter than the arcs they stand for
    pieces = [(float(far[a]), float(far[b])) for a, b in stretches(under)]
    return tuple(line.between(a, b) for a, b in pieces if b - a > _SHORTEST_MM)


def sleeves_of(name: str, conduit: Conduit, pieces: Sequence[Line]) -> tuple[Sleeve, ...]:
    """The pieces of one run's conduit, numbered where there are several."""
    return tuple(
        Sleeve(f"conduit of {name}" + (f", piece {n}" if len(pieces) > 1 else ""), conduit, piece)
        for n, piece in enumerate(pieces, start=1)
    )
