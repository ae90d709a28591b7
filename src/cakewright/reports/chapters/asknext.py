"""What to ask, test or pilot next, what that is worth, and what moves the answer."""

from __future__ import annotations

import math
from collections.abc import Iterator

from cakewright.jobs.decision import DecisionFindings
from cakewright.jobs.findings import Question
from cakewright.jobs.questions import score_label
from cakewright.jobs.sensitivity import Shares, Tornado
from cakewright.jobs.worth import DecisionValue
from cakewright.reports.book import NOTHING, Book, anchor
from cakewright.reports.content import (
    Block,
    Bullets,
    Cell,
    Column,
    Heading,
    Paragraph,
    Picture,
    Section,
    Table,
)
from cakewright.reports.figures.tornado import Swing, figure_tornado
from cakewright.reports.numbers import decimals_for, number_text, shown
from cakewright.reports.question_words import rounded_worth

__all__ = ["asknext", "sensitivity"]


def asknext(book: Book) -> Section | None:
    """Questions by their worth; sensitivities behind them."""
    decide, questions = book.findings.decide, book.findings.questions
    if not questions:
        return None
    if decide is None:
        return Section("asknext", "Ask next", (_questions(book, questions),))
    blocks: list[Block] = []
    if decide.value is not None:
        blocks.append(Paragraph(_stake(book, decide.value)))
    blocks.append(_questions(book, questions))
    tests = _tests(book, decide)
    if tests is not None:
        blocks += [Heading("Worth of a test by its replicates"), tests]
    return Section("asknext", "Ask next", tuple(blocks))


def sensitivity(book: Book) -> Section | None:
    """What moves the answer: one input at a time, shares of the spread, errors of the bands."""
    decide = book.findings.decide
    if decide is None:
        return None
    blocks: list[Block] = []
    tornados = [t for t in decide.tornado if len(t.bars) > 1]
    if tornados:
        blocks.append(Heading("One input at a time"))
        blocks += [_tornado(book, tornado) for tornado in tornados]
    if decide.shares is not None:
        blocks += [Heading("Shares of the spread of cost"), _shares(book, decide.shares)]
    blocks += _sampling(book, decide)
    blocks.append(Bullets("How this is worked out", decide.notes))
    return Section("sensitivity", "What moves the answer", tuple(blocks))


def _stake(book: Book, value: DecisionValue) -> str:
    labels = {o.machine: o.label for o in book.findings.options}
    worth = book.quantity("decision_worth", rounded_worth(value.everything.value))
    chance = dict(zip(value.machines, value.chance, strict=True))[value.today]
    year = book.findings.price_year
    return (
        f"On expected net cost the {labels[value.today]} is best today; in {100 * chance:.0f} % of "
        f"cases that is what full knowledge would choose too. Knowing everything before choosing "
        f"the kind would be worth {worth} of {year} over the life: no answer is worth more."
    )


def _questions(book: Book, questions: tuple[Question, ...]) -> Table:
    columns = (
        Column("", align="right", share=0.3),
        Column("what", share=1.5),
        Column("do", share=3.8),
        Column("worth", unit=book.unit("decision_worth"), align="right", share=0.8),
        Column("widens", share=1.6),
    )
    rows = tuple(
        (
            Cell(str(question.rank)),
            Cell(question.name),
            Cell(question.ask, anchor("given", question.where)),
            Cell(_worth(book, question)),
            Cell(_widens(book, question)),
        )
        for question in sorted(questions, key=lambda q: q.rank)
    )
    caption = (
        f"Worth, in money of {book.findings.price_year}: what choosing the kind after the answer "
        "saves over the life, on average; the cost of the test is not taken off. A dash: too small "
        "to tell from chance."
    )
    return Table(columns, rows, caption)


def _worth(book: Book, question: Question) -> str:
    if question.worth is None:
        return NOTHING
    worth = number_text(rounded_worth(question.worth.point), 0)
    error = question.worth_error
    return worth if not error else f"{worth} ± {number_text(rounded_worth(error), 0)}"


def _widens(book: Book, question: Question) -> str:
    if question.share < 0.005:
        return question.why
    return f"{100 * question.share:.0f} % of {book.label(question.effect_on)}"


def _tests(book: Book, decide: DecisionFindings) -> Table | None:
    if decide.value is None:
        return None
    shown_items = [k for k in decide.value.knowing if k.by_replicates]
    shown_items = [k for k in shown_items if k.perfect.value > decide.value.noise]
    if not shown_items:
        return None
    counts = [count for count, _ in shown_items[0].by_replicates]
    columns = (
        Column("test", share=3.0),
        *(Column(str(count), align="right", share=0.7) for count in counts),
        Column("known perfectly", align="right", share=0.9),
    )
    rows = tuple(
        (
            Cell(f"{_place(book, item.place)}: {item.test}"),
            *(
                Cell(number_text(rounded_worth(worth), 0), strong=count == item.replicates)
                for count, worth in item.by_replicates
            ),
            Cell(number_text(rounded_worth(item.perfect.value), 0)),
        )
        for item in shown_items
    )
    unit = book.unit("decision_worth")
    caption = (
        f"{unit} of {book.findings.price_year} over the life, by number of independent results; "
        "strong: more of them add little. Errors of the tests are judged."
    )
    return Table(columns, rows, caption)


