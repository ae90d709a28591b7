"""The workbook: live formulas that give what is reported, and texts that stay texts."""

from __future__ import annotations

import ast
import math
import re
from collections.abc import Iterator
from dataclasses import replace
from io import BytesIO
from typing import Any

import openpyxl
import pytest
from openpyxl.utils import get_column_letter
from tests.unit.reports.findings_sample import BALANCE, sample_findings

from cakewright.jobs.findings import Findings
from cakewright.reports.numbers import Units
from cakewright.reports.workbook import write_workbook

CELL = re.compile(r"(?:'([^']+)'!)?\$?([A-Z]{1,3})\$?(\d+)(?::\$?([A-Z]{1,3})\$?(\d+))?")


class Recalculated:
    """Recalculates the few kinds of formulas the workbook uses, from its cells alone."""

    def __init__(self, data: bytes) -> None:
        self.book = openpyxl.load_workbook(BytesIO(data))
        self.seen: dict[tuple[str, str], Any] = {}
        self.cached = openpyxl.load_workbook(BytesIO(data), data_only=True)

    def value(self, sheet: str, cell: str) -> Any:
        """Value of a cell, its formula worked out anew."""
        content = self.book[sheet][cell].value
        if not (isinstance(content, str) and self.book[sheet][cell].data_type == "f"):
            return content
        if (sheet, cell) not in self.seen:
            self.seen[sheet, cell] = self._formula(content[1:], sheet)
        return self.seen[sheet, cell]

    def change(self, sheet: str, cell: str, value: float) -> None:
        """Another number in a cell; everything is worked out anew after it."""
        self.book[sheet][cell].value = value
        self.seen.clear()

    def _formula(self, text: str, sheet: str) -> Any:
        names: dict[str, Any] = {}

        def named(match: re.Match[str]) -> str:
            name = f"r{len(names)}"
            where = match.group(1) or sheet
            if match.group(4):
                area = self.book[where][match.group(0).split("!")[-1].replace("$", "")]
                names[name] = [self.value(where, c.coordinate) for row in area for c in row]
            else:
                names[name] = self.value(where, match.group(2) + match.group(3))
            return name

        parts = re.split(r'("[^"]*")', text)
        code = "".join(p if p.startswith('"') else CELL.sub(named, p) for p in parts)
        code = code.replace("^", "**").replace("<=", "@").replace("=", "==").replace("@", "<=")
        code = re.sub(r"\bIF\(", "IF_(", code)
        tree = ast.parse(code.strip(), mode="eval")
        tools = {
            "IF_": lambda test, yes, no: yes if test else no,
            "ABS": abs,
            "MIN": min,
            "MAX": max,
            "EXP": math.exp,
            "LN": math.log,
            "SQRT": math.sqrt,
            "ROUND": round,
            "SUMPRODUCT": lambda one, two: sum(
                (a or 0.0) * (b or 0.0) for a, b in zip(one, two, strict=True)
            ),
            "SUM": lambda values: sum(v for v in values if v is not None),
            "SUMIF": lambda keys, key, values: sum(
                v for k, v in zip(keys, values, strict=True) if k == key
            ),
        }
        # The formulas come from the workbook under test and use the tools above only.
        return eval(compile(tree, "cell", "eval"), {"__builtins__": {}}, names | tools)  # noqa: S307

    def formulas(self) -> Iterator[tuple[str, str]]:
        """Sheet and address of every formula."""
        for sheet in self.book:
            for row in sheet.iter_rows():
                for cell in row:
                    if cell.data_type == "f":
                        yield sheet.title, cell.coordinate


def find(book: Recalculated, sheet: str, words: str, column: int = 1) -> int:
    """Row of a text in a column."""
    for row in book.book[sheet].iter_rows(min_col=column, max_col=column):
        if row[0].value == words:
            return int(row[0].row)
    raise AssertionError(f"{words!r} is not in {sheet}")


@pytest.fixture(scope="module")
def book() -> Recalculated:
    """The workbook of the invented findings."""
    return Recalculated(write_workbook(sample_findings()))


def test_every_formula_gives_its_stored_result(book: Recalculated) -> None:
    """Worked out anew from the cells, every formula gives the number stored beside it."""
    formulas = list(book.formulas())
    assert len(formulas) > 60
    for sheet, cell in formulas:
        stored = book.cached[sheet][cell].value
        fresh = book.value(sheet, cell)
        if isinstance(stored, str):
            assert fresh == stored, f"{sheet}!{cell}"
        else:
            assert fresh == pytest.approx(stored, rel=1e-9, abs=1e-9), f"{sheet}!{cell}"


