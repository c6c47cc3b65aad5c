"""What comes of the whole calculation as plain JSON: frame and cables to be drawn, electrics and drive in figures.

It is sent when it has changed, not with every state; the state says whether it is out of date.
"""

import numpy as np

from packlayout.desk.session import Desk
from packlayout.desk.state import Json
from packlayout.drive.drive import Driving
from packlayout.electrical.cables import Run
from packlayout.electrical.wire import Wiring
from packlayout.frame.shapes import member_mesh, plate_mesh
from packlayout.model.geometry import Floats
from packlayout.stages import Framed
from packlayout.study import Study
from packlayout.units import Measured

_STEP_MM = 6.0
_STRAIGHT_MM = 0.05
"""How far a point of a middle line may lie from the chord of its neighbours to be left out."""


def drawn_view(desk: Desk) -> Json:
    """The last whole calculation; number nought before there is one."""
    drawn = desk.studies.drawn
    if drawn is None:
        return {
            "t": "drawn",
            "number": 0,
            "frame": None,
            "runs": [],
            "groups": [],
            "danger": [],
            "caution": "",
        }
    study = drawn.study
    wiring = study.wiring
    return {
        "t": "drawn",
        "number": drawn.number,
        "frame": frame_view(study.framed),
        "runs": [run_view(run) for run in wiring.runs] if wiring is not None else [],
        "groups": groups(study),
        "danger": [check.note or check.title for check in wiring.overvoltage] if wiring is not None else [],
        "caution": wiring.caution if wiring is not None else "",
    }


def frame_view(framed: Framed | None) -> Json | None:
    """The frame as triangles in vehicle axes; None where there is none."""
    if framed is None or framed.frame is None:
        return None
    frame = framed.frame
    meshes = [(m.name, member_mesh(m)) for m in frame.members] + [
        (p.name, plate_mesh(p)) for p in frame.plates
    ]
    return {
        "mass_kg": frame.mass_kg,
        "pieces": [
            {
                "name": name,
                "v": [round(float(c), 1) for c in mesh.vertices.ravel()],
                "f": mesh.faces.ravel().tolist(),
            }
            for name, mesh in meshes
        ],
    }


def run_view(run: Run) -> Json:
    """One cable or hose: its middle line, its figures, or why there is none."""
    points = [] if run.line is None else thinned_line(run.line.points(_STEP_MM))
    blocked = run.blocked
    return {
        "name": run.name,
        "kind": run.kind,
        "from": run.start.part,
        "to": run.goal.part,
        "length_mm": run.length_mm,
        "diameter_mm": run.diameter_mm,
        "cores": run.cores,
        "area_mm2": run.area_mm2,
        "drop_v": run.drop_v,
        "mass": [run.mass.value, run.mass.tolerance],
        "points": [[round(float(c), 1) for c in p] for p in points],
        "blocked": "" if blocked is None else f"{blocked.why}, near {blocked.near}",
        "at": list(blocked.at) if blocked is not None else None,
    }


def thinned_line(points: Floats) -> Floats:
    """A line without the points that lie on the chord of those beside them.

    Args:
        points: (n, 3), mm.

    Returns:
        (m, 3): the first, the last and every point the line bends at, mm.
    """
    kept = [0]
    for k in range(1, len(points) - 1):
        a, b = points[kept[-1]], points[k + 1]
        chord = b - a
        length = float(np.linalg.norm(chord))
        if length == 0.0 or float(np.linalg.norm(np.cross(chord, points[k] - a))) / length > _STRAIGHT_MM:
            kept.append(k)
    return points[[*kept, len(points) - 1]]


def groups(study: Study) -> list[Json]:
    """Electrics, drive and price in rows of figures, for people."""
    made: list[Json] = []
    if study.wiring is not None:
        made.append({"title": "Pack and cables", "rows": _electric_rows(study.wiring)})
    if study.driving is not None:
        made.append({"title": "Range and driving", "rows": _drive_rows(study.driving)})
    if study.priced is not None:
        price = study.priced
        rows = [
            _row("Total, without tax", price.total, price.currency, 0),
            _row("Hours", price.hours, "h", 0),
        ]
        made.append({"title": "Price", "rows": rows})
    return [group for group in made if group["rows"]]


def _row(name: str, value: Measured | float, unit: str, places: int = 1, note: str = "") -> Json:
    figure = value if isinstance(value, Measured) else Measured(value)
    return {
        "name": name,
        "value": [figure.value, figure.tolerance],
        "unit": unit,
        "places": places,
        "note": note,
    }


def _electric_rows(wiring: Wiring) -> list[Json]:
    rows: list[Json] = []
    pack = wiring.pack
    if pack is not None:
        strings = f"{pack.series} in series" + (f", {pack.strings} strings" if pack.strings > 1 else "")
        rows += [
            _row("Pack voltage", pack.nominal_v, "V", 0, f"{pack.min_v:.0f} to {pack.max_v:.0f} V; {strings}"),
            _row("Energy", pack.energy_kwh, "kWh"),
            _row("Usable energy", pack.usable_kwh, "kWh", 1,
                 f"from {pack.soc_percent[1]:g} to {pack.soc_percent[0]:g} % charge"),
            _row("Current for long", pack.continuous_a, "A", 0, f"asked for: {pack.demand_continuous_a:.0f} A"),
            _row("Peak current", pack.peak_a, "A", 0, f"asked for: {pack.demand_peak_a:.0f} A"),
        ]  # fmt: skip
    if wiring.protection is not None and wiring.protection.fuse is not None:
        fuse = wiring.protection.fuse
        rows.append(_row("Main fuse", fuse.rating_a, "A", 0, fuse.name))
    if wiring.runs:
        laid = sum(run.line is not None for run in wiring.runs)
        mass = sum(item.mass.value for item in wiring.items)
        spread = sum(item.mass.tolerance**2 for item in wiring.items) ** 0.5
        rows += [
            _row("High-voltage cable", wiring.cable_mm / 1000, "m"),
            _row(
                "Cables and hoses",
                Measured(mass, spread),
                "kg",
                1,
                f"{laid} of {len(wiring.runs)} found a way",
            ),
        ]
    return rows


def _drive_rows(driving: Driving) -> list[Json]:
    rows = [
        _row(f"Range, {r.drive}", r.range_km, "km", 0,
             f"with the heater {r.heated_km:.0f}, fully laden {r.laden_km:.0f} km")
        for r in driving.ranges
    ]  # fmt: skip
    for p in driving.performance:
        fast = f"{p.to_50_s:.1f} s to 50 km/h" if p.to_50_s is not None else "never reaches 50 km/h"
        rows.append(
            _row(
                f"Top speed, {p.state}", p.top_km_per_h, "km/h", 0, f"{fast}, hill of {p.grade_percent:.0f} %"
            )
        )
    charging = driving.charging
    if charging is not None:
        rows.append(
            _row("Full charge", charging.full_h, "h", 1, f"{charging.battery_kw:.1f} kW into the battery")
        )
        if charging.daily_h is not None:
            rows.append(_row("Charge for a day", charging.daily_h, "h"))
    return rows
