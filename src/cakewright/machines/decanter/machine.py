"""The decanter as one machine: its settings and its path."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import final

import numpy as np

from cakewright.machines.base import Machine, Setting
from cakewright.machines.decanter.path import (
    DecanterGeometry,
    DecanterOperation,
    DecanterParameters,
    decanter_path,
    slowest_scroll,
)
from cakewright.machines.interface import Floats, Frame
from cakewright.machines.press_priors import record_from
from cakewright.machines.pressing_path import PathResult, PressedSludge, PressLoad
from cakewright.quantities import FloatArray
from cakewright.quantities.constants import GRAVITY

__all__ = ["MACHINE", "Decanter"]


@final
@dataclass(frozen=True, slots=True)
class Decanter(Machine):
    """A bowl and a scroll; field and bowl are the catalogue's, the shares of the bowl judgement."""

    def geometry(self, frame: Frame) -> DecanterGeometry:
        """Bowl, pond and scroll of a frame."""
        window = self.window()
        bowl, length = frame.bowl_diameter or 0.3, frame.bowl_length or 1.2
        return DecanterGeometry(
            bowl_diameter=bowl,
            clarifying_length=window["clarifying_share"] * length,
            pond_depth=window["pond_share"] * bowl,
            scroll_pitch=window["pitch_share"] * bowl,
        )

    def bowl_speed(self, frame: Frame) -> float:
        """Turns that give the field of the catalogue at the bowl's wall. [1/s]"""
        field = (frame.relative_force or 3000.0) * GRAVITY
        return float(np.sqrt(field / (0.5 * (frame.bowl_diameter or 0.3))) / (2.0 * np.pi))

    def settings(self, frame: Frame) -> Mapping[str, Setting]:
        """Speed of the bowl, and of the scroll against it."""
        speeds, bowl = self.window()["differential_speeds"], self.bowl_speed(frame)
        middle = speeds[len(speeds) // 2]
        return {
            "bowl_speed": Setting("bowl_speed", "1/s", bowl, bowl, bowl),
            "differential_speed": Setting(
                "differential_speed", "1/s", speeds[0], middle, speeds[-1]
            ),
        }

    def pressed(
        self,
        frame: Frame,
        sludge: PressedSludge,
        load: PressLoad,
        settings: Mapping[str, Floats],
        parameters: Mapping[str, Floats],
    ) -> PathResult:
        """The path with every setting and parameter given."""
        operation = DecanterOperation(**settings)
        machine = record_from(DecanterParameters, parameters)
        return decanter_path(sludge, load, operation, machine, self.geometry(frame))

    def tried(
        self,
        frame: Frame,
        sludge: PressedSludge,
        load: PressLoad,
        parameters: Mapping[str, FloatArray],
        held: Mapping[str, FloatArray] = MappingProxyType({}),
    ) -> list[PathResult]:
        """The scroll slowed until the bowl is full; ``held`` speeds where they are not NaN."""
        speeds, bowl = np.array(self.window()["differential_speeds"]), self.bowl_speed(frame)
        machine, geometry = record_from(DecanterParameters, parameters), self.geometry(frame)
        fastest = DecanterOperation(bowl, speeds[-1])
        speed = slowest_scroll(sludge, load, fastest, machine, geometry, speeds)
        if "differential_speed" in held:
            own = held["differential_speed"]
            speed = np.where(np.isfinite(own), own, speed)
        operation = DecanterOperation(bowl, speed)
        return [decanter_path(sludge, load, operation, machine, geometry)]


MACHINE = Decanter
