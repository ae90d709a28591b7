"""The chosen screw press by its physics: operating point, prediction, profile, map, limits."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from typing import Any

import numpy as np

from cakewright.errors import InfeasibleError
from cakewright.jobs.draws import StudyDraws
from cakewright.jobs.pressed import Pressed
from cakewright.machines import Frame, Kind, Plan
from cakewright.machines.press_priors import parameter_priors, record_from
from cakewright.machines.pressing_path import PathResult, PathStatus, PressedSludge, PressLoad
from cakewright.machines.screw_path import (
    ScrewGeometry,
    ScrewOperation,
    ScrewParameters,
    ScrewProfile,
    screw_path,
    screw_profile,
)
from cakewright.quantities import Figure, FloatArray
from cakewright.sludge import Feed, RunLoad

__all__ = [
    "SCREW_KINDS",
    "OperatingMap",
    "PressFindings",
    "parameter_scores",
    "press_of",
    "screw_geometry",
]

SCREW_KINDS = (Kind.MULTI_DISC_SCREW_PRESS, Kind.SCREEN_DRUM_SCREW_PRESS)
_SPEEDS, _PLATES = 9, 9
_MOST_UNTESTED = 256


@dataclass(frozen=True, slots=True, eq=False)
class OperatingMap:
    """Point case over speed [1/s] (columns) and back pressure [Pa] (rows).

    ``cake_solids`` is NaN where ``status`` is not 0; ``margin`` is the least margin there.
    """

    speed: FloatArray
    back_pressure: FloatArray
    cake_solids: FloatArray
    capture: FloatArray
    power: FloatArray
    margin: FloatArray
    status: np.ndarray


@dataclass(frozen=True, slots=True, eq=False)
class PressFindings:
    """What the physics says of the chosen frame at the chosen operating point."""

    machine: str
    frame: str
    tested: bool
    speed: float
    back_pressure: float
    figures: Mapping[str, Figure]
    margins: Mapping[str, float]
    binding: str
    binding_words: str
    answered: float
    causes: Mapping[str, float]
    profile: ScrewProfile | None
    map: OperatingMap
    notes: tuple[str, ...]


@cache
def _windows() -> Mapping[str, Mapping[str, float]]:
    text = files("cakewright.machines").joinpath("data/operating.toml").read_text("utf-8")
    return tomllib.loads(text)


def parameter_scores(kind: Kind) -> tuple[str, ...]:
    """Names of the normal scores the machine's parameters need."""
    return tuple(f"~press.{name}" for name in parameter_priors(kind))


