"""The title block: who made the document, for whom, under which number."""

from __future__ import annotations

from dataclasses import replace

import pytest
from tests.unit.reports.findings_sample import sample_findings

from cakewright.errors import StudyError
from cakewright.reports.book import Book
from cakewright.reports.chapters.answer import answer
from cakewright.reports.content import Table
from cakewright.reports.html import write_html
from cakewright.reports.numbers import Units
from cakewright.study import parse_study

GIVEN = {"client": "A works (invented)", "number": "DW-001", "author": "A. Example"}
STUDY = (
    'cakewright = 1\ntitle = "t"\n[[sludge]]\nname = "a"\nclass = "was"\n'
    'flow = "40 m3/d"\ntotal_solids = "0.8 %"\n'
)


def test_title_block_is_printed_when_given() -> None:
    """Fields stand under the title; the page asks for a signature only where one is named."""
    found = replace(sample_findings(), document=GIVEN)
    page = write_html(found)
    assert "<dt>number</dt><dd>DW-001</dd>" in page
    assert "<dt>revision</dt>" not in page
    signed = [b for b in answer(Book(found, Units.SI)).blocks if isinstance(b, Table)][-1]
    assert [c.head for c in signed.columns] == ["made", "for the client"]
    plain = [b for b in answer(Book(sample_findings(), Units.SI)).blocks if isinstance(b, Table)]
    assert len(plain) == 1
    assert 'class="document"' not in write_html(sample_findings())


def test_study_gives_the_title_block() -> None:
    """What the study says arrives as written."""
    study = parse_study(f'{STUDY}[document]\nnumber = "DW-1/2"\ndate = "2026-03-01"\n')
    assert study.texts("document") == {"number": "DW-1/2", "date": "2026-03-01"}


@pytest.mark.parametrize(
    ("line", "told"),
    [
        ('number = "DW:1?"', 'write number = "DW-1-"'),
        ('date = "1.3.2026"', 'write date = "2026-03-01"'),
        ('client = "two\\nlines"', "one line"),
        (f'author = "{"x" * 81}"', "80 printable"),
    ],
)
def test_a_field_that_cannot_stand_in_a_title_block_is_named(line: str, told: str) -> None:
    """Each fault says the place, what is allowed and what to write instead."""
    with pytest.raises(StudyError) as caught:
        parse_study(f"{STUDY}[document]\n{line}\n")
    (fault,) = caught.value.faults
    assert fault.where.startswith("document.")
    assert told in f"{fault.allowed} {fault.try_this}"
