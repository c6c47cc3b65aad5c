"""Whatever is done to the text of a workshop's files, the reader answers with a case or with faults."""

import shutil
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from packlayout.errors import InputError
from packlayout.inputs.case import read_case
from packlayout.inputs.check import check_paths
from packlayout.inputs.workshop import Workshop
from tests.workshop_files import BRIEF_FILE, FILES, VEHICLE_FILE

JUNK = [
    "", "~", "-1", "0", "1e400", "-1e-9", ".nan", ".inf", "true", "yes", "[]", "{}", "[[]]", "[1, 2]", "[1, 2, 3]",
    "{a: 1}", "'", '"', "*x", "&x 1", "!!int 3", "<<: {}", "\t", "2.3 m", "12 furlongs", "5 +/- -1", "'1/0 in'",
    "99999999999999999999", "0x10", "../../../etc/passwd", "vehicle.yaml", '"\\x00"', '"\\ud800"', "\u202e", "é", "💧",
    "[" * 60, "{a: " * 60, "x" * 3000, "? a", "- - -", "|", ">-", "%YAML 1.1", "---", "...", "#", "`", "@",
]  # fmt: skip

edits = st.lists(
    st.tuples(
        st.sampled_from(["delete", "repeat", "swap", "value", "junk", "indent", "byte", "word", "key"]),
        st.integers(0, 10_000),
        st.sampled_from(JUNK),
        st.binary(min_size=1, max_size=3),
    ),
    min_size=1,
    max_size=4,
)


def edited(text: bytes, kind: str, at: int, junk: str, raw: bytes) -> bytes:
    lines = text.split(b"\n")
    row = at % len(lines)
    line, word = lines[row], junk.encode("utf-8", "replace")
    if kind == "delete":
        del lines[row]
    elif kind == "repeat":
        lines.insert(row, line)
    elif kind == "swap":
        other = (at * 7 + 3) % len(lines)
        lines[row], lines[other] = lines[other], line
    elif kind == "value":
        lines[row] = line.split(b":")[0] + b": " + word
    elif kind == "junk":
        lines.insert(row, word)
    elif kind == "indent":
        lines[row] = b" " * (at % 5) + line.lstrip() if at % 2 else b"  " + line
    elif kind == "byte":
        cut = at % (len(text) + 1)
        return text[:cut] + raw + text[cut + at % 3 :]
    elif kind == "word":
        pieces = line.split(b" ")
        pieces[at % len(pieces)] = word
        lines[row] = b" ".join(pieces)
    else:
        lines[row] = line.replace(b": ", word + b": ", 1)
    return b"\n".join(lines)


@pytest.fixture(scope="module")
def root(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("fuzz") / "shop"
    for name, text in FILES.items():
        (folder / name).parent.mkdir(parents=True, exist_ok=True)
        (folder / name).write_text(text, encoding="utf-8")
    return folder


def answer(root: Path, brief: str) -> None:
    try:
        case = read_case(root / brief)
    except InputError as error:
        faults = error.faults
    else:
        assert all(surface.volume > 0 for surface in (*case.zones.values(), *case.keep_outs.values()))
        return
    assert faults
    for fault in faults:
        assert fault.found
        assert 0 < len(str(fault).encode("utf-8")) < 2500


@settings(max_examples=250, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(st.sampled_from([VEHICLE_FILE] * 4 + [BRIEF_FILE] * 3 + sorted(FILES)), edits)
def test_edited_files_are_read_or_refused(
    root: Path, name: str, changes: list[tuple[str, int, str, bytes]]
) -> None:
    text = FILES[name].encode()
    for change in changes:
        text = edited(text, *change)
    (root / name).write_bytes(text)
    try:
        answer(root, BRIEF_FILE)
    finally:
        (root / name).write_text(FILES[name], encoding="utf-8")


@settings(max_examples=60, deadline=None)
@given(st.sampled_from(sorted(FILES)), st.binary(max_size=300))
def test_random_bytes_are_refused(root: Path, name: str, data: bytes) -> None:
    (root / name).write_bytes(data)
    try:
        with pytest.raises(InputError):
            read_case(root / BRIEF_FILE)
    finally:
        (root / name).write_text(FILES[name], encoding="utf-8")


def demo_files() -> list[str]:
    top = Path(__file__).parents[1]
    return sorted(
        path.relative_to(top).as_posix() for path in (top / "bays" / "quillon-estate").glob("*.yaml")
    )


@pytest.fixture(scope="module")
def demo(tmp_path_factory: pytest.TempPathFactory) -> Path:
    top = Path(__file__).parents[1]
    folder = tmp_path_factory.mktemp("demo") / "shop"
    for name in ("modules", "shared", "bays/quillon-estate"):
        shutil.copytree(top / name, folder / name)
    return folder


@settings(max_examples=40, deadline=None)
@given(st.sampled_from(demo_files()), edits)
def test_edited_demo_files_are_read_or_refused(
    demo: Path, name: str, changes: list[tuple[str, int, str, bytes]]
) -> None:
    original = (demo / name).read_bytes()
    text = original
    for change in changes:
        text = edited(text, *change)
    (demo / name).write_bytes(text)
    try:
        faults, _ = check_paths([demo / name])
        assert all(fault.found for fault in faults)
    finally:
        (demo / name).write_bytes(original)


def test_the_files_unedited_hold(root: Path, demo: Path) -> None:
    assert read_case(root / BRIEF_FILE).key == "corrow-first"
    assert check_paths([demo]) == ([], [])
    assert Workshop(root).holds(root / BRIEF_FILE)
