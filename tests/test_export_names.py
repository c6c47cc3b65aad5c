"""Names in CAD files: plain ASCII, never the same twice."""

from hypothesis import given
from hypothesis import strategies as st

from packlayout.export.names import ascii_name, distinct


def test_by_hand() -> None:
    assert ascii_name("Prüfstand Größe ½") == "Pruefstand Groesse 1_2"
    assert ascii_name("cañón nº 3") == "canon no 3"
    assert ascii_name("モータ") == "u30e2u30fcu30bf"
    assert ascii_name("motor 'A' / left\\right") == "motor _A_ _ left_right"
    assert ascii_name("\n") == "_"
    assert distinct(["motor", "pump", "Motor", "motor (2)"]) == (
        "motor",
        "pump",
        "Motor (2)",
        "motor (2) (2)",
    )


@given(st.text(max_size=200))
def test_any_name_becomes_plain(text: str) -> None:
    name = ascii_name(text)
    assert name.isascii()
    assert name.isprintable()
    assert 0 < len(name) <= 80
    assert not set(name) & set("'\"/\\#;")
    assert ascii_name(name) == name


@given(st.lists(st.sampled_from(["a", "A", "a (2)", "b"]) | st.text(max_size=8), max_size=30))
def test_names_differ(names: list[str]) -> None:
    made = distinct(names)
    assert len(made) == len(names)
    assert len({name.lower() for name in made}) == len(made)
    assert all(new.startswith(old) for new, old in zip(made, names, strict=True))
