"""The frame for the welder: three views with running dimensions, marks and cut list, and places of every piece."""

from collections.abc import Mapping, Sequence

from packlayout.export.drawing.assemblies import Assembly
from packlayout.export.drawing.dimensions import Call, Edge, balloons, figure_text, running, single
from packlayout.export.drawing.frame_of_sheet import Heading, add_frame, block_box
from packlayout.export.drawing.general import note
from packlayout.export.drawing.placing import Placed, centred, clear_of, draw, in_words
from packlayout.export.drawing.sheet import Circle, Sheet
from packlayout.export.drawing.sight import Sight
from packlayout.export.drawing.tables import ROW_MM, add_table, table_size
from packlayout.export.drawing.views import FRONT, ROUND, SIDE, TOP, View
from packlayout.export.figures import number, together
from packlayout.export.piece_marks import mark_of, side_of, tube_marks
from packlayout.export.welds import open_ends
from packlayout.frame.bolting import bore_mm
from packlayout.frame.tubes import Member, Plate, TubeFrame, member_box
from packlayout.model.catalogue import Thread
from packlayout.model.geometry import Vec

_ALONG = 1 - 1e-6


def frame_sheets(
    one: Assembly, views: dict[str, View], heading: Heading, sights: dict[str, Sight],
    drilled: Sequence[tuple[Vec, Vec, float]],
) -> list[Sheet]:  # fmt: skip
    """All sheets of one frame but those of its welds.

    Args:
        one: The frame.
        views: By the name of the look; the plan without holes, which are drawn as circles.
        heading: For the title block.
        sights: Isometric and from above: leaders end where a piece shows, and a hole that is covered is not drawn.
        drilled: Bores in its tubes: middle, way in, diameter.
    """
    holes = _seen_holes(one.frame, sights[TOP.name], drilled)
    return [
        _views_sheet(one, views, heading, holes),
        *_jig_sheet(one, views, heading, holes),
        *_marks_sheets(one, views, heading, sights[ROUND.name]),
        *_places_sheets(one, heading),
    ]


Hole = tuple[Vec, float, bool]
"""Middle, diameter, and whether nothing lies above it."""


def _seen_holes(frame: TubeFrame, sight: Sight, drilled: Sequence[tuple[Vec, Vec, float]]) -> list[Hole]:
    """Holes of level plates and bores in the upper sides of tubes."""
    made: list[tuple[Vec, float]] = []
    for plate in frame.plates:
        up = plate.pose.direction((0.0, 0.0, 1.0))[2]
        if abs(up) > _ALONG:
            face = plate.size[2] if up > 0 else 0.0
            made += [(plate.pose.point((x, y, face)), d) for x, y, d in plate.holes]
    made += [(at, diameter) for at, into, diameter in drilled if into[2] < -_ALONG]
    return [(at, d, sight.free((at[0] + 0.45 * d, at[1], at[2]))) for at, d in made]


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
            way = (float(axis == 0), float(axis == 1), float(axis == 2))
            place = round(m.start[axis] - m.reach_mm(way), 2)
            box = member_box(m)
            end = box.hi[across] if high else box.lo[across]
            places[place] = (max if high else min)(places.get(place, end), end)
    return places


def _views_sheet(one: Assembly, views: dict[str, View], heading: Heading, holes: list[Hole]) -> Sheet:
    sheet, frame = Sheet("A3", f"{one.title}, dimensions"), one.frame
    x0, y0, x1, y1 = sheet.room
    three = (views[SIDE.name], views[FRONT.name], views[TOP.name])
    # figures below (in third angle above) the view from above, left of it and of the side view
    room = (x0 + 22, y0 + 18, x1 - 16, y1 - (14 if heading.projection == "first" else 24))
    side, front, top = clear_of(block_box(sheet), three, room, (34.0, 22.0), heading.projection, 22.0)
    sheet.scale = in_words(side.scale)
    add_frame(sheet, heading)
    for placed in (side, front, top):
        draw(sheet, placed)
    datum = datum_of(frame)
    below: Edge = "below" if heading.projection == "first" else "above"
    running(sheet, top, datum[0], edges_of(frame.members, 0, 1, high=below == "above"), below, 9.0, "x")
    running(sheet, top, datum[1], edges_of(frame.members, 1, 0), "left", 9.0, "y")
    running(sheet, side, datum[2], edges_of(frame.members, 2, 0), "left", 9.0, "z")
    _holes(sheet, top, holes)
    _overall(sheet, side, front)
    lines = (
        "Dimensions in mm from the datum edges, at the small circles, to the near edge of each tube.",
        "Where each piece ends: see the sheets of places.",
    )
    box = block_box(sheet)
    spot = (x0 + 4, y0 + 10) if heading.projection == "third" else (box[0] + 2, box[3] + 10)
    note(sheet, *spot, lines)
    return sheet


