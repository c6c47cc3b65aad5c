"""What is welded together on a sheet of its own; brackets; what shows; the utilisation picture; the title block."""

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from matplotlib.image import imread

from packlayout.export.annotate import width_px
from packlayout.export.drawing.assemblies import assemblies
from packlayout.export.drawing.frame_of_sheet import fitted, heading_of
from packlayout.export.drawing.sheet import Text, text_width
from packlayout.export.drawing.sight import Sight
from packlayout.export.drawing.views import ROUND, TOP
from packlayout.export.drawing.weld_sheets import kinds_of, numbers
from packlayout.export.drawings import sheets
from packlayout.export.panel_sheet import panel_frame, placed_figures
from packlayout.export.pictures import write_pictures
from packlayout.export.report_brackets import brackets
from packlayout.export.tree import Leaf
from packlayout.export.use_picture import USE, tint_of, use_panels
from packlayout.export.welds import welds
from packlayout.frame.tubes import Plate, TubeFrame
from packlayout.inputs.case import read_case
from packlayout.model.brief import Documents
from packlayout.model.geometry import Pose
from packlayout.model.stock import CuttingStock
from packlayout.study import Study
from tests.demo import ROOT
from tests.studies import S235, frame, study
from tests.test_export_structure import designed, solved_study

STUDY = study()
# a strip of 200 x 30 x 5 that lies level, and an end plate of 30 x 40 x 6 that it runs up to, square to x
STRIP = Plate("bracket charger strip 1", "bracket charger", Pose((1000.0, 0.0, 500.0)), (200.0, 30.0, 5.0),
              ((20.0, 15.0, 9.0),))  # fmt: skip
UPRIGHT = ((0.0, 0.0, 1.0), (1.0, 0.0, 0.0), (0.0, 1.0, 0.0))
END = Plate("bracket charger strip 1 end plate", "bracket charger", Pose((1200.0, 0.0, 490.0), UPRIGHT), (30.0, 40.0, 6.0),
            ((15.0, 30.0, 9.0),))  # fmt: skip
FRAME = TubeFrame(frame().members, (*frame().plates, STRIP, END), S235)


def with_brackets() -> Study:
    assert STUDY.framed is not None
    return replace(STUDY, framed=replace(STUDY.framed, frame=FRAME))


def with_documents(**said: str) -> Study:
    brief = STUDY.case.brief.model_copy(update={"documents": Documents.model_validate(said)})
    return replace(STUDY, case=replace(STUDY.case, brief=brief))


# ---- by hand


def test_a_plate_on_edge_is_welded_on_both_sides() -> None:
    """The strip ends on the face of its end plate: 30 mm wide, a seam above and one below."""
    (seam,) = [w for w in welds(FRAME, STUDY.case) if w.stage == "brackets"]
    assert (seam.piece, seam.onto, seam.kind) == (STRIP.name, END.name, "plate")
    assert seam.length_mm == pytest.approx(60.0)
    assert seam.at == pytest.approx((1200.0, 15.0, 502.5))


def test_two_rings_and_a_bracket_are_three_things() -> None:
    found = welds(FRAME, STUDY.case)
    frames, others = assemblies(FRAME, found)
    assert [a.title for a in frames] == ["Frame 1", "Frame 2"]
    assert [a.title for a in others] == ["bracket charger"]
    assert {m.group for m in frames[0].frame.members} == {"cradle 1", "leg front left", "leg front right"}
    assert sum(len(a.welds) for a in (*frames, *others)) == len(found)
    pieces = [p.name for a in (*frames, *others) for p in (*a.frame.members, *a.frame.plates)]
    assert sorted(pieces) == sorted(p.name for p in (*FRAME.members, *FRAME.plates))


def test_numbers_run_together() -> None:
    assert numbers([1, 2, 3, 5, 7, 8]) == "1 to 3, 5, 7, 8"
    assert numbers([]) == ""


def test_the_kinds_hold_every_seam_once() -> None:
    found = welds(FRAME, STUDY.case)
    orders = sorted(w.order for kind in kinds_of(found) for w in kind.welds)
    assert orders == list(range(1, len(found) + 1))
    assert {k.joint for k in kinds_of(found) if not k.round_} == {"plate"}


def test_bracket_sheets_are_clear() -> None:
    made = {sheet.title: sheet for sheet in sheets(with_brackets())}
    for title in ("Brackets", "Brackets, places", "Frame 1, welds", "Plate P2, 8 mm"):
        assert title in made or title.startswith("Plate"), title
    for sheet in made.values():
        assert sheet.faults() == (), sheet.title
    said = [m.text for m in made["Brackets"].marks if isinstance(m, Text)]
    assert any(text.startswith("bracket charger, 1:") for text in said)


