"""The one door between units: text or numbers in, coherent SI out, and back."""

from __future__ import annotations

import json
import math
from collections.abc import Mapping
from functools import cache, lru_cache
from importlib.resources import files
from typing import TYPE_CHECKING, Any

import numpy as np

from cakewright.errors import QuantityError
from cakewright.quantities.figure import FloatArray
from cakewright.quantities.unit_text import parse_unit

if TYPE_CHECKING:
    import pint

__all__ = ["affine", "from_si", "registry", "to_si"]

# Dimensions are compared to this many places: cube roots are written with eight.
_PLACES = 6


@cache
def registry() -> pint.UnitRegistry[Any]:
    """The unit registry, with the trade's units added.

    ``t`` is the metric tonne, ``ton`` the short ton, ``gal`` the US gallon.
    """
    import pint

    ureg: pint.UnitRegistry[Any] = pint.UnitRegistry(
        autoconvert_offset_to_baseunit=True, cache_folder=None
    )
    for line in (
        "gpm = gallon / minute",
        "gpd = gallon / day",
        "MGD = 1e6 * gallon / day = mgd",
        # Speeds of machines are turns in a time: 60 rpm are 1 1/s, not 6.28 rad/s.
        "turn = 1 = _ = revolution = rev = cycle",
        "revolutions_per_minute = 1 / minute = rpm",
        "person = []",
        "currency = []",
    ):
        ureg.define(line)
    return ureg


def to_si(value: float | FloatArray, unit: str, si_unit: str) -> float | FloatArray:
    """Number in ``unit`` expressed in ``si_unit``.

    Raises
    ------
    QuantityError
        If the unit is unknown or measures something else.
    """
    return _convert(value, unit, si_unit)


def from_si(value: float | FloatArray, si_unit: str, unit: str) -> float | FloatArray:
    """Number in ``si_unit`` expressed in ``unit``.

    Raises
    ------
    QuantityError
        If the unit is unknown or measures something else.
    """
    return _convert(value, si_unit, unit)


@cache
def _line(have: str, want: str) -> tuple[float, float]:
    """Slope and offset of a conversion: ready from the table, else worked out."""
    key = f"{have}|{want}"
    if key not in _ready():
        return affine(have, want)
    ready = _ready()[key]
    if ready is None:
        raise QuantityError(f"{have!r} does not measure what {want!r} measures")
    return ready[0], ready[1]


@cache
def _ready() -> dict[str, list[float] | None]:
    """Conversions worked out beforehand: loading the registry costs more than a small study."""
    text = files("cakewright.quantities").joinpath("conversions.json").read_text(encoding="utf-8")
    table: dict[str, list[float] | None] = json.loads(text)
    return table


def affine(have: str, want: str) -> tuple[float, float]:
    """Slope and offset of a conversion by the registry: every unit here is affine in SI.

    Raises
    ------
    QuantityError
        If a unit is unknown or the two measure different things.
    """
    slope, offset, kind = _in_base(have)
    wanted_slope, wanted_offset, wanted_kind = _in_base(want)
    if kind != wanted_kind:
        raise QuantityError(f"{have!r} does not measure what {want!r} measures")
    return slope / wanted_slope, (offset - wanted_offset) / wanted_slope


_Kind = tuple[tuple[str, float], ...]


def _in_base(text: str) -> tuple[float, float, _Kind]:
    """Slope and offset into base units, and the dimensions, of a written unit."""
    terms = parse_unit(text)
    if terms.single:
        return _named(terms.single, text)
    slope, kinds = terms.factor, dict[str, float]()
    for name, power in terms.powers.items():
        one, _, dimensions = _named(name, text)
        try:
            slope *= one**power
        except OverflowError:
            raise QuantityError(f"{text!r} is beyond any unit") from None
        for dimension, exponent in dimensions:
            kinds[dimension] = kinds.get(dimension, 0.0) + exponent * power
    if not 0.0 < slope < math.inf:
        raise QuantityError(f"{text!r} cannot be read as a unit")
    return slope, 0.0, _kind(kinds)


@lru_cache(maxsize=4096)
def _defined(name: str) -> bool:
    """Whether the library knows a name; it looks long for one that it does not."""
    return name in registry()


@cache
def _named(name: str, text: str) -> tuple[float, float, _Kind]:
    """One named unit, as the registry defines it."""
    import pint

    ureg = registry()
    try:
        if not _defined(name):
            raise QuantityError(f"{text!r} is not a unit known here ({name!r} is not defined)")
        zero, one = (ureg.Quantity(x, name).to_base_units() for x in (0.0, 1.0))
        powers = {str(key): float(power) for key, power in dict(one.dimensionality).items()}  # type: ignore[arg-type]
    except (pint.PintError, ValueError, TypeError, AttributeError, KeyError) as error:
        raise QuantityError(f"{text!r} cannot be read as a unit ({error})") from None
    slope, offset = float(one.magnitude - zero.magnitude), float(zero.magnitude)
    return slope, offset, _kind(powers)


def _kind(dimensions: Mapping[str, float]) -> _Kind:
    rounded = ((name, round(power, _PLACES)) for name, power in dimensions.items())
    return tuple(sorted((name, power) for name, power in rounded if power))


def _convert(value: float | FloatArray, have: str, want: str) -> float | FloatArray:
    if have == want:
        return value
    slope, offset = _line(have, want)
    if np.ndim(value):
        return np.asarray(value, dtype=float) * slope + offset
    return float(value) * slope + offset
