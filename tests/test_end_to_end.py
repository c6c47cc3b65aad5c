"""The real command on the real demo files, and what it wrote read back by other libraries.

STEP is read by cascadio and trimesh, distances are fcl's, common volumes manifold3d's: none of them has a part in
how the layout was found.
"""

import csv
import io
import json
import os
import subprocess
import sys
from dataclasses import dataclass, replace
from itertools import combinations
from math import pi
from pathlib import Path
from typing import Any

import ezdxf
import numpy as np
import pytest
import shapely
import trimesh
from pypdf import PdfReader
from ruamel.yaml import YAML

from packlayout.inputs.case import read_case
from packlayout.model.brief import Case
from packlayout.model.geometry import TriMesh
from packlayout.space.clearance import gap, solid
from tests.demo import BRIEFS, ROOT, SCAN_SCRIPT
from tests.harness_distance import conduits, crossing, harness, outside, surroundings, too_near, too_tight
from tests.test_export_drawings import vectors

STEEL_KG_PER_M3 = 7850
PROGRAM = [sys.executable, "-m", "packlayout.cli"]


def packlayout(*words: object, **environment: str) -> subprocess.CompletedProcess[str]:
    """Run the command as a user does."""
    return subprocess.run(
        [*PROGRAM, *map(str, words)], cwd=ROOT, env={**os.environ, **environment}, capture_output=True, text=True,
        timeout=600, check=False,
    )  # fmt: skip


@dataclass(frozen=True)
class Job:
    """One demo brief, done."""

    brief: Path
    folder: Path
    ran: subprocess.CompletedProcess[str]
    fit: dict[str, Any]
    case: Case
    solids: dict[str, trimesh.Trimesh]
    bodies: dict[str, Any]


# of the triangles from the true surface, mm, and from each other, radians: the next finer step makes a cable of a
# million triangles, and changes the mass of the frame by 2 g
TOLERANCE_MM, TOLERANCE_RAD = 0.02, 0.15


def read_step(path: Path, scratch: Path) -> dict[str, trimesh.Trimesh]:
    """Every solid of a STEP file by its name, mm, vehicle axes."""
    import cascadio

    target = scratch / "read-back.glb"
    cascadio.step_to_glb(str(path), str(target), tol_linear=TOLERANCE_MM, tol_angular=TOLERANCE_RAD)
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
    bodies = {name: manifold(mesh) for name, mesh in solids.items()}
    return Job(brief, folder, ran, json.loads(ran.stdout), read_case(brief), solids, bodies)


def manifold(mesh: trimesh.Trimesh | TriMesh) -> Any:
    import manifold3d

    made = manifold3d.Manifold(
        manifold3d.Mesh(np.asarray(mesh.vertices, dtype=np.float32), np.asarray(mesh.faces, dtype=np.uint32))
    )
    assert made.status() == manifold3d.Error.NoError
    return made


def frame_names(job: Job) -> set[str]:
    return {name for name in job.solids if name.split()[0] in ("cradle", "leg", "foot", "link", "bracket")}


def harness_names(job: Job) -> set[str]:
    laid = [run for run in job.fit["wire"]["runs"] if run["path_mm"]]
    return {run["name"] for run in laid} | {p["name"] for run in laid for p in run["conduit_pieces"]}


def hard(job: Job) -> dict[str, trimesh.Trimesh]:
    """All solids but cables and hoses, which end at ports and leave the zones by their ways."""
    return {name: mesh for name, mesh in job.solids.items() if name not in harness_names(job)}


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


def test_each_layout_offered_tells_its_cables_shaft_and_price(job: Job):
    """The cable of the first as first drawn is near that of its schedule; none is shorter than its ports are apart."""
    rows = [row["objectives"] for row in job.fit["place"]["layouts"]]
    if len(rows) < 2:
        return
    assert min(row["price_over_least_percent"] for row in rows) == 0.0
    assert all(row["price"] > 0 and row["shaft_angle_deg"] > 0 for row in rows)
    assert rows[0]["cables_without_way"] == min(row["cables_without_way"] for row in rows)
    laid = sum(run["length_mm"] for run in job.fit["wire"]["runs"] if run["kind"] == "HV")
    assert rows[0]["routed_cable_length_mm"] == pytest.approx(laid, rel=0.25)


