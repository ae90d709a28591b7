"""The calculation annex: formulas that can be recomputed are live and follow the inputs."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Any

from cakewright.quantities import CalculationLine, house_name
from cakewright.quantities.formula import Formula, read_formula
from cakewright.reports.book import Book
from cakewright.reports.numbers import shown, unit_text
from cakewright.reports.sheets.page import Live, Page, Styles, address, conversion, from_si_formula

__all__ = ["SHEET", "calculations_sheet"]

SHEET = "Calculations"
_HEADS = (
    "symbol",
    "what",
    "formula",
    "value in SI",
    "SI unit",
    "value",
    "unit",
    "as reported, SI",
    "agrees",
    "source",
    "status",
    "valid",
    "mark",
    "note",
    "key",
)
_VALUE = 3
_CLOSE = 1e-6

Cells = dict[tuple[str, float], str]


def calculations_sheet(
    book: Book, sheet: Any, styles: Styles, givens: Mapping[tuple[str, float], str]
) -> None:
    """Write the sheet; a number put in points to the input or the result it comes from."""
    page = Page(sheet, styles)
    page.words("Calculations", styles.title)
    page.words(
        "One line per result, its numbers below it. A number that is an input or an earlier "
        "result points to it.",
        styles.quiet,
        8,
    )
    page.heads(_HEADS)
    sheet.freeze_panes(page.row, 2)
    known: Cells = dict(givens)
    chapter = ""
    for line in book.findings.lines:
        if line.chapter != chapter:
            chapter = line.chapter
            page.words(chapter, styles.heading)
        _line(book, page, line, known)
    page.widths((12, 44, 40, 14, 9, 12, 10, 14, 8, 16, 16, 30, 14, 36, 30))


def _line(book: Book, page: Page, line: CalculationLine, known: Cells) -> None:
    result_row = page.row
    cells = {t.symbol: address(result_row + 1 + at, _VALUE) for at, t in enumerate(line.terms)}
    value = _result(line, cells)
    cell, reported = address(result_row, _VALUE), address(result_row, 7)
    slope, offset = conversion(book, line.name)
    agrees = f'IF(ABS({cell}-{reported})<={_CLOSE!r}*ABS({reported}),"yes","no")'
    page.line(
        (
            line.symbol,
            line.title,
            f"{line.symbol} = {line.formula or line.model}",
            value,
            unit_text(house_name(line.name).unit, book.findings.currency),
            Live(from_si_formula(cell, slope, offset), shown(line.name, line.result, book.units)),
            book.unit(line.name),
            line.result,
            Live(agrees, "yes"),
            line.source,
            line.status.value,
            line.valid,
            line.mark,
            line.note,
            line.key,
        ),
    )
    for term in line.terms:
        where = known.get((term.name, term.value))
        number: object = Live(where, term.value) if where else term.value
        unit = unit_text(house_name(term.name).unit, book.findings.currency)
        shown_value = shown(term.name, term.value, book.units)
        slope, offset = conversion(book, term.name)
        back = Live(from_si_formula(address(page.row, _VALUE), slope, offset), shown_value)
        label = "    " + book.label(term.name)
        tail = (book.unit(term.name), "", "", term.basis)
        page.line((term.symbol, label, "", number, unit, back, *tail))
    key = (line.name, line.result)
    # Two results that happen to be alike must not stand in for each other.
    known[key] = "" if key in known else address(result_row, _VALUE, SHEET)


def _result(line: CalculationLine, cells: Mapping[str, str]) -> object:
    """Live where the printed formula gives the reported result, else the reported number."""
    formula = read_formula(line.formula, list(cells))
    numbers = {term.symbol: term.value for term in line.terms}
    if formula is None or not _agrees(formula, numbers, line.result):
        return line.result
    return Live(formula.spreadsheet(cells), line.result)


def _agrees(formula: Formula, numbers: Mapping[str, float], result: float) -> bool:
    try:
        return math.isclose(formula.value(numbers), result, rel_tol=_CLOSE, abs_tol=1e-300)
    except (ArithmeticError, ValueError):
        return False
