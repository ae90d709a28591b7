"""Trends in the trial runs that the fitted machine does not follow.

Readings less the machine are laid against each setting that was varied. A slope that scatter does
not explain is a trend of the runs the machine lacks; it is told with both ends of the setting.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from cakewright.jobs.trial import PilotRun, Trial
from cakewright.quantities import FloatArray

__all__ = ["trend_gap", "trends_missed", "varied"]

_SETTINGS = ("speed", "back_pressure", "dry_solids_flow", "feed_solids", "dose")
_OUTPUTS = ("cake_solids", "capture")
_FEWEST = 4  # runs: three lie near some line too often
_VARIED = np.log(1.2)
_FALSE_ALARM = 0.05  # for the whole trial


def trends_missed(trial: Trial, rows: FloatArray) -> tuple[str, ...]:
    """Every trend missed, in words; ``rows`` are readings of drawn machines, one row a draw."""
    from scipy.special import stdtr

    model = np.median(rows, axis=0)
    tried = []
    for name in _OUTPUTS:
        at = [i for i, (_, output) in enumerate(trial.observed) if output == name]
        runs = [trial.runs[trial.observed[i][0]] for i in at]
        for setting in _SETTINGS:
            x = varied(runs, setting)
            if x is not None:
                read, told = trial.data[at], model[at]
                odd = trend_gap(x, read - told, trial.reading_noise[at])
                tried.append((odd, name, setting, x, read, told))
    return tuple(
        _words(name, setting, x, read, told)
        for odd, name, setting, x, read, told in tried
        # Student's law: the scatter that may widen the noise is that of these few runs.
        if 2.0 * float(stdtr(len(x) - 2, -abs(odd))) * len(tried) < _FALSE_ALARM
    )


def varied(runs: Sequence[PilotRun], setting: str) -> FloatArray | None:
    """Logarithm of a setting over the runs; None where it was not read or hardly varied."""
    values = [getattr(run, setting) for run in runs]
    if len(values) < _FEWEST or any(value is None or value <= 0.0 for value in values):
        return None
    x = np.log(np.array(values, dtype=float))
    return x if float(np.ptp(x)) >= _VARIED else None


def trend_gap(x: FloatArray, gap: FloatArray, noise: FloatArray) -> float:
    """Slope of what the machine leaves, in its standard deviations; scatter widens the noise."""
    weight = noise**-2.0
    centred = x - float(weight @ x / weight.sum())
    level = float(weight @ gap / weight.sum())
    squares = float(weight @ centred**2)
    slope = float((weight * centred) @ gap / squares)
    left = gap - level - slope * centred
    scatter = float(np.sqrt(weight @ left**2 / max(len(x) - 2, 1)))
    return slope * float(np.sqrt(squares)) / max(scatter, 1.0)


def _words(name: str, setting: str, x: FloatArray, read: FloatArray, told: FloatArray) -> str:
    def ends(line: FloatArray) -> str:
        slope, level = np.polyfit(x, line, 1)
        low, high = (level + slope * end for end in (float(x.min()), float(x.max())))
        shown = (low, high) if name == "capture" else (np.exp(low), np.exp(high))
        return f"{100.0 * float(shown[0]):.3g} to {100.0 * float(shown[1]):.3g} %"

    what, lever = name.replace("_", " "), setting.replace("_", " ")
    return (
        f"{what} over {lever}, lowest to highest: the runs go from {ends(read)}, the fitted "
        f"machine from {ends(told)}. It does not follow this trend: do not use it to choose "
        f"{lever}, and look whether another thing changed with it. Cheapest to decide: repeat the "
        f"lowest and the highest {lever} on one day with the rest held"
    )
