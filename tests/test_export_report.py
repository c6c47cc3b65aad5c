"""The report: the answer first, everything escaped, nothing fetched from anywhere."""

import base64
import hashlib
import re
from dataclasses import replace
from html.parser import HTMLParser
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from packlayout.export.blocks import Table
from packlayout.export.figures import figure, number, point, together
from packlayout.export.report import report, write_report
from packlayout.export.report_answers import answers, in_words
from packlayout.export.report_inputs import input_blocks
from packlayout.export.report_tables import cut_table, layout_table, state_table
from packlayout.model.check import judge, unknown
from packlayout.study import Study
from packlayout.units import Measured
from tests.studies import study

STUDY = study()
PICTURES = {"picture-side.png": b"\x89PNG side", "picture-three-quarter.png": b"\x89PNG three-quarter"}
HTML = report(STUDY, PICTURES)


class Page(HTMLParser):
    """Tags, attributes and text of a page, and whether tags close in order."""

    VOID = frozenset({"meta", "img", "br", "line", "rect", "circle", "polygon"})

    def __init__(self, html: str) -> None:
        super().__init__()
        self.tags: list[str] = []
        self.attributes: list[tuple[str, str, str]] = []
        self.open: list[str] = []
        self.words: list[str] = []
        self.styles: list[str] = []
        self.feed(html)
        assert self.open == []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append(tag)
        self.attributes += [(tag, name, value or "") for name, value in attrs]
        if tag not in self.VOID:
            self.open.append(tag)

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append(tag)
        self.attributes += [(tag, name, value or "") for name, value in attrs]

    def handle_endtag(self, tag: str) -> None:
        assert self.open.pop() == tag

    def handle_data(self, data: str) -> None:
        (self.styles if self.open[-1:] in (["style"], ["script"]) else self.words).append(data)

    @property
    def text(self) -> str:
        return " ".join(" ".join(self.words).split())


PAGE = Page(HTML)


def test_figures_by_hand() -> None:
    assert number(-1234.56) == "−1234.6"
    assert number(-0.04) == "0.0"
    assert figure(Measured(612.04, 3.0)) == "612.0 ± 3.0"
    assert figure(Measured(12.0)) == "12.0"
    assert figure(Measured(2.0, 0.5), signed=True) == "+2.0 ± 0.5"
    assert point((-250.4, 0.0, 3.5)) == "−250, 0, 4"
    assert together(["bar 1", "bar 2", "bar 3", "post 1", "post 2", "rail left", "bar 5", "a\n1"]) == (
        "bar 1 to 3, post 1 and 2, rail left, bar 5, a\n1"
    )
    assert together([]) == ""


def test_the_answer_comes_first() -> None:
    text = PAGE.text.split("Cautions", 1)[1]  # what comes after the list of sections
    order = ["Does it fit?", "What do the axles carry?", "Does it hold?", "Details and pictures", "Layouts", "Weighing", "Frame",
             "Bill of materials", "Checks", "What was not computed", "Inputs", "Cautions"]  # fmt: skip
    heads = [text.index(word) for word in order]
    assert heads == sorted(heads)
    assert "Yes: 10 battery modules and 7 other parts have their place." in text
    assert (
        "In kerb state the front axle carries 497 kg after 514 kg (−16.7 ± 3.1 kg), the rear axle 517 kg after 465 kg "
        "(+52.2 ± 3.3 kg); the whole vehicle is +35.5 ± 4.1 kg." in text
    )
    assert "Laden: front 588 ± 8 of 640 kg, rear 761 ± 8 of 760 kg, altogether 1350 ± 11 of 1380 kg." in text
    assert "Of 6 checks, 1 fails, 1 lacks an input, 1 is marginal." in text
    assert (
        "Rear axle, laden: 761.4 ± 7.7 kg, allowed at most 760.0 kg: 1.4 kg too much. Carry 2 kg less" in text
    )


def test_checks_in_words() -> None:
    assert in_words(judge("a", "Modules placed", Measured(8.0), 10.0, "min", "", "brief")) == (
        "Modules placed: 8, allowed at least 10: 2 too little."
    )
    assert in_words(unknown("a", "front tyres", "kg", "tyre", "no load is given")) == (
        "Front tyres: not known. No load is given"
    )


def test_verdicts_are_words_and_signs_gravest_first() -> None:
    body = HTML[HTML.index('<section id="checks"') :]
    found = re.findall(r'aria-hidden="true">(.)</span> (\w+)</span>', body)
    assert found == [("✗", "fail"), ("?", "unknown"), ("≈", "marginal")] + [("✓", "pass")] * 3


def test_everything_it_rests_on_is_there() -> None:
    text = PAGE.text
    for words in (
        "lowest centre of gravity", "365.5 ± 9.0", "rear axle plate", "weighed on the crane", "four scale pads",
        "cradle 1 left, cradle 1 right", "Ø 11.0 at 30.0, 30.0", "1" * 64, "seed 1", "strength of the frame",
        "closed at 2 holes", "invented for the tests", "licensed engineers", "60 V",
    ):  # fmt: skip
        assert words in text, words