def test_what_stands_behind_does_not_show() -> None:
    near = Plate("near", "g", Pose((0.0, 0.0, 100.0)), (100.0, 100.0, 5.0))
    far = Plate("far", "g", Pose((0.0, 0.0, 0.0)), (300.0, 100.0, 5.0))
    sight = Sight([Leaf("near", "frame plate", near), Leaf("far", "frame plate", far)], STUDY.case, TOP)
    assert sight.free((50.0, 50.0, 105.0))
    assert not sight.free((50.0, 50.0, 5.0))
    assert sight.best([(50.0, 50.0, 5.0), (250.0, 50.0, 5.0)]) == (250.0, 50.0, 5.0)
    assert sight.nearness((0.0, 0.0, 7.0)) == pytest.approx(7.0)
    assert Sight([Leaf("near", "frame plate", near)], STUDY.case, ROUND).free((-1.0, -1.0, 500.0))


def test_title_block_by_hand(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.delenv("SOURCE_DATE_EPOCH", raising=False)
    assert heading_of(STUDY).issued == ""
    monkeypatch.setenv("SOURCE_DATE_EPOCH", "1767225600")
    assert heading_of(STUDY).issued == "2026-01-01"
    own = heading_of(
        with_documents(
            issued="2026-03-09", owner="Marsh & Fen Workshop", revision="B", projection="third angle"
        )
    )
    assert (own.issued, own.owner, own.revision, own.projection) == (
        "2026-03-09",
        "Marsh & Fen Workshop",
        "B",
        "third",
    )


def test_use_panels_by_hand() -> None:
    made = use_panels(solved_study())
    assert made is not None
    done = designed()
    worst = max(u.utilisation for u in done.members)
    assert made.panels[0].title == f"All load cases: {worst:.2f}"
    assert len(made.panels) == 1 + len(done.cases)
    assert [p.title.rsplit(":", 1)[0] for p in made.panels[1:]] == list(done.cases)
    frame_ = panel_frame(made)
    for panel in made.panels:
        placed = placed_figures(panel.figures, frame_)
        assert placed[0][0] == panel.title.rsplit(" ", 1)[1]
        boxes = [(x - width_px(t) / 2, y - 12, x + width_px(t) / 2, y + 12) for t, x, y in placed]
        for k, a in enumerate(boxes):
            assert not any(
                a[0] < b[2] and b[0] < a[2] and a[1] < b[3] and b[1] < a[3] for b in boxes[k + 1 :]
            )
    assert tint_of(1.2) != tint_of(0.9) != tint_of(0.1)
    assert use_panels(STUDY) is None


@pytest.mark.slow
def test_the_utilisation_is_drawn(tmp_path: Path) -> None:
    found = write_pictures(solved_study(), tmp_path, ())
    if not found.files:
        pytest.skip(found.notes[0])
    assert found.files[-1].name == USE
    image = np.asarray(imread(tmp_path / USE))[:, :, :3]
    assert image.shape[1] == 1600
    assert (image < 0.9).any(axis=2).mean() > 0.02


# ---- reference


def test_the_shop_states_its_stock() -> None:
    case = read_case(ROOT / "bays" / "quillon-estate" / "piano-tuner.yaml")
    assert case.tables.stock == CuttingStock.model_validate({"source": "common practice, no source"})
    assert CuttingStock.model_validate({"bar": 7500, "bars": {"SHS 30x2": "6 m"}}).bar_of("SHS 30x2") == 6000


# ---- invariant


@given(st.text(max_size=60), st.floats(5, 100))
def test_fitted_words_fit(text: str, width: float) -> None:
    words, height = fitted(text, width, 3.0)
    assert text_width(words, height) <= width + 1e-6
    assert 1.8 <= height <= 3.0


# ---- refusal


@pytest.mark.parametrize("issued", ["9 March 2026", "2026-13-01", "2026-3-9"])
def test_a_date_that_is_none(issued: str) -> None:
    with pytest.raises(ValueError, match="issued"):
        Documents.model_validate({"issued": issued})


@pytest.mark.parametrize("field", ["bar", "saw_kerf"])
def test_stock_that_cannot_be(field: str) -> None:
    with pytest.raises(ValueError, match="out of range"):
        CuttingStock.model_validate({field: -1})


def test_no_brackets_is_said() -> None:
    said = [getattr(block, "text", "") for block in brackets(replace(designed(), brackets=()))]
    assert any(text.startswith("There are none") for text in said)
