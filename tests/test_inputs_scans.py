"""Scans: unit, position, cleaning, holes, and what is refused."""

from typing import Any

import numpy as np
import pytest
import trimesh
from hypothesis import given, settings
from hypothesis import strategies as st

from packlayout.inputs.scans import envelope_of_scan, read_triangles, rigid_fit
from packlayout.inputs.surfaces import clean, refuse_folds
from packlayout.model.geometry import TriMesh
from packlayout.model.vehicle import MeshFile
from packlayout.space.envelope import EnvelopeError

# a box of 1000 x 800 x 600 mm in the axes of a scanner that stood askew
TURN = trimesh.transformations.euler_matrix(0.3, -0.2, 1.1)[:3, :3]
SHIFT = np.array([120.0, -40.0, 900.0])
CORNERS = np.array([[-500.0, -400, -300], [500, -400, -300], [-500, 400, -300], [-500, -400, 300]])
MM_IN = {"mm": 1.0, "cm": 10.0, "m": 1000.0, "in": 25.4}


def box(steps: int = 3) -> trimesh.Trimesh:
    made = trimesh.creation.box(extents=[1000, 800, 600])
    for _ in range(steps):
        made = made.subdivide()
    return made


def exported(mesh: trimesh.Trimesh, unit: str = "m", kind: str = "ply") -> bytes:
    """The mesh in the scanner's axes and unit, as a file."""
    own = (mesh.vertices - SHIFT) @ TURN / MM_IN[unit]
    data = trimesh.Trimesh(own, mesh.faces, process=False).export(file_type=kind)
    return data.encode() if isinstance(data, str) else data


def scan(unit: str = "m", corners: Any = CORNERS, **fields: Any) -> MeshFile:
    reference = [
        {"scan": ((at - SHIFT) @ TURN / MM_IN[unit]).tolist(), "vehicle": at.tolist()}
        for at in np.asarray(corners)
    ]
    return MeshFile.model_validate({"file": "a.ply", "unit": unit, "reference": reference, **fields})


def without(mesh: trimesh.Trimesh, at: tuple[float, float, float], radius: float) -> trimesh.Trimesh:
    """Tear a hole."""
    near = np.linalg.norm(mesh.triangles_center - np.array(at), axis=1) < radius
    assert near.any()
    return trimesh.Trimesh(mesh.vertices, mesh.faces[~near], process=False)


def refused(data: bytes, record: MeshFile, suffix: str = ".ply") -> tuple[tuple[Any, ...], str]:
    with pytest.raises(EnvelopeError) as caught:
        envelope_of_scan(data, suffix, record)
    return caught.value.where, str(caught.value)


# ---- by hand


@pytest.mark.parametrize("kind", ["ply", "stl", "obj", "glb"])
@pytest.mark.parametrize("unit", ["mm", "cm", "m", "in"])
def test_a_box_comes_back_in_vehicle_axes(kind: str, unit: str) -> None:
    mesh, notes = envelope_of_scan(exported(box(), unit, kind), f".{kind}", scan(unit))
    assert mesh.volume == pytest.approx(1000 * 800 * 600, rel=1e-5)
    assert mesh.bounds.lo == pytest.approx((-500, -400, -300), abs=0.01)
    assert mesh.bounds.hi == pytest.approx((500, 400, 300), abs=0.01)
    assert notes[0] == "4 reference points fit within 0.0 mm"
    assert notes[-1] == f"{len(mesh.faces)} triangles enclose 480.0 l"


def test_small_holes_are_filled_and_told() -> None:
    torn = without(without(box(4), (500, 0, 0), 60), (0, 400, 100), 50)
    mesh, notes = envelope_of_scan(exported(torn), ".ply", scan())
    assert mesh.volume == pytest.approx(1000 * 800 * 600, rel=1e-6)  # flat sides: the patches lie in them
    assert any(note.startswith("filled 2 holes, the widest ") for note in notes)


def test_a_hole_of_one_triangle() -> None:
    made = box()
    torn = trimesh.Trimesh(made.vertices, made.faces[1:], process=False)
    mesh, _ = envelope_of_scan(exported(torn), ".ply", scan())
    assert len(mesh.faces) == len(made.faces)


