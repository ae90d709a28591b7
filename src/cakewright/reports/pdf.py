"""Report as PDF: the same sections, set by typst from data; fonts come inside the wheel.

Tagged to PDF/UA-1, which also refuses any character the fonts cannot show.
"""

from __future__ import annotations

import base64
import json
import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import asdict, fields
from datetime import date
from functools import cache
from importlib.resources import files
from typing import Any

from cakewright.errors import OutputError
from cakewright.jobs.findings import Findings, HouseStyle
from cakewright.quantities.formula import runs_of
from cakewright.reports.book import Book, anchor
from cakewright.reports.content import (
    Block,
    Calculation,
    Calculations,
    Cell,
    Heading,
    Picture,
    Section,
    Table,
)
from cakewright.reports.html import FOOTER, anchors, grouped
from cakewright.reports.numbers import Units
from cakewright.reports.palette import ACCENT, FONT
from cakewright.reports.title_block import document_rows

__all__ = ["page_data", "pdf_data", "render_annexes", "render_pdf", "sections_data", "set_pages"]

_FACE = "Libertinus Serif"
_FONTS = (_FACE, "New Computer Modern Math", "New Computer Modern", "DejaVu Sans Mono")
_MISSING = re.compile(r"the text `(.+?)` could not be displayed")
_LONG_WORD = 16
_TRIES = 12
# The answers' signs as characters: lighter than a drawing in every cell.
_SIGNS = {"suits": "\u25cf", "with care": "\u25d0", "does not suit": "\u2298"}
_NO_GLYPH = "\u25a1"


def render_pdf(
    findings: Findings,
    units: Units = Units.SI,
    *,
    on: date | None = None,
    sections: Sequence[Section] = (),
) -> bytes:
    """The report as PDF, its annexes apart; the same findings give the same bytes.

    ``on`` is the date written into the document; with it the file also keeps to PDF/A-2a.
    ``sections`` are those of `chapters.all_sections` where they are at hand already.

    Raises
    ------
    OutputError
        If the page cannot be set.
    """
    from cakewright.reports.chapters import all_sections

    sections = sections or all_sections(Book(findings, units))
    body = page_data(findings, _body(sections), units, on=on, annexes=_annexes(sections))
    return set_pages(body, dated=on is not None)


def render_annexes(findings: Findings, units: Units = Units.SI) -> bytes:
    """All annexes of the report in one PDF.

    Raises
    ------
    OutputError
        If the pages cannot be set.
    """
    from cakewright.reports.chapters import all_sections

    return set_pages(page_data(findings, _annexes(all_sections(Book(findings, units))), units))


def pdf_data(findings: Findings, sections: Sequence[Section], units: Units) -> dict[str, str]:
    """What the typesetter needs for the report and for each annex, by file name."""
    annexes = _annexes(sections)
    body = page_data(findings, _body(sections), units, annexes=annexes)
    apart = {_file_name(each): page_data(findings, [each], units) for each in annexes}
    return {"report.pdf": body, **apart}


def page_data(
    findings: Findings,
    sections: Sequence[Section],
    units: Units,
    *,
    on: date | None = None,
    annexes: Sequence[Section] = (),
) -> str:
    """What the typesetter needs to know of these sections, as JSON.

    ``annexes`` are named in the contents with the files they stand in.
    """
    head: dict[str, Any] = {
        "title": findings.title,
        "site": findings.site,
        "invented": findings.invented,
        "document": document_rows(findings),
        **house_data(findings.house),
        "annexes": [{"title": each.heading, "file": _file_name(each)} for each in annexes],
    }
    return sections_data(head, sections, units, on=on)


def house_data(house: HouseStyle) -> dict[str, Any]:
    """Look of the sender, for the typesetter."""
    logo = list(base64.b64decode(house.logo))
    return {"house": asdict(house) | {"logo": logo}, "accent": house.colour or ACCENT}


def _body(sections: Iterable[Section]) -> list[Section]:
    return [section for section in sections if not section.annex]


def _annexes(sections: Iterable[Section]) -> list[Section]:
    return [section for section in sections if section.annex]


def _file_name(annex: Section) -> str:
    words = re.sub(r"[^a-z]+", "-", annex.heading.lower())
    return f"{words}.pdf"


def sections_data(
    head: Mapping[str, Any],
    sections: Sequence[Section],
    units: Units,
    *,
    on: date | None = None,
) -> str:
    """Any sections under a head of title, site and whether it is invented, as JSON."""
    data = {
        "annexes": [],
        "document": [],
        **house_data(HouseStyle()),
        **head,
        "footer": FOOTER,
        "fonts": _FONTS,
        "date": {"year": on.year, "month": on.month, "day": on.day} if on else None,
        "anchors": sorted(set(anchors(sections))),
        "sections": [_section(section) for section in sections],
        "sheets": _sheets(sections),
    }
    house = data["house"]
    usual = "us-letter" if units is Units.US else "a4"
    data["paper"] = {"letter": "us-letter", "a4": "a4"}.get(house["paper"], usual)
    return json.dumps(data, ensure_ascii=False, allow_nan=False, default=asdict)


