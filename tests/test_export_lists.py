"""Cut list, stock list, weld list and bill: what a saw, a welder and a buyer go by."""

import csv
import io
from dataclasses import replace
from math import cos, pi, radians
from pathlib import Path
from typing import Any

import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from packlayout.export.bill import bill
from packlayout.export.bolts import bolt_rows, torque_of
from packlayout.export.cutting import nested_plates, stock_bars
from packlayout.export.lists import write_lists
from packlayout.export.piece_marks import PlateMark, SawCut, TubeMark, plate_marks, saw_cuts, tube_marks
from packlayout.export.solids import solid, volume
from packlayout.export.tree import Leaf
from packlayout.export.welds import open_ends, seam_mm, welds
from packlayout.frame.tubes import Member, TubeFrame
from packlayout.model.brief import Tables
from packlayout.model.geometry import Vec
from packlayout.model.prices import PriceTable
from packlayout.model.stock import CuttingStock, Thread
from packlayout.price import price
from packlayout.stages import bill_of
from packlayout.study import Study
from packlayout.units import Measured
from tests.studies import S235, SHS30, SHS40, frame, study

STUDY = study()
FRAME = frame()
STOCK = CuttingStock()
KERF_MM, TRIM_MM = STOCK.saw_kerf_mm, STOCK.trim_mm
PRICES = PriceTable.model_validate({
    "source": "invented for the tests", "currency": "EUR", "hour": "60 +/- 3", "metal": "4 +/- 0.5", "hose": 9,
    "consumables": 10, "bolts": [{"thread": "M10", "price": "1.5 +/- 0.1"}],
    "parts": [{"part": "marsh-module-12", "price": "500 +/- 20"}], "cables": [],
    "tasks": [{"name": "strip", "each": "job", "hours": "10 +/- 2"},
              {"name": "saw a tube", "each": "member", "hours": 0.5},
              {"name": "lay a cable", "each": "cable run", "hours": 1}],
    "fixed": {"inspection": 200},
})  # fmt: skip


def rows_of(path: Path) -> list[dict[str, str]]:
    return list(csv.DictReader(io.StringIO(path.read_bytes().decode())))


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> dict[str, list[dict[str, str]]]:
    folder = tmp_path_factory.mktemp("lists")
    return {path.name: rows_of(path) for path in write_lists(STUDY, folder, ()).files}


def tube(length: float, start_cut: Vec, end_cut: Vec) -> Member:
    return Member("t", "g", SHS30, (0.0, 0.0, 0.0), (length, 0.0, 0.0), (0.0, 0.0, 1.0), start_cut, end_cut)


H = 0.5**0.5
SQUARE = SawCut(0.0, 0.0)


@pytest.mark.parametrize(
    ("start", "end", "cuts"),
    [
        ((-1.0, 0.0, 0.0), (1.0, 0.0, 0.0), (SQUARE, SQUARE)),
        # both cuts lean the same way up: the longest points are on the lower side at both ends
        ((-H, 0.0, H), (H, 0.0, H), (SawCut(45.0, 0.0), SawCut(45.0, 0.0))),
        ((-H, 0.0, H), (H, 0.0, -H), (SawCut(45.0, 0.0), SawCut(45.0, 180.0))),
        ((-1.0, 0.0, 0.0), (H, 0.0, H), (SawCut(45.0, 0.0), SQUARE)),
        # out of the plane: a left and a right one are not the same tube
        ((-H, 0.0, H), (H, H, 0.0), (SawCut(45.0, 0.0), SawCut(45.0, 270.0))),
        ((-H, 0.0, H), (H, -H, 0.0), (SawCut(45.0, 0.0), SawCut(45.0, 90.0))),
    ],
)
def test_cuts_by_hand(start: Vec, end: Vec, cuts: tuple[SawCut, SawCut]) -> None:
    assert saw_cuts(tube(100.0, start, end)) == cuts


