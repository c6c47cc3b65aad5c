"""The demo parts and reference tables hold together and are what their sources say."""

from math import pi
from pathlib import Path

import numpy as np
import pytest
import trimesh
from pydantic import ValidationError

from packlayout.model.catalogue import KINDS, PART, Conventions, DesignCode
from tests.demo import BRIEFS, CODES, PARTS, ROOT, TABLES, VEHICLES, each_part, held, part, plain, run, table

# ---------------------------------------------------------------- by hand


def test_the_catalogue_is_wide_enough() -> None:
    kinds = {part(path.stem).kind for path in PARTS}
    assert 18 <= len(PARTS) <= 25
    assert kinds == set(KINDS)


# ---------------------------------------------------------------- reference

# EN 10219-2 Annex B: side and wall mm -> area cm2, mass kg/m, I cm4, Wel cm3
# Rows of three digits are as printed (values from memory); the others are the annex's formulae worked out.
SECTIONS = {
    (25, 2): (1.737, 1.364, 1.483, 1.187),
    (25, 2.5): (2.089, 1.640, 1.690, 1.352),
    (30, 2): (2.137, 1.678, 2.722, 1.815),
    (30, 2.5): (2.589, 2.032, 3.156, 2.104),
    (30, 3): (3.01, 2.36, 3.50, 2.34),
    (40, 2): (2.94, 2.31, 6.94, 3.47),
    (40, 2.5): (3.59, 2.82, 8.22, 4.11),
    (40, 3): (4.208, 3.303, 9.324, 4.662),
    (40, 4): (5.35, 4.20, 11.1, 5.54),
    (50, 2): (3.74, 2.93, 14.1, 5.66),
    (50, 2.5): (4.59, 3.60, 16.9, 6.78),
    (50, 3): (5.408, 4.245, 19.467, 7.787),
    (50, 4): (6.95, 5.45, 23.7, 9.49),
    (50, 5): (8.36, 6.56, 27.0, 10.8),
    (60, 2): (4.54, 3.56, 25.1, 8.38),
    (60, 2.5): (5.59, 4.39, 30.3, 10.1),
    (60, 3): (6.61, 5.19, 35.1, 11.7),
    (60, 4): (8.55, 6.71, 43.6, 14.5),
    (60, 5): (10.4, 8.13, 50.5, 16.8),
}


def square_section(side: float, wall: float, radius: float) -> tuple[float, float]:
    """Area cm2 and second moment cm4 by EN 10219-2 Annex B, whose corners are round inside and outside."""
    outer_corner, inner_corner = (
        ((1 - pi / 4) * r**2, s / 2 - (10 - 3 * pi) / (12 - 3 * pi) * r,
         (1 / 3 - pi / 16 - 1 / (3 * (12 - 3 * pi))) * r**4)
        for r, s in ((radius, side), (radius - wall, side - 2 * wall))
    )  # fmt: skip
    area = 2 * wall * (2 * side - 2 * wall) - (4 - pi) * (radius**2 - (radius - wall) ** 2)
    moment = side**4 / 12 - (side - 2 * wall) ** 4 / 12
    for sign, (a, h, own) in ((-4, outer_corner), (4, inner_corner)):
        moment += sign * (own + a * h**2)
    return area / 1e2, moment / 1e4


def test_tubes_are_those_of_the_standard() -> None:
    stock = {(s.side_mm, s.wall_mm): s for s in table("tubes").sections if s.kind == "square"}
    assert set(stock) == set(SECTIONS)
    for (side, wall), (area, mass, moment, modulus) in SECTIONS.items():
        section = stock[side, wall]
        assert section.name == f"SHS {side}x{wall}"
        assert section.outer_radius_mm == 2 * wall  # EN 10219-2 Annex B: 2 T for T up to 6 mm
        by_formula = square_section(side, wall, section.outer_radius_mm)
        # three printed digits are good to five in the thousand
        assert by_formula == pytest.approx((area, moment), rel=5e-3)
        assert section.area_mm2 == pytest.approx(by_formula[0] * 100, abs=0.06)
        assert section.inertia_mm4 == pytest.approx(by_formula[1] * 1e4, abs=5.1)
        assert section.modulus_mm3 == pytest.approx(modulus * 1e3, rel=5e-3)
        assert section.inertia_mm4 / (side / 2) == pytest.approx(section.modulus_mm3, rel=1e-3)
        assert section.area_mm2 * 7.85e-3 == pytest.approx(mass, rel=5e-3)


def test_bolt_data() -> None:
    found = {
        row.thread: (row.clearance_hole_mm, row.washer_diameter_mm) for row in table("fasteners").threads
    }
    # ISO 273 medium series; ISO 7089 outside diameters (value from memory)
    strong = {row.thread: (row.stress_area_mm2, row.head_flats_mm) for row in table("fasteners").threads}
    # ISO 898-1 table 4; widths across flats of ISO 4014 (value from memory)
    assert strong == {
        "M6": (20.1, 10),
        "M8": (36.6, 13),
        "M10": (58.0, 16),
        "M12": (84.3, 18),
        "M14": (115, 21),
    }
    assert found == {"M6": (6.6, 12), "M8": (9, 16), "M10": (11, 20), "M12": (13.5, 24), "M14": (15.5, 28)}


