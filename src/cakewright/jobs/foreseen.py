"""What law and machine foretold of each run, and of each trend, before any run was fitted.

Readings are held against draws of the prior with the errors of path and reading on top; the chance
is that of made-up readings as far from the middle of those draws as the readings taken.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from cakewright.jobs.calibration_density import Mode
from cakewright.jobs.trends import varied
from cakewright.jobs.trial import Trial
from cakewright.quantities import FloatArray

__all__ = ["Foreseen", "foreseen_of", "unforeseen_words"]

_FEWEST = 20  # draws that could run: of fewer no chance is told
_MADE_UP = 40  # readings for every draw
_UNLIKELY = 0.05  # for the whole trial


@dataclass(frozen=True, slots=True)
class Foreseen:
    """One run or trend before the fit: share of draws that could run, chance of its readings.

    ``chance`` is None where too few draws could run it for a chance to be told.
    """

    what: str
    could: float
    chance: float | None


def foreseen_of(trial: Trial, mode: Mode) -> tuple[Foreseen, ...]:
    """Every run with a reading, then cake and capture over each setting that was varied."""
    stands = mode.prior_margins >= 0.0
    found = []
    for run, one in enumerate(trial.runs):
        mine = [at for at, (number, _) in enumerate(trial.observed) if number == run]
        if mine:
            one_each = np.eye(len(trial.observed))[mine]
            found.append(_foreseen(trial, mode, f"run {one.name}", one_each, stands[:, run]))
    for words, slope, runs in _slopes(trial):
        found.append(_foreseen(trial, mode, words, slope[None, :], np.all(stands[:, runs], axis=1)))
    return tuple(found)


def _slopes(trial: Trial) -> list[tuple[str, FloatArray, list[int]]]:
    """Trends of the trial as sums over its readings: least squares over a setting's logarithm."""
    found = []
    for output in ("cake_solids", "capture"):
        at = [i for i, (_, name) in enumerate(trial.observed) if name == output]
        runs = [trial.observed[i][0] for i in at]
        for setting in ("speed", "back_pressure", "dry_solids_flow", "feed_solids", "dose"):
            x = varied([trial.runs[run] for run in runs], setting)
            if x is not None:
                sums = np.zeros(len(trial.observed))
                sums[at] = (x - x.mean()) / np.sum((x - x.mean()) ** 2)
                words = f"{output} over {setting}".replace("_", " ")
                found.append((words, sums, runs))
    return found


def _foreseen(
    trial: Trial, mode: Mode, what: str, sums: FloatArray, stands: NDArray[np.bool_]
) -> Foreseen:
    """Chance of sums of readings as far from what the draws that could run give."""
    could = float(np.mean(stands))
    if np.sum(stands) < _FEWEST:
        return Foreseen(what, could, None)
    rows = np.repeat(mode.prior_rows[stands] @ sums.T, _MADE_UP, axis=0)
    root = np.linalg.cholesky(sums @ trial.covariance @ sums.T)
    made_up = rows + np.random.default_rng(0).standard_normal(rows.shape) @ root.T
    middle, spread = made_up.mean(axis=0), np.atleast_2d(np.cov(made_up.T))
    weights = np.linalg.inv(spread)

    def away(rows: FloatArray) -> FloatArray:
        gap = rows - middle
        return np.asarray(np.einsum("ij,jk,ik->i", gap, weights, gap))

    as_far = int(np.sum(away(made_up) >= away((sums @ trial.data)[None, :])))
    return Foreseen(what, could, (as_far + 1) / (len(made_up) + 1))


def unforeseen_words(found: tuple[Foreseen, ...]) -> tuple[str, ...]:
    """What lies beyond the prior, in words; the chances share one false alarm."""
    told = [one for one in found if one.chance is not None]
    words = [
        f"{one.what}: beyond what law and machine foretold before the runs (chance "
        f"{100.0 * one.chance:.2g} %): the runs say something new, or their sludge, a unit or a "
        "sample is not what the sheet says. Cheapest to decide: repeat it, and press a sample of "
        "that day on the bench"
        for one in told
        if one.chance is not None and one.chance * len(told) < _UNLIKELY
    ]
    hardly = [one.what for one in found if one.chance is None]
    if hardly:
        words.append(
            "hardly a press foretold before the runs could be run there, so no chance is told: "
            + ", ".join(hardly)
        )
    return tuple(words)
