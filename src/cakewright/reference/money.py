"""Unit costs seen, with year and place, and the classes of cost estimate."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

from cakewright.quantities import Mark
from cakewright.reference import _tables
from cakewright.reference.rows import RowKind

__all__ = ["EstimateClass", "UnitCost", "estimate_class", "unit_cost", "unit_costs"]


@dataclass(frozen=True, slots=True)
class UnitCost:
    """One price in SI (``currency/kg``, ``currency/J``, ``currency/m3``), of one year and place."""

    key: str
    item: str
    low: float | None
    typical: float | None
    high: float | None
    unit: str
    printed_unit: str
    currency: str
    year: int
    place: str
    source: str
    conditions: str
    kind: RowKind

    @property
    def mark(self) -> Mark:
        """The mark that travels with the price."""
        return self.kind.mark


@dataclass(frozen=True, slots=True)
class EstimateClass:
    """Accuracy of one class of cost estimate, as shares of the estimate.

    The outer edges are published, the inner ones from memory.
    """

    number: int
    definition: tuple[float, float]
    low_outer: float
    low_inner: float
    high_inner: float
    high_outer: float
    use: str
    source: str
    inner_kind: RowKind


@cache
def unit_costs() -> tuple[UnitCost, ...]:
    """All prices seen."""
    found = []
    for cells in _tables.csv_table("unit_costs"):
        to_si = _tables.factor(cells["unit"])
        low, typical, high = (
            None if (value := _tables.number(cells[name])) is None else value * to_si
            for name in ("low", "typical", "high")
        )
        found.append(
            UnitCost(
                key=cells["key"],
                item=cells["item"],
                low=low,
                typical=typical,
                high=high,
                unit=_tables.si_unit(cells["unit"]),
                printed_unit=cells["unit"],
                currency=cells["currency"],
                year=int(cells["year"]),
                place=cells["place"],
                source=cells["source"],
                conditions=cells["conditions"],
                kind=RowKind(cells["kind"]),
            )
        )
    return tuple(found)


def unit_cost(key: str) -> UnitCost:
    """One price; a default only, the study's own price always wins.

    Raises
    ------
    UnknownNameError
        If there is no such price.
    """
    found = {cost.key: cost for cost in unit_costs()}
    if key not in found:
        raise _tables.unknown(key, found, "a unit cost")
    return found[key]


@cache
def estimate_class(number: int) -> EstimateClass:
    """Accuracy of class 5 (screening) to class 1 (check or bid).

    Raises
    ------
    UnknownNameError
        If there is no such class.

    Examples
    --------
    >>> estimate_class(3).low_outer, estimate_class(3).high_outer, estimate_class(3).use
    (-0.2, 0.3, 'budget')
    """
    found = {cells["estimate_class"]: cells for cells in _tables.csv_table("estimate_classes")}
    if str(number) not in found:
        raise _tables.unknown(str(number), found, "a class of cost estimate")
    cells = found[str(number)]
    share = {
        name: float(cells[name]) / 100.0
        for name in ("low_outer", "low_inner", "high_inner", "high_outer")
    }
    return EstimateClass(
        number=number,
        definition=(float(cells["definition_low"]) / 100, float(cells["definition_high"]) / 100),
        use=cells["use"],
        source=cells["source"],
        inner_kind=RowKind(cells["inner_kind"]),
        **share,
    )
