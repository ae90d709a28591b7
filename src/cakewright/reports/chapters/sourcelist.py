"""Where the figures come from, and how far each source was read."""

from __future__ import annotations

from cakewright.errors import UnknownNameError
from cakewright.reports.book import Book, anchor
from cakewright.reports.content import Cell, Column, Paragraph, Section, Table
from cakewright.sources import Source, source

__all__ = ["sourcelist"]

_GRADES = {
    "A": "whole document",
    "B": "the cited page or section",
    "C": "abstract or first page",
    "D": "transcription at second hand",
    "-": "not read",
}


def sourcelist(book: Book) -> Section:
    """Every source used, once."""
    columns = (
        Column("id", share=1.1),
        Column("source", share=4.0),
        Column("read", share=1.4),
        Column("what was read", share=2.6),
    )
    ids = book.source_ids
    rows = tuple(_row(key) for key in ids)
    keys = tuple(anchor("source", key) for key in ids)
    found = book.findings
    colophon = (
        f"Cakewright {found.program_version}, study format {found.study_version}, "
        f"{found.samples} random cases, seed {found.seed}. The same study gives the same report."
    )
    table = Table(columns, rows, anchors=keys, kind="dense")
    return Section("sources", "Sources", (table, Paragraph(colophon, "note")))


def _row(key: str) -> tuple[Cell, ...]:
    try:
        entry = source(key)
    except UnknownNameError:
        return (Cell(key), Cell("not on the source list"), Cell(_GRADES["-"]), Cell())
    return (
        Cell(key),
        Cell(_words(entry)),
        Cell(_GRADES.get(entry.grade, entry.grade)),
        Cell(entry.read),
    )


def _words(entry: Source) -> str:
    parts = [entry.author, entry.title, entry.number, str(entry.year or "")]
    return ". ".join(part for part in parts if part)