def test_the_assembly_has_one_solid_for_each_part_and_piece(job: Job):
    layout = YAML(typ="safe").load(job.folder / "layout-1.yaml")
    parts = {row["name"] for row in layout["placements"]}
    assert parts <= set(job.solids)
    assert set(job.solids) - parts == frame_names(job) | harness_names(job)


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


def test_the_cut_list_weighs_what_the_solids_weigh(job: Job):
    """Every tube by the length of its middle line and by its listed mass, to half a per cent."""
    rows = list(csv.DictReader(io.StringIO((job.folder / "cut-list.csv").read_bytes().decode())))
    tubes = {m["name"] for m in job.fit["frame"]["members"]}
    solids = sum(job.solids[name].volume for name in tubes) * STEEL_KG_PER_M3 * 1e-9
    listed = sum(int(r["quantity"]) * float(r["mass_each_kg"]) for r in rows)
    area = {s.name: s.area_mm2 for s in job.case.sections.values()}
    long = sum(int(r["quantity"]) * float(r["centre_length_mm"]) * area[r["section"]] for r in rows)
    assert listed == pytest.approx(solids, rel=0.005)
    assert long * STEEL_KG_PER_M3 * 1e-9 == pytest.approx(solids, rel=0.005)


def test_every_plate_is_cut_as_its_solid_is(job: Job):
    """Closed outlines, their area that of the solid over its thickness, holes where the frame has them."""
    plates = {p["name"]: p for p in job.fit["frame"]["plates"]}
    rows = csv.DictReader(io.StringIO((job.folder / "bill-of-materials.csv").read_bytes().decode()))
    marks = {r["what"].split(",")[0]: int(r["quantity"]) for r in rows if r["sort"] == "plate"}
    assert sum(marks.values()) == len(plates)
    drawn: list[tuple[float, list[tuple[float, float, float]], int]] = []
    for mark, count in marks.items():
        space = ezdxf.readfile(job.folder / "plates" / f"{mark}.dxf").modelspace()
        lines = [e for e in space if e.dxftype() == "LWPOLYLINE" and e.dxf.layer == "CUT"]
        assert all(line.closed for line in lines), mark
        holes = [(e.dxf.center.x, e.dxf.center.y, 2 * e.dxf.radius) for e in space if e.dxftype() == "CIRCLE"]
        area = sum(shapely.Polygon([(x, y) for x, y, *_ in line.get_points()]).area for line in lines)
        drawn.append((area - sum(pi / 4 * d * d for _, _, d in holes), sorted(holes), count))
    for name, plate in plates.items():
        area = job.solids[name].volume / plate["size_mm"][2]
        wanted = sorted((h["x"], h["y"], h["diameter"]) for h in plate["holes_mm"])
        assert any(
            one == pytest.approx(area, rel=0.001) and len(holes) == len(wanted)
            and np.allclose(np.array(holes), np.array(wanted), atol=0.01)
            for one, holes, _ in drawn
        ), name  # fmt: skip


def test_the_glb_holds_every_name(job: Job):
    scene = trimesh.load_scene(job.folder / "layout.glb")
    assert set(job.solids) <= set(scene.geometry)


def test_the_drawings_are_to_scale(job: Job):
    """The border of an A3 sheet by ISO 5457, measured in the vectors of the first page."""
    page = PdfReader(job.folder / "drawings.pdf").pages[0]
    assert [float(v) * 25.4 / 72 for v in page.mediabox[2:]] == pytest.approx([420.0, 297.0], abs=0.01)
    sizes = [np.ptp(np.array(path), axis=0) for path in vectors(page) if len(path) == 5]
    assert any(np.allclose(size, (390.0, 277.0), atol=0.001) for size in sizes)
    assert "ISO 2768-m" in page.extract_text()


def test_cables_are_as_long_in_the_file_as_in_the_schedule(job: Job):
    """Volume of each solid over its section against the length listed; and it meets nothing but what it joins."""
    runs = {run["name"]: run for run in job.fit["wire"]["runs"] if run["path_mm"]}
    others = [(name, job.bodies[name]) for name in hard(job)]
    for name, run in runs.items():
        section = pi / 4 * run["diameter_mm"] ** 2
        assert job.solids[name].volume / section == pytest.approx(run["length_mm"], rel=0.02), name
        own = {run["from"].split(":")[0], run["to"].split(":")[0]}
        for other, body in others:
            if other not in own:
                assert (job.bodies[name] ^ body).volume() < 1.0, (name, other)


