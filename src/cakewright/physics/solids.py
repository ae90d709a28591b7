"""Density of solids and slurries, and what blending does to them."""

from __future__ import annotations

from cakewright.physics._checked import Floats, checked, plain
from cakewright.quantities import FloatArray

__all__ = [
    "DENSITY_FIXED",
    "DENSITY_VOLATILE",
    "density_slurry",
    "density_solids",
    "dry_solids_flow",
    "total_solids_blend",
    "volume_flow",
]

DENSITY_WATER = 998.2
"""Water at 20 C [kg/m3]; the error for thin sludge between 5 and 40 C is below 0.6 %."""

DENSITY_VOLATILE = 1350.0
"""Dry organic matter of sewage sludge, its water counted as water [kg/m3].

From T37, solids of 1550 to 1800 at 70 to 50 % organics: 1330 to 1410 with `DENSITY_FIXED`. Dry
bacterial matter is 1350 to 1600 with its ash (T77). Handbooks give 1010 to 1060 (L04): that of
the wet floc, water inside it counted as solids; right for volumes of thin sludge, not of cake.
"""
DENSITY_FIXED = 2500.0
"""Mineral part of sludge solids (L04) [kg/m3]."""


def density_solids(
    ash: Floats,
    density_volatile: Floats = DENSITY_VOLATILE,
    density_fixed: Floats = DENSITY_FIXED,
) -> Floats:
    r"""Density of dry solids from their ash share.

    .. math:: 1/\rho_s = (1 - a)/\rho_v + a/\rho_f

    Parameters
    ----------
    ash : float or ndarray, shape (n,)
        Share of the dry solids left after ignition; :math:`a`; 0 to 1. [1]
    density_volatile : float or ndarray, shape (n,)
        Density of the volatile part; :math:`\rho_v`; dry, about 1350, > 0. [kg/m3]
    density_fixed : float or ndarray, shape (n,)
        Density of the mineral part; :math:`\rho_f`; about 2500, > 0. [kg/m3]

    Returns
    -------
    density_solids : float or ndarray, shape (n,)
        Dry mass per volume of solids. [kg/m3]

    Raises
    ------
    OutOfRangeError
        If the ash share is outside 0 to 1 or a density is not positive.

    Notes
    -----
    Valid for solids that do not dissolve. Flocs hold water, which is counted as water here.

    References
    ----------
    .. [1] L04 p. 797, mineral 2.5 relative.
    .. [2] T37, solids of 1550 to 1800 at 70 to 50 % organics: volatile 1330 to 1410.
    .. [3] T77, dry bacterial matter 1350 to 1600.

    Examples
    --------
    >>> round(density_solids(0.30, 1000.0, 2500.0), 1)
    1219.5
    """
    a = checked(ash, "ash", "", 0.0, 1.0)
    volatile = checked(density_volatile, "density of the volatile part", "kg/m3", 0.0, above=True)
    fixed = checked(density_fixed, "density of the mineral part", "kg/m3", 0.0, above=True)
    return plain(1.0 / ((1.0 - a) / volatile + a / fixed))


def density_slurry(
    total_solids: Floats, density_solids: Floats, density_water: Floats = DENSITY_WATER
) -> Floats:
    r"""Density of sludge or of void-free cake from its solids content.

    .. math:: 1/\rho = w/\rho_s + (1 - w)/\rho_w

    Parameters
    ----------
    total_solids : float or ndarray, shape (n,)
        Mass share of solids; :math:`w`; 0 to 1. [1]
    density_solids : float or ndarray, shape (n,)
        Density of the dry solids; :math:`\rho_s`; > 0. [kg/m3]
    density_water : float or ndarray, shape (n,)
        Density of the liquid; :math:`\rho_w`; > 0. [kg/m3]

    Returns
    -------
    density_slurry : float or ndarray, shape (n,)
        Wet mass per volume. [kg/m3]

    Raises
    ------
    OutOfRangeError
        If the solids share is outside 0 to 1 or a density is not positive.

    Notes
    -----
    Loose cake holds voids: multiply by (1 - voids) for its bulk density.

    References
    ----------
    .. [1] L09 slurry density, the same relation in relative densities.

    Examples
    --------
    >>> round(density_slurry(0.20, 1400.0, 998.0), 1)
    1058.8
    """
    w = checked(total_solids, "total solids", "", 0.0, 1.0)
    solids = checked(density_solids, "density of the solids", "kg/m3", 0.0, above=True)
    water = checked(density_water, "density of the liquid", "kg/m3", 0.0, above=True)
    return plain(1.0 / (w / solids + (1.0 - w) / water))


