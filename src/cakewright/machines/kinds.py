"""The kinds of machine there are, each composed of the same functions from a row of data."""

from __future__ import annotations

import difflib
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from types import MappingProxyType
from typing import final

from cakewright.errors import UnknownNameError
from cakewright.machines.capacity import capacity_continuous, capacity_plates
from cakewright.machines.envelope import envelope
from cakewright.machines.interface import (
    Capacity,
    Duty,
    Floats,
    Frame,
    Kind,
    Performance,
    Verdict,
)
from cakewright.machines.registry import data_of
from cakewright.machines.suitability import verdicts
from cakewright.sludge import Feed

__all__ = ["MachineType", "machine_type", "machine_types"]


@final
@dataclass(frozen=True, slots=True)
class MachineType:
    """One kind of machine. Knowledge lives in functions and data; a kind composes them.

    ``label`` is its name in trade words, ``principle`` how it works; ``batch`` is True when it
    works in cycles, ``shaft_service`` when one shaft can be serviced while the others run;
    ``note`` says how its rated limits are to be read.
    """

    kind: Kind
    label: str
    principle: str
    batch: bool
    shaft_service: bool
    note: str = ""

    def verdicts(
        self, feed: Feed, duty: Duty, performance: Performance | None = None
    ) -> tuple[Verdict, ...]:
        """Every rule's answer on this feed and duty."""
        return verdicts(self.kind, feed, duty, performance)

    def performance(
        self, feed: Feed, duty: Duty, quantile: Floats | Mapping[str, Floats] = 0.5
    ) -> Performance:
        """Published envelope on this feed, at a quantile per sample (0.5: typical).

        A mapping gives each figure its own quantiles; figures left out stay typical.
        """
        return envelope(self.kind, feed, duty, quantile)

    def capacity(self, frame: Frame, feed: Feed, duty: Duty, performance: Performance) -> Capacity:
        """What one machine of this frame can take on this feed."""
        if self.batch:
            return capacity_plates(frame, feed, duty, performance)
        return capacity_continuous(frame, feed, self.note)


@cache
def machine_types() -> Mapping[Kind, MachineType]:
    """Every kind, in the order in which they are compared."""
    types = [_type(kind) for kind in Kind]
    return MappingProxyType({one.kind: one for one in types})


def _type(kind: Kind) -> MachineType:
    row = data_of(kind, "kind.toml")
    names = ("label", "principle", "batch", "shaft_service", "note")
    return MachineType(kind, **{name: row[name] for name in names})


def machine_type(name: str) -> MachineType:
    """One kind by its key.

    Raises
    ------
    UnknownNameError
        If there is no such kind; names the nearest one.
    """
    if name in set(Kind):
        return machine_types()[Kind(name)]
    near = difflib.get_close_matches(name, [kind.value for kind in Kind], n=1)
    hint = f"did you mean {near[0]!r}?" if near else f"known: {', '.join(Kind)}"
    raise UnknownNameError(f"{name!r} is not a kind of machine; {hint}")
