"""What the report says, in blocks: for the customer first, then for the engineer, then the cautions.

Nothing stands here that was not computed: a stage that is missing says so.
"""

from packlayout import __version__
from packlayout.export import report_tables as tables
from packlayout.export import report_weighing as more
from packlayout.export.bill import bill
from packlayout.export.blocks import Answer, Block, Bullets, Digests, Head, Picture, Section, Table, Text
from packlayout.export.bolts import bolt_blocks
from packlayout.export.figures import figure, number
from packlayout.export.pictures import SIDE, THREE_QUARTER
from packlayout.export.report_answers import answers
from packlayout.export.report_driving import dials, driving, shaft
from packlayout.export.report_electrics import cables, electrics
from packlayout.export.report_front import before_and_after, front
from packlayout.export.report_inputs import input_blocks
from packlayout.export.report_service import service
from packlayout.export.report_structure import structure
from packlayout.export.turning import turning
from packlayout.export.weighing_charts import axle_chart, cg_chart, ledger_chart, payload_chart
from packlayout.mass.weighing import Weighing
from packlayout.study import Study

# high voltage: the limit of class B, 60 V d.c., is from ISO 6469-3 (value from memory)
CAUTIONS = (
    "A battery pack is live at all times: above 60 V d.c. it can kill, and nothing in this report makes it safe to "
    "touch. Work on it with the service disconnect out, proven dead, by people trained for it.",
    "Battery modules, motors and frames are heavy and fall: lift with tackle, keep hands and feet from under.",
    "In a crash the parts pull at their frame with many times their mass. Whether frame, welds, bolts and the body "
    "round them hold is to be shown by calculation or test for the design code that applies.",
    "A converted vehicle brakes, steers and tips differently. Brakes, springs and tyres are to be looked at for the "
    "new axle loads.",
    "Limits in this report are data from the files named below, not law. Local codes, the approval authority and "
    "licensed engineers and electricians decide.",
)
NOT_DONE = "Not done."


def content(
    study: Study, pictures: dict[str, tuple[str, bytes]], notes: tuple[str, ...]
) -> tuple[Section, ...]:
    """The report in its order.

    Args:
        study: What was computed.
        pictures: File name -> what it shows, and its PNG bytes.
        notes: What was left out of the files and why.
    """
    return (
        Section("answer", "The answer", "customer", _answer(study, pictures)),
        Section("pictures", "Details and pictures", "customer", _pictures(study, pictures)),
        Section("layouts", "Layouts", "engineer", _layouts(study)),
        Section("service", "Putting in and getting out", "engineer", service(study)),
        Section("weighing", "Weighing", "engineer", _weighing(study)),
        Section("as-built", "The finished vehicle on the scales", "engineer", _as_built(study)),
        Section("frame", "Frame", "engineer", _frame(study)),
        Section("bill", "Bill of materials and price", "engineer", _bill(study)),
        Section("structure", "Strength of the frame", "engineer", structure(study, pictures)),
        Section("electrics", "Pack and protection", "engineer", electrics(study)),
        Section("cables", "Cable schedule", "engineer", cables(study)),
        Section("driving", "Driving, range, charging", "engineer", driving(study)),
        Section("shaft", "Propeller shaft", "engineer", shaft(study)),
        Section("dials", "The old dials", "engineer", dials(study)),
        Section("checks", "Checks", "engineer", _checks(study)),
        Section("not-done", "What was not computed", "engineer", _not_done(study, notes)),
        Section("inputs", "Inputs", "engineer", _inputs(study)),
        Section("cautions", "Cautions", "cautions", (Bullets(CAUTIONS),)),
    )


def _answer(study: Study, pictures: dict[str, tuple[str, bytes]]) -> tuple[Block, ...]:
    shown = [Picture(*pictures[SIDE])] if SIDE in pictures else []
    short = [Answer(a.question, a.verdict, a.sentence) for a in answers(study)]
    return (*front(study), *shown, *before_and_after(study), *short)


def _bill(study: Study) -> tuple[Block, ...]:
    found = bill(study)
    rows = [
        (row.what, row.source, f"{row.quantity:g} {row.unit}", "" if row.mass is None else figure(row.mass, 2),
         "" if row.price is None else figure(row.price, 2))
        for row in found.rows
    ]  # fmt: skip
    if found.total is not None:
        rows.append(("total of the lines with a price", "", "", "", figure(found.total, 2)))
    money = f"price, {found.currency}" if found.currency else "price"
    table = Table(("what", "from", "how much", "mass, kg", money), tuple(rows), frozenset((2, 3, 4)))
    remarks: tuple[Block, ...] = (Bullets(found.remarks),) if found.remarks else ()
    return (*_groups(study), table, *remarks)


def _groups(study: Study) -> tuple[Block, ...]:
    """The price by what it is for."""
    priced = study.priced
    if priced is None:
        return (Text("Price: not done."),)
    groups = dict.fromkeys(line.group for line in priced.lines)
    rows = [(group, number(priced.group(group), 0)) for group in groups]
    rows.append(("altogether, without tax", figure(priced.total, 0)))
    return (Table(("price", priced.currency), tuple(rows), frozenset((1,))),)


def _as_built(study: Study) -> tuple[Block, ...]:
    found = study.comparison
    if found is None:
        return (Text("Not done: no scale readings of the finished vehicle were given."),)
    words = f"Readings against the prediction, state: {found.state}."
    blocks: list[Block] = [Text(words), more.comparison_table(found), more.suspect_table(found)]
    blocks += [Text(found.note)] if found.note else []
    return (*blocks, tables.check_table(found.checks))


