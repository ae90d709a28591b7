"""Every document of one evaluation, by file name."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor

from cakewright.jobs.findings import Findings
from cakewright.reports.book import Book
from cakewright.reports.findings_json import findings_json
from cakewright.reports.html import write_html
from cakewright.reports.line_drawings import drawing_files
from cakewright.reports.numbers import Units
from cakewright.reports.pdf import render_pdf
from cakewright.reports.workbook import write_workbook

__all__ = ["rendered_outputs"]


def rendered_outputs(findings: Findings, units: Units = Units.SI) -> dict[str, str | bytes]:
    """Report (HTML, PDF), workbook, data and the line's drawings of one evaluation."""
    from cakewright.reports.chapters import all_sections

    book = Book(findings, units)
    sections = all_sections(book)
    # The typesetter works outside the interpreter: the PDF is set while the rest is written.
    with ThreadPoolExecutor(max_workers=1) as beside:
        pdf = beside.submit(render_pdf, findings, units, sections=sections)
        rest: dict[str, str | bytes] = {
            "report.html": write_html(findings, units, sections=sections),
            "workbook.xlsx": write_workbook(findings, units),
            "findings.json": findings_json(findings),
            **drawing_files(book),
        }
        return rest | {"report.pdf": pdf.result()}
