"""Single readings that do not belong to the others."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy import special

from cakewright.errors import OutOfRangeError
from cakewright.quantities import FloatArray

__all__ = ["GrubbsTest", "generalised_outliers", "grubbs_critical", "grubbs_test"]


@dataclass(frozen=True, slots=True)
class GrubbsTest:
    """The most extreme reading, how extreme it is, and how extreme it may be."""

    index: int
    statistic: float
    critical: float

    @property
    def is_outlier(self) -> bool:
        """True when the reading is farther out than chance allows."""
        return self.statistic > self.critical


def grubbs_critical(readings: int, significance: float = 0.05, *, two_sided: bool = True) -> float:
    r"""Largest distance from the mean that chance allows, in standard deviations.

    .. math:: \frac{n-1}{\sqrt n}\sqrt{\frac{t^2}{n-2+t^2}}, \quad t = t_{1-\alpha/n,\,n-2}

    with :math:`\alpha/2` for :math:`\alpha` when both ends are looked at.

    Parameters
    ----------
    readings : int
        Number of readings; at least 3. [1]
    significance : float
        Chance of naming an outlier where there is none. [1]
    two_sided : bool
        True when the suspect may lie at either end; False when the end was chosen before. [1]

    Returns
    -------
    grubbs_critical : float
        Standard deviations. [1]

    References
    ----------
    .. [1] L97, Grubbs test.

    Examples
    --------
    >>> round(grubbs_critical(8, two_sided=False), 3)
    2.032
    """
    if readings < 3 or not 0 < significance < 1:
        raise OutOfRangeError(
            f"Grubbs: got {readings} readings at significance {significance:g}; "
            "at least 3 readings and a significance strictly between 0 and 1 are needed"
        )
    share = significance / readings / (2 if two_sided else 1)
    t2 = float(special.stdtrit(readings - 2, share)) ** 2
    return float((readings - 1) / np.sqrt(readings) * np.sqrt(t2 / (readings - 2 + t2)))


def grubbs_test(x: FloatArray, significance: float = 0.05, *, two_sided: bool = True) -> GrubbsTest:
    r"""Test of the most extreme reading.

    .. math:: G = \max |x - \bar x| / s

    Parameters
    ----------
    x : ndarray, shape (n,)
        Readings, roughly normal apart from the suspect; at least 3. [1]
    significance : float
        Chance of naming an outlier where there is none. [1]
    two_sided : bool
        True looks at both ends; False at the largest reading only. [1]

    Returns
    -------
    grubbs_test : GrubbsTest
        Suspect, statistic and critical value. [object]

    Raises
    ------
    OutOfRangeError
        If readings are fewer than 3, not finite, or all equal.

    References
    ----------
    .. [1] L97, Grubbs test.

    Examples
    --------
    >>> grubbs_test(np.array([1.0, 1.1, 0.9, 1.0, 5.0])).is_outlier
    True
    """
    values = np.asarray(x, dtype=float)
    if values.ndim != 1 or values.size < 3 or not np.all(np.isfinite(values)):
        raise OutOfRangeError(
            f"Grubbs: got readings of shape {values.shape}; at least 3 finite ones are needed"
        )
    away = values - values.mean()
    spread = float(values.std(ddof=1))
    if spread <= 1e-12 * np.max(np.abs(values)):
        raise OutOfRangeError(f"Grubbs: all readings are {values[0]:g}; nothing can stand out")
    index = int(np.argmax(np.abs(away) if two_sided else away))
    critical = grubbs_critical(values.size, significance, two_sided=two_sided)
    return GrubbsTest(index, float(abs(away[index])) / spread, critical)


def generalised_outliers(x: FloatArray, most: int, significance: float = 0.05) -> list[int]:
    r"""Up to a stated number of outliers, found together so that one cannot hide another.

    Parameters
    ----------
    x : ndarray, shape (n,)
        Readings, roughly normal apart from the suspects. [1]
    most : int
        Largest number of outliers looked for; under half of the readings. [1]
    significance : float
        Chance of naming an outlier where there is none. [1]

    Returns
    -------
    generalised_outliers : list of int
        Places of the outliers, the most extreme first. [object]

    Raises
    ------
    OutOfRangeError
        If ``most`` is not between 1 and half of the readings.

    References
    ----------
    .. [1] MEM, generalised extreme studentised deviate (Rosner 1983).

    Examples
    --------
    >>> generalised_outliers(np.r_[np.linspace(0, 1, 20), 9.0, 9.1], 4)
    [21, 20]
    """
    values = np.asarray(x, dtype=float)
    if not 1 <= most < values.size / 2:
        raise OutOfRangeError(
            f"outliers: asked for up to {most} among {values.size}; "
            "at least one and under half can be outliers"
        )
    places = np.arange(values.size)
    removed: list[int] = []
    last = 0
    for _ in range(most):
        if np.ptp(values[places]) == 0:
            break
        test = grubbs_test(values[places], significance)
        removed.append(int(places[test.index]))
        places = np.delete(places, test.index)
        if test.is_outlier:
            last = len(removed)
    return removed[:last]
