"""The line around the machine: drawings, what the design found, lists, and how it works."""

from __future__ import annotations

from cakewright.line.design import LineDesign
from cakewright.line.findings import Severity
from cakewright.reports import line_tables
from cakewright.reports.book import Book
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
from cakewright.reports.drawings.plot_plan import plot_plan
from cakewright.reports.drawings.svg import drawing_svg
from cakewright.reports.line_drawings import diagram_sheet, has_plan, line_diagram, plan_sheet

__all__ = ["coefficients", "control", "line", "line_lists"]

_LISTS = (
    line_tables.motors,
    line_tables.pipes,
    line_tables.instruments,
    line_tables.utilities,
)


def line(book: Book) -> Section | None:
    """The whole line, or that none is known for this kind of machine."""
    design = book.findings.line
    if design is None:
        return _missing(book, "line", "Line")
    blocks: list[Block] = [_verdict(design), _diagram(book, design)]
    if design.findings:
        blocks += [Heading("What the design found"), _findings(design)]
    figures = [(key, figure) for key, figure in design.figures.items() if figure.exists]
    if figures:
        rows = tuple(
            book.figure_row(figure, "line", label=key.replace("_", " ")) for key, figure in figures
        )
        blocks += [Heading("Figures of the line"), Table(book.figure_columns("figure"), rows)]
    equipment = line_tables.equipment(design)
    blocks += [Heading(equipment.title), line_tables.list_table(book, equipment)]
    blocks.append(_power(book, design))
    blocks += _plan(book, design)
    return Section("line", "Line", tuple(blocks))


def line_lists(book: Book) -> Section | None:
    """Motors, pipes, instruments and utilities of the line."""
    design = book.findings.line
    if design is None:
        return None
    blocks: list[Block] = []
    for make in _LISTS:
        table = make(design)
        if table.rows:
            blocks += [Heading(table.title), line_tables.list_table(book, table)]
    return Section("lists", "Lists of the line", tuple(blocks)) if blocks else None


def _missing(book: Book, key: str, title: str) -> Section | None:
    text = book.findings.line_missing
    return Section(key, title, (Paragraph(text, "caution"),)) if text else None


def _verdict(design: LineDesign) -> Paragraph:
    if not design.feasible and design.binding is not None:
        return Paragraph(f"The line cannot work as it stands. {design.binding}.", "caution")
    open_points = [f for f in design.findings if f.severity is Severity.CHANGE]
    if open_points:
        words = "; ".join(f"{f.item}: {f.got}" for f in open_points)
        return Paragraph(
            f"The line cannot be built as drawn before this is settled. {words}.", "caution"
        )
    return Paragraph("The line can be built as drawn for this duty.")


def _diagram(book: Book, design: LineDesign) -> Picture:
    spoken = "; ".join(f"{node.tag} {node.label}" for node in design.graph.nodes)
    alt = f"Flow diagram of the line from left to right: {spoken}"
    caption = "Flow diagram of the line; numbers are those of the streams of the balance."
    drawing = line_diagram(book, design)
    sheet = diagram_sheet(book, design)
    return Picture(drawing_svg(drawing, alt), alt, caption, True, drawing_svg(sheet, alt))


def _findings(design: LineDesign) -> Table:
    columns = (
        Column("weight", share=0.8),
        Column("item", share=0.7),
        Column("got", share=1.6),
        Column("allowed", share=1.4),
        Column("why", share=2.0),
        Column("what to change", share=2.2),
        Column("source", share=0.8),
    )
    rows = tuple(
        (
            Cell(f.severity.value, strong=f.severity.value == "infeasible"),
            Cell(f.item),
            Cell(f.got),
            Cell(f.allowed),
            Cell(f.why),
            Cell(f.change),
            Cell(f.source, f"source-{f.source.split()[0]}" if f.source else ""),
        )
        for f in design.findings
    )
    return Table(columns, rows, kind="dense")


def _power(book: Book, design: LineDesign) -> Paragraph:
    power = design.power
    words = [
        f"installed {book.quantity('power', power.installed)}",
        f"drawn together {book.quantity('power', power.simultaneous)}",
        f"largest motor {book.quantity('power', power.largest_motor)}",
        f"while it starts {book.quantity('power', power.starting)}",
    ]
    return Paragraph(f"All drives: {', '.join(words)}.", "note")


def _plan(book: Book, design: LineDesign) -> list[Block]:
    if not design.footprints:
        return []
    if not has_plan(design):
        words = f"{len(design.footprints)} items stand on the floor: too many for one plan."
        return [Heading("Plot plan"), Paragraph(words, "note")]
    alt = "Plot plan: " + "; ".join(
        f"{f.tag} {f.label} {f.length:.1f} by {f.width:.1f} m" for f in design.footprints
    )
    svg = drawing_svg(plot_plan(design.layout, "Plot plan"), alt)
    sheet = drawing_svg(plan_sheet(book, design), alt)
    room = design.layout
    caption = (
        f"Room {room.length:.1f} by {room.width:.1f} m inside the walls, {room.area:.0f} m², in "
        "process order; the ventilation is worked out for it. A proposal for whoever draws the "
        "building."
    )
    table = line_tables.list_table(book, line_tables.floor_plan(design))
    return [Heading("Plot plan"), Picture(svg, alt, caption, True, sheet), table]


def control(book: Book) -> Section | None:
    """How the line is meant to work, as words for whoever writes the control specification."""
    design = book.findings.line
    if design is None:
        return _missing(book, "control", "How it works")
    if not design.narrative:
        return None
    blocks: list[Block] = [Paragraph(text, "caution") for text in design.cautions]
    blocks += [Bullets(part.title, part.steps) for part in design.narrative]
    for make in (line_tables.interlocks, line_tables.faults, line_tables.wear):
        table = make(design)
        if table.rows:
            blocks += [Heading(table.title), line_tables.list_table(book, table)]
    return Section("control", "How it works", tuple(blocks), new_page=True)


def coefficients(book: Book) -> Section | None:
    """Design coefficients of the line with their basis."""
    design = book.findings.line
    if design is None or not design.assumptions:
        return None
    intro = Paragraph(
        "Coefficients the line was designed with. Those of the study stand in; all can be set.",
        "note",
    )
    table = givens_table(book, design.assumptions, where=False)
    return Section("coefficients", "Design coefficients", (intro, table))
