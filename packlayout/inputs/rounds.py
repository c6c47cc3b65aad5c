"""The user's own rounds: CSV files of distance, speed, stops and height beside the brief."""

import csv
import io
import math
from pathlib import Path

from packlayout.errors import Fault, InputError
from packlayout.inputs.reader import Reader
from packlayout.inputs.source import Source, Where
from packlayout.model.driving import DrivingOrder, Round

HEAD = ("distance_m", "speed_kmh", "stop_s", "height_m")
_RANGE = ((0.0, 1e6), (1.0, 200.0), (0.0, 86_400.0), (-500.0, 9000.0))
_LARGEST = 5_000_000
_STEEPEST = 0.35


def read_rounds(reader: Reader, source: Source, order: DrivingOrder) -> tuple[Round, ...]:
    """Read the rounds that a brief names; faults are kept by the reader.

    Args:
        reader: Reads the files.
        source: The brief.
        order: Its `driving`.

    Returns:
        Those that hold together, in their order.
    """
    made: list[Round] = []
    for index, wanted in enumerate(order.rounds):
        where: Where = ("driving", "rounds", index, "file")
        file = reader.beside(source, where, wanted.file)
        if file is None:
            continue
        try:
            text = reader.raw(file, _LARGEST).decode("utf-8-sig")
        except InputError as error:
            reader.faults.extend(error.faults)
            continue
        except UnicodeDecodeError:
            reader.refuse(source, where, f"{wanted.file!r} is no UTF-8 text", "a CSV file in UTF-8")
            continue
        shown = reader.workshop.shown(file)
        found, faults = parse_round(wanted.name, text, shown)
        reader.faults.extend(faults)
        if found is not None:
            made.append(found)
    return tuple(made)


def parse_round(name: str, text: str, shown: Path) -> tuple[Round | None, list[Fault]]:
    """One round from CSV text.

    Args:
        name: As the brief calls it.
        text: With the head line distance_m, speed_kmh, stop_s, height_m.
        shown: The file as the user named it.

    Returns:
        The round, or None and every fault at its line.
    """
    faults: list[Fault] = []
    lines = [
        (number, row)
        for number, row in enumerate(csv.reader(io.StringIO(text)), start=1)
        if row and not row[0].lstrip().startswith("#") and any(cell.strip() for cell in row)
    ]
    if not lines or tuple(cell.strip() for cell in lines[0][1]) != HEAD:
        number = lines[0][0] if lines else 1
        said = ",".join(lines[0][1])[:60] if lines else "nothing"
        return None, [Fault(shown, number, "", f"the head line is {said!r}", ",".join(HEAD))]
    rows: list[tuple[float, ...]] = []
    for number, row in lines[1:]:
        values = _numbers(shown, number, row, faults)
        if values is None:
            continue
        if rows and values[0] <= rows[-1][0]:
            faults.append(Fault(shown, number, "distance_m", f"{values[0]:g} after {rows[-1][0]:g}",
                                "distances that rise from row to row"))  # fmt: skip
            continue
        if rows and abs(values[3] - rows[-1][3]) > _STEEPEST * (values[0] - rows[-1][0]):
            faults.append(Fault(shown, number, "height_m",
                                f"{values[3] - rows[-1][3]:g} m up over {values[0] - rows[-1][0]:g} m",
                                f"a gradient up to {100 * _STEEPEST:g} %"))  # fmt: skip
        rows.append(values)
    if not faults and (len(rows) < 2 or rows[0][0] != 0):
        faults.append(Fault(shown, lines[-1][0], "distance_m", f"{len(rows)} rows, the first at "
                            f"{rows[0][0] if rows else 0:g} m", "two rows or more, the first at 0 m"))  # fmt: skip
    if faults:
        return None, faults
    distance, speed, stop, height = zip(*rows, strict=True)
    return Round(name, tuple(distance), tuple(speed), tuple(stop), tuple(height)), []


def _numbers(shown: Path, number: int, row: list[str], faults: list[Fault]) -> tuple[float, ...] | None:
    if len(row) != len(HEAD):
        faults.append(Fault(shown, number, "", f"{len(row)} columns", f"{len(HEAD)}: {','.join(HEAD)}"))
        return None
    values: list[float] = []
    for field, cell, (lo, hi) in zip(HEAD, row, _RANGE, strict=True):
        try:
            value = float(cell)
        except ValueError:
            value = math.nan
        if not lo <= value <= hi:
            faults.append(
                Fault(shown, number, field, f"{cell.strip()[:40]!r}", f"a number from {lo:g} to {hi:g}")
            )
            return None
        values.append(value)
    return tuple(values)
