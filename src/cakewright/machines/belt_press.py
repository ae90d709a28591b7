"""Belt press."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import final

from cakewright.machines.capacity import capacity_continuous
from cakewright.machines.envelope import envelope
from cakewright.machines.interface import (
    Capacity,
    Duty,
    Floats,
    Frame,
    Kind,
    MachineType,
    Performance,
    Verdict,
)
from cakewright.machines.suitability import verdicts
from cakewright.sludge import Feed

__all__ = ["BeltPress"]


@final
@dataclass(frozen=True, slots=True)
class BeltPress(MachineType):
    """Belt press."""

    @property
    def kind(self) -> Kind:
        """Which kind."""
        return Kind.BELT_PRESS

    @property
    def label(self) -> str:
        """Its name in trade words."""
        return "belt press"

    @property
    def principle(self) -> str:
        """How it works."""
        return (
            "Two cloth belts carry the sludge through a gravity zone, a wedge and rollers; "
            "sprays wash the cloth all the time."
        )

    @property
    def batch(self) -> bool:
        """True when it works in cycles."""
        return False

    @property
    def shaft_service(self) -> bool:
        """True when one shaft can be serviced while the others run."""
        return False

    def verdicts(
        self, feed: Feed, duty: Duty, performance: Performance | None = None
    ) -> tuple[Verdict, ...]:
        """Every rule's answer on this feed and duty."""
        return verdicts(self.kind, feed, duty, performance)

    def performance(
        self, feed: Feed, duty: Duty, quantile: Floats | Mapping[str, Floats] = 0.5
    ) -> Performance:
        """Published envelope on this feed."""
        return envelope(self.kind, feed, duty, quantile)

    def capacity(self, frame: Frame, feed: Feed, duty: Duty, performance: Performance) -> Capacity:
        """What one machine of this frame can take on this feed."""
        return capacity_continuous(frame, feed, "solids limit moves with the loading table")
