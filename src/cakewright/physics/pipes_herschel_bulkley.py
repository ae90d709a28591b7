"""Friction of a yielding power-law sludge in straight round pipes."""

from __future__ import annotations

import numpy as np

from cakewright.physics._checked import Floats, checked, plain
from cakewright.physics.pipes import LAMINAR_LIMIT
from cakewright.quantities import FloatArray

__all__ = [
    "bulk_shear_rate_herschel_bulkley",
    "friction_factor_dodge_metzner",
    "friction_factor_herschel_bulkley",
    "wall_stress_herschel_bulkley",
]


def bulk_shear_rate_herschel_bulkley(
    wall_stress: Floats, yield_stress: Floats, consistency: Floats, flow_index: Floats
) -> Floats:
    r"""Laminar flow curve of a pipe: 8V/D carried by a wall stress.

    .. math:: \frac{8V}{D} = \frac{4 (\tau_w-\tau_0)^{1+1/n}}{K^{1/n}\tau_w^3}
              \left[\frac{(\tau_w-\tau_0)^2}{3+1/n} + \frac{2\tau_0(\tau_w-\tau_0)}{2+1/n}
              + \frac{\tau_0^2}{1+1/n}\right]

    Parameters
    ----------
    wall_stress : float or ndarray, shape (n,)
        Wall shear stress; :math:`\tau_w`; > 0. [Pa]
    yield_stress : float or ndarray, shape (n,)
        Yield stress; :math:`\tau_0`; >= 0. [Pa]
    consistency : float or ndarray, shape (n,)
        Consistency in Pa s^n; :math:`K`; > 0. [Pa*s]
    flow_index : float or ndarray, shape (n,)
        Flow index; :math:`n`; > 0. [1]

    Returns
    -------
    bulk_shear_rate : float or ndarray, shape (n,)
        8V/D; zero where the wall stress is below the yield stress. [1/s]

    Raises
    ------
    OutOfRangeError
        If an argument is outside its range.

    Notes
    -----
    Exact integral of the velocity profile; the Buckingham-Reiner equation when the index is 1.

    References
    ----------
    .. [1] OWN, integral of the flow curve over the pipe's section.

    Examples
    --------
    >>> round(bulk_shear_rate_herschel_bulkley(6.4596, 5.0, 0.02, 1.0), 2)
    28.29
    """
    wall = checked(wall_stress, "wall stress", "Pa", 0.0, above=True)
    base = checked(yield_stress, "yield stress", "Pa", 0.0)
    k = checked(consistency, "consistency", "Pa s^n", 0.0, above=True)
    n = checked(flow_index, "flow index", "", 0.0, 2.0, above=True)
    over = np.maximum(wall - base, 0.0)
    s = 1 / n
    parts = over**2 / (3 + s) + 2 * base * over / (2 + s) + base**2 / (1 + s)
    return plain(4 * over ** (1 + s) / (k**s * wall**3) * parts)


def wall_stress_herschel_bulkley(
    velocity: Floats,
    diameter: Floats,
    yield_stress: Floats,
    consistency: Floats,
    flow_index: Floats,
) -> Floats:
    r"""Wall stress of a yielding power-law sludge in laminar flow.

    .. math:: \text{solve } \frac{8V}{D} = g(\tau_w; \tau_0, K, n)

    Parameters
    ----------
    velocity : float or ndarray, shape (n,)
        Mean velocity; :math:`V`; > 0. [m/s]
    diameter : float or ndarray, shape (n,)
        Inner diameter; :math:`D`; > 0. [m]
    yield_stress : float or ndarray, shape (n,)
        Yield stress; :math:`\tau_0`; >= 0. [Pa]
    consistency : float or ndarray, shape (n,)
        Consistency in Pa s^n; :math:`K`; > 0. [Pa*s]
    flow_index : float or ndarray, shape (n,)
        Flow index; :math:`n`; 0.1 to 2. [1]

    Returns
    -------
    wall_stress : float or ndarray, shape (n,)
        Shear stress at the wall. [Pa]

    Raises
    ------
    OutOfRangeError
        If an argument is outside its range.

    Notes
    -----
    Bisection on the exact flow curve, which rises with the wall stress.

    References
    ----------
    .. [1] OWN, inverse of the flow curve.

    Examples
    --------
    >>> round(wall_stress_herschel_bulkley(0.353678, 0.1, 5.0, 0.02, 1.0), 4)
    6.4596
    """
    v = checked(velocity, "velocity", "m/s", 0.0, above=True)
    d = checked(diameter, "pipe diameter", "m", 0.0, above=True)
    base = checked(yield_stress, "yield stress", "Pa", 0.0)
    k = checked(consistency, "consistency", "Pa s^n", 0.0, above=True)
    n = checked(flow_index, "flow index", "", 0.1, 2.0)
    target = 8 * v / d
    # a power-law fluid plus 4/3 of the yield stress (or the rate itself) is never exceeded by much
    power_law = k * (target * (3 * n + 1) / (4 * n)) ** n
    low = np.broadcast_to(base, np.broadcast(target, base, k, n).shape).copy()
    high = base * (1 + 1 / n) * 2 + 2 * power_law + np.zeros_like(low)
    for _ in range(70):
        middle = (low + high) / 2
        carried = np.asarray(bulk_shear_rate_herschel_bulkley(middle, base, k, n))
        low, high = (
            np.where(carried < target, middle, low),
            np.where(carried < target, high, middle),
        )
    return plain((low + high) / 2)


