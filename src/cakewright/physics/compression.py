"""Sludge law: yield stress, equilibrium solidosity, local resistance, permeability, diffusivity.

The average resistance over a cake is `cakewright.physics.filtration_resistance`'s
``specific_resistance_average``: the closed integral of the local law below.
"""

from __future__ import annotations

import numpy as np

from cakewright.physics._checked import Floats, checked, plain

__all__ = [
    "solidosity_equilibrium",
    "total_solids_cake",
    "void_ratio",
]


def void_ratio(solidosity: Floats) -> Floats:
    r"""Void ratio of a layer.

    .. math:: e = (1 - \phi)/\phi

    Parameters
    ----------
    solidosity : float or ndarray, shape (n,)
        Volume fraction of solids; :math:`\phi`; 0 to 1. [1]

    Returns
    -------
    void_ratio : float or ndarray, shape (n,)
        Water volume per solids volume. [1]

    Raises
    ------
    OutOfRangeError
        If ``solidosity`` is not above 0 and at most 1.

    References
    ----------
    .. [1] OWN, definition.

    Examples
    --------
    >>> void_ratio(0.2)
    4.0
    """
    phi = checked(solidosity, "solidosity", "1", 0.0, 1.0, above=True)
    return plain((1.0 - phi) / phi)


def total_solids_cake(void_ratio: Floats, solids_density: Floats, liquid_density: Floats) -> Floats:
    r"""Mass fraction of solids from the void ratio.

    .. math:: TS = \frac{\rho_s}{\rho_s + e\,\rho_l}

    Parameters
    ----------
    void_ratio : float or ndarray, shape (n,)
        Water volume per solids volume; :math:`e`; >= 0. [1]
    solids_density : float or ndarray, shape (n,)
        Density of the dry solids; :math:`\rho_s`; > 0. [kg/m3]
    liquid_density : float or ndarray, shape (n,)
        Density of the water; :math:`\rho_l`; > 0. [kg/m3]

    Returns
    -------
    total_solids : float or ndarray, shape (n,)
        Solids mass over wet mass; dissolved solids left out. [1]

    References
    ----------
    .. [1] OWN, solids and water balance of a saturated cake.

    Examples
    --------
    >>> round(total_solids_cake(4.0, 1400.0, 1000.0), 4)
    0.2593
    """
    e = checked(void_ratio, "void ratio", "1", 0.0)
    solids = checked(solids_density, "solids density", "kg/m3", 0.0, above=True)
    liquid = checked(liquid_density, "liquid density", "kg/m3", 0.0, above=True)
    return plain(solids / (solids + e * liquid))


def solidosity_equilibrium(
    stress: Floats, gel_point: Floats, yield_scale: Floats, yield_exponent: Floats
) -> Floats:
    r"""Solidosity a cake reaches when all the stress is on the solids.

    .. math:: \phi_\infty = \phi_g\,(1 + p/p_a)^{1/n}

    Parameters
    ----------
    stress : float or ndarray, shape (n,)
        Stress on the solids; :math:`p`; >= 0. [Pa]
    gel_point : float or ndarray, shape (n,)
        Gel point; :math:`\phi_g`; 0 to 1. [1]
    yield_scale : float or ndarray, shape (n,)
        Stress scale; :math:`p_a`; > 0. [Pa]
    yield_exponent : float or ndarray, shape (n,)
        Exponent; :math:`n`; > 0. [1]

    Returns
    -------
    solidosity : float or ndarray, shape (n,)
        Volume fraction of solids at equilibrium, at most 1. [1]

    Raises
    ------
    OutOfRangeError
        If the stress is negative, or a parameter of the law is out of range.

    References
    ----------
    .. [1] OWN, inverse of the yield stress.

    Examples
    --------
    >>> round(solidosity_equilibrium(1e5, 0.02, 10.0, 4.0), 6)
    0.200005
    """
    p = checked(stress, "stress", "Pa", 0.0)
    gel, scale, n = _law(gel_point, yield_scale, yield_exponent)
    return plain(np.minimum(gel * (1.0 + p / scale) ** (1.0 / n), 1.0))


def _law(
    gel_point: Floats, yield_scale: Floats, yield_exponent: Floats
) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    return (
        checked(gel_point, "gel point", "1", 0.0, 1.0, above=True),
        checked(yield_scale, "yield scale", "Pa", 0.0, above=True),
        checked(yield_exponent, "yield exponent", "1", 0.0, above=True),
    )
