"""Screw conveyors and skips: capacity, power, density, trips."""

from __future__ import annotations

import numpy as np

from cakewright.physics._checked import Floats, checked, plain
from cakewright.quantities.constants import GRAVITY

__all__ = [
    "INCLINE_LIMIT",
    "cake_bulk_density",
    "conveyor_capacity",
    "conveyor_power_iso_7119",
    "incline_factor",
    "skip_load_mass",
    "trips_per_time",
]

INCLINE_LIMIT = float(np.radians(30.0))
# L58 prints bands (0-10, 10-20, 20-30 degrees); the line joins their middles (judgement)
_INCLINE = (0.0, 10.0, 15.0, 25.0, 30.0)
_FACTOR = (1.0, 0.95, 0.85, 0.65, 0.60)


def incline_factor(incline: Floats) -> Floats:
    r"""Share of the level capacity an inclined screw keeps.

    .. math:: C = C(\beta)

    Parameters
    ----------
    incline : float or ndarray, shape (n,)
        Incline from the level; :math:`\beta`; 0 to 30 degrees. [rad]

    Returns
    -------
    incline_factor : float or ndarray, shape (n,)
        Capacity factor. [1]

    Raises
    ------
    OutOfRangeError
        If the incline is outside 0 to 30 degrees.

    Notes
    -----
    The source prints bands; straight lines through their middles are a judgement.

    References
    ----------
    .. [1] L58, capacity note.

    Examples
    --------
    >>> round(incline_factor(0.0), 2)
    1.0
    """
    angle = np.degrees(checked(incline, "conveyor incline", "rad", 0.0, INCLINE_LIMIT + 1e-9))
    return plain(np.interp(angle, _INCLINE, _FACTOR))


def conveyor_capacity(
    diameter: Floats,
    shaft_diameter: Floats,
    pitch: Floats,
    speed: Floats,
    fill: Floats,
    factor: Floats = 1.0,
) -> Floats:
    r"""Volume a screw conveyor carries.

    .. math:: Q = \tfrac{\pi}{4}(D^2 - d^2)\,p\,n\,\varphi\,C

    Parameters
    ----------
    diameter : float or ndarray, shape (n,)
        Screw diameter; :math:`D`; > 0. [m]
    shaft_diameter : float or ndarray, shape (n,)
        Shaft diameter (0 for a shaftless spiral); :math:`d`; >= 0. [m]
    pitch : float or ndarray, shape (n,)
        Pitch; :math:`p`; > 0. [m]
    speed : float or ndarray, shape (n,)
        Turns per second; :math:`n`; >= 0. [1/s]
    fill : float or ndarray, shape (n,)
        Trough fill; :math:`\varphi`; 0 to 1. [1]
    factor : float or ndarray, shape (n,)
        Incline factor; :math:`C`; 0 to 1. [1]

    Returns
    -------
    capacity : float or ndarray, shape (n,)
        Volume flow. [m3/s]

    Raises
    ------
    OutOfRangeError
        If an argument is outside its range.

    References
    ----------
    .. [1] L58, capacity note.

    Examples
    --------
    >>> round(3600 * conveyor_capacity(0.2, 0.0, 0.2, 20 / 60, 0.3), 2)
    2.26
    """
    d = checked(diameter, "screw diameter", "m", 0.0, above=True)
    shaft = checked(shaft_diameter, "shaft diameter", "m", 0.0)
    area = checked(d**2 - shaft**2, "free screw area", "m2", 0.0, above=True) * np.pi / 4
    p = checked(pitch, "pitch", "m", 0.0, above=True)
    n = checked(speed, "screw speed", "1/s", 0.0)
    share = checked(fill, "trough fill", "", 0.0, 1.0) * checked(factor, "factor", "", 0.0, 1.0)
    return plain(area * p * n * share)


def conveyor_power_iso_7119(
    mass_flow: Floats, length: Floats, rise: Floats, diameter: Floats, progress_resistance: Floats
) -> Floats:
    r"""Shaft power of a screw conveyor.

    .. math:: P = \dot M g\,(\lambda L + H) + 50\,D L

    Parameters
    ----------
    mass_flow : float or ndarray, shape (n,)
        Mass carried per time; :math:`\dot M`; >= 0. [kg/s]
    length : float or ndarray, shape (n,)
        Conveyed length; :math:`L`; >= 0. [m]
    rise : float or ndarray, shape (n,)
        Height gained (negative when descending); :math:`H`. [m]
    diameter : float or ndarray, shape (n,)
        Screw diameter; :math:`D`; > 0. [m]
    progress_resistance : float or ndarray, shape (n,)
        Progress resistance coefficient; :math:`\lambda`; 1 to 6. [1]

    Returns
    -------
    power : float or ndarray, shape (n,)
        Power at the screw's shaft. [W]

    Raises
    ------
    OutOfRangeError
        If an argument is outside its range.

    Notes
    -----
    The no-load part is D L / 20 in kW. No coefficient for sewage cake was found: 3 to 4 from
    memory stands in and says so.

    References
    ----------
    .. [1] L59, power note; that it is the ISO 7119 form is from memory.

    Examples
    --------
    >>> round(conveyor_power_iso_7119(2000 / 3600, 6.0, 2.0, 0.2, 4.0) / 1000, 4)
    0.2017
    """
    m = checked(mass_flow, "cake flow", "kg/s", 0.0)
    run = checked(length, "conveyor length", "m", 0.0)
    h = checked(rise, "conveyor rise", "m")
    d = checked(diameter, "screw diameter", "m", 0.0, above=True)
    resistance = checked(progress_resistance, "progress resistance", "", 1.0, 6.0)
    return plain(m * GRAVITY * (resistance * run + h) + 50 * d * run)


