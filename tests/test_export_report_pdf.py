"""The report as PDF: all that the page says, as text, whole on its paper, the same bytes twice."""

import base64
import re
from dataclasses import replace
from io import BytesIO
from pathlib import Path

import pytest
from pypdf import PdfReader

from packlayout.export.report import report
from packlayout.export.report_content import content
from packlayout.export.report_pdf import report_pdf, write_report_pdf
from tests.studies import study
from tests.test_export_report import HOSTILE, PAGE, _hostile
from tests.test_export_weighing import full

FULL = full()
# one grey pixel
PNG = base64.b64decode(
    "iVBORw0KGgoAAAANSUhEUgAAAAEAAAABCAAAAAA6fptVAAAACklEQVR4nGNoAAAAggCBd81ytgAAAABJRU5ErkJggg=="
)
PICTURES = {"picture-side.png": ("From the left side", PNG)}


def read(data: bytes) -> tuple[PdfReader, str]:
    reader = PdfReader(BytesIO(data))
    return reader, " ".join(" ".join(page.extract_text() for page in reader.pages).split())


PDF = report_pdf(FULL, content(FULL, PICTURES, ()))
READER, TEXT = read(PDF)


def test_it_says_what_the_page_says() -> None:
    """Figures in the page are in the PDF too; words may be broken over lines in narrow columns."""
    page = re.sub(r"\s+", "", re.sub(r"<[^>]*>", " ", report(FULL, {}).split("</style>")[1]))
    figures = set(re.findall(r"[−+]?\d+\.\d+±\d+\.\d+", page))
    assert len(figures) > 60
    squeezed = re.sub(r"\s+", "", TEXT)
    missing = {f for f in figures if f not in squeezed}
    assert not missing
    for words in ("The answer", "Does it fit?", "✓ pass", "✗ fail", "What to measure next", "Cautions",
                  "licensed engineers", "Bill of materials", "static stability factor", "1" * 20):  # fmt: skip
        assert words in TEXT, words


def test_order_is_that_of_the_page() -> None:
    heads = ["The answer", "Details and pictures", "Layouts", "Weighing", "Frame", "Bill of materials", "Checks",
             "What was not computed", "Inputs", "Cautions"]  # fmt: skip
    spots = [min(m.start() for m in re.finditer(re.escape(h), TEXT)) for h in heads]
    assert spots[0] == min(spots)
    assert TEXT.rindex("Cautions") > TEXT.rindex("Inputs")
    assert all(head in PAGE.text for head in heads)


def test_text_stays_on_the_paper() -> None:
    for page in READER.pages:
        assert [round(float(v) * 25.4 / 72) for v in page.mediabox[2:]] == [210, 297]

        def look(text: str, outer: list[float], inner: list[float], *rest: object) -> None:
            if text.strip():
                x, y = (inner[4 + k] * outer[3 * k] + outer[4 + k] for k in (0, 1))
                assert 14 * 72 / 25.4 <= x <= 196 * 72 / 25.4, text
                assert 8 * 72 / 25.4 <= y <= 284 * 72 / 25.4, text

        page.extract_text(visitor_text=look)


@pytest.mark.parametrize("bad", HOSTILE)
def test_names_come_out_as_text(bad: str) -> None:
    hostile = _hostile(bad)
    _, text = read(report_pdf(hostile, content(hostile, {}, (bad,))))
    squeezed = re.sub(r"\s+", "", text)
    assert squeezed.count(re.sub(r"\s+", "", bad)) > 20


@pytest.mark.parametrize(
    "change", [{"weighing": None}, {"framed": None}, {"layout": None, "placed": None, "framed": None}]
)
def test_what_is_missing_is_said(change: dict[str, None]) -> None:
    bare = replace(study(), **change)
    _, text = read(report_pdf(bare, content(bare, {}, ())))
    assert any(words in text for words in ("Not done.", "There is no frame.", "There is no layout"))


def test_the_same_bytes_twice(tmp_path: Path) -> None:
    assert report_pdf(full(), content(full(), PICTURES, ())) == PDF
    made = write_report_pdf(study(), tmp_path, ("pictures left out: no off-screen OpenGL here",))
    assert "pictures left out: no off-screen OpenGL here" in read(made.files[0].read_bytes())[1]
