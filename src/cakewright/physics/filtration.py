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
    "drum_area_ruth",
    "filtrate_volume_ruth",
    "filtration_time_ruth",
    "pressure_constant_rate",
    "time_to_filter",
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


def filtrate_volume_ruth(
    time: Floats,
    filter_area: Floats,
    pressure: Floats,
    viscosity: Floats,
    solids_deposited: Floats,
    specific_resistance: Floats,
    medium_resistance: Floats,
) -> Floats:
    r"""Filtrate collected in a time at constant pressure.

    .. math:: V = \frac{A}{\alpha c}\left(-R_m + \sqrt{R_m^2 + 2\alpha c\,\Delta P\, t/\mu}\right)

    Parameters
    ----------
    time : float or ndarray, shape (n,)
        Time from the start; :math:`t`; >= 0. [s]
    filter_area : float or ndarray, shape (n,)
        Filter area; :math:`A`; > 0. [m2]
    pressure : float or ndarray, shape (n,)
        Pressure drop; :math:`\Delta P`; > 0. [Pa]
    viscosity : float or ndarray, shape (n,)
        Filtrate viscosity; :math:`\mu`; > 0. [Pa*s]
    solids_deposited : float or ndarray, shape (n,)
        Dry solids per filtrate volume; :math:`c`; > 0. [kg/m3]
    specific_resistance : float or ndarray, shape (n,)
        Average specific resistance; :math:`\alpha`; > 0. [m/kg]
    medium_resistance : float or ndarray, shape (n,)
        Medium resistance; :math:`R_m`; >= 0. [1/m]

    Returns
    -------
    filtrate_volume : float or ndarray, shape (n,)
        Volume collected. [m3]

    References
    ----------
    .. [1] OWN, positive root of `filtration_time_ruth`.

    Examples
    --------
    >>> round(filtrate_volume_ruth(2000.0, 0.01, 5e4, 1e-3, 20.0, 1e12, 0.0), 9)
    0.001
    """
    t = checked(time, "time", "s", 0.0)
    area = checked(filter_area, "filter area", "m2", 0.0, above=True)
    resistance = checked(
        np.asarray(specific_resistance) * np.asarray(solids_deposited),
        "specific resistance times solids",
        "1/m2",
        0.0,
        above=True,
    )
    medium = checked(medium_resistance, "medium resistance", "1/m", 0.0)
    root = np.sqrt(medium**2 + 2 * resistance * np.asarray(pressure) * t / np.asarray(viscosity))
    return plain(area / resistance * (root - medium))


def pressure_constant_rate(
    time: Floats,
    filtrate_flow: Floats,
    filter_area: Floats,
    viscosity: Floats,
    solids_deposited: Floats,
    specific_resistance: Floats,
    medium_resistance: Floats,
) -> Floats:
    r"""Pressure needed to keep a filtrate flow constant.

    .. math:: \Delta P = \frac{\mu Q}{A}\left(\frac{\alpha c Q t}{A} + R_m\right)

    Parameters
    ----------
    time : float or ndarray, shape (n,)
        Time from the start; :math:`t`; >= 0. [s]
    filtrate_flow : float or ndarray, shape (n,)
        Filtrate flow; :math:`Q`; > 0. [m3/s]
    filter_area : float or ndarray, shape (n,)
        Filter area; :math:`A`; > 0. [m2]
    viscosity : float or ndarray, shape (n,)
        Filtrate viscosity; :math:`\mu`; > 0. [Pa*s]
    solids_deposited : float or ndarray, shape (n,)
        Dry solids per filtrate volume; :math:`c`; > 0. [kg/m3]
    specific_resistance : float or ndarray, shape (n,)
        Average specific resistance; :math:`\alpha`; >= 0. [m/kg]
    medium_resistance : float or ndarray, shape (n,)
        Medium resistance; :math:`R_m`; >= 0. [1/m]

    Returns
    -------
    pressure : float or ndarray, shape (n,)
        Pressure drop over cake and medium. [Pa]

    Notes
    -----
    For a cake whose resistance does not change with pressure: pressure is a straight line of time.

    References
    ----------
    .. [1] T14, examples 8.1 and 8.2.

    Examples
    --------
    >>> round(pressure_constant_rate(100.0, 1e-5, 0.01, 1e-3, 20.0, 1e11, 1e10), 1)
    210000.0
    """
    t = checked(time, "time", "s", 0.0)
    flow = checked(filtrate_flow, "filtrate flow", "m3/s", 0.0, above=True)
    area = checked(filter_area, "filter area", "m2", 0.0, above=True)
    cake = np.asarray(specific_resistance) * np.asarray(solids_deposited) * flow * t / area
    return plain(np.asarray(viscosity) * flow / area * (cake + np.asarray(medium_resistance)))


