"""The signals a log may carry: unit, limits of the possible, usual uncertainty."""

from __future__ import annotations

import difflib
from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum
from functools import cache
from types import MappingProxyType
from typing import Any

from cakewright.errors import UnknownNameError
from cakewright.quantities import HouseName, Mark, house_name
from cakewright.quantities.tables import packaged_table

__all__ = ["SHAFTS", "Signal", "SignalKind", "signal", "signals", "state_words"]

SHAFTS = 8


class SignalKind(StrEnum):
    """How a signal comes about."""

    MEASURED = "measured"
    SETTING = "setting"
    LABORATORY = "laboratory"
    STATE = "state"


@dataclass(frozen=True, slots=True)
class Signal:
    """One signal; all numbers SI.

    ``stuck_minutes`` is the longest an unchanged reading is believed while the machine runs
    (0: for ever); ``relative`` and ``absolute`` add up in squares to the standard uncertainty.
    """

    key: str
    name: str
    label: str
    kind: SignalKind
    low: float
    high: float
    stuck_minutes: float
    relative: float = 0.0
    absolute: float = 0.0
    source: str = "JUDGEMENT"
    mark: Mark = Mark.JUDGEMENT

    @property
    def house(self) -> HouseName:
        """Entry of the name list that gives units and symbol."""
        return house_name(self.name)

    def uncertainty(self, value: float) -> float:
        """Standard uncertainty of one reading of this size."""
        return float((self.absolute**2 + (self.relative * value) ** 2) ** 0.5)


def _signal(key: str, entry: Mapping[str, Any], n: int | None = None) -> Signal:
    parts = dict(entry)
    label = str(parts.pop("label")).replace("{n}", str(n))
    kind = SignalKind(parts.pop("kind"))
    return Signal(key=key.replace("{n}", str(n)), label=label, kind=kind, **parts)


@cache
def signals() -> Mapping[str, Signal]:
    """All signals by key, in the order of the data file."""
    found: dict[str, Signal] = {}
    for key, entry in packaged_table("cakewright.running", "signals.toml").items():
        numbers = range(1, SHAFTS + 1) if "{n}" in key else (None,)
        for n in numbers:
            one = _signal(key, entry, n)
            found[one.key] = one
    return MappingProxyType(found)


def signal(key: str) -> Signal:
    """One signal.

    Raises
    ------
    UnknownNameError
        If the key is not a signal; names the nearest one.
    """
    known = signals()
    if key in known:
        return known[key]
    near = difflib.get_close_matches(key, known, n=1)
    hint = f"did you mean {near[0]!r}?" if near else f"known signals: {', '.join(known)}"
    raise UnknownNameError(f"{key!r} is not a signal of a log; {hint}")


@cache
def state_words() -> Mapping[bool, tuple[str, ...]]:
    """Words for running and for standing still in logs of several languages, in small letters."""
    table = packaged_table("cakewright.running", "vocabulary.toml")["states"]
    return MappingProxyType({True: tuple(table["on"]), False: tuple(table["off"])})
