"""Properties of liquid water at atmospheric pressure."""

from __future__ import annotations

import numpy as np

from cakewright.physics._checked import Floats, checked, plain

__all__ = ["vapour_pressure_wagner", "water_density_kell", "water_viscosity_iapws"]

_FREEZING = 273.15
_KELL = (999.83952, 16.945176, -7.9870401e-3, -46.170461e-6, 105.56302e-9, -280.54253e-12)
_KELL_BELOW = 16.879850e-3
_VISCOSITY = ((280.68, -1.9), (511.45, -7.7), (61.131, -19.6), (0.45903, -40.0))
_WAGNER = (
    (-7.85951783, 1.0),
    (1.84408259, 1.5),
    (-11.7866497, 3.0),
    (22.6807411, 3.5),
    (-15.9618719, 4.0),
    (1.80122502, 7.5),
)
_CRITICAL_TEMPERATURE = 647.096
_CRITICAL_PRESSURE = 22.064e6


def water_density_kell(temperature: Floats) -> Floats:
    r"""Density of air-free water at one atmosphere.

    .. math:: \rho = \frac{\sum_{i=0}^{5} a_i t^i}{1 + b\,t}, \quad t = T - 273.15

    Parameters
    ----------
    temperature : float or ndarray, shape (n,)
        Water temperature; :math:`T`; 273.15 to 373.15. [K]

    Returns
    -------
    density : float or ndarray, shape (n,)
        Mass per volume. [kg/m3]

    Raises
    ------
    OutOfRangeError
        If the water would be ice or steam.

    Notes
    -----
    Kell's rational fit; coefficients from memory, checked against an open implementation of the
    international water standard (within 1e-5 from 0 to 90 degC). Leaves out dissolved salts.

    References
    ----------
    .. [1] MEM, Kell 1975, density of liquid water.

    Examples
    --------
    >>> round(water_density_kell(293.15), 2)
    998.2
    """
    t = checked(temperature, "water temperature", "K", _FREEZING, 373.15) - _FREEZING
    return plain(np.polynomial.polynomial.polyval(t, _KELL) / (1 + _KELL_BELOW * t))


def water_viscosity_iapws(temperature: Floats) -> Floats:
    r"""Dynamic viscosity of liquid water at 0.1 MPa.

    .. math:: \mu = 10^{-6} \sum_i a_i (T/300)^{b_i}

    Parameters
    ----------
    temperature : float or ndarray, shape (n,)
        Water temperature; :math:`T`; 273.15 to 373.15. [K]

    Returns
    -------
    viscosity : float or ndarray, shape (n,)
        Dynamic viscosity. [Pa*s]

    Raises
    ------
    OutOfRangeError
        If the water would be ice or steam.

    Notes
    -----
    Four-term supplementary equation of the international water standard; coefficients from memory,
    checked against an open implementation of the full equation (within 1 %).

    References
    ----------
    .. [1] MEM, IAPWS supplementary release on liquid water at 0.1 MPa.

    Examples
    --------
    >>> round(water_viscosity_iapws(293.15) * 1000, 3)
    1.002
    """
    reduced = checked(temperature, "water temperature", "K", _FREEZING, 373.15) / 300.0
    return plain(1e-6 * sum(a * reduced**b for a, b in _VISCOSITY))


def vapour_pressure_wagner(temperature: Floats) -> Floats:
    r"""Saturation pressure of water.

    .. math:: \ln\frac{p}{p_c} = \frac{T_c}{T}\sum_i a_i \tau^{n_i}, \quad \tau = 1 - T/T_c

    Parameters
    ----------
    temperature : float or ndarray, shape (n,)
        Water temperature; :math:`T`; 273.15 to 647.096. [K]

    Returns
    -------
    vapour_pressure : float or ndarray, shape (n,)
        Absolute saturation pressure. [Pa]

    Raises
    ------
    OutOfRangeError
        If the temperature is below freezing or above the critical point.

    Notes
    -----
    Coefficients from memory, checked against an open implementation of the standard.

    References
    ----------
    .. [1] MEM, Wagner and Pruss saturation equation.

    Examples
    --------
    >>> round(vapour_pressure_wagner(293.15))
    2339
    """
    t = checked(temperature, "water temperature", "K", _FREEZING, _CRITICAL_TEMPERATURE)
    tau = 1 - t / _CRITICAL_TEMPERATURE
    total = sum(a * tau**n for a, n in _WAGNER)
    return plain(_CRITICAL_PRESSURE * np.exp(_CRITICAL_TEMPERATURE / t * total))
