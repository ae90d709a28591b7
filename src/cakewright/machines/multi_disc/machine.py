"""The multi-disc screw press as one machine."""

from __future__ import annotations

from dataclasses import dataclass
from typing import final

from cakewright.machines.screw.machine import ScrewPress

__all__ = ["MACHINE", "MultiDiscScrewPress"]


@final
@dataclass(frozen=True, slots=True)
class MultiDiscScrewPress(ScrewPress):
    """Rings renew the drained face every turn: nothing blinds."""


MACHINE = MultiDiscScrewPress
