"""Sheets: nothing covers anything, everything is to scale, the PDF's own vectors say so."""

from dataclasses import replace
from io import BytesIO
from itertools import pairwise
from math import cos, pi, sin
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from pypdf import PdfReader

from packlayout.export.drawing.dimensions import Call, balloons
from packlayout.export.drawing.frame_sheets import datum_of, edges_of
from packlayout.export.drawing.paper import write_pdf
from packlayout.export.drawing.placing import Placed, clear_of, scale_for, spread, three_views
from packlayout.export.drawing.sheet import (
    Sheet,
    Stroke,
    Text,
    broken,
    inside,
    overlap,
    shortened,
    text_width,
)
from packlayout.export.drawing.views import FRONT, ROUND, SIDE, TOP, Look, View, view
from packlayout.export.drawings import sheets, write_drawings
from packlayout.export.piece_marks import tube_marks
from packlayout.export.templates import (
    BAR_MM,
    OVERLAP_MM,
    WINDOW,
    copes,
    template_sheets,
    tiles,
    write_templates,
)
from packlayout.frame.tubes import Member, Plate, TubeFrame
from packlayout.model.brief import Documents
from packlayout.model.catalogue import TubeSection
from packlayout.model.geometry import Pose
from packlayout.study import Study
from tests.studies import S235, SHS40, frame, study

STUDY = study()
FRAME = frame()
LARGE = Plate("adapter", "leg front left", Pose((0.0, 0.0, 0.0)), (340.0, 300.0, 8.0),
              ((20.0, 20.0, 11.0), (155.0, 100.0, 40.0), (320.0, 280.0, 13.5)))  # fmt: skip


def with_plates(*plates: Plate) -> Study:
    assert STUDY.framed is not None
    return replace(STUDY, framed=replace(STUDY.framed, frame=TubeFrame(FRAME.members, plates, S235)))


@pytest.fixture(scope="module")
def drawn() -> list[Sheet]:
    return sheets(STUDY)


# ---------------------------------------------------------------- views


def box_view(size: tuple[float, float, float], look: Look, *, hidden: bool = False) -> View:
    from OCP.BRepPrimAPI import BRepPrimAPI_MakeBox

    return view(BRepPrimAPI_MakeBox(*size).Solid(), look, hidden=hidden)


@pytest.mark.parametrize(
    ("look", "box"),
    [(SIDE, (0, 0, 100, 30)), (FRONT, (-60, 0, 0, 30)), (TOP, (0, 0, 100, 60))],
)
def test_a_box_by_hand(look: Look, box: tuple[float, float, float, float]) -> None:
    """100 long, 60 wide, 30 high: from the left x is to the right, from the front y to the left, z is up."""
    found = box_view((100.0, 60.0, 30.0), look)
    assert np.allclose(found.box, box, atol=0.01)
    assert sum(
        np.linalg.norm(np.diff(path, axis=0), axis=1).sum() for path in found.visible
    ) == pytest.approx(2 * (box[2] - box[0] + box[3] - box[1]), abs=0.1)


def test_isometric_by_hand() -> None:
    """Nine edges of a cube are seen, three are hidden; all are root two thirds as long."""
    seen = box_view((50.0, 50.0, 50.0), ROUND, hidden=True)
    lengths = [sum(np.linalg.norm(np.diff(path, axis=0), axis=1).sum() for path in paths)
               for paths in (seen.visible, seen.hidden)]  # fmt: skip
    assert lengths[0] == pytest.approx(9 * 50 * (2 / 3) ** 0.5, abs=0.5)
    assert lengths[1] == pytest.approx(3 * 50 * (2 / 3) ** 0.5, abs=1.5)


