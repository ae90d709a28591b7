"""Findings -> calculation lines, figures, drawings -> HTML, PDF, XLSX, DXF, JSON."""

from cakewright.reports.book import Book
from cakewright.reports.findings_json import findings_json
from cakewright.reports.html import write_html
from cakewright.reports.numbers import Units
from cakewright.reports.pdf import render_annexes, render_pdf
from cakewright.reports.workbook import write_workbook

__all__ = [
    "Book",
    "Units",
    "findings_json",
    "render_annexes",
    "render_pdf",
    "write_html",
    "write_workbook",
]
