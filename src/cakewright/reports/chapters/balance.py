"""The balance of the line: its cases, its streams, whether they close, how they are checked."""

from __future__ import annotations

import math

import numpy as np

from cakewright.line.balance import Balance
from cakewright.line.design import LineDesign
from cakewright.reports import line_tables
from cakewright.reports.book import Book
from cakewright.reports.content import Block, Cell, Column, Heading, Paragraph, Section, Table
from cakewright.reports.line_tables import ListTable, Value
from cakewright.reports.numbers import power_text

__all__ = ["balance", "cases_table"]


def balance(book: Book) -> Section:
    """Cases, streams of the running line, closure and checks on site."""
    found, design = book.findings.balance, book.findings.line
    blocks: list[Block] = []
    if design is not None:
        table = line_tables.list_table(book, cases_table(design))
        blocks += [Heading("Cases"), table, Heading("Streams while the line runs")]
    blocks.append(line_tables.list_table(book, line_tables.stream_table(found)))
    words = (
        "Point case, mean week. The numbers are those of the flow diagram of the line. Pressures "
        "are above the air's, 0 where a stream runs free."
    )
    blocks += [Paragraph(words, "note"), Paragraph(_conditioner(found)), Paragraph(_return(found))]
    blocks += [Heading("Does it close?"), _closure(found), Heading("How it is checked on site")]
    blocks.append(_checks(found))
    return Section("balance", "Balance", tuple(blocks))


def cases_table(design: LineDesign) -> ListTable:
    """What each case is: hours, loads, why."""
    heads = (
        ("case", 1.0),
        ("hours on an operating day", 0.9),
        ("operating days a week", 0.8),
        ("dry solids while it flows", 0.9),
        ("sludge while it flows", 0.9),
        ("why", 3.4),
    )
    rows = tuple(
        (
            case.key.value,
            Value("run_hours_per_day", float(case.hours_per_day[0])),
            f"{float(case.days_per_week[0]):g}",
            Value("dry_solids_flow", float(case.dry_solids_flow[0])),
            Value("volume_flow", float(case.volume_flow[0])),
            case.why,
        )
        for case in design.cases
    )
    return ListTable("Cases", heads, rows)


def _conditioner(found: Balance) -> str:
    added = sum(float(s.conditioner[0]) for s in found.streams if s.name.endswith(" as supplied"))
    share = 100 * float(found.conditioner_in_cake[0]) / added if added else 0.0
    return (
        "Capture counts the sludge's own suspended solids. Conditioner solids are a part of their "
        f"own in every stream; {share:.0f} % of them stay in the cake (judgement; published "
        "designs take 75 to 100 %)."
    )


def _return(found: Balance) -> str:
    again = found.number("sludge made of the return")
    lost = found.stream("liquor returned").suspended[0]
    fed = found.stream("flocculated sludge").suspended[0]
    text = (
        f"The filtrate carries {100 * lost / fed:.1f} % of the suspended solids back to the works."
    )
    return f"{text} What of it comes round as sludge is stream {again}." if again else text


def _closure(found: Balance) -> Block:
    told = {closure_text(gap) for gap in found.closures.values()}
    if len(told) == 1:
        return Paragraph(f"Every balance {told.pop()}: {', '.join(found.closures)}.")
    columns = (Column("balance", share=1.0), Column("in minus out, relative", align="right"))
    rows = tuple((Cell(name), Cell(closure_text(gap))) for name, gap in found.closures.items())
    return Table(columns, rows, kind="legend")


def closure_text(value: float) -> str:
    """How far a balance is from closing, as a power of ten."""
    size = abs(value)
    if size < 1e-15:
        return "closes to the last digit"
    return f"< {power_text(10.0 ** math.ceil(math.log10(size)), 1)}"


def _checks(found: Balance) -> Table:
    columns = (
        Column("no.", align="middle", share=0.3),
        Column("stream", share=1.4),
        Column("check", share=3.0),
    )
    rows = tuple(
        (Cell(str(s.number)), Cell(s.name), Cell(s.check))
        for s in found.streams
        if s.check and np.any(s.mass_flow > 0)
    )
    return Table(columns, rows)