def test_every_figure_that_was_given_is_told() -> None:
    """Value with its tolerance, unit, source: of the vehicle, the parts, the brief."""
    vehicle, used, brief = [b for b in input_blocks(STUDY.case, STUDY.layout) if isinstance(b, Table)]
    assert ("wheelbase", "2310 ± 3", "mm", "") in vehicle.rows
    assert (
        "weighed: corners: front left",
        "258 ± 2",
        "kg",
        "four scale pads in the workshop",
    ) in vehicle.rows
    assert ("engine: at", "60 ± 20, 0, 560 ± 20", "mm", "weighed on the crane") in vehicle.rows
    assert ("plated: gross", "1380", "kg", "maker's plate") in vehicle.rows
    assert any(row[:3] == ("Marsh module 12: mass", "12.2 ± 0.2", "kg") for row in used.rows)
    assert ("clearances: body", "10", "mm", "") in brief.rows
    light = STUDY.case.vehicle.model_copy(update={"wheelbase_mm": Measured(2310.0, 0.5)})
    table = input_blocks(replace(STUDY.case, vehicle=light), None)[2]
    assert isinstance(table, Table)
    assert table.rows[0] == ("wheelbase", "2310.0 ± 0.5", "mm", "")


def test_cut_list_by_hand() -> None:
    """Mitred at 45 degrees a tube is longer by half its side at either end: 497 + 30, twice."""
    assert STUDY.framed is not None
    assert STUDY.framed.frame is not None
    rows = {row[7]: row[1:7] for row in cut_table(STUDY.framed.frame, STUDY.case.threads).rows}
    assert rows["cradle 1 left, cradle 1 right"] == ("2", "SHS 30x2", "527.0", "45.0° A", "45.0° A", "1.67")
    assert rows["cradle 1 post"] == ("1", "SHS 30x2", "215.0", "square", "square", "0.36")
    pieces = sum(int(row[0]) for row in rows.values())
    assert pieces == len(STUDY.framed.frame.members)


def test_tables_are_as_wide_as_their_head() -> None:
    assert STUDY.weighing is not None
    for table in (layout_table(STUDY), state_table(STUDY.weighing)):
        assert {len(row) for row in table.rows} == {len(table.head)}
    assert layout_table(STUDY).rows[0] == (
        "layout-1.yaml",
        "least change of the axle loads",
        "10",
    )


def test_it_opens_offline() -> None:
    """No address anywhere but data in the file itself and places on the page."""
    assert PAGE.tags.count("script") == 1
    assert not {"link", "iframe", "object", "embed", "base", "form"} & set(PAGE.tags)
    for tag, name, value in PAGE.attributes:
        if name in ("src", "href", "srcset", "xlink:href", "action", "data", "poster", "background"):
            assert value.startswith(("data:image/png;base64,", "#")), (tag, name, value[:60])
        assert not name.startswith("on"), (tag, name)
        if name != "content":
            assert "://" not in value[:2000]
    assert "url(" not in "".join(PAGE.styles)
    assert "@import" not in "".join(PAGE.styles)
    policy = [
        value
        for tag, name, value in PAGE.attributes
        if tag == "meta" and name == "content" and "src" in value
    ]
    script = HTML[HTML.rindex("<script>") + 8 : HTML.rindex("</script>")]
    digest = base64.b64encode(hashlib.sha256(script.encode()).digest()).decode()
    assert policy == [
        f"default-src 'none'; img-src data:; style-src 'unsafe-inline'; script-src 'sha256-{digest}'"
    ]
    assert not re.search(r"fetch|XMLHttp|WebSocket|import|innerHTML|eval|://", script)


def test_pictures_are_in_the_file() -> None:
    sources = [value for tag, name, value in PAGE.attributes if (tag, name) == ("img", "src")]
    assert [base64.b64decode(s.removeprefix("data:image/png;base64,")) for s in sources] == list(
        PICTURES.values()
    )
    assert all(value for tag, name, value in PAGE.attributes if (tag, name) == ("img", "alt"))


def test_light_dark_and_print() -> None:
    style = "".join(PAGE.styles)
    assert "prefers-color-scheme: dark" in style
    assert "@media print" in style
    assert set(re.findall(r"var\((--[a-z-]+)\)", style)) <= set(re.findall(r"(--[a-z-]+):", style))


HOSTILE = [
    "<script>alert(1)</script>",
    '"><img src=x onerror=alert(1)>',
    "{{ 7*7 }}",
    "</style><b>",
    "&lt;b&gt;",
    "' onload='x",
]