def cake_bulk_density(
    cake_solids: Floats, solids_density: Floats, liquid_density: Floats, voids: Floats = 0.0
) -> Floats:
    r"""Bulk density of cake from its solids and its air voids.

    .. math:: \rho_b = \frac{1-\epsilon}{TS/\rho_s + (1-TS)/\rho_w}

    Parameters
    ----------
    cake_solids : float or ndarray, shape (n,)
        Total solids of the cake; :math:`TS`; 0 to 1. [kg/kg]
    solids_density : float or ndarray, shape (n,)
        Density of the dry solids; :math:`\rho_s`; > 0. [kg/m3]
    liquid_density : float or ndarray, shape (n,)
        Density of the water; :math:`\rho_w`; > 0. [kg/m3]
    voids : float or ndarray, shape (n,)
        Air voids; :math:`\epsilon`; 0 to 0.6. [1]

    Returns
    -------
    bulk_density : float or ndarray, shape (n,)
        Wet mass per volume. [kg/m3]

    Raises
    ------
    OutOfRangeError
        If an argument is outside its range.

    References
    ----------
    .. [1] OWN, volumes add.

    Examples
    --------
    >>> round(cake_bulk_density(0.20, 1400.0, 998.0), 1)
    1058.8
    """
    ts = checked(cake_solids, "cake solids", "kg/kg", 0.0, 1.0)
    rho_s = checked(solids_density, "solids density", "kg/m3", 0.0, above=True)
    rho_w = checked(liquid_density, "liquid density", "kg/m3", 0.0, above=True)
    air = checked(voids, "voids", "", 0.0, 0.6)
    return plain((1 - air) / (ts / rho_s + (1 - ts) / rho_w))


def skip_load_mass(
    skip_volume: Floats, bulk_density: Floats, fill: Floats, payload: Floats
) -> Floats:
    r"""Cake mass a skip leaves with: full by volume or at the mass limit.

    .. math:: m = \min(V \varphi \rho_b,\; m_{max})

    Parameters
    ----------
    skip_volume : float or ndarray, shape (n,)
        Skip volume; :math:`V`; > 0. [m3]
    bulk_density : float or ndarray, shape (n,)
        Bulk density of the cake; :math:`\rho_b`; > 0. [kg/m3]
    fill : float or ndarray, shape (n,)
        Share of the volume that can be filled; :math:`\varphi`; 0 to 1. [1]
    payload : float or ndarray, shape (n,)
        Largest mass the vehicle may carry; :math:`m_{max}`; > 0. [kg]

    Returns
    -------
    load : float or ndarray, shape (n,)
        Cake mass per trip. [kg]

    Raises
    ------
    OutOfRangeError
        If an argument is outside its range.

    References
    ----------
    .. [1] OWN, the smaller of two limits.

    Examples
    --------
    >>> skip_load_mass(10.0, 900.0, 0.9, 9000.0)
    8100.0
    """
    v = checked(skip_volume, "skip volume", "m3", 0.0, above=True)
    rho = checked(bulk_density, "bulk density", "kg/m3", 0.0, above=True)
    share = checked(fill, "skip fill", "", 0.0, 1.0)
    return plain(np.minimum(v * rho * share, checked(payload, "payload", "kg", 0.0, above=True)))


def trips_per_time(cake_flow: Floats, load: Floats) -> Floats:
    r"""Skip or truck trips per time.

    .. math:: f = \dot M/m

    Parameters
    ----------
    cake_flow : float or ndarray, shape (n,)
        Cake mass per time, averaged over the period; :math:`\dot M`; >= 0. [kg/s]
    load : float or ndarray, shape (n,)
        Cake mass per trip; :math:`m`; > 0. [kg]

    Returns
    -------
    trips : float or ndarray, shape (n,)
        Trips per time. [1/s]

    Raises
    ------
    OutOfRangeError
        If an argument is outside its range.

    References
    ----------
    .. [1] OWN, mass over mass.

    Examples
    --------
    >>> trips_per_time(0.5, 8000.0)
    6.25e-05
    """
    m = checked(cake_flow, "cake flow", "kg/s", 0.0)
    return plain(m / checked(load, "trip load", "kg", 0.0, above=True))
