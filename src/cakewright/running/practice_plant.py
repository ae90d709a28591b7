"""An invented press to practise on: shifts or minutes of log with faults that can be hidden in it.

Nothing here is a real works. The plant has hidden states (activity of the polymer, mixing, ring
gap, oil, fibre, sprays, errors of instruments) and its own laws, which are not those of the
expectation nor the signature table: the watch has to find its faults from the log alone.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from enum import StrEnum

import numpy as np

from cakewright.errors import UnknownNameError
from cakewright.quantities import FloatArray
from cakewright.running.shifts import ShiftTable
from cakewright.running.signals import signal

__all__ = [
    "FAULTS",
    "Course",
    "HiddenFault",
    "PlantLog",
    "invented_minutes",
    "invented_runs",
    "invented_shifts",
]

WATER = 1000.0


class Course(StrEnum):
    """How a hidden fault comes about."""

    STEP = "step"
    DRIFT = "drift"
    PULSE = "pulse"


# fault -> (smallest, largest full size, course); sizes are natural logs or shares, see _apply
FAULTS: Mapping[str, tuple[float, float, Course]] = {
    "feed_thinner": (0.35, 0.55, Course.STEP),
    "feed_thicker": (0.35, 0.55, Course.STEP),
    "solids_overload": (0.25, 0.40, Course.STEP),
    "under_dose": (0.25, 0.40, Course.STEP),
    "over_dose": (0.25, 0.45, Course.STEP),
    "polymer_aged": (0.35, 0.55, Course.STEP),
    "poor_mixing": (0.30, 0.50, Course.STEP),
    "screw_too_fast": (0.25, 0.45, Course.STEP),
    "screw_too_slow": (0.25, 0.45, Course.STEP),
    "plate_too_open": (0.30, 0.50, Course.STEP),
    "plate_too_tight": (0.30, 0.50, Course.STEP),
    "ring_wear": (0.8, 1.2, Course.DRIFT),
    "wash_fault": (0.5, 0.8, Course.STEP),
    "oil_surge": (0.5, 0.9, Course.PULSE),
    "fibre_surge": (0.5, 0.9, Course.PULSE),
    "cold_feed": (9.0, 13.0, Course.STEP),
    "sensor_feed_flow_high": (0.10, 0.18, Course.STEP),
    "sensor_feed_solids_low": (0.15, 0.25, Course.STEP),
    "sensor_filtrate_flow_high": (0.10, 0.18, Course.STEP),
    "sensor_cake_solids_high": (0.10, 0.16, Course.STEP),
    "sensor_cake_flow_low": (0.12, 0.20, Course.DRIFT),
    "sensor_filtrate_solids_low": (0.6, 0.9, Course.STEP),
}


@dataclass(frozen=True, slots=True)
class HiddenFault:
    """A fault with its start (shift), size and course."""

    name: str
    start: int
    size: float
    course: Course
    length: int


@dataclass(frozen=True, slots=True, eq=False)
class PlantLog:
    """Shifts as they would be logged, and what is hidden in them."""

    table: ShiftTable
    fault: HiddenFault | None


@dataclass(slots=True)
class _State:
    """Hidden truth per shift."""

    n: int
    rng: np.random.Generator
    feed: dict[str, FloatArray] = field(default_factory=dict)

    def wander(self, spread: float, memory: float) -> FloatArray:
        """Noise whose neighbours resemble one another."""
        from scipy.signal import lfilter

        fresh = self.rng.standard_normal(self.n) * spread * np.sqrt(1 - memory**2)
        fresh[0] /= np.sqrt(1 - memory**2)
        return np.asarray(lfilter([1.0], [1.0, -memory], fresh))

    def habits(self, spread: float, every: float) -> FloatArray:
        """Small changes of setting that last until the next one."""
        change = self.rng.random(self.n) < 1 / every
        change[0] = True
        levels = self.rng.standard_normal(int(change.sum())) * spread
        return np.asarray(levels[np.cumsum(change) - 1])


def _course(fault: HiddenFault | None, n: int) -> FloatArray:
    """0 before, rising to 1."""
    shape = np.zeros(n)
    if fault is None:
        return shape
    t = np.arange(n) - fault.start
    if fault.course is Course.DRIFT:
        return np.clip(t / fault.length, 0.0, 1.0)
    end = fault.length if fault.course is Course.PULSE else n
    return np.asarray(((t >= 0) & (t < end)).astype(float))


def _hidden(fault: HiddenFault | None, name: str, n: int) -> FloatArray:
    return _course(fault, n) * fault.size if fault and fault.name == name else np.zeros(n)


def _settings(state: _State, fault: HiddenFault | None) -> dict[str, FloatArray]:
    n = state.n

    def h(name: str) -> FloatArray:
        return _hidden(fault, name, n)

    solids = 0.022 * np.exp(state.wander(0.09, 0.7) - h("feed_thinner") + h("feed_thicker"))
    load = 0.075 * np.exp(state.wander(0.06, 0.4) + h("solids_overload"))
    ratio = np.clip(solids / 0.022, 0.75, 1.33)
    load = load * ratio**0.5  # the operator holds the load only in part
    dose = 0.0095 * np.exp(state.habits(0.03, 20) + state.wander(0.03, 0.3))
    dose = dose * np.exp(-h("under_dose") + h("over_dose"))
    season = 288.0 + 3.0 * np.sin(2 * np.pi * (np.arange(n) / 1095 + state.rng.random()))
    return {
        "feed_solids": solids,
        "load": load,
        "dose": dose,
        "speed": 0.02 * np.exp(state.habits(0.03, 25) + h("screw_too_fast") - h("screw_too_slow")),
        "plate": 6e4 * np.exp(state.habits(0.03, 40) + h("plate_too_tight") - h("plate_too_open")),
        "mixer": 0.8 * np.exp(state.habits(0.02, 60) - h("poor_mixing")),
        "wash": 3e-4 * np.exp(state.wander(0.03, 0.3)) * (1 - h("wash_fault")),
        "temperature": season + state.wander(0.8, 0.8) - h("cold_feed"),
        "activity": np.exp(state.wander(0.03, 0.8) - h("polymer_aged")),
        "gap": 1.0 + h("ring_wear"),
        "oil": np.clip(state.wander(0.05, 0.6), 0, None) + h("oil_surge"),
        "fibre": np.clip(state.wander(0.05, 0.6), 0, None) + h("fibre_surge"),
    }


def _truth(state: _State, s: Mapping[str, FloatArray]) -> dict[str, FloatArray]:
    """The invented press: floc quality, drainage, fill, cake, loss, torque, level."""
    sprayed = np.clip(s["wash"] / 3e-4, 0.05, 1.2)
    mixing = np.clip(s["mixer"] / 0.8, 0.2, 1.3) ** 1.2
    warm = np.exp(0.022 * (s["temperature"] - 288.0))
    acting = s["dose"] * s["activity"] * mixing * warm**0.3 / (1 + 0.7 * s["oil"])
    off = np.log(acting / 0.0095)
    floc = np.exp(-0.5 * np.where(off < 0, off / 0.50, off / 0.80) ** 2)
    drain = floc**0.9 * warm * (1 - 0.45 * np.clip(s["oil"], 0, 1.5)) * (1 + 0.35 * s["fibre"])
    drain = np.clip(drain * sprayed**0.35 * s["gap"] ** 0.15, 0.05, None)
    flow = s["load"] / (WATER * s["feed_solids"])
    fill = (s["load"] / 0.075) * (0.02 / s["speed"]) ** 0.7
    level = 0.30 + 0.28 * (flow / 0.0034) ** 0.8 * fill**0.3 / drain**0.7
    speed, plate = s["speed"] / 0.02, s["plate"] / 6e4
    dry = -0.16 * np.log(speed) + 0.09 * np.log(plate) - 0.07 * np.log(fill) + 0.14 * np.log(drain)
    dry += -0.16 * s["oil"] + 0.22 * s["fibre"] + state.wander(0.018, 0.4)
    lost = -1.1 * np.log(floc) + 0.25 * np.log(fill) + 0.12 * np.log(plate) + 0.8 * np.log(s["gap"])
    lost += 0.7 * s["oil"] - 0.4 * s["fibre"] + state.wander(0.12, 0.4)
    twist = 0.30 * np.log(fill) + 0.45 * np.log(plate) + 0.9 * dry - 0.45 * np.log(s["gap"])
    twist += 0.35 * s["fibre"] - 0.30 * s["oil"] + state.wander(0.03, 0.4)
    return {
        "flow": flow,
        "cake_solids": 0.19 * np.exp(dry),
        "loss": np.clip(0.055 * np.exp(lost), 0.005, 0.6),
        "torque": 0.45 * np.exp(twist),
        "level": level * np.exp(state.wander(0.03, 0.4)),
    }


def _readings(
    state: _State,
    s: Mapping[str, FloatArray],
    t: Mapping[str, FloatArray],
    fault: HiddenFault | None,
) -> dict[str, FloatArray]:
    strength = 0.002 * np.exp(state.wander(0.02, 0.5))
    polymer = t["flow"] * WATER * s["feed_solids"] * s["dose"] / (WATER * strength)
    fed = s["load"]
    cake_dry = (1 - t["loss"]) * fed + polymer * WATER * strength
    cake = cake_dry / t["cake_solids"]
    filtrate = t["flow"] + polymer + s["wash"] - cake / WATER
    true = {
        "feed_flow": t["flow"], "feed_solids": s["feed_solids"], "polymer_flow": polymer,
        "polymer_strength": strength, "wash_flow": s["wash"], "filtrate_flow": filtrate,
        "filtrate_solids": t["loss"] * fed / filtrate, "cake_flow": cake,
        "cake_solids": t["cake_solids"], "screw_speed": s["speed"], "screw_torque": t["torque"],
        "plate_pressure": s["plate"], "floc_level": t["level"], "mixer_speed": s["mixer"],
        "feed_temperature": s["temperature"],
    }  # fmt: skip
    power = 700.0 + 1800.0 * t["torque"] + 900.0 * s["mixer"]
    true["drive_power"] = power * np.exp(state.wander(0.01, 0.3))
    read = {}
    for key, value in true.items():
        one = signal(key)
        noise = state.rng.standard_normal(state.n)
        read[key] = value * (1 + one.relative * 0.7 * noise) + one.absolute * 0.5 * noise
    if fault is not None and fault.name.startswith("sensor_"):
        key, word = fault.name.removeprefix("sensor_").rsplit("_", 1)
        size = _course(fault, state.n) * fault.size
        read[key] = read[key] * (np.exp(size) if word == "high" else np.exp(-size))
    return read


def _picked(
    name: str | None, n: int, rng: np.random.Generator, start: int | None
) -> HiddenFault | None:
    if name is None:
        return None
    if name not in FAULTS:
        raise UnknownNameError(
            f"{name!r} is not a fault of the invented plant; known: {', '.join(FAULTS)}"
        )
    low, high, course = FAULTS[name]
    begin = int(rng.integers(n // 2, 2 * n // 3)) if start is None else start
    length = {Course.PULSE: int(rng.integers(12, 22)), Course.DRIFT: 120}.get(course, n)
    return HiddenFault(name, begin, float(rng.uniform(low, high)), course, length)


def invented_shifts(
    fault: str | None = None,
    seed: int = 0,
    shifts: int = 360,
    start: int | None = None,
    first_day: int = 19_723,
    missing: float = 0.03,
    scale: float = 1.0,
) -> PlantLog:
    """Shifts of eight hours of an invented plant, with one hidden fault or none.

    ``start`` is the shift at which the fault begins (in the second half if not given);
    ``first_day`` counts days since 1970; ``missing`` is the share of laboratory values absent;
    ``scale`` makes the fault smaller or larger than usual.

    Raises
    ------
    UnknownNameError
        If there is no such fault.
    """
    rng = np.random.default_rng([20240501, seed])
    hidden = _picked(fault, shifts, rng, start)
    if hidden is not None:
        hidden = replace(hidden, size=scale * hidden.size)
    state = _State(shifts, rng)
    settings = _settings(state, hidden)
    read = _readings(state, settings, _truth(state, settings), hidden)
    for key, value in read.items():
        if signal(key).kind == "laboratory":
            value[rng.random(shifts) < missing] = np.nan
    hours = np.clip(rng.normal(7.2, 0.3, shifts), 5, 8) * 3600
    coverage = {key: np.where(np.isfinite(value), 0.98, 0.0) for key, value in read.items()}
    table = ShiftTable(
        start=first_day * 86400 + 6 * 3600 + np.arange(shifts, dtype=np.int64) * 8 * 3600,
        span=np.full(shifts, 8 * 3600.0),
        run_time=hours,
        seen_time=np.full(shifts, 8 * 3600.0),
        starts=rng.poisson(1.0, shifts).astype(float),
        mean=read,
        coverage=coverage,
    )
    return PlantLog(table, hidden)


_LABORATORY = ("feed_solids", "polymer_strength", "filtrate_solids", "cake_solids")
_SETTINGS = ("screw_speed", "plate_pressure", "mixer_speed")


def invented_minutes(
    log: PlantLog, seed: int = 0, step: int = 60, shafts: int = 2
) -> tuple[FloatArray, dict[str, FloatArray]]:
    """The same plant minute by minute: UTC seconds and SI readings, without the laboratory's.

    The press runs from the start of each shift for its run time; shafts take turns resting.
    """
    rng = np.random.default_rng([7, seed])
    table = log.table
    per_shift = int(table.span[0] // step)
    time = (table.start[:, None] + np.arange(per_shift) * step).ravel().astype(float)
    on = (np.arange(per_shift)[None, :] * step < table.run_time[:, None]).ravel()
    values: dict[str, FloatArray] = {}
    for key, level in table.mean.items():
        if key in _LABORATORY:
            continue
        steady = np.repeat(level, per_shift)
        ripple = 0.0 if key in _SETTINGS else 0.02
        shaken = steady * (1 + ripple * rng.standard_normal(steady.size))
        if key == "feed_temperature":
            shaken = steady + 0.05 * rng.standard_normal(steady.size)
        values[key] = np.where(on | (key == "feed_temperature"), shaken, 0.0)
    values["machine_on"] = on.astype(float)
    shift = np.repeat(np.arange(table.size), per_shift)
    for n in range(1, shafts + 1):
        resting = (shift % (3 * shafts)) == 3 * (n - 1)
        values[f"shaft_{n}_on"] = (on & ~resting).astype(float)
    return time, values


def invented_runs(
    settings: Mapping[str, FloatArray], seed: int = 0, samples: int = 1
) -> dict[str, FloatArray]:
    """Readings of steady runs of the same plant at given settings (SI), samples side by side.

    ``settings`` may hold screw_speed, plate_pressure and polymer_dose; each run is repeated
    ``samples`` times with fresh sampling and laboratory error and nothing else changed.
    """
    size = next(iter(settings.values())).size
    rng = np.random.default_rng([11, seed])
    state = _State(size, rng)
    base = _settings(state, None)
    for key, mine in (
        ("screw_speed", "speed"),
        ("plate_pressure", "plate"),
        ("polymer_dose", "dose"),
    ):
        if key in settings:
            base[mine] = np.asarray(settings[key], dtype=float)
    truth = _truth(state, base)
    parts = [_readings(state, base, truth, None) for _ in range(samples)]
    return {key: np.column_stack([p[key] for p in parts]).ravel() for key in parts[0]}
