"""What changes when something around a screw press changes: levers, a shaft out, capacity."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np

from cakewright.machines.outcome import least_margin_of
from cakewright.machines.pressing_path import PathResult, PathStatus
from cakewright.machines.screw.case import ScrewSamples
from cakewright.machines.screw.operating import Setting
from cakewright.quantities import FloatArray

__all__ = [
    "Capacity",
    "Lever",
    "Sensitivity",
    "ShaftOut",
    "capacity_at",
    "levers_of",
    "named_margins",
    "sensitivities_of",
    "shaft_out",
]

_LOADS = np.concatenate([np.geomspace(0.2, 1.0, 50), np.geomspace(1.0, 4.0, 71)[1:]])
_STEP = 1e-3
_ANSWERS = ("cake_solids", "capture", "residence", "power")
_LEVERS = (
    ("screw speed", "speed", (0.8, 1.25)),
    ("back pressure", "back_pressure", (0.7, 1.4)),
    ("solids load", "dry_solids_flow", (0.8, 1.2)),
    ("feed total solids, same solids load", "feed_solids", (0.7, 1.4)),
    ("polymer dose", "dose", (0.75, 1.25)),
)


@dataclass(frozen=True, slots=True)
class Lever:
    """Point case with one thing changed by a factor; cake and capture are None without an answer.

    ``stopped`` is the cause when there is none; ``extrapolated`` a dose outside the tested ones.
    """

    words: str
    factor: float
    cake_solids: float | None
    capture: float | None
    margin: float
    stopped: str
    extrapolated: bool = False


@dataclass(frozen=True, slots=True)
class ShaftOut:
    """What is left with one shaft, or one machine of one shaft, out of service (point case).

    ``load_share`` is the share of the mean load the rest can take at some setting of the window;
    the figures are for that load, at the setting that gives the driest cake.
    """

    left: int
    of: int
    load_share: float
    cake_solids: float | None
    capture: float | None
    speed: float
    back_pressure: float
    words: str


@dataclass(frozen=True, slots=True)
class Capacity:
    """Most dry solids of one machine at one setting (point case) [kg/s] and the limit met there.

    ``margins`` is what every limit has to spare at that load; empty where there is no such load.
    """

    dry_solids_flow: float
    cause: str
    within: bool
    words: str
    margins: Mapping[str, float] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Sensitivity:
    """How an answer moves with an input: derivative and per cent of the answer per per cent."""

    answer: str
    input: str
    derivative: float
    elasticity: float


def named_margins(result: PathResult, rated_torque: float, sample: int = 0) -> dict[str, float]:
    """What every limit has to spare in one sample; the drive's only where its torque is rated."""
    return {
        "drive torque" if name == "torque" else name: float(values[sample])
        for name, values in result.margins.items()
        if name != "torque" or np.isfinite(rated_torque)
    }


def levers_of(case: ScrewSamples, setting: Setting) -> tuple[Lever, ...]:
    """The point case with one thing changed at a time, all in one batch."""
    changes = [(words, name, factor) for words, name, pair in _LEVERS for factor in pair]
    columns = _repeated(case, setting, len(changes))
    for row, (_, name, factor) in enumerate(changes):
        if name == "dose":
            dosed = case.dosed(np.array([setting.dose * factor]))
            for key, values in dosed.items():
                columns[key][row] = values[0]
        else:
            columns[name][row] *= factor
    result = case.run(columns)
    margin = least_margin_of(result)
    return tuple(
        Lever(
            words=words,
            factor=factor,
            cake_solids=_or_none(result, result.cake_solids, row),
            capture=_or_none(result, result.capture, row),
            margin=float(margin[row]),
            stopped=_stopped(result, row),
            extrapolated=name == "dose" and case.pressed.outside(setting.dose * factor),
        )
        for row, (words, name, factor) in enumerate(changes)
    )


def _repeated(case: ScrewSamples, setting: Setting, count: int) -> dict[str, FloatArray]:
    one = np.ones(count)
    found = case.at_point(one * setting.speed, one * setting.back_pressure)
    return {name: np.array(values) for name, values in found.items()}


def _or_none(result: PathResult, values: FloatArray, row: int) -> float | None:
    return float(values[row]) if result.answered[row] else None


def _stopped(result: PathResult, row: int) -> str:
    status = PathStatus(int(result.status[row]))
    return "" if status is PathStatus.ANSWER else status.label


