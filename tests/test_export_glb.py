"""GLB: one named mesh a thing, metres, Y up; and the surfaces it is made of."""

from dataclasses import replace
from math import pi, sqrt

import numpy as np
import pytest
import trimesh
from hypothesis import given
from hypothesis import strategies as st

from packlayout.export.glb import glb
from packlayout.export.meshes import plate, tube
from packlayout.export.palette import channels, colour
from packlayout.frame.tubes import Member, Plate
from packlayout.model.geometry import Pose, TriMesh, Vec
from tests.studies import SHS40, study

STUDY = study()


@pytest.fixture(scope="module")
def scene() -> trimesh.Scene:
    return trimesh.load_scene(trimesh.util.wrap_as_stream(glb(STUDY)), file_type="glb")


def _extent(scene: trimesh.Scene, name: str) -> np.ndarray:
    matrix, mesh = scene.graph[name]
    return scene.geometry[mesh].copy().apply_transform(matrix).bounds


def test_by_hand_metres_with_y_up(scene: trimesh.Scene) -> None:
    """The pump stands at x -250 to -90, y 230 to 320, z 390 to 480 mm."""
    assert _extent(scene, "pump") == pytest.approx(np.array([[-0.25, 0.39, -0.32], [-0.09, 0.48, -0.23]]))


def test_every_thing_is_there_by_name(scene: trimesh.Scene) -> None:
    assert STUDY.layout is not None
    assert STUDY.framed is not None
    assert STUDY.framed.frame is not None
    frame = STUDY.framed.frame
    things = [x.name for x in (*STUDY.layout.placements, *frame.members, *frame.plates)]
    seen = [*STUDY.case.zones, *STUDY.case.keep_outs]
    assert sorted(scene.geometry) == sorted([*things, *seen])
    parents = scene.graph.transforms.parents
    assert parents["module 9"] == "block 2"
    assert parents["block 2"] == "pack"
    assert parents["cradle 1 post"] == "cradle 1"
    assert parents["engine bay"] == "zones"
    assert parents["steering column"] == "keep-outs"


def test_solids_are_closed_and_as_large_as_placed(scene: trimesh.Scene) -> None:
    assert STUDY.layout is not None
    for placement in STUDY.layout.placements:
        mesh = scene.geometry[placement.name]
        mesh.merge_vertices(merge_norm=True, merge_tex=True)
        assert mesh.is_watertight
        size = np.array(placement.box.size) / 1000
        assert _extent(scene, placement.name)[1] - _extent(scene, placement.name)[0] == pytest.approx(
            size[[0, 2, 1]], abs=1e-6
        )


def test_colours_and_see_through(scene: trimesh.Scene) -> None:
    material = scene.geometry["motor"].visual.material
    assert material.alphaMode in (None, "OPAQUE")
    srgb = np.array(channels(colour("motor")))
    linear = np.where(srgb <= 0.04045, srgb / 12.92, ((srgb + 0.055) / 1.055) ** 2.4)
    assert np.array(material.baseColorFactor)[:3] / 255 == pytest.approx(linear, abs=1 / 255)
    clear = scene.geometry["engine bay"].visual.material
    assert clear.alphaMode == "BLEND"
    assert clear.baseColorFactor[3] < 128


def test_the_same_bytes_twice() -> None:
    assert glb(STUDY) == glb(study())


def test_hostile_and_equal_names() -> None:
    assert STUDY.layout is not None
    names = ["<script>", "<script>", "\u202e\"'\\", "pack", "zones"]
    changed = [replace(p, name=f"{n}" if k != 1 else "<Script>") for k, (p, n) in
               enumerate(zip(STUDY.layout.placements, names, strict=False))]  # fmt: skip
    layout = replace(STUDY.layout, placements=(*changed, *STUDY.layout.placements[5:]))
    read = trimesh.load_scene(
        trimesh.util.wrap_as_stream(glb(replace(STUDY, layout=layout))), file_type="glb"
    )
    assert {"<script>", "<Script> (2)", "\u202e\"'\\"} <= set(read.geometry)
    assert len(read.geometry) == 17 + 13 + 4


def test_nothing_placed_still_shows_the_space() -> None:
    empty = replace(STUDY, layout=None, placed=None, framed=None)
    read = trimesh.load_scene(trimesh.util.wrap_as_stream(glb(empty)), file_type="glb")
    assert set(read.geometry) == {"engine bay", "former fuel tank", "steering column", "front axle"}


# ---------------------------------------------------------------- surfaces


def _volume(mesh: TriMesh) -> float:
    body = trimesh.Trimesh(mesh.vertices, mesh.faces, process=False)
    assert body.is_watertight
    return float(body.volume)


def _unit(v: Vec) -> Vec:
    length = sqrt(sum(c * c for c in v))
    return v[0] / length, v[1] / length, v[2] / length


DIRECTIONS = st.tuples(*[st.floats(-1, 1)] * 3).filter(lambda v: sum(c * c for c in v) > 0.1).map(_unit)


@given(axis=DIRECTIONS, turn=st.floats(0, pi), tilts=st.tuples(DIRECTIONS, DIRECTIONS))
def test_a_tube_cut_by_any_planes_keeps_its_volume(axis: Vec, turn: float, tilts: tuple[Vec, Vec]) -> None:
    """Area of the section times the length of the centre line, however the ends are cut."""
    a = np.array(axis)
    p = np.cross(a, [1.0, 0.0, 0.0] if abs(a[0]) < 0.8 else [0.0, 1.0, 0.0])
    p /= np.linalg.norm(p)
    p = p * np.cos(turn) + np.cross(a, p) * np.sin(turn)
    cuts = [np.array(t) * 0.6 + a * s for t, s in zip(tilts, (-1.0, 1.0), strict=True)]
    start, end = (10.0, 20.0, 30.0), (np.array([10.0, 20.0, 30.0]) + 300 * a).tolist()
    member = Member("a", "g", SHS40, start, (end[0], end[1], end[2]), tuple(p.tolist()),
                    *(tuple((c / np.linalg.norm(c)).tolist()) for c in cuts))  # type: ignore[arg-type]  # fmt: skip
    expected = SHS40.area_mm2 * 300
    assert _volume(tube(member)) == pytest.approx(expected, rel=3e-3)  # its round corners have facets
    along = tube(member).vertices @ a
    assert along.max() - along.min() == pytest.approx(member.longest_mm, rel=0.02)


def test_a_drilled_plate() -> None:
    piece = Plate(
        "p", "g", Pose((0.0, 0.0, 0.0)), (100.0, 50.0, 8.0), ((25.0, 25.0, 20.0), (75.0, 25.0, 20.0))
    )
    mesh = plate(piece)
    assert _volume(mesh) == pytest.approx(piece.volume_mm3, rel=2e-3)
    assert mesh.bounds.size == (100.0, 50.0, 8.0)
