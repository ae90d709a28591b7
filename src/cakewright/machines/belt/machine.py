"""The belt press as one machine: its settings and its path."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import final

import numpy as np

from cakewright.machines.base import Machine, Setting
from cakewright.machines.belt.path import BeltGeometry, BeltOperation, BeltParameters, belt_path
from cakewright.machines.interface import Floats, Frame
from cakewright.machines.press_priors import record_from
from cakewright.machines.pressing_path import PathResult, PressedSludge, PressLoad
from cakewright.quantities import FloatArray

__all__ = ["MACHINE", "BeltPress"]


@final
@dataclass(frozen=True, slots=True)
class BeltPress(Machine):
    """Gravity zone, wedge and rollers; the zones and rollers of a frame are judgement."""

    def geometry(self, frame: Frame) -> BeltGeometry:
        """Zones and rollers of a frame: its width is the catalogue's, the rest is judgement."""
        window = self.window()
        radii = tuple(window["roller_radii"])
        return BeltGeometry(
            width=frame.belt_width or 1.0,
            gravity_length=window["gravity_length"],
            wedge_length=window["wedge_length"],
            roller_radii=radii,
            contact_lengths=tuple(2.0 * np.pi * r * window["wrapped_share"] for r in radii),
            rest_lengths=(window["rest_length"],) * len(radii),
        )

    def settings(self, frame: Frame) -> Mapping[str, Setting]:
        """Speed and tension of the belt, and what it has pressed since it was washed."""
        window = self.window()
        speeds, tension = window["belt_speeds"], window["belt_tension"]
        middle = speeds[len(speeds) // 2]
        return {
            "belt_speed": Setting("belt_speed", "m/s", speeds[0], middle, speeds[-1]),
            "belt_tension": Setting("belt_tension", "N/m", tension, tension, tension),
            "solids_since_wash": Setting("solids_since_wash", "kg/m2", 0.0, 0.0, np.inf),
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
        operation, machine = BeltOperation(**settings), record_from(BeltParameters, parameters)
        return belt_path(sludge, load, operation, machine, self.geometry(frame))

    def tried(
        self,
        frame: Frame,
        sludge: PressedSludge,
        load: PressLoad,
        parameters: Mapping[str, FloatArray],
        held: Mapping[str, FloatArray] = MappingProxyType({}),
    ) -> list[PathResult]:
        """The path at each belt speed; ``held`` speeds where they are not NaN."""
        window, geometry = self.window(), self.geometry(frame)
        machine = record_from(BeltParameters, parameters)
        found = []
        for one in window["belt_speeds"]:
            speed = (
                one
                if "belt_speed" not in held
                else np.where(np.isfinite(held["belt_speed"]), held["belt_speed"], one)
            )
            # washed on every turn: the cloth carries the solids of one turn
            since = load.dry_solids_flow / (speed * geometry.width)
            operation = BeltOperation(speed, window["belt_tension"], since)
            found.append(belt_path(sludge, load, operation, machine, geometry))
        return found


MACHINE = BeltPress
