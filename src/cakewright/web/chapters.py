"""Chapters of the book: which inputs each holds, what it shows, what to do while it is empty."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass, replace

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
from cakewright.reports.content import Block, Bullets, Cell, Heading, Section, Table
from cakewright.web.runs import Stage

__all__ = ["CHAPTERS", "Chapter", "chapter_of"]


@dataclass(frozen=True, slots=True)
class Chapter:
    """One chapter; ``sections`` name the inputs, ``show`` makes what is seen beside them.

    ``comes_at`` is the stage that has all it shows; a ``slow`` one is drawn with the bands only,
    so that an edit's headline need not wait for its drawings.
    """

    key: str
    title: str
    lead: str
    sections: tuple[str, ...]
    show: Callable[[Book], tuple[Section, ...]]
    empty: str = ""
    comes_at: Stage = Stage.BANDS
    coming: str = ""
    slow: bool = False


def _under(section: Section | None, *titles: str) -> tuple[Block, ...]:
    """Blocks of a section under some of its headings."""
    found: list[Block] = []
    inside = False
    for block in section.blocks if section else ():
        if isinstance(block, Heading):
            inside = block.text in titles
        if inside:
            found.append(block)
    return tuple(found)


def _section(key: str, title: str, blocks: Iterable[Block]) -> tuple[Section, ...]:
    there = tuple(blocks)
    return (Section(key, title, there),) if there else ()


def _sludge(book: Book) -> tuple[Section, ...]:
    whole = basis(book)
    arrives = _under(whole, "What arrives")
    gone = _under(whole, "What nobody gave")
    return (
        *_section("arrives", "What arrives", arrives[1:]),
        *_present(asknext(book)),
        *_present(sensitivity(book)),
        *_section("defaults", "What nobody gave of the sludge", _of_sludge(gone[1:])),
    )


def _of_sludge(blocks: Iterable[Block]) -> tuple[Block, ...]:
    """Defaults of what arrives; those of prices, carbon and tests stand in the chapter Report."""
    found: list[Block] = []
    for block in blocks:
        if isinstance(block, Table):
            kept = [i for i, row in enumerate(block.rows) if any(map(_arriving, row))]
            if not kept:
                return ()
            marks = tuple(block.anchors[i] for i in kept) if block.anchors else ()
            block = replace(block, rows=tuple(block.rows[i] for i in kept), anchors=marks)
        found.append(block)
    return tuple(found)


def _arriving(cell: Cell) -> bool:
    return cell.text.startswith(("sludge.", "production."))


def _suitability(book: Book) -> tuple[Section, ...]:
    return (suitability(book), comparison(book))


def _press(book: Book) -> tuple[Section, ...]:
    found = press(book)
    if found is None:
        return ()
    # The map of the page, which can be moved on, stands in for the report's still one.
    still = ("If the setting is changed",)
    blocks = tuple(block for block in found.blocks if block not in _under(found, *still))
    return (Section(found.key, found.title, blocks),)


def _cost(book: Book) -> tuple[Section, ...]:
    return (*_present(money(book)), *_present(bill(book)), *_present(carbon(book)))


def _guarantee(book: Book) -> tuple[Section, ...]:
    return _present(guarantee(book))


def _line(book: Book) -> tuple[Section, ...]:
    designed = line(book)
    return (
        *_present(week(book)),
        *_present(designed),
        *_present(line_lists(book)),
        balance(book),
        *_present(control(book)),
        *_present(coefficients(book)),
        *_present(cautions(book)),
    )


def _report(book: Book) -> tuple[Section, ...]:
    lists = tuple(b for b in answer(book).blocks if isinstance(b, Bullets))
    gone = _under(basis(book), "What nobody gave")
    return (
        *_section("answer", "The answer in short", lists),
        *_section("defaults", "What nobody gave", gone[1:]),
        *_present(annex(book)),
        *_present(sourcelist(book)),
    )


def _present(section: Section | None) -> tuple[Section, ...]:
    return () if section is None else (section,)


def _nothing(_: Book) -> tuple[Section, ...]:
    return ()


CHAPTERS = (
    Chapter(
        "sludge",
        "Sludge",
        "What arrives at the press, and how well that is known.",
        ("study", "sludge", "production"),
        _sludge,
        comes_at=Stage.DECIDED,
    ),
    Chapter(
        "bench",
        "Bench",
        "Readings of the laboratory, and the sludge law they give.",
        ("bench",),
        _nothing,
        "No bench tests are entered yet, so the press stands on the published figures of the "
        "sludge's class. Paste a table of readings on the left: filtration, drainage, pressing, "
        "settling or dose tests, one sheet a test.",
    ),
    Chapter(
        "suitability",
        "Suitability",
        "Which kinds of machine suit this sludge, which do not, and why.",
        ("machines", "duty"),
        _suitability,
    ),
    Chapter(
        "press",
        "Press",
        "How the chosen machine dewaters, and where its limits are.",
        ("target", "press"),
        _press,
        "The pressing path is worked out for the multi-disc screw press. This study's answer "
        "stands on published bands, which are in the chapter Suitability.",
        Stage.WHOLE,
        "The pressing path is being worked out; it appears here by itself. The first time after "
        "the server starts this takes up to a minute.",
    ),
    Chapter(
        "line",
        "Line",
        "Everything round the press, and where each stream goes.",
        ("conditioning", "polymer", "coagulant", "outlet"),
        _line,
        slow=True,
    ),
    Chapter(
        "cost",
        "Cost & carbon",
        "What a tonne of dry solids costs over the life of the line.",
        ("prices", "today", "carbon"),
        _cost,
        "Enter the site's prices on the left: each replaces a default. The cost of a tonne of dry "
        "solids is in the headline above.",
        Stage.DECIDED,
        "Money and carbon over the life of the line are being worked out; they appear here by "
        "themselves.",
    ),
    Chapter(
        "guarantee",
        "Guarantee",
        "What can be promised, with what chance, and the test that proves it.",
        ("target", "guarantee", "decision", "correlation", "sampling"),
        _guarantee,
        "No guarantee is worked out for this study yet. Enter the values the outlet asks for on "
        "the left.",
        Stage.DECIDED,
        "The promises are being worked out; they appear here by themselves.",
    ),
    Chapter(
        "running",
        "Running",
        "The plant at work against what was promised.",
        (),
        _nothing,
        "No log has been read for this study yet. When the plant runs, choose its log on the left "
        "and say what the columns are: then this page tells whether the plant keeps its promise, "
        "what a tonne costs today, what drifted since when and most likely why, and what to do "
        "first.",
    ),
    Chapter(
        "report",
        "Report",
        "The documents, the calculations and their sources.",
        ("document",),
        _report,
        comes_at=Stage.DECIDED,
    ),
)
_BY_KEY = {chapter.key: chapter for chapter in CHAPTERS}


def chapter_of(key: str) -> Chapter | None:
    """Chapter by its key."""
    return _BY_KEY.get(key)
