"""Mean of repeats with its interval, and Grubbs' test for one that does not belong."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from cakewright.bench.straight import student
from cakewright.quantities import FloatArray

__all__ = ["Repeats", "grubbs_outlier", "mean_of_repeats"]

_CHANCE = 0.01


@dataclass(frozen=True, slots=True, eq=False)
class Repeats:
    """Mean, standard error and 95 % interval of repeats; ``used`` leaves the outlier out."""

    mean: float
    sd: float
    standard_error: float
    low: float
    high: float
    used: np.ndarray

    @property
    def count(self) -> int:
        """Repeats in use."""
        return int(self.used.sum())


def grubbs_outlier(values: FloatArray, chance: float = _CHANCE) -> int | None:
    """Index of the one repeat that does not belong, or None (Grubbs' two-sided test).

    Needs four repeats: of three, the odd one cannot be told.
    """
    count = len(values)
    sd = float(np.std(values, ddof=1)) if count > 1 else 0.0
    if count < 4 or sd == 0.0:
        return None
    distance = np.abs(values - np.mean(values)) / sd
    t = student(1.0 - chance / (2 * count), count - 2)
    limit = (count - 1) / np.sqrt(count) * np.sqrt(t**2 / (count - 2 + t**2))
    worst = int(np.argmax(distance))
    return worst if float(distance[worst]) > limit else None


def mean_of_repeats(values: FloatArray, reading_sd: float = 0.0) -> Repeats:
    """Mean of repeats, one outlier left out; ``reading_sd`` is the least a single one is off."""
    used = np.ones(len(values), dtype=bool)
    outlier = grubbs_outlier(values)
    if outlier is not None:
        used[outlier] = False
    kept = values[used]
    count = len(kept)
    mean = float(np.mean(kept))
    sd = float(np.std(kept, ddof=1)) if count > 1 else 0.0
    error = max(sd, reading_sd) / np.sqrt(count)
    reach = student(0.975, count - 1) if count > 1 and sd > reading_sd else 1.959964
    return Repeats(mean, sd, float(error), mean - reach * error, mean + reach * error, used)
