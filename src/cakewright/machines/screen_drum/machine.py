"""The screen-drum screw press as one machine."""

from __future__ import annotations

from dataclasses import dataclass
from typing import final

from cakewright.machines.screw.machine import ScrewPress

__all__ = ["MACHINE", "ScreenDrumScrewPress"]


@final
@dataclass(frozen=True, slots=True)
class ScreenDrumScrewPress(ScrewPress):
    """The flight alone renews the face of a fixed screen; only the parameters differ."""


MACHINE = ScreenDrumScrewPress
