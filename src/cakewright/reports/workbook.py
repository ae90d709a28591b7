"""Workbook with live formulas where a reader would audit: headline, comparison, balance, annex."""

from __future__ import annotations

from datetime import UTC, datetime
from io import BytesIO

from cakewright.jobs.findings import Findings
from cakewright.reports.book import Book
from cakewright.reports.numbers import Units

__all__ = ["write_workbook"]

# A workbook must carry a date; a fixed one keeps the same findings the same bytes.
_CREATED = datetime(2000, 1, 1, tzinfo=UTC).replace(tzinfo=None)


def write_workbook(findings: Findings, units: Units = Units.SI) -> bytes:
    """The findings as XLSX; the same findings give the same bytes.

    Every text is written as text, so that nothing a user typed can become a formula.
    """
    import xlsxwriter

    from cakewright.reports.line_tables import LISTS
    from cakewright.reports.sheets.answer import answer_sheet
    from cakewright.reports.sheets.balance import balance_sheet
    from cakewright.reports.sheets.bill import bill_sheet
    from cakewright.reports.sheets.calculations import calculations_sheet
    from cakewright.reports.sheets.carbon import carbon_sheet
    from cakewright.reports.sheets.comparison import comparison_sheet
    from cakewright.reports.sheets.inputs import input_links, inputs_sheet
    from cakewright.reports.sheets.line import list_sheet
    from cakewright.reports.sheets.lists import frames_sheet, reasons_sheet, sources_sheet
    from cakewright.reports.sheets.money import money_sheet
    from cakewright.reports.sheets.page import Page, Styles
    from cakewright.reports.sheets.tables import Answers, tables_sheet

    buffer = BytesIO()
    workbook = xlsxwriter.Workbook(buffer, {"in_memory": True, "strings_to_formulas": False})
    workbook.set_properties(
        {
            "title": findings.title,
            "author": "Cakewright",
            "created": _CREATED,
            "comments": findings.site,
        }
    )
    styles = Styles(workbook)
    book = Book(findings, units)
    sheets = {
        name: workbook.add_worksheet(name)
        for name in (
            "Answer",
            "Inputs",
            "Side by side",
            "Balance",
            *(("Money", "Bill", "Carbon", "Tables") if findings.decide is not None else ()),
            "Calculations",
            "Suitability",
            "Frames",
            "Sources",
        )
    }
    given_cells, links = input_links(book)
    answers, money = Answers(), {}
    if findings.decide is not None:
        answers = tables_sheet(book, sheets["Tables"], styles, links)
        bill = bill_sheet(book, sheets["Bill"], styles, links)
        money = money_sheet(book, sheets["Money"], styles, links, answers, bill)
        carbon_sheet(book, sheets["Carbon"], styles, links, answers)
    chosen_cells = comparison_sheet(book, sheets["Side by side"], styles, answers, money)
    balance_sheet(book, sheets["Balance"], styles)
    calculations_sheet(book, sheets["Calculations"], styles, given_cells)
    answer_sheet(book, sheets["Answer"], styles, chosen_cells, answers)
    inputs_sheet(book, sheets["Inputs"], styles, links, answers.places)
    reasons_sheet(book, sheets["Suitability"], styles)
    frames_sheet(book, sheets["Frames"], styles)
    sources_sheet(book, sheets["Sources"], styles)
    if findings.line is not None:
        for make in LISTS:
            table = make(findings.line)
            list_sheet(book, workbook.add_worksheet(table.title), styles, table)
    elif findings.line_missing:
        page = Page(workbook.add_worksheet("Line"), styles)
        page.words("Line", styles.title)
        page.words(findings.line_missing, styles.lead, 8, 60)
    sheets["Answer"].activate()
    workbook.close()
    return buffer.getvalue()
