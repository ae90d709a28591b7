"""What iron, lime and other conditioners leave in a cake, and three ways to state its dryness."""

from __future__ import annotations

import numpy as np

from cakewright.physics._checked import Floats, checked, plain

__all__ = [
    "acid_for_scale",
    "ammonia_free_share",
    "cake_mass_per_sludge_solids",
    "conditioner_share_by_ash",
    "dryness_free_of_conditioner",
    "heat_value_limed_cake",
    "iron_lime_ash",
    "iron_lime_dissolved",
    "iron_lime_kept",
    "precoat_share",
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


def cake_mass_per_sludge_solids(cake_solids: Floats, kept: Floats, capture: Floats) -> Floats:
    r"""Wet cake per dry solids of sludge fed.

    .. math:: w = R (1 + m) / x

    Parameters
    ----------
    cake_solids : float or ndarray, shape (n,)
        Total solids as weighed, conditioner inside; :math:`x`; above 0 to 1. [1]
    kept : float or ndarray, shape (n,)
        Conditioner solids per sludge solids in the cake; :math:`m`; >= 0. [kg/kg]
    capture : float or ndarray, shape (n,)
        Share of the sludge's solids that leaves in the cake; :math:`R`; 0 to 1. [1]

    Returns
    -------
    mass : float or ndarray, shape (n,)
        Wet cake per dry solids of sludge; :math:`w`. [kg/kg]

    Raises
    ------
    OutOfRangeError
        If a share is outside its range or the conditioner is negative.

    References
    ----------
    .. [1] OWN, solids balance.

    Examples
    --------
    >>> round(cake_mass_per_sludge_solids(0.40, 0.359, 0.98), 2)
    3.33
    """
    x = checked(cake_solids, "cake solids", "", 0.0, 1.0, above=True)
    m = checked(kept, "conditioner kept", "kg/kg", 0.0)
    return plain(checked(capture, "capture", "", 0.0, 1.0) * (1.0 + m) / x)


def conditioner_share_by_ash(ash_cake: Floats, ash_sludge: Floats, ash_added: Floats) -> Floats:
    r"""Conditioner solids per sludge solids in a cake, from three ashes.

    .. math:: m = (a_k - a_s) / (a_c - a_k)

    Parameters
    ----------
    ash_cake : float or ndarray, shape (n,)
        Ash of the cake's dry solids; :math:`a_k`; 0 to 1. [1]
    ash_sludge : float or ndarray, shape (n,)
        Ash of the sludge's dry solids; :math:`a_s`; 0 to 1. [1]
    ash_added : float or ndarray, shape (n,)
        Ash of the conditioner solids; :math:`a_c`; above the cake's. [1]

    Returns
    -------
    kept : float or ndarray, shape (n,)
        Conditioner solids per sludge solids; :math:`m`. [kg/kg]

    Raises
    ------
    OutOfRangeError
        If an ash is outside 0 to 1, or the cake's does not lie between the other two.

    References
    ----------
    .. [1] OWN, ash balance.

    Examples
    --------
    >>> round(conditioner_share_by_ash(0.5, 0.4, 0.8), 3)
    0.333
    """
    cake = checked(ash_cake, "ash of the cake", "", 0.0, 1.0)
    sludge = checked(ash_sludge, "ash of the sludge", "", 0.0, 1.0)
    added = checked(ash_added, "ash of the conditioner", "", 0.0, 1.0)
    gain = checked(cake - sludge, "ash gained by the cake", "", 0.0)
    room = checked(added - cake, "ash of the conditioner above the cake's", "", 0.0, above=True)
    return plain(gain / room)


def heat_value_limed_cake(
    own_solids: Floats,
    volatile: Floats,
    heat_volatile: Floats,
    cake_solids: Floats,
    hydroxide: Floats = 0.0,
    carbonate: Floats = 0.0,
) -> Floats:
    r"""Lower heating value of a wet cake with lime in it.

    .. math:: H = x_o v H_v - 2.443\cdot10^6 (1 - x) - 1.46\cdot10^6 w_h - 1.78\cdot10^6 w_c

    Parameters
    ----------
    own_solids : float or ndarray, shape (n,)
        Sludge solids per wet cake; :math:`x_o`; 0 to 1. [1]
    volatile : float or ndarray, shape (n,)
        Volatile share of the sludge's solids; :math:`v`; 0 to 1. [1]
    heat_volatile : float or ndarray, shape (n,)
        Heating value of the volatile solids; :math:`H_v`; >= 0. [J/kg]
    cake_solids : float or ndarray, shape (n,)
        Total solids as weighed; :math:`x`; 0 to 1. [1]
    hydroxide : float or ndarray, shape (n,)
        Calcium hydroxide per wet cake; :math:`w_h`; >= 0. [kg/kg]
    carbonate : float or ndarray, shape (n,)
        Calcium carbonate that is calcined, per wet cake; :math:`w_c`; >= 0. [kg/kg]

    Returns
    -------
    heat : float or ndarray, shape (n,)
        Lower heating value of the wet cake, negative where it does not burn; :math:`H`. [J/kg]

    Raises
    ------
    OutOfRangeError
        If a share is outside its range.

    Notes
    -----
    Water at 25 degC; heats of dehydration and calcination from standard enthalpies (from memory).

    References
    ----------
    .. [1] OWN, heat balance.
    .. [2] C47, heating value by volatile solids holds for sewage sludge only.

    Examples
    --------
    >>> round(heat_value_limed_cake(0.30, 0.60, 22e6, 0.30) / 1e6, 2)
    2.25
    """
    own = checked(own_solids, "own solids", "", 0.0, 1.0)
    burns = checked(volatile, "volatile share", "", 0.0, 1.0)
    water = 1.0 - checked(cake_solids, "cake solids", "", 0.0, 1.0)
    lime = 1.46e6 * checked(hydroxide, "calcium hydroxide", "kg/kg", 0.0)
    stone = 1.78e6 * checked(carbonate, "calcium carbonate", "kg/kg", 0.0)
    heat = own * burns * checked(heat_volatile, "heating value", "J/kg", 0.0)
    return plain(heat - 2.443e6 * water - lime - stone)


def ammonia_free_share(ph: Floats, temperature: Floats) -> Floats:
    r"""Share of ammonium nitrogen that is free ammonia.

    .. math:: f = 1 / (10^{pK_a - pH} + 1), \quad pK_a = 0.09018 + 2729.92 / T

    Parameters
    ----------
    ph : float or ndarray, shape (n,)
        pH of the liquor; 0 to 14. [1]
    temperature : float or ndarray, shape (n,)
        Temperature; :math:`T`; 273 to 323. [K]

    Returns
    -------
    share : float or ndarray, shape (n,)
        Free ammonia over all ammonium nitrogen; :math:`f`. [1]

    Raises
    ------
    OutOfRangeError
        If pH or temperature is outside its range.

    Notes
    -----
    The page read prints 2727.92; 2729.92 is the constant in common use (from memory).

    References
    ----------
    .. [1] C41, the equation.

    Examples
    --------
    >>> round(ammonia_free_share(12.0, 293.15), 4)
    0.9975
    """
    kelvin = checked(temperature, "temperature", "K", 273.0, 323.2)
    acid = 0.09018 + 2729.92 / kelvin
    return plain(1.0 / (10.0 ** (acid - checked(ph, "pH", "", 0.0, 14.0)) + 1.0))


def precoat_share(load: Floats, thickness: Floats, density: Floats, cake_solids: Floats) -> Floats:
    r"""Share of a plate cake's solids that is precoat.

    .. math:: s = p / (\tfrac{1}{2} d\, \rho\, x)

    Parameters
    ----------
    load : float or ndarray, shape (n,)
        Precoat per area of cloth; :math:`p`; >= 0. [kg/m2]
    thickness : float or ndarray, shape (n,)
        Thickness of the cake, both faces; :math:`d`; above 0. [m]
    density : float or ndarray, shape (n,)
        Density of the wet cake; :math:`\rho`; above 0. [kg/m3]
    cake_solids : float or ndarray, shape (n,)
        Total solids as weighed; :math:`x`; above 0 to 1. [1]

    Returns
    -------
    share : float or ndarray, shape (n,)
        Precoat per dry solids of the cake; :math:`s`. [1]

    Raises
    ------
    OutOfRangeError
        If a value is not positive where it must be.

    References
    ----------
    .. [1] OWN, definition; precoat loads in P05.

    Examples
    --------
    >>> round(precoat_share(0.4, 0.032, 1120.0, 0.30), 4)
    0.0744
    """
    half = checked(thickness, "thickness", "m", 0.0, above=True) / 2.0
    dense = checked(density, "density", "kg/m3", 0.0, above=True)
    x = checked(cake_solids, "cake solids", "", 0.0, 1.0, above=True)
    return plain(checked(load, "precoat", "kg/m2", 0.0) / (half * dense * x))


def acid_for_scale(carbonate: Floats, strength: Floats) -> Floats:
    r"""Hydrochloric acid as bought that dissolves lime scale.

    .. math:: A = \frac{2 M_{HCl}}{M_{CaCO_3}} \frac{S}{w}

    Parameters
    ----------
    carbonate : float or ndarray, shape (n,)
        Scale as calcium carbonate; :math:`S`; >= 0. [kg]
    strength : float or ndarray, shape (n,)
        Hydrogen chloride in the acid; :math:`w`; above 0 to 0.4. [1]

    Returns
    -------
    acid : float or ndarray, shape (n,)
        Mass of acid; :math:`A`. [kg]

    Raises
    ------
    OutOfRangeError
        If the scale is negative or the strength outside its range.

    Notes
    -----
    Frees 0.44 kg of carbon dioxide per kg of scale: ventilate.

    References
    ----------
    .. [1] OWN, stoichiometry.

    Examples
    --------
    >>> round(acid_for_scale(20.0, 0.33), 1)
    44.2
    """
    pure = 2.0 * (_H + _CL) / _CACO3 * checked(carbonate, "scale", "kg", 0.0)
    return plain(pure / checked(strength, "strength of the acid", "", 0.0, 0.4, above=True))
