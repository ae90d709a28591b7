"""Every value that went in, in the unit shown and in SI, with its basis."""

from __future__ import annotations

from typing import Any

from cakewright.quantities import Given, house_name
from cakewright.reports.book import Book
from cakewright.reports.numbers import shown, unit_text
from cakewright.reports.sheets.page import Live, Page, Styles, address, conversion

__all__ = ["SHEET", "inputs_sheet"]

SHEET = "Inputs"
_HEADS = (
    "input",
    "value",
    "unit",
    "low (P10)",
    "high (P90)",
    "basis",
    "mark",
    "source",
    "default",
    "in the study",
    "as written",
    "note",
    "in SI",
    "SI unit",
)
_SI_COLUMN = 12


def inputs_sheet(
    book: Book, sheet: Any, styles: Styles
) -> tuple[dict[tuple[str, float], str], dict[str, str]]:
    """Write the sheet; the SI cell of each value by name and value, and by its place in the study.

    By name and value it is "" where two are alike.
    """
    page = Page(sheet, styles)
    page.words("Inputs", styles.title)
    page.words(
        "Change a value in colour and the calculations that use it follow. The machine choice "
        "and the bands are worked out by the program and do not.",
        styles.quiet,
        10,
        28,
    )
    page.heads(_HEADS)
    sheet.freeze_panes(page.row, 1)
    cells: dict[tuple[str, float], str] = {}
    places: dict[str, str] = {}
    for given in book.findings.givens:
        key = (given.name, given.value)
        # Two inputs that happen to be alike must not stand in for each other.
        cells[key] = "" if key in cells else address(page.row, _SI_COLUMN, SHEET)
        places[given.where] = address(page.row, _SI_COLUMN, SHEET)
        _row(book, page, given)
    page.widths((28, 12, 9, 11, 11, 11, 13, 14, 8, 30, 18, 36, 14, 9))
    return cells, places


def _row(book: Book, page: Page, given: Given) -> None:
    slope, offset = conversion(book, given.name)
    value = shown(given.name, given.value, book.units)
    cell = address(page.row, 1)
    back = f"({cell}-{offset!r})/{slope!r}" if offset else f"{cell}/{slope!r}"
    ends = [
        None if v is None else shown(given.name, v, book.units) for v in (given.low, given.high)
    ]
    row = (
        book.label(given.name),
        value,
        book.unit(given.name),
        *ends,
        given.basis.value,
        given.mark.value,
        given.source or "",
        "yes" if given.default else "",
        given.where,
        given.as_written,
        given.note,
        Live(back, given.value),
        unit_text(house_name(given.name).unit, book.findings.currency),
    )
    for column, item in enumerate(row):
        page.put(column, item, page.styles.input if column == 1 else None)
    page.row += 1
