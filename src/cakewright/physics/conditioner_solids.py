"""What iron, lime and other conditioners leave in a cake, and three ways to state its dryness."""

from __future__ import annotations

import numpy as np

from cakewright.physics._checked import Floats, checked, plain

__all__ = [
    "dryness_free_of_conditioner",
    "iron_lime_ash",
    "iron_lime_dissolved",
    "iron_lime_kept",
    "share_own_solids",
]

# Standard atomic masses, g/mol.
_H, _C, _O, _CL, _CA, _FE = 1.008, 12.011, 15.999, 35.45, 40.078, 55.845
_FECL3 = _FE + 3 * _CL
_CAO = _CA + _O
_CAOH2 = _CAO + 2 * _H + _O
_CACO3 = _CAO + _C + 2 * _O
_IRON = (_FE + 3 * (_O + _H)) / _FECL3
_IRON_ASH = (2 * _FE + 3 * _O) / (2 * _FECL3)
_ACID = 3.0 / _FECL3
_ALKALINITY = 2.0 / _CACO3  # moles of bicarbonate per mass of alkalinity told as CaCO3


def _fate(
    ferric: Floats,
    lime: Floats,
    liquor: Floats,
    alkalinity: Floats,
    filtrate: Floats,
    dissolved: Floats,
) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Iron, lime as carbonate and lime left as hydroxide, per mass of sludge solids.

    Lime goes in this order: the acid of the iron salt, the inorganic carbon of the liquor, the
    saturation of the filtrate; the rest stays. Carbon dioxide is kept (closed tank).
    """
    iron = checked(ferric, "ferric chloride", "kg/kg", 0.0)
    oxide = checked(lime, "lime", "kg/kg", 0.0)
    water = checked(liquor, "liquor", "m3/kg", 0.0)
    carbon = checked(alkalinity, "alkalinity", "kg/m3", 0.0) * water * _ALKALINITY
    neutral = np.minimum(_ACID * iron / 2.0, oxide / _CAO)
    carbonate = np.maximum(np.minimum(carbon, oxide / _CAO - neutral), 0.0)
    left = oxide - _CAO * (neutral + carbonate)
    runs = checked(filtrate, "filtrate", "m3/kg", 0.0)
    gone = np.minimum(checked(dissolved, "dissolved lime", "kg/m3", 0.0) * runs, left)
    return iron, carbonate, left - gone


def iron_lime_kept(
    ferric: Floats,
    lime: Floats,
    liquor: Floats,
    alkalinity: Floats,
    filtrate: Floats,
    insolubles: Floats = 0.0,
    dissolved: Floats = 1.2,
) -> Floats:
    r"""Conditioner solids that stay in a cake made with ferric chloride and lime.

    .. math:: m = \frac{M_{Fe(OH)_3}}{M_{FeCl_3}} F + M_{CaCO_3} n_c
        + \frac{M_{Ca(OH)_2}}{M_{CaO}} L_r + I

    Parameters
    ----------
    ferric : float or ndarray, shape (n,)
        Ferric chloride, pure, per sludge dry solids; :math:`F`; >= 0. [kg/kg]
    lime : float or ndarray, shape (n,)
        Lime as CaO per sludge dry solids; :math:`L`; >= 0. [kg/kg]
    liquor : float or ndarray, shape (n,)
        Water with the sludge per its dry solids; >= 0. [m3/kg]
    alkalinity : float or ndarray, shape (n,)
        Alkalinity of that water as CaCO3; >= 0. [kg/m3]
    filtrate : float or ndarray, shape (n,)
        Filtrate per sludge dry solids: the liquor less the water of the cake; >= 0. [m3/kg]
    insolubles : float or ndarray, shape (n,)
        Insoluble part of the lime as bought per sludge dry solids; :math:`I`; >= 0. [kg/kg]
    dissolved : float or ndarray, shape (n,)
        Lime the filtrate carries away when saturated, as CaO; >= 0. [kg/m3]

    Returns
    -------
    kept : float or ndarray, shape (n,)
        Conditioner solids in the cake per sludge dry solids; :math:`m`. [kg/kg]

    Raises
    ------
    OutOfRangeError
        If an amount is negative.

    Notes
    -----
    All iron as hydroxide; carbon dioxide kept; no phosphate. Published sums count 75 to 100 % of
    the chemicals as added.

    References
    ----------
    .. [1] OWN, stoichiometry with standard atomic masses.
    .. [2] C33, solubility of lime; C34, order of the reactions.

    Examples
    --------
    >>> round(iron_lime_kept(0.060, 0.250, 0.03233, 3.0, 0.03012, 0.02778), 3)
    0.359
    """
    iron, carbonate, left = _fate(ferric, lime, liquor, alkalinity, filtrate, dissolved)
    rest = checked(insolubles, "insolubles", "kg/kg", 0.0)
    return plain(_IRON * iron + _CACO3 * carbonate + _CAOH2 / _CAO * left + rest)


def iron_lime_ash(
    ferric: Floats,
    lime: Floats,
    liquor: Floats,
    alkalinity: Floats,
    filtrate: Floats,
    insolubles: Floats = 0.0,
    dissolved: Floats = 1.2,
) -> Floats:
    r"""Ash of those conditioner solids when lime is fully calcined.

    .. math:: a = \frac{M_{Fe_2O_3}}{2 M_{FeCl_3}} F + M_{CaO} n_c + L_r + I

    Parameters
    ----------
    ferric : float or ndarray, shape (n,)
        Ferric chloride, pure, per sludge dry solids; :math:`F`; >= 0. [kg/kg]
    lime : float or ndarray, shape (n,)
        Lime as CaO per sludge dry solids; >= 0. [kg/kg]
    liquor : float or ndarray, shape (n,)
        Water with the sludge per its dry solids; >= 0. [m3/kg]
    alkalinity : float or ndarray, shape (n,)
        Alkalinity of that water as CaCO3; >= 0. [kg/m3]
    filtrate : float or ndarray, shape (n,)
        Filtrate per sludge dry solids: the liquor less the water of the cake; >= 0. [m3/kg]
    insolubles : float or ndarray, shape (n,)
        Insoluble part of the lime as bought per sludge dry solids; :math:`I`; >= 0. [kg/kg]
    dissolved : float or ndarray, shape (n,)
        Lime the filtrate carries away when saturated, as CaO; >= 0. [kg/m3]

    Returns
    -------
    ash : float or ndarray, shape (n,)
        Ash of the conditioner per sludge dry solids; :math:`a`. [kg/kg]

    Raises
    ------
    OutOfRangeError
        If an amount is negative.

    Notes
    -----
    At 550 degC carbonate keeps its carbon dioxide: an ignition loss at that heat finds more.

    References
    ----------
    .. [1] OWN, stoichiometry with standard atomic masses.

    Examples
    --------
    >>> round(iron_lime_ash(0.060, 0.250, 0.03233, 3.0, 0.03012, 0.02778), 3)
    0.24
    """
    iron, carbonate, left = _fate(ferric, lime, liquor, alkalinity, filtrate, dissolved)
    rest = checked(insolubles, "insolubles", "kg/kg", 0.0)
    return plain(_IRON_ASH * iron + _CAO * carbonate + left + rest)


def iron_lime_dissolved(
    ferric: Floats,
    lime: Floats,
    liquor: Floats,
    alkalinity: Floats,
    filtrate: Floats,
    dissolved: Floats = 1.2,
) -> Floats:
    r"""Salts and lime that iron and lime leave dissolved in the liquor.

    .. math:: d = \frac{3 M_{Cl}}{M_{FeCl_3}} F + M_{Ca} n_a + \frac{M_{Ca(OH)_2}}{M_{CaO}} L_d

    Parameters
    ----------
    ferric : float or ndarray, shape (n,)
        Ferric chloride, pure, per sludge dry solids; :math:`F`; >= 0. [kg/kg]
    lime : float or ndarray, shape (n,)
        Lime as CaO per sludge dry solids; >= 0. [kg/kg]
    liquor : float or ndarray, shape (n,)
        Water with the sludge per its dry solids; >= 0. [m3/kg]
    alkalinity : float or ndarray, shape (n,)
        Alkalinity of that water as CaCO3; >= 0. [kg/m3]
    filtrate : float or ndarray, shape (n,)
        Filtrate per sludge dry solids: the liquor less the water of the cake; >= 0. [m3/kg]
    dissolved : float or ndarray, shape (n,)
        Lime the filtrate carries away when saturated, as CaO; >= 0. [kg/m3]

    Returns
    -------
    salts : float or ndarray, shape (n,)
        Dissolved chloride, calcium and lime per sludge dry solids; :math:`d`. [kg/kg]

    Raises
    ------
    OutOfRangeError
        If an amount is negative.

    References
    ----------
    .. [1] OWN, stoichiometry with standard atomic masses.

    Examples
    --------
    >>> round(iron_lime_dissolved(0.060, 0.250, 0.03233, 3.0, 0.03012), 3)
    0.109
    """
    iron, _, left = _fate(ferric, lime, liquor, alkalinity, 0.0, dissolved)
    _, _, stays = _fate(ferric, lime, liquor, alkalinity, filtrate, dissolved)
    neutral = np.minimum(_ACID * iron / 2.0, np.asarray(lime, dtype=float) / _CAO)
    gone = (left - stays) * _CAOH2 / _CAO
    return plain(3.0 * _CL / _FECL3 * iron + _CA * neutral + gone)


def share_own_solids(cake_solids: Floats, kept: Floats) -> Floats:
    r"""The sludge's own solids in a cake, per wet mass: what haulage is compared on.

    .. math:: x_o = x / (1 + m)

    Parameters
    ----------
    cake_solids : float or ndarray, shape (n,)
        Total solids as weighed, conditioner inside; :math:`x`; 0 to 1. [1]
    kept : float or ndarray, shape (n,)
        Conditioner solids per sludge solids in the cake; :math:`m`; >= 0. [kg/kg]

    Returns
    -------
    share : float or ndarray, shape (n,)
        Sludge solids per wet cake; :math:`x_o`. [1]

    Raises
    ------
    OutOfRangeError
        If the cake solids are outside 0 to 1 or the conditioner is negative.

    References
    ----------
    .. [1] OWN, definition.

    Examples
    --------
    >>> round(share_own_solids(0.40, 1.0 / 3.0), 3)
    0.3
    """
    x = checked(cake_solids, "cake solids", "", 0.0, 1.0)
    return plain(x / (1.0 + checked(kept, "conditioner kept", "kg/kg", 0.0)))


def dryness_free_of_conditioner(cake_solids: Floats, kept: Floats) -> Floats:
    r"""Dryness a cake would show without its conditioner: sludge solids over solids and water.

    .. math:: x_f = x / (x + (1 - x)(1 + m))

    Parameters
    ----------
    cake_solids : float or ndarray, shape (n,)
        Total solids as weighed, conditioner inside; :math:`x`; 0 to 1. [1]
    kept : float or ndarray, shape (n,)
        Conditioner solids per sludge solids in the cake; :math:`m`; >= 0. [kg/kg]

    Returns
    -------
    dryness : float or ndarray, shape (n,)
        Sludge solids over sludge solids and water; :math:`x_f`. [1]

    Raises
    ------
    OutOfRangeError
        If the cake solids are outside 0 to 1 or the conditioner is negative.

    References
    ----------
    .. [1] OWN, definition.

    Examples
    --------
    >>> round(dryness_free_of_conditioner(0.40, 1.0 / 3.0), 3)
    0.333
    """
    x = checked(cake_solids, "cake solids", "", 0.0, 1.0)
    m = checked(kept, "conditioner kept", "kg/kg", 0.0)
    return plain(x / (x + (1.0 - x) * (1.0 + m)))
