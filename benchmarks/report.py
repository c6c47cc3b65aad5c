"""Words that all benchmarks print alike."""

from collections.abc import Iterable, Sequence
from statistics import mean, median
from time import process_time

clock = process_time
"""Seconds of processor time. The work runs on one core, so on an idle machine this is what a clock shows."""


def line(what: str, found: str, wanted: str = "") -> None:
    """One measured figure; `wanted` is what it is held against."""
    print(f"{what:<58} {found:<40} {wanted}", flush=True)


def spread(values: Iterable[float], unit: str) -> str:
    """`median 0.12, mean 0.15, most 0.9 s (30)`."""
    rows: Sequence[float] = sorted(values)
    if not rows:
        return "none"
    return f"median {median(rows):.3g}, mean {mean(rows):.3g}, most {rows[-1]:.3g} {unit} ({len(rows)})"
