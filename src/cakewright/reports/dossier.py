"""The dossier of a line: numbered documents under one register, all from the line's model."""

from __future__ import annotations

from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor

from cakewright.errors import InfeasibleError
from cakewright.jobs.findings import Findings
from cakewright.jobs.guarantee import GuaranteeFindings
from cakewright.jobs.protocol import rule_words
from cakewright.line.design import LineDesign, streams_of
from cakewright.line.programme import programme_stages, scheduled
from cakewright.quantities.constants import WEEK
from cakewright.reports import line_tables
from cakewright.reports.bid_form import bid_form
from cakewright.reports.book import Book
from cakewright.reports.chapters.annex import annex
from cakewright.reports.chapters.balance import balance, cases_table
from cakewright.reports.chapters.basis import basis
from cakewright.reports.chapters.cautions import cautions
from cakewright.reports.chapters.line import coefficients, control
from cakewright.reports.chapters.money import bill
from cakewright.reports.chapters.sourcelist import sourcelist
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
from cakewright.reports.drawings.svg import drawing_svg
from cakewright.reports.figures.programme import figure_programme
from cakewright.reports.guarantee_documents import protocol_sections, sheet_sections
from cakewright.reports.html import page_html
from cakewright.reports.line_drawings import drawing_files, sheets
from cakewright.reports.numbers import Units
from cakewright.reports.pdf import house_data, sections_data, set_pages
from cakewright.reports.title_block import document_rows

__all__ = ["dossier_documents", "register_rows"]

Made = tuple[Section, ...]


def dossier_documents(findings: Findings, units: Units = Units.SI) -> dict[str, str | bytes]:
    """Every document of the dossier by file name, the register first.

    Raises
    ------
    InfeasibleError
        If no line is known for the chosen kind, or nothing was decided.
    """
    design, book = findings.line, Book(findings, units)
    if design is None or findings.decide is None:
        told = findings.line_missing or "no machine was chosen for this study"
        raise InfeasibleError(f"no dossier can be written: {told}")
    made = {number: (title, make(book, design)) for number, title, make in _DOCUMENTS}
    head = {
        "title": findings.title,
        "site": findings.site,
        "invented": findings.invented,
        **house_data(findings.house),
    }
    texts = {
        _file(number, title): sections_data(
            {**head, "title": f"{title}: {findings.title}", "document": _rows(findings, number)},
            sections,
            units,
        )
        for number, (title, sections) in made.items()
    }
    with ThreadPoolExecutor() as setting:
        pages = {name: setting.submit(set_pages, data) for name, data in texts.items()}
        drawn = drawing_files(book)
        sheet = bid_form(book, design)
        pdfs = {name: page.result() for name, page in pages.items()}
    files: dict[str, str | bytes] = {**pdfs, _BID: sheet, **drawn}
    register = page_html(
        f"Register: {findings.title}",
        findings.site,
        (_register(findings, tuple(files)),),
        invented=findings.invented,
        document=document_rows(findings),
        house=findings.house,
    )
    return {"register.html": register, **files}


def register_rows(findings: Findings, files: tuple[str, ...]) -> tuple[tuple[str, str, str], ...]:
    """Number, title and file of each document, in the order of the numbers."""
    titles = {number: title for number, title, _ in _DOCUMENTS}
    rows = [(_number(findings, n), title, _file(n, title)) for n, title in titles.items()]
    rest = [name for name in files if name not in {row[2] for row in rows}]
    rows += [
        (_number(findings, at), name.partition(".")[0].replace("-", " "), name)
        for at, name in enumerate(rest, start=len(rows) + 1)
    ]
    return tuple(rows)


_BID = "bid-form.xlsx"


def _file(number: int, title: str) -> str:
    return f"{number:02d}-{title.lower().replace(' ', '-')}.pdf"


def _number(findings: Findings, number: int) -> str:
    return f"{findings.document.get('number', 'D')}-{number:02d}"


def _rows(findings: Findings, number: int) -> list[tuple[str, str]]:
    given = dict(document_rows(findings))
    return [*{**given, "number": _number(findings, number)}.items()]


