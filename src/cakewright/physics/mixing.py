"""Power, speed and shear of stirred tanks and in-line mixers."""

from __future__ import annotations

import numpy as np

from cakewright.physics._checked import Floats, checked, plain

__all__ = [
    "camp_number",
    "impeller_speed_for_power",
    "kolmogorov_length",
    "mixing_power_for_gradient",
    "tip_speed",
    "velocity_gradient",
]


def velocity_gradient(power: Floats, viscosity: Floats, volume: Floats) -> Floats:
    r"""Root-mean-square velocity gradient of a stirred volume.

    .. math:: G = \sqrt{P/(\mu V)}

    Parameters
    ----------
    power : float or ndarray, shape (n,)
        Power put into the liquid (flow times pressure loss for an in-line mixer); :math:`P`;
        >= 0. [W]
    viscosity : float or ndarray, shape (n,)
        Dynamic viscosity, water's or apparent: say which; :math:`\mu`; > 0. [Pa*s]
    volume : float or ndarray, shape (n,)
        Stirred volume; :math:`V`; > 0. [m3]

    Returns
    -------
    velocity_gradient : float or ndarray, shape (n,)
        G value. [1/s]

    Raises
    ------
    OutOfRangeError
        If an argument is outside its range.

    Notes
    -----
    G has a clear meaning only for particles smaller than the Kolmogorov length. For larger flocs
    power per mass to the 2/3 power is the better measure: show W/kg and tip speed beside it.

    References
    ----------
    .. [1] L48, worked case.
    .. [2] L51, what G means.

    Examples
    --------
    >>> round(velocity_gradient(150.0, 0.001, 50.0), 2)
    54.77
    """
    p = checked(power, "mixing power", "W", 0.0)
    mu = checked(viscosity, "viscosity", "Pa s", 0.0, above=True)
    v = checked(volume, "volume", "m3", 0.0, above=True)
    return plain(np.sqrt(p / (mu * v)))


def mixing_power_for_gradient(gradient: Floats, viscosity: Floats, volume: Floats) -> Floats:
    r"""Power that gives a velocity gradient.

    .. math:: P = G^2 \mu V

    Parameters
    ----------
    gradient : float or ndarray, shape (n,)
        Velocity gradient; :math:`G`; >= 0. [1/s]
    viscosity : float or ndarray, shape (n,)
        Dynamic viscosity, water's or apparent: say which; :math:`\mu`; > 0. [Pa*s]
    volume : float or ndarray, shape (n,)
        Stirred volume; :math:`V`; > 0. [m3]

    Returns
    -------
    power : float or ndarray, shape (n,)
        Power put into the liquid. [W]

    Raises
    ------
    OutOfRangeError
        If an argument is outside its range.

    References
    ----------
    .. [1] L54, solved problem.

    Examples
    --------
    >>> round(mixing_power_for_gradient(150.0, 0.01, 0.875), 1)
    196.9
    """
    g = checked(gradient, "velocity gradient", "1/s", 0.0)
    mu = checked(viscosity, "viscosity", "Pa s", 0.0, above=True)
    v = checked(volume, "volume", "m3", 0.0, above=True)
    return plain(g**2 * mu * v)


def camp_number(gradient: Floats, time: Floats) -> Floats:
    r"""Camp number: gradient times time.

    .. math:: Gt

    Parameters
    ----------
    gradient : float or ndarray, shape (n,)
        Velocity gradient; :math:`G`; >= 0. [1/s]
    time : float or ndarray, shape (n,)
        Mean residence time; :math:`t`; >= 0. [s]

    Returns
    -------
    camp_number : float or ndarray, shape (n,)
        Camp number. [1]

    Raises
    ------
    OutOfRangeError
        If an argument is negative.

    References
    ----------
    .. [1] OWN, definition.

    Examples
    --------
    >>> camp_number(150.0, 300.0)
    45000.0
    """
    g = checked(gradient, "velocity gradient", "1/s", 0.0)
    return plain(g * checked(time, "residence time", "s", 0.0))


