"""The folder of results: whole, or as it was."""

import errno
import hashlib
import json
import subprocess
import sys
from dataclasses import replace
from pathlib import Path

import pytest

from packlayout import __version__
from packlayout.errors import ExportError
from packlayout.export import EXPORTERS, write
from packlayout.export.manifest import MANIFEST, verify
from packlayout.export.pack import Exporter, Made, staged, stamp
from packlayout.study import Study
from tests.studies import study

STUDY = study()
LIGHT = ("layout", "checks")
PACKAGE = Path(__file__).parents[1]


def _contents(folder: Path) -> dict[str, bytes]:
    return {
        path.relative_to(folder).as_posix(): path.read_bytes() for path in folder.rglob("*") if path.is_file()
    }


@pytest.fixture
def old(tmp_path: Path) -> Path:
    """A pack of an earlier run, with a third layout and a file of the user's own in it."""
    folder = tmp_path / "exports" / "heron"
    write(STUDY, folder, kinds=LIGHT)
    (folder / "layout-3.yaml").write_text("old", encoding="utf-8")
    (folder / "my notes.txt").write_text("mine", encoding="utf-8")
    return folder


def test_by_hand(tmp_path: Path) -> None:
    said: list[str] = []
    folder = tmp_path / "exports" / "heron"
    written = write(STUDY, folder, kinds=LIGHT, progress=said.append)
    assert [(w.path.name, w.kind) for w in written] == [
        ("layout-1.yaml", "layout"), ("layout-2.yaml", "layout"), ("checks.json", "checks"),
    ]  # fmt: skip
    assert all(w.sha256 == hashlib.sha256(w.path.read_bytes()).hexdigest() for w in written)
    assert said == ["writing layout", "writing checks"]
    assert sorted(_contents(tmp_path)) == [
        f"exports/heron/{w.path.name}" for w in sorted(written, key=lambda w: w.path)
    ]


def test_out_of_date_files_go_and_all_else_stays(old: Path) -> None:
    write(STUDY, old, kinds=("layout",))
    assert sorted(path.name for path in old.iterdir()) == [
        "checks.json", "layout-1.yaml", "layout-2.yaml", "my notes.txt",
    ]  # fmt: skip
    assert [path.name for path in old.parent.iterdir()] == ["heron"]


def test_a_layout_that_the_user_gave_is_left_alone(old: Path) -> None:
    mine = old / "layout-3.yaml"
    write(STUDY, old, kinds=("layout",), keep=[mine])
    assert mine.read_text(encoding="utf-8") == "old"
    first = old / "layout-1.yaml"
    first.write_text("# my remarks", encoding="utf-8")
    written = write(STUDY, old, kinds=("layout",), keep=[first])
    assert first.read_text(encoding="utf-8") == "# my remarks"
    assert written[0].sha256 == hashlib.sha256(b"# my remarks").hexdigest()
    assert not mine.exists()


@pytest.mark.parametrize(
    "fault",
    [OSError(errno.ENOSPC, "No space left on device"), KeyboardInterrupt(), RuntimeError("a fault of ours")],
)
def test_when_an_exporter_fails_the_old_pack_stays(
    old: Path, monkeypatch: pytest.MonkeyPatch, fault: BaseException
) -> None:
    before = _contents(old)

    def fail(study: Study, folder: Path, notes: tuple[str, ...]) -> Made:
        (folder / "checks.json").write_text("half", encoding="utf-8")
        raise fault

    monkeypatch.setitem(EXPORTERS, "checks", Exporter(fail, ("checks.json",)))
    with pytest.raises(ExportError if isinstance(fault, OSError) else type(fault)) as caught:
        write(STUDY, old, kinds=LIGHT)
    if isinstance(fault, OSError):
        assert str(caught.value) == (
            f"{old} could not be written; the disk is full: free some space. What was there before is as it was"
        )
    assert _contents(old) == before
    assert [path.name for path in old.parent.iterdir()] == ["heron"]


