"""What both screw presses are as machines: their settings, path, map and limits."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Any, ClassVar

import numpy as np

from cakewright.machines.base import Machine, Setting
from cakewright.machines.goal import Goal
from cakewright.machines.interface import Floats, Frame
from cakewright.machines.plan import Plan
from cakewright.machines.press_priors import record_from
from cakewright.machines.pressed import Pressed
from cakewright.machines.pressing_path import PathResult, PressedSludge, PressLoad, columns_of
from cakewright.machines.screw.case import (
    ScrewSamples,
    back_pressures,
    has_screw,
    run_columns,
    screw_geometry,
    screw_speeds,
    warm_press,
)
from cakewright.machines.screw.path import (
    ScrewGeometry,
    ScrewOperation,
    ScrewParameters,
    ScrewProfile,
    screw_path,
    screw_profile,
    screw_sensitivities,
)
from cakewright.machines.screw.prediction import PressFindings, press_of
from cakewright.quantities import FloatArray
from cakewright.sludge import Feed, RunLoad

__all__ = ["ScrewPress"]

_SPEEDS, _PLATES = 4, 2
_NOTHING: Mapping[str, Floats] = MappingProxyType({})


@dataclass(frozen=True, slots=True)
class ScrewPress(Machine):
    """A screw in a drained barrel against a plate."""

    has_operating_map: ClassVar[bool] = True

    def predictable(self, frame: Frame) -> bool:
        """Whether the catalogue gives the screw's diameter and its drained length."""
        return has_screw(frame)

    def geometry(self, frame: Frame) -> ScrewGeometry:
        """Screw, barrel and drive of a frame."""
        return screw_geometry(frame)

    def warm(self) -> None:
        """Load the press program in the background: a short study is over before it compiles."""
        warm_press()

    def settings(self, frame: Frame) -> Mapping[str, Setting]:
        """Speed of the screw, back pressure at the plate, level over the crown."""
        window = self.window()
        low, high = screw_speeds(frame)
        open_, shut = back_pressures(window)
        level = window["level"]
        plate = float(np.sqrt(open_ * shut))
        return {
            "speed": Setting("speed", "1/s", low, 0.5 * (low + high), high),
            "back_pressure": Setting("back_pressure", "Pa", open_, plate, shut),
            "level": Setting("level", "m", level, level, level),
        }

    def _records(
        self, frame: Frame, settings: Mapping[str, Floats], parameters: Mapping[str, Floats]
    ) -> tuple[ScrewOperation, ScrewParameters, ScrewGeometry]:
        given = {name: one.typical for name, one in self.settings(frame).items()}
        typical = {name: one.typical for name, one in self.priors.items()}
        self._known("setting", settings, given)
        self._known("parameter", parameters, typical)
        return (
            ScrewOperation(**{**given, **settings}),
            record_from(ScrewParameters, {**typical, **parameters}),
            self.geometry(frame),
        )

    def pressed(
        self,
        frame: Frame,
        sludge: PressedSludge,
        load: PressLoad,
        settings: Mapping[str, Floats],
        parameters: Mapping[str, Floats],
    ) -> PathResult:
        """The path with every setting and parameter given."""
        return screw_path(sludge, load, *self._records(frame, settings, parameters))

    def tried(
        self,
        frame: Frame,
        sludge: PressedSludge,
        load: PressLoad,
        parameters: Mapping[str, FloatArray],
        held: Mapping[str, FloatArray] = MappingProxyType({}),
    ) -> list[PathResult]:
        """The path at a few speeds and plates, all in one run; ``held`` speeds where not NaN."""
        window = self.window()
        inputs: dict[str, Any] = {**columns_of(sludge), **columns_of(load), **parameters}
        size = np.broadcast_shapes(*(np.shape(values) for values in inputs.values()))[0]
        speeds = np.linspace(*screw_speeds(frame), _SPEEDS)
        plates = np.geomspace(*back_pressures(window), _PLATES + 1)
        grid = [(s, p) for s in speeds for p in plates[:_PLATES]]
        wide = {n: np.tile(np.broadcast_to(v, (size,)), len(grid)) for n, v in inputs.items()}
        stated = held.get("speed", np.full(size, np.nan))
        wide["speed"] = np.concatenate(
            [np.where(np.isfinite(stated), stated, speed) for speed, _ in grid]
        )
        wide["back_pressure"] = np.repeat([plate for _, plate in grid], size)
        wide["level"] = np.full(wide["speed"].size, window["level"])
        whole = run_columns(wide, self.geometry(frame))
        return [whole.part(at * size, (at + 1) * size) for at in range(len(grid))]

    def sensitivities(
        self,
        frame: Frame,
        sludge: PressedSludge,
        load: PressLoad,
        settings: Mapping[str, Floats] = _NOTHING,
        parameters: Mapping[str, Floats] = _NOTHING,
    ) -> dict[str, dict[str, float]]:
        """Exact derivative of every answer by every input at the first sample, SI."""
        return screw_sensitivities(sludge, load, *self._records(frame, settings, parameters))

    def profile(
        self,
        frame: Frame,
        sludge: PressedSludge,
        load: PressLoad,
        settings: Mapping[str, Floats] = _NOTHING,
        parameters: Mapping[str, Floats] = _NOTHING,
        sample: int = 0,
    ) -> ScrewProfile:
        """Along the barrel in one sample; raises InfeasibleError where it has no answer."""
        return screw_profile(sludge, load, *self._records(frame, settings, parameters), sample)

    def predict(
        self,
        plan: Plan,
        pressed: Pressed,
        feed: Feed,
        load: RunLoad,
        parameters: Mapping[str, FloatArray],
        goal: Goal,
    ) -> PressFindings:
        """Prediction with operating point, map, profile, levers and limits."""
        size = plan.figures["run_hours_per_day"].samples.size
        return press_of(ScrewSamples(size, feed, load, plan, pressed, parameters), goal)
