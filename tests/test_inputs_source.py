"""YAML text -> data and lines."""

from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from packlayout.errors import InputError
from packlayout.inputs.source import parse_source, read_source, scalar

FILE = Path("a.yaml")


def faults(text: str) -> list[tuple[int, str]]:
    with pytest.raises(InputError) as caught:
        parse_source(text, FILE)
    return [(fault.line, fault.found) for fault in caught.value.faults]


# ---- by hand


def test_data_and_lines() -> None:
    source = parse_source("a: 1\nb:\n  - x: 2\n    y: three\n  - [4, 5]\n", FILE)
    assert source.data == {"a": 1, "b": [{"x": 2, "y": "three"}, [4, 5]]}
    assert source.line(("b", 0, "y")) == 4
    assert source.line(("b", 1, 1)) == 5
    assert source.line(("b", 0, "z", "deeper")) == 3  # the nearest thing around it
    assert source.at("b", 0, "x") == 2
    assert source.at("b", 7, "x") is None


def test_places_are_told_by_name_or_number() -> None:
    source = parse_source("zones:\n  - name: bay\n    at: [1, 2]\n  - at: [3]\n", FILE)
    assert source.field(("zones", 0, "at", 1)) == "zones.bay.at[2]"
    assert source.field(("zones", 1, "at")) == "zones[2].at"


@pytest.mark.parametrize(
    ("text", "value"),
    [
        ("12", 12), ("-3", -3), ("1.5", 1.5), ("1e3", 1000.0), (".5", 0.5), ("0x1F", 31), ("0o17", 15),
        ("true", True), ("False", False), ("", None), ("~", None), ("null", None),
        # text in YAML 1.2, though not in 1.1
        ("yes", "yes"), ("off", "off"), ("2020-01-01", "2020-01-01"), ("1_000", "1_000"), ("12:30", "12:30"),
        ("017", 17), ("1.5 t", "1.5 t"), ("9" * 400, "9" * 400),
    ],
)  # fmt: skip
def test_scalars_of_the_core_schema(text: str, value: object) -> None:
    found = scalar(text)
    assert found == value
    assert type(found) is type(value)


def test_quoted_numbers_stay_text() -> None:
    assert parse_source("a: '12'\nb: \"3\"\n", FILE).data == {"a": "12", "b": "3"}


def test_a_byte_order_mark_and_windows_line_ends(tmp_path: Path) -> None:
    file = tmp_path / "a.yaml"
    file.write_bytes(b"\xef\xbb\xbfa: 1\r\nb: 2\r\n")
    source = read_source(file)
    assert source.data == {"a": 1, "b": 2}
    assert source.line(("b",)) == 2


# ---- invariant

plain = st.recursive(
    st.integers() | st.booleans() | st.text("abc xyz", max_size=8),
    lambda inner: (
        st.lists(inner, max_size=3) | st.dictionaries(st.text("abc", min_size=1), inner, max_size=3)
    ),
    max_leaves=12,
)


@given(st.dictionaries(st.text("abc", min_size=1), plain, min_size=1, max_size=4))
def test_what_json_says_is_read_the_same(data: dict[str, object]) -> None:
    import json

    assert parse_source(json.dumps(data), FILE).data == data


@given(st.text(max_size=200))
def test_any_text_is_read_or_refused(text: str) -> None:
    try:
        parse_source(text, FILE)
    except InputError as error:
        lines = [fault.line for fault in error.faults]
    else:
        return
    assert min(lines) >= 1


# ---- refusal


def test_each_duplicate_key_is_told_at_its_line() -> None:
    assert faults("a: 1\nb: 2\na: 3\nc: {d: 1, d: 2}\na: 4\n") == [
        (3, "'a' is given twice, first at line 1"),
        (4, "'d' is given twice, first at line 4"),
        (5, "'a' is given twice, first at line 1"),
    ]


@pytest.mark.parametrize(
    ("text", "line", "found"),
    [
        ("a: &x 1\n", 1, "an anchor (&x)"),
        ("a: 1\nb: *x\n", 2, "an alias (*x)"),
        ("a: 1\n<<: {b: 2}\n", 2, "a merge key (<<)"),
        ("a: !!str 3\n", 1, "a tag (tag:yaml.org,2002:str)"),
        ("a: 1\n---\nb: 2\n", 2, "a second document begins here"),
        ("%YAML 1.1\n---\na: yes\n", 1, "a YAML directive"),
        ("a:\n\tb: 1\n", 2, "a tab before the text"),
        ("a: [1, 2\nb: 3\n", 2, "expected ',' or ']', but got ':'"),
        ("a: 'one\nb: 2\n", 3, "a quote that is not closed"),
        ("a: 1\n  b: 2\n", 2, "a colon where none can stand"),
        ("a: 1\nb\n", 3, "a line without a colon"),
        ("? [a, b]\n: 3\n", 1, "a key that is not plain text"),
        ("a: 1\nb: \"\\UFFFFFFFF\"\n", 2, "cannot be read as YAML (OverflowError)"),
        ("a: \"\\ud800\"\n", 1, "an escape for the character U+D800"),
        ("a: 1\nb: \x07\n", 2, "character U+0007 cannot stand in a text file"),
        ("", 1, "the file is empty"),
        ("# nothing\n", 1, "the file is empty"),
        ("- 1\n- 2\n", 1, "not a map"),
        ("[" * 100_000, 1, "nested more than 50 levels deep"),
        ("a: " + "{b: " * 100, 1, "nested more than 50 levels deep"),
    ],
)  # fmt: skip
def test_refused(text: str, line: int, found: str) -> None:
    assert (line, found) in faults(text)


def test_bytes_that_are_no_text(tmp_path: Path) -> None:
    file = tmp_path / "a.yaml"
    file.write_bytes(b"a: 1\nb: \xff\n")
    with pytest.raises(InputError, match=r"a\.yaml:2: byte 0xff is not UTF-8; allowed: text saved as UTF-8"):
        read_source(file)


def test_files_that_are_not_there_or_too_large(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="no such file"):
        read_source(tmp_path / "a.yaml")
    with pytest.raises(InputError, match="is a folder"):
        read_source(tmp_path)
    file = tmp_path / "a.yaml"
    file.write_bytes(b"# " + b"x" * 5_000_000)
    with pytest.raises(InputError, match=r"the file has 5\.0 MB; allowed: at most 5 MB"):
        read_source(file)