def test_conduit_is_as_long_in_the_file_as_it_is_bought(job: Job):
    """Each piece a tube of its own, as long as listed; none meets its own cable or anything hard; the bill has the sum."""
    others = [(name, job.bodies[name]) for name in hard(job)]
    bought: dict[str, float] = {}
    for run in job.fit["wire"]["runs"]:
        for piece in run["conduit_pieces"]:
            section = pi / 4 * (piece["outside_mm"] ** 2 - piece["inside_mm"] ** 2)
            assert job.solids[piece["name"]].volume / section == pytest.approx(piece["length_mm"], rel=0.02)
            for other, body in [*others, (run["name"], job.bodies[run["name"]])]:
                assert (job.bodies[piece["name"]] ^ body).volume() < 1.0, (piece["name"], other)
            name = f"conduit {run['conduit']}"
            bought[name] = bought.get(name, 0.0) + piece["length_mm"] / 1000
    with (job.folder / "bill-of-materials.csv").open(encoding="utf-8-sig", newline="") as file:
        rows = {row["what"]: row for row in csv.DictReader(file) if row["sort"] == "conduit"}
    assert rows.keys() == bought.keys()
    for name, metres in bought.items():
        assert float(rows[name]["quantity"]) == pytest.approx(metres, abs=0.006)
        price = next(float(value) for column, value in rows[name].items() if column.startswith("price_"))
        assert price > 0


# ---------------------------------------------------------------- nothing meets anything


def test_cables_keep_their_gaps_and_bends_by_the_collision_library(job: Job):
    """The whole harness against every part, tube, bracket, keep-out and zone; bends as IEC 62440 asks, 3 D or 4 D."""
    vehicle, sizes = job.case.vehicle, {s.area_mm2: s.diameter_mm for s in job.case.tables.cables.sizes}
    tubes = conduits(job.fit["wire"])
    runs = [*harness(job.fit["wire"], [end.name for end in vehicle.cable_ends]), *tubes]
    assert len(runs) > 8
    assert len(tubes) >= 2
    solids, zones = surroundings(job.case, hard(job), frame_names(job))
    ways = [(np.minimum(w.corner, w.opposite), np.maximum(w.corner, w.opposite)) for w in vehicle.cable_ways]
    assert [*too_near(runs, solids), *outside(runs, zones, ways), *too_tight(runs), *crossing(runs)] == []
    closer = [replace(solid, gap_mm=solid.gap_mm + 15) for solid in solids]
    assert next(too_near(runs, closer), "") != ""  # the measure tells what is too near
    for run in (r for r in runs if r.get("cores")):
        outside_mm = run["diameter_mm"] if run["kind"] == "signal" else sizes[run["area_mm2"]]
        assert run["bend_mm"] >= (3 if outside_mm <= 12 else 4) * outside_mm + run["diameter_mm"] / 2 - 1e-6


def test_no_two_solids_share_volume(job: Job):
    for a, b in combinations(hard(job), 2):
        p, q = job.solids[a].bounds, job.solids[b].bounds
        if np.all(np.minimum(p[1], q[1]) - np.maximum(p[0], q[0]) > -0.01):
            assert (job.bodies[a] ^ job.bodies[b]).volume() < 1.0, (a, b)


def test_no_solid_leaves_its_zone(job: Job):
    zones = {name: manifold(mesh) for name, mesh in job.case.zones.items()}
    places = {r["name"]: r["zone"] for r in job.fit["place"]["layouts"][0]["placements"]}
    pack = places["module 1"]
    for name in hard(job):
        held = next(
            (n for n in sorted(places, key=len, reverse=True) if name.startswith(f"bracket {n} ")), None
        )
        outside = job.bodies[name] - zones[places.get(held or name, pack)]
        assert outside.volume() < 1.0, name


def test_no_solid_meets_a_keep_out(job: Job):
    keeps = {name: manifold(mesh) for name, mesh in job.case.keep_outs.items()}
    for name, body in job.bodies.items():
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
    carried = {f"bracket {b['parts'][0]} ": set(b["parts"]) for b in job.fit["frame"]["brackets"]}
    for tube in frame_names(job):
        # a bracket is bolted to what it carries
        bolted = next((parts for start, parts in carried.items() if tube.startswith(start)), set())
        for name in places.keys() - bolted:
            assert gap(ready[tube], ready[name]).distance_mm >= own - 0.01, (tube, name)


