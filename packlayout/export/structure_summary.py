"""The statics of the frame as plain lines for the terminal."""

from collections.abc import Sequence

from packlayout.frame.choose import TradeRow
from packlayout.frame.design import AID, Designed
from packlayout.frame.mounting import MountUse

REACTION_HEAD = (
    "mounting point",
    "worst load case",
    "x N",
    "y N",
    "z N",
    "whole N",
    "pull N",
    "shear N",
    "rated N",
)


REACTIONS = "Forces of the frame on the vehicle: x rearward, y to the right, z up; a negative pull presses on the face."


def member_cells(designed: Designed | None, name: str) -> tuple[str, str]:
    """Utilisation and worst load case of a tube; dashes when it was not solved."""
    uses = designed.members if designed is not None else ()
    use = next((u for u in uses if u.name == name), None)
    return ("-", "-") if use is None else (f"{use.utilisation:.2f}", use.load_case)


def reaction_rows(mounts: Sequence[MountUse]) -> list[tuple[str, ...]]:
    """What each mounting point has to take in its worst load case, one row each, under `REACTION_HEAD`."""
    rows: list[tuple[str, ...]] = []
    for mount in mounts:
        load = max(mount.loads, key=lambda one: one.size_n)
        rated = "-" if mount.rated_n is None else f"{mount.rated_n:.0f}"
        force = (_whole(f) for f in load.force_n)
        rows.append((mount.mount, load.load_case, *force, _whole(load.size_n), _whole(load.pull_n),
                     _whole(load.shear_n), rated))  # fmt: skip
    return rows


def _whole(value: float) -> str:
    return f"{round(value):d}"


def closing_lines(designed: Designed) -> list[str]:
    """First frequency, mass against the number of sections, who decides."""
    if designed.model is None:
        solved = ["Not solved: strength, stiffness and reactions are not known; the checks say why."]
    elif designed.first_frequency_hz is None:
        solved = ["First natural frequency: not computed."]
    else:
        solved = [f"First natural frequency of the loaded frame: {designed.first_frequency_hz:.1f} Hz."]
    trade = [_trade(rows) for rows in _alike(designed.trade)] or [
        "Sections as the brief names them: none were searched."
    ]
    return [*solved, *trade, AID]


def _alike(trade: Sequence[TradeRow]) -> list[list[TradeRow]]:
    """Rows that came to the same set together: more different sections saved nothing."""
    groups: list[list[TradeRow]] = []
    for row in trade:
        if groups and groups[-1][0].choice == row.choice:
            groups[-1].append(row)
        else:
            groups.append([row])
    return groups


def _trade(rows: Sequence[TradeRow]) -> str:
    row, last = rows[0], rows[-1].sections
    hertz = "" if row.first_frequency_hz is None else f", {row.first_frequency_hz:.1f} Hz"
    count = (
        f"{row.sections}" if len(rows) == 1 else f"{row.sections} {'or' if len(rows) == 2 else 'to'} {last}"
    )
    word = "section" if last == 1 else "different sections"
    fails = "" if row.holds else "; does not hold"
    taken = " <- taken" if any(one.chosen for one in rows) else ""
    names = ", ".join(row.choice.names)
    return (
        f"At most {count} {word}: {row.mass_kg:.1f} kg, used {row.worst:.2f}{hertz} ({names}){fails}{taken}"
    )
