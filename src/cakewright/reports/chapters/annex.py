"""Every calculation: symbol = formula = numbers = result, with unit, source and validity."""

from __future__ import annotations

import math

from cakewright.quantities import CalculationLine, Term, house_name
from cakewright.quantities.formula import read_formula, with_numbers
from cakewright.reports.book import Book, anchor
from cakewright.reports.content import Calculation, Calculations, Paragraph, Section
from cakewright.reports.numbers import decimals_for, number_text, plain_text, shown, unit_text

__all__ = ["annex", "recomputes"]

_CLOSE = 1e-6
_DIGITS = 6  # so that a reader recomputes the digits printed


def annex(book: Book) -> Section | None:
    """The calculation annex, chapter by chapter."""
    found = book.findings
    if not found.lines:
        return None
    chapters = list(dict.fromkeys((*found.chapters, *(line.chapter for line in found.lines))))
    blocks = tuple(
        Calculations(_sentence(chapter), lines)
        for chapter in chapters
        if (lines := tuple(_shown(book, line) for line in found.lines if line.chapter == chapter))
    )
    intro = Paragraph(
        "The numbers put in are in SI; the result stands in the units of this report. “Recomputed” "
        "says that the formula as printed, with the numbers as stored, gives the result again.",
        "note",
    )
    return Section("annex", "Calculations", (intro, *blocks))


def recomputes(line: CalculationLine) -> bool | None:
    """Whether the printed formula gives the result; None when it is in words."""
    numbers = {term.symbol: term.value for term in line.terms}
    formula = read_formula(line.formula, list(numbers))
    if formula is None:
        return None
    try:
        value = formula.value(numbers)
    except (ArithmeticError, ValueError):
        return False
    return math.isclose(value, line.result, rel_tol=_CLOSE, abs_tol=1e-300)


def _printed(term: Term) -> str:
    return plain_text(term.value, _DIGITS)


def _sentence(words: str) -> str:
    return words[:1].upper() + words[1:]


def _shown(book: Book, line: CalculationLine) -> Calculation:
    return Calculation(
        anchor("line", line.key),
        _sentence(line.title),
        line.symbol,
        line.formula or line.model,
        with_numbers(line.formula, {t.symbol: _printed(t) for t in line.terms}),
        number_text(
            shown(line.name, line.result, book.units),
            decimals_for(line.name, (line.result,), book.units),
        ),
        book.unit(line.name),
        tuple(
            (
                term.symbol,
                book.label(term.name),
                book.quantity(term.name, term.value),
                f"{_printed(term)} {unit_text(house_name(term.name).unit)}".strip(),
            )
            for term in line.terms
        ),
        line.source,
        line.valid,
        line.status.value,
        line.note,
        line.mark,
        recomputes(line),
    )
