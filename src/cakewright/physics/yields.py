"""Solids that biological treatment, primary settling and flotation leave behind."""

from __future__ import annotations

import numpy as np

from cakewright.physics._checked import Floats, checked, plain
from cakewright.quantities.constants import DAY

__all__ = [
    "solids_flow_flotation",
    "solids_flow_load_rule",
    "solids_flow_net_yield",
    "solids_flow_settled",
    "solids_per_bod_load_rule",
    "temperature_factor_load_rule",
    "yield_observed",
]


def yield_observed(yield_true: Floats, decay_rate: Floats, sludge_age: Floats) -> Floats:
    r"""Net yield of biomass after decay.

    .. math:: Y_{obs} = Y / (1 + k_d\, t_{SS})

    Parameters
    ----------
    yield_true : float or ndarray, shape (n,)
        Growth per BOD removed; :math:`Y`; >= 0. [kg/kg]
    decay_rate : float or ndarray, shape (n,)
        Share of biomass lost per time; :math:`k_d`; >= 0. [1/s]
    sludge_age : float or ndarray, shape (n,)
        Mean time solids stay in the biology; :math:`t_{SS}`; > 0. [s]

    Returns
    -------
    yield_observed : float or ndarray, shape (n,)
        Volatile solids wasted per BOD removed. [kg/kg]

    Raises
    ------
    OutOfRangeError
        If a value is outside its range.

    Notes
    -----
    Leaves out inert solids of the wastewater and cell debris.

    References
    ----------
    .. [1] MEM, wastewater-engineering textbooks.

    Examples
    --------
    >>> round(yield_observed(0.5, 0.06 / 86400, 10 * 86400), 4)
    0.3125
    """
    growth = checked(yield_true, "yield", "kg/kg", 0.0)
    decay = checked(decay_rate, "decay rate", "1/s", 0.0)
    age = checked(sludge_age, "sludge age", "s", 0.0, above=True)
    return plain(growth / (1.0 + decay * age))


def solids_flow_net_yield(
    flow: Floats,
    bod_removed: Floats,
    yield_observed: Floats,
    volatile_share: Floats,
    inert_solids: Floats = 0.0,
) -> Floats:
    r"""Excess biological sludge by net yield.

    .. math:: \dot m_s = Q\,(Y_{obs}\,\Delta S / f_v + X_i)

    Parameters
    ----------
    flow : float or ndarray, shape (n,)
        Wastewater treated; :math:`Q`; >= 0. [m3/s]
    bod_removed : float or ndarray, shape (n,)
        BOD5 in less BOD5 out; :math:`\Delta S`; >= 0. [kg/m3]
    yield_observed : float or ndarray, shape (n,)
        Volatile solids wasted per BOD removed; :math:`Y_{obs}`; >= 0. [kg/kg]
    volatile_share : float or ndarray, shape (n,)
        Volatile share of the solids grown; :math:`f_v`; above 0 to 1. [1]
    inert_solids : float or ndarray, shape (n,)
        Solids of the wastewater that pass through unchanged; :math:`X_i`; >= 0. [kg/m3]

    Returns
    -------
    solids_flow : float or ndarray, shape (n,)
        Dry solids wasted per time. [kg/s]

    Raises
    ------
    OutOfRangeError
        If a value is outside its range.

    References
    ----------
    .. [1] MEM, wastewater-engineering textbooks.

    Examples
    --------
    >>> round(solids_flow_net_yield(0.25, 0.2438, 0.3125, 0.8) * 86400)
    2057
    """
    volume = checked(flow, "wastewater flow", "m3/s", 0.0)
    grown = checked(bod_removed, "BOD removed", "kg/m3", 0.0)
    grown = grown * checked(yield_observed, "net yield", "kg/kg", 0.0)
    share = checked(volatile_share, "volatile share", "", 0.0, 1.0, above=True)
    return plain(volume * (grown / share + checked(inert_solids, "inert solids", "kg/m3", 0.0)))


