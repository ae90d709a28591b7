"""What both plate presses are as machines: their settings, path and cycle."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

import numpy as np

from cakewright.machines.base import Machine, Setting
from cakewright.machines.interface import Capacity, Duty, Floats, Frame, Performance
from cakewright.machines.plates.cycle_figures import plate_cycle
from cakewright.machines.plates.path import (
    ChamberGeometry,
    ChamberOperation,
    ChamberParameters,
    chamber_path,
)
from cakewright.machines.plates.rated import capacity_plates
from cakewright.machines.prediction import Cycle
from cakewright.machines.press_priors import record_from
from cakewright.machines.pressed import Pressed
from cakewright.machines.pressing_path import PathResult, PressedSludge, PressLoad
from cakewright.quantities import FloatArray
from cakewright.sludge import Feed

__all__ = ["PlatePress"]

_UNITS = {
    "feed_pressure": "Pa",
    "membrane_pressure": "Pa",
    "squeeze_end_flux": "m/s",
    "initial_fill_time": "s",
    "longest_filling": "s",
    "squeeze_time": "s",
    "core_blow_time": "s",
    "discharge_time": "s",
    "wash_time": "s",
}


@dataclass(frozen=True, slots=True)
class PlatePress(Machine):
    """Filling, squeeze and the time of a cycle; pressures, pump and pauses are judgement."""

    def geometry(self, frame: Frame) -> ChamberGeometry:
        """Filter area and depth of the chambers, from area and volume of the catalogue."""
        area, volume = frame.filter_area or 1.0, frame.chamber_volume or 0.016
        return ChamberGeometry(area, 2.0 * volume / area)

    def settings(self, frame: Frame) -> Mapping[str, Setting]:
        """Pressures, ends and times of the cycle; each as it is run (judgement)."""
        window = self.window()
        return {
            name: Setting(name, _UNITS.get(name, "1"), window[name], window[name], window[name])
            for name in ChamberOperation.__dataclass_fields__
        }

    def capacity(self, frame: Frame, feed: Feed, duty: Duty, performance: Performance) -> Capacity:
        """Sludge solids per cycle over the published cycle time."""
        return capacity_plates(frame, feed, duty, performance)

    def pressed(
        self,
        frame: Frame,
        sludge: PressedSludge,
        load: PressLoad,
        settings: Mapping[str, Floats],
        parameters: Mapping[str, Floats],
    ) -> PathResult:
        """The path with every setting and parameter given."""
        operation = ChamberOperation(**settings)
        machine = record_from(ChamberParameters, parameters)
        return chamber_path(sludge, load, operation, machine, self.geometry(frame))

    def tried(
        self,
        frame: Frame,
        sludge: PressedSludge,
        load: PressLoad,
        parameters: Mapping[str, FloatArray],
        held: Mapping[str, FloatArray] = MappingProxyType({}),
    ) -> list[PathResult]:
        """The path as the press is run: one way; ``held`` settings where they are not NaN."""
        settings: dict[str, Floats] = {n: s.typical for n, s in self.settings(frame).items()}
        for name in set(held) & set(settings):
            settings[name] = np.where(np.isfinite(held[name]), held[name], settings[name])
        return [self.pressed(frame, sludge, load, settings, parameters)]

    def cycle(self, result: PathResult, pressed: Pressed, running: FloatArray) -> Cycle | None:
        """Times, cake and throughput of the cycle; None where the point case has no answer."""
        return plate_cycle(result, pressed, running)
