"""Which kinds of machine suit this sludge, and why not."""

from __future__ import annotations

from cakewright.jobs.findings import OptionFinding, Reason
from cakewright.reports.book import Book
from cakewright.reports.content import Block, Cell, Column, Heading, Paragraph, Section, Table
from cakewright.reports.figures.glyphs import answer_glyph

__all__ = ["suitability"]


def suitability(book: Book) -> Section:
    """The matrix, then each kind's reasons and frames."""
    options = book.findings.options
    blocks: list[Block] = [_matrix(options)]
    for option in options:
        blocks.append(Heading(f"{option.label}: {option.answer.value}"))
        if option.comment:
            blocks.append(Paragraph(option.comment))
        if option.reasons:
            blocks.append(_reasons(book, option))
        if option.frames:
            blocks.append(_frames(book, option))
    return Section("suitability", "Suitability", tuple(blocks), new_page=True)


def _answer_cell(reason: Reason | None) -> Cell:
    if reason is None:
        return Cell("")
    return Cell(picture=answer_glyph(reason.answer), alt=reason.answer.value)


def _matrix(options: tuple[OptionFinding, ...]) -> Table:
    rules = list(dict.fromkeys(r.rule for o in options for r in o.reasons))
    columns = (
        Column("rule", share=1.4),
        *(Column(o.label, align="middle", share=1.2) for o in options),
    )
    overall = (
        Cell("overall", strong=True),
        *(
            Cell(o.answer.value, picture=answer_glyph(o.answer), alt=o.answer.value)
            for o in options
        ),
    )
    rows = [
        (
            Cell(rule),
            *(_answer_cell(next((r for r in o.reasons if r.rule == rule), None)) for o in options),
        )
        for rule in rules
    ]
    caption = (
        "Full disc: suits. Half disc: with care. Crossed ring: does not suit. "
        "Empty: the rule does not apply."
    )
    return Table(columns, (*rows, overall), caption, kind="matrix")


def _reasons(book: Book, option: OptionFinding) -> Table:
    columns = (
        Column("", align="middle", share=0.35),
        Column("rule", share=1.0),
        Column("reason", share=3.6),
        Column("figure", align="right", share=1.0),
        Column("limit", align="right", share=1.0),
        Column("basis", share=1.9),
    )
    rows = tuple(
        (
            Cell(picture=answer_glyph(reason.answer), alt=reason.answer.value),
            Cell(reason.rule),
            Cell(reason.text),
            Cell(
                book.quantity(reason.name, reason.value),
                book.line_link(reason.name, option.machine, "feed"),
            ),
            Cell(book.quantity(reason.name, reason.limit)),
            book.basis_cell(reason.basis, reason.mark, reason.source),
        )
        for reason in option.reasons
    )
    return Table(columns, rows, kind="dense")


def _frames(book: Book, option: OptionFinding) -> Table:
    names = list(dict.fromkeys(n for f in option.frames for n in f.figures))
    columns = (
        Column("frame", share=1.9),
        Column("fits", share=0.6),
        Column("machines", align="right", share=0.8),
        Column("shafts", align="right", share=0.6),
        Column("standby", align="right", share=0.7),
        *(Column(*_head(book, option, name), align="right", share=0.8) for name in names),
        Column("binding", share=1.0),
        Column("why", share=3.0),
    )
    rows = []
    for frame in option.frames:
        state = "chosen" if frame.chosen else "yes" if frame.feasible else "no"
        rows.append(
            (
                Cell(frame.frame, strong=frame.chosen),
                Cell(state, strong=frame.chosen),
                Cell(str(frame.machines)),
                Cell(str(frame.shafts)),
                Cell(str(frame.standby)),
                *(book.value_cell(frame.figures.get(name), option.machine) for name in names),
                Cell(frame.binding),
                Cell(frame.why),
            )
        )
    return Table(
        columns, tuple(rows), "Every frame of the catalogue against this duty.", kind="dense"
    )


def _head(book: Book, option: OptionFinding, key: str) -> tuple[str, str]:
    name = next(f.figures[key].name for f in option.frames if key in f.figures)
    return book.label(name), book.unit(name)
