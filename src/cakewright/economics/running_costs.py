"""Costs of a year on the site: energy, polymer, water, labour, maintenance, filtrate."""

from __future__ import annotations

import numpy as np

from cakewright.economics.checks import Number, least, share
from cakewright.errors import OutOfRangeError
from cakewright.quantities import FloatArray

__all__ = [
    "active_polymer_price",
    "energy_cost",
    "filtrate_cost",
    "labour_cost",
    "maintenance_cost",
    "polymer_cost",
    "water_cost",
]


def energy_cost(
    energy: Number, price: Number, peak_power: Number = 0.0, demand_price: Number = 0.0
) -> FloatArray:
    r"""Cost of electricity by tariff.

    .. math:: \sum_b E_b p_b + P_{max} d

    Parameters
    ----------
    energy : float or ndarray, shape (n,) or (bands, n)
        Energy of a year; two dimensions mean one row per tariff band; >= 0. [J]
    price : float or ndarray, shape (n,), (bands,) or (bands, n)
        Price of energy, over samples; with bands one (row) for each band; >= 0. [currency/J]
    peak_power : float or ndarray, shape (n,)
        Highest power charged for; >= 0. [W]
    demand_price : float or ndarray
        Yearly charge for that power; >= 0. [currency/W]

    Returns
    -------
    energy_cost : ndarray, shape (n,)
        Cost of the year. [currency]

    Raises
    ------
    OutOfRangeError
        If a quantity or a price is negative, or bands and prices differ in number.

    References
    ----------
    .. [1] OWN, definition.

    Examples
    --------
    >>> day_night = 3.6e6 * np.array([[100.0], [50.0]])
    >>> round(float(energy_cost(day_night, np.array([0.2, 0.1]) / 3.6e6)[0]), 2)
    25.0
    """
    used, prices = least("energy", energy), least("energy price", price)
    if used.ndim < 2:
        if prices.ndim and used.ndim and prices.shape != used.shape:
            raise OutOfRangeError(
                f"energy by tariff: {prices.size} prices for energy of shape {used.shape}; "
                "one price per sample, or one row of energy per price, is needed"
            )
        cost = used * prices
    else:
        cost = _rows("energy by tariff", prices, used)
    demand = least("peak power", peak_power) * least("demand price", demand_price)
    return np.asarray(cost + demand)


def active_polymer_price(price: Number, active_share: Number) -> FloatArray:
    r"""Price of what works in a polymer product.

    Parameters
    ----------
    price : float or ndarray
        Price of the product as supplied; >= 0. [currency/kg]
    active_share : float or ndarray
        Active polymer per mass of product; above 0, up to 1. [1]

    Returns
    -------
    active_polymer_price : ndarray
        Price per active mass. [currency/kg]

    References
    ----------
    .. [1] OWN, definition.

    Examples
    --------
    >>> round(float(active_polymer_price(2.4, 0.4)), 6)
    6.0
    """
    active = share("active share", active_share, strict=True)
    return np.asarray(least("polymer price", price) / active)


def polymer_cost(dry_solids: Number, dose: Number, price_active: Number) -> FloatArray:
    r"""Cost of polymer.

    Parameters
    ----------
    dry_solids : float or ndarray
        Dry solids fed in a year; >= 0. [kg]
    dose : float or ndarray
        Active polymer per dry solids; >= 0. [kg/kg]
    price_active : float or ndarray
        Price per active mass; >= 0. [currency/kg]

    Returns
    -------
    polymer_cost : ndarray
        Cost of the year. [currency]

    References
    ----------
    .. [1] OWN, definition.

    Examples
    --------
    >>> float(polymer_cost(1e6, 0.008, 6.0))
    48000.0
    """
    mass = least("dry solids", dry_solids) * least("polymer dose", dose)
    return np.asarray(mass * least("price of active polymer", price_active))


def water_cost(volume: Number, price: Number) -> FloatArray:
    r"""Cost of water.

    Parameters
    ----------
    volume : float or ndarray
        Bought water of a year; >= 0. [m3]
    price : float or ndarray
        Price, sewer charge included if it applies; >= 0. [currency/m3]

    Returns
    -------
    water_cost : ndarray
        Cost of the year. [currency]

    References
    ----------
    .. [1] OWN, definition.

    Examples
    --------
    >>> float(water_cost(500.0, 2.0))
    1000.0
    """
    return np.asarray(least("water", volume) * least("water price", price))


def labour_cost(time: Number, rate: Number) -> FloatArray:
    r"""Cost of attendance.

    Parameters
    ----------
    time : float or ndarray
        Time worked in a year, all persons; >= 0. [s]
    rate : float or ndarray
        Full cost of the time; >= 0. [currency/s]

    Returns
    -------
    labour_cost : ndarray
        Cost of the year. [currency]

    References
    ----------
    .. [1] OWN, definition.

    Examples
    --------
    >>> round(float(labour_cost(3600.0 * 1000, 30.0 / 3600)), 6)
    30000.0
    """
    return np.asarray(least("working time", time) * least("labour rate", rate))


def maintenance_cost(capital: Number, yearly_share: Number) -> FloatArray:
    r"""Cost of upkeep as a share of what was bought.

    Parameters
    ----------
    capital : float or ndarray
        Purchase cost of the equipment; >= 0. [currency]
    yearly_share : float or ndarray
        Share spent in a year; 0 to 1. [1]

    Returns
    -------
    maintenance_cost : ndarray
        Cost of the year. [currency]

    References
    ----------
    .. [1] OWN, definition.

    Examples
    --------
    >>> float(maintenance_cost(400000.0, 0.02))
    8000.0
    """
    return np.asarray(least("capital", capital) * share("maintenance share", yearly_share))


def filtrate_cost(loads: Number, prices: Number) -> FloatArray:
    r"""Cost of treating what goes back to the head of the works.

    .. math:: \sum_j L_j p_j

    Parameters
    ----------
    loads : ndarray, shape (k,) or (k, n)
        Yearly loads, one row each: suspended solids, oxygen demand, nitrogen ...; >= 0. [kg]
    prices : ndarray, shape (k,) or (k, n)
        Cost of treating each, over samples where it has spread; >= 0. [currency/kg]

    Returns
    -------
    filtrate_cost : ndarray, shape (n,)
        Cost of the year. [currency]

    References
    ----------
    .. [1] OWN, definition.

    Examples
    --------
    >>> float(filtrate_cost(np.array([1000.0, 200.0]), np.array([0.5, 2.0])))
    900.0
    """
    mass = np.atleast_1d(least("filtrate load", loads))
    price = np.atleast_1d(least("treatment price", prices))
    return _rows("filtrate", price, mass)


def _rows(what: str, prices: FloatArray, amounts: FloatArray) -> FloatArray:
    """Sum of amounts times prices over the rows; prices may be one per row or one per sample."""
    if amounts.shape[0] != (prices.shape or (0,))[0] or prices.ndim > amounts.ndim:
        raise OutOfRangeError(
            f"{what}: {prices.size} prices for amounts of shape {amounts.shape}; one row per price"
        )
    wide = prices.reshape(*prices.shape, *[1] * (amounts.ndim - prices.ndim))
    return np.asarray((wide * amounts).sum(axis=0))
