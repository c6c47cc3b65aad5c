"""The pictures of the weighing: axle loads, centre of gravity, payload along the load floor, ledger as steps."""

from collections.abc import Sequence
from dataclasses import replace
from itertools import pairwise
from math import atan2, log, sqrt

from packlayout.export.charts import (
    LETTER,
    WIDTH,
    Bar,
    Chart,
    Look,
    Mark,
    Ring,
    Stroke,
    Words,
    ellipse,
    fitting,
    ticks,
    width_of,
)
from packlayout.export.figures import figure, number
from packlayout.export.lanes import Pointer, lane
from packlayout.mass.states import CONVERTED, ORIGINAL
from packlayout.mass.waterfall import waterfall
from packlayout.mass.weighing import PayloadCurve, State, Weighing
from packlayout.model.brief import Case
from packlayout.model.layout import Layout
from packlayout.model.vehicle import Vehicle
from packlayout.units import Measured

_LOOKS: dict[str, Look] = {ORIGINAL: "before", CONVERTED: "after"}
_ROW = 26.0
_NAMES = 470.0  # room for the names of the steps, such as a hose's from part to part
# a pair of normal figures lies within sqrt(-2 ln 0.05) deviations with 95 % (ISO/IEC Guide 98-3 suppl. 2)
_JOINT = sqrt(-2 * log(0.05))


def axle_chart(case: Case, weighing: Weighing) -> Chart:
    """Side view with the loads of each axle in every state as bars, against the plate."""
    car = case.vehicle
    marks: list[Mark] = []
    ground = _side_view(car, marks, 190.0, 620.0)
    plates = (car.plated.front_axle_kg, car.plated.rear_axle_kg)
    most = 1.02 * max(*plates, *(m.value + m.tolerance for s in weighing.states for m in s.axle))
    top, long = ground + 62, 300.0
    for k, (name, x0) in enumerate((("front axle", 260.0), ("rear axle", 640.0))):
        limit = x0 + long * plates[k] / most
        marks += [Words(x0, top - 16, name, "strong"), Words(limit, top - 16, f"plate {number(plates[k], 0)} kg",
                                                            "limit", "middle")]  # fmt: skip
        for n, state in enumerate(weighing.states):
            y, load = top + _ROW * n, state.axle[k]
            if not k:
                marks.append(Words(x0 - 8, y + 14, fitting(state.name, 245), "", "end"))
            end = x0 + long * max(0.0, load.value) / most
            spread = long * load.tolerance / most
            marks += [
                Bar(x0, y, end - x0, 18, _LOOKS.get(state.name, "laden")),
                Words(x0 + 8, y + 14, f"{figure(load, 0)} kg", "out" if state.name == CONVERTED else "in"),
                Stroke(((end - spread, y + 9), (end + spread, y + 9)), "spread"),
            ]
        marks.append(Stroke(((limit, top - 8), (limit, top + _ROW * len(weighing.states))), "limit"))
    return Chart(
        "Axle loads in every state", top + _ROW * len(weighing.states) + 14, tuple(marks),
        "Axle loads, kg. The line across a bar's end is the tolerance, the dashed line the limit on the maker's plate. "
        "The same figures stand in the table of the weighing.",
    )  # fmt: skip


def _side_view(car: Vehicle, marks: list[Mark], left: float, wide: float) -> float:
    """Add outline, wheels and ground; returns where the ground is."""
    xs, zs = zip(*car.outline.side, strict=True)
    scale = wide / (max(xs) - min(xs))
    ground = 20 + scale * max(zs)
    radius = scale * car.tyres.radius_mm
    marks += [
        Stroke(((20.0, ground), (WIDTH - 20, ground)), "ground"),
        Stroke(tuple((left + scale * (x - min(xs)), ground - scale * z) for x, z in car.outline.side), "body", True),
        *(Ring(left + scale * (x - min(xs)), ground - radius, radius, "wheel") for x in (0.0, car.wheelbase_mm.value)),
    ]  # fmt: skip
    return ground


