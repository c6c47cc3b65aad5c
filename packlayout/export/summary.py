"""The results as plain lines for the terminal: what a fitter wants to know first, first."""

from collections.abc import Iterable, Sequence

from packlayout.electrical.pack import OVERVOLTAGE
from packlayout.export.danger import danger
from packlayout.export.figures import figure, number, typed
from packlayout.export.report_answers import places_of, unit_of
from packlayout.export.report_brackets import BRACKET_HEAD, bracket_lines
from packlayout.export.side_by_side import FOOTING, side_by_side
from packlayout.export.structure_summary import (
    REACTION_HEAD,
    REACTIONS,
    closing_lines,
    member_cells,
    reaction_rows,
)
from packlayout.mass.weighing import Comparison, Weighing
from packlayout.model.check import Check
from packlayout.model.layout import Layout
from packlayout.study import Study
from packlayout.units import Measured

SIGN = {"pass": "ok  ", "marginal": "near", "fail": "FAIL", "unknown": "?   "}
PAYLOAD_PLACES = 5
WORTH_MOVING_KG = 1.0
STOPPED = {
    "time limit": "The brief's time limit ended the search: the best found so far stands, whole and checked.",
    "interrupted": "Interrupted: the best layout found so far stands, whole and checked.",
}
"""Why it ended early, in words."""


def table(head: Sequence[str], rows: Iterable[Sequence[str]]) -> list[str]:
    """Rows as aligned columns, the first to the left, the rest to the right."""
    lines = [list(head), *(list(row) for row in rows)]
    widths = [max(len(line[k]) for line in lines) for k in range(len(head))]
    made = [
        "  ".join(
            cell.ljust(w) if k == 0 else cell.rjust(w)
            for k, (cell, w) in enumerate(zip(line, widths, strict=True))
        )
        for line in lines
    ]
    return [made[0], "  ".join("-" * w for w in widths), *made[1:]]


def said(found: Measured, places: int = 0, *, signed: bool = False) -> str:
    """A figure with its tolerance in the signs of a keyboard."""
    return typed(figure(found, places, signed=signed))


def headline(study: Study) -> list[str]:
    """What may kill, where anything does; then, does it fit, in one or a few lines."""
    return [*danger(study), *_fits(study)]


def _fits(study: Study) -> list[str]:
    if study.placed is None or study.layout is None:
        why = study.placed.why_not_more if study.placed else ()
        return ["The pack does not fit: not one module could be placed.", *why]
    count = study.placed.count
    fits = "fits" if count.packed >= count.wanted else "does not fit whole"
    failed = sum(c.verdict == "fail" for c in study.checks)
    open_ = sum(c.verdict == "unknown" for c in study.checks)
    verdict = (
        f"{failed} checks fail"
        if failed
        else "every check that was made holds"
        if not open_
        else "no check fails"
    )
    if open_:
        verdict += f", {open_} could not be made"
    if study.halfway:
        verdict += "; frame, cables and axle loads were not worked out"
    return [
        f"{study.case.vehicle.name}: the pack {fits}: {count.packed} of {count.wanted} modules placed; {verdict}.",
        *(f"  {line}" for line in study.placed.why_not_more),
        *([f"  {STOPPED[study.placed.stopped]}"] if study.placed.stopped else []),
    ]


def side_by_side_lines(study: Study) -> list[str]:
    """The layouts offered, what each is best at, and their figures side by side; nothing for a single one."""
    head, rows = side_by_side(study)
    if not rows or study.placed is None:
        return []
    titles = [f"{n}: {one.layout.title}" for n, one in enumerate(study.placed.layouts, start=1)]
    return [*titles, "", *table(head, [[typed(cell) for cell in row] for row in rows]), FOOTING]


def layout_lines(layout: Layout) -> list[str]:
    """Where each part stands."""
    rows = (
        (p.name, p.zone, *(f"{v:.1f}" for v in p.at), p.up, str(p.turn_deg), "yes" if p.locked else "")
        for p in layout.placements
    )
    return table(("part", "zone", "x mm", "y mm", "z mm", "up", "turn", "fixed"), rows)


