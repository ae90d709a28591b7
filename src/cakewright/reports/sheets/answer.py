"""The answer: the decision in words, and the headline pointing to the comparison."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from cakewright.jobs.findings import Question
from cakewright.quantities import Figure
from cakewright.reports.book import Book
from cakewright.reports.choice_words import missed_words, reason_words, turning_words
from cakewright.reports.evidence_words import MOVED, moved_words
from cakewright.reports.html import FOOTER
from cakewright.reports.numbers import shown
from cakewright.reports.question_words import reason
from cakewright.reports.sheets.page import Live, Page, Styles
from cakewright.reports.sheets.tables import Answers

__all__ = ["answer_sheet"]


def answer_sheet(
    book: Book, sheet: Any, styles: Styles, chosen: Mapping[str, str], answers: Answers
) -> None:
    """Write the sheet; ``chosen`` gives the cell of each figure of the chosen kind."""
    found = book.findings
    page = Page(sheet, styles)
    page.words(found.title, styles.title)
    page.words(f"{found.site}{' (invented)' if found.invented else ''}", styles.quiet)
    if found.invented:
        page.words(found.invented_note, styles.quiet, 8)
    page.row += 1
    page.words(found.decision.sentence, styles.lead, 8, 36)
    page.row += 1
    page.heads(
        ("headline", "value", "unit", "P10", "P90", "basis", "mark", "source", "follows inputs")
    )
    for figure in found.decision.headline:
        _row(book, page, figure, chosen, answers)
    page.row += 1
    for title, items in (
        (MOVED, moved_words(found, book.units)),
        (
            "No kind meets everything: this is the nearest, and it misses",
            missed_words(found, book.units),
        ),
        ("Because", reason_words(found, book.units)),
        ("What would turn it", turning_words(found, book.units)),
        ("Rejected", found.decision.rejected),
        ("Worth asking next", tuple(_asked(book, q) for q in found.questions[:3])),
        ("Holds as long as", found.decision.conditions),
        ("Notes", found.notes),
    ):
        if items:
            page.words(title, styles.heading)
            for item in items:
                page.words(item, styles.quiet, 8, 15.0 * (1 + len(item) // 105))
    page.row += 1
    page.words(FOOTER, styles.quiet, 8)
    page.widths((30, 12, 10, 12, 12, 12, 14, 18, 20))


def _asked(book: Book, question: Question) -> str:
    why = reason(question, book.units, book.findings.currency, book.findings.price_year)
    return f"{question.ask.rstrip('.')} ({why})"


# Figures of the whole line, and the answer of the tables that each is.
_OF_LINE = {"line_energy": "energy", "line_water": "water"}


def _row(
    book: Book, page: Page, figure: Figure, chosen: Mapping[str, str], answers: Answers
) -> None:
    tail = (figure.basis.value, figure.mark.value, figure.source or "")
    label, unit = book.label(figure.name), book.unit(figure.name)
    if not figure.exists:
        page.line((label, None, unit, None, None, *tail))
        return
    band, point = book.shown_band(figure)
    cell = chosen.get(figure.name)
    same = cell is not None and _is_compared(book, figure)
    value: object = Live(str(cell), point) if same else point
    machine = book.findings.decision.machine
    key = _OF_LINE.get(figure.name, figure.name)
    own = answers.shown(book, machine, key, figure.name, figure.point)
    if own and figure.name in _OF_LINE:
        value = Live(own, point)
    page.line(
        (label, value, unit, band.p10, band.p90, *tail, _followed(value, machine, key, answers))
    )


def _followed(value: object, machine: str, key: str, answers: Answers) -> str:
    """How the figure follows the inputs, with the error of the tables it rests on."""
    if not isinstance(value, Live):
        return "fixed by the program"
    error = answers.errors.get((machine, key))
    if error is not None:
        return f"by table, ±{100 * error:.2g} %"
    if key in ("running_cost", "cost_specific"):
        # Sums of dry solids times an amount each: no worse than both errors together.
        parts = [answers.errors.get((machine, name), 0.0) for name in _PAID]
        dry = answers.errors.get((machine, "dry_solids"), 0.0)
        return f"live on tables, ±{100 * (dry + max(parts)):.2g} %"
    return "live" if key == "capital" else "fixed by the program"


# Amounts that costs of a year are made of.
_PAID = ("energy", "water", "polymer_dose", "cake", "solids_returned", "attention", "cake_out")


def _is_compared(book: Book, figure: Figure) -> bool:
    """True when the comparison shows this very number for the chosen kind."""
    machine = book.findings.decision.machine
    option = next((o for o in book.findings.options if o.machine == machine), None)
    others = option.figures.values() if option else ()
    return any(
        o.exists
        and o.name == figure.name
        and shown(o.name, o.point, book.units) == shown(figure.name, figure.point, book.units)
        for o in others
    )