def _pictures(study: Study, pictures: dict[str, tuple[str, bytes]]) -> tuple[Block, ...]:
    made: list[Block] = [Picture(*pictures[THREE_QUARTER])] if THREE_QUARTER in pictures else []
    if not pictures:
        made.append(Text("There are no pictures; see what was left out, below."))
    model = turning(study)
    loads = [axle_chart(study.case, study.weighing)] if study.weighing is not None else []
    more_said = [answer for answer in answers(study) if answer.details]
    return (*more_said, *made, *([model] if model is not None else []), *loads)


def _layouts(study: Study) -> tuple[Block, ...]:
    blocks: list[Block] = [Text("There is no layout: nothing could be placed.")]
    table = tables.layout_table(study)
    if table.rows:
        words = "Each layout is a file beside this report that can be edited and read back."
        blocks = [
            Text(
                f"{words} All that follows belongs to the first, taken for its frame and its cables as "
                "well as for the aims."
            ),
            table,
        ]
        beside = tables.aims_table(study)
        blocks += [Head("Side by side"), beside] if beside.rows else []
    if study.placed is not None and study.placed.why_not_more:
        blocks += [Head("Why not more"), Bullets(tuple(study.placed.why_not_more))]
    if study.layout is not None:
        words = "x is rearward from the front axle line, y to the right of the centre plane, z up from the ground."
        blocks += [
            Head("Parts in their places"),
            Text(words),
            tables.placement_table(study.case, study.layout),
        ]
    return tuple(blocks)


def _weighing(study: Study) -> tuple[Block, ...]:
    weighing, case = study.weighing, study.case
    if weighing is None:
        return (Text(NOT_DONE),)
    words = (
        "A tolerance is a 95 % half-width: of twenty such figures, nineteen are expected to lie within it."
    )
    blocks: list[Block] = [Text(words), tables.state_table(weighing)]
    terms = tuple(f"{s.name}: {s.term}" for s in weighing.states if s.term)
    blocks += [Bullets(terms)] if terms else []
    blocks += [Head("Centre of gravity"), cg_chart(case, weighing), Head("Payload")]
    chart = payload_chart(weighing)
    if chart is not None:
        blocks += [chart, tables.payload_table(weighing)]
    else:
        blocks.append(Text("Not computed: no load floor is given for this vehicle."))
    if weighing.movables:
        blocks += [Head("Where parts would leave the most payload"), more.movable_table(weighing)]
    blocks.append(Head("Springs"))
    if weighing.rides:
        blocks += [more.ride_table(weighing), more.restore_table(weighing)]
    else:
        blocks.append(Text("Not computed: the springs of this vehicle are not given."))
    blocks.append(Head("Braking, tipping and hill starts"))
    blocks.append(more.road_table(weighing, case.brief.road) if weighing.road else Text("Not computed."))
    blocks += _measure(weighing)
    if weighing.stripped is not None:
        blocks += [Head("The stripped vehicle on the scales"), more.comparison_table(weighing.stripped),
                   more.suspect_table(weighing.stripped)]  # fmt: skip
    blocks.append(Head("What went out and what came in"))
    if study.layout is not None:
        blocks.append(ledger_chart(case, study.layout, weighing))
    blocks += [tables.ledger_table(weighing), Head("Moments of inertia"), tables.inertia_table(weighing)]
    return tuple(blocks)


def _measure(weighing: Weighing) -> list[Block]:
    found = weighing.next_measurements
    if found is None or not (found.rows or found.unknown):
        return []
    blocks: list[Block] = [Head("What to measure next")]
    if found.unknown:
        blocks.append(Bullets(tuple(found.unknown)))
    table = more.next_table(found)
    return [*blocks, table] if table.rows else blocks


def _frame(study: Study) -> tuple[Block, ...]:
    frame = study.framed.frame if study.framed is not None else None
    if frame is None:
        return (Text("There is no frame."),)
    mass = f"Mass of the frame: {tables.frame_mass(frame)} kg."
    words = f"{mass} Angles are off a square cut; lengths are to the longest point."
    return (
        Text(words),
        tables.cut_table(frame, study.case.threads),
        tables.plate_table(frame),
        *bolt_blocks(study),
    )


def _checks(study: Study) -> tuple[Block, ...]:
    if not study.checks:
        return (Text("Nothing was checked."),)
    words = (
        "Marginal: holds at the value found, but not over its whole tolerance. Unknown: an input is missing."
    )
    return (tables.check_table(study.checks), Text(words))


def _not_done(study: Study, notes: tuple[str, ...]) -> tuple[Block, ...]:
    listed: Block = Bullets(study.not_done) if study.not_done else Text("Nothing is listed.")
    blocks: list[Block] = [Text("Silence is not a pass. This version did not look at:"), listed]
    if notes:
        blocks += [Head("Left out of the files", "left-out"), Bullets(notes)]
    return tuple(blocks)


def _inputs(study: Study) -> tuple[Block, ...]:
    case = study.case
    blocks: list[Block] = []
    if case.notes:
        blocks += [Head("Cleaned or assumed on reading"), Bullets(case.notes)]
    words = f"packlayout {__version__}, seed {study.seed}. The same files, version and seed give the same results."
    sources: Table = tables.source_table(case, study.layout)
    return (
        *blocks,
        *input_blocks(case, study.layout),
        Head("Where the figures are from"),
        sources,
        Head("Files"),
        Text(words),
        Digests(case.inputs),
    )
