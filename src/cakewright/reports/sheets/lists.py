"""The plain lists: suitability rules, frames, sources."""

from __future__ import annotations

from typing import Any

from cakewright.errors import UnknownNameError
from cakewright.reports.book import Book
from cakewright.reports.numbers import shown
from cakewright.reports.sheets.page import Page, Styles
from cakewright.sources import source

__all__ = ["frames_sheet", "reasons_sheet", "sources_sheet"]


def reasons_sheet(book: Book, sheet: Any, styles: Styles) -> None:
    """Every rule's answer for every kind of machine."""
    page = Page(sheet, styles)
    page.words("Suitability", styles.title)
    page.heads(
        (
            "machine",
            "overall",
            "rule",
            "answer",
            "reason",
            "figure",
            "limit",
            "unit",
            "basis",
            "mark",
            "source",
        )
    )
    sheet.freeze_panes(page.row, 1)
    for option in book.findings.options:
        for reason in option.reasons:
            value, limit = (shown(reason.name, v, book.units) for v in (reason.value, reason.limit))
            page.line(
                (
                    option.label,
                    option.answer.value,
                    reason.rule,
                    reason.answer.value,
                    reason.text,
                    value,
                    limit,
                    f"{book.unit(reason.name)} {book.label(reason.name)}".strip(),
                    reason.basis.value,
                    reason.mark.value,
                    reason.source,
                )
            )
    page.widths((24, 14, 14, 14, 60, 10, 10, 20, 12, 14, 18))


def frames_sheet(book: Book, sheet: Any, styles: Styles) -> None:
    """Every frame of the catalogue against this duty."""
    page = Page(sheet, styles)
    page.words("Frames", styles.title)
    names = list(
        dict.fromkeys(
            f.name for o in book.findings.options for r in o.frames for f in r.figures.values()
        )
    )
    heads = [
        "machine",
        "frame",
        "fits",
        "chosen",
        "machines",
        "shafts",
        "standby",
        "binding",
        "why",
    ]
    page.heads([*heads, *(f"{book.label(n)}, {book.unit(n)}" for n in names)])
    sheet.freeze_panes(page.row, 2)
    for option in book.findings.options:
        for frame in option.frames:
            by_name = {f.name: f for f in frame.figures.values() if f.exists}
            values = [
                shown(n, by_name[n].point, book.units) if n in by_name else None for n in names
            ]
            page.line(
                (
                    option.label,
                    frame.frame,
                    "yes" if frame.feasible else "no",
                    "yes" if frame.chosen else "",
                    frame.machines,
                    frame.shafts,
                    frame.standby,
                    frame.binding,
                    frame.why,
                    *values,
                )
            )
    page.widths((24, 26, 7, 8, 9, 8, 9, 16, 60, *(14 for _ in names)))


def sources_sheet(book: Book, sheet: Any, styles: Styles) -> None:
    """Every source used."""
    page = Page(sheet, styles)
    page.words("Sources", styles.title)
    page.heads(("id", "author", "title", "year", "number", "grade", "what was read"))
    for key in book.source_ids:
        try:
            entry = source(key)
        except UnknownNameError:
            page.line((key, "", "not on the source list", "", "", "-", ""))
            continue
        year = str(entry.year or "")
        page.line((key, entry.author, entry.title, year, entry.number, entry.grade, entry.read))
    page.widths((12, 30, 60, 8, 22, 8, 50))