def test_litter_is_left_out() -> None:
    speck = trimesh.creation.icosphere(subdivisions=1, radius=20)
    speck.apply_translation([700, 0, 0])
    whole = trimesh.util.concatenate([box(), speck])
    mesh, notes = envelope_of_scan(exported(whole), ".ply", scan())
    assert mesh.bounds.hi[0] == pytest.approx(500, abs=0.01)
    assert "left out 1 stray piece (80 triangles)" in notes


def test_what_a_scanner_leaves_behind_is_cleaned() -> None:
    made = box()
    vertices = np.concatenate([made.vertices, [[np.nan, 0, 0]], made.vertices[:1]])
    count = len(made.vertices)
    faces = np.concatenate([
        made.faces,
        [[0, 1, count]],  # a corner that is no number
        [[3, 3, 7]],  # no area
        made.faces[5:7],  # twice
        [made.faces[9, ::-1], made.faces[9], made.faces[9, ::-1], made.faces[9]],  # and in pairs face to face
    ])  # fmt: skip
    cleaned = clean(vertices, faces.astype(np.int64), 0.0)
    assert not cleaned.holes
    assert cleaned.mesh.volume == pytest.approx(1000 * 800 * 600)
    assert len(cleaned.mesh.faces) == len(made.faces)
    assert len(cleaned.notes) == 3


def test_triangles_that_look_the_wrong_way_are_turned() -> None:
    made = box()
    faces = made.faces.copy()
    faces[10:60] = faces[10:60, ::-1]
    mesh, notes = envelope_of_scan(
        exported(trimesh.Trimesh(made.vertices, faces, process=False)), ".ply", scan()
    )
    assert mesh.volume == pytest.approx(1000 * 800 * 600, rel=1e-6)
    assert "turned 50 triangles that looked the other way than their neighbours" in notes


def test_a_scan_from_within_says_so() -> None:
    made = box()
    data = exported(trimesh.Trimesh(made.vertices, made.faces[:, ::-1], process=False))
    where, message = refused(data, scan())
    assert where == ("file",)
    assert message.startswith("the surface is inside out: its faces look into the space")
    assert message.endswith("or write inside_out: true")
    mesh, _ = envelope_of_scan(data, ".ply", scan(inside_out=True))
    assert mesh.volume > 0
    assert refused(exported(made), scan(inside_out=True))[0] == ("inside_out",)


def test_a_large_noisy_scan_is_closed_and_keeps_its_volume() -> None:
    noise = np.random.default_rng(7)
    ball = trimesh.creation.icosphere(subdivisions=7)
    points = ball.vertices * [500, 400, 300] + noise.normal(0, 0.5, ball.vertices.shape)
    torn = without(trimesh.Trimesh(points, ball.faces, process=False), (500, 0, 0), 50)
    data = exported(torn)
    mesh, _ = envelope_of_scan(
        data, ".ply", scan(corners=np.array([[500.0, 0, 0], [0, 400, 0], [0, 0, 300]]))
    )
    assert len(mesh.faces) > 300_000
    assert mesh.volume == pytest.approx(4 / 3 * np.pi * 500 * 400 * 300, rel=2e-3)


# ---- invariant

angles = st.tuples(*[st.floats(-3, 3)] * 3)
offsets = st.tuples(*[st.floats(-3000, 3000)] * 3)


@settings(max_examples=50, deadline=None)
@given(angles, offsets, st.integers(3, 8), st.integers(0, 1000))
def test_a_rigid_fit_finds_the_motion(angle: Any, offset: Any, count: int, seed: int) -> None:
    points = np.random.default_rng(seed).uniform(-1000, 1000, (count, 3))
    turn = trimesh.transformations.euler_matrix(*angle)[:3, :3]
    found_turn, found_shift = rigid_fit(points, points @ turn.T + offset)
    assert np.linalg.det(found_turn) == pytest.approx(1)
    assert points @ found_turn.T + found_shift == pytest.approx(points @ turn.T + offset, abs=1e-6)


