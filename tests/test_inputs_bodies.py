"""Parts with a shape of their own."""

from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
import trimesh

from packlayout.errors import InputError
from packlayout.inputs.bodies import body_of
from packlayout.inputs.case import read_case
from packlayout.space.envelope import EnvelopeError
from tests.workshop_files import BRIEF_FILE, MOTOR

Workshop = Callable[..., Path]


def wedge(scale: float = 1.0) -> trimesh.Trimesh:
    """A box of 260 x 240 x 200 mm with a foot below one end, away from the origin."""
    top = trimesh.creation.box(bounds=[[10, 20, 30], [270, 260, 230]])
    return trimesh.Trimesh(top.vertices * scale, top.faces, process=False)


def step_of(build: Callable[..., object], tmp_path: Path) -> bytes:
    import cadquery

    file = tmp_path / "made.step"
    cadquery.exporters.export(build(cadquery), str(file))
    return file.read_bytes()


def a_drilled_block(cadquery: object) -> object:
    plane = cadquery.Workplane().box(260, 240, 200)  # type: ignore[attr-defined]
    return plane.faces(">Z").workplane().hole(50)


# ---- by hand


@pytest.mark.parametrize(
    ("kind", "unit", "scale"), [("stl", "mm", 1), ("ply", "m", 0.001), ("obj", "in", 1 / 25.4)]
)
def test_a_mesh_body_is_moved_to_its_own_origin(kind: str, unit: str, scale: float) -> None:
    data = wedge(scale).export(file_type=kind)
    body, size, notes = body_of(data.encode() if isinstance(data, str) else data, f".{kind}", unit)
    assert size == pytest.approx((260, 240, 200), abs=1e-3)
    assert body.mesh.bounds.lo == (0, 0, 0)
    assert body.mesh.volume == pytest.approx(260 * 240 * 200, rel=1e-5)
    assert body.step is None
    assert notes == ()


def test_glb_has_its_second_axis_up() -> None:
    upright = wedge()
    upright.vertices = upright.vertices[:, [0, 2, 1]] * [1, 1, -1]  # z up -> y up
    _, size, _ = body_of(upright.export(file_type="glb"), ".glb", "mm")
    assert size == pytest.approx((260, 240, 200), abs=1e-3)


def test_a_step_body(tmp_path: Path) -> None:
    body, size, notes = body_of(step_of(a_drilled_block, tmp_path), ".step", "mm")
    assert size == pytest.approx((260, 240, 200), abs=1e-6)
    assert body.mesh.volume == pytest.approx(260 * 240 * 200 - np.pi * 25**2 * 200, rel=1e-3)
    assert body.mesh.bounds.lo == pytest.approx((0, 0, 0), abs=1e-6)
    assert notes == ("moved by (130.0, 120.0, 100.0) mm to the origin of its own axes",)


def test_the_step_text_that_is_kept_is_in_own_axes(tmp_path: Path) -> None:
    import cadquery

    body, _, _ = body_of(step_of(a_drilled_block, tmp_path), ".step", "mm")
    assert body.step is not None
    (tmp_path / "kept.step").write_text(body.step, encoding="utf-8")
    box = cadquery.importers.importStep(str(tmp_path / "kept.step")).val().BoundingBox()
    assert (box.xmin, box.ymin, box.zmin) == pytest.approx((0, 0, 0), abs=1e-6)
    assert (box.xmax, box.ymax, box.zmax) == pytest.approx((260, 240, 200), abs=1e-6)


def test_size_is_filled_in_from_the_body(workshop: Workshop) -> None:
    text = MOTOR.replace("size: [260, 240, 240]", "body: {file: motor.stl}").replace("120, 120]", "120, 100]")
    root = workshop({"modules/motor.yaml": text, "modules/motor.stl": wedge().export(file_type="stl")})
    case = read_case(root / BRIEF_FILE)
    assert case.parts["motor"].box_size == pytest.approx((260, 240, 200))
    assert case.bodies["motor"].mesh.volume == pytest.approx(260 * 240 * 200)
    assert "modules/motor.stl" in dict(case.inputs)


def test_a_given_size_may_be_larger(workshop: Workshop) -> None:
    text = MOTOR.replace("mass: 38", "body: {file: motor.stl}\nmass: 38")
    root = workshop({"modules/motor.yaml": text, "modules/motor.stl": wedge().export(file_type="stl")})
    assert read_case(root / BRIEF_FILE).parts["motor"].box_size == (260, 240, 240)


