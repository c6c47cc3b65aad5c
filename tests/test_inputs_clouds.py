"""Raw clouds of points: cleaned, closed, laid in a surface, and what is refused."""

from typing import Any

import numpy as np
import pytest
import trimesh
from hypothesis import given, settings
from hypothesis import strategies as st

from packlayout.inputs.clouds import read_points, surface_of_cloud
from packlayout.inputs.scans import scanned
from packlayout.inputs.scatter import scatter_of
from packlayout.inputs.tets import level_surface
from packlayout.model.geometry import Floats, TriMesh
from packlayout.model.vehicle import MeshFile
from packlayout.space.cells import free_space, winding
from packlayout.space.envelope import EnvelopeError, is_closed, loft

ROOM = trimesh.creation.box(extents=[1000, 800, 600])
LEGS = (
    (-300.0, 300.0), (300.0, 300.0), (310.0, 350.0), (420.0, 350.0), (400.0, 900.0), (-400.0, 900.0),
    (-420.0, 350.0), (-310.0, 350.0),
)  # fmt: skip


def cloud(mesh: Any, count: int, noise: float = 0.0, seed: int = 1) -> Floats:
    """Points at random on a surface, each moved at random."""
    rng = np.random.default_rng(seed)
    t = np.asarray(mesh.vertices)[np.asarray(mesh.faces)]
    area = np.linalg.norm(np.cross(t[:, 1] - t[:, 0], t[:, 2] - t[:, 0]), axis=1)
    face = rng.choice(len(t), count, p=area / area.sum())
    r, s = np.sqrt(rng.random((count, 1))), rng.random((count, 1))
    points = t[face, 0] * (1 - r) + t[face, 1] * r * (1 - s) + t[face, 2] * r * s
    return points + rng.normal(0, noise, (count, 3))


def refused(points: Floats, widest: float = 150.0) -> EnvelopeError:
    with pytest.raises(EnvelopeError) as caught:
        surface_of_cloud(points, widest)
    return caught.value


def without(points: Floats, at: tuple[float, float, float], radius: float) -> Floats:
    """Tear a hole."""
    return points[np.linalg.norm(points - np.array(at), axis=1) > radius]


# ---- by hand


def test_a_box_of_points_is_a_box_again():
    mesh, notes, scatter = surface_of_cloud(cloud(ROOM, 50_000, 1.0), 150.0)
    assert is_closed(mesh.faces)
    assert mesh.volume == pytest.approx(1000 * 800 * 600, rel=0.01)
    assert mesh.bounds.lo == pytest.approx(
        (-500, -400, -300), abs=8
    )  # corners, where three planes meet, come out least well
    assert mesh.bounds.hi == pytest.approx(
        (500, 400, 300), abs=8
    )  # corners, where three planes meet, come out least well
    assert scatter == pytest.approx(2.0, abs=0.8)  # two deviations of 1 mm hold 95 %
    assert notes[0].startswith("a cloud of 50000 points, about ")
    assert notes[-1] == f"95 % of the points lie within {scatter:.1f} mm of the surface"


def test_strays_islands_and_no_numbers_are_left_out_and_told():
    rng = np.random.default_rng(3)
    island = rng.normal(0, 6, (150, 3)) + np.array([720.0, 0, 0])
    strays = rng.uniform(-300, 300, (40, 3)) * [1.4, 1.1, 0.8]
    dirt = np.array([[np.nan, 0, 0], [0, np.inf, 0]])
    points = np.concatenate([cloud(ROOM, 50_000, 0.5), island, strays, dirt])
    mesh, notes, _ = surface_of_cloud(points, 150.0)
    assert mesh.volume == pytest.approx(1000 * 800 * 600, rel=0.01)
    assert "left out 2 points that are no numbers" in notes
    assert any(note.endswith("points that stand astray") for note in notes)
    told = next(note for note in notes if "stray island" in note)
    assert "mm across at (7" in told


def test_a_gap_is_closed_flat_and_told():
    torn = without(cloud(ROOM, 50_000, 0.5), (500, 0, 0), 55)
    mesh, notes, _ = surface_of_cloud(torn, 150.0)
    assert mesh.bounds.hi[0] == pytest.approx(500, abs=8)
    told = next(
        note for note in notes if note.startswith("closed gaps between the points, the widest about ")
    )
    assert 90 <= float(told.split("about ")[1].split(" mm")[0]) <= 140
    x, y, z = (float(v) for v in told.split("(")[1].rstrip(")").split(","))
    assert np.linalg.norm([x - 500, y, z]) < 40


def test_a_post_within_the_space_stays_in_the_way():
    """A thin post that a scanner saw from outside it: the space must not run through it."""
    post = trimesh.creation.cylinder(radius=20, height=600)
    points = np.concatenate([cloud(ROOM, 60_000, 0.5), cloud(post, 3000, 0.5)])
    mesh, _, _ = surface_of_cloud(points, 150.0)
    assert winding(mesh, np.array([0.0, 0, 0])) < 0.5 or _near(mesh, (0, 0, 0)) <= 21
    assert winding(mesh, np.array([60.0, 0, 0])) > 0.5
    space = free_space("bay", mesh, 10.0, [], 10.0)
    cells = np.array(space.origin) + (np.argwhere(space.free) + 0.5) * 10
    away = np.linalg.norm(cells[:, :2], axis=1)
    assert away[np.abs(cells[:, 2]) < 280].min() > 25


def _near(mesh: TriMesh, at: tuple[float, float, float]) -> float:
    surface = trimesh.Trimesh(mesh.vertices, mesh.faces, process=False)
    return float(trimesh.proximity.closest_point(surface, [at])[1][0])


