"""Whole-life cost of every kind with live annuity, present worth and cost per dry solids."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from cakewright.jobs.money_findings import MoneyFindings, MoneyOption
from cakewright.quantities import Figure
from cakewright.reports.book import Book
from cakewright.reports.numbers import shown
from cakewright.reports.sheets.page import Live, Page, Styles, address

__all__ = ["SHEET", "money_sheet"]

SHEET = "Money"
_CLOSE = 1e-6
_FIRST = 2


def money_sheet(book: Book, sheet: Any, styles: Styles, places: Mapping[str, str]) -> None:
    """Write the sheet; ``places`` gives the SI cell of each value of the study."""
    decide = book.findings.decide
    if decide is None:
        return
    money, page = decide.money, Page(sheet, styles)
    page.words("Money", styles.title)
    page.words(
        f"Point case, {money.currency} at prices of {money.price_year}, real interest. Yearly "
        f"costs are worked out by the program; what follows from them is live.",
        styles.quiet,
        6,
        28,
    )
    rate, life = _rates(page, money, book, places)
    factors = _factors(page, money, book, places, rate, life)
    _kinds(page, money, book, places, rate, life, factors)
    for note in money.notes:
        page.words(note, styles.quiet)
    page.widths((38, 14, *(16 for _ in money.options)))


def _value(book: Book, where: str) -> float:
    """Value of the study at a place, SI; 0 where it has none."""
    return next((g.value for g in book.findings.givens if g.where == where), 0.0)


def _given(book: Book, places: Mapping[str, str], where: str) -> object:
    """A value of the study, live to the sheet of inputs."""
    value = _value(book, where)
    return Live(places[where], value) if where in places else value


def _rates(
    page: Page, money: MoneyFindings, book: Book, places: Mapping[str, str]
) -> tuple[str, str]:
    """Real interest and life; the cells."""
    stated = page.line(("interest as stated", "1", _given(book, places, "prices.interest")))
    rise = page.line(("inflation", "1", _given(book, places, "prices.inflation")))
    here, there = address(stated, _FIRST), address(rise, _FIRST)
    point = money.real_rate.point
    if abs(_value(book, "prices.interest") - point) < 1e-12:
        row = page.line(("real interest i", "1", Live(here, point)))
    else:
        row = page.line(("real interest i", "1", Live(f"(1+{here})/(1+{there})-1", point)))
    years = page.line(("life n, whole years", "a", money.years))
    return address(row, _FIRST), address(years, _FIRST)


def _factors(
    page: Page,
    money: MoneyFindings,
    book: Book,
    places: Mapping[str, str],
    rate: str,
    life: str,
) -> dict[str, str]:
    """Worth today of one unit a year, per price rise; "" for costs that do not rise."""
    page.row += 1
    page.words("Worth today of 1 a year over the life", page.styles.heading)
    page.heads(("of", "price rise a year", "factor"))
    found = {}
    for name, rise in {"": 0.0, **money.rises}.items():
        if name and not rise:
            continue
        where = f"prices.{name}_rise"
        given: object = Live(places[where], rise) if where in places else rise
        row = page.row
        net = f"((1+{rate})/(1+{address(row, 1)})-1)"
        worth = _worth(money.real_rate.point, rise, money.years)
        formula = f"IF(ABS{net}<1E-12,{life},(1-(1+{net})^(0-{life}))/{net})"
        page.line((name or "a level cost", given, Live(formula, worth)))
        found[name] = address(row, _FIRST)
    return found


def _worth(rate: float, rise: float, years: int) -> float:
    net = (1.0 + rate) / (1.0 + rise) - 1.0
    return float(years) if abs(net) < 1e-12 else (1.0 - (1.0 + net) ** -years) / net


def _kinds(
    page: Page,
    money: MoneyFindings,
    book: Book,
    places: Mapping[str, str],
    rate: str,
    life: str,
    factors: Mapping[str, str],
) -> None:
    """One column a kind, from purchase to cost per dry solids."""
    page.row += 1
    page.words("Whole-life cost", page.styles.heading)
    page.heads(("", "unit", *(o.label for o in money.options)))
    unit, yearly = book.unit("money"), book.unit("money_per_year")
    bought = _bought(page, money, book, places, (rate, life))
    names = list(money.rises)
    first = page.row
    for name in names:
        page.line(
            (f"{name}, a year", yearly, *(_shown(book, o.yearly[name]) for o in money.options))
        )
    _sum(page, ("running cost of a year", yearly), (first, page.row - 1), money, book, "running")
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
    _totals(page, money, book, (worths, page.row - 1), factors[""])


def _shown(book: Book, figure: Figure) -> float:
    return shown(figure.name, figure.point, book.units)


def _part_worth(option: MoneyOption, name: str, money: MoneyFindings, book: Book) -> float:
    worth = _worth(money.real_rate.point, money.rises[name], money.years)
    return _shown(book, option.yearly[name]) * worth


def _bought(
    page: Page,
    money: MoneyFindings,
    book: Book,
    places: Mapping[str, str],
    time: tuple[str, str],
) -> dict[str, list[Live]]:
    """Purchase and what follows from it; worth today of machines and spares, live."""
    unit, columns = book.unit("money"), range(_FIRST, _FIRST + len(money.options))
    price = page.line(("equipment", unit, *(_shown(book, o.purchase) for o in money.options)))
    bills = [option.bill for option in money.options]
    works = page.line(("instruments, electrics, pipes, room", unit, *(b.works for b in bills)))
    grows = (
        page.line(("engineering and construction, share", "1", *(b.indirect for b in bills))),
        page.line(("fee and contingency, share", "1", *(b.on_top for b in bills))),
    )
    shares = {}
    for key, label in _SHARES.items():
        where = f"prices.{key}"
        row = page.line((label, "1", *(_given(book, places, where) for _ in columns)))
        shares[key] = row
    rate, life = time
    left = (1.0 + money.real_rate.point) ** -money.years
    one = {k: _value(book, f"prices.{k}") for k in _SHARES}
    found: dict[str, list[Live]] = {"line, installed": [], "first spares": []}
    for column, option in zip(columns, money.options, strict=True):
        cell = {k: address(row, column) for k, row in shares.items()}
        cost, value = address(price, column), _shown(book, option.purchase)
        kept = f"(1-{cell['residual']}/(1+{rate})^{life})"
        whole = _shown(book, option.installed)
        grown = f"{cost}*({cell['installation']}+{address(grows[0], column)})"
        formula = f"({grown}+{address(works, column)})*(1+{address(grows[1], column)})*{kept}"
        worth = whole * (1.0 - one["residual"] * left)
        found["line, installed"].append(Live(formula, worth))
        found["first spares"].append(Live(f"{cost}*{cell['spares']}", value * one["spares"]))
    return found


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
    page: Page, money: MoneyFindings, book: Book, rows: tuple[int, int], level: str
) -> None:
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
            *(_shown(book, o.dry_solids) for o in options),
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
        ("as reported", book.unit("cost_specific"), *(_shown(book, o.specific) for o in options))
    )
    agrees = [Live(_agreeing(address(each, c), address(told, c)), "yes") for c in columns]
    page.line(("agrees", "", *agrees))
    page.line(("basis", "", *(o.specific.basis.value for o in options)))
    page.line(("mark", "", *(o.specific.mark.value for o in options)))
    page.line(("chance of being cheapest", "1", *(o.chance_cheapest for o in options)))
    page.row += 1


def _agreeing(cell: str, reported: str) -> str:
    return f'IF(ABS({cell}-{reported})<={_CLOSE!r}*ABS({reported}),"yes","no")'
