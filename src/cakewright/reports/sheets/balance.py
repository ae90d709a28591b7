"""The balance with live sums: water, solids share, and closure at every apparatus."""

from __future__ import annotations

from typing import Any

from cakewright.line.balance import boundary
from cakewright.line.items import Stream
from cakewright.reports.book import Book
from cakewright.reports.numbers import shown
from cakewright.reports.sheets.page import Live, Page, Styles, address, column_letter

__all__ = ["SHEET", "balance_sheet"]

SHEET = "Balance"
_FIRST = 4
_NAMES = (
    "volume_flow",
    "mass_flow",
    "dry_solids_flow",
    "suspended_flow",
    "conditioner_flow",
    "temperature",
    "line_pressure",
)
_SUMMED = ("mass_flow", "suspended_flow")


def balance_sheet(book: Book, sheet: Any, styles: Styles) -> None:
    """Write the sheet."""
    page = Page(sheet, styles)
    found = book.findings.balance
    page.words("Balance", styles.title)
    page.words(
        f"Case {found.case.value}, point case; stream numbers are those of the flow diagram. "
        "Slanted numbers are worked out in this sheet; the streams are fixed by the program.",
        styles.quiet,
        8,
    )
    page.row += 1
    heads = ["no.", "stream", "from", "to"]
    heads += [f"{book.label(n)}, {book.unit(n)}" for n in _NAMES]
    heads += [f"water, {book.unit('mass_flow')}", "solids share, %", "check on site"]
    page.heads(heads)
    first = page.row
    for stream in found.streams:
        _stream(book, page, stream)
    last = page.row - 1
    page.row += 1
    _closure(book, page, first, last)
    page.widths((6, 30, 22, 22, *(14 for _ in range(len(heads) - 5)), 44))


def _values(stream: Stream) -> dict[str, float]:
    """Shown figures of a stream, SI, point case."""
    return {
        "volume_flow": float(stream.volume_flow[0]),
        "mass_flow": float(stream.mass_flow[0]),
        "dry_solids_flow": float(stream.dry_solids_flow[0]),
        "suspended_flow": float(stream.suspended[0]),
        "conditioner_flow": float(stream.conditioner[0]),
        "temperature": stream.temperature,
        "line_pressure": stream.pressure,
    }


def _stream(book: Book, page: Page, stream: Stream) -> None:
    values = {n: shown(n, v, book.units) for n, v in _values(stream).items()}
    mass, solids = (
        address(page.row, _FIRST + _NAMES.index(n)) for n in ("mass_flow", "dry_solids_flow")
    )
    m, s = values["mass_flow"], values["dry_solids_flow"]
    share = f"IF({mass}=0,0,100*{solids}/{mass})"
    row: list[object] = [stream.number, stream.name, stream.source, stream.target]
    row += [*values.values(), Live(f"{mass}-{solids}", m - s)]
    row += [Live(share, 100 * s / m if m else 0.0), stream.check]
    page.line(row)


def _closure(book: Book, page: Page, first: int, last: int) -> None:
    streams = book.findings.balance.streams
    inner = [k for k in dict.fromkeys(s.target for s in streams) if not boundary(k)]
    page.words("In minus out at every apparatus", page.styles.heading)
    page.heads(("", "apparatus", *(f"{book.label(n)}, {book.unit(n)}" for n in _SUMMED)))
    for key in inner:
        cells = [_sum_at(book, page, key, name, first, last) for name in _SUMMED]
        page.line((None, key, *cells))


def _sum_at(book: Book, page: Page, key: str, name: str, first: int, last: int) -> Live:
    def span(at: int) -> str:
        letter = column_letter(at)
        return f"${letter}${first + 1}:${letter}${last + 1}"

    where, values = address(page.row, 1), span(_FIRST + _NAMES.index(name))
    formula = f"SUMIF({span(3)},{where},{values})-SUMIF({span(2)},{where},{values})"
    result = 0.0
    for stream in book.findings.balance.streams:
        sign = (stream.target == key) - (stream.source == key)
        result += sign * shown(name, _values(stream)[name], book.units)
    return Live(formula, result)
