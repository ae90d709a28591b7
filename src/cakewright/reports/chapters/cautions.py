"""Cautions beside the work they belong to, and what always comes before this calculation."""

from __future__ import annotations

from cakewright.reports.book import Book
from cakewright.reports.content import Cell, Column, Paragraph, Section, Table

__all__ = ["DEFERENCE", "cautions"]

DEFERENCE = (
    "This calculation is an aid to people who know the trade. Local law, permits, adopted codes, "
    "the supplier's instructions and licensed practice come first wherever they differ.",
    "Guarding, isolation, entry into tanks, pressure relief and the zoning of explosive "
    "atmospheres are set by a competent person for the plant as it is built.",
    "Limits of exposure change: use the ones in force where the plant stands.",
)


def cautions(book: Book) -> Section:
    """The cautions of these findings."""
    columns = (
        Column("where", share=1.0),
        Column("caution", share=4.2),
        Column("source", share=0.9),
    )
    rows = tuple(
        (
            Cell(caution.place, strong=True),
            Cell(caution.text),
            Cell(caution.source, book.source_link(caution.source)),
        )
        for caution in book.findings.cautions
    )
    deference = tuple(Paragraph(text, "caution") for text in DEFERENCE)
    table = (Table(columns, rows),) if rows else ()
    return Section("cautions", "Cautions", (*deference, *table))
