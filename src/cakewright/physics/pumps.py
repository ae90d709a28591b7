"""Positive-displacement pumps: displacement, power, suction head."""

from __future__ import annotations

import numpy as np

from cakewright.physics._checked import Floats, checked, plain
from cakewright.quantities.constants import GRAVITY

__all__ = [
    "pump_head",
    "pump_shaft_power",
    "suction_head_available",
]


def pump_head(pressure: Floats, density: Floats) -> Floats:
    r"""Pressure as metres of the fluid.

    .. math:: H = p/(\rho g)

    Parameters
    ----------
    pressure : float or ndarray, shape (n,)
        Pressure difference; :math:`p`. [Pa]
    density : float or ndarray, shape (n,)
        Density; :math:`\rho`; > 0. [kg/m3]

    Returns
    -------
    head : float or ndarray, shape (n,)
        Head. [m]

    Raises
    ------
    OutOfRangeError
        If the density is not positive.

    References
    ----------
    .. [1] OWN, definition.

    Examples
    --------
    >>> round(pump_head(9806.65, 1000.0), 6)
    1.0
    """
    p = checked(pressure, "pressure", "Pa")
    return plain(p / (checked(density, "density", "kg/m3", 0.0, above=True) * GRAVITY))


def pump_shaft_power(flow: Floats, pressure: Floats, efficiency: Floats) -> Floats:
    r"""Power at the pump's shaft.

    .. math:: P = Q\,\Delta p/\eta

    Parameters
    ----------
    flow : float or ndarray, shape (n,)
        Volume flow; :math:`Q`; >= 0. [m3/s]
    pressure : float or ndarray, shape (n,)
        Pressure rise; :math:`\Delta p`; >= 0. [Pa]
    efficiency : float or ndarray, shape (n,)
        Volumetric times mechanical efficiency; :math:`\eta`; 0 to 1. [1]

    Returns
    -------
    power : float or ndarray, shape (n,)
        Shaft power. [W]

    Raises
    ------
    OutOfRangeError
        If an argument is outside its range.

    References
    ----------
    .. [1] OWN, definition of the efficiency.

    Examples
    --------
    >>> pump_shaft_power(0.003, 200000.0, 0.5)
    1200.0
    """
    q = checked(flow, "flow", "m3/s", 0.0)
    p = checked(pressure, "pressure rise", "Pa", 0.0)
    return plain(q * p / checked(efficiency, "pump efficiency", "", 0.0, 1.0, above=True))


def suction_head_available(
    static_head: Floats, friction_pressure: Floats, density: Floats, vapour_pressure: Floats
) -> Floats:
    r"""Suction head available above the vapour pressure.

    .. math:: NPSH_a = \frac{p_{atm} - p_v - \Delta p_f}{\rho g} + z

    Parameters
    ----------
    static_head : float or ndarray, shape (n,)
        Level above the pump (negative for suction lift); :math:`z`. [m]
    friction_pressure : float or ndarray, shape (n,)
        Pressure lost in the suction line; :math:`\Delta p_f`; >= 0. [Pa]
    density : float or ndarray, shape (n,)
        Density; :math:`\rho`; > 0. [kg/m3]
    vapour_pressure : float or ndarray, shape (n,)
        Absolute vapour pressure; :math:`p_v`; >= 0. [Pa]

    Returns
    -------
    suction_head : float or ndarray, shape (n,)
        Net positive suction head available, at 101 325 Pa of air. [m]

    Raises
    ------
    OutOfRangeError
        If an argument is outside its range.

    References
    ----------
    .. [1] OWN, energy balance of the suction line.

    Examples
    --------
    >>> round(suction_head_available(0.61, 0.0, 1000.0, 2339.0), 2)
    10.7
    """
    z = checked(static_head, "static suction head", "m")
    loss = checked(friction_pressure, "suction friction", "Pa", 0.0)
    rho = checked(density, "density", "kg/m3", 0.0, above=True)
    pv = checked(vapour_pressure, "vapour pressure", "Pa", 0.0)
    return plain(np.asarray((101325.0 - pv - loss) / (rho * GRAVITY) + z))