# ---- refusal


def told(workshop: Workshop, body: str, data: bytes | None, name: str = "motor.stl") -> list[str]:
    text = MOTOR.replace("mass: 38", f"body: {body}\nmass: 38")
    root = workshop({"modules/motor.yaml": text, f"modules/{name}": data})
    with pytest.raises(InputError) as caught:
        read_case(root / BRIEF_FILE)
    return [str(fault).replace(f"{root}/", "") for fault in caught.value.faults]


def test_a_body_larger_than_its_size(workshop: Workshop) -> None:
    assert told(workshop, "{file: motor.stl, unit: cm}", wedge().export(file_type="stl")) == [
        "modules/motor.yaml:4: size: the body is larger, 2600.0 x 2400.0 x 2000.0 mm; allowed: a size that holds the "
        "body; leave size out: it is read from the body"
    ]


def test_a_body_in_the_wrong_unit(workshop: Workshop) -> None:
    assert told(workshop, "{file: motor.stl}", wedge(0.1).export(file_type="stl")) == [
        "modules/motor.yaml:5: body: the body is much smaller than size, 26.0 x 24.0 x 20.0 mm; "
        "allowed: a body that fills its size; is its unit right?"
    ]
    found = told(workshop, "{file: motor.stl}", wedge(1e-6).export(file_type="stl"))
    assert found[0].startswith("modules/motor.yaml:5: body.unit: the body is 0.00026 x 0.00024 x 0.0002 mm")


def test_files_that_are_not_there_or_elsewhere(workshop: Workshop) -> None:
    assert told(workshop, "{file: moto.stl}", wedge().export(file_type="stl")) == [
        "modules/motor.yaml:5: body.file: no such file: 'moto.stl'; allowed: charger.yaml, module.yaml, motor.stl, "
        "motor.yaml; did you mean 'motor.stl'?"
    ]
    assert told(workshop, "{file: ../../motor.stl}", None)[0].startswith(
        "modules/motor.yaml:5: body.file: '../../motor.stl' leads out of the workshop folder"
    )


def test_shapes_that_do_not_close(workshop: Workshop) -> None:
    made = wedge()
    torn = trimesh.Trimesh(made.vertices, made.faces[1:], process=False).export(file_type="stl")
    assert told(workshop, "{file: motor.stl}", torn)[0].startswith(
        "modules/motor.yaml:5: body.file: the surface is open, 1 hole in the file's axes: "
    )
    turned = trimesh.Trimesh(made.vertices, made.faces[:, ::-1], process=False).export(file_type="stl")
    assert "the surface is inside out or flat" in told(workshop, "{file: motor.stl}", turned)[0]


@pytest.mark.parametrize(
    ("data", "found"),
    [
        (b"junk", "cannot be read as STEP, or holds no solid"),
        (b"", "cannot be read as STEP, or holds no solid"),
        (b"\xff\xfe", "is not text, so not a STEP file"),
        (b"ISO-10303-21;\nHEADER;\nENDSEC;\nDATA;\nENDSEC;\nEND-ISO-10303-21;\n", "holds no solid"),
    ],
)
def test_step_files_that_are_none(capfd: pytest.CaptureFixture[str], data: bytes, found: str) -> None:
    with pytest.raises(EnvelopeError, match=found):
        body_of(data, ".step", "mm")
    assert capfd.readouterr().out == ""  # the kernel's own messages would spoil a JSON answer


def test_a_step_file_cut_short(tmp_path: Path) -> None:
    data = step_of(a_drilled_block, tmp_path)
    with pytest.raises(EnvelopeError, match="cannot be read as STEP"):
        body_of(data[: len(data) // 2], ".step", "mm")


def test_surfaces_alone_and_a_unit_for_step(tmp_path: Path) -> None:
    sheet = step_of(lambda cadquery: cadquery.Workplane().add(cadquery.Face.makePlane(10, 10)), tmp_path)
    with pytest.raises(EnvelopeError, match="holds no solid"):
        body_of(sheet, ".step", "mm")
    with pytest.raises(EnvelopeError, match="unit 'in' for a STEP file; allowed: no unit"):
        body_of(sheet, ".step", "in")
    with pytest.raises(EnvelopeError, match=r"\.dwg file type; allowed: \.step, \.stp, \.stl"):
        body_of(b"", ".dwg", "mm")
