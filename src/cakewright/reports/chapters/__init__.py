"""Sections of the report: one module per section, each a function from a book to a `Section`."""

from __future__ import annotations

from dataclasses import replace
from string import ascii_uppercase

from cakewright.reports.book import Book
from cakewright.reports.chapters.annex import annex
from cakewright.reports.chapters.answer import answer
from cakewright.reports.chapters.asknext import asknext, sensitivity
from cakewright.reports.chapters.balance import balance
from cakewright.reports.chapters.basis import basis
from cakewright.reports.chapters.carbon import carbon
from cakewright.reports.chapters.cautions import cautions
from cakewright.reports.chapters.comparison import comparison
from cakewright.reports.chapters.guarantee import guarantee
from cakewright.reports.chapters.line import coefficients, control, line, line_lists
from cakewright.reports.chapters.money import bill, money
from cakewright.reports.chapters.press import press
from cakewright.reports.chapters.sourcelist import sourcelist
from cakewright.reports.chapters.suitability import suitability
from cakewright.reports.chapters.week import week
from cakewright.reports.content import Section

__all__ = ["all_sections"]

_BODY = (
    answer,
    comparison,
    press,
    balance,
    line,
    week,
    money,
    carbon,
    guarantee,
    asknext,
    cautions,
)
# What a reader looks up: lists, long tables and proofs, apart from what is read through.
_ANNEXES = (
    basis,
    suitability,
    line_lists,
    bill,
    control,
    sensitivity,
    annex,
    coefficients,
    sourcelist,
)


def all_sections(book: Book) -> tuple[Section, ...]:
    """Every section these findings give reason for, in reading order, the annexes last."""
    body = [section for make in _BODY if (section := make(book)) is not None]
    annexes = [section for make in _ANNEXES if (section := make(book)) is not None]
    lettered = zip(annexes, ascii_uppercase, strict=False)
    return (*body, *(replace(section, annex=letter, new_page=True) for section, letter in lettered))
