"""What no formula can carry: the program's answers as surfaces over the inputs that move them."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from cakewright.jobs.response import KindResponse, Response
from cakewright.quantities import FloatArray, house_name
from cakewright.reports.book import Book
from cakewright.reports.numbers import unit_text
from cakewright.reports.sheets.links import Links
from cakewright.reports.sheets.page import (
    Live,
    Page,
    Styles,
    address,
    column_letter,
    conversion,
    from_si_formula,
)

__all__ = ["SHEET", "Answers", "tables_sheet"]

SHEET = "Tables"
# A term this small is left blank.
_NOTHING = 1e-9
_U, _BASIS, _NOW, _FIRST = 5, 1, 3, 2


@dataclass(frozen=True, slots=True)
class Answers:
    """The live SI cell of each answer by kind and key, its value now, and its largest error."""

    cells: Mapping[tuple[str, str], str] = field(default_factory=dict)
    points: Mapping[tuple[str, str], float] = field(default_factory=dict)
    errors: Mapping[tuple[str, str], float] = field(default_factory=dict)
    places: frozenset[str] = frozenset()

    def has(self, machine: str, *keys: str) -> bool:
        """Whether all of these answers of a kind are in the tables."""
        return all((machine, key) in self.cells for key in keys)

    def term(self, machine: str, key: str) -> str:
        """The cell of an answer as a term of a formula."""
        return self.cells[machine, key]

    def shown(self, book: Book, machine: str, key: str, name: str, value: float) -> str:
        """Formula of an answer in the unit shown; "" where the tables give another value."""
        at = (machine, key)
        if at not in self.cells or not math.isclose(self.points[at], value, rel_tol=1e-9):
            return ""
        return from_si_formula(self.cells[at], *conversion(book, name))


def tables_sheet(book: Book, sheet: Any, styles: Styles, links: Links) -> Answers:
    """Write the sheet; where every answer stands."""
    response = book.findings.decide.response if book.findings.decide else None
    page = Page(sheet, styles)
    page.words("Tables", styles.title)
    if response is None:
        page.words("No input of this study moves what the program works out.", styles.quiet, 8)
        return Answers()
    page.words(
        "What the program works out by published bands and by the line it sized, followed over "
        "the inputs that move it. Each input was moved alone to five points and with every other "
        "one; ln(answer / answer at the point) is the sum of the terms below. Kind, recipe, frame "
        "and the sizes of the line are kept. The error is the largest found at "
        f"{response.checked} points with all inputs moved at once, and half as much again.",
        styles.quiet,
        8,
        62,
    )
    page.row += 1
    moving = _inputs(book, page, response, links)
    keys = [(kind, key) for kind in response.kinds for key in kind.point]
    tabled = [(kind, key) for kind, key in keys if key in kind.terms]
    columns, distinct = _columns(tabled)
    # A title, heads and a blank row of the answers, then title and heads of the terms.
    start = page.row + len(keys) + 5
    found = _answers(page, keys, columns, start, len(response.rows))
    _terms(page, response, distinct, moving)
    page.widths((32, 30, 14, 14, 14, 12, 26))
    used = frozenset(response.places[i] for i in moving)
    return Answers(
        found,
        {(kind.machine, key): kind.point[key] for kind, key in keys},
        {(kind.machine, key): kind.error[key] for kind, key in tabled},
        used,
    )


def _inputs(book: Book, page: Page, response: Response, links: Links) -> dict[int, str]:
    """Inputs that move something, and how far each has been moved; the cells of u."""
    page.words("Inputs followed", page.styles.heading)
    page.heads(("input", "in the study", "value now", "at the point", "tabled to ±", "u", "range"))
    moving: dict[int, str] = {}
    for index in sorted({i for row in response.rows for i in row[:2] if i >= 0}):
        place, row = response.places[index], page.row
        given = links.givens[place]
        far = f"({address(row, 2)}-{address(row, 3)})/{address(row, 4)}"
        page.line(
            (
                f"{book.label(given.name)}, {_si(book, given.name)}",
                place,
                Live(links.term(place), given.value),
                response.point[index],
                response.half[index],
                Live(f"MAX(-1,MIN(1,{far}))", 0.0),
                Live(f'IF(ABS({far})>1.000000001,"outside, held at the end","inside")', "inside"),
            )
        )
        moving[index] = f"${column_letter(_U)}${row + 1}"
    page.row += 1
    return moving


def _columns(
    tabled: list[tuple[KindResponse, str]],
) -> tuple[dict[tuple[str, str], int], list[tuple[str, FloatArray]]]:
    """Column of the terms of each answer, and the columns: what kinds have in common is one."""
    columns: dict[tuple[str, str], int] = {}
    distinct: dict[bytes, tuple[int, str, FloatArray]] = {}
    for kind, key in tabled:
        terms = kind.terms[key]
        label = f"{kind.label}: {key.replace('_', ' ')}"
        entry = distinct.setdefault(terms.tobytes(), (_FIRST + len(distinct), label, terms))
        columns[kind.machine, key] = entry[0]
    return columns, [(label, terms) for _, label, terms in distinct.values()]


def _si(book: Book, name: str) -> str:
    return unit_text(house_name(name).unit, book.findings.currency) or "1"


def _answers(
    page: Page,
    keys: list[tuple[KindResponse, str]],
    columns: Mapping[tuple[str, str], int],
    start: int,
    rows: int,
) -> dict[tuple[str, str], str]:
    """Each answer now, in SI; the cells."""
    page.words("Answers, SI", page.styles.heading)
    page.heads(("kind", "answer", "at the point", "now", "error, ±%"))
    basis = f"${column_letter(_BASIS)}${start + 1}:${column_letter(_BASIS)}${start + rows}"
    cells = {}
    for kind, key in keys:
        value, at = kind.point[key], address(page.row, 2)
        now: object = Live(at, value)
        error: object = "fixed by the program"
        if (kind.machine, key) in columns and rows:
            letter = column_letter(columns[kind.machine, key])
            terms = f"{letter}${start + 1}:{letter}${start + rows}"
            now = Live(f"{at}*EXP(SUMPRODUCT({basis},{terms}))", value)
            error = 100.0 * kind.error[key]
        row = page.line((kind.label, key.replace("_", " "), value, now, error))
        cells[kind.machine, key] = address(row, _NOW, SHEET)
    page.row += 1
    return cells


def _terms(
    page: Page,
    response: Response,
    columns: list[tuple[str, FloatArray]],
    moving: Mapping[int, str],
) -> None:
    page.words("Terms", page.styles.heading)
    page.heads(("of", "now, first kind with these terms", *(label for label, _ in columns)))
    sheet, style = page.sheet, page.styles.number
    for at, (i, j, n) in enumerate(response.rows):
        if j < 0:
            label, formula = response.places[i], f"{moving[i]}^{n}"
            label += f", power {n}" if n > 1 else ""
        else:
            label = f"{response.places[i]} with {response.places[j]}"
            formula = f"{moving[i]}*{moving[j]}"
        row = page.line((label, Live(formula, 0.0)))
        for column, (_, terms) in enumerate(columns, start=_FIRST):
            if abs(terms[at]) > _NOTHING:
                sheet.write_number(row, column, float(terms[at]), style)
