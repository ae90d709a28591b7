"""One figure of a table: low, typical, high, where it was read and how far it can be trusted."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum
from functools import cache
from types import MappingProxyType

from cakewright.quantities import Basis, Mark
from cakewright.reference import _tables

__all__ = ["Row", "RowKind", "peaking"]


class RowKind(StrEnum):
    """How a figure came into a table."""

    PUBLISHED = "published"
    PRACTICE = "practice"
    JUDGEMENT = "judgement"
    PROXY = "proxy"
    FROM_MEMORY = "from memory"

    @property
    def mark(self) -> Mark:
        """The mark that travels with the figure."""
        return _MARKS[self]

    @property
    def basis(self) -> Basis:
        """The basis of the figure."""
        return _BASES[self]


_MARKS = {
    RowKind.PUBLISHED: Mark.NONE,
    RowKind.PRACTICE: Mark.NONE,
    RowKind.JUDGEMENT: Mark.JUDGEMENT,
    RowKind.PROXY: Mark.JUDGEMENT,
    RowKind.FROM_MEMORY: Mark.FROM_MEMORY,
}
_BASES = {
    RowKind.PUBLISHED: Basis.PUBLISHED,
    RowKind.PRACTICE: Basis.PRACTICE,
    RowKind.JUDGEMENT: Basis.ASSUMED,
    RowKind.PROXY: Basis.ASSUMED,
    RowKind.FROM_MEMORY: Basis.ASSUMED,
}


@dataclass(frozen=True, slots=True)
class Row:
    """One figure in coherent SI; an end or middle that the source does not give is None.

    ``unit`` is the SI unit, ``printed_unit`` the one of the data file.
    """

    key: str
    item: str
    low: float | None
    typical: float | None
    high: float | None
    unit: str
    printed_unit: str
    source: str
    where: str
    conditions: str
    kind: RowKind

    @property
    def mark(self) -> Mark:
        """The mark that travels with the figure."""
        return self.kind.mark

    @property
    def middle(self) -> float:
        """The typical value, else the middle of the band, else its one given end."""
        if self.typical is not None:
            return self.typical
        ends = [end for end in (self.low, self.high) if end is not None]
        return sum(ends) / len(ends)


def _row(cells: Mapping[str, str]) -> Row:
    to_si = _tables.factor(cells["unit"])
    low, typical, high = (
        None if (value := _tables.number(cells[name])) is None else value * to_si
        for name in ("low", "typical", "high")
    )
    return Row(
        key=cells["key"],
        item=cells["item"],
        low=low,
        typical=typical,
        high=high,
        unit=_tables.si_unit(cells["unit"]),
        printed_unit=cells["unit"],
        source=cells["source"],
        where=cells["where"],
        conditions=cells["conditions"],
        kind=RowKind(cells["kind"]),
    )


@cache
def _peaks() -> Mapping[str, Row]:
    return MappingProxyType({cells["key"]: _row(cells) for cells in _tables.csv_table("peaking")})


def peaking(key: str) -> Row:
    """Peak over annual mean of the sludge mass: ``peak_month``, ``peak_week``, ``peak_day``.

    Raises
    ------
    UnknownNameError
        If the table has no such row; names the nearest one.
    """
    if key not in _peaks():
        raise _tables.unknown(key, _peaks(), "a row of peaking")
    return _peaks()[key]
