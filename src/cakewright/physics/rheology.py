"""How sludge resists shear: yield stress and flow curve."""

from __future__ import annotations

from cakewright.physics._checked import Floats, checked, plain

__all__ = [
    "apparent_viscosity_herschel_bulkley",
    "shear_stress_herschel_bulkley",
    "yield_stress_power_of_solids",
]


def shear_stress_herschel_bulkley(
    shear_rate: Floats, yield_stress: Floats, consistency: Floats, flow_index: Floats
) -> Floats:
    r"""Shear stress of a yielding power-law fluid (Bingham when the index is 1).

    .. math:: \tau = \tau_0 + K\,\dot\gamma^{\,n}

    Parameters
    ----------
    shear_rate : float or ndarray, shape (n,)
        Shear rate; :math:`\dot\gamma`; >= 0. [1/s]
    yield_stress : float or ndarray, shape (n,)
        Stress below which the sludge does not flow; :math:`\tau_0`; >= 0. [Pa]
    consistency : float or ndarray, shape (n,)
        Consistency in Pa s^n (plastic viscosity when the index is 1); :math:`K`; > 0. [Pa*s]
    flow_index : float or ndarray, shape (n,)
        Flow index; :math:`n`; > 0, usually 0.3 to 1. [1]

    Returns
    -------
    shear_stress : float or ndarray, shape (n,)
        Shear stress. [Pa]

    Raises
    ------
    OutOfRangeError
        If an argument is outside its range.

    Notes
    -----
    Mixed municipal sludge follows it within 3 to 7 %. Time-independent: thixotropy left out.

    References
    ----------
    .. [1] T66, abstract: average error of the fit on mixed sludge.

    Examples
    --------
    >>> shear_stress_herschel_bulkley(100.0, 5.0, 0.02, 1.0)
    7.0
    """
    rate = checked(shear_rate, "shear rate", "1/s", 0.0)
    base = checked(yield_stress, "yield stress", "Pa", 0.0)
    k = checked(consistency, "consistency", "Pa s^n", 0.0, above=True)
    n = checked(flow_index, "flow index", "", 0.0, 2.0, above=True)
    return plain(base + k * rate**n)


def apparent_viscosity_herschel_bulkley(
    shear_rate: Floats, yield_stress: Floats, consistency: Floats, flow_index: Floats
) -> Floats:
    r"""Shear stress over shear rate: what a mixer or a short pipe feels.

    .. math:: \mu_a = \tau(\dot\gamma)/\dot\gamma

    Parameters
    ----------
    shear_rate : float or ndarray, shape (n,)
        Shear rate; :math:`\dot\gamma`; > 0. [1/s]
    yield_stress : float or ndarray, shape (n,)
        Yield stress; :math:`\tau_0`; >= 0. [Pa]
    consistency : float or ndarray, shape (n,)
        Consistency in Pa s^n; :math:`K`; > 0. [Pa*s]
    flow_index : float or ndarray, shape (n,)
        Flow index; :math:`n`; > 0. [1]

    Returns
    -------
    apparent_viscosity : float or ndarray, shape (n,)
        Apparent viscosity at that shear rate. [Pa*s]

    Raises
    ------
    OutOfRangeError
        If an argument is outside its range.

    References
    ----------
    .. [1] OWN, definition.

    Examples
    --------
    >>> apparent_viscosity_herschel_bulkley(100.0, 5.0, 0.02, 1.0)
    0.07
    """
    rate = checked(shear_rate, "shear rate", "1/s", 0.0, above=True)
    return plain(shear_stress_herschel_bulkley(rate, yield_stress, consistency, flow_index) / rate)


def yield_stress_power_of_solids(
    total_solids: Floats, at_one_percent: Floats, exponent: Floats
) -> Floats:
    r"""Yield stress growing with solids as a power.

    .. math:: \tau_0 = a\,(TS/0.01)^b

    Parameters
    ----------
    total_solids : float or ndarray, shape (n,)
        Total solids; :math:`TS`; 0 to 0.15. [kg/kg]
    at_one_percent : float or ndarray, shape (n,)
        Yield stress at 1 % solids; :math:`a`; >= 0. [Pa]
    exponent : float or ndarray, shape (n,)
        Exponent; :math:`b`; 0 to 6, commonly 2 to 4. [1]

    Returns
    -------
    yield_stress : float or ndarray, shape (n,)
        Yield stress. [Pa]

    Raises
    ------
    OutOfRangeError
        If an argument is outside its range.

    Notes
    -----
    The form and the range of the exponent are from memory: no coefficients were read, so both
    should come from a viscometer on the site's sludge.

    References
    ----------
    .. [1] MEM, form only.

    Examples
    --------
    >>> round(yield_stress_power_of_solids(0.02, 0.1, 3.0), 3)
    0.8
    """
    solids = checked(total_solids, "total solids", "kg/kg", 0.0, 0.15)
    scale = checked(at_one_percent, "yield stress at 1 %", "Pa", 0.0)
    power = checked(exponent, "exponent", "", 0.0, 6.0)
    return plain(scale * (solids / 0.01) ** power)
