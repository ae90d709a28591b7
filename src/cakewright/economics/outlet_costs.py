"""Costs of a year beyond the gate: haulage, disposal by route, and what drier cake saves."""

from __future__ import annotations

import numpy as np

from cakewright.economics.checks import Number, least, share
from cakewright.errors import OutOfRangeError
from cakewright.quantities import FloatArray

__all__ = [
    "disposal_cost",
    "haulage_cost",
    "haulage_trips",
]


def haulage_trips(cake: Number, payload: Number) -> FloatArray:
    r"""Loads needed to take the cake away.

    Parameters
    ----------
    cake : float or ndarray
        Wet cake of a year; >= 0. [kg]
    payload : float or ndarray
        Cake of one load, by axle mass or volume, whichever is less; > 0. [kg]

    Returns
    -------
    haulage_trips : ndarray
        Loads of the year; the mean, not rounded up. [1]

    References
    ----------
    .. [1] OWN, definition.

    Examples
    --------
    >>> float(haulage_trips(5e6, 1e4))
    500.0
    """
    return np.asarray(least("cake", cake) / least("payload", payload, strict=True))


def haulage_cost(
    cake: Number,
    payload: Number,
    distance: Number,
    price_distance: Number,
    price_trip: Number = 0.0,
) -> FloatArray:
    r"""Cost of haulage by distance and payload, empty return included.

    .. math:: \frac{m}{M} (2 L p_L + p_0)

    Parameters
    ----------
    cake : float or ndarray
        Wet cake of a year; :math:`m`; >= 0. [kg]
    payload : float or ndarray
        Cake of one load; :math:`M`; > 0. [kg]
    distance : float or ndarray
        One way; :math:`L`; >= 0. [m]
    price_distance : float or ndarray
        Vehicle with driver per distance driven; :math:`p_L`; >= 0. [currency/m]
    price_trip : float or ndarray
        Loading, waiting, weighing and skip hire of one load; :math:`p_0`; >= 0. [currency]

    Returns
    -------
    haulage_cost : ndarray
        Cost of the year. [currency]

    References
    ----------
    .. [1] OWN, definition.

    Examples
    --------
    >>> round(float(haulage_cost(5e6, 1e4, 50e3, 1.5e-3, 60.0)), 6)
    105000.0
    """
    way = 2 * least("distance", distance) * least("price of distance", price_distance)
    return np.asarray(haulage_trips(cake, payload) * (way + least("price of a trip", price_trip)))


def disposal_cost(
    cake: Number,
    price: Number,
    accepted: Number = 1.0,
    fallback_price: Number | None = None,
) -> FloatArray:
    r"""Cost of an outlet, with another one for cake that it does not take.

    Parameters
    ----------
    cake : float or ndarray
        Wet cake of a year; >= 0. [kg]
    price : float or ndarray
        Gate price per wet mass; negative where the outlet pays. [currency/kg]
    accepted : float or ndarray
        Share of the cake that the outlet takes, see :func:`route_accepts`; 0 to 1. [1]
    fallback_price : float or ndarray, optional
        Gate price of the outlet that takes the rest. [currency/kg]

    Returns
    -------
    disposal_cost : ndarray
        Cost of the year. [currency]

    Raises
    ------
    OutOfRangeError
        If cake is refused and no other outlet is given.

    References
    ----------
    .. [1] OWN, definition.

    Examples
    --------
    >>> float(disposal_cost(5e6, 0.045))
    225000.0
    """
    taken = share("share accepted", accepted)
    mass = least("cake", cake)
    if fallback_price is None:
        if np.any(taken < 1):
            raise OutOfRangeError(
                f"disposal: the outlet refuses cake in {int(np.sum(taken < 1))} of {taken.size} "
                "samples and no other outlet is given; name one or change the route"
            )
        return np.asarray(mass * np.asarray(price, dtype=float))
    other = np.asarray(fallback_price, dtype=float)
    return np.asarray(mass * (taken * np.asarray(price, dtype=float) + (1 - taken) * other))
