"""What all other runs foretell of one run, by draws of the posterior without it.

A fit and its slopes foretell too narrowly where the rest allows machines far apart, or meets a
limit. So a run is accused only when draws led from the prior to the other runs foretell its
readings as badly. Theory and measured rates: ``docs/theory/calibration.md``.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from cakewright.jobs.calibration_density import Density
from cakewright.quantities import FloatArray
from cakewright.statistics.population import tempered_population

__all__ = ["Foretold", "foretold_by_rest", "judged_by_mixture"]

_REPEATS = 16  # made-up readings for each draw: a chance of a thousandth is told from a few


class Foretold(NamedTuple):
    """Distance of every reading of a run, in standard deviations, and the chance of them all."""

    odd: FloatArray
    chance: float


def foretold_by_rest(density: Density, run: int) -> Foretold:
    """Readings of a run against draws of the posterior of all others.

    Raises
    ------
    DisagreementError
        If the posterior of the others cannot be drawn.
    """
    kept, turn = density.without(run), density.foretelling(run)

    def rest(points: FloatArray) -> FloatArray:
        return np.asarray(-0.5 * ((density.residuals(points) @ turn.T) ** 2 @ kept))

    draws = tempered_population(rest, density.prior).draws
    mine = [at for at, (number, _) in enumerate(density.trial.observed) if number == run]
    return judged_by_mixture((density.residuals(draws) @ turn.T)[:, mine])


def judged_by_mixture(away: FloatArray) -> Foretold:
    r"""Readings against a mixture of unit normals about what each draw foretells.

    The chance is that of readings at which the mixture is as thin as at those read, from readings
    made up by it: exact in any shape of the mixture, up to the number of draws.

    Parameters
    ----------
    away : array, shape (m, k)
        Readings less what each draw foretells, in their own standard deviations. [1]

    Returns
    -------
    judged_by_mixture : Foretold
        Distances of shape (k,) and the chance. [object]

    References
    ----------
    .. [1] MEM, posterior predictive check of a reading left out, region of highest density.

    Examples
    --------
    >>> judged_by_mixture(np.full((256, 1), 1.96)).chance < 0.07
    True
    """
    count, size = away.shape
    rng = np.random.default_rng(0)
    noise = rng.standard_normal((_REPEATS, count, size))
    read = _thickness(np.zeros((1, size)), away)[0]
    made_up = np.concatenate([_thickness(row - away, away) for row in noise])
    chance = (1.0 + np.sum(made_up <= read)) / (1.0 + made_up.size)
    odd = away.mean(axis=0) / np.sqrt(1.0 + away.var(axis=0))
    return Foretold(odd, float(chance))


def _thickness(readings: FloatArray, away: FloatArray) -> FloatArray:
    """Log of the mixture at readings counted from those read, shape (n, k)."""
    from scipy.special import logsumexp

    apart = readings[:, None, :] + away[None, :, :]
    return np.asarray(logsumexp(-0.5 * np.sum(apart**2, axis=2), axis=1))