def cg_chart(case: Case, weighing: Weighing) -> Chart:
    """Where the centre of gravity is in each state: in the side view, and enlarged with its tolerance."""
    car = case.vehicle
    marks: list[Mark] = []
    xs = [x for x, _ in car.outline.side]
    ground = _side_view(car, marks, 190.0, 620.0)
    scale = 620.0 / (max(xs) - min(xs))

    def in_car(state: State) -> tuple[float, float]:
        x, _, z = state.cg
        return 190 + scale * (x.value - min(xs)), ground - scale * z.value

    states = list(weighing.states)
    reach = [(x.value - r, x.value + r, z.value - r, z.value + r)
             for s in states for x, _, z in [s.cg] for r in [1.3 * max(x.tolerance, z.tolerance, 5.0)]]  # fmt: skip
    lo_x, hi_x = min(r[0] for r in reach), max(r[1] for r in reach)
    lo_z, hi_z = min(r[2] for r in reach), max(r[3] for r in reach)
    left, wide, tall = 70.0, 500.0, 300.0
    zoom = min(wide / (hi_x - lo_x), tall / (hi_z - lo_z))
    wide, tall = zoom * (hi_x - lo_x), zoom * (hi_z - lo_z)
    names = [str(n) for n in range(1, len(states) + 1)]
    pointers = [
        Pointer(name, left + zoom * (s.cg[0].value - lo_x), 0.0, width_of(name, strong=True))
        for name, s in zip(names, states, strict=True)
    ]  # fmt: skip
    rows = {p.text: p for p in lane(pointers, left + wide)}
    top = ground + 70 + LETTER * 1.3 * (1 + max(p.row for p in rows.values()))
    bottom = top + tall
    for x in ticks(lo_x, hi_x, 9):
        at = left + zoom * (x - lo_x)
        marks += [
            Stroke(((at, top), (at, bottom)), "rule"),
            Words(at, bottom + 20, number(x, 0), "faint", "middle"),
        ]
    for z in ticks(lo_z, hi_z, 7):
        at = bottom - zoom * (z - lo_z)
        marks += [
            Stroke(((left, at), (left + wide, at)), "rule"),
            Words(left - 8, at + 5, number(z, 0), "faint", "end"),
        ]
    marks += [Words(left + wide / 2, bottom + 42, "x, mm behind the front axle", "faint", "middle"),
              Words(left, ground + 42, "z, mm above the ground, enlarged", "faint")]  # fmt: skip
    for name, state in zip(names, states, strict=True):
        x, z = left + zoom * (state.cg[0].value - lo_x), bottom - zoom * (state.cg[2].value - lo_z)
        look = _LOOKS.get(state.name, "laden")
        along, across, turn = _axes_of(state)
        pointer = rows[name]
        high = top - 8 - LETTER * 1.3 * (max(p.row for p in rows.values()) - pointer.row)
        marks += [
            Stroke(((pointer.x, high + 4), (pointer.x, z)), "faint"),
            ellipse(x, z, zoom * along, zoom * across, -turn, look), Ring(x, z, 3.0, "mark"),
            Words(pointer.begin, high, name, "strong"),
        ]  # fmt: skip
        marks.append(Ring(*in_car(state), 7.0 if look != "laden" else 4.0, look))
    right, room = left + wide + 36, WIDTH - left - wide - 46
    y = ground + 60
    for name, state in zip(names, states, strict=True):
        x, _, z = state.cg
        marks += [
            Words(right, y, fitting(f"{name} {state.name}", room, strong=True), "strong"),
            Words(right + 22, y + 20, fitting(f"x {figure(x, 0)}, z {figure(z, 0)} mm", room - 22)),
        ]
        y += 46
    return Chart(
        "Centre of gravity in side view", max(bottom + 56, y), tuple(marks),
        "Centre of gravity in the car and, below, enlarged: it lies within its ellipse with 95 % probability. Grey: "
        "before; dark blue: converted; light blue: laden.",
    )  # fmt: skip


