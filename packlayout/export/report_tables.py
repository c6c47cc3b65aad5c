"""The rows of the report: results as words and figures, ready to be set. No HTML here."""

from collections.abc import Mapping, Sequence

from packlayout.export.blocks import Table
from packlayout.export.figures import figure, number, point, together
from packlayout.export.layout_file import file_of, layouts
from packlayout.export.lists import hole_words
from packlayout.export.palette import PART_COLOURS
from packlayout.export.piece_marks import SawCut, plate_marks, tube_marks
from packlayout.export.report_answers import SIGNS, places_of, unit_of
from packlayout.export.side_by_side import FOOTING, side_by_side
from packlayout.frame.tubes import TubeFrame
from packlayout.mass.weighing import Weighing
from packlayout.model.brief import Case
from packlayout.model.catalogue import Thread
from packlayout.model.check import Check
from packlayout.model.layout import Layout
from packlayout.model.record import Record
from packlayout.study import Study
from packlayout.units import Measured


def layout_table(study: Study) -> Table:
    """All layouts, each with what it is best at."""
    rows = [
        (file_of(n), layout.title or "as given", str(len(layout.modules)))
        for n, layout in enumerate(layouts(study), start=1)
    ]
    return Table(("file", "what it is", "modules"), tuple(rows), frozenset({2}), shares=(0.18, 0.7, 0.12))


def aims_table(study: Study) -> Table:
    """What each layout comes to, side by side; no rows for a single one."""
    head, rows = side_by_side(study)
    rest = 0.6 / max(1, len(head) - 1)
    shares = (0.4, *(rest for _ in head[1:]))
    return Table(head, rows, frozenset(range(1, len(head))), FOOTING, shares=shares)


def placement_table(case: Case, layout: Layout) -> Table:
    """Where each part of the chosen layout stands, with the colour of its kind."""
    rows: list[tuple[str, ...]] = []
    colours: list[str] = []
    for p in layout.placements:
        part = case.parts[p.part]
        colours.append(PART_COLOURS[part.kind])
        rows.append((p.name, part.kind, part.name, p.zone, point(p.box.lo), point(p.box.size), figure(part.mass_kg),
                     "fixed" if p.locked else ""))  # fmt: skip
    head = (
        "name",
        "kind",
        "part",
        "zone",
        "lowest corner x, y, z, mm",
        "size as it stands, mm",
        "mass, kg",
        "",
    )
    return Table(head, tuple(rows), frozenset((4, 5, 6)), colours=tuple(colours), close=True)


def state_table(weighing: Weighing) -> Table:
    """Every load state, then the change."""
    rows: list[tuple[str, ...]] = [
        (s.name, figure(s.mass), figure(s.axle[0]), figure(s.axle[1]), *(figure(load) for load in s.corner),
         *(figure(m, 0) for m in s.cg))
        for s in weighing.states
    ]  # fmt: skip
    change = weighing.change
    rows.append((
        "change in kerb state", *(figure(m, signed=True) for m in (change.mass, *change.axle, *change.corner)),
        *(figure(m, 0, signed=True) for m in change.cg),
    ))  # fmt: skip
    head = ("state", "mass", "front axle", "rear axle", "front left", "front right", "rear left", "rear right",
            "CG x", "CG y", "CG z")  # fmt: skip
    return Table(
        head, tuple(rows), frozenset(range(1, 11)), "Masses in kg, centre of gravity in mm", close=True
    )


def inertia_table(weighing: Weighing) -> Table:
    """Moments of inertia and how corners and inertias were found; said once where it is the same for all."""
    caption = "Moments of inertia about the centre of gravity, kg m²"
    head, figures = ("state", "roll", "pitch", "yaw"), frozenset((1, 2, 3))
    rows = [(s.name, *(figure(m, 0) for m in s.inertia)) for s in weighing.states]
    if len({state.note for state in weighing.states}) == 1:
        return Table(head, tuple(rows), figures, f"{caption}. {weighing.states[0].note}".strip())
    noted = tuple((*row, state.note) for row, state in zip(rows, weighing.states, strict=True))
    return Table((*head, "how it was found"), noted, figures, caption)


def payload_table(weighing: Weighing) -> Table:
    """How much may be carried where."""
    rows = tuple((number(row.x_mm, 0), figure(row.allowed_kg), row.bound_by) for row in weighing.payload)
    return Table(("goods centred at x, mm", "may be carried, kg", "bound by"), rows, frozenset((0, 1)))


def ledger_table(weighing: Weighing) -> Table:
    """Everything that was weighed out and in; the frame as one row."""
    frame = [item for item in weighing.ledger if item.kind == "frame"]
    rows = [
        (item.name, item.kind, figure(item.mass), ", ".join(figure(m, 0) for m in item.position), item.source)
        for item in weighing.ledger if item.kind != "frame"
    ]  # fmt: skip
    if frame:
        mass = sum(item.mass.value for item in frame)
        at = [sum(i.mass.value * i.position[k].value for i in frame) / mass for k in range(3)]
        total = Measured(mass, sum(item.mass.tolerance for item in frame))
        rows.append((f"frame, {len(frame)} pieces", "frame", figure(total), point(at), "see the cut list"))
    return Table(("what", "", "mass, kg", "at x, y, z, mm", "from"), tuple(rows), frozenset((2, 3)))