def friction_factor_dodge_metzner(reynolds: Floats, flow_index: Floats) -> Floats:
    r"""Fanning friction factor of turbulent power-law flow in smooth pipes.

    .. math:: \frac{1}{\sqrt f} = \frac{4}{n^{0.75}}\log_{10}(Re_{MR} f^{1-n/2})
              - \frac{0.4}{n^{1.2}}

    Parameters
    ----------
    reynolds : float or ndarray, shape (n,)
        Metzner-Reed Reynolds number; :math:`Re_{MR}`; > 2000. [1]
    flow_index : float or ndarray, shape (n,)
        Flow index; :math:`n`; 0.3 to 1. [1]

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
    At index 1 it is the smooth-pipe law of von Karman and Nikuradse.

    References
    ----------
    .. [1] MEM, Dodge and Metzner 1959.

    Examples
    --------
    >>> round(friction_factor_dodge_metzner(1e5, 1.0), 5)
    0.0045
    """
    re = checked(reynolds, "Metzner-Reed Reynolds number", "", 2000.0)
    n = checked(flow_index, "flow index", "", 0.3, 1.0)
    f = np.full(np.broadcast(re, n).shape, 0.005)
    for _ in range(60):
        x = 4 / n**0.75 * np.log10(re * f ** (1 - n / 2)) - 0.4 / n**1.2
        f = 1 / x**2
    return plain(f)


def _metzner_reed(wall: FloatArray, velocity: FloatArray, density: FloatArray) -> FloatArray:
    """Reynolds number that puts every laminar flow on f = 16/Re."""
    return np.asarray(8 * density * velocity**2 / wall)


def friction_factor_herschel_bulkley(
    velocity: Floats,
    diameter: Floats,
    density: Floats,
    yield_stress: Floats,
    consistency: Floats,
    flow_index: Floats,
) -> Floats:
    r"""Fanning friction factor of a yielding power-law sludge: the larger of both regimes.

    .. math:: f = \max\left(\frac{2\tau_{w,lam}}{\rho V^2},\; f_{DM}(Re_{MR}, n)\right)

    Parameters
    ----------
    velocity : float or ndarray, shape (n,)
        Mean velocity; :math:`V`; > 0. [m/s]
    diameter : float or ndarray, shape (n,)
        Inner diameter; :math:`D`; > 0. [m]
    density : float or ndarray, shape (n,)
        Density; :math:`\rho`; > 0. [kg/m3]
    yield_stress : float or ndarray, shape (n,)
        Yield stress; :math:`\tau_0`; >= 0. [Pa]
    consistency : float or ndarray, shape (n,)
        Consistency in Pa s^n; :math:`K`; > 0. [Pa*s]
    flow_index : float or ndarray, shape (n,)
        Flow index; :math:`n`; 0.3 to 1. [1]

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
    The Metzner-Reed number uses the laminar wall stress. The turbulent law was made for power-law
    fluids; with a yield stress it is used here as the usual approximation.

    References
    ----------
    .. [1] OWN, laminar branch.
    .. [2] MEM, Dodge and Metzner 1959, turbulent branch.

    Examples
    --------
    >>> round(friction_factor_herschel_bulkley(0.5, 0.1, 1000.0, 2.0, 0.3, 0.6), 4)
    0.044
    """
    v = checked(velocity, "velocity", "m/s", 0.0, above=True)
    rho = checked(density, "density", "kg/m3", 0.0, above=True)
    n = checked(flow_index, "flow index", "", 0.3, 1.0)
    wall = np.asarray(wall_stress_herschel_bulkley(v, diameter, yield_stress, consistency, n))
    re = _metzner_reed(wall, v, rho)
    turbulent = np.asarray(friction_factor_dodge_metzner(np.maximum(re, LAMINAR_LIMIT), n))
    return plain(np.where(re > LAMINAR_LIMIT, np.maximum(turbulent, 16 / re), 16 / re))