def screw_geometry(frame: Frame) -> ScrewGeometry:
    """Geometry of a frame for the screw path.

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
        shafts=frame.shafts,
    )


def press_of(
    draws: StudyDraws, feed: Feed, load: RunLoad, plan: Plan, pressed: Pressed, least_capture: float
) -> PressFindings:
    """Prediction of one screw press for this load.

    The load is the mean while running, shared by the machines that run.
    """
    case = _Case(draws, feed, load, plan, pressed)
    chart = case.map()
    speed, plate = _operating_point(chart, case.window["least_margin"], least_capture)
    return _findings(case, chart, speed, plate, case.operated(speed, plate))


class _Case:
    """Inputs of the path over samples, and the point case repeated for a map."""

    def __init__(
        self, draws: StudyDraws, feed: Feed, load: RunLoad, plan: Plan, pressed: Pressed
    ) -> None:
        frame = plan.frame
        self.plan, self.pressed, self.kind = plan, pressed, frame.machine
        self.geometry = screw_geometry(frame)
        self.window = _windows()[frame.machine.value]
        # By a prior alone the prediction stands beside the band: fewer samples show it.
        self.count = draws.size if pressed.tested else min(draws.size, _MOST_UNTESTED + 1)
        self.size = (draws.size,)
        running = plan.machines - plan.standby
        hours = plan.figures["run_hours_per_day"].samples
        solids = load.dry_solids_flow * load.hours_per_day / hours / running
        self.solids = self._first(solids)
        self.feed_solids = self._first(feed.mix.total_solids)
        self.parameters = {
            name: self._first(prior.at(draws.score(f"~press.{name}")))
            for name, prior in parameter_priors(frame.machine).items()
        }

    def _first(self, values: FloatArray) -> FloatArray:
        return np.asarray(values[: self.count])

    def _law(self, pick: Any) -> PressedSludge:
        law = self.pressed.sludge
        names = PressedSludge.__dataclass_fields__
        return PressedSludge(**{n: self._wide(getattr(law, n))[pick] for n in names})

    def _wide(self, values: Any) -> FloatArray:
        return np.asarray(np.broadcast_to(np.asarray(values, dtype=float), self.size))

    def _inputs(self, pick: Any) -> tuple[PressedSludge, PressLoad, ScrewParameters]:
        fines = self._wide(self.pressed.fines_share)[pick]
        load = PressLoad(self.solids[pick], self.feed_solids[pick], fines)
        values = {name: samples[pick] for name, samples in self.parameters.items()}
        return self._law(pick), load, record_from(ScrewParameters, values)

    def _run(self, pick: Any, speed: FloatArray, plate: FloatArray) -> PathResult:
        sludge, load, parameters = self._inputs(pick)
        operation = ScrewOperation(speed, plate, np.full(speed.shape, self.window["level"]))
        return screw_path(sludge, load, operation, parameters, self.geometry)

    def operated(self, speed: float, plate: float) -> PathResult:
        """Every sample at the setting its operator would find; the point case at the chosen one.

        A sluggish sludge is run faster and with the plate more open: of a few settings each sample
        takes the driest cake that keeps the margin, else the one with the widest margin.
        """
        low = self.window["back_pressure_low"]
        top = self.plan.frame.speed_high or 5 / 60
        speeds = np.array([speed, 0.5 * (speed + top), top])
        plates = np.array([plate, np.sqrt(plate * low), low])
        settings = [(s, p) for s in speeds for p in plates]
        pick = np.tile(np.arange(self.count), len(settings))
        wide = np.repeat(np.array(settings), self.count, axis=0)
        result = self._run(pick, wide[:, 0], wide[:, 1])
        return _best_of(result, len(settings), self.window["least_margin"])

    def map(self) -> OperatingMap:
        """The point case over the window of settings."""
        frame = self.plan.frame
        speeds = np.linspace(frame.speed_low or 1 / 60, frame.speed_high or 5 / 60, _SPEEDS)
        low, high = self.window["back_pressure_low"], self.window["back_pressure_high"]
        plates = np.geomspace(low, high, _PLATES)
        speed, plate = np.meshgrid(speeds, plates)
        result = self._run(np.zeros(speed.size, dtype=int), speed.ravel(), plate.ravel())

        def grid(values: FloatArray) -> FloatArray:
            return np.asarray(values).reshape(speed.shape)

        margin = np.min(np.stack([np.nan_to_num(m, nan=-1) for m in result.margins.values()]), 0)
        return OperatingMap(
            speed=speeds,
            back_pressure=plates,
            cake_solids=grid(result.cake_solids),
            capture=grid(result.capture),
            power=grid(result.power),
            margin=grid(margin),
            status=result.status.reshape(speed.shape),
        )

    def profile(self, speed: float, plate: float) -> ScrewProfile | None:
        """Along the barrel in the point case; None where it has no answer."""
        sludge, load, parameters = self._inputs(np.zeros(1, dtype=int))
        one = np.ones(1)
        operation = ScrewOperation(one * speed, one * plate, one * self.window["level"])
        try:
            return screw_profile(sludge, load, operation, parameters, self.geometry)
        except InfeasibleError:
            return None


def _best_of(result: PathResult, settings: int, least_margin: float) -> PathResult:
    """Per sample the setting with the driest cake inside the margin; sample 0 keeps the first."""
    count = result.status.size // settings
    margin = np.min(np.stack([np.nan_to_num(m, nan=-1) for m in result.margins.values()]), 0)
    inside = result.answered & (margin >= least_margin)
    score = np.where(inside, 1.0 + np.nan_to_num(result.cake_solids), np.minimum(margin, 0.9) - 1.0)
    best = np.argmax(score.reshape(settings, count), axis=0)
    best[0] = 0
    take = best * count + np.arange(count)

    def taken(values: Mapping[str, FloatArray]) -> dict[str, FloatArray]:
        return {name: samples[take] for name, samples in values.items()}

    return PathResult(
        status=result.status[take],
        cake_solids=result.cake_solids[take],
        capture=result.capture[take],
        residence=result.residence[take],
        power=result.power[take],
        margins=taken(result.margins),
        details=taken(result.details),
    )


def _operating_point(
    chart: OperatingMap, least_margin: float, least_capture: float
) -> tuple[float, float]:
    """Driest cake that keeps the margin and the capture; the widest margin where none does."""
    # The hardest plate is kept for bad days: the upper third of the window is not planned with.
    planned = chart.back_pressure <= chart.back_pressure[2 * _PLATES // 3]
    good = (chart.status == PathStatus.ANSWER) & (chart.margin >= least_margin)
    good &= planned[:, None]
    kept = good & (np.nan_to_num(chart.capture) >= least_capture)
    allowed = kept if kept.any() else good
    if allowed.any():
        score = np.where(allowed, np.nan_to_num(chart.cake_solids), -np.inf)
    else:
        score = chart.margin
    row, column = np.unravel_index(int(np.argmax(score)), score.shape)
    return float(chart.speed[column]), float(chart.back_pressure[row])


def _findings(
    case: _Case, chart: OperatingMap, speed: float, plate: float, result: PathResult
) -> PressFindings:
    answered = result.answered
    binding = str(result.binding()[0])
    causes = {
        status.name.lower(): float(np.mean(result.status == status))
        for status in PathStatus
        if status is not PathStatus.ANSWER and np.any(result.status == status)
    }
    margins = {name: float(values[0]) for name, values in result.margins.items()}
    status = PathStatus(int(result.status[0]))
    words = status.words if status is not PathStatus.ANSWER else _nearest(binding, margins)
    return PressFindings(
        machine=case.kind.value,
        frame=case.plan.frame.name,
        tested=case.pressed.tested,
        speed=speed,
        back_pressure=plate,
        figures=_figures(case, result) if answered[0] else {},
        margins=margins,
        binding=binding,
        binding_words=words,
        answered=float(np.mean(answered)),
        causes=causes,
        profile=case.profile(speed, plate),
        map=chart,
        notes=_notes(case, float(np.mean(answered))),
    )


def _nearest(binding: str, margins: Mapping[str, float]) -> str:
    return f"nearest limit: {binding}, {100 * margins[binding]:.0f} % away"


def _figures(case: _Case, result: PathResult) -> dict[str, Figure]:
    """Figures over the samples; a sample beyond a limit counts as the wettest cake that stands.

    An operator would cut the load there, so the wettest answered cake is the honest low end.
    """
    answered = result.answered
    told = f"{100 * np.mean(~answered):.0f} % of samples lie beyond a limit of the press"

    def filled(values: FloatArray, worst: float) -> FloatArray:
        return np.where(answered, values, worst)

    cake, capture = result.cake_solids, result.capture
    wettest = float(np.quantile(cake[answered], 0.02))
    lowest = float(np.quantile(capture[answered], 0.02))
    middle = {name: float(np.median(values[answered])) for name, values in _rest(result).items()}
    figures = {
        "cake_solids": case.pressed.figure("cake_solids", filled(cake, wettest), told),
        "capture": case.pressed.figure("capture", filled(capture, lowest), told),
    }
    for name, values in _rest(result).items():
        figures[name] = case.pressed.figure(name, filled(values, middle[name]), told)
    return figures


def _rest(result: PathResult) -> dict[str, FloatArray]:
    found = {"residence_time": result.residence, "power": result.power}
    if "torque" in result.details:
        found["screw_torque"] = result.details["torque"]
    return found


def _notes(case: _Case, answered: float) -> tuple[str, ...]:
    notes = [case.pressed.note]
    if case.pressed.extrapolated > 0.0:
        share = 100 * case.pressed.extrapolated
        notes.append(f"{share:.0f} % of samples use a dose outside the tested range: extrapolated")
    if answered < 0.9:
        notes.append(
            f"only {100 * answered:.0f} % of samples can run at any setting with this load; "
            "machine parameters are priors (judgement) until trial runs narrow them"
        )
    return tuple(notes)