@given(st.floats(0.2, 0.9), st.floats(0, 6.28), st.floats(0.2, 0.9), st.floats(0, 6.28))
def test_a_tube_turned_end_for_end_is_the_same(a: float, p: float, b: float, q: float) -> None:
    def out(sign: float, along: float, angle: float) -> Vec:
        from math import sin, sqrt

        across = sqrt(1 - along**2)
        return sign * along, across * cos(angle), across * sin(angle)

    one = tube(300.0, out(-1, a, p), out(1, b, q))
    other = replace(one, start=one.end, end=one.start, start_cut=one.end_cut, end_cut=one.start_cut)
    for first, second in zip(saw_cuts(one), saw_cuts(other), strict=True):
        assert first.off_square_deg == pytest.approx(second.off_square_deg, abs=0.11)
        assert min(abs(first.long_deg - second.long_deg), 360 - abs(first.long_deg - second.long_deg)) < 0.3


def test_cut_list_by_hand(made: dict[str, list[dict[str, str]]]) -> None:
    rows = {row["pieces"]: row for row in made["cut-list.csv"]}
    row = rows["cradle 1 left, cradle 1 right"]
    assert (row["length_mm"], row["centre_length_mm"], row["quantity"]) == ("527.0", "497.0", "2")
    assert [row[k] for k in ("cut_1_deg", "cut_1_long_side", "cut_2_deg", "cut_2_long_side")] == [
        "45.0",
        "A",
        "45.0",
        "A",
    ]
    assert [rows["cradle 1 post"][k] for k in ("cut_1_deg", "cut_1_long_side")] == ["0.0", "-"]
    assert sum(int(r["quantity"]) for r in rows.values()) == len(FRAME.members)


def test_lengths_weigh_what_the_solids_weigh(made: dict[str, list[dict[str, str]]]) -> None:
    """Length along the centre line, section and density against the exact solids, to half a per cent."""
    area = {s.name: s.area_mm2 for s in (SHS30, SHS40)}
    listed = sum(
        int(r["quantity"]) * float(r["centre_length_mm"]) * area[r["section"]] for r in made["cut-list.csv"]
    )
    solids = sum(volume(solid(Leaf(m.name, "", m), STUDY.case)) for m in FRAME.members)
    assert listed == pytest.approx(solids, rel=0.005)
    masses = sum(int(r["quantity"]) * float(r["mass_each_kg"]) for r in made["cut-list.csv"])
    assert masses == pytest.approx(solids * 7.85e-6, rel=0.005)


def test_stock_list_says_what_is_wasted(made: dict[str, list[dict[str, str]]]) -> None:
    rows = [r for r in made["stock-list.csv"] if r["section"] == "SHS 30x2"]
    assert [r["bar"] for r in rows] == ["1", "all"]
    used = sum(m.longest_mm for m in FRAME.members if m.section is SHS30)
    assert float(rows[0]["used_mm"]) == pytest.approx(used, abs=0.1)
    pieces = sum(m.section is SHS30 for m in FRAME.members)
    assert float(rows[0]["left_over_mm"]) == pytest.approx(6000 - TRIM_MM - used - pieces * KERF_MM, abs=0.1)
    assert rows[1]["remark"] == f"{100 * (1 - used / 6000):.1f} % of what is bought is not used"


def marks(lengths: list[tuple[float, int]]) -> list[TubeMark]:
    return [
        TubeMark(
            f"T{k}", SHS30, length, length, (SQUARE, SQUARE), (tube(length, (-1, 0, 0), (1, 0, 0)),) * count
        )
        for k, (length, count) in enumerate(lengths)
    ]


def test_stock_bars_by_hand() -> None:
    """Six of 2900 and five of 1000 need four bars; the last one keeps at least what a bar of short ones leaves."""
    bars = stock_bars(marks([(2900.0, 6), (1000.0, 5)]), STOCK)
    assert len(bars) == 4
    assert bars[3].waste_mm >= 6000 - TRIM_MM - 5 * 1003


def test_a_piece_longer_than_the_stock_is_ordered_to_length() -> None:
    (bar,) = stock_bars(marks([(7200.0, 1)]), STOCK)
    assert (bar.stock_mm, bar.waste_mm) == (7200.0, 0.0)


