"""Runs that contradict the model, the other runs, or each other.

A run is left out and the rest fitted anew; how far its readings then lie from what the rest
foretells has a known chance, shared over all runs, so that an honest trial is accused at a stated
rate. An accusation must stand against draws of the rest (``rest_of_trial``). Theory and measured
rates: ``docs/theory/calibration.md``.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from itertools import combinations

import numpy as np

from cakewright.errors import DisagreementError
from cakewright.jobs.calibration_density import Density, Mode
from cakewright.jobs.rest_of_trial import foretold_by_rest
from cakewright.jobs.trial import PilotRun, Trial, calibration_table
from cakewright.quantities import FloatArray

__all__ = ["Contradictions", "contradictions_of", "foretold_by_others"]

_REFITTED = 3
_SEARCHES = 8
_LINEAR = 3.0  # length of a step, in standard deviations, that slopes are trusted for
_WORTH_NAMING = 2.0
_SAME, _SAME_KELVIN = 0.02, 2.0


@dataclass(frozen=True, slots=True, eq=False)
class Contradictions:
    """What does not fit: words, distance of every reading from the other runs, chances.

    ``odd`` is in standard deviations, one per reading; ``chances`` is, per run, that of readings
    as far from what the other runs foretell; ``accused`` the name of the run named, or nothing.
    """

    words: tuple[str, ...]
    odd: FloatArray
    chances: FloatArray
    accused: str
    chance: float


def contradictions_of(density: Density, mode: Mode, draws: FloatArray) -> Contradictions:
    """Whole trial, single runs, and runs that repeat each other's settings.

    ``draws`` of the posterior lend starts to the fits without a run: the rest may belong to
    another machine than the one most likely with it.
    """
    trial = density.trial
    table = calibration_table()["contradiction"]
    odd, chances = foretold_by_others(density, mode, draws)
    accused = _accused(density, odd, chances, float(table["false_alarm"]))
    chance = _whole(trial, mode)
    words = list(_repeats(trial, float(table["false_alarm"])))
    if accused is not None:
        words.append(_accusation(trial, accused, odd))
    if chance < float(table["whole"]):
        words.append(
            f"the runs as a whole lie beyond what the model allows (chance {chance:.1g}): the "
            "sludge changed between runs, a unit is wrong, or the law is not of this sludge"
        )
    name = "" if accused is None else trial.runs[accused].name
    return Contradictions(tuple(words), odd, chances, name, chance)


def _accused(
    density: Density, odd: FloatArray, chances: FloatArray, false_alarm: float
) -> int | None:
    """The oddest run whose chance stays too small against draws of the rest."""
    judged = _judged(density.trial)
    suspects = np.flatnonzero(chances * judged < false_alarm) if judged > 1 else np.array([], int)
    for run in suspects[np.argsort(chances[suspects])][:_REFITTED]:
        mine = [at for at, (number, _) in enumerate(density.trial.observed) if number == run]
        try:
            odd[mine], chances[run] = foretold_by_rest(density, int(run))
        except DisagreementError:
            return int(run)  # the rest cannot be drawn: the linear judgement stands
        if chances[run] * judged < false_alarm:
            return int(run)
    return None


def _judged(trial: Trial) -> int:
    return len({run for run, _ in trial.observed})


def _whole(trial: Trial, mode: Mode) -> float:
    """Chance of readings this far from the model: least misfit of readings and prior together."""
    from scipy.stats import chi2

    limits = slice(trial.data.size, trial.data.size + len(trial.runs))
    squares = mode.residuals**2
    return float(chi2.sf(np.sum(squares) - np.sum(squares[limits]), trial.data.size))


def foretold_by_others(
    density: Density, mode: Mode, draws: FloatArray | None
) -> tuple[FloatArray, FloatArray]:
    """Distances and chances, by one linear step for all runs, fitted anew for the oddest.

    Also fitted anew are runs whose step is longer than a line reaches: a gross misreading bends
    the likeliest machine so far that its own run looks innocent. ``draws`` None: before any were
    made, from the likeliest machine alone.
    """
    trial = density.trial
    odd = np.zeros(trial.data.size)
    chances = np.ones(len(trial.runs))
    steps: dict[int, FloatArray] = {}
    for run in sorted({run for run, _ in trial.observed}):
        kept, turn = density.without(run), density.foretelling(run)
        residuals, slopes = turn @ mode.residuals, turn @ mode.slopes
        steps[run] = _rest_step(residuals, slopes, kept)
        left = residuals + slopes @ steps[run]
        _judge(trial, run, left, slopes, kept, odd, chances)
    if _judged(trial) > 1:
        far = None if draws is None else density.residuals(draws)
        for run in _refitted(chances, steps):
            kept, turn = density.without(run), density.foretelling(run)
            starts = [mode.at + steps[run]]
            if draws is not None and far is not None:
                starts.append(draws[int(np.argmin((far @ turn.T) ** 2 @ kept))])
            ends = np.stack([density.descended(z, run, _SEARCHES) for z in starts])
            found = density.residuals(ends) @ turn.T
            best = int(np.argmin(found**2 @ kept))
            slopes = turn @ density.slopes(ends[best])
            _judge(trial, run, found[best], slopes, kept, odd, chances)
    return odd, chances


def _refitted(chances: FloatArray, steps: Mapping[int, FloatArray]) -> list[int]:
    """The oddest runs by the linear step, and those whose step is longer than a line reaches."""
    ranked = sorted(steps, key=lambda run: float(chances[run]))
    far = [run for run in ranked[_REFITTED:] if np.linalg.norm(steps[run]) > 0.999 * _LINEAR]
    return [*ranked[:_REFITTED], *far]


def _rest_step(residuals: FloatArray, slopes: FloatArray, kept: FloatArray) -> FloatArray:
    """Gauss-Newton step from the mode of all runs to that of the rest."""
    slopes, residuals = slopes * kept[:, None], residuals * kept
    step = -np.linalg.solve(slopes.T @ slopes, slopes.T @ residuals)
    return np.asarray(step / max(1.0, float(np.linalg.norm(step)) / _LINEAR))


def _judge(
    trial: Trial,
    run: int,
    left: FloatArray,
    slopes: FloatArray,
    kept: FloatArray,
    odd: FloatArray,
    chances: FloatArray,
) -> None:
    """Distance of a run's readings from the rest, and its chance, written into the tables."""
    from scipy.stats import chi2

    mine = [at for at, (number, _) in enumerate(trial.observed) if number == run]
    rest = slopes * kept[:, None]
    covariance = np.linalg.inv(rest.T @ rest)
    spread = np.eye(len(mine)) + slopes[mine] @ covariance @ slopes[mine].T
    odd[mine] = left[mine] / np.sqrt(np.diag(spread))
    distance = float(left[mine] @ np.linalg.solve(spread, left[mine]))
    chances[run] = float(chi2.sf(distance, len(mine)))


