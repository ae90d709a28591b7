"""Numbers as people read them: shown units, sensible digits, bands."""

from __future__ import annotations

import math
from collections.abc import Iterable
from enum import StrEnum

import numpy as np

from cakewright.quantities import Band, FloatArray, from_si, house_name

__all__ = [
    "Units",
    "band_text",
    "decimals_for",
    "number_text",
    "plain_text",
    "power_text",
    "quantity_text",
    "shown",
    "shown_unit",
    "unit_text",
]


class Units(StrEnum):
    """Which units a person reads."""

    SI = "si"
    US = "us"


NARROW_SPACE = "\u202f"
MINUS = "\u2212"
_SUPERSCRIPTS = str.maketrans("0123456789-", "⁰¹²³⁴⁵⁶⁷⁸⁹⁻")
_UNIT_WORDS = {"degC": "°C", "degF": "°F", "rpm": "1/min", "-": "", "kg/kg": "kg/kg"}
_BIGGEST_PLAIN = 4


def shown_unit(name: str, units: Units) -> str:
    """Unit of a house name as the name list writes it."""
    entry = house_name(name)
    return entry.shown if units is Units.SI else entry.shown_us


def shown(name: str, value: float, units: Units) -> float:
    """SI value in the unit a person reads."""
    return float(from_si(value, house_name(name).unit, shown_unit(name, units)))


def shown_array(name: str, values: FloatArray, units: Units) -> FloatArray:
    """SI values in the unit a person reads."""
    return np.asarray(from_si(values, house_name(name).unit, shown_unit(name, units)))


def unit_text(unit: str, currency: str = "") -> str:
    """Unit with real signs: ``m3/h`` becomes m³/h, ``currency`` the study's own."""
    if unit in ("1", ""):
        return ""
    text = _UNIT_WORDS.get(unit, unit)
    text = text.replace("currency", currency or "currency").replace("**", "").replace("^", "")
    text = text.replace("*", "·").replace("degC", "°C").replace("degF", "°F")
    return "".join(
        char.translate(_SUPERSCRIPTS) if _is_power(text, at) else char
        for at, char in enumerate(text)
    )


def _is_power(text: str, at: int) -> bool:
    char = text[at]
    before = text[at - 1] if at else ""
    if char == "-":
        return before.isalpha() and at + 1 < len(text) and text[at + 1].isdigit()
    return char.isdigit() and (before.isalpha() or before == "-")


def decimals_for(name: str, values: Iterable[float], units: Units) -> int:
    """Digits after the point for a set of SI values shown together.

    The name list gives the usual number; small values get as many as show two digits of the
    largest, values in the thousands get none.
    """
    entry = house_name(name)
    usual = entry.decimals if units is Units.SI else entry.decimals_us
    sizes = [abs(shown(name, value, units)) for value in values if math.isfinite(value)]
    largest = max(sizes, default=0.0)
    if largest == 0.0:
        return usual
    if largest >= 10**_BIGGEST_PLAIN / 10:
        return min(usual, 0)
    needed = 1 - math.floor(math.log10(largest))
    return max(usual, min(needed, 8))


def number_text(value: float, decimals: int) -> str:
    """Number with a true minus and thin spaces between thousands from five figures on.

    Fewer than no decimals round to tens, hundreds, thousands.

    >>> number_text(-12345.6, 0)
    '−12\\u202f346'
    """
    if value != 0 and decimals > 5:
        return power_text(value, 2)
    size = abs(round(value, decimals)) if decimals < 0 else abs(value)
    text = f"{size:.{max(decimals, 0)}f}"
    whole, point, rest = text.partition(".")
    if len(whole) > _BIGGEST_PLAIN:
        whole = f"{int(whole):,}".replace(",", NARROW_SPACE)
    negative = value < 0 and any(char not in "0." for char in text)
    return (MINUS if negative else "") + whole + point + rest


def power_text(value: float, digits: int) -> str:
    """Number as a lead of some digits times a power of ten.

    >>> power_text(0.00069444, 4)
    '6.944·10⁻⁴'
    """
    lead, _, power = f"{value:.{digits - 1}e}".partition("e")
    raised = str(int(power)).translate(_SUPERSCRIPTS)
    return f"{lead}·10{raised}".replace("-", MINUS)


def plain_text(value: float, digits: int = 4) -> str:
    """Number with some significant digits, as a power of ten when very small or large."""
    if value == 0:
        return "0"
    if 1e-3 <= abs(value) < 1e5:
        return number_text(value, max(0, digits - 1 - math.floor(math.log10(abs(value)))))
    return power_text(value, digits)


def band_text(name: str, band: Band, units: Units, decimals: int | None = None) -> str:
    """The 10 % and 90 % points as one text, empty where they are the same."""
    if not band.p90 > band.p10:
        return ""
    digits = decimals_for(name, (band.p10, band.p90), units) if decimals is None else decimals
    low, high = (number_text(shown(name, v, units), digits) for v in (band.p10, band.p90))
    if low == high:
        return f"± < {number_text(0.5 * 10.0**-digits, digits + 1)}"
    return f"{low}–{high}" if MINUS not in low + high else f"{low} to {high}"


def quantity_text(name: str, value: float, units: Units, currency: str = "") -> str:
    """One value with its unit, ready for a sentence."""
    text = number_text(shown(name, value, units), decimals_for(name, (value,), units))
    unit = unit_text(shown_unit(name, units), currency)
    return f"{text}{NARROW_SPACE}{unit}" if unit else text
