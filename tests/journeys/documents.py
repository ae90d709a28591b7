"""One reader of every document: a named figure, with its case, as each document prints it."""

from __future__ import annotations

import json
import math
import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import ezdxf
import openpyxl
from lxml import html
from pypdf import PdfReader

from cakewright.quantities import house_names

_HALVES = {e.label: 0.5 * 10.0**-e.decimals for e in house_names().values() if e.decimals < 0}
# The page gives the press's share in brackets behind the line's figure.
_SHARE = r"(?: \(press [^)]*\))?"
NUMBER = re.compile(r"-?\d[\d\u202f\u2009\u00a0 ]*(?:\.\d+)?")


@dataclass(frozen=True, slots=True)
class Read:
    """One figure as one document gives it: the number, and half of its last printed digit."""

    document: str
    name: str
    unit: str
    value: float
    half: float


def number(text: str) -> tuple[float, float]:
    """A printed number and half a unit of its last digit."""
    plain = re.sub(r"[\u202f\u2009\u00a0 ]", "", text).replace("−", "-")
    decimals = len(plain.partition(".")[2])
    return float(plain), 0.5 * 10.0**-decimals


def _figure(name: str, text: str) -> tuple[float, float]:
    """A number of the headline; large money is printed in thousands, its last zeros are none."""
    value, half = number(text)
    return value, max(half, _HALVES.get(name, 0.0))


def headline(folder: Path, terminal: str) -> Iterator[Read]:
    """The headline in terminal, HTML, PDF and workbook."""
    yield from _table("report.html", _html_headline(folder))
    yield from _workbook_headline(folder)
    names = {read.name for read in _workbook_headline(folder)}
    yield from _lines("terminal", terminal, names)
    yield from _lines("report.pdf", pdf_text(folder / "report.pdf"), names)


def pdf_text(path: Path) -> str:
    """Text of the first page, rows kept as rows."""
    return PdfReader(path).pages[0].extract_text(extraction_mode="layout")


def _lines(document: str, text: str, names: set[str]) -> Iterator[Read]:
    for name in names:
        found = re.search(
            rf"^\s*{re.escape(name)}{_SHARE}\s+(?P<value>[-−\d][^A-Za-z%/]*?)\s+(?P<unit>[A-Za-z%]\S*)",
            text,
            re.M,
        )
        if found:
            yield Read(document, name, found["unit"], *_figure(name, found["value"]))


def _html_headline(folder: Path) -> list[list[str]]:
    rows = next(t for t in html_tables(folder / "report.html") if "P10–P90" in t[0])
    return rows[1:]


def html_tables(path: Path) -> list[list[list[str]]]:
    """Every table of a page, as rows of cell texts."""
    page = html.parse(str(path)).getroot()
    return [
        [
            [" ".join(c.text_content().split()) for c in row.xpath("./th|./td")]
            for row in table.xpath(".//tr")
        ]
        for table in page.xpath("//table")
    ]


def _table(document: str, rows: list[list[str]]) -> Iterator[Read]:
    for words, value, unit, *_ in rows:
        name = re.sub(f"{_SHARE}$", "", words)
        yield Read(document, name, unit, *_figure(name, value))


def sheet(folder: Path, name: str) -> list[list[Any]]:
    """Rows of one sheet of the workbook, as calculated."""
    book = openpyxl.load_workbook(folder / "workbook.xlsx", data_only=True)
    return [list(row) for row in book[name].iter_rows(values_only=True)]


def _workbook_headline(folder: Path) -> Iterator[Read]:
    rows = sheet(folder, "Answer")
    start = next(i for i, row in enumerate(rows) if row[0] == "headline")
    for row in rows[start + 1 :]:
        if not row[0]:
            return
        yield Read("workbook.xlsx", row[0], row[2], float(row[1]), 1e-9 * abs(float(row[1])))


def stream_masses(folder: Path) -> dict[str, Mapping[int, tuple[float, float]]]:
    """Mass flow of each numbered stream, in kg/h, by document."""
    found = json.loads((folder / "findings.json").read_text(encoding="utf-8"))
    stored = {
        s["number"]: (3600.0 * s["mass_flow"]["point"], 1e-6) for s in found["line"]["streams"]
    }
    balance = {
        s["number"]: (3600.0 * s["mass_flow"]["point"], 1e-6) for s in found["balance"]["streams"]
    }
    pages = [t for t in html_tables(folder / "report.html") if t[0][:2] == ["no.", "stream"]]
    flows = [t for t in pages if any("mass flow" in head for head in t[0])]
    documents: dict[str, Mapping[int, tuple[float, float]]] = {
        "findings.json line": stored,
        "findings.json balance": balance,
        "workbook Streams": _sheet_masses(sheet(folder, "Streams")),
        "workbook Balance": _sheet_masses(sheet(folder, "Balance")),
    }
    for at, table in enumerate(flows):
        column = next(i for i, head in enumerate(table[0]) if "mass flow" in head)
        documents[f"report.html table {at + 1}"] = {
            int(row[0]): number(row[column]) for row in table[1:] if row[0].isdigit()
        }
    documents["flow-diagram.dxf"] = _dxf_masses(folder / "flow-diagram.dxf", len(stored))
    return documents


def _sheet_masses(rows: list[list[Any]]) -> dict[int, tuple[float, float]]:
    head = next(i for i, row in enumerate(rows) if row[0] == "no.")
    column = next(i for i, cell in enumerate(rows[head]) if cell and "mass flow" in str(cell))
    return {
        int(row[0]): (float(row[column]), 1e-6)
        for row in rows[head + 1 :]
        if isinstance(row[0], int) and isinstance(row[column], int | float)
    }


def _dxf_masses(path: Path, streams: int) -> dict[int, tuple[float, float]]:
    """The table on the drawing's sheet: texts in rows of one height, in blocks side by side."""
    drawing = ezdxf.readfile(path)  # type: ignore[attr-defined]
    texts = [
        (round(e.dxf.insert.y, 1), e.dxf.insert.x, e.dxf.text)
        for e in drawing.layout("Sheet")
        if e.dxftype() == "TEXT"
    ]
    top, column = next((y, x) for y, x, text in texts if text.startswith("mass flow"))
    blocks = [x for y, x, text in texts if y == top and text == "no."]
    reach = column - min(blocks)
    found: dict[int, tuple[float, float]] = {}
    for y, x, text in texts:
        if y < top and any(abs(x - at) < 2.0 for at in blocks) and text.isdigit():
            row = [(abs(at - x - reach), cell) for height, at, cell in texts if height == y]
            distance, cell = min(row)
            if distance < 12.0 and int(text) <= streams:
                found[int(text)] = number(cell)
    return found


def disagreements(reads: Iterator[Read]) -> list[str]:
    """Names whose values differ between two documents by more than their printed digits."""
    by_name: dict[str, list[Read]] = {}
    for read in reads:
        by_name.setdefault(read.name, []).append(read)
    wrong = []
    for name, found in by_name.items():
        exact = min(found, key=lambda r: r.half)
        wrong += [
            f"{name}: {r.document} {r.value} {r.unit}, {exact.document} {exact.value} {exact.unit}"
            for r in found
            if r.unit != exact.unit or not math.isclose(r.value, exact.value, abs_tol=1.02 * r.half)
        ]
    return wrong