def test_metals() -> None:
    found = {
        row.name: (row.yield_mpa, row.ultimate_mpa, row.modulus_mpa) for row in table("materials").materials
    }
    # EN 1993-1-1 table 3.1, hollow sections to EN 10219-1; EN 1999-1-1 table 3.2b (values from memory)
    assert found == {
        "S235": (235, 360, 210_000), "S275": (275, 430, 210_000), "S355": (355, 510, 210_000),
        "6082-T6": (250, 290, 70_000),
    }  # fmt: skip


# ---------------------------------------------------------------- invariant


@pytest.mark.parametrize("path", [*PARTS, *VEHICLES, *BRIEFS, *CODES], ids=lambda path: path.stem)
def test_files_say_what_they_are(path: Path) -> None:
    first, second, *_ = path.read_text(encoding="utf-8").splitlines()
    kind = {"modules": "part", "design-codes": "design-code"}.get(path.parent.name)
    kind = kind or ("vehicle" if path.name == "vehicle.yaml" else "brief")
    folder = "../" * (len(path.relative_to(ROOT).parts) - 1) + "shared/schemas"
    if kind == "design-code":
        folder = "../schemas"
    else:
        assert "nvented for demonstration" in second
    assert first == f"# yaml-language-server: $schema={folder}/{kind}.schema.json"


@pytest.mark.parametrize("name", TABLES)
def test_tables_say_what_they_are(name: str) -> None:
    first = (ROOT / "shared" / f"{name}.yaml").read_text(encoding="utf-8").splitlines()[0]
    assert first == f"# yaml-language-server: $schema=schemas/{name}.schema.json"
    assert table(name)


@pytest.mark.parametrize("path", CODES, ids=lambda path: path.stem)
def test_design_codes_bear_the_name_of_their_file(path: Path) -> None:
    assert held(DesignCode, path).name == path.stem


def test_each_convention_has_a_source() -> None:
    conventions = table("conventions")
    assert set(conventions.sources) == set(Conventions.model_fields) - {"sources"}


def test_part_names_differ() -> None:
    names = [part(path.stem).name for path in PARTS]
    assert len(set(names)) == len(names)


@each_part
def test_parts_are_plausible(path: Path) -> None:
    found = part(path.stem)
    size = found.box_size
    assert 0.2 <= found.mass_kg.value / (np.prod(size) * 1e-6) <= 9, "kg per litre of its box"
    assert found.source.startswith("invented for demonstration")
    assert found.mass_kg.tolerance > 0
    for at, side in zip(found.centre_of_gravity, size, strict=True):
        assert at.tolerance < at.value < side - at.tolerance
    for at in [port.at for port in found.ports] + [hole.at for hole in found.holes]:
        assert all(0 <= coordinate <= side for coordinate, side in zip(at, size, strict=True)), at


@each_part
def test_module_figures_agree(path: Path) -> None:
    found = part(path.stem)
    if found.kind == "battery module":
        data = found.electrical
        assert data.energy_kwh == pytest.approx(data.capacity_ah * data.nominal_v / 1000, rel=0.01)
        assert 110 <= data.energy_kwh * 1000 / found.mass_kg.value <= 200, "Wh/kg"


@each_part
def test_bodies_fill_their_box(path: Path) -> None:
    found = part(path.stem)
    if found.body is None or not found.body.file.endswith(".stl"):
        return
    body = trimesh.load_mesh(path.with_name(found.body.file))
    assert body.is_watertight
    assert body.is_winding_consistent
    assert body.volume > 0
    np.testing.assert_allclose(body.bounds, [[0, 0, 0], found.box_size], atol=1e-3)
    # the centre of gravity given is that of the body, within its tolerance
    for given, of_body in zip(found.centre_of_gravity, body.center_mass, strict=True):
        assert given.value == pytest.approx(of_body, abs=given.tolerance)


# ---------------------------------------------------------------- scripts


def test_motor_body_is_made_by_its_script(tmp_path: Path) -> None:
    made = run(ROOT / "modules" / "make_motor_body.py", tmp_path / "motor.stl")
    assert made == (ROOT / "modules" / "motor-45kw.stl").read_bytes()


@pytest.mark.slow
def test_gear_body_is_made_by_its_script(tmp_path: Path) -> None:
    import cadquery

    run(ROOT / "modules" / "make_gear_body.py", tmp_path / "gear.step")
    made, kept = (
        cadquery.importers.importStep(str(path)).val()
        for path in (tmp_path / "gear.step", ROOT / "modules" / "gear-2to1.step")
    )
    assert made.Volume() == pytest.approx(kept.Volume(), rel=1e-9)
    box = kept.BoundingBox()
    np.testing.assert_allclose((box.xmin, box.ymin, box.zmin), 0, atol=1e-3)
    np.testing.assert_allclose((box.xlen, box.ylen, box.zlen), part("gear-2to1").box_size, atol=1e-3)


# ---------------------------------------------------------------- refusal


@each_part
def test_a_part_without_a_source_is_refused(path: Path) -> None:
    data = plain(path)
    del data["source"]
    with pytest.raises(ValidationError, match="source"):
        PART.validate_python(data)
