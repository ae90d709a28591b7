"""Greenhouse gas of every kind by parts, with the factors it rests on."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from cakewright.jobs.carbon import CarbonFindings, CarbonOption
from cakewright.quantities import Figure
from cakewright.reports.book import NOTHING, Book
from cakewright.reports.chapters.basis import givens_table
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
from cakewright.reports.figures.cost_stack import CostBar, figure_cost_stack
from cakewright.reports.numbers import shown_array

__all__ = ["carbon"]


def carbon(book: Book) -> Section | None:
    """Emission of each kind, the chosen one first."""
    if book.findings.decide is None:
        return None
    found = book.findings.decide.carbon
    blocks: list[Block] = [
        Paragraph(
            f"Route: {found.route}. Emission of running the line and of the outlet, in CO2 "
            f"equivalent; warming potentials over 100 years of {found.potentials.name}."
        ),
        _stack(book, found),
        _table(book, found),
        Heading("Factors used"),
        Paragraph("Each is a key of the study's [carbon] table and can be replaced there.", "note"),
        _factors(book, found),
        Bullets("What is counted and what is not", found.notes),
    ]
    return Section("carbon", "Carbon", tuple(blocks))


def _factors(book: Book, found: CarbonFindings) -> Table:
    """Factors by their key in the study, with basis and source."""
    table = givens_table(book, found.factors, where=False)
    words = [given.where.partition(".")[2].replace("_", " ") for given in found.factors]
    rows = tuple((Cell(key), *row[1:]) for key, row in zip(words, table.rows, strict=True))
    return replace(table, rows=rows)


def _names(found: CarbonFindings) -> list[str]:
    names = dict.fromkeys(name for option in found.options for name in option.parts)
    return [n for n in names if any(o.parts[n].point for o in found.options)]


def _shown(book: Book, figure: Figure) -> float:
    return float(shown_array(figure.name, np.array([figure.point]), book.units)[0])


def _stack(book: Book, found: CarbonFindings) -> Picture:
    names = _names(found)
    bars = [
        CostBar(
            option.label,
            tuple(_shown(book, option.parts[name]) for name in names),
            f"{book.value_cell(option.total).text} ({book.band_cell(option.total).text})",
            option is found.options[0],
        )
        for option in found.options
    ]
    unit = book.unit("carbon_specific")
    alt = f"CO2 equivalent in {unit} dry solids: " + "; ".join(
        f"{bar.label} {bar.total_words}" for bar in bars
    )
    title = "CO2 equivalent per dry solids, point case"
    return Picture(figure_cost_stack(bars, names, title, unit, alt, key="carbon"), alt, "", True)


def _table(book: Book, found: CarbonFindings) -> Table:
    columns = (
        Column("", share=1.9),
        *(Column(o.label, align="right", share=1.4) for o in found.options),
    )
    rows = [
        (Cell(name), *(_cell(book, o.parts[name]) for o in found.options)) for name in _names(found)
    ]
    rows.append((Cell("in all", strong=True), *(_cell(book, o.total) for o in found.options)))
    rows.append((Cell("biogenic CO2, apart"), *(_biogenic(book, o) for o in found.options)))
    caption = f"{book.unit('carbon_specific')} dry solids; point case and, in brackets, P10–P90."
    return Table(columns, tuple(rows), caption, kind="dense")


def _cell(book: Book, figure: Figure) -> Cell:
    band = book.band_cell(figure).text
    value = book.value_cell(figure).text
    return Cell(value if band == NOTHING else f"{value} ({band})")


def _biogenic(book: Book, option: CarbonOption) -> Cell:
    return Cell(book.value_cell(option.biogenic).text)
