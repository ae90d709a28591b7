"""Exposure and noise limits with the body that sets them; the limit in force on site counts."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

from cakewright.quantities import Mark
from cakewright.reference import _tables
from cakewright.reference.rows import RowKind

__all__ = ["ExposureLimit", "exposure_limit", "exposure_limits"]


@dataclass(frozen=True, slots=True)
class ExposureLimit:
    """One limit as printed: ``mL/m3`` is parts per million by volume, ``dB(A)`` a noise level."""

    key: str
    hazard: str
    body: str
    figure: str
    value: float
    unit: str
    source: str
    conditions: str
    kind: RowKind

    @property
    def mark(self) -> Mark:
        """The mark that travels with the limit."""
        return self.kind.mark


@cache
def _limits() -> tuple[ExposureLimit, ...]:
    text = ("key", "hazard", "body", "figure", "unit", "source", "conditions")
    return tuple(
        ExposureLimit(
            **{name: cells[name] for name in text},
            value=float(cells["value"]),
            kind=RowKind(cells["kind"]),
        )
        for cells in _tables.csv_table("exposure_limits")
    )


def exposure_limits(hazard: str | None = None) -> tuple[ExposureLimit, ...]:
    """All limits, or those of one hazard (``hydrogen sulphide``, ``noise`` ...)."""
    return tuple(limit for limit in _limits() if hazard in (None, limit.hazard))


def exposure_limit(key: str) -> ExposureLimit:
    """One limit.

    Raises
    ------
    UnknownNameError
        If there is no such limit.
    """
    found = {limit.key: limit for limit in _limits()}
    if key not in found:
        raise _tables.unknown(key, found, "an exposure limit")
    return found[key]
