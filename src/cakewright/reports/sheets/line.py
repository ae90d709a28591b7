"""The lists of the designed line, with the sums of the motor list live."""

from __future__ import annotations

from typing import Any

from cakewright.reports.book import Book
from cakewright.reports.line_tables import Limits, ListTable, Value, limits_text
from cakewright.reports.numbers import shown
from cakewright.reports.sheets.page import Live, Page, Styles, column_letter

__all__ = ["list_sheet"]

_SUMMED = ("installed", "drawn together")


def list_sheet(book: Book, sheet: Any, styles: Styles, table: ListTable) -> None:
    """Write one list; a value is followed by its unit."""
    page = Page(sheet, styles)
    page.words(table.title, styles.title)
    measured = [any(isinstance(r[at], Value) for r in table.rows) for at in range(len(table.heads))]
    heads: list[str] = []
    for (head, _), unit in zip(table.heads, measured, strict=True):
        heads += [head, "unit"] if unit else [head]
    page.heads(heads)
    sheet.freeze_panes(page.row, 1)
    first = page.row
    for row in table.rows:
        page.line(_cells(book, row, measured))
    _sums(book, page, table, heads, first)
    page.widths(_widths(table, measured))


def _cells(book: Book, row: tuple[object, ...], measured: list[bool]) -> list[object]:
    cells: list[object] = []
    for entry, unit in zip(row, measured, strict=True):
        if isinstance(entry, Value):
            value = shown(entry.name, entry.value, book.units)
            cells += [value, book.unit(entry.name)]
        elif isinstance(entry, Limits):
            cells.append(limits_text(book, entry))
        else:
            cells += [entry, None] if unit else [entry]
    return cells


def _widths(table: ListTable, measured: list[bool]) -> list[float]:
    widths: list[float] = []
    for (_, share), unit in zip(table.heads, measured, strict=True):
        widths += [12.0, 9.0] if unit else [max(8.0, 16.0 * share)]
    return widths


def _sums(book: Book, page: Page, table: ListTable, heads: list[str], first: int) -> None:
    columns = [head for head, _ in table.heads]
    if not table.rows or not set(_SUMMED) <= set(columns):
        return
    cells: list[object] = [None] * len(heads)
    cells[1] = "all drives"
    for head in _SUMMED:
        at, column = columns.index(head), heads.index(head)
        entries = [row[at] for row in table.rows]
        total = sum(shown(v.name, v.value, book.units) for v in entries if isinstance(v, Value))
        letter = column_letter(column)
        cells[column] = Live(f"SUM({letter}{first + 1}:{letter}{page.row})", total)
    page.line(cells)
