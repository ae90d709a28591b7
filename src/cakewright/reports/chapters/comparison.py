"""All kinds of machine on this sludge, side by side with their bands."""

from __future__ import annotations

from cakewright.jobs.findings import Answer, OptionFinding
from cakewright.quantities import Figure
from cakewright.reports.book import NOTHING, Book
from cakewright.reports.chapters.basis import legend_table
from cakewright.reports.choice_words import conditioning_words
from cakewright.reports.content import (
    Block,
    Bullets,
    Cell,
    Column,
    Paragraph,
    Picture,
    Section,
    Table,
)
from cakewright.reports.figures.bands import BandRow, band_chart
from cakewright.reports.numbers import number_text

__all__ = ["comparison"]

_PATH = "pressing path"  # rule of suitability that says a kind has no cake at this load
_PREDICTED = ("cake_solids", "capture")


def comparison(book: Book) -> Section:
    """One table of all figures, and a chart for each."""
    options = book.findings.options
    names = list(dict.fromkeys(n for o in options for n in o.figures))
    blocks: list[Block] = [_table(book, options, names)]
    blocks += [p for name in names if (p := _chart(book, options, name)) is not None]
    blocks += [Paragraph(f"{o.label}: {_cause(o)}", "caution") for o in options if _cause(o)]
    blocks.insert(
        1, Bullets("Conditioning compared", conditioning_words(book.findings, book.units))
    )
    marks = {f.mark for o in options for f in o.figures.values() if f.mark}
    if marks:
        words = " and ".join(f"“{mark.value}”" for mark in sorted(marks))
        blocks.append(
            Paragraph(
                f"Some of these figures are marked {words}: they hold the place of a trial and "
                "are no proof.",
                "note",
            )
        )
    blocks.append(legend_table())
    return Section("comparison", "Side by side", tuple(blocks))


def _table(book: Book, options: tuple[OptionFinding, ...], names: list[str]) -> Table:
    columns = (
        Column("", share=1.6),
        Column("unit", share=0.8),
        *(Column(o.label, align="right", share=1.5) for o in options),
    )
    rows = [
        (Cell("suits"), Cell(), *(Cell(o.answer.value, strong=_chosen(book, o)) for o in options))
    ]
    for key in names:
        figures = [o.figures.get(key) for o in options]
        there = [f for f in figures if f is not None]
        digits = book.decimals(there)
        cells = [
            _cell(book, option, key, figure, digits)
            for option, figure in zip(options, figures, strict=True)
        ]
        rows.append((Cell(book.label(there[0].name)), Cell(book.unit(there[0].name)), *cells))
    return Table(columns, tuple(rows), "Point case and, in brackets, P10–P90.", kind="dense")


def _chosen(book: Book, option: OptionFinding) -> bool:
    return option.machine == book.findings.decision.machine


def _cause(option: OptionFinding) -> str:
    """Why the press physics gives this kind no cake at this load; empty where it gives one."""
    return next((reason.text for reason in option.reasons if reason.rule == _PATH), "")


def _envelope_only(option: OptionFinding, key: str) -> bool:
    """Whether a figure the physics would predict is the published envelope for want of a cake."""
    return key in _PREDICTED and bool(_cause(option))


def _cell(book: Book, option: OptionFinding, key: str, figure: Figure | None, digits: int) -> Cell:
    if figure is None or not figure.exists:
        return Cell(NOTHING)
    value = book.value_cell(figure, option.machine, decimals=digits)
    band = book.band_cell(figure, digits).text
    text = value.text if band == NOTHING else f"{value.text} ({band})"
    if _envelope_only(option, key):
        text = f"no cake: beyond a limit. Published envelope of the kind, not this case: {band}"
    mark = book.basis_cell(figure.basis, figure.mark).badge
    return Cell(text, value.link, mark, strong=_chosen(book, option))


def _chart(book: Book, options: tuple[OptionFinding, ...], key: str) -> Picture | None:
    """Chart of one figure; none where no band is known, since the table says as much."""
    rows = []
    digits = book.decimals(f for o in options if (f := o.figures.get(key)) is not None)
    for option in options:
        figure = option.figures.get(key)
        if figure is None or not figure.exists or _envelope_only(option, key):
            continue
        band, point = book.shown_band(figure)
        rows.append(
            BandRow(
                option.label,
                band,
                point,
                _chosen(book, option),
                option.answer is Answer.DOES_NOT_SUIT,
                number_text(point, digits),
            )
        )
    if len(rows) < 2 or all(row.band.p90 <= row.band.p10 for row in rows):
        return None
    name = next(o.figures[key].name for o in options if key in o.figures)
    unit = book.unit(name)
    spoken = "; ".join(
        f"{r.label} {r.band.p10:.4g} to {r.band.p90:.4g}, point {r.value_text}" for r in rows
    )
    limits = (0.0, 100.0) if unit == "%" else None
    alt = f"{book.label(name)} in {unit}: {spoken}"
    return Picture(
        band_chart(rows, book.label(name), unit, alt, limits=limits), alt, "", wide=False
    )
