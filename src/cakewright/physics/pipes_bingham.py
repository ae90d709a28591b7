"""Friction of a Bingham sludge in straight round pipes, in every regime."""

from __future__ import annotations

import numpy as np

from cakewright.physics._checked import Floats, checked, plain
from cakewright.physics.pipes import LAMINAR_LIMIT
from cakewright.quantities import FloatArray

__all__ = [
    "DARBY_MELSON_A0",
    "bingham_friction_laminar",
    "critical_reynolds_hanks_pratt",
    "friction_factor_darby_melson",
    "hedstrom_number",
    "wall_stress_buckingham_reiner",
]

# Two values circulate; this one meets the smooth-pipe water curve and is the cautious choice.
DARBY_MELSON_A0 = -1.378
_NEWTON_STEPS = 60


def hedstrom_number(
    diameter: Floats, density: Floats, yield_stress: Floats, plastic_viscosity: Floats
) -> Floats:
    r"""Hedstrom number of a Bingham sludge in a pipe.

    .. math:: He = \rho D^2 \tau_0/\mu_p^2

    Parameters
    ----------
    diameter : float or ndarray, shape (n,)
        Inner diameter; :math:`D`; > 0. [m]
    density : float or ndarray, shape (n,)
        Density; :math:`\rho`; > 0. [kg/m3]
    yield_stress : float or ndarray, shape (n,)
        Bingham yield stress; :math:`\tau_0`; >= 0. [Pa]
    plastic_viscosity : float or ndarray, shape (n,)
        Plastic viscosity; :math:`\mu_p`; > 0. [Pa*s]

    Returns
    -------
    hedstrom_number : float or ndarray, shape (n,)
        Yield against viscous effects. [1]

    Raises
    ------
    OutOfRangeError
        If an argument is outside its range.

    References
    ----------
    .. [1] L35, formula page.

    Examples
    --------
    >>> round(hedstrom_number(0.254, 1300.0, 6.0, 0.02))
    1258062
    """
    d = checked(diameter, "pipe diameter", "m", 0.0, above=True)
    rho = checked(density, "density", "kg/m3", 0.0, above=True)
    base = checked(yield_stress, "yield stress", "Pa", 0.0)
    mu = checked(plastic_viscosity, "plastic viscosity", "Pa s", 0.0, above=True)
    return plain(rho * d**2 * base / mu**2)


def _yield_share(newtonian_stress: FloatArray, yield_stress: FloatArray) -> FloatArray:
    """Root a = tau_0/tau_w in (0, 1) of the Buckingham-Reiner equation by guarded Newton."""
    ratio = newtonian_stress / np.maximum(yield_stress, 1e-300)
    # ratio = (1/a)(1 - 4a/3 + a^4/3): falls from infinity at a = 0 to 0 at a = 1
    low = np.zeros_like(ratio)
    high = np.ones_like(ratio)
    a = np.where(ratio > 1, 1 / (ratio + 4 / 3), np.clip(1 - np.sqrt(ratio / 2), 0.3, 1.0))
    for _ in range(_NEWTON_STEPS):
        value = 1 - 4 * a / 3 + a**4 / 3 - ratio * a
        low = np.where(value > 0, a, low)
        high = np.where(value > 0, high, a)
        new = a - value / (-4 / 3 + 4 * a**3 / 3 - ratio)
        new = np.where((new > low) & (new < high), new, (low + high) / 2)
        if np.all(np.abs(new - a) <= 1e-15 * a):
            break
        a = new
    return np.asarray(a)


def wall_stress_buckingham_reiner(
    velocity: Floats, diameter: Floats, yield_stress: Floats, plastic_viscosity: Floats
) -> Floats:
    r"""Wall shear stress of a Bingham sludge in laminar flow (exact).

    .. math:: \frac{8V}{D} = \frac{\tau_w}{\mu_p}\left(1 - \tfrac43 a + \tfrac13 a^4\right),
              \quad a = \tau_0/\tau_w

    Parameters
    ----------
    velocity : float or ndarray, shape (n,)
        Mean velocity; :math:`V`; > 0. [m/s]
    diameter : float or ndarray, shape (n,)
        Inner diameter; :math:`D`; > 0. [m]
    yield_stress : float or ndarray, shape (n,)
        Bingham yield stress; :math:`\tau_0`; >= 0. [Pa]
    plastic_viscosity : float or ndarray, shape (n,)
        Plastic viscosity; :math:`\mu_p`; > 0. [Pa*s]

    Returns
    -------
    wall_stress : float or ndarray, shape (n,)
        Shear stress at the wall, :math:`\tau_w`. [Pa]

    Raises
    ------
    OutOfRangeError
        If an argument is outside its range.

    Notes
    -----
    Laminar flow only. Solved for a in (0, 1) by Newton's method kept inside a bracket.

    References
    ----------
    .. [1] L35, formula page.

    Examples
    --------
    >>> round(wall_stress_buckingham_reiner(0.353678, 0.1, 5.0, 0.02), 4)
    6.4596
    """
    v = checked(velocity, "velocity", "m/s", 0.0, above=True)
    d = checked(diameter, "pipe diameter", "m", 0.0, above=True)
    base = checked(yield_stress, "yield stress", "Pa", 0.0)
    mu = checked(plastic_viscosity, "plastic viscosity", "Pa s", 0.0, above=True)
    newtonian, base = np.broadcast_arrays(8 * v / d * mu, base)
    # below this share the exact answer is the first-order one to all digits
    small = base < 1e-12 * newtonian
    share = _yield_share(newtonian, np.where(small, newtonian, base))
    return plain(np.where(small, newtonian + 4 * base / 3, base / share))


