"""Friction in straight round pipes: definitions, Newtonian flow, and the water-like shortcut."""

from __future__ import annotations

import numpy as np

from cakewright.physics._checked import Floats, checked, plain

__all__ = [
    "LAMINAR_LIMIT",
    "friction_factor_newtonian",
    "mean_velocity",
    "pressure_drop_darcy",
    "reynolds_number",
]

LAMINAR_LIMIT = 2100.0


def mean_velocity(flow: Floats, diameter: Floats) -> Floats:
    r"""Mean velocity in a full round pipe.

    .. math:: V = 4Q/(\pi D^2)

    Parameters
    ----------
    flow : float or ndarray, shape (n,)
        Volume flow; :math:`Q`; >= 0. [m3/s]
    diameter : float or ndarray, shape (n,)
        Inner diameter; :math:`D`; > 0. [m]

    Returns
    -------
    velocity : float or ndarray, shape (n,)
        Mean velocity. [m/s]

    Raises
    ------
    OutOfRangeError
        If the flow is negative or the diameter not positive.

    References
    ----------
    .. [1] OWN, continuity.

    Examples
    --------
    >>> round(mean_velocity(0.01, 0.1), 4)
    1.2732
    """
    q = checked(flow, "flow", "m3/s", 0.0)
    d = checked(diameter, "pipe diameter", "m", 0.0, above=True)
    return plain(4 * q / (np.pi * d**2))


def reynolds_number(
    velocity: Floats, diameter: Floats, density: Floats, viscosity: Floats
) -> Floats:
    r"""Reynolds number (on the plastic viscosity for a Bingham sludge).

    .. math:: Re = \rho V D/\mu

    Parameters
    ----------
    velocity : float or ndarray, shape (n,)
        Mean velocity; :math:`V`; >= 0. [m/s]
    diameter : float or ndarray, shape (n,)
        Inner diameter; :math:`D`; > 0. [m]
    density : float or ndarray, shape (n,)
        Density; :math:`\rho`; > 0. [kg/m3]
    viscosity : float or ndarray, shape (n,)
        Dynamic or plastic viscosity; :math:`\mu`; > 0. [Pa*s]

    Returns
    -------
    reynolds_number : float or ndarray, shape (n,)
        Ratio of inertia to viscous force. [1]

    Raises
    ------
    OutOfRangeError
        If an argument is outside its range.

    References
    ----------
    .. [1] OWN, definition.

    Examples
    --------
    >>> round(reynolds_number(2.3, 0.254, 1300.0, 0.02))
    37973
    """
    v = checked(velocity, "velocity", "m/s", 0.0)
    d = checked(diameter, "pipe diameter", "m", 0.0, above=True)
    rho = checked(density, "density", "kg/m3", 0.0, above=True)
    mu = checked(viscosity, "viscosity", "Pa s", 0.0, above=True)
    return plain(rho * v * d / mu)


def friction_factor_newtonian(reynolds: Floats, relative_roughness: Floats = 0.0) -> Floats:
    r"""Darcy friction factor of a Newtonian fluid: 64/Re, then Colebrook.

    .. math:: \frac{1}{\sqrt f} = -2\log_{10}\left(\frac{\epsilon/D}{3.7}
              + \frac{2.51}{Re\sqrt f}\right)

    Parameters
    ----------
    reynolds : float or ndarray, shape (n,)
        Reynolds number; :math:`Re`; > 0. [1]
    relative_roughness : float or ndarray, shape (n,)
        Roughness over diameter; :math:`\epsilon/D`; 0 to 0.05. [1]

    Returns
    -------
    friction_factor : float or ndarray, shape (n,)
        Darcy friction factor. [1]

    Raises
    ------
    OutOfRangeError
        If an argument is outside its range.

    Notes
    -----
    Colebrook is solved by Newton's method to machine precision. Between Re 2100 and about 4000 the
    flow may be either; the higher, turbulent value is given.

    References
    ----------
    .. [1] MEM, Colebrook 1939; checked against an open fluids library.

    Examples
    --------
    >>> round(friction_factor_newtonian(1e5), 5)
    0.01799
    """
    re = checked(reynolds, "Reynolds number", "", 0.0, above=True)
    rough = checked(relative_roughness, "relative roughness", "", 0.0, 0.05)
    turbulent = np.maximum(re, LAMINAR_LIMIT)
    x = np.full(np.broadcast(re, rough).shape, 7.0)
    for _ in range(8):
        inside = rough / 3.7 + 2.51 * x / turbulent
        step = (x + 2 * np.log10(inside)) / (1 + 2 / np.log(10) * 2.51 / turbulent / inside)
        x = x - step
    return plain(np.where(re < LAMINAR_LIMIT, 64 / re, 1 / x**2))


def pressure_drop_darcy(
    friction_factor: Floats, length: Floats, diameter: Floats, density: Floats, velocity: Floats
) -> Floats:
    r"""Friction pressure drop of a straight pipe from the Darcy factor.

    .. math:: \Delta p = f_D \frac{L}{D} \frac{\rho V^2}{2}

    Parameters
    ----------
    friction_factor : float or ndarray, shape (n,)
        Darcy friction factor (four times Fanning's); :math:`f_D`; >= 0. [1]
    length : float or ndarray, shape (n,)
        Length, with the equivalent length of fittings; :math:`L`; >= 0. [m]
    diameter : float or ndarray, shape (n,)
        Inner diameter; :math:`D`; > 0. [m]
    density : float or ndarray, shape (n,)
        Density; :math:`\rho`; > 0. [kg/m3]
    velocity : float or ndarray, shape (n,)
        Mean velocity; :math:`V`; >= 0. [m/s]

    Returns
    -------
    pressure_drop : float or ndarray, shape (n,)
        Pressure lost to friction. [Pa]

    Raises
    ------
    OutOfRangeError
        If an argument is outside its range.

    References
    ----------
    .. [1] OWN, definition of the friction factor.

    Examples
    --------
    >>> pressure_drop_darcy(0.02, 100.0, 0.1, 1000.0, 1.0)
    10000.0
    """
    f = checked(friction_factor, "friction factor", "", 0.0)
    run = checked(length, "pipe length", "m", 0.0)
    d = checked(diameter, "pipe diameter", "m", 0.0, above=True)
    rho = checked(density, "density", "kg/m3", 0.0, above=True)
    v = checked(velocity, "velocity", "m/s", 0.0)
    return plain(f * run / d * rho * v**2 / 2)
