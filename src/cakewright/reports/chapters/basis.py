"""What the answer stands on: the sludges, what was given and what was not."""

from __future__ import annotations

from collections.abc import Sequence

from cakewright.jobs.findings import SludgeFinding
from cakewright.quantities import Band, Given
from cakewright.reports.book import Book, anchor
from cakewright.reports.content import (
    Block,
    Cell,
    Column,
    Heading,
    Paragraph,
    Section,
    Table,
)
from cakewright.reports.marks import MARK_WORDS, legend
from cakewright.reports.numbers import band_text, decimals_for, number_text, shown

__all__ = ["basis", "givens_table", "legend_table"]


def basis(book: Book) -> Section:
    """Sludges, inputs, defaults and notes; what to ask is a chapter of its own."""
    found = book.findings
    given = [g for g in found.givens if not g.default]
    blocks: list[Block] = [legend_table(), Heading("What arrives")]
    blocks.append(_sludges(book, (*found.sludges, found.feed)))
    blocks += [Heading("What the study gives"), givens_table(book, given)]
    if found.defaults:
        blocks += [
            Heading("What nobody gave"),
            Paragraph("These defaults stand in until a figure of the site replaces them.", "note"),
            givens_table(book, found.defaults),
        ]
    if found.notes:
        blocks.append(Heading("Notes"))
        blocks += [Paragraph(note, "note") for note in found.notes]
    return Section("basis", "Basis", tuple(blocks), new_page=True)


def legend_table() -> Table:
    """What each basis and mark means."""
    columns = (Column("basis", share=1.0), Column("means", share=3.0))
    rows = [(Cell(b.kind, badge=b), Cell(b.meaning)) for b in legend()]
    rows += [(Cell(mark.value, strong=True), Cell(words)) for mark, words in MARK_WORDS.items()]
    return Table(columns, tuple(rows), "How well a figure is known.", kind="legend")


def _sludges(book: Book, sludges: Sequence[SludgeFinding]) -> Table:
    names = list(dict.fromkeys(n for s in sludges for n in s.figures))
    columns = (
        Column("", share=2.0),
        Column("unit", share=0.8),
        *(Column(s.name, align="right", share=1.6) for s in sludges),
    )
    words = (
        (Cell("class"), Cell(), *(Cell(s.class_label) for s in sludges)),
        (Cell("arrived at by"), Cell(), *(Cell(s.origin) for s in sludges)),
    )
    rows = []
    for name in names:
        figures = [s.figures.get(name) for s in sludges]
        digits = book.decimals(f for f in figures if f is not None)
        label = book.label(next(f.name for f in figures if f is not None))
        unit = book.unit(next(f.name for f in figures if f is not None))
        cells = []
        for sludge, figure in zip(sludges, figures, strict=True):
            cell = book.value_cell(figure, sludge.name, "feed", decimals=digits)
            band = book.band_cell(figure, digits).text
            text = f"{cell.text} ({band})" if figure is not None and band != "–" else cell.text
            mark = None
            if figure is not None and figure.exists:
                mark = book.basis_cell(figure.basis, figure.mark).badge
            cells.append(Cell(text, cell.link, mark))
        rows.append((Cell(label), Cell(unit), *cells))
    return Table(
        columns, words + tuple(rows), "The sludges and the blend that is fed.", kind="dense"
    )


def givens_table(book: Book, givens: Sequence[Given], *, where: bool = True) -> Table:
    """Values that went in; ``where`` adds their place in the study."""
    columns = (
        Column("input", share=1.8),
        Column("value", align="point", share=0.9),
        Column("unit", share=0.7),
        Column("P10–P90", align="middle", share=1.2),
        Column("basis", share=1.9),
        *((Column("in the study", share=2.0),) if where else ()),
        Column("note", share=2.2),
    )
    rows = tuple(_given_row(book, given, where=where) for given in givens)
    keys = tuple(anchor("given", given.where or given.name) for given in givens)
    return Table(columns, rows, anchors=keys if where else (), kind="dense")


def _given_row(book: Book, given: Given, *, where: bool) -> tuple[Cell, ...]:
    ends = [given.low, given.high] if given.has_spread else []
    digits = decimals_for(
        given.name, [given.value, *(e for e in ends if e is not None)], book.units
    )
    value = number_text(shown(given.name, given.value, book.units), digits)
    band = ""
    if given.low is not None and given.high is not None:
        spread = Band(given.low, given.value, given.high)
        band = band_text(given.name, spread, book.units, digits)
    as_written = given.as_written.replace(" ", "\u00a0")
    written = f"{given.where} = {as_written}" if as_written else given.where
    return (
        Cell(book.label(given.name)),
        Cell(value),
        Cell(book.unit(given.name)),
        Cell(band or "–"),
        book.basis_cell(given.basis, given.mark, given.source),
        *((Cell(written),) if where else ()),
        Cell(given.note),
    )
