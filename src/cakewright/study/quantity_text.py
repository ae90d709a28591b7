"""Quantities as people write them, by a bounded grammar: no arithmetic, at most 120 characters.

``48 m3/d``, ``30-40 m3/d``, ``about 35``, ``~35``, ``120 m3/d ± 15 %``, ``18 % ± 2 points``,
``16 .. 18 .. 22 %``, ``< 200 mg/L``, ``€ 0.21/kWh``, ``6 kg/t DS``; a bare number takes the unit of
its field. What can be read two ways is asked about, never guessed.
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass, replace

from cakewright.errors import QuantityError
from cakewright.quantities import to_si
from cakewright.quantities.constants import DAY
from cakewright.quantities.unit_text import squeezed
from cakewright.study.number_text import NUMBER, Decimals, decimals_shown, number_in_text
from cakewright.study.unit_words import (
    Unit,
    measures_words,
    plain_currency,
    spoken,
    unit_as_meant,
)

__all__ = ["AmbiguousQuantityError", "Decimals", "Spread", "parse_quantity"]

LONGEST = 120
# A density to read "8000 mg/L" as a mass share; exact to 0.3 % of the value below 10 % solids.
_SOLIDS_DENSITY, _WATER_DENSITY = 1400.0, 1000.0
# "about": eight chances in ten within a tenth (judgement); "<": evenly from nothing to the limit.
_ABOUT, _BELOW = 0.10, (0.1, 0.5, 0.9)
_LARGEST, _SMALLEST = 1e25, 1e-25
# "18 % ± 2 %" are points; from this part of the value on it is asked which is meant.
_WIDE = 0.75

_NUMBERS = re.compile(NUMBER)
_PART = re.compile(rf"\s*(?P<number>{NUMBER})\s*(?P<unit>.*?)\s*$")
_PLUS_MINUS = re.compile(r"\s*(?:±|\+\s*/\s*-|\+-|\bplus[ /-]minus\b|\bplus or minus\b)\s*")
_DOTS = re.compile(r"\.{2,3}")
_DASH = re.compile(r"(?<=\d)\s*[–—〜~]\s*(?=[\d.,])|(?<=\d)-(?=\d)|(?<=\S)\s+[-–—]\s+(?=[\d.,])")
_BEFORE = re.compile(
    rf"(?P<sign>[^\d\s.,+-]\S*?|[A-Z]{{3}})\s*(?P<number>{NUMBER})\s*(?P<rest>.*)$"
)


@dataclass(frozen=True, slots=True)
class Spread:
    """A value in SI with its 10 % and 90 % points (None when no spread was written).

    ``understood`` says in plain units what was taken; ``remarks`` what was read into it.
    """

    value: float
    low: float | None = None
    high: float | None = None
    understood: str = ""
    remarks: tuple[str, ...] = ()


class AmbiguousQuantityError(QuantityError):
    """A text that can be read in two ways; ``readings`` are both."""

    def __init__(self, text: str, readings: tuple[Spread, ...]) -> None:
        self.readings = readings
        both = " or ".join(one.understood for one in readings)
        super().__init__(
            f"{text!r} can be read as {both}: write the one you mean like that (a study's "
            "`decimals` settles it for all its numbers)"
        )


@dataclass(frozen=True, slots=True)
class _Plain:
    """Numbers in the unit written: low, typical and high, or one."""

    numbers: tuple[float, ...]
    unit: str
    remarks: tuple[str, ...] = ()


def parse_quantity(
    text: str,
    si_unit: str,
    *,
    also: str = "",
    currency: str = "",
    bare: str = "",
    decimals: Decimals = Decimals.POINT,
) -> Spread:
    """Value and spread of a written quantity, in ``si_unit``.

    A spread means: with eight chances in ten the value lies inside. ``also`` accepts a second
    dimension (``per_day``, ``as_slurry``); ``currency`` is the code prices may carry; ``bare`` the
    unit of a number without one.

    Raises
    ------
    AmbiguousQuantityError
        If a point or comma can be read two ways and ``decimals`` does not say.
    QuantityError
        If the text has no number, an unknown unit, or a unit of the wrong kind.
    """
    if len(text) > LONGEST:
        raise QuantityError(f"{text[:40]!r}... is too long for a quantity (at most {LONGEST})")
    plain = squeezed(text).replace("\u2212", "-")
    shown = decimals_shown(_NUMBERS.findall(plain)) or Decimals.POINT
    styles = (Decimals.POINT, Decimals.COMMA) if shown is Decimals.ASK else (shown,)
    if shown is Decimals.ASK and decimals is not Decimals.ASK:
        styles = (decimals,)
    context = _Context(si_unit, also, currency, bare)
    found = [context.spread(plain, style) for style in styles]
    different = {one.value: one for one in found}
    if len(different) > 1:
        raise AmbiguousQuantityError(text, tuple(different.values()))
    return found[0]


@dataclass(frozen=True, slots=True)
class _Context:
    si_unit: str
    also: str
    currency: str
    bare: str

    def spread(self, text: str, style: Decimals) -> Spread:
        plain = _plain(text, style)
        unit = self._unit(plain.unit)
        values = [self._si(number, unit.text) for number in plain.numbers]
        remarks = plain.remarks + unit.remarks
        measured = (*plain.numbers, *values)
        if not all(x == 0 or _SMALLEST < abs(x) < _LARGEST for x in measured):
            raise QuantityError(f"{text!r} is beyond anything that is measured")
        shown = self._shown(plain.numbers, unit.text)
        if len(values) == 1:
            return Spread(values[0], understood=shown, remarks=remarks)
        low, middle, high = values
        return Spread(middle, low, high, shown, remarks)

    def _shown(self, numbers: tuple[float, ...], unit: str) -> str:
        unit = unit.replace("currency", self.currency or "EUR")
        times, _, rest = unit.partition(" ")
        if times.isdigit() and rest:
            numbers, unit = tuple(int(times) * number for number in numbers), rest
        words = [_digits(number) for number in numbers]
        end = f" {unit}" if unit not in ("", "1") else ""
        if len(words) == 1:
            return words[0] + end
        return f"{words[1]}{end} ({words[0]} to {words[2]})"

    def _unit(self, written: str) -> Unit:
        if not written:
            if not self.bare and self.si_unit != "1":
                raise QuantityError(f"no unit; write one: {measures_words(self.si_unit)}")
            return Unit(self.bare or "1")
        unit = plain_currency(written, self.currency)
        return unit_as_meant(unit, self._kinds())

    def _kinds(self) -> tuple[str, ...]:
        further = {"per_day": ("s",), "as_slurry": ("kg/m3",)}
        return (self.si_unit, *further.get(self.also, ()))

    def _si(self, number: float, unit: str) -> float:
        if self.also == "per_day" and _measures(unit, "s"):
            return float(to_si(number, unit, "s")) / DAY
        if self.also == "as_slurry" and _measures(unit, "kg/m3"):
            held = float(to_si(number, unit, "kg/m3"))
            return held / (_WATER_DENSITY + held * (1 - _WATER_DENSITY / _SOLIDS_DENSITY))
        return float(to_si(number, unit or "1", self.si_unit))


def _digits(number: float) -> str:
    text = f"{number:.6g}"
    return f"{number:.0f}" if "e" in text and abs(number) < 1e15 and number == int(number) else text


def _measures(unit: str, si_unit: str) -> bool:
    try:
        to_si(1.0, unit or "1", si_unit)
    except QuantityError:
        return False
    return True


def _plain(text: str, style: Decimals) -> _Plain:
    """Numbers and unit of a text, whatever way the spread is written."""
    word, rest = spoken(text, "about")
    if word:
        return _about(_plain(rest, style), word)
    word, rest = spoken(text, "below")
    if word:
        return _below(_single(rest, style), word)
    word, rest = spoken(text, "above")
    if word:
        raise QuantityError(f"{text!r} has no upper end; write a range, like '5 - 8'")
    if _DOTS.search(text):
        return _rising([_part(part, style) for part in _DOTS.split(text)], text)
    halves = _PLUS_MINUS.split(text)
    if len(halves) > 2:
        raise QuantityError(f"{text!r}: one ± at most")
    if len(halves) == 2:
        return _plus_minus(halves[0], halves[1], style, text)
    ends = _range_ends(text)
    if ends:
        return _rising([_part(part, style) for part in ends], text)
    return _single(text, style)


def _range_ends(text: str) -> list[str]:
    """The two ends of "30-40", "30 to 40", "between 30 and 40"; nothing where it is no range."""
    _, text = spoken(text, "between")
    ends = _DASH.split(text)
    if len(ends) == 1:
        ends = spoken_split(text)
    return ends if len(ends) == 2 else []


def spoken_split(text: str) -> list[str]:
    """Text cut at the word between the two ends of a range."""
    from cakewright.study.unit_words import range_words

    return range_words().split(text)


def _single(text: str, style: Decimals) -> _Plain:
    number, unit = _part(text, style)
    return _Plain((number,), unit)


def _part(text: str, style: Decimals) -> tuple[float, str]:
    match = _PART.match(text)
    if match is None:
        before = _BEFORE.match(text.strip())
        if before is None:
            raise QuantityError(f"{text.strip()!r} is not a number with a unit (like '48 m3/d')")
        # A currency may stand before its number: € 0.21/kWh.
        rest = before["rest"].strip()
        return number_in_text(before["number"], style), f"{before['sign']}{rest}"
    number = number_in_text(match["number"], style)
    if not math.isfinite(number):
        raise QuantityError(f"{text.strip()!r} is not a finite number")
    return number, match["unit"]


def _rising(parts: list[tuple[float, str]], text: str) -> _Plain:
    if len(parts) not in (2, 3):
        raise QuantityError(f"{text!r}: write low .. typical .. high, or low - high")
    unit = _shared_unit([unit for _, unit in parts], text)
    numbers = [number for number, _ in parts]
    if numbers != sorted(numbers):
        raise QuantityError(f"{text!r}: low, typical and high must rise; got them out of order")
    if len(numbers) == 2:
        low, high = numbers
        return _Plain((low, 0.5 * (low + high), high), unit, ("typical: the middle of the range",))
    return _Plain(tuple(numbers), unit)


def _shared_unit(units: list[str], text: str) -> str:
    found = {unit for unit in units if unit}
    if len(found) > 1:
        raise QuantityError(f"{text!r} mixes the units {' and '.join(sorted(found))}")
    return found.pop() if found else ""


def _plus_minus(main: str, half: str, style: Decimals, text: str) -> _Plain:
    middle, unit = _part(main, style)
    word, width_text = _width_kind(half)
    width, width_unit = _part(width_text, style)
    if width < 0:
        raise QuantityError(f"{text!r}: the half-width after ± cannot be negative")
    share = f"± {width:g} % of the value"
    if word == "relative" or (width_unit == "%" and unit not in ("", "%")):
        return _around(middle, middle * width / 100, unit, share)
    if word == "points":
        return _around(middle, width, unit or "%", "")
    if unit == width_unit == "%" and middle > 0 and width >= 5 and width >= _WIDE * middle:
        relative = _around(middle, middle * width / 100, "%", share)
        if width >= middle:
            # Points would leave nothing: a share of the value is meant.
            return relative
        raise QuantityError(
            f"{text!r} can be read as {middle - width:g} % to {middle + width:g} % or as "
            f"{relative.numbers[0]:.3g} % to {relative.numbers[2]:.3g} %: write '± {width:g} "
            f"points' or '± {width:g} % rel.'"
        )
    return _around(middle, width, _shared_unit([unit, width_unit], text), "")


def _width_kind(half: str) -> tuple[str, str]:
    """Whether the half-width says that it is points or a share of the value, and its number."""
    for kind in ("relative", "points"):
        rest = spoken(half, kind, behind=True)
        if rest[0]:
            return kind, rest[1]
    return "", half


def _around(middle: float, half: float, unit: str, remark: str) -> _Plain:
    numbers = (middle - abs(half), middle, middle + abs(half))
    return _Plain(numbers, unit, (remark,) if remark else ())


def _about(plain: _Plain, word: str) -> _Plain:
    if len(plain.numbers) > 1:
        return plain
    found = _around(plain.numbers[0], _ABOUT * plain.numbers[0], plain.unit, "")
    return replace(found, remarks=(f"{word!r} taken as ± {100 * _ABOUT:.0f} % (judgement)",))


def _below(plain: _Plain, word: str) -> _Plain:
    top = plain.numbers[0]
    if top <= 0:
        raise QuantityError(f"{word} {top:g}: nothing lies there")
    low, middle, high = (share * top for share in _BELOW)
    return _Plain((low, middle, high), plain.unit, (f"{word!r} taken as anywhere below",))
