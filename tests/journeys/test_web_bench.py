"""Bench readings pasted from a spreadsheet."""

from __future__ import annotations

import io
from pathlib import Path
from typing import TYPE_CHECKING

import pytest
import xlsxwriter
from tests.journeys.steps import opened

if TYPE_CHECKING:
    from playwright.sync_api import Page

pytestmark = pytest.mark.browser

# Invented readings of a vacuum filtration: filtrate volume rising with the root of time.
HEAD = (
    "test\tF1\nkind\tfiltration_pressure\nsludge\tfroth\nsludge class\tflotation_froth\n"
    "invented\tyes\npressure\t50\tkPa\nfilter area\t63.6\tcm2\ntemperature\t20\tdegC\n"
    "feed solids\t1.8\t%\ncake solids\t12\t%\ndose\t6\tkg/t\nreadings\n"
    "time [s]\tfiltrate volume [mL]\n"
)
READINGS = "".join(f"{60 * n}\t{26 * n**0.5 - 3:.1f}\n" for n in range(1, 14))


def test_pasted_readings_give_a_result(page: Page) -> None:
    """Cells copied from a spreadsheet are pasted, kept and fitted; the chapter shows the resistance
    with its calculation behind it."""
    opened(page, "bench")
    page.fill("#bench-paste", HEAD + READINGS)
    page.get_by_role("button", name="Keep these readings").click()
    page.locator("#bench-files").wait_for()
    assert "bench-1.csv" in page.locator("#bench-files").inner_text()
    words = page.locator("#results").inner_text().lower()
    assert "resistance" in words
    assert "invented" in words
    page.get_by_role("button", name="Take out").click()
    page.locator(".empty").wait_for()


def test_pasted_rubbish_is_said_with_its_place(page: Page) -> None:
    """A reading that is no number is named with its row and column; nothing is kept."""
    opened(page, "bench")
    page.fill("#bench-paste", HEAD + READINGS.replace("60\t", "soon\t", 1))
    page.get_by_role("button", name="Keep these readings").click()
    said = page.locator("#bench-said")
    said.locator("li").first.wait_for()
    assert "row" in said.inner_text()
    assert "soon" in said.inner_text()
    assert page.locator("#bench-files").count() == 0
    assert page.input_value("#bench-paste").startswith("test\tF1")


def test_empty_sheet_is_inserted(page: Page) -> None:
    """The empty sheet of the chosen test is put into the box, ready to be filled."""
    opened(page, "bench")
    page.select_option("#bench-kind", "capillary_suction")
    page.get_by_role("button", name="Insert its empty sheet").click()
    page.wait_for_function(
        "() => document.getElementById('bench-paste').value.includes('readings')"
    )
    assert "capillary_suction" in page.input_value("#bench-paste")


def test_hostile_workbook_is_refused(page: Page, tmp_path: Path) -> None:
    """A workbook that is none is refused in words; a real one is taken."""
    opened(page, "bench")
    bad = tmp_path / "bad.xlsx"
    bad.write_bytes(b"PK\x03\x04 not really")
    page.set_input_files("#bench-file", bad)
    said = page.locator("#bench-said")
    said.get_by_text("is not a workbook").wait_for()
    good = tmp_path / "good.xlsx"
    data = io.BytesIO()
    with xlsxwriter.Workbook(data) as book:
        sheet = book.add_worksheet()
        for row, line in enumerate((HEAD + READINGS).splitlines()):
            for column, cell in enumerate(line.split("\t")):
                number = cell.replace(".", "", 1).isdigit()
                sheet.write(row, column, float(cell) if number else cell)
    good.write_bytes(data.getvalue())
    page.set_input_files("#bench-file", good)
    page.locator("#bench-files").wait_for()
