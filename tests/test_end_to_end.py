"""The real command on the real demo files, and what it wrote read back by other libraries.

STEP is read by cascadio and trimesh, distances are fcl's, common volumes manifold3d's: none of them has a part in
how the layout was found.
"""

import json
import os
import subprocess
import sys
from dataclasses import dataclass
from itertools import combinations
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import trimesh
from ruamel.yaml import YAML

from packlayout.inputs.case import read_case
from packlayout.model.brief import Case
from packlayout.model.geometry import TriMesh
from packlayout.space.clearance import gap, solid
from tests.demo import BRIEFS, ROOT, SCAN_SCRIPT

STEEL_KG_PER_M3 = 7850
PROGRAM = [sys.executable, "-m", "packlayout.cli"]


def packlayout(*words: object, cwd: Path = ROOT) -> subprocess.CompletedProcess[str]:
    """Run the command as a user does."""
    return subprocess.run(
        [*PROGRAM, *map(str, words)], cwd=cwd, capture_output=True, text=True, timeout=600, check=False
    )


@dataclass(frozen=True)
class Job:
    """One demo brief, done."""

    brief: Path
    folder: Path
    ran: subprocess.CompletedProcess[str]
    fit: dict[str, Any]
    case: Case
    solids: dict[str, trimesh.Trimesh]


def read_step(path: Path, scratch: Path) -> dict[str, trimesh.Trimesh]:
    """Every solid of a STEP file by its name, mm, vehicle axes."""
    import cascadio

    target = scratch / "read-back.glb"
    cascadio.step_to_glb(str(path), str(target), tol_linear=0.005, tol_angular=0.05)
    scene = trimesh.load(target)
    found: dict[str, trimesh.Trimesh] = {}
    for node in scene.graph.nodes_geometry:
        matrix, name = scene.graph[node]
        mesh = scene.geometry[name].copy()
        mesh.apply_transform(matrix)
        mesh.apply_scale(1000)
        mesh.merge_vertices(merge_tex=True, merge_norm=True, digits_vertex=5)
        assert node not in found
        found[node] = mesh
    return found


