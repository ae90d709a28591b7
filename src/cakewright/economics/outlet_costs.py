"""Costs of a year beyond the gate: haulage, disposal by route, and what drier cake saves."""

from __future__ import annotations

import numpy as np

from cakewright.economics.checks import Number, least, share
from cakewright.errors import OutOfRangeError
from cakewright.quantities import FloatArray

__all__ = [
    "disposal_cost",
    "dryness_saving",
    "haulage_cost",
    "haulage_cost_mass_distance",
    "haulage_trips",
    "route_accepts",
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


def haulage_cost_mass_distance(cake: Number, distance: Number, price: Number) -> FloatArray:
    r"""Cost of haulage where the carrier charges by mass and distance.

    Parameters
    ----------
    cake : float or ndarray
        Wet cake of a year; >= 0. [kg]
    distance : float or ndarray
        One way; >= 0. [m]
    price : float or ndarray
        Price per wet mass and distance; >= 0. [currency/kg/m]

    Returns
    -------
    haulage_cost_mass_distance : ndarray
        Cost of the year. [currency]

    References
    ----------
    .. [1] OWN, definition.

    Examples
    --------
    >>> round(float(haulage_cost_mass_distance(5e6, 50e3, 0.2e-6)), 6)
    50000.0
    """
    moved = least("cake", cake) * least("distance", distance)
    return np.asarray(moved * least("haulage price", price))


def route_accepts(
    cake_solids: Number, least_solids: Number = 0.0, most_solids: Number = 1.0
) -> FloatArray:
    r"""Whether an outlet takes the cake: 1 where it does, 0 where it does not.

    Parameters
    ----------
    cake_solids : float or ndarray
        Total solids of the cake; 0 to 1. [1]
    least_solids : float or ndarray
        Smallest solids that the outlet takes; 0 to 1. [1]
    most_solids : float or ndarray
        Largest solids that the outlet takes; 0 to 1. [1]

    Returns
    -------
    route_accepts : ndarray
        1 or 0 in each sample; its mean is the chance to be accepted. [1]

    Notes
    -----
    The permit decides, and may ask for more than dryness.

    References
    ----------
    .. [1] OWN, definition.

    Examples
    --------
    >>> route_accepts(np.array([0.18, 0.22]), 0.20).tolist()
    [0.0, 1.0]
    """
    solids = share("cake solids", cake_solids)
    low, high = share("least solids", least_solids), share("most solids", most_solids)
    return np.asarray(((solids >= low) & (solids <= high)).astype(float))


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


def dryness_saving(cake_solids: Number, new_cake_solids: Number, price_wet: Number) -> FloatArray:
    r"""What a drier cake saves in haulage and disposal, per dry solids in the cake.

    .. math:: \left(\frac{1}{TS_1} - \frac{1}{TS_2}\right) p

    Parameters
    ----------
    cake_solids : float or ndarray
        Total solids of the cake today; above 0, up to 1. [1]
    new_cake_solids : float or ndarray
        Total solids of the drier cake; above 0, up to 1. [1]
    price_wet : float or ndarray
        Haulage and disposal per wet mass; >= 0. [currency/kg]

    Returns
    -------
    dryness_saving : ndarray
        Saving per dry mass; negative where the cake gets wetter. [currency/kg]

    References
    ----------
    .. [1] OWN, solids balance.

    Examples
    --------
    >>> round(float(dryness_saving(0.20, 0.25, 0.1)), 6)
    0.1
    """
    old = share("cake solids", cake_solids, strict=True)
    new = share("new cake solids", new_cake_solids, strict=True)
    return np.asarray((1 / old - 1 / new) * least("price of wet cake", price_wet))
