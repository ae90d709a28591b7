"""What the sludge of a class is like where its performance bands hold."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

from cakewright.quantities import Mark
from cakewright.reference import _tables
from cakewright.reference.classes import sludge_class

__all__ = ["BandConditions", "band_conditions"]


@dataclass(frozen=True, slots=True)
class BandConditions:
    """Total solids of wet mass, shares of dry solids, temperature [K], time stored [s]."""

    total_solids: float
    ash: float
    oil: float
    fibre: float
    temperature: float
    stored: float
    source: str
    mark: Mark


@cache
def band_conditions(key: str) -> BandConditions:
    """Conditions of one class.

    Raises
    ------
    UnknownNameError
        If there is no such class.

    Examples
    --------
    >>> band_conditions("was").ash
    0.2
    """
    table = _tables.toml_table("band_conditions")
    return BandConditions(
        **table["class"][sludge_class(key).key],
        temperature=table["temperature"],
        stored=table["stored"],
        source=table["source"],
        mark=Mark(table["mark"]),
    )