# ---------------------------------------------------------------- editing by hand, determinism, stdout


def test_a_layout_read_back_weighs_the_same(job: Job):
    if job.brief.stem != "boatyard":
        pytest.skip("once is enough: the smallest demo")
    same = packlayout("weigh", job.brief, "--layout", job.folder / "layout-1.yaml", "--json", "--quiet")
    assert same.returncode == 0, same.stderr
    assert json.loads(same.stdout)["states"] == job.fit["weigh"]["states"]


def test_a_layout_read_back_where_there_is_no_opengl_lacks_the_pictures_alone(job: Job, tmp_path: Path):
    if job.brief.stem != "boatyard":
        pytest.skip("once is enough: the smallest demo")
    # a way of drawing that is not on this machine: VTK does not raise then, it ends the process
    ran = packlayout("fit", job.brief, "--layout", job.folder / "layout-1.yaml", "--out", tmp_path / "o", "--json",
                     VTK_DEFAULT_OPENGL_WINDOW="vtkOSOpenGLRenderWindow")  # fmt: skip
    assert ran.returncode == 0, ran.stderr
    assert len([line for line in ran.stderr.splitlines() if "picture" in line and "left out" in line]) == 1
    assert json.loads(ran.stdout)["weigh"]["states"] == job.fit["weigh"]["states"]
    written, whole = ({p.name for p in folder.iterdir()} for folder in (tmp_path / "o", job.folder))
    lacking = {name for name in whole - written if not name.startswith("layout-")}
    assert lacking
    assert {Path(name).suffix for name in lacking} == {".png"}


def test_a_layout_edited_by_hand_is_read_back_and_judged(job: Job, tmp_path: Path):
    """The charger is pushed 40 mm rearward: the rear axle gains m * 40 / wheelbase."""
    if job.brief.stem != "boatyard":
        pytest.skip("once is enough: the smallest demo")
    text = (job.folder / "layout-1.yaml").read_text()
    before = job.fit["weigh"]
    layout = YAML(typ="safe").load(text)
    row = next(r for r in layout["placements"] if job.case.parts[r["part"]].kind == "charger")
    x = row["at"][0]
    spot = text.index(f"name: {row['name']}")
    old = text[text.index("at:", spot) :].split("\n", 1)[0]
    edited = tmp_path / "edited.yaml"
    edited.write_text(text.replace(old, f"at: [{x + 40}, {row['at'][1]}, {row['at'][2]}]", 1))
    after = json.loads(packlayout("weigh", job.brief, "--layout", edited, "--json", "--quiet").stdout)
    kg = job.case.parts[row["part"]].mass_kg.value
    gain = (kg * 40 + moment_of_made(after) - moment_of_made(before)) / job.case.vehicle.wheelbase_mm.value
    rear = [s["states"][1]["axle_kg"]["rear"]["value"] for s in (before, after)]
    assert rear[1] - rear[0] == pytest.approx(gain, abs=1e-6)


def moment_of_made(weighed: dict[str, Any]) -> float:
    """Of frame, cables and shaft about the front axle, kg mm: cables follow the part they end at."""
    rows = [r for r in weighed["ledger"]["added"] if r["kind"] != "part"]
    return sum(r["mass_kg"]["value"] * r["position_mm"]["value"][0] for r in rows)


def test_a_layout_is_judged_or_held_not_both(tmp_path: Path):
    ran = packlayout("place", BRIEFS[0], "--layout", "a.yaml", "--hold", "b.yaml")
    assert ran.returncode == 2
    assert "one of the two" in ran.stderr


def test_screen_tells_what_is_wrong_with_kit_and_vehicles(tmp_path: Path):
    ran = packlayout("screen", "kits/eight-modules.yaml", "bays/nowhere", "bays/nobody")
    assert ran.returncode == 2
    assert "nowhere" in ran.stderr
    assert "nobody" in ran.stderr
    assert "Traceback" not in ran.stderr


def test_json_is_alone_on_stdout(job: Job):
    assert job.ran.stdout.startswith("{")
    assert set(job.fit) >= {"place", "weigh", "frame", "wire", "drive", "checks", "files"}
    assert "placing" in job.ran.stderr