def weighing_lines(weighing: Weighing) -> list[str]:
    """Every load state in one row, the change, and what it means for goods, springs, brakes and hills."""
    rows = (
        (s.name, said(s.mass), *(said(m) for m in (*s.axle, *s.corner)), said(s.cg[0]), said(s.cg[2]))
        for s in weighing.states
    )
    head = (
        "state",
        "mass kg",
        "front kg",
        "rear kg",
        "FL kg",
        "FR kg",
        "RL kg",
        "RR kg",
        "CG x mm",
        "CG z mm",
    )
    change = weighing.change
    return [
        *table(head, rows),
        "",
        f"Change at kerb: {said(change.mass, 1, signed=True)} kg in all, front axle "
        f"{said(change.axle[0], 1, signed=True)} kg, rear axle {said(change.axle[1], 1, signed=True)} kg.",
        "Tolerances are 95 % half-widths. FL: front left, RR: rear right.",
        *_payload_lines(weighing),
        *_ride_lines(weighing),
        *_road_lines(weighing),
        *_next_lines(weighing),
    ]  # fmt: skip


def _payload_lines(weighing: Weighing) -> list[str]:
    rows = weighing.payload
    if not rows:
        return ["", "Payload: not computed, no load floor is given."]
    shown = [
        rows[k]
        for k in sorted({round(k * (len(rows) - 1) / (PAYLOAD_PLACES - 1)) for k in range(PAYLOAD_PLACES)})
    ]
    cells = ((typed(number(r.x_mm, 0)), said(r.allowed_kg), r.bound_by) for r in shown)
    lines = ["", *table(("goods centred at x mm", "may weigh kg", "bound by"), cells)]
    gains = [m for m in weighing.movables if m.best_allowed_kg - m.allowed_kg >= WORTH_MOVING_KG]
    if weighing.movables and not gains:
        lines.append("No part that may move would add a kilogram of payload by standing elsewhere.")
    lines += [
        f"Best place for {m.name}: {m.best_zone} at x {m.best_x_mm:.0f} mm instead of {m.zone} at {m.x_mm:.0f}: "
        f"payload {m.best_allowed_kg:.0f} kg instead of {m.allowed_kg:.0f}."
        for m in gains[:3]
    ]
    return lines


def _ride_lines(weighing: Weighing) -> list[str]:
    if not weighing.rides:
        return ["", "Ride height and frequency: not computed, the springs are not given."]
    cells = (
        (r.state, *(said(m, 0, signed=True) for m in r.height_change_mm), said(r.pitch_deg, 1, signed=True),
         *(said(m, 2) for m in r.frequency_hz))
        for r in weighing.rides
    )  # fmt: skip
    head = ("ride", "front mm", "rear mm", "nose up deg", "front Hz", "rear Hz")
    restored = (
        f"To restore the {r.axle} height: wheel rate {said(r.rate_n_per_mm[1], 1)} N/mm instead of "
        f"{said(r.rate_n_per_mm[0], 1)}, or {said(r.packing_mm, 0, signed=True)} mm of packing."
        for r in weighing.restores
    )
    return ["", *table(head, cells), *restored]


def _road_lines(weighing: Weighing) -> list[str]:
    if not weighing.road:
        return []
    cells = (
        (r.state, *(said(m) for m in r.braked_axle_kg), said(r.stability_factor, 2), said(r.hill_adhesion, 3))
        for r in weighing.road
    )
    head = ("on the road", "braked front kg", "braked rear kg", "stability factor", "grip for hill start")
    return ["", *table(head, cells)]


def _next_lines(weighing: Weighing) -> list[str]:
    found = weighing.next_measurements
    if found is None:
        return []
    lines = [f"Missing altogether: {text}." for text in found.unknown]
    if found.check is not None and found.rows:
        lines += [
            f"Measure next: {row.name} to +/- {row.better:g} {row.unit} instead of +/- {row.tolerance:g}; then "
            f"{found.check.title} is known to +/- {row.check_tolerance:.1f} {found.check.unit} instead of "
            f"+/- {found.check.tolerance:.1f}."
            for row in found.rows[:1]
        ]
    return ["", *lines] if lines else []