@pytest.fixture(scope="module", params=BRIEFS, ids=lambda path: path.stem)
def job(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> Job:
    brief: Path = request.param
    if not SCAN_SCRIPT.with_name("scan.ply").is_file():
        subprocess.run([sys.executable, str(SCAN_SCRIPT)], check=True)
    folder = tmp_path_factory.mktemp(brief.stem) / "out"
    ran = packlayout("fit", brief, "--out", folder, "--json")
    assert ran.returncode == 0, ran.stderr
    solids = read_step(folder / "assembly.step", folder.parent)
    return Job(brief, folder, ran, json.loads(ran.stdout), read_case(brief), solids)


def manifold(mesh: trimesh.Trimesh | TriMesh) -> Any:
    import manifold3d

    made = manifold3d.Manifold(
        manifold3d.Mesh(np.asarray(mesh.vertices, dtype=np.float32), np.asarray(mesh.faces, dtype=np.uint32))
    )
    assert made.status() == manifold3d.Error.NoError
    return made


def frame_names(job: Job) -> set[str]:
    return {name for name in job.solids if name.split()[0] in ("cradle", "leg", "foot", "link")}


# ---------------------------------------------------------------- what was written


def test_every_file_of_the_pack_is_there(job: Job):
    names = {p.name for p in job.folder.iterdir()}
    assert {
        "layout-1.yaml",
        "assembly.step",
        "frame.step",
        "layout.glb",
        "report.html",
        "checks.json",
    } <= names
    assert not [n for n in names if n.startswith(".") or n.endswith(".tmp")]


def test_every_check_of_the_demo_holds(job: Job):
    checks = json.loads((job.folder / "checks.json").read_text())["checks"]
    assert len(checks) > 25
    assert [c["id"] for c in checks if c["verdict"] not in ("pass", "marginal")] == []


def test_the_assembly_has_one_solid_for_each_part_and_piece(job: Job):
    layout = YAML(typ="safe").load(job.folder / "layout-1.yaml")
    parts = {row["name"] for row in layout["placements"]}
    assert parts <= set(job.solids)
    assert set(job.solids) - parts == frame_names(job)


# ---------------------------------------------------------------- the STEP file against the figures


def test_bounding_boxes_agree_with_the_layout_file(job: Job):
    layout = YAML(typ="safe").load(job.folder / "layout-1.yaml")
    for row in layout["placements"]:
        low = job.solids[row["name"]].bounds[0]
        assert low == pytest.approx(row["at"], abs=0.1), row["name"]
    for row in job.fit["place"]["layouts"][0]["placements"]:
        box = row["box_mm"]
        found = job.solids[row["name"]].bounds
        assert found[0] == pytest.approx(box["min"], abs=0.1)
        assert found[1] == pytest.approx(box["max"], abs=0.1)
        # the pose says the same: origin + rotation @ corner
        turn, origin = np.array(row["rotation"]), np.array(row["origin_mm"])
        far = origin + turn @ np.array(row["size_mm"])
        assert np.minimum(origin, far) == pytest.approx(box["min"], abs=1e-6)


def test_mass_and_centre_of_gravity_agree_with_the_weighing(job: Job):
    """Frame: volume of the solids times the density of steel. Parts: catalogue mass at its own centre."""
    frame = frame_names(job)
    kg = {name: job.solids[name].volume * STEEL_KG_PER_M3 * 1e-9 for name in frame}
    at = {name: job.solids[name].center_mass for name in frame}
    for row in job.fit["place"]["layouts"][0]["placements"]:
        part = job.case.parts[row["part"]]
        own = np.array([c.value for c in part.centre_of_gravity])
        # where the part is comes from the solid: its box in the file, turned as the layout says
        turn = np.array(row["rotation"])
        middle = job.solids[row["name"]].bounds.mean(axis=0)
        kg[row["name"]] = part.mass_kg.value
        at[row["name"]] = middle + turn @ (own - np.array(part.box_size) / 2)
    total = sum(kg.values())
    cg = sum(kg[n] * np.asarray(at[n]) for n in kg) / total
    ledger = [r for r in job.fit["weigh"]["ledger"]["added"] if r["kind"] in ("part", "frame")]
    told = sum(r["mass_kg"]["value"] for r in ledger)
    told_cg = sum(r["mass_kg"]["value"] * np.array(r["position_mm"]["value"]) for r in ledger) / told
    assert total == pytest.approx(told, abs=0.1)
    assert cg == pytest.approx(told_cg, abs=0.1)


def test_frame_step_weighs_what_the_frame_says(job: Job, tmp_path: Path):
    solids = read_step(job.folder / "frame.step", tmp_path)
    assert set(solids) == frame_names(job)
    kg = sum(mesh.volume for mesh in solids.values()) * STEEL_KG_PER_M3 * 1e-9
    assert kg == pytest.approx(job.fit["frame"]["mass_kg"]["value"], rel=0.005)


# ---------------------------------------------------------------- nothing meets anything


def test_no_two_solids_share_volume(job: Job):
    bodies = {name: manifold(mesh) for name, mesh in job.solids.items()}
    for a, b in combinations(bodies, 2):
        p, q = job.solids[a].bounds, job.solids[b].bounds
        if np.all(np.minimum(p[1], q[1]) - np.maximum(p[0], q[0]) > -0.01):
            assert (bodies[a] ^ bodies[b]).volume() < 1.0, (a, b)


def test_no_solid_leaves_its_zone(job: Job):
    zones = {name: manifold(mesh) for name, mesh in job.case.zones.items()}
    places = {r["name"]: r["zone"] for r in job.fit["place"]["layouts"][0]["placements"]}
    pack = places["module 1"]
    for name, mesh in job.solids.items():
        outside = manifold(mesh) - zones[places.get(name, pack)]
        assert outside.volume() < 1.0, name


def test_no_solid_meets_a_keep_out(job: Job):
    keeps = {name: manifold(mesh) for name, mesh in job.case.keep_outs.items()}
    for name, mesh in job.solids.items():
        body = manifold(mesh)
        for keep, other in keeps.items():
            assert (body ^ other).volume() < 1.0, (name, keep)


def test_clearances_hold_by_the_collision_library(job: Job):
    """Parts against the body, keep-outs and each other; tubes against parts."""
    c = job.case.brief.clearances
    places = {r["name"]: r["zone"] for r in job.fit["place"]["layouts"][0]["placements"]}
    surfaces = {
        n: TriMesh(np.array(m.vertices), np.array(m.faces, dtype=np.int64)) for n, m in job.solids.items()
    }
    ready = {n: solid(n, mesh) for n, mesh in surfaces.items()}
    need = {"solid": c.body_mm, "moving": c.moving_mm, "hot": c.hot_mm}
    loose = [n for n in places if not n.startswith("module ")]
    for name in places:
        wall = solid(places[name], job.case.zones[places[name]])
        assert gap(ready[name], wall).distance_mm >= c.body_mm - 0.01, name
        for keep in job.case.vehicle.keep_outs:
            other = solid(keep.name, job.case.keep_outs[keep.name])
            assert gap(ready[name], other).distance_mm >= need[keep.kind] - 0.01, (name, keep.name)
    for a, b in combinations(loose, 2):
        assert gap(ready[a], ready[b]).distance_mm >= c.parts_mm - 0.01, (a, b)
    own = min(job.case.brief.frame.clearance_mm, job.case.brief.frame.liner_mm)
    for tube in frame_names(job):
        for name in places:
            assert gap(ready[tube], ready[name]).distance_mm >= own - 0.01, (tube, name)


# ---------------------------------------------------------------- editing by hand, determinism, stdout


def test_a_layout_edited_by_hand_is_read_back_and_judged(job: Job, tmp_path: Path):
    text = (job.folder / "layout-1.yaml").read_text()
    same = packlayout("weigh", job.brief, "--layout", job.folder / "layout-1.yaml", "--json", "--quiet")
    assert same.returncode == 0, same.stderr
    before = json.loads(same.stdout)
    assert before["states"] == job.fit["weigh"]["states"]
    # push the charger 40 mm rearward: the rear axle gains m * 40 / wheelbase
    layout = YAML(typ="safe").load(text)
    row = next(r for r in layout["placements"] if job.case.parts[r["part"]].kind == "charger")
    x = row["at"][0]
    spot = text.index(f"name: {row['name']}")
    old = text[text.index("at:", spot) :].split("\n", 1)[0]
    edited = tmp_path / "edited.yaml"
    edited.write_text(text.replace(old, f"at: [{x + 40}, {row['at'][1]}, {row['at'][2]}]", 1))
    after = json.loads(packlayout("weigh", job.brief, "--layout", edited, "--json", "--quiet").stdout)
    kg = job.case.parts[row["part"]].mass_kg.value
    gain = kg * 40 / job.case.vehicle.wheelbase_mm.value
    rear = [s["states"][1]["axle_kg"]["rear"]["value"] for s in (before, after)]
    assert rear[1] - rear[0] == pytest.approx(gain, abs=1e-6)


def test_two_runs_write_the_same_bytes(job: Job, tmp_path: Path):
    if job.brief.stem != "boatyard":
        pytest.skip("once is enough: the smallest demo")
    again = packlayout("fit", job.brief, "--out", tmp_path / "again", "--quiet")
    assert again.returncode == 0
    for one in sorted(job.folder.iterdir()):
        two = tmp_path / "again" / one.name
        if one.suffix in (".yaml", ".step", ".glb", ".json", ".html"):
            assert one.read_bytes() == two.read_bytes(), one.name


def test_json_is_alone_on_stdout(job: Job):
    assert job.ran.stdout.startswith("{")
    assert set(job.fit) >= {"place", "weigh", "frame", "checks", "files"}
    assert "placing" in job.ran.stderr


def test_pictures_are_left_out_with_one_line_where_there_is_no_opengl(tmp_path: Path):
    # a way of drawing that is not on this machine: VTK does not raise then, it ends the process
    env = {**os.environ, "VTK_DEFAULT_OPENGL_WINDOW": "vtkOSOpenGLRenderWindow"}
    ran = subprocess.run(
        [*PROGRAM, "report", str(ROOT / "bays/tarnbeck-pickup/boatyard.yaml"), "--out", str(tmp_path / "o")],
        env=env, capture_output=True, text=True, timeout=300, check=False,
    )  # fmt: skip
    assert ran.returncode == 0, ran.stderr
    assert (tmp_path / "o" / "report.html").is_file()
    assert not list((tmp_path / "o").glob("*.png"))
    assert len([line for line in ran.stderr.splitlines() if "picture" in line and "left out" in line]) == 1