def temperature_factor_load_rule(temperature: Floats) -> Floats:
    r"""Temperature factor of decay in the load-based rule.

    .. math:: F_T = 1.072^{(T - 15)}, \quad T \text{ in } ^\circ C

    Parameters
    ----------
    temperature : float or ndarray, shape (n,)
        Temperature in the biology; :math:`T`; 277 to 308. [K]

    Returns
    -------
    temperature_factor : float or ndarray, shape (n,)
        One at 15 degrees Celsius. [1]

    Raises
    ------
    OutOfRangeError
        If the temperature is not one a biology works at.

    References
    ----------
    .. [1] MEM, German sizing rule A 131, edition 2000.

    Examples
    --------
    >>> round(temperature_factor_load_rule(284.15), 4)
    0.7572
    """
    kelvin = checked(temperature, "temperature in the biology", "K", 276.15, 313.15)
    return plain(1.072 ** (kelvin - 288.15))


def solids_per_bod_load_rule(
    solids_to_bod: Floats, sludge_age: Floats, temperature: Floats
) -> Floats:
    r"""Sludge per BOD5 load by sludge age, solids in the wastewater and temperature.

    .. math:: 0.75 + 0.6 \frac{X_{SS}}{C_{BOD}}
        - \frac{0.8 \cdot 0.17 \cdot 0.75\, t_{SS} F_T}{1 + 0.17\, t_{SS} F_T}

    Parameters
    ----------
    solids_to_bod : float or ndarray, shape (n,)
        Suspended solids over BOD5 entering the biology; :math:`X_{SS}/C_{BOD}`; >= 0. [kg/kg]
    sludge_age : float or ndarray, shape (n,)
        Sludge age; :math:`t_{SS}`, in days within the formula; > 0. [s]
    temperature : float or ndarray, shape (n,)
        Temperature in the biology; 276 to 313. [K]

    Returns
    -------
    solids_per_bod : float or ndarray, shape (n,)
        Dry solids per BOD5 load to the biology. [kg/kg]

    Raises
    ------
    OutOfRangeError
        If a value is outside its range.

    Notes
    -----
    The solids of the wastewater are inside: do not add them again. Tabled for 4 to 25 days.

    References
    ----------
    .. [1] MEM, German sizing rule A 131, edition 2000; reproduces its 10 to 12 degree table.

    Examples
    --------
    >>> round(solids_per_bod_load_rule(1.0, 10 * 86400, 284.15), 2)
    1.01
    """
    ratio = checked(solids_to_bod, "suspended solids over BOD", "kg/kg", 0.0)
    days = checked(sludge_age, "sludge age", "s", 0.0, above=True) / DAY
    decay = 0.17 * days * temperature_factor_load_rule(temperature)
    return plain(0.75 + 0.6 * ratio - 0.8 * 0.75 * decay / (1.0 + decay))


def solids_flow_load_rule(
    flow: Floats, bod_in: Floats, tss_in: Floats, sludge_age: Floats, temperature: Floats
) -> Floats:
    r"""Excess biological sludge by the load-based rule.

    .. math:: \dot m_s = Q\, C_{BOD}\; y(X_{SS}/C_{BOD},\, t_{SS},\, T)

    Parameters
    ----------
    flow : float or ndarray, shape (n,)
        Wastewater to the biology; :math:`Q`; >= 0. [m3/s]
    bod_in : float or ndarray, shape (n,)
        BOD5 entering the biology; :math:`C_{BOD}`; > 0. [kg/m3]
    tss_in : float or ndarray, shape (n,)
        Suspended solids entering the biology; :math:`X_{SS}`; >= 0. [kg/m3]
    sludge_age : float or ndarray, shape (n,)
        Sludge age; :math:`t_{SS}`; > 0. [s]
    temperature : float or ndarray, shape (n,)
        Temperature in the biology; :math:`T`; 276 to 313. [K]

    Returns
    -------
    solids_flow : float or ndarray, shape (n,)
        Dry solids wasted per time. [kg/s]

    Raises
    ------
    OutOfRangeError
        If a value is outside its range.

    References
    ----------
    .. [1] MEM, German sizing rule A 131, edition 2000.

    Examples
    --------
    >>> round(solids_flow_load_rule(0.01, 0.25, 0.25, 10 * 86400, 284.15) * 86400, 1)
    218.7
    """
    volume = checked(flow, "wastewater flow", "m3/s", 0.0)
    bod = checked(bod_in, "BOD in", "kg/m3", 0.0, above=True)
    ratio = plain(checked(tss_in, "TSS in", "kg/m3", 0.0) / bod)
    return plain(volume * bod * solids_per_bod_load_rule(ratio, sludge_age, temperature))


