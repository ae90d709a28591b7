"""The balance with live sums: water, solids share, and closure at every apparatus."""

from __future__ import annotations

from typing import Any

from cakewright.jobs.findings import StreamFinding
from cakewright.reports.book import Book
from cakewright.reports.drawings.from_balance import is_boundary, passed_through
from cakewright.reports.numbers import shown
from cakewright.reports.sheets.page import Live, Page, Styles, address, column_letter

__all__ = ["SHEET", "balance_sheet"]

SHEET = "Balance"
_FIRST = 4
_SUMMED = ("mass_flow", "dry_solids_flow")


def balance_sheet(book: Book, sheet: Any, styles: Styles) -> None:
    """Write the sheet."""
    page = Page(sheet, styles)
    found = book.findings.balance
    page.words("Balance", styles.title)
    page.words("Point case. Slanted numbers are worked out in this sheet.", styles.quiet, 8)
    page.row += 1
    keys = list(dict.fromkeys(n for s in found.streams for n in s.figures))
    names = {
        key: next(s.figures[key].name for s in found.streams if key in s.figures) for key in keys
    }
    columns = {names[key]: _FIRST + at for at, key in enumerate(keys)}
    live = all(name in columns for name in _SUMMED)
    heads = ["no.", "stream", "from", "to"]
    heads += [f"{book.label(n)}, {book.unit(n)}" for n in names.values()]
    heads += [f"water, {book.unit('mass_flow')}", "solids share, %"] if live else []
    page.heads([*heads, "check on site"])
    first = page.row
    for number, stream in enumerate(found.streams, 1):
        _stream(book, page, number, stream, keys, columns if live else {})
    last = page.row - 1
    page.row += 1
    for note in (found.conditioner_note, found.recycle_note):
        if note:
            page.words(note, styles.quiet, len(heads))
    if live:
        page.row += 1
        _closure(book, page, columns, first, last)
    page.widths((6, 26, 20, 20, *(16 for _ in range(len(heads) - 4)), 44))


def _stream(
    book: Book,
    page: Page,
    number: int,
    stream: StreamFinding,
    keys: list[str],
    live: dict[str, int],
) -> None:
    figures = [stream.figures.get(key) for key in keys]
    values = [
        shown(f.name, f.point, book.units) if f is not None and f.exists else None for f in figures
    ]
    row: list[object] = [number, stream.label, stream.source, stream.target, *values]
    if live:
        mass, solids = (live[name] for name in _SUMMED)
        mass_cell, solids_cell = address(page.row, mass), address(page.row, solids)
        has = isinstance(row[mass], float) and isinstance(row[solids], float)
        m, s = (float(str(row[c])) if has else 0.0 for c in (mass, solids))
        row.append(Live(f"{mass_cell}-{solids_cell}", m - s) if has else None)
        share = f"IF({mass_cell}=0,0,100*{solids_cell}/{mass_cell})"
        row.append(Live(share, 100 * s / m if m else 0.0) if has else None)
    page.line([*row, stream.check_on_site])


def _closure(book: Book, page: Page, columns: dict[str, int], first: int, last: int) -> None:
    streams = book.findings.balance.streams
    inner = [
        key
        for key in dict.fromkeys(s.target for s in streams)
        if any(s.source == key for s in streams) and not is_boundary(key)
    ]
    page.words("In minus out at every apparatus", page.styles.heading)
    page.heads(("", "apparatus", *(f"{book.label(n)}, {book.unit(n)}" for n in _SUMMED)))
    for key in inner:
        cells: list[object] = []
        for name in _SUMMED:
            cells.append(_sum_at(book, page, key, name, columns[name], first, last))
        page.line((None, key, *cells))


def _sum_at(
    book: Book, page: Page, key: str, name: str, column: int, first: int, last: int
) -> Live:
    def span(at: int) -> str:
        letter = column_letter(at)
        return f"${letter}${first + 1}:${letter}${last + 1}"

    balance = book.findings.balance
    where = address(page.row, 1)
    values = span(column)
    formula = f"SUMIF({span(3)},{where},{values})-SUMIF({span(2)},{where},{values})"
    inside = [tank for tank, press in passed_through(balance).items() if press == key]
    formula += "".join(f'+SUMIF({span(3)},"{tank}",{values})' for tank in inside)
    result = 0.0
    for stream in balance.streams:
        figure = next((f for f in stream.figures.values() if f.name == name and f.exists), None)
        if figure is not None:
            sign = (stream.target in (key, *inside)) - (stream.source == key)
            result += sign * shown(name, figure.point, book.units)
    return Live(formula, result)
