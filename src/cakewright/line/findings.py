"""What the design found: each with what was got, what is allowed, why, and what to change."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from enum import StrEnum

__all__ = ["Finding", "Severity", "binding"]


class Severity(StrEnum):
    """How much a finding weighs, heaviest first."""

    INFEASIBLE = "infeasible"
    CHANGE = "change"
    CAUTION = "caution"


@dataclass(frozen=True, slots=True)
class Finding:
    """One finding of the design.

    ``key`` is stable (``pipe.velocity_low``); ``item`` is the tag it belongs to; ``margin`` is
    how far beyond the limit, as a ratio, so that the worst of several can be named.
    """

    key: str
    severity: Severity
    item: str
    got: str
    allowed: str
    why: str
    change: str
    source: str = "OWN"
    margin: float = 0.0

    def __str__(self) -> str:
        return (
            f"{self.item}: got {self.got}; allowed: {self.allowed}; why: {self.why}; "
            f"change: {self.change}"
        )


def binding(findings: Iterable[Finding]) -> Finding | None:
    """The infeasible finding furthest beyond its limit, or None when the line can work."""
    stops = [f for f in findings if f.severity is Severity.INFEASIBLE]
    return max(stops, key=lambda f: f.margin, default=None)
