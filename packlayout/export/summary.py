"""The results as plain lines for the terminal: what a fitter wants to know first, first."""

from collections.abc import Iterable, Sequence

from packlayout.mass.weighing import Comparison, Weighing
from packlayout.model.check import Check
from packlayout.model.layout import Layout
from packlayout.study import Study
from packlayout.units import Measured

SIGN = {"pass": "ok  ", "marginal": "near", "fail": "FAIL", "unknown": "?   "}


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


def number(value: Measured, digits: int = 0) -> str:
    """`571 +/- 9`."""
    tolerance = f" +/- {value.tolerance:.{digits}f}" if value.tolerance else ""
    return f"{value.value + 0.0:.{digits}f}{tolerance}"


def headline(study: Study) -> list[str]:
    """Does it fit, in one or a few lines."""
    if study.placed is None or study.layout is None:
        why = study.placed.why_not_more if study.placed else ()
        return ["The pack does not fit: not one module could be placed.", *why]
    count = study.placed.count
    fits = "fits" if count.packed >= count.wanted else "does not fit whole"
    failed = sum(c.verdict == "fail" for c in study.checks)
    open_ = sum(c.verdict == "unknown" for c in study.checks)
    said = (
        f"{failed} checks fail"
        if failed
        else "every check that was made holds"
        if not open_
        else "no check fails"
    )
    if open_:
        said += f", {open_} could not be made"
    return [
        f"{study.case.vehicle.name}: the pack {fits}: {count.packed} of {count.wanted} modules placed; {said}.",
        *(f"  {line}" for line in study.placed.why_not_more),
    ]


def layout_lines(layout: Layout) -> list[str]:
    """Where each part stands."""
    rows = (
        (p.name, p.zone, *(f"{v:.1f}" for v in p.at), p.up, str(p.turn_deg), "yes" if p.locked else "")
        for p in layout.placements
    )
    return table(("part", "zone", "x mm", "y mm", "z mm", "up", "turn", "fixed"), rows)


def weighing_lines(weighing: Weighing) -> list[str]:
    """Every load state in one row."""
    rows = (
        (
            s.name, number(s.mass), number(s.axle[0]), number(s.axle[1]), *(number(c) for c in s.corner),
            number(s.cg[0]), number(s.cg[2]),
        )
        for s in weighing.states
    )  # fmt: skip
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
        f"Change at kerb: {number(change.mass, 1)} kg in all, front axle {number(change.axle[0], 1)} kg, "
        f"rear axle {number(change.axle[1], 1)} kg.",
        "Tolerances are 95 % half-widths. FL: front left, RR: rear right.",
    ]


def as_built_lines(found: Comparison) -> list[str]:
    """The finished vehicle's readings against the prediction, and what is most likely to blame."""
    rows = (
        (r.name, number(r.predicted, 1), number(r.read, 1), number(r.difference, 1), "yes" if r.within else "NO")
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
        side = f", y {number(u.y)} mm" if u.y is not None else ""
        lines.append(f"One unlisted thing would do: {number(u.mass, 1)} kg at x {number(u.x)} mm{side}.")
    return [*lines, *([found.note] if found.note else [])]


def frame_lines(study: Study) -> list[str]:
    """The cut list and the plates."""
    framed = study.framed
    if framed is None or framed.frame is None:
        return ["No frame: nothing is placed that it could carry."]
    frame = framed.frame
    cuts = (
        (m.name, m.section.name, f"{m.longest_mm:.1f}", f"{m.mass_item(frame.material).mass.value:.2f}")
        for m in frame.members
    )
    plates = (
        (
            p.name,
            " x ".join(f"{s:g}" for s in p.size),
            ", ".join(f"{d:g} at {x:.1f}, {y:.1f}" for x, y, d in p.holes),
        )
        for p in frame.plates
    )
    return [
        f"Frame of {frame.material.name}, {frame.mass_kg:.1f} kg, on {len(framed.legs)} mounting points.",
        *table(("tube", "section", "longest mm", "kg"), cuts),
        "",
        *table(("plate", "size mm", "holes mm"), plates),
    ]


def check_lines(checks: Sequence[Check], every: bool = False) -> list[str]:
    """Checks, failures first; unless all are asked for, those that hold are only counted."""
    shown = [c for c in checks if every or c.verdict != "pass"]
    rows = [
        (
            SIGN[c.verdict], c.title,
            "-" if c.value is None else f"{c.value:.1f}" + (f" +/- {c.tolerance:.1f}" if c.tolerance else ""),
            "-" if c.limit is None else f"{'at most' if c.sense == 'max' else 'at least'} {c.limit:.1f} {c.unit}",
            c.note,
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