@settings(max_examples=25, deadline=None)
@given(st.integers(0, 10_000), st.floats(30, 70))
def test_torn_surfaces_close_again(seed: int, radius: float) -> None:
    rng = np.random.default_rng(seed)
    ball = trimesh.creation.icosphere(subdivisions=4, radius=400)
    torn = ball
    for at in ball.vertices[rng.choice(len(ball.vertices), 3, replace=False)]:
        torn = without(torn, tuple(at), radius) if len(torn.faces) else torn
    cleaned = clean(torn.vertices, torn.faces.astype(np.int64), 400.0)
    closed = trimesh.Trimesh(cleaned.mesh.vertices, cleaned.mesh.faces, process=False)
    assert not cleaned.holes
    assert closed.is_watertight
    assert closed.is_winding_consistent
    assert closed.volume == pytest.approx(ball.volume, rel=0.05)


# ---- refusal: unit and position


@pytest.mark.parametrize(
    ("right", "wrong", "times"),
    [
        ("m", "mm", "1000 times too small"), ("mm", "m", "1000 times too large"), ("mm", "in", "25.4 times too large"),
        ("in", "mm", "25.4 times too small"), ("cm", "mm", "10 times too small"), ("in", "cm", "2.54 times too small"),
    ],
)  # fmt: skip
def test_the_wrong_unit_is_named_with_the_right_one(right: str, wrong: str, times: str) -> None:
    record = scan(right).model_copy(update={"unit": wrong})
    where, message = refused(exported(box(), right), record)
    assert where == ("unit",)
    assert message == f"with {wrong!r} the scan is {times}; allowed: {right!r} fits; write unit: {right}"


def test_a_scale_that_no_unit_explains() -> None:
    record = scan("m")
    points = tuple(p.model_copy(update={"scan": tuple(1.5 * v for v in p.scan)}) for p in record.reference)
    where, message = refused(exported(box()), record.model_copy(update={"reference": points}))
    assert where == ("unit",)
    assert "1.5 times too large" in message


def test_reference_points_that_do_not_fit_are_told_one_by_one() -> None:
    record = scan()
    moved = record.reference[1].model_copy(update={"vehicle": (500.0, -340.0, -300.0)})
    record = record.model_copy(update={"reference": (record.reference[0], moved, *record.reference[2:])})
    where, message = refused(exported(box()), record)
    assert where == ("reference",)
    assert message.startswith("the reference points do not fit each other (point 1: ")
    assert "point 4: " in message
    assert "allowed: at most 10 mm; measure the worst one again" in message


def test_a_mirrored_scan() -> None:
    record = scan()
    points = tuple(
        p.model_copy(update={"scan": (p.scan[0], -p.scan[1], p.scan[2])}) for p in record.reference
    )
    where, message = refused(exported(box()), record.model_copy(update={"reference": points}))
    assert where == ("reference",)
    assert "the scan is mirrored" in message


def test_reference_points_on_one_line() -> None:
    where, message = refused(exported(box()), scan(corners=[[-500, 0, 0], [0, 0, 0], [500, 2, 0]]))
    assert where == ("reference",)
    assert message.startswith("the reference points lie on one line")


def test_a_reference_point_given_twice() -> None:
    where, message = refused(exported(box()), scan(corners=[*CORNERS[:3], CORNERS[0]]))
    assert where == ("reference", 3, "scan")
    assert message.startswith("points 1 and 4 are at the same place")


def test_reference_points_of_another_scan() -> None:
    data = exported(trimesh.Trimesh(box().vertices + np.array([0, 0, -12_000]), box().faces, process=False))
    where, message = refused(data, scan())
    assert where == ("reference", 0)
    assert "m away from the mesh" in message


# ---- refusal: the surface


def test_wide_holes_are_told_with_their_place() -> None:
    torn = without(without(box(5), (500, 100, 0), 150), (0, 400, 100), 40)
    where, message = refused(exported(torn), scan(widest_hole="120 mm"))
    assert where == ()
    assert message.startswith("the surface is open, 1 hole in vehicle axes: ")
    at = [float(word) for word in message.split("at (")[1].split(")")[0].split(",")]
    assert at == pytest.approx([500, 100, 0], abs=25)
    assert "holes up to 120 mm are filled" in message
    assert "raise widest_hole" in message


def test_a_flat_sheet_has_no_volume() -> None:
    sheet = trimesh.creation.box(extents=[1000, 800, 1e-2])
    where, message = refused(exported(sheet), scan(corners=CORNERS[:3] + np.array([0, 0, 300])))
    assert where == ("file",)
    assert message.startswith("the surface encloses 8.01 cm3; allowed: a surface around a space")


