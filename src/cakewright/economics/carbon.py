"""Greenhouse gas of a year or of a tonne. Factors are arguments; biogenic carbon stays apart."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from types import MappingProxyType

import numpy as np

from cakewright.economics.checks import Number, least, share
from cakewright.errors import UnknownNameError
from cakewright.quantities import FloatArray
from cakewright.quantities.tables import packaged_table

__all__ = [
    "Footprint",
    "WarmingPotentials",
    "biogenic_carbon_dioxide",
    "carbon_equivalent",
    "footprint",
    "haulage_carbon",
    "landfill_methane",
    "power_carbon",
    "process_emission",
    "product_carbon",
    "soil_nitrous_oxide",
    "warming_potentials",
]

# Molar masses of CH4/C, N2O/N2 and CO2/C in whole grams, as the inventory guidelines use them.
_CH4_PER_C, _N2O_PER_N, _CO2_PER_C = 16 / 12, 44 / 28, 44 / 12


@dataclass(frozen=True, slots=True)
class WarmingPotentials:
    """Mass of CO2 that warms as much as one mass of the gas, over 100 years."""

    name: str
    methane: float
    nitrous_oxide: float
    year: int
    source: str
    mark: str = ""


@dataclass(frozen=True, slots=True, eq=False)
class Footprint:
    """Emissions by part, their sum, the biogenic CO2 that is not in it, and the set used."""

    parts: Mapping[str, FloatArray]
    total: FloatArray
    biogenic: FloatArray
    potentials: WarmingPotentials


@cache
def warming_potentials(name: str) -> WarmingPotentials:
    r"""A published set of warming potentials.

    Parameters
    ----------
    name : str
        Assessment report: SAR, AR4, AR5 or AR6. [object]

    Returns
    -------
    warming_potentials : WarmingPotentials
        The set. [object]

    Raises
    ------
    UnknownNameError
        If there is no such set.

    References
    ----------
    .. [1] L86, AR6 as used with the factors of 2025; L84 and L85 for SAR and AR4; AR5 from memory.

    Examples
    --------
    >>> warming_potentials("AR6").methane
    27.9
    """
    table = packaged_table("cakewright.economics", "data", "warming_potentials.toml")
    if name not in table:
        raise UnknownNameError(
            f"warming potentials {name!r} do not exist; sets are {', '.join(table)}; "
            "or give your own WarmingPotentials"
        )
    return WarmingPotentials(name, **table[name])


def carbon_equivalent(
    methane: Number, nitrous_oxide: Number, potentials: WarmingPotentials
) -> FloatArray:
    r"""Carbon dioxide that warms as much.

    .. math:: m_{CH_4} GWP_{CH_4} + m_{N_2O} GWP_{N_2O}

    Parameters
    ----------
    methane : float or ndarray
        Methane emitted; >= 0. [kg]
    nitrous_oxide : float or ndarray
        Nitrous oxide emitted; >= 0. [kg]
    potentials : WarmingPotentials
        Set used, to be stated with the result. [object]

    Returns
    -------
    carbon_equivalent : ndarray
        Carbon dioxide equivalent. [kg]

    References
    ----------
    .. [1] OWN, definition.

    Examples
    --------
    >>> float(carbon_equivalent(150.0, 0.0, warming_potentials("AR6")))
    4185.0
    """
    return np.asarray(
        least("methane", methane) * potentials.methane
        + least("nitrous oxide", nitrous_oxide) * potentials.nitrous_oxide
    )


def power_carbon(energy: Number, factor: Number) -> FloatArray:
    r"""Emission of the electricity used.

    Parameters
    ----------
    energy : float or ndarray
        Electricity; >= 0. [J]
    factor : float or ndarray
        Emission of the grid; >= 0. [kg/J]

    Returns
    -------
    power_carbon : ndarray
        Carbon dioxide equivalent. [kg]

    References
    ----------
    .. [1] OWN, definition.

    Examples
    --------
    >>> round(float(power_carbon(20 * 3.6e6, 0.390 / 3.6e6)), 2)
    7.8
    """
    return np.asarray(least("energy", energy) * least("grid factor", factor))


def product_carbon(mass: Number, factor: Number) -> FloatArray:
    r"""Emission of making what is used: polymer, lime, water, spares.

    Parameters
    ----------
    mass : float or ndarray
        Mass used, on the basis the factor is stated for (active polymer for instance). [kg]
    factor : float or ndarray
        Emission per mass, cradle to gate; >= 0. [kg/kg]

    Returns
    -------
    product_carbon : ndarray
        Carbon dioxide equivalent. [kg]

    References
    ----------
    .. [1] OWN, definition.

    Examples
    --------
    >>> float(product_carbon(8.0, 3.0))
    24.0
    """
    return np.asarray(least("mass used", mass) * least("product factor", factor))


def haulage_carbon(mass: Number, distance: Number, factor: Number) -> FloatArray:
    r"""Emission of haulage, empty return inside the factor.

    Parameters
    ----------
    mass : float or ndarray
        Wet mass hauled; >= 0. [kg]
    distance : float or ndarray
        One way; >= 0. [m]
    factor : float or ndarray
        Emission per mass and distance at mean load; >= 0 (0.1 kg per tonne-kilometre is
        1e-7). [1/m]

    Returns
    -------
    haulage_carbon : ndarray
        Carbon dioxide equivalent. [kg]

    References
    ----------
    .. [1] OWN, definition.

    Examples
    --------
    >>> round(float(haulage_carbon(5000.0, 50e3, 0.10749e-6)), 4)
    26.8725
    """
    moved = least("mass hauled", mass) * least("distance", distance)
    return np.asarray(moved * least("haulage factor", factor))


def landfill_methane(
    dry_solids: Number,
    organic_carbon: Number,
    decaying_share: Number,
    methane_correction: Number,
    methane_share: Number = 0.5,
    oxidised_share: Number = 0.0,
    recovered_share: Number = 0.0,
) -> FloatArray:
    r"""Methane from cake in a landfill, all of it counted in the year of disposal.

    .. math:: m\, DOC\, DOC_f\, MCF\, F\, \tfrac{16}{12}\,(1-R)(1-OX)

    Parameters
    ----------
    dry_solids : float or ndarray
        Dry solids disposed of; :math:`m`; >= 0. [kg]
    organic_carbon : float or ndarray
        Degradable organic carbon per dry solids; :math:`DOC`; 0 to 1. [1]
    decaying_share : float or ndarray
        Share of it that decays; :math:`DOC_f`; 0 to 1. [1]
    methane_correction : float or ndarray
        Share that decays without air; :math:`MCF`; 0 to 1. [1]
    methane_share : float or ndarray
        Methane in landfill gas by volume; :math:`F`; 0 to 1. [1]
    oxidised_share : float or ndarray
        Share oxidised in the cover; :math:`OX`; 0 to 1. [1]
    recovered_share : float or ndarray
        Share collected and burned; :math:`R`; 0 to 1. [1]

    Returns
    -------
    landfill_methane : ndarray
        Methane emitted. [kg]

    References
    ----------
    .. [1] L06, first-tier form of the inventory guidelines.

    Examples
    --------
    >>> round(float(landfill_methane(1000.0, 0.5, 0.5, 1.0, 0.5, 0.1)), 6)
    150.0
    """
    carbon = least("dry solids", dry_solids) * share("organic carbon", organic_carbon)
    made = carbon * share("decaying share", decaying_share) * share("MCF", methane_correction)
    kept = (1 - share("recovered share", recovered_share)) * (
        1 - share("oxidised share", oxidised_share)
    )
    return np.asarray(made * share("methane share", methane_share) * _CH4_PER_C * kept)


def soil_nitrous_oxide(nitrogen: Number, emission_factor: Number) -> FloatArray:
    r"""Nitrous oxide from nitrogen spread on land, or volatilised or leached from it.

    .. math:: N \cdot EF \cdot 44/28

    Parameters
    ----------
    nitrogen : float or ndarray
        Nitrogen applied (or the share of it that goes the indirect way); >= 0. [kg]
    emission_factor : float or ndarray
        Nitrogen emitted as nitrous oxide per nitrogen; 0 to 1. [1]

    Returns
    -------
    soil_nitrous_oxide : ndarray
        Nitrous oxide emitted. [kg]

    References
    ----------
    .. [1] L06, direct emission of managed soils.

    Examples
    --------
    >>> round(float(soil_nitrous_oxide(50.0, 0.010)), 4)
    0.7857
    """
    factor = share("emission factor", emission_factor)
    return np.asarray(least("nitrogen", nitrogen) * factor * _N2O_PER_N)


def process_emission(mass: Number, factor: Number) -> FloatArray:
    r"""Methane or nitrous oxide of a process that has a factor per mass treated.

    Parameters
    ----------
    mass : float or ndarray
        Mass treated, wet or dry as the factor says; >= 0. [kg]
    factor : float or ndarray
        Gas per mass treated; >= 0. [kg/kg]

    Returns
    -------
    process_emission : ndarray
        Gas emitted. [kg]

    Notes
    -----
    Composting and digester leakage are stated per wet or per dry mass, incineration per mass as
    fired.

    References
    ----------
    .. [1] L06, factors of biological treatment and incineration.

    Examples
    --------
    >>> float(process_emission(1000.0, 0.010))
    10.0
    """
    return np.asarray(least("mass treated", mass) * least("process factor", factor))


def biogenic_carbon_dioxide(carbon: Number) -> FloatArray:
    r"""Carbon dioxide of carbon that came from living things: stated apart, counted as zero.

    Parameters
    ----------
    carbon : float or ndarray
        Biogenic carbon oxidised; >= 0. [kg]

    Returns
    -------
    biogenic_carbon_dioxide : ndarray
        Carbon dioxide. [kg]

    References
    ----------
    .. [1] OWN, molar masses.

    Examples
    --------
    >>> round(float(biogenic_carbon_dioxide(12.0)), 6)
    44.0
    """
    return np.asarray(least("biogenic carbon", carbon) * _CO2_PER_C)


def footprint(
    parts: Mapping[str, Number], potentials: WarmingPotentials, biogenic: Number = 0.0
) -> Footprint:
    r"""Emissions added up, the biogenic part beside the sum.

    Parameters
    ----------
    parts : mapping of str to float or ndarray
        Carbon dioxide equivalent of each part; credits are negative. [kg]
    potentials : WarmingPotentials
        Set used for methane and nitrous oxide in the parts. [object]
    biogenic : float or ndarray
        Biogenic carbon dioxide, not added. [kg]

    Returns
    -------
    footprint : Footprint
        Parts, sum and the biogenic figure. [object]

    References
    ----------
    .. [1] OWN, definition.

    Examples
    --------
    >>> float(footprint({"power": 7.8, "polymer": 24.0}, warming_potentials("AR6"), 900.0).total)
    31.8
    """
    arrays = {name: np.asarray(part, dtype=float) for name, part in parts.items()}
    whole = np.asarray(sum(arrays.values(), np.zeros(())))
    return Footprint(MappingProxyType(arrays), whole, least("biogenic CO2", biogenic), potentials)