def _register(findings: Findings, files: tuple[str, ...]) -> Section:
    columns = (
        Column("number", share=0.8),
        Column("document", share=2.4),
        Column("file", share=2.0),
    )
    rows = tuple(tuple(Cell(text) for text in row) for row in register_rows(findings, files))
    words = (
        "For tender and review. Everything here comes from one model of the line; what it does not "
        "hold (foundations, cable sections, pipe stresses, area classes) is for licensed practice."
    )
    return Section("register", "Register", (Paragraph(words, "note"), Table(columns, rows)))


def _present(*sections: Section | None) -> Made:
    return tuple(section for section in sections if section is not None)


def _design_basis(book: Book, design: LineDesign) -> Made:
    cases = line_tables.list_table(book, cases_table(design))
    return (Section("cases", "Cases the line is worked out for", (cases,)), basis(book))


def _streams(book: Book, design: LineDesign) -> Made:
    blocks: list[Block] = []
    for case in design.cases:
        table = line_tables.stream_table(streams_of(design, case.key))
        blocks += [
            Heading(f"Case: {case.key.value}"),
            Paragraph(case.why, "note"),
            line_tables.list_table(book, table),
        ]
    return (Section("streams", "Streams of each case", tuple(blocks)), balance(book))


def _lists(book: Book, design: LineDesign) -> Made:
    tables = (
        line_tables.equipment(design),
        line_tables.motors(design),
        line_tables.instruments(design),
        line_tables.inputs_outputs(design),
        line_tables.pipes(design),
        line_tables.valves(design),
        line_tables.level_list(design),
        line_tables.cables(design),
        line_tables.utilities(design),
    )
    return tuple(_list_section(book, table) for table in tables if table.rows)


def _programme(_: Book, __: LineDesign) -> Made:
    stages = programme_stages()
    steps = scheduled(stages)
    low, high = (max(s.end for s in scheduled(stages, way)) / WEEK for way in ("low", "high"))
    typical = max(step.end for step in steps) / WEEK
    deciding = [step.stage.label for step in steps if step.decides]
    words = (
        f"From order to handover about {typical:.0f} weeks, {low:.0f} if all goes well and "
        f"{high:.0f} if nothing does. On the longest way: {', '.join(deciding)}. Durations are "
        "from memory and judged; suppliers, permits and the site decide."
    )
    columns = (
        Column("step", share=2.4),
        Column("weeks", align="right", share=0.6),
        Column("from, to", align="right", share=0.8),
        Column("after week", align="right", share=0.7),
        Column("done by", share=1.6),
    )
    rows = tuple(
        (
            Cell(step.stage.label, strong=step.decides),
            Cell(f"{step.stage.typical / WEEK:.0f}"),
            Cell(f"{step.stage.low / WEEK:.0f} to {step.stage.high / WEEK:.0f}"),
            Cell(f"{step.start / WEEK:.0f}"),
            Cell(step.stage.who),
        )
        for step in steps
    )
    picture = Picture(
        figure_programme(steps, words), words, "In colour: what decides the end.", True
    )
    return (Section("programme", "Programme", (Paragraph(words), picture, Table(columns, rows))),)


def _drawings(book: Book, design: LineDesign) -> Made:
    pictures = tuple(
        Picture(svg, title, title, True, svg)
        for title, svg in (
            (title, drawing_svg(sheet, title)) for title, sheet, _ in sheets(book, design).values()
        )
    )
    words = (
        "For study, not for construction: sizes of the machine, foundations, pipe classes and area "
        "classes are confirmed by the supplier and by licensed practice."
    )
    return (Section("drawings", "Drawings", (Paragraph(words, "caution"), *pictures)),)


def _list_section(book: Book, table: line_tables.ListTable) -> Section:
    key = table.title.lower().replace(" ", "-")
    return Section(key, table.title, (line_tables.list_table(book, table),))


def _data_sheets(book: Book, design: LineDesign) -> Made:
    return (_list_section(book, line_tables.data_sheets(design)),)


def _bill(book: Book, _: LineDesign) -> Made:
    return _present(bill(book))


def _control(book: Book, _: LineDesign) -> Made:
    return _present(control(book))


