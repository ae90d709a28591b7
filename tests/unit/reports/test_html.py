"""The report as one page."""

from __future__ import annotations

import re
from dataclasses import replace
from html.parser import HTMLParser

import pytest
from tests.unit.reports.findings_sample import figure, sample_findings

from cakewright.quantities import Figure, Mark
from cakewright.reports.html import write_html
from cakewright.reports.numbers import Units

VOID = {"meta", "col", "br", "img", "hr", "link", "input"}


class Page(HTMLParser):
    """Collects ids, links and texts, and checks that tags close in order."""

    def __init__(self, html: str) -> None:
        super().__init__()
        self.ids: list[str] = []
        self.links: list[str] = []
        self.tags: list[str] = []
        self.attributes: list[tuple[str, str]] = []
        self.words: list[str] = []
        self.feed(html)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        for key, value in attrs:
            self.attributes.append((key, value or ""))
            if key == "id":
                self.ids.append(value or "")
            if key == "href":
                self.links.append(value or "")
        if tag not in VOID:
            self.tags.append(tag)

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.handle_starttag(tag, attrs)
        if tag not in VOID:
            self.tags.pop()

    def handle_endtag(self, tag: str) -> None:
        assert self.tags, f"</{tag}> closes nothing"
        assert self.tags.pop() == tag

    def handle_data(self, data: str) -> None:
        self.words.append(data)


@pytest.fixture(scope="module")
def html() -> str:
    """The report of the invented findings."""
    return write_html(sample_findings())


def test_page_is_well_formed_and_links_lead_somewhere(html: str) -> None:
    """Every tag closes in order, every id is used once, every link has its target."""
    page = Page(html)
    assert page.tags == []
    assert len(page.ids) == len(set(page.ids))
    assert {link[1:] for link in page.links} <= set(page.ids)


def test_page_needs_nothing_from_outside(html: str) -> None:
    """No script, no import, and every address is a place inside the page."""
    page = Page(html)
    assert "<script" not in html
    assert "@import" not in html
    assert not re.search(r"url\((?!#)", html)
    assert all(link.startswith("#") for link in page.links)
    assert not any(key == "src" for key, _ in page.attributes)


def test_answer_comes_first(html: str) -> None:
    """The decision stands before the basis, and the basis before the alternatives."""
    order = [html.index(f'<section id="{key}"') for key in ("answer", "basis", "suitability")]
    assert order == sorted(order)
    assert html.index("One multi-disc screw press") < order[1]


def test_marks_survive(html: str) -> None:
    """ "From memory" and "judgement" reach the page, and the site is called invented."""
    for mark in (Mark.FROM_MEMORY, Mark.JUDGEMENT, Mark.INVENTED):
        assert mark.value in html


def test_headline_figures_link_to_their_calculation(html: str) -> None:
    """The cake solids of the headline point to their line of the annex."""
    answer = html[html.index('id="answer"') : html.index('id="basis"')]
    assert 'href="#line-multi-disc-press-cake-solids"' in answer


def test_texts_are_escaped() -> None:
    """A site name and a note cannot bring tags of their own into the page."""
    found = sample_findings()
    evil = '<img src=x onerror="alert(1)">'
    given = replace(found.givens[0], note=evil, where=evil)
    page = write_html(replace(found, site=evil, title=evil, givens=(given, *found.givens[1:])))
    assert "<img" not in page
    assert page.count("&lt;img") >= 3


def test_us_units_change_every_table() -> None:
    """In US units polymer is shown per short ton and flow in gallons."""
    page = write_html(sample_findings(), Units.US)
    assert "lb/ton" in page
    assert "gpm" in page
    assert "kg/t<" not in page


def test_page_is_the_same_each_time(html: str) -> None:
    """The same findings give the same page."""
    assert write_html(sample_findings()) == html


def test_a_figure_without_answer_says_why() -> None:
    """An empty figure is a dash with its reason, never a number."""
    found = sample_findings()
    empty = figure("cake_solids", 0.1, 0.0)
    empty = Figure("cake_solids", empty.samples[:0], empty.basis, note="no band for this sludge")
    headline = (empty, *found.decision.headline[1:])
    page = write_html(replace(found, decision=replace(found.decision, headline=headline)))
    assert "no band for this sludge" in page
    assert "nan" not in re.sub(r"<[^>]+>", "", page).lower().split()


def test_annex_shows_whether_lines_recompute(html: str) -> None:
    """A line whose formula does not give its result is called out; the others are ticked."""
    found = sample_findings()
    wrong = replace(found.lines[0], result=found.lines[0].result * 1.01)
    page = write_html(replace(found, lines=(wrong, *found.lines[1:])))
    assert "does not recompute" in page
    assert "does not recompute" not in html
    assert html.count(">recomputed<") == 4