def test_when_moving_in_fails_the_old_pack_comes_back(old: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """As when another program holds the fourth file open."""
    before = _contents(old)
    moved: list[Path] = []
    replace = Path.replace

    def stuck(source: Path, target: Path) -> Path:
        if target.parent == old and len(moved) == 5:
            raise PermissionError(errno.EACCES, "Permission denied", str(target))
        moved.append(target)
        return replace(source, target)

    monkeypatch.setattr(Path, "replace", stuck)
    with pytest.raises(ExportError, match="may not be written: close programs that have it open"):
        write(STUDY, old, kinds=LIGHT)
    assert len(moved) > 5, "nothing had to be moved back"
    assert _contents(old) == before


def test_a_full_disk_does_not_pass_for_a_pack(old: Path) -> None:
    """A child that may write no file of more than 100 kB: the CAD kernel itself runs into it."""
    before = _contents(old)
    code = (
        "import resource, sys\n"
        "from pathlib import Path\n"
        "from packlayout.errors import ExportError\n"
        "from packlayout.export import write\n"
        "from tests.studies import study\n"
        "resource.setrlimit(resource.RLIMIT_FSIZE, (100_000, 100_000))\n"
        "try:\n"
        "    write(study(), Path(sys.argv[1]), kinds=('layout', 'step'))\n"
        "except ExportError as error:\n"
        "    print(error)\n"
    )
    said = subprocess.run(
        [sys.executable, "-c", code, str(old)], cwd=PACKAGE, capture_output=True, text=True, check=True
    )
    assert said.stdout == "assembly.step could not be written; is the disk full?\n"
    assert _contents(old) == before


_ON_A_DISK = """
import sys
from pathlib import Path
from packlayout.errors import ExportError
from packlayout.export import EXPORTERS, write
from tests.studies import study
made, folder = study(), Path(sys.argv[1]) / "heron"
write(made, folder, kinds=("checks",))
before = {p.name: p.read_bytes() for p in folder.iterdir()}
if sys.argv[2] == "ro":
    import subprocess
    subprocess.run(["mount", "-o", "remount,ro", sys.argv[1]], check=True)
for kind in ("layout", "step", "plates", "lists", "drawings", "templates", "glb", "checks", "report-pdf"):
    if sys.argv[2] == "full":
        # as much as fits, so that not one block is left
        filler = Path(sys.argv[1]) / "filler"
        with filler.open("ab", buffering=0) as out:
            try:
                while True:
                    out.write(bytes(4096))
            except OSError:
                pass
    try:
        write(made, folder, kinds=(kind,))
        print(kind, "went through")
    except ExportError as error:
        print(kind, str(error).replace(sys.argv[1], "DISK"))
    assert {p.name: p.read_bytes() for p in folder.iterdir()} == before, kind
    assert sorted(p.name for p in Path(sys.argv[1]).iterdir()) in (["filler", "heron"], ["heron"]), "something was left lying"
"""


@pytest.mark.slow
@pytest.mark.skipif(not sys.platform.startswith("linux"), reason="needs a mount of its own")
@pytest.mark.parametrize(
    ("how", "words"), [("full", "the disk is full"), ("ro", "it is on a read-only disk")]
)
def test_a_real_disk_that_is_full_or_may_not_be_written(tmp_path: Path, how: str, words: str) -> None:
    """A small disk of its own in memory: every kind of output says what is wrong, and the old pack is as it was."""
    disk = tmp_path / "disk"
    disk.mkdir()
    script = f'mount -t tmpfs -o size=1m tmpfs "$1" && exec "$2" -c "$3" "$1" {how}'
    done = subprocess.run(
        ["unshare", "-rm", "sh", "-c", script, "sh", str(disk), sys.executable, _ON_A_DISK],
        cwd=PACKAGE, capture_output=True, text=True, check=False,
    )  # fmt: skip
    if "unshare" in done.stderr or "mount" in done.stderr:
        pytest.skip("no mount of its own may be made here")
    assert done.returncode == 0, done.stderr
    lines = done.stdout.splitlines()
    assert len(lines) == 9
    for line in lines:
        assert words in line or "is the disk full?" in line, line
        assert "Traceback" not in line


def test_a_file_in_the_way(tmp_path: Path) -> None:
    (tmp_path / "exports").write_text("a file", encoding="utf-8")
    with pytest.raises(ExportError, match="exports is a file, not a folder: choose another --out"):
        write(STUDY, tmp_path / "exports" / "heron", kinds=LIGHT)
    with pytest.raises(ExportError, match="exports is a file, not a folder: choose another --out"):
        write(STUDY, tmp_path / "exports", kinds=LIGHT)
    (tmp_path / "pack" / "checks.json").mkdir(parents=True)
    with pytest.raises(ExportError, match=r"checks\.json is a folder where a file should go"):
        write(STUDY, tmp_path / "pack", kinds=LIGHT)
    assert [path.name for path in (tmp_path / "pack").iterdir()] == ["checks.json"]


def test_a_link_to_a_folder_stays_a_link(tmp_path: Path) -> None:
    (tmp_path / "real" / "there").mkdir(parents=True)
    (tmp_path / "link").symlink_to(tmp_path / "real" / "there")
    write(STUDY, tmp_path / "link", kinds=LIGHT)
    assert (tmp_path / "link").is_symlink()
    assert (tmp_path / "real" / "there" / "checks.json").is_file()
    assert [path.name for path in (tmp_path / "real").iterdir()] == ["there"]


def test_an_unknown_kind(tmp_path: Path) -> None:
    with pytest.raises(ExportError) as caught:
        write(STUDY, tmp_path / "heron", kinds=("layout", "dxf"))
    assert str(caught.value) == (
        "unknown kind of output 'dxf'; known: layout, step, parts, plates, lists, electrics, drawings, templates, glb, "
        "picture, checks, report, report-pdf"
    )
    assert not (tmp_path / "heron").exists()


def test_files_in_folders_are_moved_too(tmp_path: Path) -> None:
    for text in ("one", "two"):
        with staged(tmp_path / "pack", ["parts/*.step"]) as new:
            (new / "parts").mkdir()
            (new / "parts" / f"{text}.step").write_text(text, encoding="utf-8")
    assert _contents(tmp_path) == {"pack/parts/two.step": b"two"}


def test_the_date_of_files(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.delenv("SOURCE_DATE_EPOCH", raising=False)
    assert stamp().isoformat() == "2000-01-01T00:00:00+00:00"
    monkeypatch.setenv("SOURCE_DATE_EPOCH", "1700000000")
    assert stamp().isoformat() == "2023-11-14T22:13:20+00:00"
    monkeypatch.setenv("SOURCE_DATE_EPOCH", "yesterday")
    assert stamp().year == 2000


@pytest.mark.slow
def test_the_whole_pack_twice(tmp_path: Path) -> None:
    first, second = (write(study(), tmp_path / name / "heron") for name in ("a", "b"))
    assert [w.sha256 for w in first] == [w.sha256 for w in second]
    names = {w.path.name for w in first}
    assert {
        "layout-1.yaml",
        "assembly.step",
        "frame.step",
        "layout.glb",
        "checks.json",
        "report.html",
    } <= names
    assert {kind for kind in EXPORTERS if kind not in ("picture", "electrics")} <= {w.kind for w in first}


# ---------------------------------------------------------------- manifest


@pytest.fixture
def pack(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> tuple[Path, Path, Study]:
    """A whole pack of the two quick kinds, and the workshop it was made from."""
    root = tmp_path / "shop"
    inputs: list[tuple[str, str]] = []
    for name in ("bays/heron/vehicle.yaml", "shared/tubes.yaml"):
        (root / name).parent.mkdir(parents=True, exist_ok=True)
        (root / name).write_text(name, encoding="utf-8")
        inputs.append((name, hashlib.sha256(name.encode()).hexdigest()))
    for kind in set(EXPORTERS) - set(LIGHT):
        monkeypatch.delitem(EXPORTERS, kind)
    made = replace(STUDY, case=replace(STUDY.case, root=root, inputs=tuple(inputs)))
    folder = root / "exports" / "heron"
    write(made, folder)
    return folder, root, made


def test_the_manifest_lists_every_file(pack: tuple[Path, Path, Study]) -> None:
    folder, root, made = pack
    document = json.loads((folder / MANIFEST).read_text(encoding="utf-8"))
    files = {row["path"]: row["sha256"] for row in document["files"]}
    assert files == {
        name: hashlib.sha256(data).hexdigest() for name, data in _contents(folder).items() if name != MANIFEST
    }
    assert (document["seed"], document["key"], document["made"]) == (1, made.case.key, "2000-01-01T00:00:00Z")
    assert [row["path"] for row in document["inputs"]] == ["bays/heron/vehicle.yaml", "shared/tubes.yaml"]
    assert verify(folder, root) == ()


def test_what_changed_is_told(pack: tuple[Path, Path, Study], monkeypatch: pytest.MonkeyPatch) -> None:
    folder, root, _ = pack
    (folder / "layout-1.yaml").write_text("edited", encoding="utf-8")
    (folder / "checks.json").unlink()
    (root / "bays/heron/vehicle.yaml").write_text("a new survey", encoding="utf-8")
    monkeypatch.setattr("packlayout.export.manifest.__version__", "99.0")
    found = verify(folder, root)
    assert [(m.what, m.path, m.why) for m in found[:3]] == [
        ("file", "checks.json", "missing"), ("file", "layout-1.yaml", "changed"),
        ("input", "bays/heron/vehicle.yaml", "changed"),
    ]  # fmt: skip
    assert str(found[0]) == "in the pack: checks.json is missing"
    assert found[3].what == "program"
    assert "this is 99.0" in str(found[3])


def test_a_kept_layout_counts_as_it_is(pack: tuple[Path, Path, Study]) -> None:
    folder, root, made = pack
    mine = folder / "layout-1.yaml"
    mine.write_text("# mine", encoding="utf-8")
    write(made, folder, keep=[mine])
    assert mine.read_text(encoding="utf-8") == "# mine"
    assert verify(folder, root) == ()


def test_an_edited_layout_is_an_input(pack: tuple[Path, Path, Study]) -> None:
    """A layout that the user gave is written down with the other inputs, and its change is told."""
    folder, root, made = pack
    mine = root / "bays" / "heron" / "mine.yaml"
    mine.write_text("placements: []", encoding="utf-8")
    write(made, folder, keep=(mine,))
    assert verify(folder, root) == ()
    mine.write_text("placements: [ ]", encoding="utf-8")
    assert [str(m) for m in verify(folder, root)] == ["input: bays/heron/mine.yaml is changed"]


def test_a_part_made_anew_is_told(pack: tuple[Path, Path, Study]) -> None:
    folder, root, made = pack
    write(replace(made, seed=7), folder, kinds=("checks",))
    assert [(m.path, m.why) for m in verify(folder, root)] == [("checks.json", "changed")]


@pytest.mark.parametrize(
    ("text", "words"),
    [(None, "is not there; a whole export writes it"), ("{", "cannot be read as a manifest"),
     ('{"files": [], "inputs": []}', "make the pack again"), ("[]", "make the pack again"),
     ('{"packlayout": "1", "files": [{"path": 3, "sha256": "x"}], "inputs": []}', "make the pack again")],
)  # fmt: skip
def test_no_manifest_is_refused(tmp_path: Path, text: str | None, words: str) -> None:
    if text is not None:
        (tmp_path / MANIFEST).write_text(text, encoding="utf-8")
    with pytest.raises(ExportError, match=words):
        verify(tmp_path, tmp_path)


def test_a_manifest_reads_nothing_outside(tmp_path: Path) -> None:
    rows = [{"path": path, "sha256": ""} for path in ("../secret", "/etc/hostname")]
    document = {"packlayout": __version__, "files": rows, "inputs": []}
    (tmp_path / MANIFEST).write_text(json.dumps(document), encoding="utf-8")
    assert [m.why for m in verify(tmp_path, tmp_path)] == ["not a path within the folder"] * 2
