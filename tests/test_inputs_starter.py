"""A new workshop folder."""

from pathlib import Path

import pytest

from packlayout.errors import InputError
from packlayout.inputs import starter
from packlayout.inputs.case import read_case
from packlayout.inputs.check import check_paths
from packlayout.inputs.starter import FIRST_BRIEF, FIRST_VEHICLE, start
from packlayout.inputs.workshop import is_workshop


def files(folder: Path) -> list[str]:
    return sorted(path.relative_to(folder).as_posix() for path in folder.rglob("*") if path.is_file())


# ---- by hand


def test_a_new_workshop_is_whole(tmp_path: Path) -> None:
    shop = tmp_path / "some" / "shop"
    start(shop)
    assert is_workshop(shop)
    assert check_paths([shop]) == ([], [])
    assert read_case(shop / "bays" / FIRST_VEHICLE / FIRST_BRIEF).key == f"{FIRST_VEHICLE}-piano-tuner"
    assert {"README.md", "exports/README.md", "shared/schemas/part.schema.json"} <= set(files(shop))
    assert not [name for name in files(shop) if name.endswith((".py", ".tmp"))]
    assert [path.name for path in tmp_path.iterdir()] == ["some"]
    assert [path.name for path in shop.parent.iterdir()] == ["shop"]


def test_each_schema_that_is_named_is_there(tmp_path: Path) -> None:
    start(tmp_path / "shop")
    for file in (tmp_path / "shop").rglob("*.yaml"):
        first = file.read_text(encoding="utf-8").splitlines()[0]
        assert (file.parent / first.partition("$schema=")[2]).is_file(), file


def test_an_empty_folder_is_filled(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    shop = tmp_path / "shop"
    shop.mkdir()
    monkeypatch.chdir(shop)
    start(Path())
    assert is_workshop(shop)
    assert [path.name for path in tmp_path.iterdir()] == ["shop"]


# ---- invariant


def test_made_twice_the_same(tmp_path: Path) -> None:
    start(tmp_path / "a")
    start(tmp_path / "b")
    assert files(tmp_path / "a") == files(tmp_path / "b")
    for name in files(tmp_path / "a"):
        assert (tmp_path / "a" / name).read_bytes() == (tmp_path / "b" / name).read_bytes()


# ---- refusal


def test_a_folder_with_something_in_it(tmp_path: Path) -> None:
    (tmp_path / "note.txt").write_text("mine", encoding="utf-8")
    with pytest.raises(InputError, match="is not empty; allowed: a folder that is empty or not there yet"):
        start(tmp_path)
    with pytest.raises(InputError, match="is a file"):
        start(tmp_path / "note.txt")
    assert files(tmp_path) == ["note.txt"]


@pytest.mark.parametrize("there", [False, True])
def test_whole_or_not_at_all(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, there: bool) -> None:
    def full(folder: Path) -> list[Path]:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(starter, "write_schemas", full)
    shop = tmp_path / "shop"
    if there:
        shop.mkdir()
    with pytest.raises(InputError, match=r"cannot be written \(No space left on device\)"):
        start(shop)
    assert files(tmp_path) == []
    assert [path.name for path in tmp_path.iterdir()] == (["shop"] if there else [])
