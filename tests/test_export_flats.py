"""Plates as DXF, read back by a plain reader of group codes and by ezdxf; parts as STEP, read back."""

import os
import subprocess
import sys
from dataclasses import replace
from math import pi
from pathlib import Path

import ezdxf
import numpy as np
import pytest
import shapely

from packlayout.export.flats import Flat, flat, landings, write_flats
from packlayout.export.piece_marks import plate_marks, tube_marks
from packlayout.export.solids import solid, volume
from packlayout.export.step import write_parts
from packlayout.export.tree import Leaf
from packlayout.frame.tubes import Plate, TubeFrame
from packlayout.model.geometry import Pose
from packlayout.study import Study
from tests.demo import ROOT
from tests.step_reading import read_step
from tests.studies import S235, frame, study

STUDY = study()
FRAME = frame()
ODD = Plate("foot plate odd", "leg front left", Pose((0.0, 0.0, 0.0)), (126.5, 42.25, 6.0),
            ((49.13, 21.07, 11.0), (109.4, 20.9, 13.5), (12.0, 30.0, 6.6)))  # fmt: skip


def with_frame(*plates: Plate) -> Study:
    assert STUDY.framed is not None
    return replace(
        STUDY, framed=replace(STUDY.framed, frame=TubeFrame(FRAME.members, (*FRAME.plates, *plates), S235))
    )


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    made = tmp_path_factory.mktemp("flats")
    write_flats(with_frame(ODD), made, ())
    return made / "plates"


def groups(path: Path) -> list[tuple[int, str]]:
    """A DXF file as its pairs of group code and value, read by nothing but its definition."""
    lines = path.read_text(encoding="cp1252").splitlines()
    return [(int(code), value) for code, value in zip(lines[::2], lines[1::2], strict=True)]


def entities(path: Path) -> list[list[tuple[int, str]]]:
    found: list[list[tuple[int, str]]] = []
    inside = False
    for code, value in groups(path):
        if (code, value) == (2, "ENTITIES"):
            inside = True
        elif (code, value) == (0, "ENDSEC"):
            inside = False
        elif inside and code == 0:
            found.append([(code, value)])
        elif inside and found:
            found[-1].append((code, value))
    return found


def value(entity: list[tuple[int, str]], code: int) -> str:
    return next(v for c, v in entity if c == code)


def test_units_and_layers(folder: Path) -> None:
    pairs = groups(folder / "P1.dxf")
    assert pairs[pairs.index((9, "$INSUNITS")) + 1] == (70, "4")
    names = {layer.dxf.name for layer in ezdxf.readfile(folder / "P1.dxf").layers}
    assert {"CUT", "BEND", "ETCH", "LABEL"} <= names


@pytest.mark.parametrize("number", [1, 2])
def test_the_area_is_that_of_the_solid_and_holes_are_where_they_are(folder: Path, number: int) -> None:
    mark = plate_marks(with_frame(ODD).framed.frame)[number - 1]  # type: ignore[union-attr,arg-type]
    plate = mark.plates[0]
    cut = [e for e in entities(folder / f"P{number}.dxf") if value(e, 8) == "CUT"]
    outline = [e for e in cut if value(e, 0) == "LWPOLYLINE"]
    circles = [e for e in cut if value(e, 0) == "CIRCLE"]
    assert len(outline) == 1
    assert value(outline[0], 70) == "1"  # closed
    xs, ys = ([float(v) for c, v in outline[0] if c == code] for code in (10, 20))
    area = shapely.Polygon(list(zip(xs, ys, strict=True))).area - sum(
        pi * float(value(c, 40)) ** 2 for c in circles
    )
    exact = volume(solid(Leaf(plate.name, "", plate), STUDY.case)) / plate.size[2]
    assert area == pytest.approx(exact, rel=0.001)
    holes = sorted((float(value(c, 10)), float(value(c, 20)), 2 * float(value(c, 40))) for c in circles)
    assert np.allclose(holes, sorted(plate.holes), atol=0.01)
    assert len(cut) == 1 + len(plate.holes)


def test_label_says_what_it_is(folder: Path) -> None:
    said = [value(e, 1) for e in entities(folder / "P1.dxf") if value(e, 0) == "TEXT"]
    assert said[:2] == ["P1   quantity 2", "8 mm   S235"]
    assert "no allowance" in said[3]
    assert {value(e, 8) for e in entities(folder / "P1.dxf") if value(e, 0) == "TEXT"} == {"LABEL"}


def test_where_the_tube_stands_is_etched(folder: Path) -> None:
    """A level cut of the 45-degree-and-more strut is longer than its side, and lies on the middle of the plate."""
    rings = landings(plate_marks(FRAME)[0], FRAME, STUDY.case)
    # left and right struts lean opposite ways, so their footprints differ and nothing common can be etched
    assert rings == ()
    left = TubeFrame(FRAME.members, FRAME.plates[:1], S235)
    (ring,) = landings(plate_marks(left)[0], left, STUDY.case)
    assert np.allclose(np.mean(ring, axis=0), (60.0, 30.0), atol=0.01)
    leg = next(m for m in FRAME.members if m.name == "leg front left strut")
    assert shapely.Polygon(ring).area == pytest.approx(40 * 40 / abs(leg.axis[2]), rel=1e-4)
    assert not [e for e in entities(folder / "P1.dxf") if value(e, 8) == "ETCH"]


