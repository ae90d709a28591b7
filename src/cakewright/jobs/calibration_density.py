"""Density of everything unknown in a trial: machine scores, unread plates, law scores, jointly.

Theory and limits: ``docs/theory/calibration.md``.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from cakewright.jobs.trial import Trial
from cakewright.quantities import FloatArray
from cakewright.statistics.bayes import Laplace

__all__ = ["Density", "Mode", "better", "most_likely"]

_STARTS, _TRIED = 256, 3
_STEP = 0.02
_BOUND = 5.0
_FAR = 30.0  # standard deviations: farther, and where the path breaks off, all is alike
_SEARCHES = 15


class Density:
    """Log density of rows of scores: normal prior, normal readings, limits that each run met.

    A row holds the machine's scores, one score per unread plate, then the law's scores; all are
    standard normal in the prior.
    """

    def __init__(self, trial: Trial) -> None:
        self.trial = trial
        self.size = trial.size + trial.law_size
        self._ran = np.array([run.ran for run in trial.runs])
        self._whole = self._whitener(np.arange(trial.data.size))

    @property
    def names(self) -> tuple[str, ...]:
        """Name of every score."""
        plates = (f"plate {name}" for name in self.trial.plates)
        law = (f"law: {p.name}" for p in self.trial.law.parameters)
        return (*self.trial.names, *plates, *law)

    @property
    def prior(self) -> Laplace:
        """Prior of the scores: independent, standard normal."""
        return Laplace(np.zeros(self.size), np.eye(self.size), 0.0)

    def answers(self, points: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Readings the path gives on their lines, and margins of the runs."""
        rows = np.atleast_2d(points)
        split = self.trial.size
        return self.trial.predicted_with_margin(rows[:, :split], rows[:, split:])

    def _whitener(self, order: NDArray[np.int_]) -> FloatArray:
        """Matrix that makes readings, taken in this order, independent of those before them."""
        trial = self.trial
        alike = trial.covariance / np.outer(trial.noise, trial.noise)
        white = np.linalg.inv(np.linalg.cholesky(alike[np.ix_(order, order)]))
        found = np.zeros_like(white)
        found[np.ix_(order, order)] = white
        return found

    def foretelling(self, run: int) -> FloatArray:
        """Turns residuals so that those of a run count from what all others foretell of it.

        Errors that runs share are thus learnt from the others; the sum of squares stays.
        """
        mine = np.array([at == run for at, _ in self.trial.observed])
        order = np.concatenate([np.flatnonzero(~mine), np.flatnonzero(mine)])
        count = mine.size
        found = np.eye(count + len(self.trial.runs) + self.size)
        found[:count, :count] = self._whitener(order) @ np.linalg.inv(self._whole)
        return found

    def residuals(self, points: FloatArray) -> FloatArray:
        """Whitened residuals of readings, limits and prior; squares sum to -2 log density."""
        points = np.atleast_2d(points)
        rows, margins = self.answers(points)
        away = (self.trial.data - rows) / self.trial.noise
        away = np.where(np.isfinite(away), np.clip(away, -_FAR, _FAR), _FAR) @ self._whole.T
        chance = self.trial.chance_of_running(margins)
        told = np.where(self._ran, chance, 1.0 - chance)
        limits = np.sqrt(np.maximum(-2.0 * np.log(told), 0.0))
        return np.concatenate([away, limits, points], axis=1)

    def log_density(self, points: FloatArray) -> FloatArray:
        """Log density of rows of scores, a constant left out."""
        return np.asarray(-0.5 * np.sum(self.residuals(points) ** 2, axis=1))

    def slopes(self, point: FloatArray) -> FloatArray:
        """Derivatives of the residuals at a point by central differences, all in one batch."""
        steps = _STEP * np.concatenate([np.eye(self.size), -np.eye(self.size)])
        rows = self.residuals(point + steps)
        return np.asarray((rows[: self.size] - rows[self.size :]).T / (2.0 * _STEP))

    def without(self, run: int) -> FloatArray:
        """1 for the residuals that stay when a run is left out, 0 for its readings and limit.

        They are residuals turned by `foretelling`.
        """
        readings = np.array([at != run for at, _ in self.trial.observed])
        limits = np.arange(len(self.trial.runs)) != run
        return np.concatenate([readings, limits, np.ones(self.size, dtype=bool)]).astype(float)

    def descended(
        self, start: FloatArray, without: int | None = None, searches: int = _SEARCHES
    ) -> FloatArray:
        """Least squares from a start, over all runs or without one."""
        from scipy.optimize import least_squares

        turn = np.eye(self.trial.data.size + len(self.trial.runs) + self.size)
        if without is not None:
            turn = self.foretelling(without) * self.without(without)[:, None]
        column: Callable[[FloatArray], FloatArray] = lambda z: turn @ self.residuals(z[None, :])[0]  # noqa: E731
        slopes: Callable[[FloatArray], FloatArray] = lambda z: turn @ self.slopes(z)  # noqa: E731
        found = least_squares(
            column,
            np.clip(start, -0.99 * _BOUND, 0.99 * _BOUND),
            jac=slopes,
            bounds=(-_BOUND, _BOUND),
            max_nfev=searches,
            xtol=1e-4,
            ftol=1e-4,
        )
        return np.asarray(found.x)


@dataclass(frozen=True, slots=True, eq=False)
class Mode:
    """Most likely scores, residuals and slopes there, and prior draws met on the way."""

    at: FloatArray
    residuals: FloatArray
    slopes: FloatArray
    prior_rows: FloatArray
    prior_margins: FloatArray

    @property
    def laplace(self) -> Laplace:
        """Normal approximation."""
        covariance = np.linalg.inv(self.slopes.T @ self.slopes)
        value = -0.5 * float(self.residuals @ self.residuals)
        return Laplace(self.at, (covariance + covariance.T) / 2.0, value)


def most_likely(density: Density) -> Mode:
    """Most likely scores: least squares from the best of many prior draws."""
    points = _prior_points(density.size)
    rows, margins = density.answers(points)
    worth = density.log_density(points)
    ends = [density.descended(points[i]) for i in np.argsort(-worth)[:_TRIED]]
    residuals = density.residuals(np.stack(ends))
    best = int(np.argmin(np.sum(residuals**2, axis=1)))
    return Mode(ends[best], residuals[best], density.slopes(ends[best]), rows, margins)


def better(density: Density, mode: Mode, draws: FloatArray) -> Mode:
    """The mode, or a likelier one reached from the likeliest of the posterior's draws."""
    first = draws[int(np.argmax(density.log_density(draws)))]
    end = density.descended(first)
    residuals = density.residuals(end[None, :])[0]
    if np.sum(residuals**2) >= np.sum(mode.residuals**2):
        return mode
    return replace(mode, at=end, residuals=residuals, slopes=density.slopes(end))


def _prior_points(size: int) -> FloatArray:
    """Evenly spread draws of the prior, its middle first."""
    from scipy.special import ndtri
    from scipy.stats import qmc

    cube = qmc.Sobol(size, seed=1).random(_STARTS)
    points = np.asarray(ndtri(np.clip(cube, 1e-3, 1.0 - 1e-3)))
    points[0] = 0.0
    return points
