"""One frame against a load: how many machines, what binds, and the figures that follow."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from cakewright.machines.interface import Capacity, Frame
from cakewright.quantities import Figure

__all__ = ["Plan"]


@dataclass(frozen=True, slots=True, eq=False)
class Plan:
    """One frame against this load: how many, what binds, and figures per house name.

    ``machines`` counts all, ``standby`` those beyond what the design week needs. ``figures`` are
    arrays over samples; empty when the frame does not do.
    """

    frame: Frame
    feasible: bool
    machines: int
    standby: int
    binding: str
    why: str
    figures: Mapping[str, Figure]
    capacity: Capacity
    chosen: bool = False

    @property
    def shafts(self) -> int:
        """Shafts of all machines together."""
        return self.machines * self.frame.shafts

    def performance_figures(self) -> tuple[Figure, ...]:
        """Figures that may take the place of the envelope's (`Performance.replaced`)."""
        names = ("specific_energy", "wash_water_specific", "sound_level")
        return tuple(self.figures[name] for name in names if name in self.figures)
