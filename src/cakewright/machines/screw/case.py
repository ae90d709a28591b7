"""A screw press of a study over samples: every input as a column, any of them changed at will."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

import numpy as np
import numpy.typing as npt

from cakewright.errors import InfeasibleError
from cakewright.machines.interface import Frame, Kind
from cakewright.machines.plan import Plan
from cakewright.machines.press_priors import parameter_priors, record_from
from cakewright.machines.pressed import Pressed
from cakewright.machines.pressing_path import PathResult, PressedSludge, PressLoad
from cakewright.machines.registry import data_of
from cakewright.machines.screw.path import (
    ScrewGeometry,
    ScrewOperation,
    ScrewParameters,
    ScrewProfile,
    screw_columns,
    screw_path,
    screw_profile,
    settled_columns,
)
from cakewright.machines.warming import await_warm, warm
from cakewright.quantities import FloatArray
from cakewright.sludge import Feed, RunLoad

if TYPE_CHECKING:
    from cakewright.machines.screw.root import Resolution

__all__ = [
    "CHUNK",
    "ScrewSamples",
    "back_pressures",
    "has_screw",
    "run_columns",
    "run_raw",
    "screw_geometry",
    "screw_speeds",
    "warm_press",
]

CHUNK = 128  # one batch size for the whole job: one program to trace and load
_MOST_UNTESTED = 256
# cells and steps, fine and coarse, and searches: of 2000 prior draws every one ends in the same
# status as the finest and 99 of 100 cakes lie within 0.5 %, at a third of the time
_RESOLUTION = (16, 24, 4, 4)
_FITTING = (12, 16, 4, 4)

Columns = dict[str, FloatArray]
Picks = npt.NDArray[np.int_]


def has_screw(frame: Frame) -> bool:
    """Whether the catalogue tells enough of a frame for the screw path."""
    return frame.screw_diameter is not None and frame.drained_length is not None


def screw_geometry(frame: Frame, shafts: int = 0) -> ScrewGeometry:
    """Geometry of a frame for the screw path, with all its shafts or so many.

    Raises
    ------
    InfeasibleError
        If the catalogue gives no screw for this frame.
    """
    if frame.screw_diameter is None or frame.drained_length is None:
        raise InfeasibleError(
            f"frame {frame.name}: the catalogue gives no screw diameter or drained length, so the "
            "press cannot be predicted; add them to the catalogue"
        )
    d = frame.screw_diameter
    opening = frame.ring_gap or frame.screen_aperture or 0.5e-3
    return ScrewGeometry(
        screw_diameter=d,
        drained_length=frame.drained_length,
        core_diameter=(d * (frame.core_ratio_inlet or 0.45), d * (frame.core_ratio_outlet or 0.65)),
        pitch=(d * (frame.pitch_ratio_inlet or 0.8), d * (frame.pitch_ratio_outlet or 0.4)),
        ring_gap=opening,
        shafts=shafts or frame.shafts,
        rated_torque=frame.rated_torque or np.inf,
    )


def screw_speeds(frame: Frame) -> tuple[float, float]:
    """Slowest and fastest screw speed of a frame [1/s]."""
    return frame.speed_low or 1 / 60, frame.speed_high or 5 / 60


def back_pressures(window: Mapping[str, Any]) -> tuple[float, float]:
    """Least and most back pressure of a kind's table of settings [Pa]."""
    return window["back_pressure_low"], window["back_pressure_high"]


def warm_press() -> None:
    """Load the press program in the background: a short study is over before it is compiled."""
    warm("screw", _typical)


def _typical() -> PathResult:
    """One batch of a typical press: its numbers do not matter, its size does."""
    one = np.ones(CHUNK)
    sludge = PressedSludge(one * 1350.0, 0.02, 300.0, 3.5, 1e10, 0.8, 0.5, 0.03)
    settings = ScrewOperation(one * 0.05, 2e4)
    middle = parameter_priors(Kind.MULTI_DISC_SCREW_PRESS)
    parameters = record_from(ScrewParameters, {k: one * p.typical for k, p in middle.items()})
    geometry = ScrewGeometry(0.2, 1.2, (0.09, 0.13), (0.16, 0.08))
    load = PressLoad(one * 2e-3, 0.02)
    how = _resolution()
    return screw_path(sludge, load, settings, parameters, geometry, how, CHUNK)


def _resolution() -> Resolution:
    from cakewright.machines.screw.program import FINE
    from cakewright.machines.screw.root import Resolution

    return Resolution(*_RESOLUTION, fused=FINE.fused)


