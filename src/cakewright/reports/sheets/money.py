"""Whole-life cost of every kind with live annuity, present worth and cost per dry solids."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from cakewright.jobs.money_findings import MoneyFindings, MoneyOption
from cakewright.quantities import Figure
from cakewright.quantities.constants import YEAR
from cakewright.reports.book import Book
from cakewright.reports.numbers import shown
from cakewright.reports.sheets.links import Links
from cakewright.reports.sheets.page import Live, Page, Styles, address
from cakewright.reports.sheets.tables import Answers
from cakewright.reports.sheets.yearly import yearly_formula

__all__ = ["SHEET", "money_sheet"]

SHEET = "Money"
_CLOSE = 1e-6
_FIRST = 2


def money_sheet(
    book: Book,
    sheet: Any,
    styles: Styles,
    links: Links,
    answers: Answers,
    bill: Mapping[str, str],
) -> dict[tuple[str, str], str]:
    """Write the sheet; the cells of capital, running cost and cost per dry solids by kind.

    ``bill`` gives the cells of the sums of the bill of the chosen kind.
    """
    decide = book.findings.decide
    if decide is None:
        return {}
    money, page = decide.money, Page(sheet, styles)
    page.words("Money", styles.title)
    page.words(
        f"Point case, {money.currency} at prices of {money.price_year}, real interest. Amounts "
        "follow the inputs by the sheet Tables, prices by formula; the chances stay those of the "
        "program.",
        styles.quiet,
        6,
        28,
    )
    rate, life = _rates(page, money, book, links)
    factors = _factors(page, money, book, links, rate, life)
    cells = _kinds(page, money, book, links, answers, bill, rate, life, factors)
    for note in money.notes:
        page.words(note, styles.quiet)
    page.widths((38, 14, *(16 for _ in money.options)))
    return cells


def _given(links: Links, where: str) -> object:
    """A value of the study, live to the sheet of inputs."""
    return Live(links.term(where), links.value(where)) if links.has(where) else 0.0


def _rates(page: Page, money: MoneyFindings, book: Book, links: Links) -> tuple[str, str]:
    """Real interest and life; the cells."""
    stated = page.line(("interest as stated", "1", _given(links, "prices.interest")))
    real = abs(links.value("prices.interest") - money.real_rate.point) < 1e-12
    inflation = links.value("prices.inflation") if real else _given(links, "prices.inflation")
    rise = page.line(("inflation", "1", inflation))
    here, there = address(stated, _FIRST), address(rise, _FIRST)
    point = money.real_rate.point
    if real:
        row = page.line(("real interest i", "1", Live(here, point)))
    else:
        row = page.line(("real interest i", "1", Live(f"(1+{here})/(1+{there})-1", point)))
    whole = f"MAX(1,ROUND({links.term('prices.life')}/{YEAR!r},0))"
    years = page.line(("life n, whole years", "a", Live(whole, money.years)))
    return address(row, _FIRST), address(years, _FIRST)


def _factors(
    page: Page,
    money: MoneyFindings,
    book: Book,
    links: Links,
    rate: str,
    life: str,
) -> dict[str, str]:
    """Worth today of one unit a year, per price rise; "" for costs that do not rise."""
    page.row += 1
    page.words("Worth today of 1 a year over the life", page.styles.heading)
    page.heads(("of", "price rise a year", "factor"))
    found = {}
    rises = {name: rise for name, rise in money.rises.items() if name not in _CHEMICALS}
    for name, rise in {"": 0.0, **rises}.items():
        where = f"prices.{name}_rise"
        if name and not links.has(where):
            continue
        given: object = Live(links.term(where), rise) if name else rise
        row = page.row
        net = f"((1+{rate})/(1+{address(row, 1)})-1)"
        worth = _worth(money.real_rate.point, rise, money.years)
        formula = f"IF(ABS{net}<1E-12,{life},(1-(1+{net})^(0-{life}))/{net})"
        page.line((name or "a level cost", given, Live(formula, worth)))
        found[name] = address(row, _FIRST)
    return found | {chemical: found["polymer"] for chemical in _CHEMICALS if "polymer" in found}


# Dearer with the polymer's rise, as the program has it.
_CHEMICALS = ("coagulant", "ferric chloride", "lime")


def _worth(rate: float, rise: float, years: int) -> float:
    net = (1.0 + rate) / (1.0 + rise) - 1.0
    return float(years) if abs(net) < 1e-12 else (1.0 - (1.0 + net) ** -years) / net


def _kinds(
    page: Page,
    money: MoneyFindings,
    book: Book,
    links: Links,
    answers: Answers,
    bill: Mapping[str, str],
    rate: str,
    life: str,
    factors: Mapping[str, str],
) -> dict[tuple[str, str], str]:
    """One column a kind, from purchase to cost per dry solids."""
    page.row += 1
    page.words("Whole-life cost", page.styles.heading)
    page.heads(("", "unit", *(o.label for o in money.options)))
    unit, yearly = book.unit("money"), book.unit("money_per_year")
    bought, equipment, capital = _bought(page, money, book, links, bill, (rate, life))
    names = list(money.rises)
    first = page.row
    for name in names:
        cells = [
            _paid(book, links, answers, o, name, address(equipment, _FIRST + k))
            for k, o in enumerate(money.options)
        ]
        page.line((f"{name}, a year", yearly, *cells))
    running = _sum(
        page, ("running cost of a year", yearly), (first, page.row - 1), money, book, "running"
    )
    worths = page.row
    for name in ("line, installed", "first spares"):
        page.line((f"{name}, worth today", unit, *bought[name]))
    for at, name in enumerate(names):
        factor = factors.get(name, factors[""])
        cells = [
            Live(f"{address(first + at, _FIRST + k)}*{factor}", _part_worth(o, name, money, book))
            for k, o in enumerate(money.options)
        ]
        page.line((f"{name}, worth today", unit, *cells))
    each = _totals(page, money, book, answers, (worths, page.row - 1), factors[""])
    rows = {"capital": capital, "running_cost": running, "cost_specific": each}
    return {
        (o.machine, name): address(row, _FIRST + k, SHEET)
        for name, row in rows.items()
        for k, o in enumerate(money.options)
    }


def _paid(
    book: Book, links: Links, answers: Answers, option: MoneyOption, name: str, equipment: str
) -> object:
    """One cost of a year, live as far as the tables give its amount."""
    value, machine = _shown(book, option.yearly[name]), option.machine
    if not answers.has(machine, "dry_solids"):
        return value
    return Live(yearly_formula(links, answers, machine, name, equipment), value)


def _shown(book: Book, figure: Figure) -> float:
    return shown(figure.name, figure.point, book.units)


def _part_worth(option: MoneyOption, name: str, money: MoneyFindings, book: Book) -> float:
    worth = _worth(money.real_rate.point, money.rises[name], money.years)
    return _shown(book, option.yearly[name]) * worth


def _bought(
    page: Page,
    money: MoneyFindings,
    book: Book,
    links: Links,
    bill: Mapping[str, str],
    time: tuple[str, str],
) -> tuple[dict[str, list[Live]], int, int]:
    """Worth today of machines and spares, live; the rows of the equipment and of the capital."""
    unit, columns = book.unit("money"), range(_FIRST, _FIRST + len(money.options))
    bills = [option.bill for option in money.options]
    price = page.line(("equipment", unit, *(_equipment(o, links, bill) for o in money.options)))
    built = [Live(bill["works"], o.bill.works) if o.chosen else o.bill.works for o in money.options]
    works = page.line(("instruments, electrics, pipes, room", unit, *built))
    grows = (
        page.line(("engineering and construction, share", "1", *(b.indirect for b in bills))),
        page.line(("fee and contingency, share", "1", *(b.on_top for b in bills))),
    )
    shares = {}
    for key, label in _SHARES.items():
        where = f"prices.{key}"
        row = page.line((label, "1", *(_given(links, where) for _ in columns)))
        shares[key] = row
    rate, life = time
    left = (1.0 + money.real_rate.point) ** -money.years
    one = {k: links.value(f"prices.{k}") for k in _SHARES}
    wholes: list[Live] = []
    capital = page.row
    found: dict[str, list[Live]] = {"line, installed": [], "first spares": []}
    for column, option in zip(columns, money.options, strict=True):
        cell = {k: address(row, column) for k, row in shares.items()}
        cost, value = address(price, column), _shown(book, option.purchase)
        kept = f"(1-{cell['residual']}/(1+{rate})^{life})"
        whole = _shown(book, option.installed)
        grown = f"{cost}*({cell['installation']}+{address(grows[0], column)})"
        formula = f"({grown}+{address(works, column)})*(1+{address(grows[1], column)})"
        wholes.append(Live(formula, whole))
        formula = f"{address(capital, column)}*{kept}"
        worth = whole * (1.0 - one["residual"] * left)
        found["line, installed"].append(Live(formula, worth))
        found["first spares"].append(Live(f"{cost}*{cell['spares']}", value * one["spares"]))
    page.line(("line, installed", unit, *wholes))
    return found, price, capital


def _equipment(option: MoneyOption, links: Links, bill: Mapping[str, str]) -> Live:
    """Equipment of a kind: the chosen one's from its bill, the machines by the price index."""
    whole, index = option.bill.equipment, "prices.catalogue_index"
    if option.chosen:
        return Live(bill["equipment"], whole)
    machines = sum(one.amount for one in option.bill.lines if one.source == "catalogue")
    share = f"{machines / (links.value(index) or 1.0)!r}*{links.term(index)}"
    return Live(f"{whole - machines!r}+{share}", whole)


