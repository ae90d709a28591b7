"""The report as PDF."""

from __future__ import annotations

import json
import re
from dataclasses import replace
from datetime import date
from io import BytesIO
from string import ascii_uppercase
from typing import Any

import pytest
from pypdf import PdfReader
from tests.unit.reports.findings_sample import sample_findings

from cakewright.reports.book import Book
from cakewright.reports.chapters import all_sections
from cakewright.reports.numbers import Units
from cakewright.reports.pdf import pdf_data, render_annexes, render_pdf


@pytest.fixture(scope="module")
def pages() -> PdfReader:
    """The PDF of the invented findings."""
    return PdfReader(BytesIO(render_pdf(sample_findings())))


def test_answer_is_on_one_page(pages: PdfReader) -> None:
    """Decision, headline, reasons and conditions stand on page one; page two has the contents."""
    first, second = (pages.pages[at].extract_text() for at in (0, 1))
    for words in ("One multi-disc screw press", "18.2", "Because", "Holds as long as"):
        assert words in first
    assert "Contents" in second[:200]
    # A chapter with its page, an annex with its file.
    assert re.search(r"Side by side[ .]+2", second)
    assert re.search(r"Annex A: Basis\s+annex-a-basis\.pdf", second)


def test_annexes_stand_apart() -> None:
    """Each annex is a file of its own, named in the contents, and no page of the report."""
    sections = all_sections(Book(sample_findings(), Units.SI))
    annexes = [s for s in sections if s.annex]
    assert [s.annex for s in annexes] == list(ascii_uppercase[: len(annexes)])
    files = pdf_data(sample_findings(), sections, Units.SI)
    named = [each["file"] for each in json.loads(files["report.pdf"])["annexes"]]
    assert named == list(files)[1:]
    keys = {s["key"] for s in json.loads(files["report.pdf"])["sections"]}
    assert keys == {s.key for s in sections if not s.annex}


def _entry(thing: Any, *keys: str | int) -> Any:
    """An entry some levels down in the file's own structure, which pypdf leaves untyped."""
    for key in keys:
        thing = thing.get_object()[key]
    return thing.get_object()


def test_fonts_are_inside_the_file(pages: PdfReader) -> None:
    """Every font of every page is embedded."""
    checked = 0
    for page in pages.pages:
        for font in _entry(page, "/Resources", "/Font").values():
            described = _entry(font, "/DescendantFonts", 0, "/FontDescriptor")
            assert any(key in described for key in ("/FontFile", "/FontFile2", "/FontFile3"))
            checked += 1
    assert checked


def test_pdf_is_tagged_for_readers(pages: PdfReader) -> None:
    """The file says its language and carries its structure."""
    root = pages.trailer["/Root"]
    assert _entry(root, "/MarkInfo")["/Marked"]
    assert "en" in str(_entry(root)["/Lang"])


def test_marks_survive(pages: PdfReader) -> None:
    """ "From memory" and "judgement" reach the PDF."""
    annexes = PdfReader(BytesIO(render_annexes(sample_findings())))
    text = "".join(page.extract_text() for each in (pages, annexes) for page in each.pages)
    assert "from memory" in text
    assert "judgement" in text


def test_same_findings_same_bytes() -> None:
    """Nothing of the clock or the machine is in the file."""
    assert render_pdf(sample_findings()) == render_pdf(sample_findings())


def test_unknown_characters_become_boxes() -> None:
    """A site name in a script the fonts lack shows boxes; the report is still made."""
    made = render_pdf(replace(sample_findings(), site="豆腐工場 #1 *x* $y$"))
    text = PdfReader(BytesIO(made)).pages[0].extract_text()
    assert "□□□□ #1 *x* $y$" in text


def test_dated_pdf_claims_archive_format() -> None:
    """With a date the file is also marked as PDF/A."""
    made = PdfReader(BytesIO(render_pdf(sample_findings(), Units.US, on=date(2025, 3, 1))))
    assert b"pdfaid:part>2<" in _entry(made.trailer, "/Root", "/Metadata").get_data()
    assert "2025" in str(made.metadata)