def set_pages(data: str, *, dated: bool = False) -> bytes:
    """Set the pages; characters no font has are shown as an empty box rather than left out.

    Raises
    ------
    OutputError
        If the page cannot be set.
    """
    import typst

    for _ in range(_TRIES):
        try:
            return _compiled(data, dated=dated)
        except typst.TypstError as error:
            told = "".join(_MISSING.findall(error.diagnostic))
            missing = {char for char in told if not char.isascii()}
            if not missing:
                raise OutputError(f"report.pdf could not be set: {error}") from error
            data = data.translate(dict.fromkeys(map(ord, missing), _NO_GLYPH))
    raise OutputError("report.pdf could not be set: its texts use characters no font here has")


def _compiled(data: str, *, dated: bool) -> bytes:
    import typst

    # The wheel takes a mapping of file names to contents; its type stub does not say so.
    pages = typst.compile(  # type: ignore[call-overload]
        {"main": _template(), "data.json": data.encode()},
        format="pdf",
        pdf_standards=["a-2a", "ua-1"] if dated else ["ua-1"],
        ignore_system_fonts=True,
    )
    return bytes(pages)


@cache
def _template() -> bytes:
    return files("cakewright.reports").joinpath("templates", "report.typ").read_bytes()


def _section(section: Section) -> dict[str, Any]:
    blocks = [block for block in section.blocks if not _is_sheet(block)]
    heads = [at for at, block in enumerate(section.blocks) if _is_sheet(block)]
    headed = {id(section.blocks[at - 1]) for at in heads if at}
    kept = [b for b in blocks if not (isinstance(b, Heading) and id(b) in headed)]
    groups = [[_block(block) for block in group] for group in grouped(kept)]
    return {
        "key": section.key,
        "title": section.heading,
        "new_page": section.new_page,
        "groups": groups,
    }


def _is_sheet(block: Block) -> bool:
    return isinstance(block, Picture) and bool(block.sheet)


def _sheets(sections: Sequence[Section]) -> list[dict[str, Any]]:
    """Drawing sheets go behind all else, so that no page is left half empty for one."""
    return [_block(block) for s in sections for block in s.blocks if _is_sheet(block)]


def _block(block: Block) -> dict[str, Any]:
    kind = type(block).__name__
    match block:
        case Table():
            rows = [[_cell(cell) for cell in row] for row in block.rows]
            return {**_shallow(block), "rows": rows, "block": kind}
        case Picture():
            return {
                **_shallow(block),
                "svg": _svg(block.sheet or block.svg),
                "size": _size(block.sheet) if block.sheet else (),
                "block": kind,
            }
        case Calculations():
            return {"title": block.title, "lines": _lines(block.lines), "block": kind}
    return {**asdict(block), "block": kind}


def _shallow(item: Block | Cell | Calculation) -> dict[str, Any]:
    """Fields of one item, its parts as they are: a report has thousands of cells."""
    return {each.name: getattr(item, each.name) for each in fields(item)}


def _svg(svg: str) -> str:
    return svg.replace(FONT, _FACE)


def _size(svg: str) -> tuple[float, float]:
    """Width and height of a sheet in millimetres, from its view box."""
    found = re.search(r'viewBox="0 0 ([\d.]+) ([\d.]+)"', svg)
    if found is None:
        raise OutputError("report.pdf could not be set: a drawing has no size")
    return float(found[1]), float(found[2])


def _cell(cell: Cell) -> dict[str, Any]:
    sources = cell.text.split() if cell.link.startswith("source-") else ()
    sign = _SIGNS.get(cell.alt, "")
    return {
        **_shallow(cell),
        "sign": sign,
        "text": _breakable(cell.text),
        "picture": "" if sign else _svg(cell.picture),
        "runs": runs_of(cell.text) if cell.formula else (),
        "sources": [{"id": key, "key": anchor("source", key)} for key in sources],
    }


def _breakable(text: str) -> str:
    """Long keys may break after a dot or a low line."""
    if not any(len(word) > _LONG_WORD for word in text.split()):
        return text
    return re.sub(r"(?<=[A-Za-z])([._])(?=\w)", "\\1\u200b", text)


def _lines(lines: Iterable[Calculation]) -> list[dict[str, Any]]:
    return [
        {
            **_shallow(line),
            "symbol": runs_of(line.symbol),
            "formula": runs_of(line.formula),
            "numbers": runs_of(line.numbers) if line.numbers != line.formula else (),
            "terms": [
                {"symbol": runs_of(symbol), "label": label, "value": value, "si": si}
                for symbol, label, value, si in line.terms
            ],
            "source": [{"id": s, "key": anchor("source", s)} for s in line.source.split()],
        }
        for line in lines
    ]
