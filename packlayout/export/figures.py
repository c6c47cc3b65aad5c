"""How figures are written for people: signs, places, tolerances."""

import re
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


def typed(text: str) -> str:
    """Figures in the signs of a keyboard, as files take them and any terminal shows them: `571 +/- 9`, `-4`."""
    return text.replace("±", "+/-").replace("−", "-")


def point(at: Iterable[float], places: int = 0) -> str:
    """A position: `120, -30, 455`."""
    return ", ".join(number(value, places) for value in at)


def together(names: Iterable[str]) -> str:
    """Names as one line, where `bar 1`, `bar 2`, `bar 3` become `bar 1 to 3`."""
    runs: list[tuple[str, int, int]] = []
    for name in names:
        found = re.fullmatch(r"(.* )(\d{1,6})", name, re.DOTALL)
        stem, number = (found[1], int(found[2])) if found else (name, -1)
        if runs and found and runs[-1][0] == stem and runs[-1][2] == number - 1:
            runs[-1] = (stem, runs[-1][1], number)
        else:
            runs.append((stem, number, number))
    return ", ".join(_run(*run) for run in runs)


def _run(stem: str, first: int, last: int) -> str:
    if first < 0:
        return stem
    if first == last:
        return f"{stem}{first}"
    return f"{stem}{first} {'to' if last - first > 1 else 'and'} {last}"
