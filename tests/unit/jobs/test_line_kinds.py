"""A kind without a line of its own is shown no line of another kind."""

from __future__ import annotations

import pytest

from cakewright.jobs.evaluate import evaluate
from cakewright.jobs.protocol import protocol_of
from cakewright.machines import Kind
from cakewright.reports.book import Book
from cakewright.reports.chapters.line import control, line
from cakewright.reports.content import Paragraph
from cakewright.reports.line_drawings import drawing_files
from cakewright.reports.numbers import Units
from cakewright.storage.studies import demo_text
from cakewright.study import parse_study

UNKNOWN = [kind.value for kind in Kind if kind is not Kind.MULTI_DISC_SCREW_PRESS]


@pytest.mark.parametrize("kind", UNKNOWN)
def test_a_kind_without_a_line_is_shown_none(kind: str) -> None:
    """No line, list, drawing or protocol caution of another kind; each place says so."""
    text = demo_text("soy") + f'\n[sampling]\nsamples = 0\n[machines]\nkinds = ["{kind}"]\n'
    found = evaluate(parse_study(text), with_press=False)
    book = Book(found, Units.SI)
    assert found.line is None
    assert found.line_missing
    assert drawing_files(book) == {}
    for section in (line(book), control(book)):
        assert section is not None
        assert section.blocks == (Paragraph(found.line_missing, "caution"),)
    assert not [one for one in found.lines if one.chapter == "line"]
    assert found.decide is not None
    told = " ".join(i for part in protocol_of(found.decide.guarantee) for i in part.items)
    assert "screws, discs" not in told
    assert "no run starts without them" in told
