"""Each kind, forced on each demonstration, is told in its own words and in no other kind's."""

from __future__ import annotations

import html
import re
import tomllib
from pathlib import Path

import pytest

from cakewright.errors import InfeasibleError
from cakewright.jobs import evaluate as job
from cakewright.jobs.evaluate import evaluate
from cakewright.jobs.findings import Findings
from cakewright.jobs.protocol import protocol_of
from cakewright.machines import Kind
from cakewright.reports.book import Book
from cakewright.reports.chapters import all_sections
from cakewright.reports.chapters.line import control, line
from cakewright.reports.content import Paragraph
from cakewright.reports.html import write_html
from cakewright.reports.line_drawings import drawing_files
from cakewright.reports.line_tables import LISTS
from cakewright.reports.numbers import Units
from cakewright.storage.studies import demo_text
from cakewright.study import parse_study

WORDS = tomllib.loads((Path(__file__).parent / "words_of_kinds.toml").read_text("utf-8"))


def _forced(demo: str, kind: str) -> Findings:
    """A demonstration with one kind of machine allowed; point case only."""
    text = re.sub(r"(?ms)^\[(machines|sampling)\].*?(?=^\[|\Z)", "", demo_text(demo))
    text += f'\n[sampling]\nsamples = 0\n[machines]\nkinds = ["{kind}"]\n'
    return evaluate(parse_study(text), with_press=False)


def _texts(found: Findings) -> str:
    """Everything a reader gets: report, lists, drawings, protocol; titles of sources left out."""
    book = Book(found, Units.SI)
    sections = tuple(s for s in all_sections(book) if s.key not in ("sources", "sourcelist"))
    page = write_html(found, Units.SI, sections=sections)
    page = re.sub(r"<(style|script).*?</\1>", "", page, flags=re.DOTALL)
    page = html.unescape(re.sub(r"<[^>]+>", "\n", page))
    lists = [] if found.line is None else [str(make(found.line)) for make in LISTS]
    test = [] if found.decide is None else list(protocol_of(found.decide.guarantee))
    drawn = drawing_files(book).values()
    whole = "\n".join([page, *lists, *drawn, *(i for part in test for i in part.items)])
    for told in WORDS["allowed"]:
        whole = whole.replace(told, "")
    return whole


@pytest.mark.parametrize("kind", [kind.value for kind in Kind])
@pytest.mark.parametrize(
    "demo",
    [
        "soy",
        pytest.param("valley", marks=pytest.mark.nightly),
        pytest.param("reservoir", marks=pytest.mark.nightly),
    ],
)
def test_no_word_of_another_kind_is_printed(demo: str, kind: str) -> None:
    """A forced kind has a line that stands, without a word, signal or device of another kind."""
    try:
        found = _forced(demo, kind)
    except InfeasibleError as error:
        pytest.skip(str(error))
    assert found.line is not None
    assert not found.line_missing
    text = _texts(found)
    words = WORDS[kind]
    strange = [w for w in words["never"] if re.search(rf"\b{re.escape(w)}\b", text, re.IGNORECASE)]
    assert strange == []
    own = [w for w in words["own"] if w.lower() in text.lower()]
    assert len(own) >= 0.6 * len(words["own"])


def test_a_kind_without_a_line_is_shown_none(monkeypatch: pytest.MonkeyPatch) -> None:
    """No line, list, drawing or calculation of another kind; each place says so."""
    monkeypatch.setattr(job, "has_line", lambda _: False)
    found = _forced("soy", "decanter")
    book = Book(found, Units.SI)
    assert found.line is None
    assert found.line_missing
    assert drawing_files(book) == {}
    for section in (line(book), control(book)):
        assert section is not None
        assert section.blocks == (Paragraph(found.line_missing, "caution"),)
    assert not [one for one in found.lines if one.chapter == "line"]