def as_built_lines(found: Comparison) -> list[str]:
    """The finished vehicle's readings against the prediction, and what is most likely to blame."""
    rows = (
        (
            r.name,
            said(r.predicted, 1),
            said(r.read, 1),
            said(r.difference, 1, signed=True),
            "yes" if r.within else "NO",
        )
        for r in found.rows
    )
    lines = table(("as built: " + found.state, "predicted kg", "read kg", "difference kg", "within"), rows)
    if not all(r.within for r in found.rows):
        blamed = (
            f"  {s.about}, {s.name}: off by {s.off_by:+.1f} {s.unit}, its tolerance {s.tolerance:.1f}; "
            f"explains {100 * s.share:.0f} %"
            for s in found.suspects[:5]
        )
        lines += ["Most likely to blame:", *blamed]
    if found.unlisted is not None:
        u = found.unlisted
        side = f", y {said(u.y)} mm" if u.y is not None else ""
        lines.append(
            f"One unlisted thing would do: {said(u.mass, 1, signed=True)} kg at x {said(u.x)} mm{side}."
        )
    return [*lines, *([found.note] if found.note else [])]


def frame_lines(study: Study) -> list[str]:
    """The cut list with how far each tube is used, the plates, and what the mounting points have to take."""
    framed = study.framed
    if framed is None or framed.frame is None:
        return ["No frame: nothing is placed that it could carry."]
    frame, designed = framed.frame, framed.designed
    cuts = (
        (m.name, m.section.name, f"{m.longest_mm:.1f}", f"{m.mass_item(frame.material).mass.value:.2f}",
         *member_cells(designed, m.name))
        for m in frame.members
    )  # fmt: skip
    plates = (
        (
            p.name,
            " x ".join(f"{s:g}" for s in p.size),
            ", ".join(f"{d:g} at {x:.1f}, {y:.1f}" for x, y, d in p.holes),
        )
        for p in frame.plates
    )
    statics = ["", "Not computed: the frame was not solved, so its strength is not known."]
    if designed is not None:
        rows = reaction_rows(designed.mounts)
        held = bracket_lines(designed.brackets)
        statics = [
            *(["", *table(BRACKET_HEAD, held)] if held else []),
            *(["", *table(REACTION_HEAD, rows), REACTIONS] if rows else []),
            "",
            *closing_lines(designed),
        ]
    return [
        f"Frame of {frame.material.name}, {frame.mass_kg:.1f} kg, on {len(framed.legs)} mounting points.",
        *table(("tube", "section", "longest mm", "kg", "used", "worst load case"), cuts),
        "",
        *table(("plate", "size mm", "holes mm"), plates),
        *statics,
    ]


def check_lines(checks: Sequence[Check], every: bool = False) -> list[str]:
    """Checks, failures first; unless all are asked for, those that hold are only counted.

    What `headline` tells in words is not told again.
    """
    shown = [c for c in checks if every or c.verdict != "pass"]
    rows = [
        (
            SIGN[c.verdict], c.title,
            "-" if c.value is None else said(Measured(c.value, c.tolerance), places_of(c)),
            "-" if c.limit is None else f"{'at most' if c.sense == 'max' else 'at least'} "
            f"{typed(number(c.limit, places_of(c)))} {unit_of(c)}".strip(),
            "see the top" if c.verdict == "fail" and c.id.startswith(OVERVOLTAGE) else c.note,
        )
        for c in shown
    ]  # fmt: skip
    held = sum(c.verdict == "pass" for c in checks)
    lines = [f"{row[0]}  {row[1]}: {row[2]}, {row[3]}" + (f" ({row[4]})" if row[4] else "") for row in rows]
    return [*lines, f"{held} of {len(checks)} checks hold over their whole tolerance."]


def not_done_lines(study: Study) -> list[str]:
    """What was not computed, so that nobody takes silence for a pass."""
    return ["Not computed by this version: " + "; ".join(study.not_done) + "."]


CAUTION = (
    "Caution: high voltage can kill, packs are heavy, and crash loads are large. This is a design aid: work on "
    "high voltage is for qualified people, a licensed engineer signs for structure, and local codes rule."
)
