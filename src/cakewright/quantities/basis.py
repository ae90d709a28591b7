"""How well a number is known: its basis, its mark, and a value as it was given."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from enum import StrEnum

__all__ = ["Basis", "Given", "Mark", "weakest"]


class Basis(StrEnum):
    """Where a number comes from, strongest first."""

    MEASURED = "measured"
    BENCH = "bench"
    PUBLISHED = "published"
    PRACTICE = "practice"
    ASSUMED = "assumed"


class Mark(StrEnum):
    """A warning that travels with a number into every output."""

    NONE = ""
    JUDGEMENT = "judgement"
    FROM_MEMORY = "from memory"
    INVENTED = "invented"


@dataclass(frozen=True, slots=True)
class Given:
    """One value as it entered: SI number, spread, basis and where it is from.

    ``low`` and ``high`` are the 10 % and 90 % points of what the giver believes; equal to
    ``value`` (or None) when no spread was given. ``default`` is True when the user gave nothing.
    """

    name: str
    value: float
    basis: Basis = Basis.ASSUMED
    mark: Mark = Mark.NONE
    source: str | None = None
    note: str = ""
    low: float | None = None
    high: float | None = None
    default: bool = False
    where: str = ""
    as_written: str = ""

    @property
    def has_spread(self) -> bool:
        """True when the value is a band rather than a point."""
        return self.low is not None and self.high is not None and self.low < self.high


_ORDER = list(Basis)


def weakest(bases: Iterable[Basis]) -> Basis:
    """Weakest of several bases: a result is no better known than its poorest input."""
    return max(bases, key=_ORDER.index, default=Basis.ASSUMED)