def _axes_of(state: State) -> tuple[float, float, float]:
    """Half axes, mm, and turn of the ellipse that holds the centre of gravity in x and z with 95 %."""
    if state.cg_covariance is None:
        a, _, d = (m.tolerance**2 / 4 for m in state.cg)
        b = 0.0
    else:
        a, b, d = state.cg_covariance[0][0], state.cg_covariance[0][2], state.cg_covariance[2][2]
    middle, half = (a + d) / 2, sqrt((a - d) ** 2 / 4 + b * b)
    turn = atan2(2 * b, a - d) / 2
    return _JOINT * sqrt(max(middle + half, 0.0)), _JOINT * sqrt(max(middle - half, 0.0)), turn


def payload_chart(weighing: Weighing) -> Chart | None:
    """How much may be carried against where it stands, with each limit; None without a load floor."""
    rows = weighing.payload
    if not rows:
        return None
    left, right, top, bottom = 80.0, 620.0, 40.0, 400.0
    lo, hi = rows[0].x_mm, rows[-1].x_mm
    # a floor with one place is drawn as wide as if it were longer
    span = max(hi - lo, 1.0)
    most = 1.35 * max(r.allowed_kg.value + r.allowed_kg.tolerance for r in rows) or 1.0

    def at(x: float, kg: float) -> tuple[float, float]:
        return left + (right - left) * (x - lo) / span, bottom - (bottom - top) * kg / most

    marks: list[Mark] = []
    for kg in ticks(0.0, most, 8):
        _, y = at(lo, kg)
        marks += [
            Stroke(((left, y), (right, y)), "rule"),
            Words(left - 8, y + 5, number(kg, 0), "faint", "end"),
        ]
    for x in ticks(lo, hi, 8):
        px, _ = at(x, 0.0)
        marks += [
            Stroke(((px, bottom), (px, bottom + 5)), "rule"),
            Words(px, bottom + 22, number(x, 0), "faint", "middle"),
        ]
    allowed = [at(r.x_mm, r.allowed_kg.value) for r in rows]
    marks.append(Stroke((at(lo, 0.0), *allowed, at(hi, 0.0)), "room", True))
    shown = [c for c in weighing.payload_curves if any(kg <= most for _, kg in c.points)]
    taken: list[tuple[float, float]] = []
    labels: list[Mark] = []
    for n, curve in enumerate(shown, start=1):
        pieces = _under(curve, most)
        marks += [Stroke(tuple(at(*p) for p in piece), "limit") for piece in pieces]
        spot = _label_spot([at(*p) for piece in pieces for p in piece], taken)
        taken.append(spot)
        labels += [Ring(*spot, 10.0, "wheel"), Words(spot[0], spot[1] + 5, str(n), "", "middle")]
    marks.append(Stroke(tuple(allowed), "curve"))
    for row, (x, y) in zip(rows, allowed, strict=True):
        _, high = at(row.x_mm, row.allowed_kg.value + row.allowed_kg.tolerance)
        _, low = at(row.x_mm, max(row.allowed_kg.value - row.allowed_kg.tolerance, 0.0))
        marks += [Stroke(((x, high), (x, low)), "spread"), Ring(x, y, 2.5, "mark")]
    marks += labels
    marks += [Words(left, top - 16, "may be carried, kg", "faint"),
              Words((left + right) / 2, bottom + 44, "goods centred at x, mm behind the front axle", "faint", "middle"),
              Words(right + 40, top + 10, "limits", "strong")]  # fmt: skip
    y = top + 38
    for n, curve in enumerate(shown, start=1):
        low, high = min(kg for _, kg in curve.points), max(kg for _, kg in curve.points)
        span_text = (
            f"{number(low, 0)} kg" if high - low < 0.5 else f"{number(low, 0)} to {number(high, 0)} kg"
        )
        marks += [Words(right + 40, y, fitting(f"{n} {curve.name}", WIDTH - right - 50)),
                  Words(right + 62, y + 19, span_text, "faint")]  # fmt: skip
        y += 46
    return Chart(
        "Payload along the load floor", max(bottom + 58, y), tuple(marks),
        "What may be carried with the driver aboard, against where its centre stands, with tolerances; dashed: each "
        "limit by itself. The figures are in the table.",
    )  # fmt: skip


