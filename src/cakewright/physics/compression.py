"""Sludge law: yield stress, equilibrium solidosity, local resistance, permeability, diffusivity.

The average resistance over a cake is `cakewright.physics.filtration_resistance`'s
``specific_resistance_average``: the closed integral of the local law below.
"""

from __future__ import annotations

import numpy as np

from cakewright.physics._checked import Floats, checked, plain

__all__ = [
    "compressive_diffusivity",
    "local_resistance_power",
    "permeability_darcy",
    "solidosity_equilibrium",
    "total_solids_cake",
    "void_ratio",
    "yield_stress_power",
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


def yield_stress_power(
    solidosity: Floats, gel_point: Floats, yield_scale: Floats, yield_exponent: Floats
) -> Floats:
    r"""Compressive yield stress of the floc network.

    .. math:: P_y = p_a\left[(\phi/\phi_g)^n - 1\right],\quad \phi > \phi_g;\qquad 0 \text{ below}

    Parameters
    ----------
    solidosity : float or ndarray, shape (n,)
        Volume fraction of solids; :math:`\phi`; 0 to 1. [1]
    gel_point : float or ndarray, shape (n,)
        Solidosity where the network first carries stress; :math:`\phi_g`; 0 to 1. [1]
    yield_scale : float or ndarray, shape (n,)
        Stress scale; :math:`p_a`; > 0. [Pa]
    yield_exponent : float or ndarray, shape (n,)
        Exponent; :math:`n`; > 0. [1]

    Returns
    -------
    yield_stress : float or ndarray, shape (n,)
        Stress the network carries without being compressed. [Pa]

    Raises
    ------
    OutOfRangeError
        If a solidosity is outside 0 to 1, or ``yield_scale`` or ``yield_exponent`` is not > 0.

    Notes
    -----
    Form of the compressional-rheology school; for sewage sludge the exponent at 0.3 to 50 MPa is
    near 5.6, at the stresses of presses (5 kPa to 1.5 MPa) it is to be fitted.

    References
    ----------
    .. [1] MEM, constitutive forms of compressional rheology (T39, T41 give ranges).

    Examples
    --------
    >>> round(yield_stress_power(0.2, 0.02, 10.0, 4.0), 3)
    99990.0
    """
    phi = checked(solidosity, "solidosity", "1", 0.0, 1.0)
    gel, scale, n = _law(gel_point, yield_scale, yield_exponent)
    return plain(scale * (np.maximum(phi / gel, 1.0) ** n - 1.0))


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


def local_resistance_power(
    stress: Floats, local_resistance: Floats, yield_scale: Floats, resistance_exponent: Floats
) -> Floats:
    r"""Local specific resistance of a cake under solid stress.

    .. math:: \alpha = \alpha_0\,(1 + p_s/p_a)^m

    Parameters
    ----------
    stress : float or ndarray, shape (n,)
        Stress on the solids; :math:`p_s`; >= 0. [Pa]
    local_resistance : float or ndarray, shape (n,)
        Resistance at no stress; :math:`\alpha_0`; > 0. [m/kg]
    yield_scale : float or ndarray, shape (n,)
        Stress scale, that of the yield stress; :math:`p_a`; > 0. [Pa]
    resistance_exponent : float or ndarray, shape (n,)
        Exponent; :math:`m`; >= 0. [1]

    Returns
    -------
    specific_resistance : float or ndarray, shape (n,)
        Local specific resistance. [m/kg]

    Raises
    ------
    OutOfRangeError
        If a value is out of range.

    References
    ----------
    .. [1] MEM, power law with a stress scale; T07 and T39 for its use on sludge.

    Examples
    --------
    >>> round(local_resistance_power(500.0, 1e10, 500.0, 1.0) / 1e10, 6)
    2.0
    """
    p = checked(stress, "stress", "Pa", 0.0)
    base = checked(local_resistance, "local resistance", "m/kg", 0.0, above=True)
    scale = checked(yield_scale, "yield scale", "Pa", 0.0, above=True)
    m = checked(resistance_exponent, "resistance exponent", "1", 0.0)
    return plain(base * (1.0 + p / scale) ** m)


def permeability_darcy(
    solidosity: Floats, specific_resistance: Floats, solids_density: Floats
) -> Floats:
    r"""Darcy permeability from the local specific resistance: the same thing in other units.

    .. math:: k = \frac{1}{\rho_s\,\phi\,\alpha}

    Parameters
    ----------
    solidosity : float or ndarray, shape (n,)
        Volume fraction of solids; :math:`\phi`; 0 to 1. [1]
    specific_resistance : float or ndarray, shape (n,)
        Local specific resistance; :math:`\alpha`; > 0. [m/kg]
    solids_density : float or ndarray, shape (n,)
        Density of the dry solids; :math:`\rho_s`; > 0. [kg/m3]

    Returns
    -------
    permeability : float or ndarray, shape (n,)
        Darcy permeability. [m2]

    Raises
    ------
    OutOfRangeError
        If a value is out of range.

    References
    ----------
    .. [1] OWN, comparison of Darcy's law with Ruth's equation.

    Examples
    --------
    >>> round(permeability_darcy(0.1, 1e12, 1000.0) * 1e15, 6)
    10.0
    """
    phi = checked(solidosity, "solidosity", "1", 0.0, 1.0, above=True)
    alpha = checked(specific_resistance, "specific resistance", "m/kg", 0.0, above=True)
    density = checked(solids_density, "solids density", "kg/m3", 0.0, above=True)
    return plain(1.0 / (density * phi * alpha))


def compressive_diffusivity(
    solidosity: Floats,
    gel_point: Floats,
    yield_scale: Floats,
    yield_exponent: Floats,
    specific_resistance: Floats,
    solids_density: Floats,
    liquid_viscosity: Floats,
) -> Floats:
    r"""Compressive diffusivity, the consolidation coefficient of soil mechanics.

    .. math:: D = \frac{1}{\mu\rho_s\alpha}\frac{dP_y}{d\phi}

    Parameters
    ----------
    solidosity : float or ndarray, shape (n,)
        Volume fraction of solids; :math:`\phi`; gel point to 1. [1]
    gel_point : float or ndarray, shape (n,)
        Gel point; :math:`\phi_g`; 0 to 1. [1]
    yield_scale : float or ndarray, shape (n,)
        Stress scale; :math:`p_a`; > 0. [Pa]
    yield_exponent : float or ndarray, shape (n,)
        Exponent; :math:`n`; > 0. [1]
    specific_resistance : float or ndarray, shape (n,)
        Local specific resistance at that solidosity; :math:`\alpha`; > 0. [m/kg]
    solids_density : float or ndarray, shape (n,)
        Density of the dry solids; :math:`\rho_s`; > 0. [kg/m3]
    liquid_viscosity : float or ndarray, shape (n,)
        Viscosity of the filtrate; :math:`\mu`; > 0. [Pa.s]

    Returns
    -------
    diffusivity : float or ndarray, shape (n,)
        Zero below the gel point. [m2/s]

    Raises
    ------
    OutOfRangeError
        If a value is out of range.

    Notes
    -----
    With :math:`R = \mu\rho_s\alpha(1-\phi)^2` this is :math:`(dP_y/d\phi)(1-\phi)^2/R`.

    References
    ----------
    .. [1] OWN, derivation from the local law; T39 for the definition.

    Examples
    --------
    >>> alpha = 1e15 * 0.1**3 / (1e-3 * 1500.0 * 0.9**2)
    >>> D = compressive_diffusivity(0.1, 0.02, 10.0, 4.0, alpha, 1500.0, 1e-3)
    >>> round(D / 1e-7, 6)
    2.025
    """
    phi = checked(solidosity, "solidosity", "1", 0.0, 1.0, above=True)
    gel, scale, n = _law(gel_point, yield_scale, yield_exponent)
    alpha = checked(specific_resistance, "specific resistance", "m/kg", 0.0, above=True)
    density = checked(solids_density, "solids density", "kg/m3", 0.0, above=True)
    viscosity = checked(liquid_viscosity, "viscosity", "Pa.s", 0.0, above=True)
    slope = np.where(phi > gel, scale * n / gel * (phi / gel) ** (n - 1.0), 0.0)
    return plain(slope / (viscosity * density * alpha))


def _law(
    gel_point: Floats, yield_scale: Floats, yield_exponent: Floats
) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    return (
        checked(gel_point, "gel point", "1", 0.0, 1.0, above=True),
        checked(yield_scale, "yield scale", "Pa", 0.0, above=True),
        checked(yield_exponent, "yield exponent", "1", 0.0, above=True),
    )
