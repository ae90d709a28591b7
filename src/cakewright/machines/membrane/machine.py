"""The membrane press as one machine."""

from __future__ import annotations

from dataclasses import dataclass
from typing import final

from cakewright.machines.plates.machine import PlatePress

__all__ = ["MACHINE", "MembranePress"]


@final
@dataclass(frozen=True, slots=True)
class MembranePress(PlatePress):
    """Plates filled, then squeezed by membranes."""


MACHINE = MembranePress