@settings(max_examples=15, deadline=None)
@given(st.lists(st.tuples(st.floats(30, 5900), st.integers(1, 6)), min_size=1, max_size=6))
def test_every_piece_is_cut_and_no_bar_is_too_short(lengths: list[tuple[float, int]]) -> None:
    bars = stock_bars(marks(lengths), STOCK)
    for k, (_, count) in enumerate(lengths):
        assert sum(n for bar in bars for mark, n, _ in bar.cuts if mark == f"T{k}") == count
    for bar in bars:
        assert sum(n * (length + KERF_MM) for _, n, length in bar.cuts) + TRIM_MM <= bar.stock_mm + 1e-6
        assert bar.waste_mm >= -1e-6


@settings(max_examples=8, deadline=None)
@given(st.lists(st.tuples(st.floats(20, 600), st.floats(20, 400), st.integers(1, 3)), min_size=1, max_size=5))
def test_nested_plates_lie_apart_on_the_sheet(sizes: list[tuple[float, float, int]]) -> None:
    plates = [PlateMark(f"P{k}", (x, y, 8.0), (), (None,) * n) for k, (x, y, n) in enumerate(sizes)]  # type: ignore[arg-type]
    size = {p.mark: p.size for p in plates}
    sheets = nested_plates(plates, STOCK)
    assert sum(len(sheet) for sheet in sheets) == sum(n for _, _, n in sizes)
    for sheet in sheets:
        boxes = [
            shapely.box(n.x, n.y, n.x + size[n.mark][n.turned], n.y + size[n.mark][not n.turned])
            for n in sheet
        ]
        for k, a in enumerate(boxes):
            assert shapely.box(10, 10, 1990, 990).covers(a)
            assert all(a.distance(b) >= 10 - 1e-6 for b in boxes[k + 1 :])


def test_seams_by_hand() -> None:
    """A square cut: the outline. Mitred at 45 degrees, two sides are root two times as long, and so is half the bow."""
    square = seam_mm(tube(100.0, (-1, 0, 0), (1, 0, 0)), (1.0, 0.0, 0.0))
    assert square == pytest.approx(4 * 22 + 2 * pi * 4, rel=0.003)
    mitred = seam_mm(tube(100.0, (-1, 0, 0), (H, 0, H)), (H, 0.0, H))
    assert 2 * 22 * (1 + 1 / cos(radians(45))) < mitred < square * 2**0.5


def test_welds_by_hand() -> None:
    """Two mitred rings have four seams each; a post, two struts on ring and plate."""
    found = welds(FRAME, STUDY.case)
    kinds = [w.kind for w in found]
    assert kinds.count("mitre") == 8
    assert {w.onto for w in found if w.piece == "leg front left strut"} == {
        "cradle 1 left",
        "leg front left foot",
    }
    assert [w.order for w in found] == list(range(1, len(found) + 1))
    assert {w.throat_mm for w in found if w.piece.startswith("cradle")} == {3.0}
    strut = next(w for w in found if w.piece.startswith("leg"))
    assert strut.throat_mm == pytest.approx(1.2 * 3.0)  # 1.2 walls
    assert [e[0] for e in open_ends(FRAME)] == ["cradle 1 post"]
    # each end of each tube is welded once or open; a mitre counts for two ends
    assert len(found) + kinds.count("mitre") + len(open_ends(FRAME)) == 2 * len(FRAME.members)


def test_the_next_weld_is_far_from_the_last() -> None:
    rails = [w for w in welds(FRAME, STUDY.case) if w.stage == "cradle rails"]
    first, second = rails[0].at, rails[1].at
    assert max(abs(a - b) for a, b in zip(first, second, strict=True)) > 2000


def priced_study() -> Study:
    """The made study with prices."""
    case = replace(STUDY.case, tables=Tables(prices=PRICES))
    assert STUDY.layout is not None
    return replace(STUDY, case=case, priced=price(case, STUDY.layout, bill_of(STUDY.framed, STUDY.wiring)))


