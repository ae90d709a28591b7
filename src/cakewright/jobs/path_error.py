r"""Error of the pressing path and of its readings: one model for fit and forecast.

A reading of a trial is the path, plus an error of the path that is the same for a press at every
setting (its level), plus one that is alike at like settings (its field), plus what is common to
the trial and to a day, plus what changes from run to run, plus its own error. The field is
Gaussian over the logarithms of the settings: near what was tried it is learnt from what the fit
leaves, far from it its prior comes back, so that bands widen with distance. Theory:
``docs/theory/calibration.md``.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from typing import Any

import numpy as np
from numpy.typing import NDArray

from cakewright.quantities import FloatArray
from cakewright.quantities.tables import packaged_table

__all__ = ["COORDINATES", "Seen", "coordinates", "covariance_of", "error_table", "field_between"]

COORDINATES = ("speed", "back_pressure", "load", "feed_solids", "dose")


@cache
def error_table() -> Mapping[str, Mapping[str, Any]]:
    """Standard deviations of every term by output, and distances."""
    return packaged_table("cakewright.jobs", "data", "path_error.toml")


def coordinates(**settings: FloatArray | float) -> FloatArray:
    """Logarithms of settings in the order of `COORDINATES`, over the distances; shape (n, 5)."""
    reach = error_table()["distance"]
    rows = np.broadcast_arrays(*(np.asarray(settings[n], dtype=float) for n in COORDINATES))
    # A Matern field of this kind keeps 0.48 of its variance at one length.
    return np.stack(
        [np.atleast_1d(np.log(x) / reach[n]) for n, x in zip(COORDINATES, rows, strict=True)],
        axis=1,
    )


def field_between(one: FloatArray, other: FloatArray) -> FloatArray:
    r"""Correlation of the path's error at two sets of settings, shape (n, m).

    .. math:: (1 + \sqrt3\,r)\,e^{-\sqrt3\,r}

    Parameters
    ----------
    one : array, shape (n, 5)
        Scaled logarithms of settings. [1]
    other : array, shape (m, 5)
        The same of others. [1]

    Returns
    -------
    field_between : array, shape (n, m)
        Correlation, 1 at the same settings. [1]

    References
    ----------
    .. [1] MEM, Matern field of order 3/2; discrepancy of a computer model after Kennedy, O'Hagan
       2001, J. R. Stat. Soc. B 63, 425-464.

    Examples
    --------
    >>> one = np.zeros((1, 5))
    >>> float(field_between(one, one)[0, 0])
    1.0
    """
    apart = np.sqrt(np.sum((one[:, None, :] - other[None, :, :]) ** 2, axis=2))
    scaled = np.sqrt(3.0) * apart
    return np.asarray((1.0 + scaled) * np.exp(-scaled))


def covariance_of(
    places: FloatArray,
    days: Sequence[str],
    observed: Sequence[tuple[int, str]],
    noise: FloatArray,
) -> FloatArray:
    """Covariance of all readings of a trial about the path; outputs err apart."""
    runs = np.array([run for run, _ in observed], dtype=int)
    outputs = np.array([name for _, name in observed])
    found = np.diag(np.asarray(noise, dtype=float) ** 2)
    if not len(runs):
        return found
    alike = field_between(places, places)
    same_day = np.array([[a == b for b in days] for a in days], dtype=float)
    for name in dict.fromkeys(outputs.tolist()):
        row = error_table()[name]
        mine = np.flatnonzero(outputs == name)
        at = np.ix_(runs[mine], runs[mine])
        block = row["field"] ** 2 * alike[at] + row["day"] ** 2 * same_day[at]
        block += row["run"] ** 2 * (runs[mine][:, None] == runs[mine][None, :])
        block += row["level"] ** 2 + row["trial"] ** 2 + row["batch"] ** 2
        found[np.ix_(mine, mine)] += block
    return found


@dataclass(frozen=True, slots=True, eq=False)
class Seen:
    """What a trial saw: settings, days, readings with their own errors, what each draw leaves.

    ``left`` has one row per draw of the posterior and one column per reading, on its line.
    """

    places: FloatArray
    days: tuple[str, ...]
    observed: tuple[tuple[int, str], ...]
    noise: FloatArray
    left: FloatArray

    def nearest(self, at: FloatArray) -> FloatArray:
        """Correlation of the path's error at settings with that at the run most like them."""
        return np.asarray(field_between(at, self.places).max(axis=1))

    def error_at(
        self, name: str, at: FloatArray, pick: NDArray[np.int_], alike: float = 1.0
    ) -> tuple[FloatArray, FloatArray]:
        """Mean and standard deviation of the path's error (level and field) at settings.

        ``pick`` is the draw of each sample, -1 for the mean of all; ``alike`` the correlation of
        this sludge's error with that of the trial's.
        """
        row = error_table()[name]
        prior = row["level"] ** 2 + row["field"] ** 2
        mine = np.array([k for k, (_, output) in enumerate(self.observed) if output == name], int)
        if not mine.size:
            return np.zeros(len(at)), np.full(len(at), np.sqrt(prior))
        whole = covariance_of(self.places, self.days, self.observed, self.noise)
        runs = np.array([self.observed[k][0] for k in mine])
        near = row["field"] ** 2 * field_between(at, self.places[runs])
        cross = alike * (row["level"] ** 2 + near)
        weight = np.linalg.solve(whole[np.ix_(mine, mine)], cross.T).T
        left = np.concatenate([self.left, self.left.mean(axis=0, keepdims=True)])
        mean = np.sum(weight * left[pick][:, mine], axis=1)
        variance = prior - np.sum(weight * cross, axis=1)
        return np.asarray(mean), np.asarray(np.sqrt(np.maximum(variance, 0.0)))
