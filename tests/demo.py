"""The demo data of this repository, read without the package's own reader."""

import runpy
import subprocess
import sys
from functools import cache
from pathlib import Path
from typing import Any

import pytest
import trimesh
from pydantic import TypeAdapter
from ruamel.yaml import YAML

from packlayout.model.brief import Brief
from packlayout.model.catalogue import PART, Conventions, MaterialTable, Part, ThreadTable, TubeTable
from packlayout.model.vehicle import Vehicle, Zone
from packlayout.space import envelope

ROOT = Path(__file__).parents[1]
PARTS = sorted((ROOT / "modules").glob("*.yaml"))
VEHICLES = sorted((ROOT / "bays").glob("*/vehicle.yaml"))
BRIEFS = sorted(path for path in (ROOT / "bays").glob("*/*.yaml") if path.name != "vehicle.yaml")
CODES = sorted((ROOT / "shared" / "design-codes").glob("*.yaml"))
TABLES: dict[str, Any] = {
    "tubes": TubeTable, "materials": MaterialTable, "fasteners": ThreadTable, "conventions": Conventions,
}  # fmt: skip
SCAN_SCRIPT = ROOT / "bays" / "brindlow-van" / "make_scan.py"

each_part = pytest.mark.parametrize("path", PARTS, ids=lambda path: path.stem)
each_vehicle = pytest.mark.parametrize("path", VEHICLES, ids=lambda path: path.parent.name)
each_brief = pytest.mark.parametrize("path", BRIEFS, ids=lambda path: path.stem)


def plain(path: Path) -> Any:
    return YAML(typ="safe").load(path)


def held(kind: Any, path: Path) -> Any:
    """The record a file holds, by the names a file uses."""
    adapter = kind if isinstance(kind, TypeAdapter) else TypeAdapter(kind)
    return adapter.validate_python(plain(path), by_alias=True, by_name=False)


@cache
def part(name: str) -> Part:
    return held(PART, ROOT / "modules" / f"{name}.yaml")


@cache
def vehicle(path: Path) -> Vehicle:
    return held(Vehicle, path)


@cache
def brief(path: Path) -> Brief:
    return held(Brief, path)


@cache
def table(name: str) -> Any:
    return held(TABLES[name], ROOT / "shared" / f"{name}.yaml")


@cache
def scan_script() -> dict[str, Any]:
    return runpy.run_path(str(SCAN_SCRIPT))


def surface(zone: Zone) -> trimesh.Trimesh:
    """The free space of a zone; for a scan the shape that the scan was made from."""
    if zone.stations is not None:
        made = envelope.loft([(station.x, station.outline) for station in zone.stations])
    elif zone.box is not None:
        made = envelope.box(zone.box.corner, zone.box.opposite)
    else:
        return trimesh.Trimesh(*scan_script()["clean_surface"](), process=False)
    return trimesh.Trimesh(made.vertices, made.faces, process=False)


def run(script: Path, target: Path) -> bytes:
    """What a kept script writes."""
    subprocess.run([sys.executable, str(script), str(target)], check=True, timeout=120)
    return target.read_bytes()
