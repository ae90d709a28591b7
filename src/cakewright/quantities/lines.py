"""Calculation lines: a result's formula with its numbers, shown the same everywhere."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

__all__ = ["CalculationLine", "Status", "Term"]


class Status(StrEnum):
    """Whether a formula was used where its source says it holds."""

    INSIDE = "inside"
    EXTRAPOLATED = "extrapolated"
    NO_RANGE = "no range stated"


@dataclass(frozen=True, slots=True)
class Term:
    """One number put into a formula: symbol, SI value, house name (for the unit) and basis."""

    symbol: str
    value: float
    name: str
    basis: str = ""


@dataclass(frozen=True, slots=True)
class CalculationLine:
    """symbol = formula = numbers = result [unit], with source, valid range and status.

    ``key`` is unique and stable (``feed.dry_solids_flow``), so that a figure on a page can point
    to its line; ``formula`` is plain text with the symbols of ``terms`` and gives ``result`` (SI)
    from them: it is recomputed by annex, workbook and a contract test.
    ``name`` is the house name of the result. Where no closed formula exists (a table looked up, a
    model marched) ``model`` says in words what gave the result, and ``formula`` is empty.
    """

    key: str
    chapter: str
    title: str
    symbol: str
    formula: str
    terms: tuple[Term, ...]
    result: float
    name: str
    source: str
    valid: str = ""
    status: Status = Status.NO_RANGE
    note: str = ""
    mark: str = ""
    model: str = ""