def _holes(sheet: Sheet, top: Placed, holes: list[Hole]) -> None:
    """Holes seen from above, with their centre marks; of what is covered the mark alone."""
    for at, d, clear in holes:
        px, py = top.seen(at)
        radius = d / 2 / top.scale
        if clear:
            sheet.marks.append(Circle(px, py, radius, "visible"))
        reach = radius + 1.5
        sheet.stroke(((px - reach, py), (px + reach, py)), "centre")
        sheet.stroke(((px, py - reach), (px, py + reach)), "centre")


def _overall(sheet: Sheet, side: Placed, front: Placed) -> None:
    a = side.view.box
    single(sheet, side, ((a[0], a[3]), (a[2], a[3])), "above", 7.0, figure_text(a[2] - a[0]))
    b = front.view.box
    single(sheet, front, ((b[0], b[3]), (b[2], b[3])), "above", 7.0, figure_text(b[2] - b[0]))
    single(sheet, front, ((b[2], b[1]), (b[2], b[3])), "right", 7.0, figure_text(b[3] - b[1]))


def _jig_sheet(one: Assembly, views: dict[str, View], heading: Heading, seen: list[Hole]) -> list[Sheet]:
    """Plan of the level plates' holes from the datum, for the jig the frame is welded in; none without such holes."""
    frame = one.frame
    holes = [
        plate.pose.point((x, y, 0.0))
        for plate in frame.plates if abs(plate.pose.direction((0.0, 0.0, 1.0))[2]) > _ALONG
        for x, y, _ in plate.holes
    ]  # fmt: skip
    if not holes:
        return []
    sheet = Sheet("A3", f"{one.title}, mounting holes for the jig")
    x0, y0, x1, y1 = sheet.room
    top = centred(views[TOP.name], (x0 + 34, block_box(sheet)[3] + 34, x1 - 30, y1 - 26))
    sheet.scale = in_words(top.scale)
    add_frame(sheet, heading)
    draw(sheet, top, faint=True)
    datum = datum_of(frame)
    along: dict[float, float] = {}
    across: dict[float, float] = {}
    for x, y, _ in holes:
        fx, fy = top.view.look.seen((x, y, 0.0))
        along[fx] = min(along.get(fx, fy), fy)
        across[fy] = min(across.get(fy, fx), fx)
    running(sheet, top, datum[0], along, "below", 11.0, "x of the holes")
    running(sheet, top, datum[1], across, "left", 11.0, "y of the holes")
    _holes(sheet, top, seen)
    note(sheet, x0 + 4, y0 + 18, (
        "Dimensions in mm from the datum edges, at the small circles, to the middle of each hole.",
        "Heights and diameters: see the sheet of places of plates.",
        "Bolt the foot plates to the jig, or to the vehicle, before the legs are welded.",
    ))  # fmt: skip
    return [sheet]


def _marks_sheets(one: Assembly, views: dict[str, View], heading: Heading, sight: Sight) -> list[Sheet]:
    """The frame with its marks, and the cut list; a list that is too long for it follows on sheets of its own."""
    sheet = Sheet("A3", f"{one.title}, marks and cut list")
    x0, _, x1, y1 = sheet.room
    tubes, plates = one.tubes, one.plates
    rows = [
        (m.mark, str(len(m.members)), m.section.name, figure_text(m.longest_mm),
         *(f"{c.off_square_deg:g}° {c.long_side}" if c.off_square_deg else "square" for c in m.cuts),
         str(len(m.holes) or ""))
        for m in tubes
    ]  # fmt: skip
    head = ("mark", "pieces", "section", "length", "cut 1", "cut 2", "holes")
    plate_rows = [
        (m.mark, str(len(m.plates)), " × ".join(figure_text(v) for v in m.size), str(len(m.holes)))
        for m in plates
    ]
    plate_head = ("mark", "pieces", "plate, mm", "holes")
    wide = sum(table_size(head, rows, 40.0)[0])
    left = x1 - 4 - wide
    placed = centred(views[ROUND.name], (x0 + 22, block_box(sheet)[3] + 22, left - 24, y1 - 22))
    sheet.scale = in_words(placed.scale)
    add_frame(sheet, heading)
    draw(sheet, placed)
    calls = [
        Call(m.mark, *placed.seen(sight.best([at for tube in m.members for at in tube_points(tube)])))
        for m in tubes
    ]
    calls += [
        Call(m.mark, *placed.seen(sight.best([at for p in m.plates for at in plate_points(p)])))
        for m in plates
    ]
    balloons(sheet, placed, calls, ("left", "above", "right", "below"), 10.0)
    ends = len(open_ends(one.frame))
    words = (
        "Lengths to the longest point, cuts off square.",
        "Sides A to D go round clockwise, seen along the",
        "tube from cut 1, whose longest point is on side A.",
        "Holes in tubes and seams: see their sheets.",
        *((f"{ends} tube ends stay open: close them with caps.",) if ends else ()),
    )
    more: list[Sheet] = []
    y = y1 - 6
    floor = block_box(sheet)[3] + 8 + 4.4 * len(words)
    for name, one_head, one_rows, figures in (
        ("cut list", head, rows, frozenset((1, 3, 6))), ("plates", plate_head, plate_rows, frozenset((1, 3))),
    ):  # fmt: skip
        tall = table_size(one_head, one_rows, 46.0)[1]
        if not one_rows:
            continue
        if y - tall < floor:
            title = f"{one.title}, {name}"
            more += list_sheets(title, "Marks: see the sheet of marks.", one_head, one_rows, 7, heading)
            continue
        add_table(sheet, left, y, one_head, one_rows, name=name, figures=figures, widest=46.0)
        y -= tall + 7
    note(sheet, left, y - 2, words)
    return [sheet, *more]


