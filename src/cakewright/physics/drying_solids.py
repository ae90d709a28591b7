"""Solids from weighings: dish, wet, dried, ignited; filter before and after."""

from __future__ import annotations

import numpy as np

from cakewright.physics._checked import Floats, checked, plain

__all__ = [
    "suspended_solids_weighed",
    "total_solids_weighed",
    "volatile_share_weighed",
]


def total_solids_weighed(dish: Floats, dish_with_wet: Floats, dish_with_dried: Floats) -> Floats:
    r"""Total solids by wet mass from a drying dish.

    .. math:: TS = \frac{m_{dried} - m_{dish}}{m_{wet} - m_{dish}}

    Parameters
    ----------
    dish : float or ndarray, shape (n,)
        Empty dish; > 0. [kg]
    dish_with_wet : float or ndarray, shape (n,)
        Dish with the wet sample; above the dish. [kg]
    dish_with_dried : float or ndarray, shape (n,)
        Dish after drying at 103-105 degC to constant mass. [kg]

    Returns
    -------
    total_solids : float or ndarray, shape (n,)
        Dried mass per wet mass. [1]

    Raises
    ------
    OutOfRangeError
        If the dried sample weighs less than nothing or more than the wet one.

    References
    ----------
    .. [1] T20, example 24.150.

    Examples
    --------
    >>> round(total_solids_weighed(22.28e-3, 73.43e-3, 24.88e-3), 5)
    0.05083
    """
    empty = checked(dish, "dish", "kg", 0.0, above=True)
    wet = checked(
        np.asarray(dish_with_wet, dtype=float) - empty, "wet sample", "kg", 0.0, above=True
    )
    dried = np.asarray(dish_with_dried, dtype=float) - empty
    return plain(checked(dried / wet, "dried over wet mass", "1", 0.0, 1.0))


def volatile_share_weighed(dish: Floats, dish_with_dried: Floats, dish_with_ash: Floats) -> Floats:
    r"""Volatile share of the dried solids from ignition.

    .. math:: VS = \frac{m_{dried} - m_{ash}}{m_{dried} - m_{dish}}

    Parameters
    ----------
    dish : float or ndarray, shape (n,)
        Empty dish; > 0. [kg]
    dish_with_dried : float or ndarray, shape (n,)
        Dish with the dried sample; above the dish. [kg]
    dish_with_ash : float or ndarray, shape (n,)
        Dish after ignition at 550 degC. [kg]

    Returns
    -------
    volatile_share : float or ndarray, shape (n,)
        Mass lost on ignition per dried mass. [1]

    Raises
    ------
    OutOfRangeError
        If the ash weighs less than nothing or more than the dried sample.

    References
    ----------
    .. [1] T20, example 24.150.

    Examples
    --------
    >>> round(volatile_share_weighed(22.28e-3, 24.88e-3, 22.98e-3), 4)
    0.7308
    """
    empty = checked(dish, "dish", "kg", 0.0, above=True)
    dried = checked(
        np.asarray(dish_with_dried, dtype=float) - empty, "dried sample", "kg", 0.0, above=True
    )
    ash = np.asarray(dish_with_ash, dtype=float) - empty
    return plain(checked(1.0 - ash / dried, "share lost on ignition", "1", 0.0, 1.0))


def suspended_solids_weighed(
    filter_clean: Floats, filter_with_dried: Floats, sample_volume: Floats, blank: Floats = 0.0
) -> Floats:
    r"""Suspended solids per volume from a weighed filter, corrected by a blank filter.

    .. math:: TSS = \frac{(m_{dried} - m_{clean}) - b}{V}

    Parameters
    ----------
    filter_clean : float or ndarray, shape (n,)
        Filter before; > 0. [kg]
    filter_with_dried : float or ndarray, shape (n,)
        Filter with the dried residue. [kg]
    sample_volume : float or ndarray, shape (n,)
        Volume filtered; > 0. [m3]
    blank : float or ndarray, shape (n,)
        Mass change of a filter washed with water only (often negative); :math:`b`. [kg]

    Returns
    -------
    suspended_solids : float or ndarray, shape (n,)
        Dry mass per volume of sample. [kg/m3]

    Raises
    ------
    OutOfRangeError
        If the residue is negative after the blank is taken off.

    References
    ----------
    .. [1] MEM, arithmetic of the standard method.

    Examples
    --------
    >>> round(suspended_solids_weighed(0.1230e-3, 0.1655e-3, 20e-6, -0.0005e-3), 2)
    2.15
    """
    clean = checked(filter_clean, "clean filter", "kg", 0.0, above=True)
    volume = checked(sample_volume, "sample volume", "m3", 0.0, above=True)
    residue = np.asarray(filter_with_dried, dtype=float) - clean - np.asarray(blank, dtype=float)
    return plain(checked(residue, "residue less blank", "kg", 0.0) / volume)
