"""Global warming potentials over a hundred years, by assessment report."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

from cakewright.quantities import Mark
from cakewright.reference import _tables
from cakewright.reference.rows import RowKind

__all__ = ["WarmingPotentials", "warming_potentials"]


@dataclass(frozen=True, slots=True)
class WarmingPotentials:
    """Carbon-dioxide equivalents per mass of methane and nitrous oxide [kg/kg]."""

    report: str
    methane: float
    nitrous_oxide: float
    source: str
    kind: RowKind

    @property
    def mark(self) -> Mark:
        """The mark that travels with the set."""
        return self.kind.mark


@cache
def warming_potentials(report: str = "AR6") -> WarmingPotentials:
    """The set of one assessment report: ``SAR``, ``AR4``, ``AR5`` or ``AR6``.

    Raises
    ------
    UnknownNameError
        If there is no such report.

    Examples
    --------
    >>> warming_potentials("AR5").methane, warming_potentials("AR5").mark.value
    (28.0, 'from memory')
    """
    found = {cells["report"]: cells for cells in _tables.csv_table("warming_potentials")}
    if report not in found:
        raise _tables.unknown(report, found, "an assessment report")
    cells = found[report]
    return WarmingPotentials(
        report=report,
        methane=float(cells["methane"]),
        nitrous_oxide=float(cells["nitrous_oxide"]),
        source=cells["source"],
        kind=RowKind(cells["kind"]),
    )
