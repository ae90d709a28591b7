"""The chosen screw press by its physics: operating point, prediction, profile, map, limits."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from cakewright.errors import InfeasibleError
from cakewright.machines.goal import Goal
from cakewright.machines.outcome import causes_of, filled_figures, least_margin_of
from cakewright.machines.pressing_path import PathResult, PathStatus
from cakewright.machines.screw.case import (
    ScrewSamples,
    screw_geometry,
)
from cakewright.machines.screw.change import (
    Capacity,
    Lever,
    Sensitivity,
    ShaftOut,
    capacity_at,
    levers_of,
    named_margins,
    sensitivities_of,
    shaft_out,
)
from cakewright.machines.screw.operating import (
    OperatingMap,
    Setting,
    best_setting,
    operating_map,
)
from cakewright.machines.screw.path import ScrewProfile
from cakewright.quantities import Figure, FloatArray

__all__ = [
    "FAR",
    "OperatingMap",
    "PressFindings",
    "press_of",
    "screw_geometry",
]


FAR = 2.0  # a margin beyond it is no nearer to a limit for being larger


@dataclass(frozen=True, slots=True, eq=False)
class PressFindings:
    """What the physics says of the chosen frame at the chosen operating point.

    ``figures`` is empty where the point case has no answer: ``binding_words`` and ``capacity``
    then say why and what to change. ``parameters`` says what the machine's parameters rest on.
    """

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
    dose: float
    setting: Setting
    levers: tuple[Lever, ...]
    capacity: Capacity
    shaft_out: ShaftOut | None
    sensitivities: tuple[Sensitivity, ...]
    parameters: str
    inputs: Mapping[str, float]
    details: Mapping[str, float]


def press_of(
    case: ScrewSamples,
    goal: Goal,
) -> PressFindings:
    """Prediction of one screw press for this load, at the best setting for the goal."""
    chart = operating_map(case)
    setting = best_setting(
        case, chart, goal.aim, goal.prices, goal.least_capture, free_dose=goal.free_dose
    )
    point_dose = float(case.pressed.dose[0])
    if setting.dose != point_dose:
        case.redose(setting.dose / point_dose)
    result = _operated(case, setting)
    status = PathStatus(int(result.status[0]))
    margins = named_margins(result, case.geometry.rated_torque)
    binding = min(margins, key=margins.__getitem__)
    answers = status is PathStatus.ANSWER
    return PressFindings(
        machine=case.kind.value,
        frame=case.plan.frame.name,
        tested=case.pressed.tested,
        speed=setting.speed,
        back_pressure=setting.back_pressure,
        figures=_figures(case, result) if answers else {},
        margins=margins,
        binding=binding,
        binding_words=_nearest(binding, margins) if answers else status.words,
        answered=float(np.mean(result.answered)),
        causes=causes_of(result),
        profile=_profile(case, setting, result) if answers else None,
        map=chart,
        notes=_notes(case, setting, float(np.mean(result.answered)), goal.parameters),
        dose=setting.dose,
        setting=setting,
        levers=levers_of(case, setting),
        capacity=capacity_at(case, setting),
        shaft_out=shaft_out(case, setting),
        sensitivities=sensitivities_of(case, setting) if answers else (),
        parameters=goal.parameters,
        inputs={name: float(values[0]) for name, values in case.inputs.items()},
        details=_details(case, result) if answers else {},
    )


def _details(case: ScrewSamples, result: PathResult) -> dict[str, float]:
    found = {name: float(values[0]) for name, values in result.details.items()}
    return found | {
        "cake_solids": float(result.cake_solids[0]),
        "capture": float(result.capture[0]),
        "power": float(result.power[0]),
        "shafts": float(case.geometry.shafts),
        "drained_length": case.geometry.drained_length,
    }


def _operated(case: ScrewSamples, setting: Setting) -> PathResult:
    """Every sample at the setting its operator would find; the point case at the chosen one.

    A sample that does not keep the margin there is run faster and with the plate more open: of a
    few settings it takes the driest cake that keeps the margin, else the one with the widest.
    """
    every = np.arange(case.count)
    one = np.ones(case.count)
    first = case.run(case.columns(every, one * setting.speed, one * setting.back_pressure))
    poor = ~(first.answered & (least_margin_of(first) >= case.window["least_margin"]))
    poor[0] = False
    again = np.flatnonzero(poor)
    if not again.size:
        return first
    settings = _easier(case, setting)
    wide = np.repeat(np.array(settings), again.size, axis=0)
    tried = case.run(case.columns(np.tile(again, len(settings)), wide[:, 0], wide[:, 1]))
    return _merged(first, tried, again, len(settings), case.window["least_margin"])


def _easier(case: ScrewSamples, setting: Setting) -> list[tuple[float, float]]:
    top, low = case.speeds[1], case.plates[0]
    speeds = (setting.speed, 0.5 * (setting.speed + top), top)
    plates = (setting.back_pressure, float(np.sqrt(setting.back_pressure * low)), low)
    return [(s, p) for s in speeds for p in plates]


def _merged(
    first: PathResult, tried: PathResult, again: np.ndarray, settings: int, least_margin: float
) -> PathResult:
    """The first result with some samples replaced by the best of what they tried."""
    margin = least_margin_of(tried)
    inside = tried.answered & (margin >= least_margin)
    score = np.where(inside, 1.0 + np.nan_to_num(tried.cake_solids), np.minimum(margin, 0.9) - 1.0)
    best = np.argmax(score.reshape(settings, again.size), axis=0)
    take = best * again.size + np.arange(again.size)

    def merged(old: FloatArray, new: FloatArray) -> FloatArray:
        found = np.array(old)
        found[again] = new[take]
        return found

    def table(
        old: Mapping[str, FloatArray], new: Mapping[str, FloatArray]
    ) -> dict[str, FloatArray]:
        return {name: merged(values, new[name]) for name, values in old.items()}

    return PathResult(
        status=merged(first.status.astype(float), tried.status.astype(float)).astype(int),
        cake_solids=merged(first.cake_solids, tried.cake_solids),
        capture=merged(first.capture, tried.capture),
        residence=merged(first.residence, tried.residence),
        power=merged(first.power, tried.power),
        margins=table(first.margins, tried.margins),
        details=table(first.details, tried.details),
    )


def _profile(case: ScrewSamples, setting: Setting, result: PathResult) -> ScrewProfile | None:
    start = float(result.details["pressing_start"][0])
    try:
        return case.profile(setting.speed, setting.back_pressure, start)
    except InfeasibleError:
        return None


def _nearest(binding: str, margins: Mapping[str, float]) -> str:
    rest = ", ".join(
        f"{name} {_far(margin)}" for name, margin in margins.items() if name != binding
    )
    return f"nearest limit: {binding}, {_far(margins[binding])} away ({rest})"


def _far(margin: float) -> str:
    return f"{100 * margin:.0f} %" if margin <= FAR else f"over {100 * FAR:.0f} %"


def _figures(case: ScrewSamples, result: PathResult) -> dict[str, Figure]:
    answered = result.answered
    found, told = filled_figures(result, case.inputs["feed_solids"])
    rest = {
        "residence_time": result.residence,
        "power": result.power,
        "screw_torque": result.details["torque"],
    }
    for name, values in rest.items():
        found[name] = np.where(answered, values, float(np.median(values[answered])))
    return {name: case.pressed.figure(name, values, told) for name, values in found.items()}


def _notes(
    case: ScrewSamples, setting: Setting, answered: float, parameters: str
) -> tuple[str, ...]:
    notes = [case.pressed.note, f"machine parameters: {parameters}"]
    if case.pressed.extrapolated > 0.0:
        share = 100 * case.pressed.extrapolated
        notes.append(f"{share:.0f} % of samples use a dose outside the tested range: extrapolated")
    if case.pressed.outside(setting.dose):
        notes.append("the dose of the point case lies outside the tested doses: extrapolated")
    if answered < 0.9:
        notes.append(
            f"only {100 * answered:.0f} % of samples can run at any setting with this load; "
            "trial runs narrow this most"
        )
    return tuple(notes)
