"""The rules that the repository sets itself."""

import ast
import re
import tomllib
from pathlib import Path
from typing import Any

import pytest

ROOT = Path(__file__).parents[1]
SOURCES = sorted((ROOT / "packlayout").rglob("*.py"))
MODULES = [path.relative_to(ROOT).as_posix() for path in SOURCES]
LONGEST_FILE = 400


@pytest.fixture(scope="module")
def project() -> dict[str, Any]:
    return tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))


def parse_requirement(requirement: str) -> tuple[str, str]:
    """Name in its normal form, and all that follows it."""
    match = re.match(r"[A-Za-z0-9._-]+", requirement)
    assert match, f"not a requirement: {requirement!r}"
    return re.sub(r"[-_.]+", "-", match.group()).lower(), requirement[match.end() :]


def requirements(project: dict[str, Any]) -> list[str]:
    return project["project"]["dependencies"] + project["project"]["optional-dependencies"]["dev"]


def test_the_package_is_found() -> None:
    assert "packlayout/__init__.py" in MODULES


@pytest.mark.parametrize("path", SOURCES, ids=MODULES)
def test_files_stay_short(path: Path) -> None:
    lines = len(path.read_text(encoding="utf-8").splitlines())
    assert lines <= LONGEST_FILE, f"{path.name} has {lines} lines: make it a folder"


def test_no_drawer_for_odds_and_ends() -> None:
    vague = [name for name in MODULES if name.rsplit("/", 1)[-1] in {"utils.py", "helpers.py", "base.py"}]
    assert not vague, "name them after the idea they hold"


@pytest.mark.parametrize("path", SOURCES, ids=MODULES)
def test_imports_are_absolute_and_named(path: Path) -> None:
    froms = [
        node for node in ast.walk(ast.parse(path.read_bytes(), str(path))) if isinstance(node, ast.ImportFrom)
    ]
    assert not [node.lineno for node in froms if node.level], "relative import"
    assert not [node.lineno for node in froms if any(alias.name == "*" for alias in node.names)], (
        "star import"
    )


def test_the_package_itself_imports_nothing() -> None:
    tree = ast.parse((ROOT / "packlayout" / "__init__.py").read_bytes())
    assert not [node for node in ast.walk(tree) if isinstance(node, ast.Import | ast.ImportFrom)]


def test_constraints_are_names_and_versions_only() -> None:
    lines = (ROOT / "constraints.txt").read_text(encoding="utf-8").splitlines()
    odd = [line for line in lines if not re.fullmatch(r"[A-Za-z0-9._-]+==[0-9A-Za-z.]+", line)]
    assert lines
    assert not odd
    names = [parse_requirement(line)[0] for line in lines]
    assert len(set(names)) == len(names), "a name stands twice"
    assert "packlayout" not in names


def test_each_dependency_has_a_lower_bound_and_a_known_good_version(project: dict[str, Any]) -> None:
    lines = (ROOT / "constraints.txt").read_text(encoding="utf-8").splitlines()
    known_good = {name: rest.removeprefix("==") for name, rest in map(parse_requirement, lines)}
    for requirement in requirements(project):
        name, rest = parse_requirement(requirement)
        bound = re.match(r">=(\d+(?:\.\d+)*)", rest)
        assert bound, f"{requirement!r} has no lower bound"
        assert name in known_good, f"constraints.txt lacks {name}"
        least = [int(piece) for piece in bound.group(1).split(".")]
        given = [int(piece) for piece in re.findall(r"\d+", known_good[name])]
        assert given >= least, f"constraints.txt has {name} {known_good[name]}, below {bound.group()}"


def test_the_import_ladder_is_held(project: dict[str, Any]) -> None:
    contracts = {contract["id"]: contract for contract in project["tool"]["importlinter"]["contracts"]}
    ladder = contracts["ladder"]
    assert ladder["type"] == "layers"
    assert ladder["containers"] == ["packlayout"]
    assert ladder["exhaustive"] is True
    rungs = [{name.strip(" ()") for name in layer.split("|")} for layer in ladder["layers"]]
    assert rungs == [
        {"cli"},
        {"desk"},
        {"inputs", "export"},
        {"screening"},
        {"study"},
        {"choosing"},
        {"mending"},
        {"stages"},
        {"placement", "frame", "electrical", "drive", "price"},
        {"space", "mass"},
        {"model"},
        {"units", "errors"},
    ]


def test_each_library_has_its_owners(project: dict[str, Any]) -> None:
    contracts = project["tool"]["importlinter"]["contracts"]
    held = {
        name
        for contract in contracts
        if contract["type"] == "forbidden"
        for name in contract["forbidden_modules"]
    }
    assert held >= {
        "cadquery",
        "ezdxf",
        "pyvista",
        "matplotlib",
        "trimesh",
        "shapely",
        "typer",
        "packlayout.model",
    }


@pytest.mark.parametrize("folder", ["modules", "bays", "kits", "shared", "exports"])
def test_each_workshop_folder_explains_itself(folder: str) -> None:
    assert (ROOT / folder / "README.md").read_text(encoding="utf-8").startswith("# ")
