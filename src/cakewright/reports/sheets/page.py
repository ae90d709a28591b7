"""How a sheet is written: texts as texts, numbers as numbers, formulas with their results."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from cakewright.reports.book import Book
from cakewright.reports.numbers import shown
from cakewright.reports.palette import ACCENT, GRID, INK, QUIET

__all__ = ["Live", "Page", "Styles", "address", "column_letter", "conversion", "from_si_formula"]

_LONGEST_TEXT = 32_000


@dataclass(frozen=True, slots=True)
class Live:
    """A formula (without its leading sign) and the result it has now."""

    formula: str
    result: float | str


class Styles:
    """The few cell styles of the workbook."""

    def __init__(self, workbook: Any) -> None:
        base = {"font_name": "Calibri", "font_size": 10, "font_color": INK, "valign": "top"}
        rule = {"bottom": 1, "bottom_color": GRID}
        number = {"num_format": "#,##0.####", "align": "right"}
        self.title = workbook.add_format({**base, "font_size": 16})
        self.lead = workbook.add_format({**base, "font_size": 12, "text_wrap": True})
        self.heading = workbook.add_format({**base, "bold": True, "font_size": 11})
        self.head = workbook.add_format(
            {**base, "font_color": QUIET, "bottom": 1, "text_wrap": True, "valign": "bottom"}
        )
        self.text = workbook.add_format({**base, **rule, "text_wrap": True})
        self.strong = workbook.add_format({**base, **rule, "bold": True, "text_wrap": True})
        self.quiet = workbook.add_format({**base, "font_color": QUIET, "text_wrap": True})
        self.number = workbook.add_format({**base, **rule, **number})
        self.live = workbook.add_format({**base, **rule, **number, "italic": True})
        self.input = workbook.add_format({**base, **rule, **number, "font_color": ACCENT})
        self.small = workbook.add_format(
            {**base, **rule, "num_format": "0.000E+00", "align": "right", "italic": True}
        )


@dataclass
class Page:
    """One sheet being filled from the top."""

    sheet: Any
    styles: Styles
    row: int = 0

    def put(self, column: int, value: object, style: object = None) -> None:
        """Write one cell of the present row; what is text stays text whatever it starts with."""
        match value:
            case None | "":
                self.sheet.write_blank(self.row, column, None, style or self.styles.text)
            case Live(formula=formula, result=result):
                self.sheet.write_formula(
                    self.row, column, "=" + formula, style or self.styles.live, result
                )
            case bool() | str():
                text = str(value)[:_LONGEST_TEXT]
                self.sheet.write_string(self.row, column, text, style or self.styles.text)
            case int() | float():
                self.sheet.write_number(self.row, column, value, style or self.styles.number)
            case _:
                raise TypeError(f"{type(value).__name__} cannot stand in a cell")

    def line(self, values: Sequence[object], style: object = None) -> int:
        """Write one row and go on to the next; the row's index."""
        for column, value in enumerate(values):
            self.put(column, value, style)
        self.row += 1
        return self.row - 1

    def words(self, text: str, style: object, width: int = 0, height: float | None = None) -> None:
        """Write one text over several columns."""
        if width:
            self.sheet.merge_range(self.row, 0, self.row, width - 1, "", style)
        self.sheet.write_string(self.row, 0, text[:_LONGEST_TEXT], style)
        if height:
            self.sheet.set_row(self.row, height)
        self.row += 1

    def heads(self, words: Sequence[str]) -> None:
        """Write the heads of a table."""
        for column, word in enumerate(words):
            self.sheet.write_string(self.row, column, word, self.styles.head)
        self.row += 1

    def widths(self, widths: Sequence[float]) -> None:
        """Set the column widths and how the sheet prints."""
        for column, width in enumerate(widths):
            self.sheet.set_column(column, column, width)
        self.sheet.hide_gridlines(2)
        self.sheet.set_landscape()
        self.sheet.set_paper(9)
        self.sheet.fit_to_pages(1, 0)


def column_letter(column: int) -> str:
    """Letters of a column.

    >>> column_letter(0), column_letter(27)
    ('A', 'AB')
    """
    letters = ""
    column += 1
    while column:
        column, rest = divmod(column - 1, 26)
        letters = chr(65 + rest) + letters
    return letters


def address(row: int, column: int, sheet: str = "") -> str:
    """Cell address, with its sheet if asked for."""
    cell = f"{column_letter(column)}{row + 1}"
    return f"'{sheet}'!{cell}" if sheet else cell


def from_si_formula(cell: str, slope: float, offset: float) -> str:
    """Formula that turns the SI number of a cell into the unit shown."""
    scaled = cell if slope == 1.0 else f"{cell}*{slope!r}"
    return scaled if offset == 0.0 else f"{scaled}+({offset!r})"


def conversion(book: Book, name: str) -> tuple[float, float]:
    """Slope and offset from SI to the unit shown."""
    offset = shown(name, 0.0, book.units)
    return shown(name, 1.0, book.units) - offset, offset