def test_what_is_behind_is_not_drawn() -> None:
    """A small box behind a large one adds nothing to the view from the left."""
    from OCP.BRep import BRep_Builder
    from OCP.BRepPrimAPI import BRepPrimAPI_MakeBox
    from OCP.gp import gp_Pnt
    from OCP.TopoDS import TopoDS_Compound

    builder, both = BRep_Builder(), TopoDS_Compound()
    builder.MakeCompound(both)
    builder.Add(both, BRepPrimAPI_MakeBox(100, 10, 100).Solid())
    builder.Add(both, BRepPrimAPI_MakeBox(gp_Pnt(40, 50, 40), 20, 10, 20).Solid())
    alone = box_view((100.0, 10.0, 100.0), SIDE)
    found = view(both, SIDE, hidden=True)
    assert found.visible == alone.visible
    assert sum(np.linalg.norm(np.diff(p, axis=0), axis=1).sum() for p in found.hidden) == pytest.approx(
        80, abs=0.5
    )


# ---------------------------------------------------------------- sheets


def test_nothing_covers_anything(drawn: list[Sheet]) -> None:
    one = [f"Frame 1, {what}" for what in (
        "dimensions", "mounting holes for the jig", "marks and cut list", "places of tubes", "places of plates", "welds",
    )]  # fmt: skip
    two = [f"Frame 2, {what}" for what in ("dimensions", "marks and cut list", "places of tubes", "welds")]
    assert [sheet.title for sheet in drawn] == [
        "General arrangement", "General arrangement, isometric", *one, *two, "Frame, welds in their order",
        "Plate P1, 8 mm",
    ]  # fmt: skip
    for sheet in drawn:
        assert sheet.faults() == (), sheet.title
        assert {"view", "table"} & {t.kind for t in sheet.taken}
        assert "title block" in {t.kind for t in sheet.taken}


def test_no_mark_leaves_the_sheet(drawn: list[Sheet]) -> None:
    for sheet in [*drawn, *template_sheets(with_plates(LARGE, *FRAME.plates))]:
        x0, y0, x1, y1 = (0.0, 0.0, 420.0, 297.0) if sheet.size == "A3" else (0.0, 0.0, 210.0, 297.0)
        for mark in sheet.marks:
            points = mark.points if isinstance(mark, Stroke) else ((mark.x, mark.y),)
            assert all(x0 <= x <= x1 and y0 <= y <= y1 for x, y in points), sheet.title
            if isinstance(mark, Text):
                assert inside(mark.box, sheet.room), (sheet.title, mark.text)


def test_texts_lie_apart(drawn: list[Sheet]) -> None:
    """All of them, those in tables and title blocks too."""
    for sheet in drawn:
        texts = [m for m in sheet.marks if isinstance(m, Text) and m.text]
        for k, a in enumerate(texts):
            for b in texts[k + 1 :]:
                assert not overlap(a.box, b.box), (sheet.title, a.text, b.text)


def test_every_mark_has_its_balloon(drawn: list[Sheet]) -> None:
    from packlayout.export.piece_marks import plate_marks, tube_marks

    called = {t.name for sheet in (drawn[4], drawn[9]) for t in sheet.taken if t.kind == "balloon"}
    assert called == {m.mark for m in (*tube_marks(FRAME), *plate_marks(FRAME))}


def test_running_dimensions_by_hand() -> None:
    """The ring's left and right tubes begin 15 mm before their centre lines at y -210 and 210, the rear one at 232."""
    assert datum_of(FRAME) == (-280.0, -225.0, 330.0)
    ring = tuple(m for m in FRAME.members if m.group == "cradle 1")
    assert sorted(edges_of(ring, 1, 0)) == [-225.0, 195.0]
    assert sorted(edges_of(ring, 0, 1)) == [-280.0, 217.0]
    assert edges_of(ring, 2, 0) == {355.0: -280.0}


@pytest.mark.parametrize("projection", ["first", "third"])
def test_views_stand_in_line(projection: Any) -> None:
    """First angle: from above is below, from the front to the right of the view from the left; third: the other way."""
    views = tuple(box_view((1000.0, 400.0, 300.0), look) for look in (SIDE, FRONT, TOP))
    side, front, top = three_views((views[0], views[1], views[2]), (0, 0, 300, 200), (10, 10), projection)
    assert side.scale == front.scale == top.scale == 5.0
    assert side.at((0, 0))[0] == pytest.approx(top.at((0, 0))[0])
    assert side.at((0, 0))[1] == pytest.approx(front.at((0, 0))[1])
    sign = 1 if projection == "first" else -1
    assert sign * (side.box[1] - top.box[3]) >= 0 if sign > 0 else top.box[1] >= side.box[3]
    assert (front.box[0] >= side.box[2]) == (sign > 0)