def _accusation(trial: Trial, run: int, odd: FloatArray) -> str:
    mine = [at for at, (number, _) in enumerate(trial.observed) if number == run]
    most = max(mine, key=lambda at: abs(odd[at]))
    named = [at for at in mine if abs(odd[at]) > _WORTH_NAMING] or [most]
    parts = [
        f"{trial.observed[at][1].replace('_', ' ')} lies {abs(odd[at]):.1f} standard deviations "
        f"{'above' if odd[at] > 0 else 'below'}"
        for at in sorted(named, key=lambda at: -abs(odd[at]))
    ]
    return (
        f"run {trial.runs[run].name}: {' and '.join(parts)} what the other runs foretell; check "
        "its sampling and settings, or leave it out and calibrate again: the others are bent by "
        "it until then"
    )


def _repeats(trial: Trial, false_alarm: float) -> list[str]:
    """Runs at the same settings whose readings differ by more than their own spread allows."""
    from scipy.special import ndtr

    place = {key: at for at, key in enumerate(trial.observed)}
    pairs = [
        (place[a, name], place[b, name])
        for a, b in combinations(range(len(trial.runs)), 2)
        if _same(trial.runs[a], trial.runs[b])
        for name in ("cake_solids", "capture", "power", "torque")
        if (a, name) in place and (b, name) in place
    ]
    words = []
    for first, second in pairs:
        spread = _between(trial, first, second)
        apart = abs(float(trial.data[first] - trial.data[second])) / spread
        if 2.0 * float(ndtr(-apart)) * len(pairs) < false_alarm:
            (a, name), (b, _) = trial.observed[first], trial.observed[second]
            words.append(
                f"runs {trial.runs[a].name} and {trial.runs[b].name} were run at the same settings "
                f"and their {name.replace('_', ' ')} differs by {apart:.1f} standard deviations of "
                "the readings: one of them is wrong, or the sludge changed; no machine gives both"
            )
    return words


def _between(trial: Trial, first: int, second: int) -> float:
    """Standard deviation of the difference of two readings, what they share left out."""
    c = trial.covariance
    return float(np.sqrt(c[first, first] + c[second, second] - 2.0 * c[first, second]))


def _same(a: PilotRun, b: PilotRun) -> bool:
    def near(x: float | None, y: float | None) -> bool:
        if x is None or y is None:
            return x is None and y is None and a.plate == b.plate
        return abs(x - y) <= _SAME * max(abs(x), abs(y))

    settings = ("speed", "dry_solids_flow", "feed_solids", "dose", "back_pressure")
    alike = all(near(getattr(a, n), getattr(b, n)) for n in settings)
    return a.ran and b.ran and alike and abs(a.temperature - b.temperature) <= _SAME_KELVIN