def _hazards(book: Book, design: LineDesign) -> Made:
    columns = (
        Column("no.", align="middle", share=0.3),
        Column("where", share=0.9),
        Column("what can hurt, and what keeps it off", share=3.6),
        Column("likelihood and harm", share=1.0),
        Column("who decides", share=1.2),
        Column("source", share=0.7),
    )
    rows = tuple(
        (
            Cell(str(at)),
            Cell(each.place, strong=True),
            Cell(each.text),
            Cell("to be judged on site"),
            Cell("owner, with licensed practice"),
            Cell(each.source, book.source_link(each.source)),
        )
        for at, each in enumerate(book.findings.cautions, start=1)
    )
    words = (
        "A start for the hazard study of this line, no substitute for one. Local codes, permits "
        "and the supplier's instructions come first; the study is led by a competent person."
    )
    register = Section(
        "hazards", "Hazards and risks", (Paragraph(words, "caution"), Table(columns, rows))
    )
    guards = _list_section(book, line_tables.interlocks(design))
    return (register, guards)


def _running(book: Book, design: LineDesign) -> Made:
    words = tuple(Paragraph(text, "caution") for text in design.cautions)
    steps = tuple(Bullets(part.title, part.steps) for part in design.narrative)
    tables = (line_tables.faults(design), line_tables.wear(design))
    return (
        Section("running", "Running the line", (*words, *steps)),
        *(_list_section(book, table) for table in tables if table.rows),
        cautions(book),
    )


def _checks(_: Book, design: LineDesign) -> Made:
    columns = (
        Column("no.", align="middle", share=0.3),
        Column("item", share=0.8),
        Column("check before the first sludge", share=3.4),
        Column("found", share=1.0),
        Column("name and date", share=1.2),
    )
    checks = [
        *((m.tag, f"Turns the right way, runs free; draws no more than rated: {m.label}.")
          for m in design.motors),
        *((s.tag, f"Reads right at two points of its range, alarms set as listed: {s.meaning}.")
          for s in design.signals),
        *((str(i.number), f"Brought about on purpose: {i.cause}. Does it: {i.action}?")
          for i in design.interlocks),
    ]  # fmt: skip
    rows = tuple(
        (Cell(str(at)), Cell(tag), Cell(text), Cell(), Cell())
        for at, (tag, text) in enumerate(checks, start=1)
    )
    words = (
        "Isolated and made safe by the rules of the site before anyone reaches in. The supplier's "
        "own checks come first."
    )
    return (Section("checks", "Checks", (Paragraph(words, "caution"), Table(columns, rows))),)


def _protocol(book: Book, _: LineDesign) -> Made:
    return protocol_sections(book, _promised(book))


def _guarantees(book: Book, _: LineDesign) -> Made:
    return sheet_sections(book, _promised(book))


def _promised(book: Book) -> GuaranteeFindings:
    decide = book.findings.decide
    if decide is None:  # the dossier refuses before
        raise InfeasibleError("nothing was decided")
    return decide.guarantee


def _tender(book: Book, design: LineDesign) -> Made:
    found = _promised(book)
    scope = Section(
        "scope",
        "Scope of supply",
        (
            Paragraph(
                "Equipment as listed, delivered, erected and set to work. Kinds and sizes are "
                "those of the design; another kind may be offered if shown on the same basis."
            ),
            line_tables.list_table(book, line_tables.equipment(design)),
        ),
    )
    told = (
        "Fill in the bid form (bid-form.xlsx): price, the guaranteed value of each line, and what "
        "test each value stands on: scale, sludge, feed solids, ash, temperature, dose, load.",
        "A value without its test is brought to the site's sludge with a wider band.",
        f"Pass rule of the test: {rule_words(found)}",
    )
    return (
        scope,
        *_design_basis(book, design)[:1],
        Section("bid", "What a bid has to say", (Bullets("", told),)),
        *_guarantees(book, design)[:1],
    )


def _calculations(book: Book, _: LineDesign) -> Made:
    return _present(annex(book), coefficients(book), sourcelist(book))


_DOCUMENTS: tuple[tuple[int, str, Callable[[Book, LineDesign], Made]], ...] = tuple(
    (at, title, make)
    for at, (title, make) in enumerate(
        (
            ("Design basis", _design_basis),
            ("Streams", _streams),
            ("Lists", _lists),
            ("Data sheets", _data_sheets),
            ("Bill of quantities", _bill),
            ("Control description", _control),
            ("Hazards and risks", _hazards),
            ("Commissioning checks", _checks),
            ("Test protocol", _protocol),
            ("Guarantees", _guarantees),
            ("Running and upkeep", _running),
            ("Tender specification", _tender),
            ("Calculations", _calculations),
            ("Programme", _programme),
            ("Drawings", _drawings),
        ),
        start=1,
    )
)
