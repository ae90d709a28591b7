"""Positive-displacement pumps: displacement, power, suction head."""

from __future__ import annotations

import numpy as np

from cakewright.physics._checked import Floats, checked, plain
from cakewright.quantities.constants import GRAVITY

__all__ = [
    "displacement_progressive_cavity",
    "pump_duty",
    "pump_head",
    "pump_shaft_power",
    "pump_speed",
    "suction_head_available",
]


def displacement_progressive_cavity(
    eccentricity: Floats, rotor_diameter: Floats, stator_pitch: Floats
) -> Floats:
    r"""Volume a single-lobe progressive cavity pump moves per turn.

    .. math:: q = 4\,e\,D\,P_{st}

    Parameters
    ----------
    eccentricity : float or ndarray, shape (n,)
        Eccentricity; :math:`e`; > 0. [m]
    rotor_diameter : float or ndarray, shape (n,)
        Rotor diameter; :math:`D`; > 0. [m]
    stator_pitch : float or ndarray, shape (n,)
        Pitch of the stator; :math:`P_{st}`; > 0. [m]

    Returns
    -------
    displacement : float or ndarray, shape (n,)
        Volume per turn. [m3]

    Raises
    ------
    OutOfRangeError
        If a length is not positive.

    References
    ----------
    .. [1] MEM, geometry of the single-lobe pump.

    Examples
    --------
    >>> round(displacement_progressive_cavity(0.008, 0.04, 0.12) * 1000, 4)
    0.1536
    """
    e = checked(eccentricity, "eccentricity", "m", 0.0, above=True)
    d = checked(rotor_diameter, "rotor diameter", "m", 0.0, above=True)
    return plain(4 * e * d * checked(stator_pitch, "stator pitch", "m", 0.0, above=True))


def pump_speed(flow: Floats, displacement: Floats, volumetric_efficiency: Floats = 1.0) -> Floats:
    r"""Speed at which a displacement pump delivers a flow.

    .. math:: n = Q/(q\,\eta_v)

    Parameters
    ----------
    flow : float or ndarray, shape (n,)
        Delivered flow; :math:`Q`; >= 0. [m3/s]
    displacement : float or ndarray, shape (n,)
        Volume per turn; :math:`q`; > 0. [m3]
    volumetric_efficiency : float or ndarray, shape (n,)
        Delivered over displaced volume; :math:`\eta_v`; 0 to 1. [1]

    Returns
    -------
    speed : float or ndarray, shape (n,)
        Turns per second. [1/s]

    Raises
    ------
    OutOfRangeError
        If an argument is outside its range.

    References
    ----------
    .. [1] OWN, definition of the volumetric efficiency.

    Examples
    --------
    >>> pump_speed(0.003, 0.001, 0.75)
    4.0
    """
    q = checked(flow, "flow", "m3/s", 0.0)
    turn = checked(displacement, "displacement", "m3", 0.0, above=True)
    eta = checked(volumetric_efficiency, "volumetric efficiency", "", 0.0, 1.0, above=True)
    return plain(q / (turn * eta))


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


def pump_duty(volume: Floats, units: Floats, run_time: Floats) -> Floats:
    r"""Flow each of several equal pumps must give to move a volume in a time.

    .. math:: Q = V/(n\,t)

    Parameters
    ----------
    volume : float or ndarray, shape (n,)
        Volume to move; :math:`V`; >= 0. [m3]
    units : float or ndarray, shape (n,)
        Pumps working together; :math:`n`; >= 1. [1]
    run_time : float or ndarray, shape (n,)
        Time they run; :math:`t`; > 0. [s]

    Returns
    -------
    duty : float or ndarray, shape (n,)
        Flow per pump. [m3/s]

    Raises
    ------
    OutOfRangeError
        If an argument is outside its range.

    References
    ----------
    .. [1] L30, feed pump of a filter press.

    Examples
    --------
    >>> round(1000 * pump_duty(54.6, 3, 24000.0), 2)
    0.76
    """
    v = checked(volume, "volume", "m3", 0.0)
    n = checked(units, "pumps", "", 1.0)
    return plain(v / (n * checked(run_time, "run time", "s", 0.0, above=True)))