def test_a_wall_across_the_space() -> None:
    wall: Any = np.array([[0.0, -400, -300], [0, 400, -300], [0, 400, 300], [0, -400, 300]])
    made = box(1)
    wall = trimesh.Trimesh(wall, [[0, 1, 2], [0, 2, 3]], process=False).subdivide()
    both = trimesh.util.concatenate([made, wall])
    where, message = refused(exported(both), scan())
    assert where == ()
    assert "edges are shared by more than two triangles, the first at (0, " in message


def test_loose_triangles() -> None:
    rng = np.random.default_rng(3)
    faces = np.arange(240_000).reshape(-1, 3)
    loose = trimesh.Trimesh(rng.uniform(-500, 500, (240_000, 3)), faces, process=False)
    with pytest.raises(EnvelopeError, match=r"loose triangles: \d+ of \d+ edges are open"):
        clean(loose.vertices, faces, 100.0)


def test_a_strip_with_one_side() -> None:
    turns = np.linspace(0, 2 * np.pi, 40, endpoint=False)
    rim = np.stack([
        np.stack([(400 + s * np.cos(turns / 2)) * np.cos(turns), (400 + s * np.cos(turns / 2)) * np.sin(turns),
                  s * np.sin(turns / 2)], axis=1) for s in (-100, 100)
    ], axis=1).reshape(-1, 3)  # fmt: skip
    faces = []
    for k in range(40):
        a, b = 2 * k, 2 * k + 1
        c, d = ((2 * k + 2), (2 * k + 3)) if k < 39 else (1, 0)
        faces += [[a, b, d], [a, d, c]]
    with pytest.raises(EnvelopeError, match="a surface with one side only"):
        clean(rim, np.array(faces, dtype=np.int64), 0.0)


def test_a_surface_that_passes_through_itself() -> None:
    one, two = box(), box()
    two.apply_translation([300, 200, 100])
    both = trimesh.util.concatenate([one, two])
    where, message = refused(exported(both), scan())
    assert where == ()
    assert message.startswith("the surface passes through itself, ")


def test_thin_folds_are_taken_for_noise() -> None:
    made = trimesh.creation.icosphere(subdivisions=4, radius=400)
    points = made.vertices + np.random.default_rng(5).normal(0, 1.0, made.vertices.shape)
    refuse_folds(TriMesh(points, made.faces.astype(np.int64)))


@pytest.mark.parametrize("suffix", [".stl", ".ply", ".obj", ".glb"])
@pytest.mark.parametrize("cut", [0, 3, 100, 1000, 9000])
def test_broken_files(suffix: str, cut: int) -> None:
    data = exported(box(), kind=suffix[1:])[:cut]
    with pytest.raises(EnvelopeError):
        envelope_of_scan(data, suffix, scan())


@settings(max_examples=60, deadline=None)
@given(
    st.sampled_from([".stl", ".ply", ".obj", ".glb"]), st.integers(0, 4000), st.binary(min_size=1, max_size=8)
)
def test_files_with_changed_bytes_are_read_or_refused(suffix: str, at: int, junk: bytes) -> None:
    data = exported(box(1), kind=suffix[1:])
    at %= len(data)
    try:
        mesh, _ = envelope_of_scan(data[:at] + junk + data[at + len(junk) :], suffix, scan())
    except EnvelopeError as error:
        found = error.found
    else:
        assert mesh.volume > 0
        return
    assert found


def test_a_header_that_promises_too_much() -> None:
    header = b"ply\nformat binary_little_endian 1.0\nelement vertex 99999999999\nproperty float x\n" \
             b"property float y\nproperty float z\nelement face 99999999999\n" \
             b"property list uchar int vertex_indices\nend_header\n"  # fmt: skip
    with pytest.raises(EnvelopeError, match="99999999999 triangles; allowed: at most 2500000"):
        read_triangles(header + b"\0" * 100, ".ply")


def test_a_thin_point_cloud_and_an_unknown_kind() -> None:
    cloud = trimesh.PointCloud(box().vertices / 1000).export(file_type="ply")
    assert refused(cloud, scan())[1].startswith("386 points; allowed: at least 500")
    assert refused(b"", scan(), ".dxf") == (("file",), ".dxf file type; allowed: .stl, .ply, .obj, .glb")
