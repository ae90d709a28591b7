"""Drawings of the designed line on sheets, and as files."""

from __future__ import annotations

from cakewright.line.design import LineDesign
from cakewright.line.levels import bases, levels
from cakewright.reports import line_tables
from cakewright.reports.book import Book
from cakewright.reports.drawings.flow import flow_diagram
from cakewright.reports.drawings.from_line import line_graph
from cakewright.reports.drawings.instrument_graph import instrument_graphs
from cakewright.reports.drawings.legend import with_legend
from cakewright.reports.drawings.level_profile import level_profile
from cakewright.reports.drawings.plot_plan import plan_scale, plot_plan
from cakewright.reports.drawings.section import room_sections
from cakewright.reports.drawings.shapes import Drawing
from cakewright.reports.drawings.sheet import SheetTable, on_sheet
from cakewright.reports.drawings.svg import drawing_svg
from cakewright.reports.title_block import document_rows

__all__ = [
    "diagram_sheet",
    "drawing_files",
    "has_plan",
    "instrument_sheets",
    "line_diagram",
    "plan_sheet",
    "sheets",
]

_MOST_PLACED = 150  # footprints on a plan: more than that is a duty nobody builds
_NOTES = (
    "Letters by ISA-5.1, loops and tags as in the lists. Valves of packages, air and oil are their "
    "suppliers'.",
    "PN: class above the opening of relief valves, taken as 1.1 times the pump's duty (common "
    "practice, no source). Material, class and protection are for licensed practice.",
)
_STATUS = ("status", "for study, not for construction")


def line_diagram(book: Book, design: LineDesign) -> Drawing:
    """Flow diagram of the line."""
    return flow_diagram(line_graph(design.graph, book.findings.decision.machine, "Flow diagram"))


def instrument_sheets(book: Book, design: LineDesign) -> tuple[Drawing, ...]:
    """Piping and instrument diagram: the feed on one sheet, the machine and the rest on another."""
    name = "Piping and instrument diagram"
    graphs = instrument_graphs(design, book.findings.decision.machine, name)
    sheets = []
    for at, graph in enumerate(graphs, start=1):
        fields = [*_fields(book, name), ("of", f"{at} of {len(graphs)}")]
        sheets.append(on_sheet(with_legend(flow_diagram(graph), graph, _NOTES), fields))
    return tuple(sheets)


def diagram_sheet(book: Book, design: LineDesign) -> Drawing:
    """Flow diagram with its stream table on a sheet."""
    table = line_tables.list_table(book, line_tables.streams(design))
    columns = [at for at, column in enumerate(table.columns) if column.head != "note"]
    heads = tuple(
        f"{table.columns[at].head}, {table.columns[at].unit}".rstrip(", ") for at in columns
    )
    rows = tuple(tuple(row[at].text for at in columns) for row in table.rows)
    fields = _fields(book, "Flow diagram")
    graph = line_graph(design.graph, book.findings.decision.machine, "Flow diagram")
    return on_sheet(with_legend(flow_diagram(graph), graph), fields, SheetTable(heads, rows))


def has_plan(design: LineDesign) -> bool:
    """Whether the line is one that a plot plan can show."""
    return 0 < len(design.footprints) <= _MOST_PLACED


def plan_sheet(book: Book, design: LineDesign) -> Drawing:
    """Plot plan on a sheet, at its scale."""
    fields = [*_fields(book, "Plot plan"), ("scale", f"1:{plan_scale(design.layout)}")]
    table = line_tables.list_table(book, line_tables.floor_plan(design))
    heads = tuple(f"{c.head}, {c.unit}".rstrip(", ") for c in table.columns)
    rows = tuple(tuple(cell.text for cell in row) for row in table.rows)
    drawing = plot_plan(design.layout, "Plot plan")
    return on_sheet(drawing, fields, SheetTable(heads, rows), keep_scale=True)


def sheets(book: Book, design: LineDesign) -> dict[str, tuple[str, Drawing, float]]:
    """Every drawing sheet by file name without its ending: title, sheet, and scale in its model."""
    found = {"flow-diagram": ("Flow diagram of the line", diagram_sheet(book, design), 1.0)}
    for at, each in enumerate(instrument_sheets(book, design), start=1):
        title = f"Piping and instrument diagram, sheet {at}"
        found[f"instrument-diagram-{at}"] = (title, each, 1.0)
    if has_plan(design):
        scale = float(plan_scale(design.layout))
        found["plot-plan"] = ("Plot plan", plan_sheet(book, design), scale)
        if design.layout.inside:
            found["sections"] = ("Sections", sections_sheet(book, design), scale)
        found["levels"] = ("Levels", levels_sheet(book, design), 1.0)
    return found


def sections_sheet(book: Book, design: LineDesign) -> Drawing:
    """Sections through the room on a sheet, at the scale of the plan."""
    fields = [*_fields(book, "Sections"), ("scale", f"1:{plan_scale(design.layout)}")]
    height = design.ventilation.room_volume / design.layout.area
    drawing = room_sections(design.layout, height, bases(levels(design)), "Sections")
    return on_sheet(drawing, fields, keep_scale=True)


def levels_sheet(book: Book, design: LineDesign) -> Drawing:
    """Levels of gravity parts and falling cake on a sheet."""
    return on_sheet(level_profile(levels(design), "Levels"), _fields(book, "Levels"))


def drawing_files(book: Book) -> dict[str, str]:
    """The line's drawings by file name, as SVG and DXF; none when no line was designed."""
    from cakewright.reports.drawings.dxf import drawing_dxf

    design = book.findings.line
    if design is None:
        return {}
    files = {}
    for name, (title, sheet, scale) in sheets(book, design).items():
        files[f"{name}.svg"] = drawing_svg(sheet, title)
        files[f"{name}.dxf"] = drawing_dxf(sheet, scale=scale)
    return files


def _fields(book: Book, drawing: str) -> list[tuple[str, str]]:
    found = book.findings
    site = (
        f"{found.site} (invented)"
        if found.invented and "invented" not in found.site
        else found.site
    )
    given = document_rows(found)
    return [
        ("drawing", drawing),
        ("site", site),
        ("study", found.title),
        *given,
        ("made by", f"Cakewright {found.program_version}"),
        _STATUS,
    ]
