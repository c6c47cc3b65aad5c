"""JSON Schemas: current, and true of every file that comes with the program."""

import json
from pathlib import Path
from typing import Any

import pytest
from jsonschema import Draft202012Validator
from ruamel.yaml import YAML

from packlayout.inputs.schemas import SCHEMAS, schema_text, write_schemas
from packlayout.inputs.wording import told_in
from tests.workshop_files import FILES

ROOT = Path(__file__).parents[1]
FOLDERS = ("modules", "bays", "shared")
YAMLS = sorted(path for folder in FOLDERS for path in (ROOT / folder).rglob("*.yaml"))


def validator(name: str) -> Draft202012Validator:
    schema = json.loads(schema_text(name))
    Draft202012Validator.check_schema(schema)
    return Draft202012Validator(schema)


def kind_of(path: str) -> str:
    """Name of the schema for a file of a workshop."""
    place = Path(path)
    if place.parts[0] == "modules":
        return "part"
    if place.parts[0] == "bays":
        return "vehicle" if place.stem == "vehicle" else "brief"
    return "design-code" if place.parent.name == "design-codes" else place.stem


# ---- by hand


def test_the_words_come_from_the_docstrings() -> None:
    schema = json.loads(schema_text("brief"))
    order = schema["$defs"]["PartOrder"]
    assert order["description"] == "One other part: where it may go, or where it is."
    assert order["properties"]["on_pack"]["description"] == "true when it sits on top of the modules."
    assert "wheelbase" in json.loads(schema_text("vehicle"))["properties"]  # the names that a file uses


def test_a_docstring_is_taken_apart() -> None:
    words, fields = told_in("""A thing.

    More of it.

    Attributes:
        one: First,
            and on.
        two: Second.
    """)
    assert words == "A thing. More of it."
    assert fields == {"one": "First, and on.", "two": "Second."}


@pytest.mark.parametrize("name", SCHEMAS)
def test_written_twice_the_same(name: str, tmp_path: Path) -> None:
    write_schemas(tmp_path)
    assert (tmp_path / f"{name}.schema.json").read_text(encoding="utf-8") == schema_text(name)
    assert not list(tmp_path.glob("*.tmp"))


# ---- reference: the files of the repository


@pytest.mark.parametrize("name", SCHEMAS)
def test_the_committed_schemas_are_current(name: str) -> None:
    committed = (ROOT / "shared" / "schemas" / f"{name}.schema.json").read_text(encoding="utf-8")
    assert committed == schema_text(name), "run: make schemas"


@pytest.mark.parametrize("path", YAMLS, ids=lambda path: path.relative_to(ROOT).as_posix())
def test_each_file_names_its_schema_and_keeps_it(path: Path) -> None:
    first = path.read_text(encoding="utf-8").splitlines()[0]
    assert first.startswith("# yaml-language-server: $schema=")
    named = (path.parent / first.partition("$schema=")[2]).resolve()
    kind = kind_of(path.relative_to(ROOT).as_posix())
    assert named == ROOT / "shared" / "schemas" / f"{kind}.schema.json"
    data: Any = YAML(typ="safe").load(path)
    assert not list(validator(kind).iter_errors(data))


@pytest.mark.parametrize("name", FILES)
def test_what_the_reader_takes_the_schema_takes(name: str) -> None:
    data: Any = YAML(typ="safe").load(FILES[name])
    assert not list(validator(kind_of(name)).iter_errors(data))


# ---- refusal


@pytest.mark.parametrize(
    ("name", "old", "new"),
    [
        ("bays/corrow/first.yaml", "count: 4", "count: 0"),
        ("bays/corrow/first.yaml", "count: 4", "cuont: 4"),
        ("bays/corrow/vehicle.yaml", "wheelbase: 2300 +/- 3", "wheelbase: 2.3"),
        ("bays/corrow/vehicle.yaml", "wheelbase: 2300 +/- 3", "wheelbase: long"),
        ("modules/motor.yaml", "kind: motor", "kind: engine"),
        ("modules/motor.yaml", "mass: 38\n", ""),
    ],
)
def test_what_the_reader_refuses_an_editor_marks(name: str, old: str, new: str) -> None:
    data: Any = YAML(typ="safe").load(FILES[name].replace(old, new))
    assert list(validator(kind_of(name)).iter_errors(data))