def impeller_speed_for_power(
    power: Floats,
    turbulent: Floats,
    density: Floats,
    diameter: Floats,
    viscosity: Floats,
    laminar_constant: Floats = 60.0,
) -> Floats:
    r"""Speed at which an impeller draws a power.

    .. math:: P = \rho D^5 N_{p,t}\, n^3 + K_L\,\mu D^3 n^2

    Parameters
    ----------
    power : float or ndarray, shape (n,)
        Power put into the liquid; :math:`P`; >= 0. [W]
    turbulent : float or ndarray, shape (n,)
        Turbulent power number; :math:`N_{p,t}`. [1]
    density : float or ndarray, shape (n,)
        Density; :math:`\rho`; > 0. [kg/m3]
    diameter : float or ndarray, shape (n,)
        Impeller diameter; :math:`D`; > 0. [m]
    viscosity : float or ndarray, shape (n,)
        Dynamic viscosity; :math:`\mu`; > 0. [Pa*s]
    laminar_constant : float or ndarray, shape (n,)
        Constant of the laminar branch; :math:`K_L`. [1]

    Returns
    -------
    speed : float or ndarray, shape (n,)
        Turns per second. [1/s]

    Raises
    ------
    OutOfRangeError
        If an argument is outside its range.

    Notes
    -----
    Newton's method from above on a rising convex function: always converges.

    References
    ----------
    .. [1] OWN, inverse of the power law.

    Examples
    --------
    >>> round(60 * impeller_speed_for_power(196.9, 1.3, 1010.0, 0.4, 0.01, 0.0), 1)
    146.8
    """
    p = checked(power, "mixing power", "W", 0.0)
    np_t = checked(turbulent, "turbulent power number", "", 0.05, 10.0)
    rho = checked(density, "density", "kg/m3", 0.0, above=True)
    d = checked(diameter, "impeller diameter", "m", 0.0, above=True)
    mu = checked(viscosity, "viscosity", "Pa s", 0.0, above=True)
    cubic = rho * d**5 * np_t
    square = checked(laminar_constant, "laminar constant", "", 0.0, 500.0) * mu * d**3
    n = np.cbrt(p / cubic)
    for _ in range(40):
        slope = np.maximum(3 * cubic * n**2 + 2 * square * n, 1e-300)
        n = n - (cubic * n**3 + square * n**2 - p) / slope
    return plain(np.maximum(n, 0.0))


def tip_speed(speed: Floats, diameter: Floats) -> Floats:
    r"""Speed of the impeller's tip.

    .. math:: u = \pi n D

    Parameters
    ----------
    speed : float or ndarray, shape (n,)
        Turns per second; :math:`n`; >= 0. [1/s]
    diameter : float or ndarray, shape (n,)
        Impeller diameter; :math:`D`; > 0. [m]

    Returns
    -------
    tip_speed : float or ndarray, shape (n,)
        Tip speed. [m/s]

    Raises
    ------
    OutOfRangeError
        If an argument is outside its range.

    References
    ----------
    .. [1] OWN, definition.

    Examples
    --------
    >>> round(tip_speed(146.8 / 60, 0.4), 2)
    3.07
    """
    n = checked(speed, "impeller speed", "1/s", 0.0)
    return plain(np.pi * n * checked(diameter, "diameter", "m", 0.0, above=True))


def kolmogorov_length(power_per_mass: Floats, kinematic_viscosity: Floats) -> Floats:
    r"""Size of the smallest eddies.

    .. math:: \eta = (\nu^3/\varepsilon)^{1/4}

    Parameters
    ----------
    power_per_mass : float or ndarray, shape (n,)
        Power per mass of liquid; :math:`\varepsilon`; > 0. [W/kg]
    kinematic_viscosity : float or ndarray, shape (n,)
        Kinematic viscosity; :math:`\nu`; > 0. [m2/s]

    Returns
    -------
    length : float or ndarray, shape (n,)
        Kolmogorov length. [m]

    Raises
    ------
    OutOfRangeError
        If an argument is not positive.

    References
    ----------
    .. [1] L51, beside G.

    Examples
    --------
    >>> round(kolmogorov_length(1.0, 1e-6) * 1e6, 1)
    31.6
    """
    e = checked(power_per_mass, "power per mass", "W/kg", 0.0, above=True)
    nu = checked(kinematic_viscosity, "kinematic viscosity", "m2/s", 0.0, above=True)
    return plain((nu**3 / e) ** 0.25)