def test_third_angle_sheets_are_clear_as_well() -> None:
    wanted = STUDY.case.brief.model_copy(update={"documents": Documents(projection="third angle")})
    for sheet in sheets(replace(STUDY, case=replace(STUDY.case, brief=wanted))):
        assert sheet.faults() == (), sheet.title


@pytest.mark.parametrize(
    ("size", "scale"), [((99, 50), 1), ((101, 50), 2), ((1999, 10), 20), ((10, 5001), 100)]
)
def test_scales_are_those_of_the_standard(size: tuple[float, float], scale: float) -> None:
    assert scale_for(size, (100, 100)) == scale


@given(st.lists(st.floats(0, 100), max_size=12), st.floats(1, 6))
def test_figures_are_moved_apart(at: list[float], apart: float) -> None:
    wanted = sorted(at)
    found = spread(wanted, apart, -50, 150)
    assert all(b - a >= apart - 1e-9 for a, b in pairwise(found))
    if all(b - a >= apart for a, b in pairwise(wanted)):
        assert np.allclose(found, wanted)


@given(st.lists(st.tuples(st.floats(100, 200), st.floats(100, 200)), min_size=1, max_size=24))
def test_balloons_never_touch(points: list[tuple[float, float]]) -> None:
    sheet = Sheet("A3", "t")
    placed = Placed(View(SIDE, (), (), (0.0, 0.0, 100.0, 100.0)), 100.0, 100.0, 1.0)
    balloons(sheet, placed, [Call(f"T{k}", x, y) for k, (x, y) in enumerate(points)],
             ("left", "above", "right", "below"), 10.0)  # fmt: skip
    assert sheet.faults() == ()


def test_a_sheet_tells_its_faults() -> None:
    sheet = Sheet("A4", "t")
    sheet.write(Text(30, 50, "one"))
    sheet.write(Text(31, 50, "two"))
    sheet.write(Text(195, 50, "far out"))
    assert sheet.faults() == ("text 'far out' leaves the sheet", "text 'one' covers text 'two'")


@given(st.text(max_size=40), st.floats(5, 60))
def test_shortened_texts_fit(text: str, width: float) -> None:
    assert text_width(shortened(text, width, 2.5), 2.5) <= width


# ---------------------------------------------------------------- PDF


def vectors(page: Any) -> list[list[tuple[float, float]]]:
    """Paths of a page in mm, from its content stream: the matrix in force times the operands."""
    operations = page.get_contents().operations
    matrix, stack = np.eye(3), []
    paths: list[list[tuple[float, float]]] = []
    for operands, operator in operations:
        values = [float(v) for v in operands if isinstance(v, int | float) or hasattr(v, "as_numeric")]
        if operator == b"q":
            stack.append(matrix)
        elif operator == b"Q":
            matrix = stack.pop()
        elif operator == b"cm":
            a, b, c, d, e, f = values
            matrix = np.array([[a, b, 0], [c, d, 0], [e, f, 1]]) @ matrix
        elif operator in (b"m", b"l"):
            x, y, _ = np.array([*values, 1.0]) @ matrix
            point = (x * 25.4 / 72, y * 25.4 / 72)
            if operator == b"m":
                paths.append([point])
            else:
                paths[-1].append(point)
    return paths


@pytest.fixture(scope="module")
def pdf(drawn: list[Sheet], tmp_path_factory: pytest.TempPathFactory) -> PdfReader:
    path = tmp_path_factory.mktemp("pdf") / "drawings.pdf"
    return PdfReader(BytesIO(write_pdf(drawn, path, "t").read_bytes()))


