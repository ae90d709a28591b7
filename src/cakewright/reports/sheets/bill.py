"""The bill of quantities of the chosen line with live amounts and sums."""

from __future__ import annotations

from typing import Any

from cakewright.reports.book import Book
from cakewright.reports.sheets.links import Links
from cakewright.reports.sheets.page import Live, Page, Styles, address

__all__ = ["SHEET", "bill_sheet"]

SHEET = "Bill"

_INDEX = "prices.catalogue_index"
_QUANTITY, _PRICE, _AMOUNT = 3, 5, 6


def bill_sheet(book: Book, sheet: Any, styles: Styles, links: Links) -> dict[str, str]:
    """Write the sheet: amounts follow quantities and prices; the cells of its sums."""
    decide = book.findings.decide
    if decide is None:
        return {}
    money = decide.money
    bill = next(option.bill for option in money.options if option.chosen)
    page = Page(sheet, styles)
    page.words("Bill of quantities", styles.title)
    page.words(
        f"{bill.currency} of {money.price_year}, without tax; {money.estimate.statement}. Prices "
        "of the book are invented. Quantities and prices may be changed: the money follows.",
        styles.quiet,
        8,
    )
    page.row += 1
    page.heads(
        ("item", "what", "group", "quantity", "unit", "price each", "amount", "source", "mark")
    )
    first = page.row
    for line in bill.lines:
        at = page.row
        amount = f"{address(at, _QUANTITY)}*{address(at, _PRICE)}"
        price: object = line.price
        if line.source == "catalogue" and links.value(_INDEX) > 0.0:
            indexed = f"{line.price / links.value(_INDEX)!r}*{links.term(_INDEX)}"
            price = Live(indexed, line.price)
        row = (line.tag, line.label, line.group, line.quantity, line.unit, price)
        page.line((*row, Live(amount, line.amount), line.source, line.mark))
    span = f"{address(first, _AMOUNT)}:{address(page.row - 1, _AMOUNT)}"
    groups = f"{address(first, 2)}:{address(page.row - 1, 2)}"
    page.row += 1
    equipment = f'SUMIF({groups},"equipment",{span})'
    at = page.line(("", "equipment, delivered", *[""] * 4, Live(equipment, bill.equipment)))
    delivered = address(at, _AMOUNT)
    works = page.line(
        (
            "",
            "instruments, electrics, pipes, room",
            *[""] * 4,
            Live(f"SUM({span})-{delivered}", bill.works),
        )
    )
    erected = Live(links.term("prices.installation"), bill.erected)
    shares: dict[str, object] = {
        "erected over delivered": erected,
        "engineering and construction, share of equipment": bill.indirect,
        "contractor's fee and contingency, share of all works": bill.on_top,
    }
    cells = [
        address(page.line(("", label, *[""] * 4, share, "L127")), _AMOUNT)
        for label, share in shares.items()
    ]
    whole = f"({delivered}*({cells[0]}+{cells[1]})+{address(works, _AMOUNT)})*(1+{cells[2]})"
    total = page.line(("", "whole line, installed", *[""] * 4, Live(whole, bill.total)))
    page.row += 1
    page.words("Left out", styles.heading)
    for text in bill.excluded:
        page.line(("", text))
    page.widths((10, 46, 14, 12, 14, 14, 16, 22, 14))
    rows = {"equipment": delivered, "works": address(works, _AMOUNT)}
    rows["total"] = address(total, _AMOUNT)
    return {key: f"'{SHEET}'!{cell}" for key, cell in rows.items()}
