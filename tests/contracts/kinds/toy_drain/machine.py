"""A toy drain as one machine: what it gives follows from one pull and one parameter."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import final

import numpy as np

from cakewright.machines.base import Machine, Setting
from cakewright.machines.interface import Floats, Frame
from cakewright.machines.pressing_path import (
    PathResult,
    PathStatus,
    PressedSludge,
    PressLoad,
    checked_columns,
    columns_of,
    path_result,
)
from cakewright.quantities import FloatArray

__all__ = ["MACHINE", "ToyDrain"]


@final
@dataclass(frozen=True, slots=True)
class ToyDrain(Machine):
    """The harder it is pulled the drier the cake, until the width is full."""

    def settings(self, frame: Frame) -> Mapping[str, Setting]:
        """The pull."""
        low, high = self.window()["pulls"]
        return {"pull": Setting("pull", "Pa", low, 0.5 * (low + high), high)}

    def pressed(
        self,
        frame: Frame,
        sludge: PressedSludge,
        load: PressLoad,
        settings: Mapping[str, Floats],
        parameters: Mapping[str, Floats],
    ) -> PathResult:
        """A cake that rises with the root of the pull; full at 100 g/s per metre."""
        x = checked_columns({**columns_of(sludge, load), **settings, **parameters})
        room = 0.1 * (frame.belt_width or 1.0) / x["dry_solids_flow"] - 1.0
        cake = 0.15 * x["grain"] * np.sqrt(x["pull"] / 1.5e4)
        status = np.where(room < 0.0, int(PathStatus.HYDRAULIC), int(PathStatus.ANSWER))
        one = np.ones_like(cake)
        figures = {
            "cake_solids": cake,
            "capture": 1.0 - x["fines_share"],
            "residence": 60.0 * one,
            "power": 500.0 * one,
        }
        return path_result(status, figures, {"hydraulic": room})

    def tried(
        self,
        frame: Frame,
        sludge: PressedSludge,
        load: PressLoad,
        parameters: Mapping[str, FloatArray],
        held: Mapping[str, FloatArray] = MappingProxyType({}),
    ) -> list[PathResult]:
        """Both ends of the window."""
        pulls = self.window()["pulls"]
        return [self.pressed(frame, sludge, load, {"pull": p}, parameters) for p in pulls]


MACHINE = ToyDrain
