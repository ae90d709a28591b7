"""What each page is filled with: plain data, so that templates only format."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from cakewright.errors import Fault
from cakewright.jobs.findings import Findings
from cakewright.quantities import Figure, house_name
from cakewright.reports.book import Book
from cakewright.reports.chapters.answer import headline_figures, headline_rows
from cakewright.reports.content import Cell, Section
from cakewright.reports.evidence_words import answered_words, moved_words
from cakewright.reports.numbers import Units, number_text, shown
from cakewright.storage.store import Revision, StudyRecord
from cakewright.web.bench_view import BenchView
from cakewright.web.chapters import CHAPTERS, Chapter
from cakewright.web.forms import FormSection
from cakewright.web.operating_map import MapView, map_of
from cakewright.web.running_view import RunningView
from cakewright.web.runs import Outcome, Stage, before
from cakewright.web.tasks import Task

__all__ = [
    "ComparePage",
    "CompareRow",
    "HeadItem",
    "Headline",
    "HistoryPage",
    "HomePage",
    "InputRow",
    "Results",
    "StudyPage",
    "TextPage",
    "headline_of",
    "results_of",
    "sludge_words",
]


@dataclass(frozen=True, slots=True)
class HeadItem:
    """One figure of the headline."""

    label: Cell
    value: Cell
    unit: str
    band: str
    strip: Cell
    basis: Cell


@dataclass(frozen=True, slots=True)
class Headline:
    """The headline: the sentence, the figures, or what stands in the way."""

    sentence: str = ""
    items: tuple[HeadItem, ...] = ()
    banded: bool = False
    invented: bool = False
    faults: int = 0
    problem: str = ""
    notes: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Results:
    """What a chapter shows beside its inputs."""

    chapter: Chapter
    sections: tuple[Section, ...]
    faults: tuple[Fault, ...] = ()
    problem: str = ""
    map: MapView | None = None
    coming: bool = False

    @property
    def empty(self) -> bool:
        """True when there is nothing to see yet."""
        return not (self.sections or self.map)


@dataclass(frozen=True, slots=True)
class Shell:
    """What every page has."""

    units: Units
    csrf: str
    version: str


@dataclass(frozen=True, slots=True)
class HomePage:
    """The studies, the demonstrations, and what is in the bin."""

    shell: Shell
    studies: tuple[StudyRecord, ...]
    removed: tuple[StudyRecord, ...]
    demos: tuple[tuple[str, str, str], ...]


@dataclass(frozen=True, slots=True)
class StudyPage:
    """One chapter of one study."""

    shell: Shell
    record: StudyRecord
    chapter: Chapter
    headline: Headline
    results: Results
    forms: tuple[FormSection, ...]
    loose: tuple[Fault, ...]
    broken: str
    stage: str
    bench: BenchView | None = None
    kinds: tuple[tuple[str, str], ...] = ()
    drawings: tuple[tuple[str, str], ...] = ()
    line_missing: str = ""
    guarantees: tuple[tuple[str, str, str], ...] = ()
    weeks: Task | None = None
    running: RunningView | None = None
    chapters: tuple[Chapter, ...] = CHAPTERS


@dataclass(frozen=True, slots=True)
class TextPage:
    """The study as text with its faults by line."""

    shell: Shell
    record: StudyRecord
    headline: Headline
    text: str
    stage: str
    faults: tuple[Fault, ...]
    files: tuple[tuple[str, int], ...]
    chapters: tuple[Chapter, ...] = CHAPTERS


@dataclass(frozen=True, slots=True)
class HistoryPage:
    """Every confirmed change, and texts that were refused and kept."""

    shell: Shell
    record: StudyRecord
    headline: Headline
    stage: str
    revisions: tuple[Revision, ...]
    kept: tuple[tuple[int, int, datetime, str], ...]
    chapters: tuple[Chapter, ...] = CHAPTERS


@dataclass(frozen=True, slots=True)
class CompareRow:
    """One figure of the headline in two studies, and how far apart they are."""

    label: str
    unit: str
    left: HeadItem | None
    right: HeadItem | None
    difference: str


@dataclass(frozen=True, slots=True)
class InputRow:
    """One input that differs."""

    where: str
    left: str
    right: str


@dataclass(frozen=True, slots=True)
class ComparePage:
    """Two studies side by side."""

    shell: Shell
    left: StudyRecord
    right: StudyRecord
    left_head: Headline
    right_head: Headline
    rows: tuple[CompareRow, ...]
    inputs: tuple[InputRow, ...]
    studies: tuple[StudyRecord, ...]


def headline_of(outcome: Outcome, units: Units) -> Headline:
    """Headline of an outcome, from the same table as the report's first page."""
    if outcome.findings is None:
        return Headline(faults=len(outcome.faults), problem=outcome.problem)
    banded = outcome.stage is not Stage.POINT
    items = tuple(
        HeadItem(row[0], row[1], row[2].text, row[3].text, row[4], row[5])
        for row in headline_rows(Book(outcome.findings, units), strips=banded)
    )
    return Headline(
        outcome.findings.decision.sentence,
        items,
        banded,
        outcome.findings.invented,
        notes=tuple(
            f"{words[:1].upper()}{words[1:]}."
            for words in (
                *moved_words(outcome.findings, units),
                answered_words(outcome.findings),
            )
            if words and banded
        ),
    )


