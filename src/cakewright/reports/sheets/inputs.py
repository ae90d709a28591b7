"""Every value that went in, in the unit shown and in SI, with its basis."""

from __future__ import annotations

from collections.abc import Collection
from typing import Any

from cakewright.quantities import Given, house_name
from cakewright.reports.book import Book
from cakewright.reports.numbers import shown, unit_text
from cakewright.reports.sheets.links import Links
from cakewright.reports.sheets.page import Live, Page, Styles, address, conversion

__all__ = ["FIXED", "SHEET", "input_links", "inputs_sheet"]

SHEET = "Inputs"
_HEADS = (
    "input",
    "value",
    "unit",
    "in this workbook",
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
_SI_COLUMN = 13
_FIRST_ROW = 3
FIXED = "fixed by the program"


def input_links(book: Book) -> tuple[dict[tuple[str, float], str], Links]:
    """Where the SI value of each input will stand, by name and value, and by its place.

    By name and value it is "" where two are alike.
    """
    cells: dict[tuple[str, float], str] = {}
    places: dict[str, str] = {}
    for at, given in enumerate(book.findings.givens):
        key, cell = (given.name, given.value), address(_FIRST_ROW + at, _SI_COLUMN, SHEET)
        # Two inputs that happen to be alike must not stand in for each other.
        cells[key] = "" if key in cells else cell
        places[given.where] = cell
    return cells, Links(places, {given.where: given for given in book.findings.givens})


def inputs_sheet(
    book: Book, sheet: Any, styles: Styles, links: Links, tabled: Collection[str]
) -> None:
    """Write the sheet, after the others: they say which inputs they rest on (``links.used``)."""
    page = Page(sheet, styles)
    page.words("Inputs", styles.title)
    page.words(
        "Change a value in colour: answer, money, bill and carbon follow, prices and factors by "
        "formula, the sludge and the hours by the sheet Tables within the range and the error "
        "told there. Kind, recipe, frame, sizes of the line, bands, texts and the balance are "
        "fixed by the program; run the study again for them.",
        styles.quiet,
        11,
        42,
    )
    page.heads(_HEADS)
    sheet.freeze_panes(page.row, 1)
    for given in book.findings.givens:
        _row(book, page, given, _followed(given, links, tabled))
    page.widths((28, 12, 9, 20, 11, 11, 11, 13, 14, 8, 30, 18, 36, 14, 9))


def _followed(given: Given, links: Links, tabled: Collection[str]) -> str:
    if given.where in tabled:
        return "by table"
    return "live" if given.where in links.used else FIXED


def _row(book: Book, page: Page, given: Given, followed: str) -> None:
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
        followed,
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
        coloured = column == 1 and followed != FIXED
        page.put(column, item, page.styles.input if coloured else None)
    page.row += 1
