"""House names: one name, symbol, unit, display units, basis and meaning per quantity.

The list lives in ``names/*.toml``, one file per room that introduces the names.
"""

from __future__ import annotations

import difflib
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from types import MappingProxyType

from cakewright.errors import UnknownNameError

__all__ = ["HouseName", "house_name", "house_names"]


@dataclass(frozen=True, slots=True)
class HouseName:
    """One entry of the name list.

    ``unit`` is coherent SI, ``shown`` what an engineer reads, ``shown_us`` the same in US
    customary units; ``on`` says what an ambiguous quantity is counted on (wet, dry, active ...).
    """

    name: str
    label: str
    symbol: str
    unit: str
    shown: str
    shown_us: str
    meaning: str
    on: str = ""
    decimals: int = 1
    decimals_us: int = 1


@cache
def house_names() -> Mapping[str, HouseName]:
    """All house names by name.

    Raises
    ------
    UnknownNameError
        If two rooms define the same name.
    """
    found: dict[str, HouseName] = {}
    for shelf in sorted(files("cakewright.quantities").joinpath("names").iterdir(), key=str):
        if not shelf.name.endswith(".toml"):
            continue
        for name, entry in tomllib.loads(shelf.read_text(encoding="utf-8")).items():
            if name in found:
                raise UnknownNameError(f"{shelf.name}: house name {name!r} is defined twice")
            unit = entry["unit"]
            shown = entry.get("shown", unit)
            decimals = entry.get("decimals", 1)
            found[name] = HouseName(
                name=name,
                label=entry["label"],
                symbol=entry["symbol"],
                unit=unit,
                shown=shown,
                shown_us=entry.get("shown_us", shown),
                meaning=entry["meaning"],
                on=entry.get("on", ""),
                decimals=decimals,
                decimals_us=entry.get("decimals_us", decimals),
            )
    return MappingProxyType(found)


def house_name(name: str) -> HouseName:
    """Entry of the name list.

    Raises
    ------
    UnknownNameError
        If the name is not in the list; names the nearest one.
    """
    names = house_names()
    if name in names:
        return names[name]
    near = difflib.get_close_matches(name, names, n=1)
    hint = f"did you mean {near[0]!r}?" if near else "see docs/names for the list"
    raise UnknownNameError(f"{name!r} is not a house name; {hint}")
