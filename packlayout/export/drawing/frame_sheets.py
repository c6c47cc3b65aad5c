"""The frame for the welder: three views with running dimensions, marks and cut list, and places of every piece."""

from packlayout.export.drawing.dimensions import Call, Edge, balloons, figure_text, running, single
from packlayout.export.drawing.frame_of_sheet import Heading, add_frame, block_box
from packlayout.export.drawing.general import note
from packlayout.export.drawing.placing import Placed, centred, clear_of, draw, in_words
from packlayout.export.drawing.sheet import Sheet
from packlayout.export.drawing.tables import ROW_MM, add_table
from packlayout.export.drawing.views import FRONT, ROUND, SIDE, TOP, View
from packlayout.export.figures import number
from packlayout.export.piece_marks import mark_of, plate_marks, tube_marks
from packlayout.export.welds import open_ends
from packlayout.frame.tubes import Member, TubeFrame, member_box
from packlayout.model.geometry import Pose, Vec

_ALONG = 1 - 1e-6


def frame_sheets(frame: TubeFrame, views: dict[str, View], heading: Heading) -> list[Sheet]:
    """All sheets of the frame."""
    return [
        _views_sheet(frame, views, heading),
        _marks_sheet(frame, views, heading),
        *_places_sheets(frame, heading),
    ]


def datum_of(frame: TubeFrame) -> Vec:
    """The corner that everything is measured from: front, left and lower edge of the cradles, else of all tubes."""
    level = [m for m in frame.members if max(abs(v) for v in m.axis) > _ALONG]
    cradles = [m for m in level if m.group.startswith("cradle")] or level or list(frame.members)
    lows = [member_box(m).lo for m in cradles]
    return min(v[0] for v in lows), min(v[1] for v in lows), min(v[2] for v in lows)


def edges_of(
    members: tuple[Member, ...], axis: int, across: int, *, high: bool = False
) -> dict[float, float]:
    """Where tubes that do not run along an axis begin on it: the edge nearest to the datum.

    Args:
        members: Of the frame; only those along the vehicle's axes count.
        axis: 0, 1 or 2.
        across: The other axis of the view.
        high: Whether the figures stand on the high side of that axis.

    Returns:
        Place on the axis -> the end, on the other axis, of what lies there: the one nearest to the figures.
    """
    places: dict[float, float] = {}
    for m in members:
        if max(abs(v) for v in m.axis) > _ALONG and abs(m.axis[axis]) < 1 - _ALONG:
            place = round(m.start[axis] - m.section.side_mm / 2, 2)
            box = member_box(m)
            end = box.hi[across] if high else box.lo[across]
            places[place] = (max if high else min)(places.get(place, end), end)
    return places


def _views_sheet(frame: TubeFrame, views: dict[str, View], heading: Heading) -> Sheet:
    sheet = Sheet("A3", "Frame, dimensions")
    x0, y0, x1, y1 = sheet.room
    three = (views[SIDE.name], views[FRONT.name], views[TOP.name])
    # figures below (in third angle above) the view from above, left of it and of the side view
    room = (x0 + 22, y0 + 18, x1 - 16, y1 - (14 if heading.projection == "first" else 24))
    side, front, top = clear_of(block_box(sheet), three, room, (34.0, 22.0), heading.projection, 22.0)
    sheet.scale = in_words(side.scale)
    add_frame(sheet, heading)
    for placed in (side, front, top):
        draw(sheet, placed, hidden=False)
    datum = datum_of(frame)
    below: Edge = "below" if heading.projection == "first" else "above"
    running(sheet, top, datum[0], edges_of(frame.members, 0, 1, high=below == "above"), below, 9.0, "x")
    running(sheet, top, datum[1], edges_of(frame.members, 1, 0), "left", 9.0, "y")
    running(sheet, side, datum[2], edges_of(frame.members, 2, 0), "left", 9.0, "z")
    _holes(sheet, top, frame)
    _overall(sheet, side, front)
    lines = (
        "Dimensions in mm from the datum edges, at the small circles, to the near edge of each tube.",
        "Where each piece ends: see the sheets of places.",
    )
    box = block_box(sheet)
    spot = (x0 + 4, y0 + 10) if heading.projection == "third" else (box[0] + 2, box[3] + 10)
    note(sheet, *spot, lines)
    return sheet


def _holes(sheet: Sheet, top: Placed, frame: TubeFrame) -> None:
    """Centre marks of the holes of level plates, seen from above."""
    for plate in frame.plates:
        if abs(plate.pose.direction((0.0, 0.0, 1.0))[2]) > _ALONG:
            for x, y, d in plate.holes:
                px, py = top.seen(plate.pose.point((x, y, 0.0)))
                reach = d / 2 / top.scale + 1.5
                sheet.stroke(((px - reach, py), (px + reach, py)), "centre")
                sheet.stroke(((px, py - reach), (px, py + reach)), "centre")


def _overall(sheet: Sheet, side: Placed, front: Placed) -> None:
    a = side.view.box
    single(sheet, side, ((a[0], a[3]), (a[2], a[3])), "above", 7.0, figure_text(a[2] - a[0]))
    b = front.view.box
    single(sheet, front, ((b[0], b[3]), (b[2], b[3])), "above", 7.0, figure_text(b[2] - b[0]))
    single(sheet, front, ((b[2], b[1]), (b[2], b[3])), "right", 7.0, figure_text(b[3] - b[1]))


