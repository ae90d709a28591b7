"""The answer on one page: decision, headline with bands, why, what not, what to ask next."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence

from cakewright.jobs.findings import Answer, OptionFinding
from cakewright.quantities import Figure
from cakewright.reports.book import Book
from cakewright.reports.chapters.guarantee import joint_short
from cakewright.reports.choice_words import missed_words, reason_words, turning_words
from cakewright.reports.content import Block, Bullets, Cell, Column, Paragraph, Section, Table
from cakewright.reports.evidence_words import MOVED, answered_words, moved_words
from cakewright.reports.figures.bands import BandRow, band_strip, round_scale
from cakewright.reports.question_words import reason

__all__ = ["answer", "headline_figures", "headline_rows"]

_MOST_QUESTIONS = 3
_SIGNED = {"author": "made", "checker": "checked", "client": "for the client"}
# Figures of the whole line, and the press's share that stands beside each.
_OWN = {"line_energy": "specific_energy", "line_water": "wash_water_specific"}
_MISSED = "No kind meets everything: this is the nearest, and it misses"


def answer(book: Book) -> Section:
    """The first page."""
    found = book.findings
    decision = found.decision
    blocks: list[Block] = [Paragraph(decision.sentence, "lead")]
    if found.invented:
        blocks.append(Paragraph(found.invented_note, "note"))
    blocks.append(_headline(book))
    if facts := _facts(book):
        blocks.append(Paragraph(facts, "note"))
    for title, items in (
        (MOVED, moved_words(found, book.units)),
        (_MISSED, missed_words(found, book.units)),
        ("Because", reason_words(found, book.units)),
        ("What would turn it", turning_words(found, book.units)),
        ("To be settled before it is built", decision.conflicts),
        ("Rejected", decision.rejected),
        ("Worth asking next", tuple(_questions(book))),
        ("Holds as long as", (*decision.conditions, *_left_out(book))),
    ):
        if items:
            blocks.append(Bullets(title, items))
    if _is_signed(book):
        blocks += _signed(found.document)
    return Section("answer", "Answer", tuple(blocks))


def _facts(book: Book) -> str:
    """Load and case, room and power of the line, and the chance of all promises together."""
    found = book.findings
    told: list[str] = []
    design = found.line
    if design is not None:
        case = design.cases.design
        load = book.quantity("dry_solids_flow", float(case.dry_solids_flow[0]))
        hours = book.quantity("run_hours_per_day", float(case.hours_per_day[0]))
        told.append(f"Sized for the design week: {load} of dry solids, {hours}")
        if design.footprints:
            floor = sum(print_.length * print_.width for print_ in design.footprints)
            told.append(f"its equipment stands on {book.quantity('footprint', floor)}")
        told.append(f"motors {book.quantity('power', design.power.installed)} installed")
    if found.decide is not None:
        told.append(joint_short(found.decide.guarantee))
    if _is_signed(book):
        told.append(
            "signed, kind, frame and line go on to tender or trial for this load and these "
            "targets, while price, promises and permits stay open"
        )
    if words := answered_words(found):
        told.append(words)
    return f"{'; '.join(told)}." if told else ""


def _is_signed(book: Book) -> bool:
    return any(name in book.findings.document for name in _SIGNED)


def _signed(document: Mapping[str, str]) -> list[Block]:
    """Where to sign."""
    there = [(told, document[name]) for name, told in _SIGNED.items() if name in document]
    columns = tuple(Column(told) for told, _ in there)
    return [Table(columns, (tuple(Cell(name) for _, name in there),))]


def _left_out(book: Book) -> tuple[str, ...]:
    """How well the capital of the first page is known and what it does not hold."""
    decide = book.findings.decide
    if decide is None:
        return ()
    bill = next(option.bill for option in decide.money.options if option.chosen)
    row = decide.money.estimate
    band = f"{100 * row.low:+.0f} to {100 * row.high:+.0f} %"
    left = ", ".join(bill.excluded)
    return (f"capital is a class {row.number} estimate ({band}); not in it: {left}",)


def _headline(book: Book) -> Table:
    columns = (
        Column("", share=2.7),
        Column("value", align="point", share=0.9),
        Column("unit", share=0.8),
        Column("P10–P90", align="middle", share=1.3),
        Column("band", align="middle", share=1.9),
        Column("basis", share=1.2),
    )
    rows = headline_rows(book)
    unit = book.unit("cost_specific").split("/")[-1]
    caption = (
        f"Money in {book.findings.currency} of {book.findings.price_year}; figures per {unit} are "
        "per mass of dry solids. Bar: 10 to 90 % of the cases; long stroke: point case; short grey "
        "strokes: the other kinds."
    )
    return Table(columns, rows, caption, kind="headline")


def headline_rows(book: Book, *, strips: bool = True) -> tuple[tuple[Cell, ...], ...]:
    """The headline's figures: words, value, unit, band, its strip if wanted, basis."""
    pairs = headline_figures(book.findings.decision.headline)
    return tuple(_row(book, figure, own, strips=strips) for figure, own in pairs)


