"""Sections of the report: one module per section, each a function from a book to a `Section`."""

from __future__ import annotations

from cakewright.reports.book import Book
from cakewright.reports.chapters.annex import annex
from cakewright.reports.chapters.answer import answer
from cakewright.reports.chapters.asknext import asknext
from cakewright.reports.chapters.balance import balance
from cakewright.reports.chapters.basis import basis
from cakewright.reports.chapters.carbon import carbon
from cakewright.reports.chapters.cautions import cautions
from cakewright.reports.chapters.comparison import comparison
from cakewright.reports.chapters.guarantee import guarantee
from cakewright.reports.chapters.line import coefficients, control, line
from cakewright.reports.chapters.money import money
from cakewright.reports.chapters.press import press
from cakewright.reports.chapters.sourcelist import sourcelist
from cakewright.reports.chapters.suitability import suitability
from cakewright.reports.chapters.week import week
from cakewright.reports.content import Section

__all__ = ["all_sections"]

_ORDER = (
    answer,
    basis,
    suitability,
    comparison,
    press,
    balance,
    line,
    week,
    control,
    money,
    carbon,
    guarantee,
    asknext,
    cautions,
    annex,
    coefficients,
    sourcelist,
)


def all_sections(book: Book) -> tuple[Section, ...]:
    """Every section these findings give reason for, in reading order."""
    return tuple(section for make in _ORDER if (section := make(book)) is not None)
