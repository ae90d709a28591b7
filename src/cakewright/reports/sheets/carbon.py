"""Greenhouse gas by item: amount times factor, with the factor's source; biogenic CO2 apart."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Any

from cakewright.jobs.carbon import CarbonFindings, CarbonOption
from cakewright.jobs.response import BIOGENIC, route_key
from cakewright.quantities import Given, house_name
from cakewright.reports.book import Book
from cakewright.reports.numbers import shown, unit_text
from cakewright.reports.sheets.links import Links
from cakewright.reports.sheets.page import (
    Live,
    Page,
    Styles,
    address,
    conversion,
    from_si_formula,
)
from cakewright.reports.sheets.tables import Answers

__all__ = ["SHEET", "carbon_sheet"]

SHEET = "Carbon"
_FACTOR, _FIRST = 1, 3
_CLOSE = 1e-9


def carbon_sheet(book: Book, sheet: Any, styles: Styles, links: Links, answers: Answers) -> None:
    """Write the sheet; amounts follow the tables, factors the inputs."""
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
    factors = _factors(book, page, carbon, links)
    amounts = _amounts(page, carbon, factors, links, answers)
    _parts(book, page, carbon, factors, amounts, links, answers)
    for note in carbon.notes:
        page.words(note, styles.quiet)
    page.widths((36, 14, 12, *(16 for _ in carbon.options), 14, 14, 40))


def _factors(
    book: Book, page: Page, carbon: CarbonFindings, links: Links
) -> dict[str, tuple[str, float]]:
    """Every factor of this route with its source; the SI cell and value by place."""
    page.words("Factors", page.styles.heading)
    page.heads(("factor", "in SI", "SI unit", "value", "unit", "basis", "mark", "source", "note"))
    found = {}
    for given in carbon.factors:
        row = page.row
        page.line(_factor_row(book, given, links))
        found[given.where] = (address(row, _FACTOR), given.value)
    page.row += 1
    return found


def _factor_row(book: Book, given: Given, links: Links) -> tuple[object, ...]:
    where = given.where
    cell = links.cells.get(where)
    value: object = Live(cell, given.value) if cell else given.value
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
    page: Page,
    carbon: CarbonFindings,
    factors: Mapping[str, tuple[str, float]],
    links: Links,
    answers: Answers,
) -> dict[str, int]:
    """Rows of the amounts of the parts that are live."""
    page.words("Amounts per dry solids", page.styles.heading)
    page.heads(("of", "", "unit", *(o.label for o in carbon.options)))
    found = {}
    for part in carbon.options[0].parts:
        if all(_live(o, part, factors) for o in carbon.options):
            place = carbon.options[0].factor_of(part)
            if links.has(place):
                links.used.add(place)
            cells = (_amount(o, part, factors[place][1], links, answers) for o in carbon.options)
            found[part] = page.line((part, "", "SI", *cells))
    page.row += 1
    return found


# The answer of the tables that each amount per dry solids is.
_ANSWER = {
    "power": "energy",
    "polymer": "polymer_dose",
    "coagulant": "coagulant",
    "ferric chloride": "ferric",
    "lime": "lime",
    "water": "water",
    "haulage": "cake",
}
# The factors a part of the outlet is proportional to; of those with "-" what is left of 1.
_PROPORTIONAL = {
    "soil, nitrous oxide": ("nitrogen", "soil_n2o"),
    "soil, nitrous oxide by air and water": ("nitrogen",),
    "landfill, methane": (
        "organic_carbon",
        "landfill_correction",
        "landfill_decaying",
        "-landfill_oxidised",
        "-landfill_recovered",
    ),
    "burning, nitrous oxide": ("burning_n2o",),
    "digestion, methane": ("digestion_leak",),
    "drying, heat": ("drying_heat", "heat"),
    BIOGENIC: ("organic_carbon",),
}


def _amount(
    option: CarbonOption, part: str, factor: float, links: Links, answers: Answers
) -> object:
    """Amount of one part, live where the tables give it."""
    value, key = option.amounts[part], _ANSWER.get(part, route_key(part))
    if not answers.has(option.machine, key):
        return value
    cell = answers.term(option.machine, key)
    if part == "haulage":
        return Live(f"{cell}*{links.term('outlet.distance')}", value)
    if part not in _ANSWER:
        return Live(f"{cell}/{factor!r}", value) if factor else value
    return Live(cell, value)


def _of_outlet(
    book: Book,
    option: CarbonOption,
    part: str,
    name: str,
    value: float,
    links: Links,
    answers: Answers,
) -> object:
    """A part that comes of the outlet: the program's, by the ratio of its factors now."""
    key = BIOGENIC if part == BIOGENIC else route_key(part)
    if not answers.has(option.machine, key) or part not in _PROPORTIONAL:
        return value
    formula = answers.term(option.machine, key)
    for word in _PROPORTIONAL[part]:
        place, left = f"carbon.{word.removeprefix('-')}", word.startswith("-")
        before = 1.0 - links.value(place) if left else links.value(place)
        if not before:
            continue
        now = links.term(place)
        formula += f"*(1-{now})/{before!r}" if left else f"*{now}/{before!r}"
    return Live(from_si_formula(formula, *conversion(book, name)), value)


def _parts(
    book: Book,
    page: Page,
    carbon: CarbonFindings,
    factors: Mapping[str, tuple[str, float]],
    amounts: Mapping[str, int],
    links: Links,
    answers: Answers,
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
                name = "carbon_specific"
                cells.append(_of_outlet(book, option, part, name, value, links, answers))
        page.line((part, place.partition(".")[2].replace("_", " "), unit, *cells))
    _whole(book, page, options, (first, page.row - 1), unit)
    name = "biogenic_specific"
    apart = [
        _of_outlet(book, o, BIOGENIC, name, shown(name, o.biogenic.point, book.units), *both)
        for o in options
        for both in ((links, answers),)
    ]
    page.line(("biogenic CO2, apart: not in the sum", "", book.unit(name), *apart))
    page.row += 1


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
    reported = page.line(("as reported for the study", "", unit, *told))
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