def headline_figures(figures: Sequence[Figure]) -> tuple[tuple[Figure, Figure | None], ...]:
    """The figure of each row, and the press's share that stands in the row of the whole line."""
    own = {f.name: f for f in figures if f.name in _OWN.values()}
    named = {f.name for f in figures}
    beside = {whole: own[part] for whole, part in _OWN.items() if whole in named and part in own}
    return tuple((f, beside.get(f.name)) for f in figures if f not in beside.values())


def _row(book: Book, figure: Figure, own: Figure | None, *, strips: bool) -> tuple[Cell, ...]:
    label, value, unit, band, basis = book.figure_row(
        figure, book.findings.decision.machine, "performance", "money", "load", "line"
    )
    return (
        Cell(f"{label.text}{_share(book, own)}", strong=True),
        Cell(value.text, value.link, strong=True),
        unit,
        band,
        _strip(book, figure) if strips and figure.exists else Cell(),
        Cell(badge=basis.badge),
    )


def _share(book: Book, own: Figure | None) -> str:
    return "" if own is None else f" (press {book.value_cell(own).text})"


def _strip(book: Book, figure: Figure) -> Cell:
    chosen = _band_row(book, figure, "chosen")
    others = [_band_row(book, f, o.label) for o, f in _others(book, figure.name)]
    values = [v for r in (chosen, *others) for v in (r.band.p10, r.band.p90, r.point)]
    limits = (0.0, 100.0) if book.unit(figure.name) == "%" else None
    scale = round_scale(values, from_zero=min(values) < 0.6 * max(values), steps=2, limits=limits)
    alt = (
        f"{book.label(figure.name)}: {chosen.band.p10:.4g} to {chosen.band.p90:.4g} "
        f"{book.unit(figure.name)}, point {chosen.point:.4g}"
    )
    return Cell(picture=band_strip(chosen, others, scale, alt), alt=alt)


def _others(book: Book, name: str) -> Iterator[tuple[OptionFinding, Figure]]:
    for option in book.findings.options:
        figure = option.figures.get(name)
        if option.machine == book.findings.decision.machine or figure is None:
            continue
        if figure.exists and option.answer is not Answer.DOES_NOT_SUIT:
            yield option, figure


def _band_row(book: Book, figure: Figure, label: str) -> BandRow:
    band, point = book.shown_band(figure)
    return BandRow(label, band, point)


def _questions(book: Book) -> Iterator[str]:
    found = book.findings
    for question in sorted(found.questions, key=lambda q: q.rank)[:_MOST_QUESTIONS]:
        why = reason(question, book.units, found.currency, found.price_year)
        yield f"{question.ask.rstrip('.')} ({why})"
