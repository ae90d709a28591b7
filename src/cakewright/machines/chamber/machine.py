"""The chamber press as one machine."""

from __future__ import annotations

from dataclasses import dataclass
from typing import final

from cakewright.machines.plates.machine import PlatePress

__all__ = ["MACHINE", "ChamberPress"]


@final
@dataclass(frozen=True, slots=True)
class ChamberPress(PlatePress):
    """Plates filled by the feed pump alone."""


MACHINE = ChamberPress
