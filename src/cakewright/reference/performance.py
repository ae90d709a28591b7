"""Published, recalled and judged performance of dewatering machines, row by row."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache

from cakewright.quantities import Mark
from cakewright.reference import _tables
from cakewright.reference.rows import RowKind

__all__ = ["PerformanceRow", "envelope_rows", "performance_rows"]


@dataclass(frozen=True, slots=True)
class PerformanceRow:
    """One figure in coherent SI; what the source does not give is None.

    ``sludge`` is the word of the source, ``on`` what the figure is counted on,
    ``conditioning`` what the sludge was conditioned with as far as the source says,
    ``based_on`` the source ids behind a judgement.
    """

    row: str
    machine: str
    sludge: str
    quantity: str
    low: float | None
    typical: float | None
    high: float | None
    unit: str
    printed_unit: str
    on: str
    source: str
    where: str
    conditions: str
    conditioning: str
    kind: RowKind
    based_on: tuple[str, ...]

    @property
    def mark(self) -> Mark:
        """The mark that travels with the figure."""
        return self.kind.mark

    @property
    def given(self) -> tuple[float, ...]:
        """The numbers the row does give, low to high."""
        return tuple(x for x in (self.low, self.typical, self.high) if x is not None)


_WORDS = ("row", "machine", "sludge", "quantity", "on", "conditioning")


def _performance_row(cells: Mapping[str, str]) -> PerformanceRow:
    to_si = _tables.factor(cells["unit"])
    low, typical, high = (
        None if (value := _tables.number(cells[name])) is None else value * to_si
        for name in ("low", "typical", "high")
    )
    text = {name: cells[name] for name in _WORDS}
    return PerformanceRow(
        **text,
        low=low,
        typical=typical,
        high=high,
        unit=_tables.si_unit(cells["unit"]),
        printed_unit=cells["unit"],
        source=cells["source"],
        where=cells["where"],
        conditions=cells["conditions"],
        kind=RowKind(cells["kind"]),
        based_on=tuple(cells["based_on"].split()),
    )


@cache
def _all(table: str) -> tuple[PerformanceRow, ...]:
    return tuple(_performance_row(cells) for cells in _tables.csv_table(table))


def performance_rows(
    machine: str | None = None, sludge: str | None = None, quantity: str | None = None
) -> tuple[PerformanceRow, ...]:
    """Rows as read, recalled and judged, in the words of the sources; None takes all.

    Examples
    --------
    >>> [row.source for row in performance_rows("belt_press", "was", "cake_ts")]
    ['P07', 'P04', 'MEM', 'JUDGEMENT']
    """
    return tuple(
        row
        for row in _all("performance")
        if machine in (None, row.machine)
        and sludge in (None, row.sludge)
        and quantity in (None, row.quantity)
    )


def envelope_rows() -> tuple[PerformanceRow, ...]:
    """Our own starting envelopes, where published rows are missing or name one site only."""
    return _all("envelopes")
