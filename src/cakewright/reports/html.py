"""Report as one HTML page: style and drawings inside, nothing fetched, no script needed."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from functools import cache
from importlib.resources import files
from typing import TYPE_CHECKING

from cakewright.jobs.findings import Findings, HouseStyle
from cakewright.quantities.formula import runs_of
from cakewright.reports.book import Book, anchor
from cakewright.reports.content import Block, Bullets, Calculations, Picture, Section, Table
from cakewright.reports.numbers import Units
from cakewright.reports.palette import themed
from cakewright.reports.title_block import document_rows

if TYPE_CHECKING:
    import jinja2
    from markupsafe import Markup

__all__ = ["anchors", "document_rows", "grouped", "page_html", "write_html"]

_OURS = HouseStyle()
FOOTER = (
    "An aid to calculation. Local codes, permits, the supplier's instructions and licensed "
    "practice come first."
)


def write_html(
    findings: Findings, units: Units = Units.SI, *, sections: Sequence[Section] = ()
) -> str:
    """The whole report as one page that needs nothing else.

    ``sections`` are those of `chapters.all_sections` where they are at hand already.
    """
    from cakewright.reports.chapters import all_sections

    sections = sections or all_sections(Book(findings, units))
    return page_html(
        findings.title,
        findings.site,
        sections,
        invented=findings.invented,
        document=document_rows(findings),
        house=findings.house,
    )


def page_html(
    title: str,
    site: str,
    sections: Sequence[Section],
    *,
    invented: bool,
    document: Sequence[tuple[str, str]] = (),
    house: HouseStyle = _OURS,
) -> str:
    """Any sections as one page that needs nothing else."""
    return (
        _environment()
        .get_template("report.html.j2")
        .render(
            title=title,
            site=site,
            invented=invented,
            document=document,
            house=house,
            style=_safe(_text("report.css")),
            sections=tuple(sections),
            anchors=frozenset(anchors(sections)),
            footer=FOOTER,
        )
    )


def anchors(sections: Iterable[Section]) -> Iterator[str]:
    """Every key in these sections that a link can point to."""
    for section in sections:
        yield section.key
        for block in section.blocks:
            if isinstance(block, Table):
                yield from block.anchors
            elif isinstance(block, Calculations):
                yield from (line.key for line in block.lines)


def _text(name: str) -> str:
    return files("cakewright.reports").joinpath("templates", name).read_text(encoding="utf-8")


def _safe(text: str) -> Markup:
    from markupsafe import Markup

    return Markup(text)


def _drawing(svg: str) -> Markup:
    """A drawing made here (every text in it already escaped) in the colours of the page."""
    return _safe(themed(svg))


def _source_links(context: jinja2.runtime.Context, ids: str) -> Markup:
    """Source ids, each leading to its entry where the page has one."""
    from markupsafe import Markup

    known = context["anchors"]
    link = Markup('<a href="#{}">{}</a>')
    keys = ((anchor("source", key), key) for key in ids.split())
    return Markup(" ").join(link.format(at, key) if at in known else key for at, key in keys)


def grouped(blocks: Iterable[Block]) -> list[list[Block]]:
    """Neighbouring blocks that stand side by side: short lists, and small charts."""
    groups: list[list[Block]] = []
    for block in blocks:
        side_by_side = isinstance(block, Bullets) or (
            isinstance(block, Picture) and not block.caption
        )
        if groups and side_by_side and type(groups[-1][-1]) is type(block):
            groups[-1].append(block)
        else:
            groups.append([block])
    return groups


@cache
def _environment() -> jinja2.Environment:
    import jinja2

    environment = jinja2.Environment(
        loader=jinja2.PackageLoader("cakewright.reports", "templates"),
        autoescape=True,
        undefined=jinja2.StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    environment.filters.update(
        runs=runs_of,
        drawing=_drawing,
        source_links=jinja2.pass_context(_source_links),
        grouped=grouped,
        kind=lambda block: type(block).__name__,
    )
    return environment