def test_round_pieces_are_bulges() -> None:
    """A quarter circle is a bulge of tan(90/4 degrees); traced from a solid with rounded corners."""
    from cadquery import Workplane

    from packlayout.export import flats

    shape = Workplane().box(80, 50, 6, centered=False).edges("|Z").fillet(10).val().wrapped
    plate = Plate("p", "g", Pose((0.0, 0.0, 0.0)), (80.0, 50.0, 6.0))
    kept = flats.solid
    try:
        flats.solid = lambda leaf, case: shape  # type: ignore[assignment]
        found: Flat = flat(plate, STUDY.case)
    finally:
        flats.solid = kept
    bulges = sorted(round(abs(b), 6) for _, _, b in found.outlines[0].corners)
    assert bulges == [0.0] * 4 + [round(np.tan(pi / 8), 6)] * 4
    document = ezdxf.new()
    line = document.modelspace().add_lwpolyline(found.outlines[0].corners, format="xyb", close=True)
    from ezdxf import path

    points = [(v.x, v.y) for v in path.make_path(line).flattening(0.001)]
    assert shapely.Polygon(points).area == pytest.approx(80 * 50 - (4 - pi) * 100, rel=1e-4)


def test_sheets_hold_every_plate(folder: Path) -> None:
    circles = [e for e in entities(folder / "sheet-8mm-1.dxf") if value(e, 0) == "CIRCLE"]
    assert len(circles) == 4
    border = next(e for e in entities(folder / "sheet-8mm-1.dxf") if value(e, 8) == "SHEET")
    xs, ys = ([float(v) for c, v in border if c == code] for code in (10, 20))
    assert (max(xs), max(ys)) == (2000.0, 1000.0)
    for e in circles:
        assert 0 < float(value(e, 10)) < 2000
        assert 0 < float(value(e, 20)) < 1000
    assert (folder / "sheet-6mm-1.dxf").is_file()


def test_files_are_sound_and_the_same_twice(folder: Path, tmp_path: Path) -> None:
    write_flats(with_frame(ODD), tmp_path, ())
    for path in sorted(folder.glob("*.dxf")):
        assert not ezdxf.readfile(path).audit().errors
        assert path.read_bytes() == (tmp_path / "plates" / path.name).read_bytes()


def test_the_same_bytes_whatever_the_order_of_sets(tmp_path: Path) -> None:
    """Two runs of the interpreter, which put the same names into sets in another order each."""
    code = (
        "import sys\n"
        "from pathlib import Path\n"
        "from packlayout.export.flats import write_flats\n"
        "from tests.studies import study\n"
        "write_flats(study(), Path(sys.argv[1]), ())\n"
    )
    made: list[dict[str, bytes]] = []
    for seed in ("1", "4"):
        folder = tmp_path / seed
        folder.mkdir()
        subprocess.run([sys.executable, "-c", code, str(folder)], cwd=ROOT, check=True,
                       env={**os.environ, "PYTHONHASHSEED": seed})  # fmt: skip
        made.append({path.name: path.read_bytes() for path in (folder / "plates").iterdir()})
    assert made[0] == made[1]


def test_no_plates_is_said(tmp_path: Path) -> None:
    assert write_flats(replace(STUDY, framed=None), tmp_path, ()).notes == (
        "plates/ left out: there are no plates",
    )


def test_parts_as_step(tmp_path: Path) -> None:
    """One file for each different thing; read back it has its volume."""
    made = write_parts(STUDY, tmp_path, ())
    names = [path.stem for path in made.files]
    assert names[: len(tube_marks(FRAME))] == [m.mark for m in tube_marks(FRAME)]
    assert {"P1", "marsh-module-12", "fen-motor-80"} <= set(names)
    assert len(names) == len(set(names)) == len(tube_marks(FRAME)) + 1 + 8
    mark = tube_marks(FRAME)[0]
    (found,) = [node.volume for node in read_step(tmp_path / "parts" / f"{mark.mark}.step") if node.volume]
    exact = volume(solid(Leaf("", "", mark.members[0]), STUDY.case))
    assert found == pytest.approx(exact, rel=1e-3)


def test_a_plate_larger_than_the_sheet_is_said(tmp_path: Path) -> None:
    made = write_flats(with_frame(replace(ODD, size=(2400.0, 300.0, 6.0))), tmp_path, ())
    assert made.notes == ("on no stock sheet, since larger than 2000 x 1000 mm: P2",)
    assert (tmp_path / "plates" / "P2.dxf").is_file()
