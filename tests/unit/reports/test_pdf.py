"""The report as PDF."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from io import BytesIO

import pytest
from pypdf import PdfReader
from tests.unit.reports.findings_sample import sample_findings

from cakewright.reports.numbers import Units
from cakewright.reports.pdf import render_pdf


@pytest.fixture(scope="module")
def pages() -> PdfReader:
    """The PDF of the invented findings."""
    return PdfReader(BytesIO(render_pdf(sample_findings())))


def test_answer_is_on_one_page(pages: PdfReader) -> None:
    """Decision, headline, reasons and conditions stand on page one; the basis begins page two."""
    first, second = (pages.pages[at].extract_text() for at in (0, 1))
    for words in ("One multi-disc screw press", "18.2", "Because", "Holds as long as"):
        assert words in first
    assert second.split("\n")[2].startswith("Basis") or "Basis" in second[:200]


def test_fonts_are_inside_the_file(pages: PdfReader) -> None:
    """Every font of every page is embedded."""
    for page in pages.pages:
        for font in page["/Resources"].get_object().get("/Font", {}).values():  # type: ignore[attr-defined]
            described = font.get_object()["/DescendantFonts"][0].get_object()["/FontDescriptor"]
            assert any(key in described for key in ("/FontFile", "/FontFile2", "/FontFile3"))


def test_pdf_is_tagged_for_readers(pages: PdfReader) -> None:
    """The file says its language and carries its structure."""
    root = pages.trailer["/Root"]
    assert root["/MarkInfo"]["/Marked"]
    assert "en" in str(root["/Lang"])


def test_marks_survive(pages: PdfReader) -> None:
    """ "From memory" and "judgement" reach the PDF."""
    text = "".join(page.extract_text() for page in pages.pages)
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
    made = render_pdf(sample_findings(), Units.US, on=date(2025, 3, 1))
    assert b"pdfaid" in made or b"pdfaid" in PdfReader(BytesIO(made)).xmp_metadata.stream.get_data()  # type: ignore[union-attr]