def cut_table(frame: TubeFrame, threads: Mapping[str, Thread]) -> Table:
    """Cut list by the marks that drawings and files bear."""
    rows = tuple(
        (m.mark, str(len(m.members)), m.section.name, number(m.longest_mm), *(cut_words(cut) for cut in m.cuts),
         number(sum(t.mass_item(frame.material).mass.value for t in m.members), 2),
         together(t.name for t in m.members)
         + "".join(f"\nhole {hole_words(hole, threads)}" for hole in m.holes))
        for m in tube_marks(frame)
    )  # fmt: skip
    head = ("mark", "pieces", "section", "longest point, mm", "cut 1", "cut 2", "mass, kg", "which")
    caption = (
        f"Tubes, {frame.material.name}. Sides A to D go round clockwise, seen along the tube from cut 1, whose longest "
        "point is on side A"
    )
    return Table(
        head, rows, frozenset((1, 3, 6)), caption, shares=(0.06, 0.07, 0.12, 0.1, 0.1, 0.1, 0.09, 0.36)
    )


def frame_mass(frame: TubeFrame) -> str:
    """Mass of the frame with its tolerance: one delivery is thick or thin as a whole, so tolerances add up."""
    return figure(Measured(frame.mass_kg, sum(item.mass.tolerance for item in frame.mass_items)))


def cut_words(cut: SawCut) -> str:
    """How far a cut is off square, in degrees, as a saw is set, and where its longest point is."""
    return f"{cut.off_square_deg:.1f}° {cut.long_side}" if cut.off_square_deg else "square"


def plate_table(frame: TubeFrame) -> Table:
    """Plates with their holes, by their marks."""
    rows = tuple(
        (m.mark, str(len(m.plates)), " × ".join(number(s) for s in m.size),
         "; ".join(f"Ø {number(d)} at {number(x)}, {number(y)}" for x, y, d in m.holes) or "none",
         number(sum(p.mass_item(frame.material).mass.value for p in m.plates), 2), together(p.name for p in m.plates))
        for m in plate_marks(frame)
    )  # fmt: skip
    head = (
        "mark",
        "pieces",
        "length × width × thickness, mm",
        "holes, mm from the first corner",
        "mass, kg",
        "which",
    )
    return Table(head, rows, frozenset((1, 2, 4)), f"Plates, {frame.material.name}",
                 shares=(0.06, 0.07, 0.16, 0.28, 0.09, 0.34))  # fmt: skip


def check_table(checks: Sequence[Check]) -> Table:
    """Checks, gravest first, in their order within a verdict."""
    order = list(SIGNS)
    rows: list[tuple[str, ...]] = []
    for check in sorted(checks, key=lambda c: order.index(c.verdict)):
        bound, places = "≤" if check.sense == "max" else "≥", places_of(check)
        rows.append((
            check.verdict, f"{check.title}\n{check.note}" if check.note else check.title,
            "" if check.value is None else figure(Measured(check.value, check.tolerance), places),
            "" if check.limit is None else f"{bound} {number(check.limit, places)}",
            "" if check.margin is None else number(check.margin, places), unit_of(check),
            "" if check.confidence is None else _percent(check.confidence), check.basis,
        ))  # fmt: skip
    head = ("verdict", "what", "found", "allowed", "to spare", "unit", "sure to", "limit from")
    shares = (0.08, 0.32, 0.11, 0.09, 0.08, 0.05, 0.07, 0.2)
    return Table(head, tuple(rows), frozenset((2, 3, 4, 6)), verdicts=0, shares=shares)


def _percent(share: float) -> str:
    if 0.999 <= share < 1:
        return "> 99.9 %"
    return "< 0.1 %" if 0 < share <= 0.001 else f"{100 * share:.1f} %".replace(".0 %", " %")


def source_table(case: Case, layout: Layout | None) -> Table:
    """Where the figures are from: vehicle, parts, stock and limits."""
    rows = [*_told(case.vehicle, "vehicle")]
    used = (
        list(dict.fromkeys(p.part for p in layout.placements)) if layout is not None else sorted(case.parts)
    )
    for key in used:
        part = case.parts[key]
        rows.append((f"{part.name} ({part.maker})", part.source))
        rows += [(f"{part.name}: {field}", text) for field, text in part.sources.items()]
    material = case.materials.get(case.brief.frame.material)
    rows += [(material.name, material.source)] if material is not None else []
    code = case.design_code
    rows.append((code.title, code.note or "limits below"))
    rows += [(f"{code.title}: {limit.quantity}", limit.source) for limit in code.limits]
    rows += [(f"convention: {field}", text) for field, text in case.conventions.sources.items()]
    return Table(("figure", "from"), tuple(rows))


def _told(record: Record, name: str) -> list[tuple[str, str]]:
    """Every `source` in a record and the records in it."""
    rows: list[tuple[str, str]] = []
    for field in type(record).model_fields:
        value = getattr(record, field)
        if field == "source" and value:
            rows.append((name, value))
        members = value if isinstance(value, tuple) else (value,)
        for member in members:
            if isinstance(member, Record):
                title = getattr(member, "name", None) or field.replace("_", " ")
                rows += _told(member, f"{name}: {title}")
    return rows