def solids_flow_settled(flow: Floats, tss_in: Floats, removal: Floats) -> Floats:
    r"""Primary sludge from the suspended solids that settle.

    .. math:: \dot m_s = E\, Q\, X_0

    Parameters
    ----------
    flow : float or ndarray, shape (n,)
        Wastewater; :math:`Q`; >= 0. [m3/s]
    tss_in : float or ndarray, shape (n,)
        Suspended solids entering; :math:`X_0`; >= 0. [kg/m3]
    removal : float or ndarray, shape (n,)
        Share that settles; :math:`E`; typically 0.5 to 0.65 (MEM); 0 to 1. [1]

    Returns
    -------
    solids_flow : float or ndarray, shape (n,)
        Dry solids per time. [kg/s]

    Raises
    ------
    OutOfRangeError
        If a value is outside its range.

    References
    ----------
    .. [1] OWN, solids balance.

    Examples
    --------
    >>> round(solids_flow_settled(0.1, 0.2, 0.5), 6)
    0.01
    """
    settled = checked(removal, "share that settles", "", 0.0, 1.0)
    volume = checked(flow, "wastewater flow", "m3/s", 0.0)
    return plain(settled * volume * checked(tss_in, "TSS in", "kg/m3", 0.0))


def solids_flow_flotation(
    flow: Floats,
    tss_removed: Floats,
    oil_removed: Floats,
    precipitate: Floats = 0.0,
    oil_in_tss: Floats = 0.0,
) -> Floats:
    r"""Flotation froth from the solids and oil it lifts and the precipitate of its coagulant.

    .. math:: \dot m_s = Q\,[\Delta X + (1 - f)\,\Delta O + X_p]

    Parameters
    ----------
    flow : float or ndarray, shape (n,)
        Wastewater through the flotation; :math:`Q`; >= 0. [m3/s]
    tss_removed : float or ndarray, shape (n,)
        Suspended solids lifted; :math:`\Delta X`; >= 0. [kg/m3]
    oil_removed : float or ndarray, shape (n,)
        Oil and fat lifted; :math:`\Delta O`; >= 0. [kg/m3]
    precipitate : float or ndarray, shape (n,)
        Dry precipitate of the coagulant; :math:`X_p`; >= 0. [kg/m3]
    oil_in_tss : float or ndarray, shape (n,)
        Share of that oil already weighed with the suspended solids; :math:`f`; 0 to 1. [1]

    Returns
    -------
    solids_flow : float or ndarray, shape (n,)
        Dry solids in the froth per time, oil included as drying at 103 to 105 C does. [kg/s]

    Raises
    ------
    OutOfRangeError
        If a value is outside its range.

    References
    ----------
    .. [1] OWN, solids balance.

    Examples
    --------
    >>> round(solids_flow_flotation(0.01, 0.8, 0.3, 0.1), 4)
    0.012
    """
    volume = checked(flow, "wastewater flow", "m3/s", 0.0)
    solids = checked(tss_removed, "TSS removed", "kg/m3", 0.0)
    oil = checked(oil_removed, "oil removed", "kg/m3", 0.0)
    counted = checked(oil_in_tss, "share of oil weighed with the solids", "", 0.0, 1.0)
    made = checked(precipitate, "precipitate", "kg/m3", 0.0)
    return plain(np.asarray(volume * (solids + (1.0 - counted) * oil + made)))