def dry_solids_flow(volume_flow: Floats, total_solids: Floats, density_slurry: Floats) -> Floats:
    r"""Dry solids carried by a flow of sludge.

    .. math:: \dot m_s = Q\,\rho\,w

    Parameters
    ----------
    volume_flow : float or ndarray, shape (n,)
        Volume flow; :math:`Q`; >= 0. [m3/s]
    total_solids : float or ndarray, shape (n,)
        Mass share of solids; :math:`w`; 0 to 1. [1]
    density_slurry : float or ndarray, shape (n,)
        Density of the sludge; :math:`\rho`; > 0. [kg/m3]

    Returns
    -------
    dry_solids_flow : float or ndarray, shape (n,)
        Dry mass per time. [kg/s]

    Raises
    ------
    OutOfRangeError
        If a value is outside its range.

    References
    ----------
    .. [1] OWN, definition.

    Examples
    --------
    >>> dry_solids_flow(0.001, 0.02, 1000.0)
    0.02
    """
    flow = checked(volume_flow, "volume flow", "m3/s", 0.0)
    w = checked(total_solids, "total solids", "", 0.0, 1.0)
    return plain(flow * w * checked(density_slurry, "density", "kg/m3", 0.0, above=True))


def volume_flow(dry_solids_flow: Floats, total_solids: Floats, density_slurry: Floats) -> Floats:
    r"""Volume of sludge that carries given dry solids.

    .. math:: Q = \dot m_s / (w\,\rho)

    Parameters
    ----------
    dry_solids_flow : float or ndarray, shape (n,)
        Dry mass per time; :math:`\dot m_s`; >= 0. [kg/s]
    total_solids : float or ndarray, shape (n,)
        Mass share of solids; :math:`w`; above 0 to 1. [1]
    density_slurry : float or ndarray, shape (n,)
        Density of the sludge; :math:`\rho`; > 0. [kg/m3]

    Returns
    -------
    volume_flow : float or ndarray, shape (n,)
        Volume per time. [m3/s]

    Raises
    ------
    OutOfRangeError
        If a value is outside its range.

    References
    ----------
    .. [1] OWN, definition.

    Examples
    --------
    >>> round(volume_flow(0.02, 0.02, 1000.0), 9)
    0.001
    """
    solids = checked(dry_solids_flow, "dry solids flow", "kg/s", 0.0)
    w = checked(total_solids, "total solids", "", 0.0, 1.0, above=True)
    return plain(solids / (w * checked(density_slurry, "density", "kg/m3", 0.0, above=True)))


def total_solids_blend(dry_solids_flows: FloatArray, total_solids: FloatArray) -> Floats:
    r"""Total solids of a blend, by mass of solids and mass of sludge.

    .. math:: w = \sum \dot m_i \big/ \sum (\dot m_i / w_i)

    Parameters
    ----------
    dry_solids_flows : ndarray, shape (k,) or (k, n)
        Dry solids of each of k sludges; :math:`\dot m_i`; >= 0, not all zero. [kg/s]
    total_solids : ndarray, shape (k,) or (k, n)
        Total solids of each sludge; :math:`w_i`; above 0 to 1. [1]

    Returns
    -------
    total_solids_blend : float or ndarray, shape (n,)
        Total solids of the mixture. [1]

    Raises
    ------
    OutOfRangeError
        If a value is outside its range or no sludge carries solids.

    References
    ----------
    .. [1] OWN, mass balance on solids and on the whole.

    Examples
    --------
    >>> import numpy as np
    >>> round(float(total_solids_blend(np.array([1320.0, 1000.0]), np.array([0.04, 0.008]))), 6)
    0.014684
    """
    flows = checked(dry_solids_flows, "dry solids flow", "kg/s", 0.0)
    shares = checked(total_solids, "total solids", "", 0.0, 1.0, above=True)
    whole = checked(flows.sum(axis=0), "dry solids of the blend", "kg/s", 0.0, above=True)
    return plain(whole / (flows / shares).sum(axis=0))
