"""Signal cables and power cables: how far apart they are to lie, how far they do not, and what helps."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from packlayout.electrical.cables import LIVE, Run
from packlayout.model.electrics import ElectricalRules, SignalRun
from packlayout.model.geometry import Vec
from packlayout.space.nearest import line_to_line

_STEP_MM = 10.0


@dataclass(frozen=True, slots=True)
class Beside:
    """How much of a signal cable lies too near.

    Attributes:
        length_mm: Beside any of the power runs.
        name: Of the run it lies beside longest; empty for none.
        at: Where, mm.
        runs: Names of all of them.
    """

    length_mm: float
    name: str = ""
    at: Vec | None = None
    runs: tuple[str, ...] = ()


def gap_of(rules: ElectricalRules, signal: SignalRun | None) -> float | None:
    """Distance from jacket to jacket that a signal cable keeps, by its class and its conduit; None for no rule, mm."""
    if signal is None:
        return rules.signal_gap_mm
    conduit = rules.conduit_named(signal.conduit)
    row = next((row for row in rules.signal_gaps if row.cable == signal.screen), None)
    return (
        row.within(conduit.metal if conduit is not None else "no") if row is not None else rules.signal_gap_mm
    )


def length_beside(run: Run, runs: Sequence[Run], gap_mm: float) -> Beside:
    """Length of a run that lies nearer than a gap to runs of high voltage or mains.

    Args:
        run: As laid.
        runs: All of them.
        gap_mm: From jacket to jacket; nought where nothing need be kept.
    """
    assert run.line is not None
    points = run.line.points(_STEP_MM)
    middles, steps = (points[1:] + points[:-1]) / 2, np.linalg.norm(np.diff(points, axis=0), axis=1)
    near, worst, names = np.zeros(len(steps), dtype=bool), Beside(0.0), list[str]()
    for other in runs if gap_mm > 0 else ():
        if other.kind not in LIVE or other.line is None:
            continue
        reach = gap_mm + (run.diameter_mm + other.diameter_mm) / 2
        found = line_to_line(points, other.line.chords(), reach + 1.0) < reach
        near |= found
        length = float(steps[found].sum())
        if length > 0:
            names.append(other.name)
        if length > worst.length_mm:
            x, y, z = (float(v) for v in middles[np.flatnonzero(found)[found.sum() // 2]])
            worst = Beside(length, other.name, (x, y, z))
    return Beside(float(steps[near].sum()), worst.name, worst.at, tuple(names))


def remedy(rules: ElectricalRules, run: Run, runs: Sequence[Run]) -> str:
    """What of the shop's stock, or which class of cable, would do for a run that lies beside power cables too long."""
    if run.signal is None:
        return "lay it elsewhere"
    tubes = [c for c in rules.conduits if c.metal != "no" and rules.goes_into(run.diameter_mm, c)]
    for screen in dict.fromkeys((run.signal.screen, "c", "d")):
        for tube in (None, *sorted(tubes, key=lambda c: (c.outside_mm, c.name))):
            tried = run.signal.model_copy(
                update={"screen": screen, "conduit": tube.name if tube is not None else None}
            )
            gap = gap_of(rules, tried)
            if gap is None or length_beside(run, runs, gap).length_mm > rules.signal_beside_mm:
                continue
            words = [f"screen: {screen}"] if screen != run.signal.screen else []
            words += [f"conduit: {tube.name}"] if tube is not None else []
            if words:
                return f"in the brief, {' and '.join(words)} for this signal cable would do on this way"
    return "no class of cable and no metal conduit of shared/electrical.yaml would do on this way: a cable way apart is wanted"
