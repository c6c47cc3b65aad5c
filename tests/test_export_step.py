"""STEP: read back by another reader, the solids are where they should be, named, coloured and as heavy."""

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from packlayout.errors import GeometryError
from packlayout.export.palette import colour
from packlayout.export.step import write_step
from packlayout.export.tree import tube_pose
from packlayout.model.brief import PartBody
from packlayout.model.geometry import TriMesh
from packlayout.study import Study
from tests.step_reading import Found, read_step
from tests.studies import drum, study

STUDY = study()
DENSITY = 7850e-9


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    made = tmp_path_factory.mktemp("step")
    write_step(STUDY, made, ())
    return made


@pytest.fixture(scope="module")
def nodes(folder: Path) -> dict[str, Found]:
    found = read_step(folder / "assembly.step")
    named = {node.name: node for node in found}
    assert len(named) == len(found), "two nodes have one name"
    return named


def test_nested_as_assembled(nodes: dict[str, Found]) -> None:
    assert nodes["heron-estate-piano-tuner"].children == ["pack", "parts", "frame"]
    assert nodes["pack"].children == ["block 1", "block 2"]
    assert nodes["block 2"].children == ["module 7", "module 8", "module 9", "module 10"]
    assert nodes["frame"].children == ["cradle 1", "cradle 2", "leg front left", "leg front right"]
    assert nodes["leg front left"].children == ["leg front left strut", "leg front left foot"]
    assert nodes["motor"].path == ("heron-estate-piano-tuner", "parts")
    assert all(node.name == node.product for node in nodes.values())


def test_frame_alone(folder: Path, nodes: dict[str, Found]) -> None:
    alone = {node.name: node for node in read_step(folder / "frame.step")}
    assert alone["frame"].path == ()
    assert alone["cradle 1 post"].lo == pytest.approx(nodes["cradle 1 post"].lo, abs=1e-6)
    assert "motor" not in alone


def test_parts_stand_where_the_layout_says(nodes: dict[str, Found]) -> None:
    assert STUDY.layout is not None
    for placement in STUDY.layout.placements:
        node = nodes[placement.name]
        assert node.lo == pytest.approx(placement.box.lo, abs=0.01)
        assert node.hi == pytest.approx(placement.box.hi, abs=0.01)
        assert node.colour == colour(STUDY.case.parts[placement.part].kind)
        assert node.valid
        if placement.part not in STUDY.case.bodies:
            x, y, z = placement.size
            assert node.volume == pytest.approx(x * y * z, rel=1e-9)


def test_a_body_is_a_solid_of_its_own(nodes: dict[str, Found]) -> None:
    """A prism over a regular polygon of 24 corners on a circle of radius 120, 320 long."""
    area = 24 / 2 * 120**2 * np.sin(2 * np.pi / 24)
    assert nodes["motor"].volume == pytest.approx(320 * area, rel=1e-7)


def test_the_frame_weighs_what_was_weighed(nodes: dict[str, Found]) -> None:
    assert STUDY.framed is not None
    assert STUDY.framed.frame is not None
    items = STUDY.framed.frame.mass_items
    assert len(items) == 13
    for item in items:
        node = nodes[item.name]
        # the stock table rounds its areas to four figures
        assert node.volume * DENSITY == pytest.approx(item.mass.value, rel=1e-3)
        assert node.valid


def test_centres_of_gravity_of_the_tubes(nodes: dict[str, Found]) -> None:
    """A prism of section area A and second moment I between the planes w = a u + b v (start) and L + c u + d v.

    Its centroid is at u = I (c - a) / (A L), v = I (d - b) / (A L), w = L / 2 + I (c2 + d2 - a2 - b2) / (2 A L):
    the integrals of u, v and w over a section that is the same about both axes.
    """
    assert STUDY.framed is not None
    assert STUDY.framed.frame is not None
    for member in STUDY.framed.frame.members:
        pose = tube_pose(member)
        own = np.array(pose.rotation)
        (a, b), (c, d) = (
            -(n := own.T @ np.array(cut))[:2] / n[2] for cut in (member.start_cut, member.end_cut)
        )
        length, section = member.length_mm, member.section
        per_length = section.inertia_mm4 / section.area_mm2 / length
        along = length / 2 + per_length / 2 * (c * c + d * d - a * a - b * b)
        expected = own @ [per_length * (c - a), per_length * (d - b), along] + np.array(member.start)
        assert nodes[member.name].cg == pytest.approx(expected, abs=0.02)


def test_mitres_meet_in_one_plane(nodes: dict[str, Found]) -> None:
    """The ring's outer corner is the mitre's longest point: 15 mm out of the centre lines at -265, -210."""
    left, front = nodes["cradle 1 left"], nodes["cradle 1 front"]
    assert left.lo == pytest.approx((-280, -225, 355), abs=0.01)
    assert left.hi == pytest.approx((247, -195, 385), abs=0.01)
    assert front.lo == pytest.approx((-280, -225, 355), abs=0.01)
    assert front.hi == pytest.approx((-250, 225, 385), abs=0.01)