def shaft_out(case: ScrewSamples, setting: Setting) -> ShaftOut | None:
    """What the press does with one shaft less; None where one shaft is all there is.

    With several machines of one shaft each the rest of the machines take the load.
    """
    shafts = case.geometry.shafts
    of = shafts if shafts > 1 else case.running
    if of < 2:
        return None
    left = of - 1
    more = 1.0 if shafts > 1 else of / left
    result, share, speed, plate = _settings_by_load(case, more, left if shafts > 1 else 0)
    inside = result.answered & (least_margin_of(result) >= 0.0)
    if not inside.any():
        words = "no setting of the window takes even a fifth of the load: stop or haul liquid"
        return ShaftOut(left, of, 0.0, None, None, setting.speed, setting.back_pressure, words)
    most = float(share[inside].max())
    best = int(np.argmax(np.where(inside & (share == most), result.cake_solids, -np.inf)))
    whole = "the whole load" if most >= 1.0 else f"{100 * most:.0f} % of the load"
    words = f"{left} of {of} shafts take {whole}"
    return ShaftOut(
        left=left,
        of=of,
        load_share=most,
        cake_solids=float(result.cake_solids[best]),
        capture=float(result.capture[best]),
        speed=float(speed[best]),
        back_pressure=float(plate[best]),
        words=words if most >= 1.0 else f"{words}; the rest waits or takes longer hours",
    )


def _settings_by_load(
    case: ScrewSamples, more: float, shafts: int
) -> tuple[PathResult, FloatArray, FloatArray, FloatArray]:
    """Shares of the load at four speeds and three plates."""
    shares = np.array([0.2, 0.3, 0.4, 0.5, 0.6, 0.7, 0.8, 0.85, 0.9, 1.0])
    speeds = np.linspace(*case.speeds, 4)
    plates = np.geomspace(case.plates[0], case.hardest_planned, 3)
    share, speed, plate = (a.ravel() for a in np.meshgrid(shares, speeds, plates, indexing="ij"))
    columns = case.at_point(speed, plate)
    columns["dry_solids_flow"] = columns["dry_solids_flow"] * more * share
    return case.run(columns, shafts), share, speed, plate


def capacity_at(case: ScrewSamples, setting: Setting) -> Capacity:
    """Most load one machine takes at the setting, and which limit stops more."""
    load = float(case.inputs["dry_solids_flow"][0])
    columns = _repeated(case, setting, _LOADS.size)
    columns["dry_solids_flow"] = load * _LOADS
    result = case.run(columns)
    answered = result.answered
    if not answered.any():
        cause = PathStatus(int(result.status[0]))
        words = f"no load between a fifth and four times the mean can be pressed. {cause.words}"
        return Capacity(0.0, cause.label, False, words)
    last = int(np.max(np.flatnonzero(answered)))
    margins = named_margins(result, case.geometry.rated_torque, last)
    if last == _LOADS.size - 1:
        words = "more than four times the mean load"
        return Capacity(load * _LOADS[-1], "none", True, words, margins)
    cause = PathStatus(int(result.status[last + 1]))
    most = float(load * _LOADS[last])
    return Capacity(
        most,
        cause.label,
        bool(load <= most),
        f"{most / load:.2f} times the mean load while running; beyond it {cause.words}",
        margins,
    )


def sensitivities_of(case: ScrewSamples, setting: Setting) -> tuple[Sensitivity, ...]:
    """Every answer by every input in the point case, largest first per answer.

    Central differences through the batch program that is loaded already: compiling the exact
    derivative costs seconds, and a test shows that the two agree.
    """
    base = case.at_point(np.array([setting.speed]), np.array([setting.back_pressure]))
    names = [name for name, values in base.items() if values[0] != 0.0]
    wide = {name: np.repeat(values, 2 * len(names)) for name, values in base.items()}
    for row, name in enumerate(names):
        wide[name][2 * row] *= 1.0 + _STEP
        wide[name][2 * row + 1] *= 1.0 - _STEP
    result = case.run(wide)
    found: list[Sensitivity] = []
    for answer in _ANSWERS:
        up, down = (np.asarray(getattr(result, answer)[at::2]) for at in (0, 1))
        rows = _rows(answer, names, base, up, down)
        found += sorted(rows, key=lambda s: -abs(s.elasticity))
    return tuple(found)


def _rows(
    answer: str, names: list[str], base: Mapping[str, FloatArray], up: FloatArray, down: FloatArray
) -> list[Sensitivity]:
    kept = np.isfinite(up) & np.isfinite(down)
    return [
        Sensitivity(
            answer=answer,
            input=name,
            derivative=float((high - low) / (2.0 * _STEP * base[name][0])),
            elasticity=float((high - low) / (_STEP * (high + low))),
        )
        for name, high, low, there in zip(names, up, down, kept, strict=True)
        if there and high + low > 0.0
    ]