def bingham_friction_laminar(reynolds: Floats, hedstrom: Floats) -> Floats:
    r"""Fanning friction factor of laminar Bingham flow.

    .. math:: f_L = \frac{16}{Re}\left[1 + \frac{He}{6Re} - \frac{He^4}{3 f_L^3 Re^7}\right]

    Parameters
    ----------
    reynolds : float or ndarray, shape (n,)
        Reynolds number on the plastic viscosity; :math:`Re`; > 0. [1]
    hedstrom : float or ndarray, shape (n,)
        Hedstrom number; :math:`He`; >= 0. [1]

    Returns
    -------
    friction_factor : float or ndarray, shape (n,)
        Fanning friction factor. [1]

    Raises
    ------
    OutOfRangeError
        If an argument is outside its range.

    Notes
    -----
    The Buckingham-Reiner equation in dimensionless form: f = 2 He / (a Re^2).

    References
    ----------
    .. [1] L35, formula page.

    Examples
    --------
    >>> round(bingham_friction_laminar(37973.0, 1258062.0), 7)
    0.0025648
    """
    re = checked(reynolds, "Reynolds number", "", 0.0, above=True)
    he = checked(hedstrom, "Hedstrom number", "", 0.0)
    # with unit diameter, density and viscosity: V = Re and tau_0 = He
    wall = wall_stress_buckingham_reiner(re, 1.0, he, 1.0)
    return plain(2 * np.asarray(wall) / re**2)


def friction_factor_darby_melson(
    reynolds: Floats, hedstrom: Floats, a0: float = DARBY_MELSON_A0
) -> Floats:
    r"""Fanning friction factor of a Bingham sludge in every regime.

    .. math:: f = (f_L^m + f_T^m)^{1/m}, \quad f_T = 10^A Re^{-0.193}, \quad
              A = A_0[1 + 0.146 e^{-2.9\cdot10^{-5} He}], \quad m = 1.7 + 40000/Re

    Parameters
    ----------
    reynolds : float or ndarray, shape (n,)
        Reynolds number on the plastic viscosity; :math:`Re`; > 0. [1]
    hedstrom : float or ndarray, shape (n,)
        Hedstrom number; :math:`He`; >= 0. [1]
    a0 : float
        Constant of the turbulent branch; :math:`A_0`; -1.378 (default, cautious) or -1.47. [1]

    Returns
    -------
    friction_factor : float or ndarray, shape (n,)
        Fanning friction factor. [1]

    Raises
    ------
    OutOfRangeError
        If an argument is outside its range.

    Notes
    -----
    Smooth pipes. Two constants circulate: -1.47 reproduces the published example, -1.378 agrees
    with the smooth-pipe water curve; the former is about 20 % low there.

    References
    ----------
    .. [1] L35, formula page.
    .. [2] L37, worked example.

    Examples
    --------
    >>> round(4 * friction_factor_darby_melson(37973.0, 1258062.0, -1.47), 5)
    0.01905
    """
    re = checked(reynolds, "Reynolds number", "", 0.0, above=True)
    he = checked(hedstrom, "Hedstrom number", "", 0.0)
    a = checked(a0, "Darby-Melson constant", "", -2.0, -1.0)
    laminar = np.asarray(bingham_friction_laminar(re, he))
    turbulent = 10 ** (a * (1 + 0.146 * np.exp(-2.9e-5 * he))) / re**0.193
    m = 1.7 + 40000 / re
    top = np.maximum(laminar, turbulent)
    ratio = np.minimum(laminar, turbulent) / top
    return plain(top * (1 + ratio**m) ** (1 / m))


def critical_reynolds_hanks_pratt(hedstrom: Floats) -> Floats:
    r"""Reynolds number at which laminar Bingham flow ends.

    .. math:: \frac{He}{16800} = \frac{a_c}{(1-a_c)^3}, \quad
              Re_c = \frac{He}{8a_c}\left(1 - \tfrac43 a_c + \tfrac13 a_c^4\right)

    Parameters
    ----------
    hedstrom : float or ndarray, shape (n,)
        Hedstrom number; :math:`He`; >= 0. [1]

    Returns
    -------
    critical_reynolds : float or ndarray, shape (n,)
        Reynolds number on the plastic viscosity. [1]

    Raises
    ------
    OutOfRangeError
        If the Hedstrom number is negative.

    Notes
    -----
    Tends to 2100 without yield stress.

    References
    ----------
    .. [1] MEM, Hanks and Pratt 1967.

    Examples
    --------
    >>> round(critical_reynolds_hanks_pratt(1e5))
    6816
    """
    he = checked(hedstrom, "Hedstrom number", "", 0.0)
    target = np.maximum(he, 1e-9) / 16800
    low, high = np.zeros_like(target), np.ones_like(target)
    for _ in range(80):
        a = (low + high) / 2
        over = a / (1 - a) ** 3 > target
        low, high = np.where(over, low, a), np.where(over, a, high)
    # He/a_c from the first equation, so that the limit without yield stress stays finite
    return plain(LAMINAR_LIMIT * (1 - 4 * a / 3 + a**4 / 3) / (1 - a) ** 3)