def _hostile(bad: str) -> Study:
    """The same study with a bad name wherever a user can type one."""
    assert STUDY.layout is not None
    assert STUDY.placed is not None
    assert STUDY.weighing is not None
    car = STUDY.case.vehicle.model_copy(
        update={
            "name": bad,
            "maker": bad,
            "weighed": STUDY.case.vehicle.weighed.model_copy(update={"source": bad}),
        }
    )
    brief = STUDY.case.brief.model_copy(update={"name": bad, "customer": bad})
    parts = {
        key: part.model_copy(update={"name": bad, "source": bad, "maker": bad})
        for key, part in STUDY.case.parts.items()
    }
    case = replace(STUDY.case, vehicle=car, brief=brief, parts=parts, notes=(bad,), inputs=((bad, bad),))
    placements = tuple(replace(p, name=f"{bad} {k}") for k, p in enumerate(STUDY.layout.placements))
    states = tuple(
        replace(s, name=f"{s.name}{bad if s.name == 'laden' else ''}", note=bad)
        for s in STUDY.weighing.states
    )
    ledger = tuple(replace(item, name=bad, source=bad) for item in STUDY.weighing.ledger)
    checks = (judge(bad, bad, Measured(2.0), 1.0, "max", bad, bad, note=bad),)
    return replace(
        STUDY, case=case, layout=replace(STUDY.layout, placements=placements, title=bad), checks=checks,
        weighing=replace(STUDY.weighing, states=states, ledger=ledger), not_done=(bad,),
        placed=replace(STUDY.placed, why_not_more=(bad,)),
    )  # fmt: skip


@pytest.mark.parametrize("bad", HOSTILE)
def test_names_come_out_as_text(bad: str) -> None:
    page = Page(report(_hostile(bad), PICTURES, (bad,)))
    assert sorted(set(page.tags)) == sorted(set(PAGE.tags) | {"a"} & set(page.tags))
    assert len(page.tags) - len(PAGE.tags) < 60
    assert not [name for _, name, _ in page.attributes if name.startswith("on")]
    assert page.text.count(" ".join(bad.split())) > 40


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"layout": None, "placed": None}, "No: not one of 10 battery modules could be placed."),
        ({"weighing": None}, "Not done."),
        ({"framed": None}, "There is no frame."),
        ({"checks": ()}, "Nothing was checked."),
        (
            {"layout": None, "placed": None, "weighing": None, "framed": None, "checks": ()},
            "There is no layout",
        ),
    ],
)
def test_what_is_missing_is_said(change: dict[str, Any], words: str) -> None:
    assert words in Page(report(replace(STUDY, **change), {})).text


def test_too_few_modules() -> None:
    assert STUDY.layout is not None
    assert STUDY.placed is not None
    fewer = replace(STUDY.layout, placements=STUDY.layout.placements[2:])
    placed = replace(
        STUDY.placed, count=replace(STUDY.placed.count, packed=8, proven=False), why_not_more=("No room.",)
    )
    answer = answers(replace(STUDY, layout=fewer, placed=placed))[0]
    assert answer.verdict == "fail"
    assert answer.sentence == "No: 8 of 10 battery modules and 7 of 7 other parts have their place."
    assert answer.details == (
        "No room.",
        "At most 12 modules could go in (volume of the zones over that of a module); 8 is not proven to be the most.",
    )


def test_no_pictures_is_said(tmp_path: Path) -> None:
    made = write_report(STUDY, tmp_path, ("pictures left out: no off-screen OpenGL here",))
    page = Page(made.files[0].read_text(encoding="utf-8"))
    assert "There are no pictures; see what was left out, below." in page.text
    assert "pictures left out: no off-screen OpenGL here" in page.text
    assert "img" not in page.tags


def test_the_same_bytes_twice() -> None:
    assert report(study(), PICTURES) == HTML


def test_the_model_that_turns() -> None:
    """Read back, every point lies where the solids are, to less than a tenth of a millimetre."""
    from packlayout.export.meshes import surface
    from packlayout.export.tree import assembly_tree, leaves
    from packlayout.export.turning import turning

    model = turning(STUDY)
    root = assembly_tree(STUDY)
    assert model is not None
    assert root is not None
    size = np.array([float(v) for v in model.size.split()])
    points = np.frombuffer(base64.b64decode(model.points), "<u2").reshape(-1, 3) / 65535 * size
    faces = np.frombuffer(base64.b64decode(model.faces), "<u4").reshape(-1, 3)
    tints = np.frombuffer(base64.b64decode(model.tints), "u1").reshape(-1, 3)
    meshes = [surface(leaf, STUDY.case) for leaf in leaves(root)]
    wanted = np.concatenate([mesh.vertices for mesh in meshes])
    assert len(faces) == sum(len(mesh.faces) for mesh in meshes)
    assert len(tints) == len(points)
    assert np.abs(points - (wanted - wanted.min(axis=0))).max() < 0.1
    first = tuple(int(STUDY_GREEN[k : k + 2], 16) for k in (1, 3, 5))
    assert tuple(tints[0]) == first
    assert turning(replace(STUDY, layout=None, framed=None)) is None


STUDY_GREEN = "#009E73"