def run_columns(columns: Mapping[str, FloatArray], geometry: ScrewGeometry) -> PathResult:
    """The screw path on columns named as the fields of its records.

    Cells and steps keep the cake within 0.5 % of the refined one: far below every band.
    """
    await_warm("screw")

    return screw_columns({"oil_share": 0.0, **columns}, geometry, _resolution(), CHUNK)


def run_raw(columns: Mapping[str, FloatArray], geometry: ScrewGeometry) -> Columns:
    """Every number of the path, also beyond its limits: for fitting, never for showing.

    Coarser than what is shown: 99 of 100 cakes within 0.8 %, far below the error a fit allows the
    path, at two thirds of the time.
    """
    from cakewright.machines.screw.program import FINE
    from cakewright.machines.screw.root import Resolution

    how = Resolution(*_FITTING, fused=FINE.fused)
    return settled_columns(columns, geometry, how, CHUNK)


class ScrewSamples:
    """Inputs of the path over samples; sample 0 is the point case.

    The load is the mean while running, shared by the machines that run.
    """

    def __init__(
        self,
        size: int,
        feed: Feed,
        load: RunLoad,
        plan: Plan,
        pressed: Pressed,
        parameters: Mapping[str, FloatArray],
    ) -> None:
        self.plan, self.pressed, self.kind = plan, pressed, plan.frame.machine
        self.window = data_of(self.kind, "settings.toml")
        # By a prior alone the prediction stands beside the band: fewer samples show it.
        self.count = size if pressed.tested else min(size, _MOST_UNTESTED + 1)
        self.running = plan.machines - plan.standby
        self.geometry = screw_geometry(plan.frame)
        hours = plan.figures["run_hours_per_day"].samples
        solids = load.dry_solids_flow * load.hours_per_day / hours / self.running
        law = {n: getattr(pressed.sludge, n) for n in PressedSludge.__dataclass_fields__}
        self.inputs = {
            name: np.array(np.broadcast_to(values, (size,))[: self.count], dtype=float)
            for name, values in {
                **law,
                "dry_solids_flow": solids,
                "feed_solids": feed.mix.total_solids,
                "fines_share": pressed.fines_share,
                "level": self.window["level"],
                **{n: parameters[n] for n in ScrewParameters.__dataclass_fields__},
            }.items()
        }

    @property
    def speeds(self) -> tuple[float, float]:
        """Slowest and fastest screw speed of the frame [1/s]."""
        return screw_speeds(self.plan.frame)

    @property
    def plates(self) -> tuple[float, float]:
        """Least and most back pressure [Pa]."""
        return back_pressures(self.window)

    @property
    def hardest_planned(self) -> float:
        """The hardest plate is kept for bad days: two thirds up the window on its log scale."""
        low, high = self.plates
        return float(low * (high / low) ** 0.67)

    def columns(self, pick: Picks, speed: FloatArray, plate: FloatArray) -> Columns:
        """Columns of picked samples at settings."""
        found = {name: values[pick] for name, values in self.inputs.items()}
        return found | {"speed": np.asarray(speed), "back_pressure": np.asarray(plate)}

    def run(self, columns: Mapping[str, FloatArray], shafts: int = 0) -> PathResult:
        """The path on columns, with all shafts or so many."""
        geometry = screw_geometry(self.plan.frame, shafts) if shafts else self.geometry
        return run_columns(columns, geometry)

    def at_point(self, speed: FloatArray, plate: FloatArray, **changed: FloatArray) -> Columns:
        """Columns of the point case at settings, some inputs changed."""
        wide = np.broadcast_arrays(speed, plate, *changed.values())
        found = self.columns(np.zeros(wide[0].size, dtype=int), wide[0], wide[1])
        return found | dict(zip(changed, (np.array(w) for w in wide[2:]), strict=True))

    def dosed(self, dose: FloatArray) -> Columns:
        """Columns the point case's dose changes."""
        resistance, fines = self.pressed.at_dose(dose)
        return {"local_resistance": resistance, "fines_share": fines}

    def profile(self, speed: float, plate: float, start: float) -> ScrewProfile:
        """Along the barrel in the point case, from the start of pressing already found."""
        one = self.at_point(np.array([speed]), np.array([plate]))
        return screw_profile(
            record_from(PressedSludge, one),
            PressLoad(one["dry_solids_flow"], one["feed_solids"], one["fines_share"]),
            record_from(ScrewOperation, one),
            record_from(ScrewParameters, one),
            self.geometry,
            pressing_start=start,
        )

    def redose(self, factor: float) -> FloatArray:
        """Every sample at its dose times a factor from now on; the doses."""
        dose = self.pressed.dose[: self.count] * factor
        resistance, fines = self.pressed.every_dose(dose, self.count)
        self.inputs["local_resistance"], self.inputs["fines_share"] = resistance, fines
        return np.asarray(dose)