def results_of(
    chapter: Chapter, outcome: Outcome, units: Units, bench: BenchView | None = None
) -> Results:
    """What a chapter shows of an outcome; some chapters stand on readings of their own."""
    if bench is not None:
        return Results(chapter, bench.sections, (), bench.problem)
    if outcome.findings is None:
        return Results(chapter, (), outcome.faults, outcome.problem)
    sections = chapter.show(Book(outcome.findings, units))
    shown = map_of(outcome.findings, units) if chapter.key == "press" else None
    coming = before(outcome.stage, chapter.comes_at)
    return Results(chapter, sections, map=shown, coming=coming)


def compare_rows(
    left: Findings | None, right: Findings | None, heads: tuple[Headline, Headline], units: Units
) -> tuple[CompareRow, ...]:
    """Headline figures of two studies with the difference of their point cases."""
    sides = [_by_name(f, head) for f, head in ((left, heads[0]), (right, heads[1]))]
    names = list(dict.fromkeys([*sides[0], *sides[1]]))
    rows = []
    for name in names:
        first, second = sides[0].get(name), sides[1].get(name)
        entry = house_name(name)
        difference = _difference(first, second, units) if first and second else ""
        item = first or second
        rows.append(
            CompareRow(
                entry.label,
                item[1].unit if item else "",
                first[1] if first else None,
                second[1] if second else None,
                difference,
            )
        )
    return tuple(rows)


def _by_name(findings: Findings | None, head: Headline) -> dict[str, tuple[Figure, HeadItem]]:
    pairs = headline_figures(findings.decision.headline) if findings else ()
    return {f.name: (f, item) for (f, _), item in zip(pairs, head.items, strict=True)}


def _difference(
    first: tuple[Figure, HeadItem], second: tuple[Figure, HeadItem], units: Units
) -> str:
    one, two = first[0], second[0]
    if not (one.exists and two.exists):
        return ""
    digits = max(len(i.value.text.partition(".")[2]) for i in (first[1], second[1]))
    change = shown(two.name, two.point, units) - shown(one.name, one.point, units)
    text = number_text(change, digits)
    if not any(char in "123456789" for char in text):
        return "same"
    return text if change < 0 else f"+{text}"


def sludge_words(places: Sequence[str]) -> str:
    """Places as people number them: the first sludge is 1."""
    words = []
    for place in places:
        head, _, rest = place.partition(".")
        number, _, key = rest.partition(".")
        numbered = head == "sludge" and number.isdigit()
        words.append(f"sludge {int(number) + 1} {key}".strip() if numbered else place)
    return ", ".join(word.replace("_", " ").replace(".", ", ") for word in words)
