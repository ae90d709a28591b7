"""The form a bidder fills in: one sheet, a row for each thing a bid has to say."""

from __future__ import annotations

from datetime import UTC, datetime
from io import BytesIO

from cakewright.jobs.offer_text import FORM_MARK, bid_rows
from cakewright.line.design import LineDesign
from cakewright.reports.book import Book
from cakewright.reports.sheets.page import Page, Styles

__all__ = ["bid_form"]

_CREATED = datetime(2000, 1, 1, tzinfo=UTC).replace(tzinfo=None)


def bid_form(book: Book, design: LineDesign) -> bytes:
    """The form as XLSX, only the bidder's cells open; the same findings give the same bytes."""
    import xlsxwriter

    found = book.findings
    buffer = BytesIO()
    workbook = xlsxwriter.Workbook(buffer, {"in_memory": True, "strings_to_formulas": False})
    workbook.set_properties({"title": f"Bid: {found.title}", "created": _CREATED})
    styles = Styles(workbook)
    filled = workbook.add_format({"bg_color": "#f6f4f0", "border": 1, "locked": False})
    sheet = workbook.add_worksheet("Bid")
    sheet.set_column(0, 0, 46)
    sheet.set_column(1, 1, 14)
    sheet.set_column(2, 2, 26)
    sheet.set_column(3, 3, 40)
    sheet.set_column(4, 4, 20)
    page = Page(sheet, styles)
    page.line((f"Bid for: {found.title}", "", "", "", FORM_MARK), styles.strong)
    case = design.cases.design
    load = book.quantity("dry_solids_flow", float(case.dry_solids_flow[0]))
    page.line((f"Load of the design week: {load} of dry solids, {found.site}",), styles.quiet)
    page.line(("what", "unit", "yours", "allowed", "key (leave as it is)"), styles.head)
    for row in bid_rows(found.currency):
        at = page.line((row.label, row.unit, "", row.allowed, row.key))
        sheet.write_blank(at, 2, None, filled)
        if row.choices:
            sheet.data_validation(at, 2, at, 2, {"validate": "list", "source": list(row.choices)})
    sheet.protect("", {"select_locked_cells": True})
    workbook.close()
    return buffer.getvalue()
