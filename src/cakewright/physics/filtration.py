"""Cake filtration in time: constant pressure, constant rate, under gravity.

Symbols: t time, V filtrate, A filter area, dP pressure drop, mu filtrate viscosity,
c dry solids deposited per volume of filtrate, alpha specific resistance, R_m medium resistance.
"""

from __future__ import annotations

import numpy as np

from cakewright.physics._checked import Floats, checked, plain
from cakewright.quantities.constants import GRAVITY

__all__ = [
    "drainage_time_gravity",
    "filtration_time_ruth",
]


def filtration_time_ruth(
    filtrate_volume: Floats,
    filter_area: Floats,
    pressure: Floats,
    viscosity: Floats,
    solids_deposited: Floats,
    specific_resistance: Floats,
    medium_resistance: Floats,
) -> Floats:
    r"""Time to collect a filtrate volume at constant pressure.

    .. math:: t = \frac{\mu\alpha c}{2A^2\Delta P} V^2 + \frac{\mu R_m}{A\Delta P} V

    Parameters
    ----------
    filtrate_volume : float or ndarray, shape (n,)
        Filtrate collected; :math:`V`; >= 0. [m3]
    filter_area : float or ndarray, shape (n,)
        Filter area; :math:`A`; > 0. [m2]
    pressure : float or ndarray, shape (n,)
        Pressure drop over cake and medium; :math:`\Delta P`; > 0. [Pa]
    viscosity : float or ndarray, shape (n,)
        Filtrate viscosity; :math:`\mu`; > 0. [Pa*s]
    solids_deposited : float or ndarray, shape (n,)
        Dry solids per filtrate volume; :math:`c`; > 0. [kg/m3]
    specific_resistance : float or ndarray, shape (n,)
        Average specific resistance of the cake; :math:`\alpha`; >= 0. [m/kg]
    medium_resistance : float or ndarray, shape (n,)
        Medium resistance; :math:`R_m`; >= 0. [1/m]

    Returns
    -------
    filtration_time : float or ndarray, shape (n,)
        Time from the start. [s]

    Notes
    -----
    Ruth's equation integrated from V = 0. Leaves out sedimentation and a growing medium resistance.

    References
    ----------
    .. [1] T02, section 14.2; T04, section 7.2 writes the same with a volumetric resistance.

    Examples
    --------
    >>> round(filtration_time_ruth(1e-3, 0.01, 5e4, 1e-3, 20.0, 1e12, 0.0), 3)
    2000.0
    """
    volume = checked(filtrate_volume, "filtrate volume", "m3", 0.0)
    area = checked(filter_area, "filter area", "m2", 0.0, above=True)
    drop = checked(pressure, "pressure", "Pa", 0.0, above=True)
    mu = checked(viscosity, "viscosity", "Pa*s", 0.0, above=True)
    cake = np.asarray(specific_resistance) * np.asarray(solids_deposited) / (2 * area)
    return plain(mu / (area * drop) * (cake * volume**2 + np.asarray(medium_resistance) * volume))


def drainage_time_gravity(
    drained_height: Floats,
    starting_head: Floats,
    viscosity: Floats,
    liquid_density: Floats,
    solids_deposited: Floats,
    specific_resistance: Floats,
    medium_resistance: Floats,
) -> Floats:
    r"""Time to drain a height of filtrate through a screen under its own falling head.

    .. math:: t = \frac{\mu}{\rho_l g}\left[\alpha c\left(h_0 L - v\right) + R_m L\right],
              \quad L = \ln\frac{h_0}{h_0 - v}

    Parameters
    ----------
    drained_height : float or ndarray, shape (n,)
        Filtrate per area; :math:`v`; 0 to below :math:`h_0`. [m]
    starting_head : float or ndarray, shape (n,)
        Height of sludge over the screen at the start; :math:`h_0`; > 0. [m]
    viscosity : float or ndarray, shape (n,)
        Filtrate viscosity; :math:`\mu`; > 0. [Pa*s]
    liquid_density : float or ndarray, shape (n,)
        Density of the filtrate; :math:`\rho_l`; > 0. [kg/m3]
    solids_deposited : float or ndarray, shape (n,)
        Dry solids per filtrate volume; :math:`c`; >= 0. [kg/m3]
    specific_resistance : float or ndarray, shape (n,)
        Specific resistance at this low stress; :math:`\alpha`; >= 0. [m/kg]
    medium_resistance : float or ndarray, shape (n,)
        Screen resistance; :math:`R_m`; >= 0. [1/m]

    Returns
    -------
    drainage_time : float or ndarray, shape (n,)
        Time from the start. [s]

    Notes
    -----
    Ruth's rate with the head :math:`h_0 - v` that is left; holds until the water surface reaches
    the drained floc.

    References
    ----------
    .. [1] OWN, integral of Ruth's rate over a falling head.

    Examples
    --------
    >>> round(drainage_time_gravity(0.05, 0.1, 1e-3, 998.0, 5.0, 1e9, 1e8), 2)
    16.95
    """
    head = checked(starting_head, "starting head", "m", 0.0, above=True)
    drained = checked(drained_height, "drained height", "m", 0.0)
    left = checked(1.0 - drained / head, "share of the head left", "1", 0.0, 1.0, above=True)
    stretch = -np.log(left)
    cake = np.asarray(specific_resistance) * np.asarray(solids_deposited)
    bracket = cake * (head * stretch - drained) + np.asarray(medium_resistance) * stretch
    return plain(np.asarray(viscosity) / (np.asarray(liquid_density) * GRAVITY) * bracket)
