"""One cell of a bench sheet: number, unit or words; every refusal says why."""

from __future__ import annotations

import math
import re
from dataclasses import dataclass

from cakewright.errors import QuantityError
from cakewright.quantities import to_si

__all__ = ["Cell", "CellError", "cell_text", "column_letter", "heading", "number_in", "unit_in"]

Cell = str | float | None

_PLAIN = re.compile(r"[+-]?(\d+\.?\d*|\.\d+)([eE][+-]?\d+)?")
_COMMA = re.compile(r"[+-]?\d+,\d+")
_WITH_UNIT = re.compile(r"(?P<number>[+-]?(\d+\.?\d*|\.\d+)([eE][+-]?\d+)?)\s*(?P<unit>[^\d\s].*)")


@dataclass
class CellError(Exception):
    """What was got, what is allowed, what to try."""

    got: str
    allowed: str
    try_this: str


def cell_text(cell: Cell) -> str:
    """Cell as words."""
    if cell is None:
        return ""
    if isinstance(cell, float) and cell == int(cell):
        return str(int(cell))
    return str(cell).strip()


def column_letter(index: int) -> str:
    """Letter of a column, counted from 0."""
    letters = ""
    index += 1
    while index:
        index, rest = divmod(index - 1, 26)
        letters = chr(65 + rest) + letters
    return letters


def number_in(cell: Cell, *, decimal_comma: bool = False) -> tuple[float, str]:
    """Number of a cell and the unit written behind it; NaN for an empty cell.

    Raises
    ------
    CellError
        If the cell holds anything but a number.
    """
    if cell is None:
        return math.nan, ""
    if isinstance(cell, float | int) and not isinstance(cell, bool):
        return float(cell), ""
    text = str(cell).strip().replace("\u2212", "-")
    if decimal_comma and _COMMA.match(text):
        text = text.replace(",", ".", 1)
    if not text:
        return math.nan, ""
    if _PLAIN.fullmatch(text):
        return float(text), ""
    if _COMMA.match(text):
        raise CellError(
            f"{text!r}, a decimal comma (or a thousands comma: it cannot be told)",
            "a decimal point",
            "write 12.5 for 12,5, or add the row 'decimal, comma' to the head of the sheet",
        )
    match = _WITH_UNIT.fullmatch(text)
    if match and not text.lower().startswith(("nan", "inf")):
        return float(match["number"]), match["unit"].strip()
    raise CellError(f"text {text!r}", "a number", "put words into a column of their own")


def heading(text: str) -> tuple[str, str | None]:
    """Label and unit of a column head ``label [unit]``; unit None when none is written."""
    match = re.fullmatch(r"\s*(.*?)\s*\[(.*)\]\s*", text)
    return (match[1], match[2].strip()) if match else (text.strip(), None)


def unit_in(value: float, unit: str, si_unit: str) -> float:
    """Number in SI.

    Raises
    ------
    CellError
        If the unit is unknown or measures something else.
    """
    try:
        return float(to_si(value, unit or "1", si_unit))
    except QuantityError as error:
        raise CellError(f"unit {unit!r}", f"a unit of {si_unit}", str(error)) from None
