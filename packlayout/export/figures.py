"""How figures are written for people: signs, places, tolerances."""

from collections.abc import Iterable

from packlayout.units import Measured


def number(value: float, places: int = 1) -> str:
    """A figure with a true minus sign and no negative nought."""
    return f"{round(value, places) + 0.0:.{places}f}".replace("-", "−")


def figure(found: Measured, places: int = 1, *, signed: bool = False) -> str:
    """A value with its tolerance: `612.0 ± 3.0`; a change bears its sign."""
    text = number(found.value, places)
    text = f"+{text}" if signed and round(found.value, places) > 0 else text
    return f"{text} ± {number(found.tolerance, places)}" if found.tolerance else text


def point(at: Iterable[float], places: int = 0) -> str:
    """A position: `120, -30, 455`."""
    return ", ".join(number(value, places) for value in at)
