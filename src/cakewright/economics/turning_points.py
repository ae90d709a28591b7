"""Where a choice turns: break-even of two lines, and load beyond the capacity of a week."""

from __future__ import annotations

import numpy as np
from scipy import special

from cakewright.economics.checks import Number, least
from cakewright.quantities import FloatArray

__all__ = [
    "break_even",
    "overload_share",
]


def overload_share(mean_use: Number, peak_factor: Number) -> FloatArray:
    r"""Share of a year's sludge that comes in weeks the line cannot take.

    .. math:: \frac{m\,\Phi(d_1) - \Phi(d_2)}{m},\quad d_{1,2} = \frac{\ln m}{\sigma} \pm
        \frac{\sigma}{2},\quad \sigma = z - \sqrt{z^2 - 2\ln f}

    Parameters
    ----------
    mean_use : float or ndarray
        Share of the capacity that the mean week uses; :math:`m`; > 0. [1]
    peak_factor : float or ndarray
        Largest week of a year over the mean week; :math:`f`; >= 1. [1]

    Returns
    -------
    overload_share : ndarray
        Share of the sludge beyond the capacity of its week; 0 to 1. [1]

    Notes
    -----
    Weeks are lognormal about their mean; the largest of 52 stands at :math:`z`, their 51/52
    point (2.07), so that peaks above 8.5 are beyond the form and are taken there.

    References
    ----------
    .. [1] OWN, partial expectation of the lognormal distribution.

    Examples
    --------
    >>> float(overload_share(2.0, 1.0))
    0.5
    """
    use = least("mean use", mean_use, strict=True)
    peak = least("peak factor", peak_factor, 1.0)
    z = float(special.ndtri(51.0 / 52.0))
    spread = np.maximum(z - np.sqrt(np.maximum(z * z - 2.0 * np.log(peak), 0.0)), 1e-9)
    middle = np.log(use) / spread
    over = use * special.ndtr(middle + spread / 2) - special.ndtr(middle - spread / 2)
    return np.asarray(np.maximum(over, 0.0) / use)


def break_even(
    fixed: Number, slope: Number, other_fixed: Number, other_slope: Number
) -> FloatArray:
    r"""Where two options cost the same, when each costs a fixed part plus a part per unit.

    .. math:: x = \frac{a_2 - a_1}{b_1 - b_2}

    Parameters
    ----------
    fixed : float or ndarray
        Cost of the first option at x = 0; :math:`a_1`. [currency]
    slope : float or ndarray
        Its rise per unit of x (distance, price, tonnage); :math:`b_1`. [1]
    other_fixed : float or ndarray
        Cost of the second option at x = 0; :math:`a_2`. [currency]
    other_slope : float or ndarray
        Its rise per unit of x; :math:`b_2`. [1]

    Returns
    -------
    break_even : ndarray
        x where costs are equal; infinite where the lines run parallel; negative where they
        cross before zero, so that one option is cheaper throughout. [1]

    References
    ----------
    .. [1] OWN, two straight lines.

    Examples
    --------
    >>> float(break_even(100.0, 3.0, 160.0, 1.0))
    30.0
    """
    rise = np.asarray(slope, dtype=float) - np.asarray(other_slope, dtype=float)
    gap = np.asarray(other_fixed, dtype=float) - np.asarray(fixed, dtype=float)
    rise, gap = np.broadcast_arrays(rise, gap)
    parallel = rise == 0
    return np.where(parallel, np.inf, gap / np.where(parallel, 1.0, rise))