def _under(curve: PayloadCurve, most: float) -> list[list[tuple[float, float]]]:
    """The pieces of a curve that lie below a height, cut exactly there."""
    pieces: list[list[tuple[float, float]]] = [[]]
    for (x0, y0), (x1, y1) in pairwise(curve.points):
        if y0 <= most and not pieces[-1]:
            pieces[-1].append((x0, y0))
        if (y0 <= most) != (y1 <= most):
            cut = x0 + (x1 - x0) * (most - y0) / (y1 - y0)
            pieces[-1].append((cut, most))
        if y1 <= most:
            pieces[-1].append((x1, y1))
        elif pieces[-1]:
            pieces.append([])
    if len(curve.points) == 1 and curve.points[0][1] <= most:
        pieces[-1].append(curve.points[0])
    return [piece for piece in pieces if piece]


def _label_spot(
    path: Sequence[tuple[float, float]], taken: Sequence[tuple[float, float]]
) -> tuple[float, float]:
    """A point of a path as far from the labels so far as may be."""
    spots = [
        (a[0] + (b[0] - a[0]) * s, a[1] + (b[1] - a[1]) * s)
        for a, b in pairwise(path)
        for s in (0.0, 0.25, 0.5, 0.75)
    ]
    spots = [*spots, path[-1]]
    middle = spots[len(spots) // 2]
    if not taken:
        return middle
    return max(
        spots,
        key=lambda p: (
            min(min((p[0] - q[0]) ** 2 + (p[1] - q[1]) ** 2 for q in taken), 90.0**2),
            -abs(p[0] - middle[0]),
        ),
    )


def ledger_chart(case: Case, layout: Layout, weighing: Weighing) -> Chart:
    """From the original to the converted kerb mass in steps."""
    steps = waterfall(case, layout, weighing.ledger)
    left, right, row = _NAMES + 30, 900.0, 23.0
    levels = [s.total_kg for s in steps]
    low = min(s.total_kg for s in steps)
    low = max(0.0, low - 0.25 * (max(levels) - low))
    scale = (right - left) / (1.02 * max(levels) - low or 1.0)

    def at(kg: float) -> float:
        return left + scale * (kg - low)

    marks: list[Mark] = []
    top, bottom = 34.0, 34.0 + row * (len(steps) + 1)
    for kg in ticks(low, 1.02 * max(levels), 8):
        marks += [Stroke(((at(kg), top - 4), (at(kg), bottom)), "rule"),
                  Words(at(kg), top - 12, number(kg, 0), "faint", "middle")]  # fmt: skip
    for n, step in enumerate(steps):
        y = top + row * n
        whole = step.kind == "original"
        begin = low if whole else step.total_kg - step.change_kg
        lo, hi = sorted((begin, step.total_kg))
        look = "before" if whole or step.change_kg < 0 else "after"
        text = number(step.total_kg, 1) if whole else figure(Measured(step.change_kg), 1, signed=True)
        marks += _step(step.name, text, (at(lo), at(hi)), y, look)
    y = top + row * len(steps)
    total = steps[-1].total_kg
    marks += _step("converted kerb", number(total, 1), (at(low), at(total)), y, "after")
    marks = [
        replace(m, look="strong") if isinstance(m, Words) and m.y > y and m.look == "" else m for m in marks
    ]
    return Chart(
        "The ledger in steps", bottom + 10, tuple(marks),
        f"Mass in kg, from the original to the converted kerb state; the axis begins at {number(low, 0)} kg. Grey: "
        "taken out; blue: put in.",
    )  # fmt: skip


def _step(name: str, text: str, ends: tuple[float, float], y: float, look: str) -> list[Mark]:
    kind = "after" if look == "after" else "before"
    bar = Bar(ends[0], y + 2, max(ends[1] - ends[0], 1.5), 17, kind)
    return [
        Words(_NAMES + 20, y + 15, fitting(name, _NAMES), "", "end"),
        bar,
        Words(ends[1] + 6, y + 15, text),
    ]