def _place(book: Book, place: str) -> str:
    """Words of a place of the study or of a score."""
    if place == "":
        return "everything else"
    if place.startswith("~"):
        return score_label(place)
    given = next((g for g in book.findings.givens if g.where == place), None)
    label = book.label(given.name) if given else place
    parts = place.split(".")
    if parts[0] == "sludge":
        return f"{label}, {book.findings.sludges[int(parts[1])].name}"
    return f"{label} rise" if parts[-1].endswith("_rise") else label


def _ends(book: Book, place: str, low: float, high: float) -> tuple[str, str]:
    given = next((g for g in book.findings.givens if g.where == place), None)
    if given is None:
        return "P10", "P90"
    return book.quantity(given.name, low), book.quantity(given.name, high)


def _swings(book: Book, tornado: Tornado) -> Iterator[Swing]:
    for bar in tornado.bars:
        low, high = _ends(book, bar.place, bar.low, bar.high)
        yield Swing(
            _place(book, bar.place),
            shown(tornado.output, bar.at_low, book.units),
            shown(tornado.output, bar.at_high, book.units),
            low,
            high,
        )


def _tornado(book: Book, tornado: Tornado) -> Picture:
    swings = list(_swings(book, tornado))
    label, unit = book.label(tornado.output), book.unit(tornado.output)
    base = shown(tornado.output, tornado.point, book.units)
    spoken = "; ".join(f"{s.label} {s.at_low:.4g} to {s.at_high:.4g}" for s in swings[:5])
    alt = f"{label} in {unit}, point {base:.4g}: {spoken}"
    title = f"{label[:1].upper()}{label[1:]}"
    year = f" (prices of {book.findings.price_year})" if "cost" in tornado.output else ""
    caption = f"{title}{year}: each input alone moved from its 10 % to its 90 % point."
    return Picture(figure_tornado(swings, base, title, unit, alt), alt, caption, wide=True)


def _shares(book: Book, shares: Shares) -> Table:
    columns = (
        Column("input", share=3.0),
        Column("alone", unit="%", align="right"),
        Column("with all it acts through", unit="%", align="right"),
    )
    first = [*shares.first, None] if len(shares.first) < len(shares.places) else [*shares.first]
    errors = [*shares.first_error, None][: len(shares.places)]
    rows = tuple(
        (
            Cell(_place(book, place)),
            Cell(NOTHING if share is None or error is None else _share(share, error)),
            Cell(_share(total, total_error)),
        )
        for place, share, error, total, total_error in zip(
            shares.places, first, errors, shares.total, shares.total_error, strict=True
        )
    )
    caption = (
        "Shares of the variance of the whole-life cost: what knowing the input alone takes away, "
        "and what would be left if all others were known; ± two standard errors, "
        f"{shares.evaluations} further evaluations."
    )
    return Table(columns, rows, caption)


def _share(share: float, error: float) -> str:
    return f"{100 * max(share, 0.0):.0f} ± {200 * error:.0f}"


def _sampling(book: Book, decide: DecisionFindings) -> list[Block]:
    if not decide.convergence:
        return []
    columns = (
        Column("figure", share=1.6),
        Column("unit", share=0.8),
        *(Column(f"P{p}", align="right") for p in (10, 50, 90)),
    )
    rows = []
    for name, found in decide.convergence.items():
        cells = [
            Cell(_with_error(book, name, float(value), float(error)))
            for value, error in zip(found.percentiles, found.standard_errors, strict=True)
        ]
        rows.append((Cell(book.label(name)), Cell(book.unit(name)), *cells))
    blocks = next(iter(decide.convergence.values())).replicates
    caption = (
        f"Percentiles with the error that {book.findings.samples} samples leave in them: ± two "
        f"standard errors, from {blocks} independent blocks; seed {book.findings.seed}."
    )
    words = "; ".join(decide.correlations)
    pairs = f"Inputs that vary together: {words}." if words else "No inputs vary together."
    return [
        Heading("How firm the bands are"),
        Table(columns, tuple(rows), caption),
        Paragraph(pairs, "note"),
    ]


def _with_error(book: Book, name: str, value: float, error: float) -> str:
    middle = shown(name, value, book.units)
    wide = abs(shown(name, value + 2.0 * error, book.units) - middle)
    digits = decimals_for(name, (value,), book.units) + 1
    figures = float(f"{wide:.1g}")
    return f"{number_text(middle, digits)} ± {number_text(figures, _after_point(figures))}"


def _after_point(value: float) -> int:
    return max(0, -math.floor(math.log10(value))) if value > 0 else 0
