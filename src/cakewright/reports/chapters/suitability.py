"""Which kinds of machine suit this sludge, and why not."""

from __future__ import annotations

from cakewright.jobs.findings import Answer, FrameFinding, OptionFinding, Verdict
from cakewright.reports.book import Book
from cakewright.reports.content import Block, Cell, Column, Heading, Paragraph, Section, Table
from cakewright.reports.figures.glyphs import answer_glyph

__all__ = ["suitability"]


_SHOWN_FIGURES = ("run_hours_per_day", "utilisation", "power", "footprint", "budget_price")


def suitability(book: Book) -> Section:
    """The matrix; the chosen kind's rules and frames in full, of the others what speaks against."""
    blocks: list[Block] = [_matrix(book.findings.options)]
    for option in book.findings.options:
        chosen = option.machine == book.findings.decision.machine
        blocks.append(Heading(f"{option.label}: {option.answer.value}"))
        if option.comment:
            blocks.append(Paragraph(option.comment))
        blocks += _rules(book, option, everything=chosen)
        if option.frames:
            blocks += _frames(book, option, everything=chosen)
    return Section("suitability", "Suitability", tuple(blocks), new_page=True)


def _rules(book: Book, option: OptionFinding, *, everything: bool) -> list[Block]:
    told = tuple(r for r in option.reasons if everything or r.answer is not Answer.SUITS)
    blocks: list[Block] = [_reasons(book, option, told)] if told else []
    rest = len(option.reasons) - len(told)
    if rest:
        noun = "rule is" if rest == 1 else "rules are"
        more = "more " if told else ""
        blocks.append(
            Paragraph(f"{rest} {more}{noun} met; their figures are in the workbook.", "note")
        )
    return blocks


def _answer_cell(reason: Verdict | None) -> Cell:
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


def _reasons(book: Book, option: OptionFinding, reasons: tuple[Verdict, ...]) -> Table:
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
        for reason in reasons
    )
    return Table(columns, rows, kind="dense")


def _frames(book: Book, option: OptionFinding, *, everything: bool) -> list[Block]:
    """Frames that do, and in words those that do not; of another kind only its best."""
    fits = [f for f in option.frames if f.feasible or f.chosen]
    misses = [f for f in option.frames if not (f.feasible or f.chosen)]
    told = fits if everything else [f for f in fits if f.chosen] or fits[:1]
    blocks: list[Block] = [_frame_table(book, option, told)] if told else []
    if everything and misses:
        words = "; ".join(f"{f.frame}: {f.why or f.binding}" for f in misses)
        blocks.append(Paragraph(f"Do not fit. {words}.", "note"))
    elif len(option.frames) > len(told):
        blocks.append(
            Paragraph(
                f"{len(fits)} of {len(option.frames)} frames of this kind would do; all are in the "
                "workbook.",
                "note",
            )
        )
    return blocks


def _frame_table(book: Book, option: OptionFinding, frames: list[FrameFinding]) -> Table:
    keys = list(dict.fromkeys(n for f in frames for n in f.figures))
    named = {k: next(f.figures[k].name for f in frames if k in f.figures) for k in keys}
    keys = [k for k in keys if named[k] in _SHOWN_FIGURES] or keys[:4]
    columns = (
        Column("frame", share=1.7),
        Column("machines", align="right", share=0.8),
        Column("shafts", align="right", share=0.6),
        Column("standby", align="right", share=0.7),
        *(Column(book.label(named[k]), book.unit(named[k]), "right", 0.9) for k in keys),
        Column("why", share=3.4),
    )
    digits = {k: book.decimals(f.figures[k] for f in frames if k in f.figures) for k in keys}
    rows = tuple(
        (
            Cell(frame.frame, strong=frame.chosen),
            Cell(str(frame.machines)),
            Cell(str(frame.shafts)),
            Cell(str(frame.standby)),
            *(_plain(book.value_cell(frame.figures.get(k), decimals=digits[k])) for k in keys),
            Cell(frame.why or frame.binding, strong=frame.chosen),
        )
        for frame in frames
    )
    return Table(columns, rows, "Frames of the catalogue that carry this duty.", kind="dense")


def _plain(cell: Cell) -> Cell:
    """The cell without a link: the lines of the annex belong to the chosen frame only."""
    return Cell(cell.text)
