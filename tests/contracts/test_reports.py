"""Every demonstration can be reported in every form, cleanly."""

from __future__ import annotations

import json
import re
from functools import cache
from io import BytesIO

import openpyxl
import pytest
from pypdf import PdfReader

from cakewright.jobs.findings import Findings
from cakewright.quantities import house_names
from cakewright.reports import (
    Book,
    Units,
    findings_json,
    render_annexes,
    render_pdf,
    write_html,
    write_workbook,
)
from cakewright.reports.chapters import all_sections
from cakewright.reports.drawings.check import overlaps
from cakewright.reports.line_drawings import diagram_sheet, plan_sheet
from cakewright.reports.numbers import unit_text
from cakewright.storage.evaluation import evaluate_file

pytestmark = pytest.mark.slow

DEMOS = ("soy", "valley", "reservoir")


@cache
def findings(demo: str) -> Findings:
    """Findings of one demonstration, with few samples."""
    return evaluate_file(None, demo, lambda _: None, samples=64, with_press=True)


@cache
def report_pages(demo: str) -> tuple[str, ...]:
    """Texts of the pages of a demonstration's report as PDF."""
    pages = PdfReader(BytesIO(render_pdf(findings(demo)))).pages
    return tuple(" ".join(page.extract_text().split()) for page in pages)


@pytest.mark.parametrize("demo", DEMOS)
def test_page_links_lead_somewhere(demo: str) -> None:
    """Every link of the report has its target and every id is used once."""
    page = write_html(findings(demo))
    ids = re.findall(r'\sid="([^"]+)"', page)
    assert len(ids) == len(set(ids))
    assert set(re.findall(r'href="#([^"]+)"', page)) <= set(ids)
    assert not re.search(r"(?<![a-z])nan(?![a-z])", re.sub(r"<[^>]+>", " ", page).lower())


@pytest.mark.parametrize("demo", DEMOS)
def test_answer_fits_one_page(demo: str) -> None:
    """The decision and all that carries it stand on page one; page two has the contents."""
    found = findings(demo)
    flat = report_pages(demo)
    assert "Holds as long as" in flat[0]
    assert found.decision.conditions[-1].split()[-1] in flat[0]
    assert "Contents" in flat[1]
    assert any("How well a figure is known" in page for page in flat)
    # Some twelve pages to read, and the sheets; where a press is worked out, its chapter too.
    assert len(flat) <= 16


@pytest.mark.parametrize("demo", DEMOS)
def test_drawings_have_no_overlaps(demo: str) -> None:
    """Diagram of the line and plot plan: nothing on anything."""
    found = findings(demo)
    if found.line is not None:
        book = Book(found, Units.SI)
        assert overlaps(diagram_sheet(book, found.line)) == []
        assert overlaps(plan_sheet(book, found.line)) == []


@pytest.mark.parametrize("demo", DEMOS)
@pytest.mark.parametrize("units", list(Units))
def test_every_section_has_words(demo: str, units: Units) -> None:
    """No section, table or picture is empty, in either system of units."""
    sections = all_sections(Book(findings(demo), units))
    assert [section.key for section in sections][:2] == ["answer", "comparison"]
    for section in sections:
        assert section.blocks
        for block in section.blocks:
            assert getattr(block, "rows", True)
            assert getattr(block, "alt", True)


@pytest.mark.parametrize("demo", DEMOS)
def test_marks_reach_every_output(demo: str) -> None:
    """Each mark an input carries is found in page, PDF, workbook and data."""
    found = findings(demo)
    marks = {given.mark.value for given in found.givens if given.mark}
    assert marks
    page, data = write_html(found), findings_json(found)
    annexes = PdfReader(BytesIO(render_annexes(found))).pages
    pdf = " ".join((*report_pages(demo), *(page.extract_text() for page in annexes[:4])))
    book = openpyxl.load_workbook(BytesIO(write_workbook(found)), read_only=True)
    cells = {value for row in book["Inputs"].iter_rows(values_only=True) for value in row}
    for mark in marks:
        assert mark in page
        assert mark in data
        assert mark in pdf
        assert mark in cells


@pytest.mark.parametrize("demo", DEMOS)
def test_workbook_has_live_sums_and_no_errors(demo: str) -> None:
    """Balance, comparison and annex hold formulas; no stored result is an error."""
    data = write_workbook(findings(demo))
    book = openpyxl.load_workbook(BytesIO(data))
    for name in ("Answer", "Side by side", "Balance", "Calculations"):
        cells = [cell for row in book[name].iter_rows() for cell in row]
        assert any(cell.data_type == "f" for cell in cells), name
    stored = openpyxl.load_workbook(BytesIO(data), data_only=True)
    texts = [str(c.value) for s in stored for row in s.iter_rows() for c in row if c.value]
    assert not any(text.startswith("#") for text in texts)


@pytest.mark.parametrize("demo", DEMOS)
def test_data_reads_back(demo: str) -> None:
    """The data are JSON with the decision in them and no sample left in full."""
    data = json.loads(findings_json(findings(demo)))
    assert data["decision"]["machine"] == findings(demo).decision.machine
    assert max(_lengths(data)) <= 400


def _lengths(thing: object) -> list[int]:
    if isinstance(thing, dict):
        return [n for value in thing.values() for n in _lengths(value)] or [0]
    if isinstance(thing, list):
        plain = len(thing) if all(isinstance(x, float) for x in thing) else 0
        return [plain, *(n for value in thing for n in _lengths(value))]
    return [0]


@pytest.mark.parametrize("name", sorted(house_names()))
def test_every_unit_can_be_shown(name: str) -> None:
    """No house name is shown with raw unit text: powers raised, degrees and currency signed."""
    entry = house_names()[name]
    for unit in (entry.shown, entry.shown_us):
        text = unit_text(unit, "EUR")
        assert not re.search(r"[A-Za-z][0-9]|\*|\^|deg|currency|_", text), f"{name}: {text}"
