"""The balance of one run hour: flow diagram, streams, closure, and how it is checked on site."""

from __future__ import annotations

import math

from cakewright.jobs.findings import StreamFinding
from cakewright.reports.book import Book
from cakewright.reports.content import (
    Block,
    Cell,
    Column,
    Heading,
    Paragraph,
    Picture,
    Section,
    Table,
)
from cakewright.reports.drawings.flow import flow_diagram
from cakewright.reports.drawings.from_balance import balance_graph
from cakewright.reports.drawings.svg import drawing_svg
from cakewright.reports.numbers import power_text

__all__ = ["balance"]


def balance(book: Book) -> Section:
    """Diagram with numbered streams, and the tables that go with it."""
    found = book.findings.balance
    blocks: list[Block] = [*_diagram(book), _streams(book)]
    blocks += [Paragraph(note) for note in (found.conditioner_note, found.recycle_note) if note]
    blocks += [Heading("Does it close?"), _closure(book), Heading("How it is checked on site")]
    blocks.append(_checks(found.streams))
    return Section("balance", "Balance", tuple(blocks), new_page=True)


def _diagram(book: Book) -> list[Block]:
    """The diagram, but not for a kind whose line is not known: it would be another kind's."""
    if book.findings.line_missing:
        return [Paragraph(book.findings.line_missing, "caution")]
    found, decision = book.findings.balance, book.findings.decision
    graph = balance_graph(found, decision.machine, decision.label)
    spoken = "; ".join(f"{s.label} from {s.source} to {s.target}" for s in found.streams)
    alt = f"Flow diagram of the line: {spoken}".replace("_", " ")
    caption = "Flow diagram; the numbers on the lines are those of the streams below."
    return [Picture(drawing_svg(flow_diagram(graph), alt), alt, caption)]


def _streams(book: Book) -> Table:
    streams = book.findings.balance.streams
    keys = list(dict.fromkeys(n for s in streams for n in s.figures))
    columns = [Column("no.", align="middle", share=0.4), Column("stream", share=2.2)]
    digits = {}
    for key in keys:
        figures = [s.figures[key] for s in streams if key in s.figures]
        name = figures[0].name
        digits[key] = book.decimals(figures)
        columns.append(Column(book.label(name), book.unit(name), "right", 1.2))
    rows = [
        (
            Cell(str(number)),
            Cell(stream.label),
            *(
                book.value_cell(
                    stream.figures.get(key), f"balance.{stream.key}", decimals=digits[key]
                )
                for key in keys
            ),
        )
        for number, stream in enumerate(streams, 1)
    ]
    return Table(tuple(columns), tuple(rows), "Streams, point case.", kind="dense")


def _closure(book: Book) -> Table:
    columns = (Column("balance", share=1.0), Column("in minus out, relative", align="right"))
    rows = tuple(
        (Cell(name), Cell(closure_text(value)))
        for name, value in book.findings.balance.closure.items()
    )
    return Table(columns, rows, kind="legend")


def closure_text(value: float) -> str:
    """How far a balance is from closing, as a power of ten."""
    size = abs(value)
    if size < 1e-15:
        return "closes to the last digit"
    return f"< {power_text(10.0 ** math.ceil(math.log10(size)), 1)}"


def _checks(streams: tuple[StreamFinding, ...]) -> Table:
    columns = (
        Column("no.", align="middle", share=0.3),
        Column("stream", share=1.4),
        Column("check", share=3.0),
    )
    rows = tuple(
        (Cell(str(number)), Cell(stream.label), Cell(stream.check_on_site))
        for number, stream in enumerate(streams, 1)
        if stream.check_on_site
    )
    return Table(columns, rows)