def hole_sheets(frame: TubeFrame, heading: Heading, threads: Mapping[str, Thread]) -> list[Sheet]:
    """Where tubes are drilled, on lists; none when none is."""
    rows = [
        (m.mark, figure_text(h.from_cut_1_mm), side_of(h.side_deg),
         "middle" if not h.aside_mm else f"{figure_text(abs(h.aside_mm))} {'on' if h.aside_mm > 0 else 'back'}",
         f"Ø {bore_mm(h.clearance_mm, threads):g}", together(t.name for t in m.members))
        for m in tube_marks(frame) for h in m.holes
    ]  # fmt: skip
    words = (
        "mm from the longest point of cut 1; through one wall, for a blind nut whose maker decides the bore. "
        "On: from the middle of the side toward the next one, A, B, C, D."
    )
    head = ("mark", "from cut 1", "side", "off its middle", "bore", "which")
    return list_sheets("Frame, holes in tubes", words, head, rows, 6, heading) if rows else []


def tube_points(member: Member) -> list[Vec]:
    """Points on the sides of a tube that look to the eye, off its middle so that alike ones do not meet."""
    made: list[Vec] = []
    for share in (0.42, 0.6, 0.3, 0.75, 0.15, 0.88):
        at = [a + share * (b - a) for a, b in zip(member.start, member.end, strict=True)]
        for way in ((0.0, 0.0, 1.0), (0.0, -1.0, 0.0), (-1.0, 0.0, 0.0)):
            along = sum(w * a for w, a in zip(way, member.axis, strict=True))
            if abs(along) < _ALONG:
                reach = member.reach_mm(way)
                made.append((at[0] + reach * way[0], at[1] + reach * way[1], at[2] + reach * way[2]))
    return made


def plate_points(plate: Plate) -> list[Vec]:
    """Points on both faces of a plate."""
    x, y, t = plate.size
    return [
        plate.pose.point((x * a, y * b, c))
        for c in (t, 0.0) for a in (0.85, 0.5, 0.15, 0.97, 0.03) for b in (0.5, 0.1, 0.9)
    ]  # fmt: skip


def _places_sheets(one: Assembly, heading: Heading) -> list[Sheet]:
    """Tables of where every tube begins and ends and where every hole is, from the datum."""
    frame, datum = one.frame, datum_of(one.frame)
    marks = mark_of((*one.tubes, *one.plates))

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
    words = (
        "mm from the datum: front, left and lower edge of the cradle; x rearward, y to the right, z up. "
        f"In vehicle axes the datum is at x {number(datum[0])}, y {number(datum[1])}, z {number(datum[2])}."
    )
    head = ("mark", "tube", "from x", "y", "z", "to x", "y", "z")
    return [
        *list_sheets(f"{one.title}, places of tubes", words, head, tubes, 2, heading),
        *list_sheets(
            f"{one.title}, places of plates",
            words,
            ("mark", "plate", "what", "x", "y", "z"),
            holes,
            3,
            heading,
        ),
    ]


def list_sheets(
    title: str, words: str, head: tuple[str, ...], rows: list[tuple[str, ...]], first: int, heading: Heading
) -> list[Sheet]:
    """A long table on A3, over as many sheets as it needs.

    Args:
        title: Of the sheets.
        words: Above the table.
        head: Of the table.
        rows: As wide as the head.
        first: From this column on there are figures.
        heading: For the title block.
    """
    if any(len(row) != len(head) for row in rows):
        raise ValueError(f"{title}: a row that is not as wide as the head {head}")
    blank = Sheet("A3", title)
    room = int((blank.room[3] - block_box(blank)[3] - 18) // ROW_MM) - 1
    made: list[Sheet] = []
    for k in range(0, len(rows), room):
        sheet = Sheet("A3", title, "none")
        add_frame(sheet, heading)
        x0, _, _, y1 = sheet.room
        note(sheet, x0 + 4, y1 - 6, (words,))
        figures = frozenset(range(first, len(head)))
        add_table(sheet, x0 + 4, y1 - 10, head, rows[k : k + room], name=title, figures=figures, widest=130.0)
        made.append(sheet)
    return made
