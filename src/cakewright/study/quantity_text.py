"""Quantities as people write them: ``"48 m3/d"``, ``"18 % ± 2 %"``, ``"16 .. 18 .. 22 %"``."""

from __future__ import annotations

import math
import re
from dataclasses import dataclass

from cakewright.errors import QuantityError
from cakewright.quantities import to_si

__all__ = ["Spread", "parse_quantity"]

_NUMBER = r"[+-]?(?:\d+(?:\.\d*)?|\.\d+)(?:[eE][+-]?\d+)?"
_ONE = re.compile(rf"^\s*({_NUMBER})\s*(\S.*?)?\s*$")
_PLUS_MINUS = re.compile(r"±|\+/-|\+-")
_CURRENCY = re.compile(r"(?<![A-Za-z])([A-Z]{3})(?![A-Za-z])")
_DECIMAL_COMMA = re.compile(r"\d,\d")
# A density to read "8000 mg/L" as a mass share; exact to 0.3 % of the value below 10 % solids.
_SOLIDS_DENSITY, _WATER_DENSITY = 1400.0, 1000.0
_DAY = 86400.0


@dataclass(frozen=True, slots=True)
class Spread:
    """A value in SI with its 10 % and 90 % points (None when no spread was written)."""

    value: float
    low: float | None = None
    high: float | None = None


def parse_quantity(text: str, si_unit: str, *, also: str = "", currency: str = "") -> Spread:
    """Value and spread of a written quantity, in ``si_unit``.

    ``±`` and ``..`` mean: with eight chances in ten the value lies inside. ``also`` accepts a
    second dimension (``per_day``, ``as_slurry``); ``currency`` is the code prices may carry.

    Raises
    ------
    QuantityError
        If the text has no number, no unit, an unknown unit, or a unit of the wrong kind.
    """
    if _DECIMAL_COMMA.search(text):
        raise QuantityError(f"{text!r} has a comma in a number; write 0.8, not 0,8 (and no 1,000)")
    numbers, unit = _split(text)
    unit = _plain_currency(unit, currency)
    values = [_si(number, unit, si_unit, also) for number in numbers]
    if len(values) == 1:
        return Spread(values[0])
    low, middle, high = values
    if not low <= middle <= high:
        raise QuantityError(f"{text!r}: low, typical and high must rise; got them out of order")
    return Spread(middle, low, high)


def _split(text: str) -> tuple[list[float], str]:
    """Numbers (one, or low, typical, high) and the unit they share."""
    if ".." in text:
        parts = text.split("..")
        if len(parts) != 3:
            raise QuantityError(f"{text!r}: write low .. typical .. high")
        return _shared_unit([_number_unit(part) for part in parts], text)
    halves = _PLUS_MINUS.split(text)
    if len(halves) > 2:
        raise QuantityError(f"{text!r}: one ± at most")
    pairs = [_number_unit(half) for half in halves]
    numbers, unit = _shared_unit(pairs, text)
    if len(numbers) == 1:
        return numbers, unit
    middle, half_width = numbers
    if half_width < 0:
        raise QuantityError(f"{text!r}: the half-width after ± cannot be negative")
    return [middle - half_width, middle, middle + half_width], unit


def _number_unit(text: str) -> tuple[float, str]:
    match = _ONE.match(text)
    if not match:
        raise QuantityError(f"{text.strip()!r} is not a number with a unit (like '48 m3/d')")
    number = float(match.group(1))
    if not math.isfinite(number):
        raise QuantityError(f"{text.strip()!r} is not a finite number")
    return number, (match.group(2) or "").strip()


def _shared_unit(pairs: list[tuple[float, str]], text: str) -> tuple[list[float], str]:
    units = {unit for _, unit in pairs if unit}
    if len(units) > 1:
        raise QuantityError(f"{text!r} mixes the units {' and '.join(sorted(units))}")
    return [number for number, _ in pairs], units.pop() if units else ""


def _plain_currency(unit: str, currency: str) -> str:
    for code in _CURRENCY.findall(unit):
        if code == "MGD":
            continue
        if code != currency:
            wanted = f"; this study is in {currency}" if currency else ""
            raise QuantityError(f"currency {code} without a rate{wanted}")
        unit = re.sub(rf"\b{code}\b", "currency", unit)
    return unit


def _si(number: float, unit: str, si_unit: str, also: str) -> float:
    if not unit and si_unit != "1":
        raise QuantityError(f"{number:g} has no unit; write one of the kind of {si_unit!r}")
    if also == "per_day" and _measures(unit, "s"):
        return float(to_si(number, unit, "s")) / _DAY
    if also == "as_slurry" and _measures(unit, "kg/m3"):
        per_volume = float(to_si(number, unit, "kg/m3"))
        return per_volume / (_WATER_DENSITY + per_volume * (1 - _WATER_DENSITY / _SOLIDS_DENSITY))
    return float(to_si(number, unit or "1", si_unit))


def _measures(unit: str, si_unit: str) -> bool:
    try:
        to_si(1.0, unit or "1", si_unit)
    except QuantityError:
        return False
    return True
