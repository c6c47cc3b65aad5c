"""Cable schedule, and the tables that drive the old dials: `cable-schedule.csv`, `gauge-table.*`, `speedometer-table.*`."""

from collections.abc import Iterable
from pathlib import Path

from packlayout.drive.gauge import GaugeTable
from packlayout.electrical.cables import Run
from packlayout.electrical.wire import Wiring
from packlayout.export.charts import LETTER, WIDTH, Chart, Mark, Ring, Stroke, Words, ticks
from packlayout.export.csv_file import write_csv
from packlayout.export.figures import number
from packlayout.export.pack import Made
from packlayout.export.svg import svg
from packlayout.study import Study

WANTS_CONDUIT = "WANTS CONDUIT"  # of a run that is laid without the conduit it is to have
SCHEDULE = "cable-schedule.csv"
GAUGE, SPEEDOMETER = "gauge-table", "speedometer-table"
GAUGE_CURVE = "gauge-curve.svg"
SCHEDULE_HEAD = (
    "run", "kind", "from", "from_port", "to", "to_port", "cores", "area_mm2", "diameter_mm", "length_mm", "bend_mm",
    "load_a", "ampacity_a", "fuse_a", "drop_v", "clips", "conduit_mm", "mass_kg", "mass_tolerance_kg", "remark",
    "conduit", "conduit_pieces", "conduit_outside_mm", "conduit_cut_mm", "conduit_kg", "screen",
)  # fmt: skip


def write_electrics(study: Study, folder: Path, notes: tuple[str, ...]) -> Made:
    """Write the cable schedule and the tables of the old dials.

    Args:
        study: What was computed.
        folder: Where to.
        notes: What the exporters before had to say; not needed here.

    Returns:
        The files, and a note for each that was left out.
    """
    made: list[Path] = []
    said: list[str] = []
    if study.wiring is None:
        said.append(f"{SCHEDULE} left out: electrics not done")
    else:
        made.append(write_csv(folder / SCHEDULE, SCHEDULE_HEAD, schedule_rows(study.wiring)))
    driving = study.driving
    gauge = driving.gauge if driving is not None else None
    meter = driving.speedometer if driving is not None else None
    for name, table, what in ((GAUGE, gauge, "fuel gauge"), (SPEEDOMETER, meter, "speedometer")):
        if table is None:
            said.append(f"{name}.csv and .h left out: the old {what} was not measured")
            continue
        for suffix, text in ((".csv", table.csv.replace("\n", "\r\n")), (".h", table.header)):
            made.append(folder / f"{name}{suffix}")
            made[-1].write_bytes(text.encode("utf-8"))
    if gauge is not None:
        made.append(folder / GAUGE_CURVE)
        made[-1].write_text(svg(gauge_chart(gauge)), encoding="utf-8")
    return Made(tuple(made), tuple(said))


def schedule_rows(wiring: Wiring) -> list[tuple[str, ...]]:
    """Every run as it is to be made, then the busbars of the pack."""
    rows = [_row(run) for run in wiring.runs]
    for n, bar in enumerate(wiring.pack.order.busbars if wiring.pack is not None else (), start=1):
        blank = ("",) * (len(SCHEDULE_HEAD) - 10)
        rows.append(
            (f"busbar {n}", "busbar", bar.start, "", bar.end, "", "1", "", "", f"{bar.length_mm:.0f}", *blank)
        )
    return rows


def _row(run: Run) -> tuple[str, ...]:
    laid = run.line is not None
    remark = f"in conduit {run.conduit}" if run.conduit else WANTS_CONDUIT if run.conduit_mm else ""
    if run.blocked is not None:
        remark = f"NO WAY: {run.blocked.why}; {run.blocked.remedy}".removesuffix("; ")
    return (
        run.name, run.kind, run.start.part, run.start.port, run.goal.part, run.goal.port, str(run.cores or ""),
        f"{run.area_mm2:g}" if run.cores else "", f"{run.diameter_mm:.1f}", f"{run.length_mm:.0f}" if laid else "",
        f"{run.line.radius_mm:.0f}" if run.line is not None else "", *_amps(run), str(run.clips) if laid else "",
        f"{run.conduit_mm:.0f}" if laid else "", f"{run.mass.value:.3f}" if laid else "",
        f"{run.mass.tolerance:.3f}" if laid else "", remark, *_conduit(run),
        run.signal.screen if run.signal is not None else "",
    )  # fmt: skip


def _conduit(run: Run) -> tuple[str, ...]:
    """Name, pieces, outside, what to cut each piece to, mass; blank where there is none."""
    if not run.sleeves:
        return ("",) * 5
    cut = " + ".join(f"{sleeve.line.length_mm:.0f}" for sleeve in run.sleeves)
    return (
        run.conduit, str(len(run.sleeves)), f"{run.sleeves[0].conduit.outside_mm:g}", cut,
        f"{run.conduit_mass.value:.3f}",
    )  # fmt: skip


def _amps(run: Run) -> tuple[str, ...]:
    if not run.carries:
        return ("",) * 4
    fuse = "" if run.fuse_a is None else f"{run.fuse_a:g}"
    return (
        f"{run.load_a:.1f}",
        f"{run.ampacity_a:.1f}",
        fuse,
        f"{run.drop_v:.3f}" if run.line is not None else "",
    )


_LEFT, _TOP, _TALL = 90.0, 26.0, 260.0


def gauge_chart(gauge: GaugeTable) -> Chart:
    """What the old dial is given over the state of charge."""
    unit = "ohm" if gauge.quantity == "ohm" else "V"
    readings = [reading for _, _, reading in gauge.rows]
    low, high = min(0.0, *readings), max(readings) or 1.0
    right = WIDTH - 40.0

    def at(charge: float, reading: float) -> tuple[float, float]:
        return (_LEFT + (right - _LEFT) * charge / 100,
                _TOP + _TALL * (high - reading) / (high - low))  # fmt: skip

    marks: list[Mark] = []
    for value in ticks(low, high, 6):
        y = at(0, value)[1]
        marks += [Stroke(((_LEFT, y), (right, y)), "rule"),
                  Words(_LEFT - 8, y + 5, number(value, 0 if high >= 10 else 1), "faint", "end")]  # fmt: skip
    for charge in range(0, 101, 10):
        x = at(charge, low)[0]
        marks += [Stroke(((x, _TOP + _TALL), (x, _TOP + _TALL + 6)), "rule"),
                  Words(x, _TOP + _TALL + 8 + LETTER, str(charge), "faint", "middle")]  # fmt: skip
    marks.append(Stroke(tuple(at(charge, reading) for charge, _, reading in gauge.rows), "curve"))
    marks += [Ring(*at(charge, reading), 3.0, "mark") for charge, _, reading in gauge.rows]
    words = f"reading of the sender, {unit}; across: state of charge, %"
    marks.append(Words(_LEFT, _TOP - 10, words, "strong"))
    caption = (
        "What the old fuel gauge must be given at each state of charge, straight lines between the points; the same "
        f"figures are in {GAUGE}.csv and, for a controller, in {GAUGE}.h."
    )
    return Chart("The old fuel gauge", _TOP + _TALL + 34, tuple(marks), caption)


def shown_rows(
    rows: Iterable[tuple[float, float, float]], every: int = 4
) -> list[tuple[float, float, float]]:
    """Every so-manyth row and the last: what a report has room for."""
    found = list(rows)
    return [*found[:-1:every], found[-1]] if found else []