def test_bill_by_hand() -> None:
    made = priced_study()
    priced = bill(made)
    rows = {row.what: row for row in priced.rows}
    module = rows["Marsh module 12"]
    assert module.price is not None
    assert (module.quantity, module.price.value, module.price.tolerance) == (10, 5000.0, 200.0)
    strip = rows["strip"].price
    assert strip is not None
    assert strip.value == 600.0
    assert strip.tolerance == pytest.approx(((2 * 60) ** 2 + (10 * 3) ** 2) ** 0.5)
    work = rows["saw a tube"]
    assert work.price is not None
    assert (work.quantity, work.price.value) == (5.5, pytest.approx(11 * 0.5 * 60))
    metal = sum(r.price.value for r in priced.rows if r.sort in ("tube", "plate") and r.price)
    assert metal == pytest.approx(4 * FRAME.mass_kg, rel=1e-3)
    consumables = rows["consumables, 10 % of metal and welding"].price
    assert consumables is not None
    assert consumables.value == pytest.approx(0.1 * (metal + work.price.value))
    assert priced.total is not None
    assert made.priced is not None
    assert priced.total == made.priced.total
    assert priced.total.value == pytest.approx(sum(r.price.value for r in priced.rows if r.price), rel=1e-6)
    assert "price of part brook-pump is not in shared/prices.yaml" in priced.remarks
    assert priced.remarks[-1] == "7 lines have no price and no part in the total"


def test_bolts_by_hand() -> None:
    """Two foot plates with two holes of 11 mm; the thread has no figures, so neither length nor mass is told."""
    (row,) = [r for r in bill(priced_study()).rows if r.sort == "bolt"]
    assert (row.quantity, row.mass, row.price) == (4, None, Measured(6.0, 0.4))
    assert row.what == "bolt M10 length to suit, class 8.8, with nut and washers"


def test_torques_by_hand() -> None:
    """M10 of class 8.8: 0.75 x 580 MPa x 58 mm2 is 25.2 kN, times 0.2 x 10 mm is 50 N m."""
    known = Thread(
        thread="M10", clearance_hole_mm=11, washer_diameter_mm=20, diameter_mm=10, stress_area_mm2=58
    )
    case = replace(STUDY.case, threads={"M10": known})
    torque = torque_of(case, "M10")
    assert torque is not None
    assert torque.preload_kn == pytest.approx(25.23)
    assert torque.torque_nm == pytest.approx(50.46)
    (row,) = bolt_rows(replace(STUDY, case=case))
    assert (row[0], row[5], row[7]) == ("M10", "4", "50")
    assert torque_of(STUDY.case, "M10") is None


def test_no_prices_is_said(tmp_path: Path) -> None:
    made = write_lists(STUDY, tmp_path, ())
    rows = rows_of(tmp_path / "bill-of-materials.csv")
    assert all(row["price_money"] == "" for row in rows)
    assert any("no prices: shared/prices.yaml is not there" in note for note in made.notes)


def test_no_frame_is_said(tmp_path: Path) -> None:
    made = write_lists(replace(STUDY, framed=None), tmp_path, ())
    assert [p.name for p in made.files] == ["bill-of-materials.csv"]
    assert (
        "cut-list.csv, stock-list.csv, weld-list.csv and bolt-list.csv left out: there is no frame"
        in made.notes
    )


def test_a_name_is_never_a_formula(tmp_path: Path) -> None:
    bad = replace(FRAME.members[0], name="=cmd()")
    framed = replace(STUDY.framed, frame=TubeFrame((bad,), (), S235)) if STUDY.framed else None
    write_lists(replace(STUDY, framed=framed), tmp_path, ())
    assert rows_of(tmp_path / "cut-list.csv")[0]["pieces"] == "'=cmd()"


def test_alike_plates_bear_one_mark() -> None:
    (mark,) = plate_marks(FRAME)
    assert (mark.mark, len(mark.plates), mark.size) == ("P1", 2, (120.0, 60.0, 8.0))
    assert tube_marks(FRAME)[0].mark == "T1"


def test_the_same_bytes_twice(tmp_path: Path, made: Any) -> None:
    for name in ("a", "b"):
        (tmp_path / name).mkdir()
        write_lists(study(), tmp_path / name, ())
    for path in (tmp_path / "a").iterdir():
        assert path.read_bytes() == (tmp_path / "b" / path.name).read_bytes()