def time_to_filter(
    share: Floats,
    sample_volume: Floats,
    filter_area: Floats,
    pressure: Floats,
    viscosity: Floats,
    solids_deposited: Floats,
    specific_resistance: Floats,
) -> Floats:
    r"""Time until a share of the sample volume has come through, medium neglected.

    .. math:: t_x = \frac{\mu\alpha c (x V_0)^2}{2A^2\Delta P}

    Parameters
    ----------
    share : float or ndarray, shape (n,)
        Share of the sample collected; :math:`x`; 0 to 1. [1]
    sample_volume : float or ndarray, shape (n,)
        Volume poured into the funnel; :math:`V_0`; > 0. [m3]
    filter_area : float or ndarray, shape (n,)
        Filter area; :math:`A`; > 0. [m2]
    pressure : float or ndarray, shape (n,)
        Vacuum; :math:`\Delta P`; > 0. [Pa]
    viscosity : float or ndarray, shape (n,)
        Filtrate viscosity; :math:`\mu`; > 0. [Pa*s]
    solids_deposited : float or ndarray, shape (n,)
        Dry solids per filtrate volume; :math:`c`; > 0. [kg/m3]
    specific_resistance : float or ndarray, shape (n,)
        Average specific resistance; :math:`\alpha`; >= 0. [m/kg]

    Returns
    -------
    time_to_filter : float or ndarray, shape (n,)
        Time from the start. [s]

    References
    ----------
    .. [1] OWN, `filtration_time_ruth` without medium.

    Examples
    --------
    >>> round(time_to_filter(1.0, 1e-4, 6.3617e-3, 51e3, 1e-3, 20.0, 1e12), 2)
    48.45
    """
    x = checked(share, "share collected", "1", 0.0, 1.0)
    volume = x * checked(sample_volume, "sample volume", "m3", 0.0, above=True)
    return filtration_time_ruth(
        plain(volume), filter_area, pressure, viscosity, solids_deposited, specific_resistance, 0.0
    )


def drum_area_ruth(
    filtrate_flow: Floats,
    cycle_time: Floats,
    submerged_share: Floats,
    pressure: Floats,
    viscosity: Floats,
    solids_deposited: Floats,
    specific_resistance: Floats,
) -> Floats:
    r"""Area of a continuous drum that yields a filtrate flow, medium neglected.

    .. math:: A = Q\sqrt{\frac{t_c \mu\alpha c}{2 f \Delta P}}

    Parameters
    ----------
    filtrate_flow : float or ndarray, shape (n,)
        Mean filtrate flow; :math:`Q`; >= 0. [m3/s]
    cycle_time : float or ndarray, shape (n,)
        Time of one turn; :math:`t_c`; > 0. [s]
    submerged_share : float or ndarray, shape (n,)
        Share of the turn spent filtering; :math:`f`; 0 to 1. [1]
    pressure : float or ndarray, shape (n,)
        Pressure drop; :math:`\Delta P`; > 0. [Pa]
    viscosity : float or ndarray, shape (n,)
        Filtrate viscosity; :math:`\mu`; > 0. [Pa*s]
    solids_deposited : float or ndarray, shape (n,)
        Dry solids per filtrate volume; :math:`c`; > 0. [kg/m3]
    specific_resistance : float or ndarray, shape (n,)
        Average specific resistance; :math:`\alpha`; > 0. [m/kg]

    Returns
    -------
    filter_area : float or ndarray, shape (n,)
        Whole area of the drum. [m2]

    References
    ----------
    .. [1] T02, example 14.2-4; T03, example 30.3.

    Examples
    --------
    >>> flow = 0.778 * 0.191 / 308.1
    >>> round(drum_area_ruth(flow, 250.0, 0.33, 67e3, 0.8937e-3, 308.1, 1.2255e11), 2)
    6.66
    """
    share = checked(submerged_share, "submerged share", "1", 0.0, 1.0, above=True)
    drop = checked(pressure, "pressure", "Pa", 0.0, above=True)
    cake = np.asarray(viscosity) * np.asarray(specific_resistance) * np.asarray(solids_deposited)
    turn = checked(cycle_time, "cycle time", "s", 0.0, above=True)
    return plain(np.asarray(filtrate_flow) * np.sqrt(turn * cake / (2 * share * drop)))


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
