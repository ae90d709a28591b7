"""Bands of the velocity gradient, time and their product for mixing and flocculation."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

from cakewright.quantities import Mark
from cakewright.reference import _tables
from cakewright.reference.rows import RowKind

__all__ = ["MixingBand", "mixing_band", "mixing_bands"]


@dataclass(frozen=True, slots=True)
class MixingBand:
    """Low and high of the gradient [1/s], time [s] and Camp number [1]; None = not given."""

    key: str
    use: str
    gradient: tuple[float | None, float | None]
    time: tuple[float | None, float | None]
    camp: tuple[float | None, float | None]
    source: str
    where: str
    conditions: str
    kind: RowKind

    @property
    def mark(self) -> Mark:
        """The mark that travels with the band."""
        return self.kind.mark


@cache
def mixing_bands() -> tuple[MixingBand, ...]:
    """All bands."""
    n = _tables.number
    return tuple(
        MixingBand(
            key=c["key"],
            use=c["use"],
            gradient=(n(c["gradient_low"]), n(c["gradient_high"])),
            time=(n(c["time_s_low"]), n(c["time_s_high"])),
            camp=(n(c["camp_low"]), n(c["camp_high"])),
            source=c["source"],
            where=c["where"],
            conditions=c["conditions"],
            kind=RowKind(c["kind"]),
        )
        for c in _tables.csv_table("mixing_bands")
    )


def mixing_band(key: str) -> MixingBand:
    """One band.

    Raises
    ------
    UnknownNameError
        If there is no such band.
    """
    found = {band.key: band for band in mixing_bands()}
    if key not in found:
        raise _tables.unknown(key, found, "a mixing band")
    return found[key]