def test_pages_have_their_size_and_text_can_be_selected(pdf: PdfReader) -> None:
    sizes = [tuple(round(float(v) * 25.4 / 72, 2) for v in page.mediabox[2:]) for page in pdf.pages]
    assert sizes == [(420.0, 297.0)] * 13 + [(210.0, 297.0)]
    text = pdf.pages[4].extract_text()
    for words in ("cut list", "SHS 30x2", "527", "45° A", "ISO 2768-m", "5 / 14", "licensed engineer"):
        assert words in text, words
    assert "Ø" in pdf.pages[6].extract_text()
    assert pdf.trailer["/Root"]["/ViewerPreferences"]["/PrintScaling"] == "/None"


def test_a_plate_is_to_scale(pdf: PdfReader) -> None:
    """120 x 60 at 1:1, measured in the vectors of the page."""
    boxes = [np.ptp(np.array(path), axis=0) for path in vectors(pdf.pages[-1]) if len(path) == 5]
    assert any(np.allclose(size, (120.0, 60.0), atol=0.01) for size in boxes)


def test_templates_measure_what_they_say(tmp_path: Path) -> None:
    """Both bars are 100 mm in the vectors to a ten-thousandth, and the outline over all pages is 300 x 340."""
    made = write_templates(with_plates(LARGE), tmp_path, ())
    reader = PdfReader(made.files[0])
    columns, rows = tiles(300.0, WINDOW[2] - WINDOW[0]), tiles(340.0, WINDOW[3] - WINDOW[1])
    assert len(reader.pages) == len(columns) * len(rows) == 4, "turned a quarter it needs two pages less"
    seen: list[tuple[float, float]] = []
    for n, page in enumerate(reader.pages):
        found = vectors(page)
        lines = [np.abs(np.array(p[1]) - np.array(p[0])) for p in found if len(p) == 2]
        assert any(np.allclose(line, (BAR_MM, 0.0), atol=1e-4) for line in lines)
        assert any(np.allclose(line, (0.0, BAR_MM), atol=1e-4) for line in lines)
        shift = np.array([columns[n % 2] - WINDOW[0], rows[n // 2] - WINDOW[1]])
        seen += [tuple(np.array(p) + shift) for path in found for p in path]
    corners = [(0, 0), (300, 0), (300, 340), (0, 340)]
    for corner in corners:
        assert min(np.linalg.norm(np.array(p) - corner) for p in seen) < 0.01, corner


@given(st.floats(1, 2000), st.floats(50, 300))
def test_tiles_cover_a_plate_with_overlap(length: float, window: float) -> None:
    found = tiles(length, window)
    assert found[0] <= 0
    assert found[-1] + window >= length - 1e-9
    assert all(b - a == pytest.approx(window - OVERLAP_MM) for a, b in pairwise(found))


ROUND40 = TubeSection.model_validate({
    "name": "CHS 40x2", "kind": "round", "side": 40, "wall": 2, "outer_radius": 20, "area_mm2": 238.8,
    "inertia_mm4": 43220, "modulus_mm3": 2161,
})  # fmt: skip


@settings(deadline=None, max_examples=40)
@given(st.floats(0.55, 0.999), st.floats(0, 6.28), st.floats(0.55, 0.98), st.floats(0, 6.28))
def test_copes_fit_the_tube(a: float, p: float, b: float, q: float) -> None:
    """Along every line of the tube, what both prints leave of its longest length is what the two planes leave."""

    def out(sign: float, along: float, angle: float) -> tuple[float, float, float]:
        across = (1 - along**2) ** 0.5
        return sign * along, across * cos(angle), across * sin(angle)

    cuts = out(-1, a, p), out(1, b, q)
    tube = Member("t", "g", ROUND40, (0.0, 0.0, 0.0), (300.0, 0.0, 0.0), (0.0, 1.0, 0.0), *cuts)
    (mark,) = tube_marks(TubeFrame((tube,), (), S235))
    prints = {pattern.name[-1]: pattern for pattern in copes(mark)}
    turns = np.linspace(0, 2 * pi, 145)[:-1]
    ring = 20 * np.column_stack(
        [np.cos(turns), np.sin(turns)]
    )  # along y and z of the vehicle, clockwise from the start
    beyond = [-sign * (ring @ cut[1:]) / cut[0] for sign, cut in zip((-1, 1), cuts, strict=True)]
    length = 300 + beyond[0] + beyond[1]
    left = np.full(len(turns), mark.longest_mm)
    for number, way in (("1", -1), ("2", 1)):
        if number in prints:
            curve = np.array(prints[number].lines[0][0])[:-1]
            short = prints[number].size[1] - curve[:, 1]  # paper from left to right
            left -= short if way > 0 else np.roll(short[::-1], 1)
    # both start on side A; clockwise as seen along the tube from the more oblique cut, which may be either end
    ways = [length] if a < b - 0.005 else [length[::-1]] if b < a - 0.005 else [length, length[::-1]]
    fits = [np.abs(np.roll(row, k) - left).max() for row in ways for k in range(len(turns))]
    assert min(fits) < 20 * 2 * pi / 144 * 2  # angles of a saw are rounded to a tenth of a degree


def test_cope_by_hand() -> None:
    """45 degrees off square: the curve rises by the diameter, over a paper as long as the tube is round."""
    h = 0.5**0.5
    tube = Member(
        "t", "g", ROUND40, (0.0, 0.0, 0.0), (300.0, 0.0, 0.0), (0.0, 0.0, 1.0), (-h, 0.0, h), (1.0, 0.0, 0.0)
    )
    (mark,) = tube_marks(TubeFrame((tube,), (), S235))
    (pattern,) = copes(mark)
    assert pattern.size == pytest.approx((40 * pi, 25 + 40))
    curve = dict(pattern.lines[0][0])
    assert curve[0.0] == pytest.approx(65)  # its longest point on line A
    assert min(curve.values()) == pytest.approx(25)
    assert [label for _, _, label in pattern.labels] == ["A", "D", "C", "B"]
    assert copes(replace(mark, section=SHS40)) == ()
    made = replace(STUDY.framed, frame=TubeFrame((tube,), (), S235)) if STUDY.framed else None
    (sheet,) = template_sheets(replace(STUDY, framed=made))
    assert sheet.faults() == ()


def test_template_sheets_are_clear() -> None:
    for sheet in template_sheets(with_plates(LARGE, *FRAME.plates)):
        assert sheet.faults() == ()


def test_nothing_to_draw_is_said(tmp_path: Path) -> None:
    bare = replace(STUDY, layout=None, framed=None)
    assert write_drawings(bare, tmp_path, ()).notes == ("drawings.pdf left out: nothing was placed",)
    assert write_templates(bare, tmp_path, ()).notes == (
        "templates.pdf left out: no plate is drilled and no round tube is cut oblique",
    )


def test_the_same_bytes_twice(tmp_path: Path, drawn: list[Sheet]) -> None:
    one, two = (
        write_pdf(s, tmp_path / f"{k}.pdf", "t").read_bytes() for k, s in enumerate((drawn, sheets(study())))
    )
    assert one == two


@given(st.floats(300, 6000), st.floats(200, 2500), st.floats(200, 2500), st.sampled_from(["first", "third"]))
def test_views_leave_the_title_block_free(long: float, wide: float, high: float, projection: Any) -> None:
    def blank(look: Look, w: float, h: float) -> View:
        return View(look, (), (), (0.0, 0.0, w, h))

    block, room = (230.0, 10.0, 410.0, 52.0), (38.0, 26.0, 396.0, 263.0)
    views = (blank(SIDE, long, high), blank(FRONT, wide, high), blank(TOP, long, wide))
    for placed in clear_of(block, views, room, (20.0, 20.0), projection, 18.0):
        assert not overlap(placed.box, block)
        assert inside(placed.box, room)


def test_a_long_note_is_broken_between_words_and_nothing_is_lost():
    text = (
        "2 pieces: bracket of the coolant pump strip 1 spacer 1, bracket of the coolant pump strip 2 spacer 1"
    )
    lines = broken(text, 60.0, 2.5)
    assert len(lines) > 1
    assert " ".join(lines) == text
    assert all(text_width(line, 2.5) <= 60.0 for line in lines)
    (word,) = broken("incomprehensibilities", 10.0, 2.5)
    assert word.endswith("…")