def _marks_sheet(frame: TubeFrame, views: dict[str, View], heading: Heading) -> Sheet:
    sheet = Sheet("A3", "Frame, marks and cut list")
    x0, _, x1, y1 = sheet.room
    tubes, plates = tube_marks(frame), plate_marks(frame)
    rows = [
        (m.mark, str(len(m.members)), m.section.name, figure_text(m.longest_mm),
         *(f"{c.off_square_deg:g}° {c.long_side}" if c.off_square_deg else "square" for c in m.cuts))
        for m in tubes
    ]  # fmt: skip
    head = ("mark", "pieces", "section", "length", "cut 1", "cut 2")
    plate_rows = [
        (m.mark, str(len(m.plates)), " × ".join(figure_text(v) for v in m.size), str(len(m.holes)))
        for m in plates
    ]
    placed = centred(views[ROUND.name], (x0 + 22, block_box(sheet)[3] + 22, x1 - 135, y1 - 22))
    sheet.scale = in_words(placed.scale)
    add_frame(sheet, heading)
    draw(sheet, placed, hidden=False)
    calls = [Call(m.mark, *placed.seen(_clear_point(m.members[0]))) for m in tubes]
    calls += [Call(m.mark, *placed.seen(_plate_point(m.plates[0].pose, m.size))) for m in plates]
    balloons(sheet, placed, calls, ("left", "above", "right", "below"), 10.0)
    left = x1 - 122
    _, tall = add_table(
        sheet, left, y1 - 6, head, rows, name="cut list", figures=frozenset((1, 3)), widest=40.0
    )
    y = y1 - 6 - tall - 7
    _, more = add_table(sheet, left, y, ("mark", "pieces", "plate, mm", "holes"), plate_rows, name="plates",
                        figures=frozenset((1, 3)), widest=46.0)  # fmt: skip
    y -= more + 8
    ends = len(open_ends(frame))
    note(sheet, left, y, (
        "Lengths to the longest point, cuts off square.",
        "Sides A to D go round clockwise, seen along the",
        "tube from cut 1, whose longest point is on side A.",
        "All seams all round, order and throats: weld-list.csv.",
        *((f"{ends} tube ends stay open: close them with caps.",) if ends else ()),
    ))  # fmt: skip
    return sheet


def _clear_point(member: Member) -> Vec:
    """A point on a tube to point at, off its middle so that alike ones do not meet."""
    share = 0.42
    a, b = member.start, member.end
    return a[0] + share * (b[0] - a[0]), a[1] + share * (b[1] - a[1]), a[2] + share * (b[2] - a[2])


def _plate_point(pose: Pose, size: Vec) -> Vec:
    return pose.point((size[0] * 0.85, size[1] / 2, size[2] / 2))


def _places_sheets(frame: TubeFrame, heading: Heading) -> list[Sheet]:
    """Tables of where every tube begins and ends and where every hole is, from the datum."""
    datum = datum_of(frame)
    marks = mark_of((*tube_marks(frame), *plate_marks(frame)))

    def off(at: Vec) -> tuple[str, str, str]:
        x, y, z = (number(v - d, 1).removesuffix(".0") for v, d in zip(at, datum, strict=True))
        return x, y, z

    tubes = [(marks[m.name], m.name, *off(m.start), *off(m.end)) for m in frame.members]
    holes: list[tuple[str, ...]] = []
    for plate in frame.plates:
        holes.append((marks[plate.name], plate.name, "first corner", *off(plate.pose.origin)))
        for n, (x, y, d) in enumerate(plate.holes, start=1):
            holes.append(
                (
                    marks[plate.name],
                    plate.name,
                    f"hole {n}, Ø {figure_text(d)}",
                    *off(plate.pose.point((x, y, 0.0))),
                )
            )
    groups: tuple[tuple[str, tuple[str, ...], list[tuple[str, ...]], int], ...] = (
        ("Frame, places of tubes", ("mark", "tube", "from x", "y", "z", "to x", "y", "z"), tubes, 2),
        ("Frame, places of plates", ("mark", "plate", "what", "x", "y", "z"), holes, 3),
    )
    made: list[Sheet] = []
    for title, head, rows, first in groups:
        blank = Sheet("A3", title)
        room = int((blank.room[3] - block_box(blank)[3] - 18) // ROW_MM) - 1
        pages = [rows[k : k + room] for k in range(0, len(rows), room)]
        for page in pages:
            sheet = Sheet("A3", title, "none")
            add_frame(sheet, heading)
            x0, _, _, y1 = sheet.room
            words = (
                "mm from the datum: front, left and lower edge of the cradle; x rearward, y to the right, z up. "
                f"In vehicle axes the datum is at x {number(datum[0])}, y {number(datum[1])}, z {number(datum[2])}."
            )
            note(sheet, x0 + 4, y1 - 6, (words,))
            add_table(
                sheet,
                x0 + 4,
                y1 - 10,
                head,
                page,
                name=title,
                figures=frozenset(range(first, len(head))),
                widest=70.0,
            )
            made.append(sheet)
    return made