def test_balance_is_live_and_right(book: Recalculated) -> None:
    """Water of the cake: wet mass less dry solids; every apparatus closes."""
    row = find(book, "Balance", "cake", 2)
    water = 3600 * float(BALANCE.stream("cake").water[0])
    assert book.value("Balance", f"L{row}") == pytest.approx(water, rel=1e-9)
    assert book.value("Balance", f"M{row}") == pytest.approx(18.2, rel=1e-9)
    for name in ("metering", "flocculation", "press"):
        line = find(book, "Balance", name, 2)
        for column in "CD":
            assert book.book["Balance"][f"{column}{line}"].data_type == "f"
            assert book.value("Balance", f"{column}{line}") == pytest.approx(0.0, abs=1e-9)


def test_a_changed_input_reaches_the_results() -> None:
    """Raising the feed solids in the inputs raises the dry solids of the annex with it."""
    book = Recalculated(write_workbook(sample_findings()))
    row = find(book, "Inputs", "total solids")
    line = find(book, "Calculations", "Dry solids of the froth, mean over the day", 2)
    before = book.value("Calculations", f"F{line}")
    book.change("Inputs", f"B{row}", 2 * book.book["Inputs"][f"B{row}"].value)
    assert book.value("Calculations", f"F{line}") == pytest.approx(2 * before, rel=1e-12)
    assert book.value("Calculations", f"I{line}") == "no"


def test_headline_points_to_the_comparison(book: Recalculated) -> None:
    """The headline's cake solids are the comparison's, not a copy."""
    row = find(book, "Answer", "cake solids")
    assert book.book["Answer"][f"B{row}"].value.startswith("='Side by side'!")
    assert book.value("Answer", f"B{row}") == pytest.approx(18.2)


def test_differences_between_kinds(book: Recalculated) -> None:
    """A decanter uses 152 - 22 = 130 kWh/t more than the multi-disc press of this sample."""
    start = find(book, "Side by side", "Difference from the multi-disc screw press")
    heads = [c.value for c in book.book["Side by side"][start + 1]]
    column = get_column_letter(heads.index("decanter") + 1)
    rows = range(start + 2, start + 9)
    row = next(r for r in rows if book.book["Side by side"][f"A{r}"].value == "power use, press")
    assert book.value("Side by side", f"{column}{row}") == pytest.approx(130.0)


@pytest.mark.parametrize("evil", ["=1+1", "+cmd|' /C calc'!A0", "-2+3", "@SUM(A1)", "\t=1", "\r=1"])
def test_typed_texts_never_become_formulas(evil: str) -> None:
    """A text that begins like a formula stays a text, wherever a user can type one."""
    data = write_workbook(_typed(f"{evil} typed"))
    loaded = openpyxl.load_workbook(BytesIO(data))
    texts = 0
    for sheet in loaded:
        for row in sheet.iter_rows():
            for cell in row:
                if isinstance(cell.value, str) and "typed" in cell.value:
                    assert cell.data_type == "s", f"{sheet.title}!{cell.coordinate}"
                    texts += 1
    assert texts >= 5


def _typed(text: str) -> Findings:
    found = sample_findings()
    given = replace(found.givens[0], note=text, as_written=text, where=text)
    stream = replace(found.balance.streams[0], name=text)
    return replace(
        found,
        title=text,
        notes=(text,),
        givens=(given, *found.givens[1:]),
        balance=replace(found.balance, streams=(stream, *found.balance.streams[1:])),
    )


def test_same_findings_same_bytes() -> None:
    """Nothing of the clock is in the file."""
    assert write_workbook(sample_findings()) == write_workbook(sample_findings())


def test_us_units() -> None:
    """In US units the same balance stands in pounds and still closes."""
    book = Recalculated(write_workbook(sample_findings(), Units.US))
    line = find(book, "Balance", "press", 2)
    assert book.value("Balance", f"C{line}") == pytest.approx(0.0, abs=1e-8)
    row = find(book, "Balance", "cake", 2)
    pounds = 3600 * float(BALANCE.cake_solids[0]) * 2.20462262
    assert book.value("Balance", f"G{row}") == pytest.approx(pounds, rel=1e-8)


def test_marks_and_bases_survive(book: Recalculated) -> None:
    """The inputs sheet says "from memory" and whose value is a default."""
    row = find(book, "Inputs", "chloride")
    cells = [cell.value for cell in book.book["Inputs"][row]]
    assert "from memory" in cells
    assert "assumed" in cells
    row = find(book, "Inputs", "temperature")
    assert book.book["Inputs"][f"J{row}"].value == "yes"
