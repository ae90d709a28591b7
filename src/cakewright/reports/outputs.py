"""Every document of one evaluation, by file name."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from concurrent.futures import ThreadPoolExecutor

from cakewright.jobs.findings import Findings
from cakewright.reports.book import Book
from cakewright.reports.line_drawings import drawing_files
from cakewright.reports.numbers import Units

__all__ = ["loaded_writers", "pages_and_drawings", "rendered_outputs"]

Outputs = dict[str, str | bytes]


def rendered_outputs(
    findings: Findings,
    units: Units = Units.SI,
    elsewhere: Callable[[Findings, Units], Mapping[str, str | bytes]] | None = None,
) -> Outputs:
    """Report (HTML, PDF), workbook, data and the line's drawings of one evaluation.

    ``elsewhere`` does the work of `pages_and_drawings` in another process.
    """
    if elsewhere is None:
        return _pages_and_data(findings, units) | pages_and_drawings(findings, units)
    # The thread only waits: handing over would stand still while the other process still loads.
    with ThreadPoolExecutor(max_workers=1) as waiting:
        others = waiting.submit(elsewhere, findings, units)
        return _pages_and_data(findings, units) | dict(others.result())


def pages_and_drawings(findings: Findings, units: Units) -> Outputs:
    """Report and annexes as PDF, and drawings, by file name.

    Raises
    ------
    OutputError
        If a page cannot be set.
    """
    from cakewright.reports.chapters import all_sections
    from cakewright.reports.pdf import pdf_data, set_pages

    book = Book(findings, units)
    data = pdf_data(findings, all_sections(book), units)
    # The typesetter works outside the interpreter: the drawings are made meanwhile.
    with ThreadPoolExecutor() as setting:
        files = {name: setting.submit(set_pages, each) for name, each in data.items()}
        return {**drawing_files(book), **{name: pdf.result() for name, pdf in files.items()}}


def loaded_writers() -> None:
    """Import what `pages_and_drawings` needs, ahead of the findings."""
    import typst  # noqa: F401

    import cakewright.reports.chapters
    import cakewright.reports.pdf  # noqa: F401


def _pages_and_data(findings: Findings, units: Units) -> Outputs:
    """Report page, workbook and data by file name."""
    from cakewright.reports.chapters import all_sections
    from cakewright.reports.findings_json import findings_json
    from cakewright.reports.html import write_html
    from cakewright.reports.workbook import write_workbook

    sections = all_sections(Book(findings, units))
    return {
        "report.html": write_html(findings, units, sections=sections),
        "workbook.xlsx": write_workbook(findings, units),
        "findings.json": findings_json(findings),
    }
