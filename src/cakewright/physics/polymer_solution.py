"""Polymer and coagulant solutions: from dry solids and dose to pump flow and tank volume.

Active polymer and product as supplied are never mixed: every name says which it counts.
"""

from __future__ import annotations

from cakewright.physics._checked import Floats, checked, plain

__all__ = [
    "active_flow",
    "batch_tank_volume",
    "dilution_water_flow",
    "product_flow",
    "solution_flow",
]


def active_flow(dry_solids_flow: Floats, dose: Floats) -> Floats:
    r"""Active polymer needed per time.

    .. math:: \dot m_a = \dot m_s\, d

    Parameters
    ----------
    dry_solids_flow : float or ndarray, shape (n,)
        Dry solids fed; :math:`\dot m_s`; >= 0. [kg/s]
    dose : float or ndarray, shape (n,)
        Active polymer per dry solids; :math:`d`; >= 0. [kg/kg]

    Returns
    -------
    active_flow : float or ndarray, shape (n,)
        Active polymer per time. [kg/s]

    Raises
    ------
    OutOfRangeError
        If an argument is negative.

    References
    ----------
    .. [1] OWN, definition of the dose.

    Examples
    --------
    >>> round(3600 * active_flow(250 / 3600, 0.006), 3)
    1.5
    """
    m = checked(dry_solids_flow, "dry solids flow", "kg/s", 0.0)
    return plain(m * checked(dose, "dose", "kg/kg", 0.0))


def product_flow(active: Floats, activity: Floats) -> Floats:
    r"""Product as supplied that carries an active flow.

    .. math:: \dot m_p = \dot m_a/a

    Parameters
    ----------
    active : float or ndarray, shape (n,)
        Active polymer per time; :math:`\dot m_a`; >= 0. [kg/s]
    activity : float or ndarray, shape (n,)
        Active share of the product; :math:`a`; 0 to 1. [kg/kg]

    Returns
    -------
    product_flow : float or ndarray, shape (n,)
        Product as supplied per time. [kg/s]

    Raises
    ------
    OutOfRangeError
        If an argument is outside its range.

    References
    ----------
    .. [1] OWN, definition of the activity.

    Examples
    --------
    >>> round(product_flow(1.5, 0.45), 3)
    3.333
    """
    m = checked(active, "active flow", "kg/s", 0.0)
    return plain(m / checked(activity, "activity", "kg/kg", 0.0, 1.0, above=True))


def solution_flow(active: Floats, strength: Floats, density: Floats = 1000.0) -> Floats:
    r"""Solution that carries an active flow at a strength.

    .. math:: Q = \dot m_a/(c\,\rho)

    Parameters
    ----------
    active : float or ndarray, shape (n,)
        Active polymer per time; :math:`\dot m_a`; >= 0. [kg/s]
    strength : float or ndarray, shape (n,)
        Active share of the solution; :math:`c`; 0 to 1. [kg/kg]
    density : float or ndarray, shape (n,)
        Density of the solution; :math:`\rho`; > 0. [kg/m3]

    Returns
    -------
    solution_flow : float or ndarray, shape (n,)
        Volume flow of solution. [m3/s]

    Raises
    ------
    OutOfRangeError
        If an argument is outside its range.

    References
    ----------
    .. [1] OWN, mass balance.

    Examples
    --------
    >>> round(1000 * solution_flow(1.5, 0.003), 6)
    500.0
    """
    m = checked(active, "active flow", "kg/s", 0.0)
    c = checked(strength, "solution strength", "kg/kg", 0.0, 1.0, above=True)
    return plain(m / (c * checked(density, "solution density", "kg/m3", 0.0, above=True)))


def dilution_water_flow(
    active: Floats, stock_strength: Floats, final_strength: Floats, density: Floats = 1000.0
) -> Floats:
    r"""Water that takes a stock solution down to its final strength.

    .. math:: Q_w = \frac{\dot m_a}{\rho}\left(\frac{1}{c_f} - \frac{1}{c_s}\right)

    Parameters
    ----------
    active : float or ndarray, shape (n,)
        Active polymer per time; :math:`\dot m_a`; >= 0. [kg/s]
    stock_strength : float or ndarray, shape (n,)
        Active share of the stock; :math:`c_s`; > 0. [kg/kg]
    final_strength : float or ndarray, shape (n,)
        Active share after dilution; :math:`c_f`; > 0, not above the stock's. [kg/kg]
    density : float or ndarray, shape (n,)
        Density of water and solution; :math:`\rho`; > 0. [kg/m3]

    Returns
    -------
    water_flow : float or ndarray, shape (n,)
        Dilution water. [m3/s]

    Raises
    ------
    OutOfRangeError
        If an argument is outside its range or the final strength is above the stock's.

    References
    ----------
    .. [1] OWN, mass balance.

    Examples
    --------
    >>> round(1000 * dilution_water_flow(1.5, 0.003, 0.001), 6)
    1000.0
    """
    stock = checked(stock_strength, "stock strength", "kg/kg", 0.0, 1.0, above=True)
    final = checked(final_strength, "final strength", "kg/kg", 0.0, 1.0, above=True)
    checked(stock - final, "stock strength less final strength", "kg/kg", 0.0)
    total = solution_flow(active, final, density)
    return plain(total - solution_flow(active, stock, density))


def batch_tank_volume(
    draw: Floats, fill_time: Floats, wetting_time: Floats, ageing_time: Floats
) -> Floats:
    r"""Volume of each of two tanks working turn about.

    .. math:: V = Q\,(t_{fill} + t_{wet} + t_{age})

    Parameters
    ----------
    draw : float or ndarray, shape (n,)
        Largest draw of stock solution; :math:`Q`; >= 0. [m3/s]
    fill_time : float or ndarray, shape (n,)
        Filling time; :math:`t_{fill}`; >= 0. [s]
    wetting_time : float or ndarray, shape (n,)
        Time to add and wet the product; :math:`t_{wet}`; >= 0. [s]
    ageing_time : float or ndarray, shape (n,)
        Ageing time; :math:`t_{age}`; >= 0. [s]

    Returns
    -------
    volume : float or ndarray, shape (n,)
        Working volume of one tank. [m3]

    Raises
    ------
    OutOfRangeError
        If an argument is negative.

    Notes
    -----
    While one tank is drawn down the other must be filled, wetted and aged.

    References
    ----------
    .. [1] OWN, the draw time is at least the making time.

    Examples
    --------
    >>> round(batch_tank_volume(0.5 / 3600, 600.0, 300.0, 2700.0), 4)
    0.5
    """
    q = checked(draw, "solution draw", "m3/s", 0.0)
    total = checked(fill_time, "filling time", "s", 0.0) + checked(
        wetting_time, "wetting", "s", 0.0
    )
    return plain(q * (total + checked(ageing_time, "ageing time", "s", 0.0)))