def test_an_oblique_strut_stands_level_on_its_plate(nodes: dict[str, Found]) -> None:
    strut, foot = nodes["leg front right strut"], nodes["leg front right foot"]
    assert strut.hi[2] == pytest.approx(428, abs=0.01)
    assert strut.lo[1] == pytest.approx(210, abs=0.01)
    assert (foot.lo[2], foot.hi[2]) == pytest.approx((420, 428), abs=1e-6)
    assert foot.volume == pytest.approx((120 * 60 - 2 * np.pi / 4 * 11**2) * 8, rel=1e-9)


def test_header_has_no_clock(folder: Path, monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    head = (folder / "frame.step").read_text(encoding="ascii").split("ENDSEC;", 1)[0]
    assert "'2000-01-01T00:00:00'" in head
    assert "AP242" in head
    monkeypatch.setenv("SOURCE_DATE_EPOCH", "86400")
    write_step(STUDY, tmp_path, ())
    head = (tmp_path / "frame.step").read_text(encoding="ascii").split("ENDSEC;", 1)[0]
    assert "'1970-01-02T00:00:00'" in head


def test_written_twice_it_is_the_same(folder: Path, tmp_path: Path) -> None:
    write_step(study(), tmp_path, ())
    for name in ("assembly.step", "frame.step"):
        assert (tmp_path / name).read_bytes() == (folder / name).read_bytes()


def test_a_second_reader_agrees(folder: Path, nodes: dict[str, Found], tmp_path: Path) -> None:
    """A library turns STEP into glTF by its own build of the kernel; trimesh reads that: metres."""
    import cascadio
    import trimesh

    cascadio.step_to_glb(str(folder / "assembly.step"), str(tmp_path / "a.glb"), 0.1, 0.3)
    scene = trimesh.load_scene(tmp_path / "a.glb")
    assert set(nodes) <= set(scene.graph.nodes)
    for name in ("module 8", "controller", "cradle 2 rear", "leg front left foot"):
        matrix, mesh = scene.graph[name]
        body = scene.geometry[mesh].copy().apply_transform(matrix)
        lo, hi = np.array(nodes[name].lo) / 1000, np.array(nodes[name].hi) / 1000
        assert body.bounds == pytest.approx(np.array([lo, hi]), abs=1e-4)


def _with_body(body: PartBody) -> Study:
    return replace(STUDY, case=replace(STUDY.case, bodies={"fen-motor-80": body}))


def test_an_exact_body_stays_exact(tmp_path: Path) -> None:
    """A drum with a bore, as STEP: a round face has no facets, so the volume is exact."""
    import cadquery as cq

    shape = cq.Workplane("YZ", origin=(0, 120, 120)).circle(120).circle(40).extrude(320)
    cq.exporters.export(shape, str(tmp_path / "drum.step"))
    text = (tmp_path / "drum.step").read_text(encoding="utf-8")
    write_step(_with_body(PartBody(drum(320, 240), text)), tmp_path, ())
    motor = next(node for node in read_step(tmp_path / "assembly.step") if node.name == "motor")
    assert motor.volume == pytest.approx(np.pi * (120**2 - 40**2) * 320, rel=1e-9)
    assert motor.lo == pytest.approx((340, -120, 370), abs=0.01)
    assert motor.colour == colour("motor")


def test_a_body_of_very_many_triangles_is_thinned_out(tmp_path: Path) -> None:
    fine = drum(320, 240, 3000)
    write_step(_with_body(PartBody(fine)), tmp_path, ())
    motor = next(node for node in read_step(tmp_path / "assembly.step") if node.name == "motor")
    assert motor.volume == pytest.approx(np.pi * 120**2 * 320, rel=2e-3)
    assert motor.hi == pytest.approx((660, 120, 610), abs=0.1)
    assert (tmp_path / "assembly.step").stat().st_size < 2_500_000


def test_what_is_not_there_is_said(tmp_path: Path) -> None:
    made = write_step(replace(STUDY, framed=None), tmp_path, ())
    assert [path.name for path in made.files] == ["assembly.step"]
    assert made.notes == ("frame.step left out: there is no frame",)
    made = write_step(replace(STUDY, layout=None, placed=None, framed=None), tmp_path, ())
    assert made.files == ()
    assert made.notes == ("assembly.step and frame.step left out: nothing was placed",)


def test_an_open_body_is_refused(tmp_path: Path) -> None:
    whole = drum(320, 240)
    torn = TriMesh(whole.vertices.copy(), whole.faces[:-1].copy())
    with pytest.raises(GeometryError, match="motor: the body of fen-motor-80 makes no solid"):
        write_step(_with_body(PartBody(torn)), tmp_path, ())
    with pytest.raises(GeometryError, match="fen-motor-80"):
        write_step(_with_body(PartBody(whole, "ISO-10303-21; nothing")), tmp_path, ())