def test_scatter_does_not_count_the_bend_of_a_surface():
    ball = trimesh.creation.icosphere(subdivisions=5, radius=300).vertices
    assert scatter_of(ball) < 0.1
    noisy = ball + np.random.default_rng(2).normal(0, 1.5, ball.shape)
    assert scatter_of(noisy) == pytest.approx(3.0, rel=0.15)
    assert scatter_of(ball[:500]) == 0.0


def test_a_ball_as_a_level_of_its_distance():
    grid = np.stack(np.meshgrid(*[np.arange(-60.0, 61, 5)] * 3, indexing="ij"), axis=-1)
    mesh = level_surface(np.linalg.norm(grid, axis=-1) - 50, (-60.0, -60.0, -60.0), 5.0)
    assert is_closed(mesh.faces)
    assert mesh.volume == pytest.approx(4 / 3 * np.pi * 50**3, rel=0.01)


def test_text_with_a_head_and_more_columns():
    text = b"x y z r g b\n1 2 3 255 0 0\n4,5,6,0,0,0\n7;8;9;1;1;1\n"
    assert read_points(text).tolist() == [[1, 2, 3], [4, 5, 6], [7, 8, 9]]


# ---- reference: the surface the points were taken from


@pytest.mark.parametrize("noise", [0.5, 2.0])
def test_what_is_free_in_a_noisy_cloud_is_free_in_truth(noise):
    """Random points of cells free at worst case, against exact distances from the true surface: none too near."""
    true = loft([(-400.0, LEGS), (0.0, LEGS), (500.0, LEGS)])
    mesh, _, scatter = surface_of_cloud(cloud(true, 80_000, noise), 150.0)
    space = free_space("bay", mesh, 10.0 + 1.5 * scatter, [], 10.0)
    cells = np.argwhere(space.free)
    rng = np.random.default_rng(1)
    at = np.array(space.origin) + (cells[rng.integers(len(cells), size=2000)] + rng.random((2000, 3))) * 10
    exact = trimesh.Trimesh(true.vertices, true.faces, process=False)
    away = trimesh.proximity.closest_point(exact, at)[1]
    assert (away >= 10.0).all()
    assert all(winding(true, point) > 0.5 for point in at[::10])
    whole = free_space("bay", true, 10.0, [], 10.0)
    assert space.free.sum() > 0.85 * whole.free.sum()  # and not much is lost


# ---- invariant


@settings(max_examples=5, deadline=None)
@given(st.integers(0, 10_000))
def test_any_field_has_a_closed_surface(seed):
    field = np.random.default_rng(seed).normal(size=(9, 8, 7))
    for axis in range(3):
        view = np.moveaxis(field, axis, 0)
        view[0] = view[-1] = 1.0
    mesh = level_surface(field, (0.0, 0.0, 0.0), 1.0)
    assert not len(mesh.faces) or (is_closed(mesh.faces) and mesh.volume > 0)


def test_the_order_of_the_points_and_their_normals_do_not_matter():
    points = cloud(ROOM, 20_000, 1.0)
    ahead, _, _ = surface_of_cloud(points, 150.0)
    back, _, _ = surface_of_cloud(points[::-1], 150.0)
    assert ahead.volume == pytest.approx(back.volume, rel=1e-3)


def test_a_ply_without_triangles_is_a_cloud_and_its_normals_are_not_used():
    points = cloud(ROOM, 20_000, 1.0)
    wrong = np.random.default_rng(5).normal(size=points.shape)
    rows = np.concatenate([points, wrong], axis=1)
    head = "ply\nformat ascii 1.0\nelement vertex 20000\n" + "".join(
        f"property float {name}\n" for name in ("x", "y", "z", "nx", "ny", "nz")
    )
    text = head + "end_header\n" + "\n".join(" ".join(f"{v:.3f}" for v in row) for row in rows) + "\n"
    corners = [[-500.0, -400, -300], [500, -400, -300], [-500, 400, -300], [-500, -400, 300]]
    record = MeshFile.model_validate(
        {"file": "a.ply", "unit": "mm", "reference": [{"scan": c, "vehicle": c} for c in corners]}
    )
    made = scanned(text.encode(), ".ply", record)
    assert made.mesh.volume == pytest.approx(1000 * 800 * 600, rel=0.015)
    assert any("normals in the file are not used" in note for note in made.notes)
    as_text = "\n".join(" ".join(f"{v:.3f}" for v in row) for row in points)
    assert scanned(as_text.encode(), ".xyz", record).mesh.volume == pytest.approx(made.mesh.volume, rel=1e-3)


# ---- refusal


def test_an_open_cloud_says_how_wide_and_where():
    points = cloud(ROOM, 40_000, 0.5)
    error = refused(points[points[:, 2] < 295])  # no lid
    assert error.where == ("file",)
    assert error.found.startswith("the cloud is open, about ")
    assert 600 <= float(error.found.split("about ")[1].split(" mm")[0]) <= 1000  # the lid is 800 mm wide
    assert "vehicle axes" in error.found


def test_one_flat_sheet_encloses_nothing():
    sheet = np.random.default_rng(0).uniform(-400, 400, (5000, 3)) * [1, 1, 0.001]
    assert refused(sheet).found == "the points enclose no space"


def test_too_few_points():
    assert refused(cloud(ROOM, 100)).found == "100 points"


@pytest.mark.parametrize("text", [b"", b"a b c\nd e f\n", b"1 2\n3 4\n", b"1 2 3\nx\n", b"\xff\xfe\x00"])
def test_text_that_is_no_cloud(text):
    with pytest.raises(EnvelopeError):
        read_points(text)
