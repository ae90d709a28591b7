"""What a year of running costs. Quantities are those of one year; prices are per SI unit."""

from __future__ import annotations

import numpy as np
from scipy import special

from cakewright.economics.checks import Number, least, share
from cakewright.errors import OutOfRangeError
from cakewright.quantities import FloatArray

__all__ = [
    "active_polymer_price",
    "break_even",
    "disposal_cost",
    "dryness_saving",
    "energy_cost",
    "filtrate_cost",
    "haulage_cost",
    "haulage_cost_mass_distance",
    "haulage_trips",
    "labour_cost",
    "maintenance_cost",
    "overload_share",
    "polymer_cost",
    "route_accepts",
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