_SHARES = {
    "installation": "erected over delivered",
    "spares": "first spares, share of equipment",
    "residual": "left at the end, share of installed",
}


def _sum(
    page: Page,
    head: tuple[str, str],
    rows: tuple[int, int],
    money: MoneyFindings,
    book: Book,
    key: str,
) -> int:
    cells = [
        Live(
            f"SUM({address(rows[0], _FIRST + k)}:{address(rows[1], _FIRST + k)})",
            _shown(book, getattr(option, key)),
        )
        for k, option in enumerate(money.options)
    ]
    return page.line((*head, *cells))


def _totals(
    page: Page,
    money: MoneyFindings,
    book: Book,
    answers: Answers,
    rows: tuple[int, int],
    level: str,
) -> int:
    """Present worth, yearly sum and cost per dry solids; the row of the last."""
    unit, options = book.unit("money"), money.options
    worth = _sum(page, ("present worth, whole life", unit), rows, money, book, "present_worth")
    columns = range(_FIRST, _FIRST + len(options))
    annual = page.line(
        (
            "the same as a yearly sum",
            book.unit("money_per_year"),
            *(
                Live(f"{address(worth, c)}/{level}", _shown(book, o.annual))
                for c, o in zip(columns, options, strict=True)
            ),
        )
    )
    dry = page.line(
        (
            "dry solids of a year",
            book.unit("mass_per_year"),
            *(_dry(book, answers, o) for o in options),
        )
    )
    each = page.line(
        (
            "per dry solids",
            book.unit("cost_specific"),
            *(
                Live(f"{address(annual, c)}/{address(dry, c)}", _shown(book, o.specific))
                for c, o in zip(columns, options, strict=True)
            ),
        )
    )
    told = page.line(
        (
            "as reported for the study",
            book.unit("cost_specific"),
            *(_shown(book, o.specific) for o in options),
        )
    )
    agrees = [Live(_agreeing(address(each, c), address(told, c)), "yes") for c in columns]
    page.line(("agrees", "", *agrees))
    page.line(("basis", "", *(o.specific.basis.value for o in options)))
    page.line(("mark", "", *(o.specific.mark.value for o in options)))
    page.line(("chance of being cheapest", "1", *(o.chance_cheapest for o in options)))
    page.row += 1
    return each


def _dry(book: Book, answers: Answers, option: MoneyOption) -> object:
    figure = option.dry_solids
    cell = answers.shown(book, option.machine, "dry_solids", figure.name, figure.point)
    value = _shown(book, figure)
    return Live(cell, value) if cell else value


def _agreeing(cell: str, reported: str) -> str:
    return f'IF(ABS({cell}-{reported})<={_CLOSE!r}*ABS({reported}),"yes","no")'
