"""Greenhouse gas by item: amount times factor, with the factor's source; biogenic CO2 apart."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Any

from cakewright.jobs.carbon import CarbonFindings, CarbonOption
from cakewright.quantities import Given, house_name
from cakewright.reports.book import Book
from cakewright.reports.numbers import shown, unit_text
from cakewright.reports.sheets.page import Live, Page, Styles, address, conversion

__all__ = ["SHEET", "carbon_sheet"]

SHEET = "Carbon"
_FACTOR, _FIRST = 1, 3
_CLOSE = 1e-9


def carbon_sheet(book: Book, sheet: Any, styles: Styles, places: Mapping[str, str]) -> None:
    """Write the sheet; ``places`` gives the SI cell of each value of the study."""
    decide = book.findings.decide
    if decide is None:
        return
    carbon, page = decide.carbon, Page(sheet, styles)
    page.words("Carbon", styles.title)
    sets = carbon.potentials
    page.words(
        f"CO2 equivalent per dry solids, point case, route {carbon.route}; warming potentials over "
        f"100 years of {sets.name} ({sets.source}): CH4 {sets.methane:g}, N2O "
        f"{sets.nitrous_oxide:g}. Amounts are per dry solids fed, in SI.",
        styles.quiet,
        8,
        28,
    )
    factors = _factors(book, page, carbon, places)
    amounts = _amounts(book, page, carbon, factors)
    _parts(book, page, carbon, factors, amounts)
    for note in carbon.notes:
        page.words(note, styles.quiet)
    page.widths((36, 14, 12, *(16 for _ in carbon.options), 14, 14, 40))


def _factors(
    book: Book, page: Page, carbon: CarbonFindings, places: Mapping[str, str]
) -> dict[str, tuple[str, float]]:
    """Every factor of this route with its source; the SI cell and value by place."""
    page.words("Factors", page.styles.heading)
    page.heads(("factor", "in SI", "SI unit", "value", "unit", "basis", "mark", "source", "note"))
    found = {}
    for given in carbon.factors:
        row = page.row
        page.line(_factor_row(book, given, places))
        found[given.where] = (address(row, _FACTOR), given.value)
    page.row += 1
    return found


def _factor_row(book: Book, given: Given, places: Mapping[str, str]) -> tuple[object, ...]:
    where = given.where
    value: object = Live(places[where], given.value) if where in places else given.value
    return (
        where.partition(".")[2].replace("_", " "),
        value,
        unit_text(house_name(given.name).unit, book.findings.currency),
        shown(given.name, given.value, book.units),
        book.unit(given.name),
        given.basis.value,
        given.mark.value,
        given.source or "",
        given.note,
    )


def _live(option: CarbonOption, part: str, factors: Mapping[str, tuple[str, float]]) -> bool:
    """Whether a part is its amount times one factor, and nothing more."""
    place = option.factor_of(part)
    if place not in factors or part not in option.amounts:
        return False
    product = option.amounts[part] * factors[place][1]
    return math.isclose(product, option.parts[part].point, rel_tol=_CLOSE, abs_tol=1e-15)


def _amounts(
    book: Book,
    page: Page,
    carbon: CarbonFindings,
    factors: Mapping[str, tuple[str, float]],
) -> dict[str, int]:
    """Rows of the amounts of the parts that are live."""
    page.words("Amounts per dry solids", page.styles.heading)
    page.heads(("of", "", "unit", *(o.label for o in carbon.options)))
    found = {}
    for part in carbon.options[0].parts:
        if all(_live(o, part, factors) for o in carbon.options):
            cells = (o.amounts[part] for o in carbon.options)
            found[part] = page.line((part, "", "SI", *cells))
    page.row += 1
    return found


def _parts(
    book: Book,
    page: Page,
    carbon: CarbonFindings,
    factors: Mapping[str, tuple[str, float]],
    amounts: Mapping[str, int],
) -> None:
    unit, options = book.unit("carbon_specific"), carbon.options
    slope = conversion(book, "carbon_specific")[0]
    page.words("CO2 equivalent by item", page.styles.heading)
    page.heads(("item", "factor", "unit", *(o.label for o in options)))
    first = page.row
    for part in options[0].parts:
        place = options[0].factor_of(part)
        cells: list[object] = []
        for k, option in enumerate(options):
            value = shown("carbon_specific", option.parts[part].point, book.units)
            if part in amounts:
                formula = f"{address(amounts[part], _FIRST + k)}*{factors[place][0]}*{slope!r}"
                cells.append(Live(formula, value))
            else:
                cells.append(value)
        page.line((part, place.partition(".")[2].replace("_", " "), unit, *cells))
    _whole(book, page, options, (first, page.row - 1), unit)


def _whole(
    book: Book, page: Page, options: tuple[CarbonOption, ...], rows: tuple[int, int], unit: str
) -> None:
    """Sum, what is reported, and the biogenic part that is in neither."""
    columns = range(_FIRST, _FIRST + len(options))
    told = [shown("carbon_specific", o.total.point, book.units) for o in options]
    sums = [
        Live(f"SUM({address(rows[0], c)}:{address(rows[1], c)})", value)
        for c, value in zip(columns, told, strict=True)
    ]
    whole = page.line(("in all", "", unit, *sums))
    reported = page.line(("as reported", "", unit, *told))
    agrees = [
        Live(
            f"IF(ABS({address(whole, c)}-{address(reported, c)})<=0.000001*ABS("
            f'{address(reported, c)}),"yes","no")',
            "yes",
        )
        for c in columns
    ]
    page.line(("agrees", "", "", *agrees))
    page.line(("mark", "", "", *(o.total.mark.value for o in options)))
    apart = (shown("biogenic_specific", o.biogenic.point, book.units) for o in options)
    page.line(("biogenic CO2, apart: not in the sum", "", book.unit("biogenic_specific"), *apart))
    page.row += 1
