"""Design coefficients of the line: each with its range, source and mark, each replaceable."""

from __future__ import annotations

import difflib
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from types import MappingProxyType
from typing import Any

from cakewright.errors import OutOfRangeError, UnknownNameError
from cakewright.quantities import Basis, Given, Mark
from cakewright.quantities.tables import packaged_table

__all__ = ["ProductForm", "RuleBook", "mark_of", "practice", "product_form", "rule_book"]

_MARKS = {"MEM": Mark.FROM_MEMORY, "JUDGEMENT": Mark.JUDGEMENT}


def mark_of(source: str) -> Mark:
    """The warning that belongs to a source id."""
    return _MARKS.get(source, Mark.NONE)


def _basis_of(source: str) -> Basis:
    if source in ("MEM", "JUDGEMENT"):
        return Basis.ASSUMED
    return Basis.PRACTICE if source in ("PRACTICE", "OWN") else Basis.PUBLISHED


def _data(name: str) -> dict[str, Any]:
    return packaged_table("cakewright.line", "data", name)


@cache
def practice() -> Mapping[str, Given]:
    """Every design coefficient with its default, in the SI unit of its house name."""
    return MappingProxyType(
        {
            name: Given(
                name=name,
                value=float(row["value"]),
                basis=_basis_of(row["source"]),
                mark=mark_of(row["source"]),
                source=row["source"],
                low=float(row["low"]),
                high=float(row["high"]),
                default=True,
                where="line practice table",
            )
            for name, row in _data("practice.toml").items()
        }
    )


@dataclass(frozen=True, slots=True)
class RuleBook:
    """The coefficients in force; ``book["name"]`` is the SI value."""

    table: Mapping[str, Given]

    def __getitem__(self, name: str) -> float:
        """SI value of one coefficient."""
        return self.table[name].value

    def source(self, name: str) -> str:
        """Source id of one coefficient."""
        return self.table[name].source or "OWN"

    def mark(self, name: str) -> Mark:
        """Warning that belongs to one coefficient."""
        return self.table[name].mark


def rule_book(overrides: Mapping[str, Given | float]) -> RuleBook:
    """The coefficients with the study's own values put in.

    Raises
    ------
    UnknownNameError
        If an override names no coefficient; names the nearest one.
    OutOfRangeError
        If a value is not a finite number >= 0.
    """
    table = dict(practice())
    for name, value in overrides.items():
        if name not in table:
            near = difflib.get_close_matches(name, table, n=1)
            hint = f"did you mean {near[0]!r}?" if near else "see the practice table of the line"
            raise UnknownNameError(f"{name!r} is not a design coefficient of the line; {hint}")
        given = value if isinstance(value, Given) else Given(name, float(value), note="set here")
        if not 0 <= given.value < float("inf"):
            raise OutOfRangeError(
                f"{name}: got {given.value:g}; allowed: a finite number >= 0; "
                f"the usual value is {table[name].value:g} (SI)"
            )
        table[name] = given
    return RuleBook(MappingProxyType(table))


@dataclass(frozen=True, slots=True)
class ProductForm:
    """How one form of conditioner is supplied and made down; strengths are active mass shares."""

    name: str
    label: str
    activity: float
    activity_source: str
    stock: float
    stock_low: float
    stock_high: float
    stock_source: str
    final: float
    final_source: str
    ageing: float
    ageing_low: float
    ageing_high: float
    ageing_source: str
    life: float
    life_source: str
    liquid: bool


@cache
def product_form(name: str) -> ProductForm:
    """One product form.

    Raises
    ------
    UnknownNameError
        If there is no such form.
    """
    table = _data("forms.toml")
    if name not in table:
        raise UnknownNameError(f"{name!r} is not a product form; known: {', '.join(table)}")
    return ProductForm(name=name, **table[name])
