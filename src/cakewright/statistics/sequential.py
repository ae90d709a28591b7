"""Deciding as samples come in: Wald's test of a mean with known deviation."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from cakewright.errors import OutOfRangeError

__all__ = [
    "SequentialTest",
    "sequential_test",
]


@dataclass(frozen=True, slots=True)
class SequentialTest:
    """Two parallel lines for the running sum: slope n - lower and slope n + upper.

    Below the lower line the first hypothesis is taken, above the upper line the second.
    Expected numbers leave out the overshoot of the last sample.
    """

    slope: float
    lower: float
    upper: float
    expected_first: float
    expected_second: float


def sequential_test(
    deviation: float,
    first_mean: float,
    second_mean: float,
    wrong_second: float = 0.05,
    wrong_first: float = 0.05,
) -> SequentialTest:
    r"""Lines of Wald's sequential test that a mean is the first or the higher second one.

    .. math:: n\frac{m_0+m_1}{2} - \frac{\sigma^2}{d}\ln\frac{1-\alpha}{\beta}
        < \sum x < n\frac{m_0+m_1}{2} + \frac{\sigma^2}{d}\ln\frac{1-\beta}{\alpha}

    Parameters
    ----------
    deviation : float
        Known standard deviation of a sample; :math:`\sigma`; > 0. [1]
    first_mean : float
        First hypothesis; :math:`m_0`. [1]
    second_mean : float
        Second hypothesis, higher; :math:`m_1 = m_0 + d`. [1]
    wrong_second : float
        Chance to take the second though the first holds; :math:`\alpha`; 0 to 0.5. [1]
    wrong_first : float
        Chance to take the first though the second holds; :math:`\beta`; 0 to 0.5. [1]

    Returns
    -------
    sequential_test : SequentialTest
        Lines and expected numbers of samples under each hypothesis. [object]

    Raises
    ------
    OutOfRangeError
        If the second mean is not higher, or a risk is not between 0 and 0.5.

    References
    ----------
    .. [1] L100, Wald's test of a normal mean.

    Examples
    --------
    >>> sequential_test(15.0, 100.0, 110.0).slope
    105.0
    """
    step = second_mean - first_mean
    if not deviation > 0 or not step > 0:
        raise OutOfRangeError(
            f"sequential test: got deviation {deviation:g}, means {first_mean:g} and "
            f"{second_mean:g}; the deviation must be > 0 and the second mean the higher one"
        )
    if not (0 < wrong_second < 0.5 and 0 < wrong_first < 0.5):
        raise OutOfRangeError(
            f"sequential test: got risks {wrong_second:g} and {wrong_first:g}; both must lie "
            "strictly between 0 and 0.5"
        )
    a, b = wrong_second, wrong_first
    down, up = np.log((1 - a) / b), np.log((1 - b) / a)
    unit = deviation**2 / step
    drift = step**2 / (2 * deviation**2)
    return SequentialTest(
        (first_mean + second_mean) / 2,
        float(unit * down),
        float(unit * up),
        float(((1 - a) * down - a * up) / drift),
        float(((1 - b) * up - b * down) / drift),
    )
