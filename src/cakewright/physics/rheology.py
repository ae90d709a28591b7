"""How sludge resists shear: yield stress and flow curve."""

from __future__ import annotations

from cakewright.physics._checked import Floats, checked, plain

__all__ = [
    "apparent_viscosity_herschel_bulkley",
    "shear_stress_herschel_bulkley",
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
