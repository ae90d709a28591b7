"""The one door between units: text or numbers in, coherent SI out, and back."""

from __future__ import annotations

import json
import re
import tokenize
from functools import cache
from importlib.resources import files
from typing import TYPE_CHECKING, Any

import numpy as np

from cakewright.errors import QuantityError
from cakewright.quantities.figure import FloatArray

if TYPE_CHECKING:
    import pint

__all__ = ["affine", "from_si", "registry", "to_si"]

# "1" in the name list means a plain ratio; pint calls it dimensionless.
# What pint lets through when a unit is not even an expression.
_SYNTAX = (SyntaxError, AssertionError, tokenize.TokenError, ZeroDivisionError, OverflowError)
_RATIO = {"1": "dimensionless", "-": "dimensionless", "kg/kg": "dimensionless"}


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


def _unit(text: str) -> str:
    text = _RATIO.get(text.strip(), text.strip())
    text = text.replace("%", "percent").replace("³", "3").replace("²", "2").replace("·", "*")
    return re.sub(r"([A-Za-z])(-?\d)", r"\1**\2", text)


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
    import pint

    ureg = registry()
    try:
        at = [float(ureg.Quantity(x, _unit(have)).to(_unit(want)).magnitude) for x in (0.0, 1.0)]
    except pint.UndefinedUnitError as error:
        raise QuantityError(f"{have!r} is not a unit known here ({error})") from None
    except pint.DimensionalityError:
        raise QuantityError(f"{have!r} does not measure what {want!r} measures") from None
    except (pint.PintError, ValueError, TypeError, AttributeError, *_SYNTAX) as error:
        raise QuantityError(f"{have!r} cannot be read as a unit ({error})") from None
    return at[1] - at[0], at[0]


def _convert(value: float | FloatArray, have: str, want: str) -> float | FloatArray:
    if have == want:
        return value
    slope, offset = _line(have, want)
    if np.ndim(value):
        return np.asarray(value, dtype=float) * slope + offset
    return float(value) * slope + offset
