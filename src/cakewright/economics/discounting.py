"""Money at different times: annuities, present worth, payback, real and nominal rates.

Payments fall at the end of each year; year 0 is today. Rates and price rises are both nominal
or both real: never mixed.
"""

from __future__ import annotations

import numpy as np

from cakewright.economics.checks import Number, least
from cakewright.errors import InfeasibleError
from cakewright.quantities import FloatArray

__all__ = [
    "capital_recovery_factor",
    "nominal_rate",
    "payback_time",
    "present_worth_annuity",
    "present_worth_growing_annuity",
    "real_rate",
]


def _rate(what: str, value: Number) -> FloatArray:
    return least(what, value, -1.0, strict=True)


def capital_recovery_factor(rate: Number, years: Number) -> FloatArray:
    r"""Yearly payment that repays one unit of capital.

    .. math:: \frac{i (1+i)^n}{(1+i)^n - 1}

    Parameters
    ----------
    rate : float or ndarray
        Interest per year; :math:`i`; > -1; 0 gives 1/n. [1]
    years : float or ndarray
        Number of yearly payments; :math:`n`; > 0. [1]

    Returns
    -------
    capital_recovery_factor : ndarray
        Share of the capital paid each year. [1]

    Raises
    ------
    OutOfRangeError
        If the life is not positive or the rate not above -1.

    References
    ----------
    .. [1] OWN, annuity identity.

    Examples
    --------
    >>> round(float(capital_recovery_factor(0.05, 20)), 6)
    0.080243
    """
    least("life in years", years, 0.0, strict=True)
    return np.asarray(1 / present_worth_annuity(rate, years))


def present_worth_annuity(rate: Number, years: Number) -> FloatArray:
    r"""Present worth of one unit paid at the end of each year.

    .. math:: \frac{1 - (1+i)^{-n}}{i}

    Parameters
    ----------
    rate : float or ndarray
        Interest per year; :math:`i`; > -1. [1]
    years : float or ndarray
        Number of payments; :math:`n`; > 0. [1]

    Returns
    -------
    present_worth_annuity : ndarray
        Units of today. [1]

    References
    ----------
    .. [1] OWN, annuity identity.

    Examples
    --------
    >>> round(float(present_worth_annuity(0.05, 20)), 4)
    12.4622
    """
    n = least("number of years", years, 0.0, strict=True)
    i = _rate("interest rate", rate)
    # Exact down to the smallest rates, where the plain form loses all its figures.
    level = -np.expm1(-n * np.log1p(i)) / np.where(i == 0, 1.0, i)
    return np.where(i == 0, n, level)


def present_worth_growing_annuity(rate: Number, years: int, growth: Number) -> FloatArray:
    r"""Present worth of a yearly payment of one unit at today's price that rises each year.

    .. math:: \sum_{t=1}^{n} \left(\frac{1+g}{1+i}\right)^t

    Parameters
    ----------
    rate : float or ndarray
        Interest per year; :math:`i`; > -1. [1]
    years : int
        Number of payments; :math:`n`; >= 1. [1]
    growth : float or ndarray
        Price rise per year; :math:`g`; > -1. [1]

    Returns
    -------
    present_worth_growing_annuity : ndarray
        Units of today. [1]

    References
    ----------
    .. [1] OWN, geometric series.

    Examples
    --------
    >>> round(float(present_worth_growing_annuity(0.05, 20, 0.02)), 4)
    14.9587
    """
    least("number of years", years, 1.0)
    # A growing payment at rate i is a level payment at the rate left after the growth.
    net = (1 + _rate("interest rate", rate)) / (1 + _rate("price rise", growth)) - 1
    return present_worth_annuity(net, float(years))


def payback_time(investment: float, saving: float, rate: float = 0.0) -> float:
    r"""Years until yearly savings have paid back an investment.

    .. math:: \frac{C}{s} \quad (i = 0), \qquad -\frac{\ln(1 - iC/s)}{\ln(1+i)}

    Parameters
    ----------
    investment : float
        Capital; :math:`C`; >= 0. [currency]
    saving : float
        Saving per year; :math:`s`. [currency]
    rate : float
        Interest per year; :math:`i`; >= 0; 0 gives the simple payback. [1]

    Returns
    -------
    payback_time : float
        Time in years. [1]

    Raises
    ------
    InfeasibleError
        If the savings never pay the investment back.

    References
    ----------
    .. [1] OWN, annuity identity.

    Examples
    --------
    >>> payback_time(100.0, 25.0)
    4.0
    """
    capital = float(least("investment", investment))
    interest = float(least("interest rate", rate))
    if capital == 0:
        return 0.0
    if not saving > interest * capital:
        raise InfeasibleError(
            f"payback: a saving of {saving:g} a year never pays back {capital:g} at "
            f"{100 * interest:g} % interest; it must be more than {interest * capital:g} a year"
        )
    if interest == 0:
        return capital / saving
    return float(-np.log1p(-interest * capital / saving) / np.log1p(interest))


def real_rate(nominal: Number, inflation: Number) -> FloatArray:
    r"""Interest above inflation.

    .. math:: \frac{1+i}{1+f} - 1

    Parameters
    ----------
    nominal : float or ndarray
        Interest as the bank states it; > -1. [1]
    inflation : float or ndarray
        General price rise; > -1. [1]

    Returns
    -------
    real_rate : ndarray
        Rate for costs at today's prices. [1]

    References
    ----------
    .. [1] OWN, identity.

    Examples
    --------
    >>> round(float(real_rate(0.071, 0.02)), 6)
    0.05
    """
    return np.asarray(
        (1 + _rate("nominal rate", nominal)) / (1 + _rate("inflation", inflation)) - 1
    )


def nominal_rate(real: Number, inflation: Number) -> FloatArray:
    r"""Interest including inflation.

    .. math:: (1+r)(1+f) - 1

    Parameters
    ----------
    real : float or ndarray
        Interest above inflation; > -1. [1]
    inflation : float or ndarray
        General price rise; > -1. [1]

    Returns
    -------
    nominal_rate : ndarray
        Rate for costs at the prices of their year. [1]

    References
    ----------
    .. [1] OWN, identity.

    Examples
    --------
    >>> round(float(nominal_rate(0.05, 0.02)), 6)
    0.071
    """
    return np.asarray((1 + _rate("real rate", real)) * (1 + _rate("inflation", inflation)) - 1)
