"""All kinds of machine side by side; differences from the chosen one as live formulas."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from cakewright.quantities import Figure
from cakewright.reports.book import Book
from cakewright.reports.numbers import shown
from cakewright.reports.sheets.page import Live, Page, Styles, address
from cakewright.reports.sheets.tables import Answers

__all__ = ["SHEET", "comparison_sheet"]

SHEET = "Side by side"


def comparison_sheet(
    book: Book, sheet: Any, styles: Styles, answers: Answers, money: Mapping[tuple[str, str], str]
) -> dict[str, str]:
    """Write the sheet; the cell of each figure of the chosen kind by house name."""
    page = Page(sheet, styles)
    options = book.findings.options
    page.words("Side by side", styles.title)
    page.words(
        "Point case, following the inputs where slanted; 10 % and 90 % of the cases, basis and "
        "mark as the program told them.",
        styles.quiet,
        8,
    )
    page.row += 1
    names = list(dict.fromkeys(n for o in options for n in o.figures))
    points: dict[tuple[str, str], tuple[int, float]] = {}
    for option in options:
        page.words(f"{option.label}: {option.answer.value}", styles.heading)
        page.heads(("figure", "point", "unit", "P10", "P90", "basis", "mark", "source", "note"))
        for key in names:
            figure = option.figures.get(key)
            if figure is None:
                continue
            if figure.exists:
                points[option.machine, key] = (
                    page.row,
                    shown(figure.name, figure.point, book.units),
                )
            page.line(_row(book, figure, _formula(book, option.machine, figure, answers, money)))
        page.row += 1
    _differences(book, page, names, points)
    page.widths((30, 12, 11, 12, 12, 12, 14, 16, 44))
    chosen = book.findings.decision.machine
    return {
        book_name(book, key): address(row, 1, SHEET)
        for (machine, key), (row, _) in points.items()
        if machine == chosen
    }


def book_name(book: Book, key: str) -> str:
    """House name of a figure that options carry under a key."""
    return next(o.figures[key].name for o in book.findings.options if key in o.figures)


def _formula(
    book: Book,
    machine: str,
    figure: Figure,
    answers: Answers,
    money: Mapping[tuple[str, str], str],
) -> str:
    """Where a figure comes from: the money sheet or the tables; "" where it is fixed."""
    if not figure.exists:
        return ""
    if (machine, figure.name) in money:
        return money[machine, figure.name]
    return answers.shown(book, machine, figure.name, figure.name, figure.point)


def _row(book: Book, figure: Figure, formula: str) -> tuple[object, ...]:
    tail = (figure.basis.value, figure.mark.value, figure.source or "", figure.note)
    if not figure.exists:
        return (book.label(figure.name), None, book.unit(figure.name), None, None, *tail)
    band, point = book.shown_band(figure)
    value: object = Live(formula, point) if formula else point
    return (book.label(figure.name), value, book.unit(figure.name), band.p10, band.p90, *tail)


def _differences(
    book: Book, page: Page, names: list[str], points: dict[tuple[str, str], tuple[int, float]]
) -> None:
    chosen = book.findings.decision.machine
    others = [o for o in book.findings.options if o.machine != chosen]
    page.words(f"Difference from the {book.findings.decision.label}", page.styles.heading)
    page.heads(("figure", "unit", *(o.label for o in others)))
    for key in names:
        base = points.get((chosen, key))
        if base is None:
            continue
        cells: list[object] = []
        for option in others:
            other = points.get((option.machine, key))
            if other is None:
                cells.append(None)
                continue
            formula = f"{address(other[0], 1)}-{address(base[0], 1)}"
            cells.append(Live(formula, other[1] - base[1]))
        name = book_name(book, key)
        page.line((book.label(name), book.unit(name), *cells))
