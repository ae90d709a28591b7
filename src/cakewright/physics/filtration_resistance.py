"""Resistance of cake and medium: from slopes, against pressure, and solids per filtrate."""

from __future__ import annotations

import numpy as np

from cakewright.physics._checked import Floats, checked, plain

__all__ = [
    "medium_resistance_ruth",
    "solids_per_filtrate",
    "specific_resistance_average",
    "specific_resistance_ruth",
]


def solids_per_filtrate(
    liquid_density: Floats, solids_fraction: Floats, cake_wet_to_dry: Floats
) -> Floats:
    r"""Dry solids laid down per volume of filtrate.

    .. math:: c = \frac{\rho_l s}{1 - m s}

    Parameters
    ----------
    liquid_density : float or ndarray, shape (n,)
        Density of the filtrate; :math:`\rho_l`; > 0. [kg/m3]
    solids_fraction : float or ndarray, shape (n,)
        Suspended solids of the feed by wet mass; :math:`s`; > 0, :math:`m s < 1`. [1]
    cake_wet_to_dry : float or ndarray, shape (n,)
        Wet cake mass over dry cake mass; :math:`m`; >= 1. Zero gives the thin-feed shortcut
        :math:`\rho_l s`, which is right only while :math:`m s \ll 1`. [1]

    Returns
    -------
    solids_per_filtrate : float or ndarray, shape (n,)
        Dry mass per volume of filtrate. [kg/m3]

    Raises
    ------
    OutOfRangeError
        If the cake would hold more liquid than the feed brings.

    References
    ----------
    .. [1] T02, example 14.2-4.

    Examples
    --------
    >>> round(solids_per_filtrate(996.9, 0.191, 2.0), 1)
    308.1
    """
    rho = checked(liquid_density, "liquid density", "kg/m3", 0.0, above=True)
    s = checked(solids_fraction, "solids fraction", "1", 0.0, 1.0, above=True)
    m = checked(cake_wet_to_dry, "wet cake per dry cake", "1", 0.0)
    left = checked(1.0 - m * s, "share of the feed that leaves as filtrate", "1", 0.0, above=True)
    return plain(rho * s / left)


def specific_resistance_ruth(
    slope: Floats,
    filter_area: Floats,
    pressure: Floats,
    viscosity: Floats,
    solids_deposited: Floats,
) -> Floats:
    r"""Average specific resistance from the slope of t/V against V.

    .. math:: \alpha = \frac{2 b A^2 \Delta P}{\mu c}

    Parameters
    ----------
    slope : float or ndarray, shape (n,)
        Slope of t/V against V; :math:`b`. [s/m6]
    filter_area : float or ndarray, shape (n,)
        Filter area; :math:`A`; > 0. [m2]
    pressure : float or ndarray, shape (n,)
        Pressure drop; :math:`\Delta P`; > 0. [Pa]
    viscosity : float or ndarray, shape (n,)
        Filtrate viscosity; :math:`\mu`; > 0. [Pa*s]
    solids_deposited : float or ndarray, shape (n,)
        Dry solids per filtrate volume; :math:`c`; > 0. [kg/m3]

    Returns
    -------
    specific_resistance : float or ndarray, shape (n,)
        Average over the cake at this pressure. [m/kg]

    References
    ----------
    .. [1] T02, examples 14.2-1 and 14.2-2 (there K_p = 2 b).

    Examples
    --------
    >>> round(specific_resistance_ruth(2e9, 0.05, 0.7e5, 1e-3, 150.0) / 1e12, 3)
    4.667
    """
    area = checked(filter_area, "filter area", "m2", 0.0, above=True)
    drop = checked(pressure, "pressure", "Pa", 0.0, above=True)
    mu = checked(viscosity, "viscosity", "Pa*s", 0.0, above=True)
    c = checked(solids_deposited, "solids per filtrate", "kg/m3", 0.0, above=True)
    return plain(2 * np.asarray(slope) * area**2 * drop / (mu * c))


def medium_resistance_ruth(
    intercept: Floats, filter_area: Floats, pressure: Floats, viscosity: Floats
) -> Floats:
    r"""Medium resistance from the intercept of t/V against V.

    .. math:: R_m = a A \Delta P / \mu

    Parameters
    ----------
    intercept : float or ndarray, shape (n,)
        Intercept of t/V against V; :math:`a`. [s/m3]
    filter_area : float or ndarray, shape (n,)
        Filter area; :math:`A`; > 0. [m2]
    pressure : float or ndarray, shape (n,)
        Pressure drop; :math:`\Delta P`; > 0. [Pa]
    viscosity : float or ndarray, shape (n,)
        Filtrate viscosity; :math:`\mu`; > 0. [Pa*s]

    Returns
    -------
    medium_resistance : float or ndarray, shape (n,)
        Cloth, paper or screen, with the first cake in its pores. [1/m]

    References
    ----------
    .. [1] T02, example 14.2-1.

    Examples
    --------
    >>> round(medium_resistance_ruth(7e5, 0.05, 0.7e5, 1e-3) / 1e12, 2)
    2.45
    """
    area = checked(filter_area, "filter area", "m2", 0.0, above=True)
    drop = checked(pressure, "pressure", "Pa", 0.0, above=True)
    mu = checked(viscosity, "viscosity", "Pa*s", 0.0, above=True)
    return plain(np.asarray(intercept) * area * drop / mu)


def specific_resistance_average(
    pressure: Floats, local_resistance: Floats, exponent: Floats, stress_scale: Floats
) -> Floats:
    r"""Average specific resistance of a cake whose local resistance grows with solid stress.

    .. math:: \frac{1}{\alpha_{av}} = \frac{1}{P}\int_0^P \frac{dp_s}{\alpha_0(1+p_s/p_a)^m}

    Parameters
    ----------
    pressure : float or ndarray, shape (n,)
        Pressure drop over the cake; :math:`P`; > 0. [Pa]
    local_resistance : float or ndarray, shape (n,)
        Local resistance without stress; :math:`\alpha_0`; > 0. [m/kg]
    exponent : float or ndarray, shape (n,)
        Exponent of the local law; :math:`m`; >= 0. [1]
    stress_scale : float or ndarray, shape (n,)
        Stress scale; :math:`p_a`; > 0. [Pa]

    Returns
    -------
    specific_resistance : float or ndarray, shape (n,)
        Average over the cake. [m/kg]

    Notes
    -----
    Closed form of the integral; smooth through m = 1, where it turns logarithmic.

    References
    ----------
    .. [1] OWN, integral of the local law; T02 and T03 give the power-law limit.

    Examples
    --------
    >>> round(specific_resistance_average(1e5, 1e10, 0.0, 500.0) / 1e10, 6)
    1.0
    """
    scale = checked(stress_scale, "stress scale", "Pa", 0.0, above=True)
    ratio = checked(pressure, "pressure", "Pa", 0.0, above=True) / scale
    m = checked(exponent, "resistance exponent", "1", 0.0)
    log_growth = np.log1p(ratio)
    power = (1.0 - m) * log_growth
    # (exp(x) - 1)/x with its limit 1 at x = 0
    growth = np.where(np.abs(power) < 1e-8, 1.0 + power / 2, np.expm1(power) / _not_zero(power))
    return plain(np.asarray(local_resistance) * ratio / (log_growth * growth))


def _not_zero(x: np.ndarray) -> np.ndarray:
    return np.asarray(np.where(np.abs(x) < 1e-8, 1.0, x))
