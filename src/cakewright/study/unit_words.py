"""Words round a number and behind it: units, currencies, marks, in the languages people write."""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import cache, lru_cache
from typing import Any

from cakewright.errors import QuantityError
from cakewright.quantities import to_si
from cakewright.quantities.tables import packaged_table
from cakewright.quantities.unit_text import parse_unit

__all__ = [
    "Unit",
    "measures_words",
    "plain_currency",
    "range_words",
    "spoken",
    "unit_as_meant",
    "words",
]

_CODE = re.compile(r"(?<![A-Za-z])([A-Z]{3})(?![A-Za-z])")
_MASS = r"(?<![^\W\d_])(kg|t|g|mg|lbs?|tons?|tonnes?|Mg)"


@dataclass(frozen=True, slots=True)
class Unit:
    """A unit the library takes, and what was read into the one written."""

    text: str
    remarks: tuple[str, ...] = ()


@cache
def words() -> dict[str, Any]:
    """The table of words."""
    return packaged_table("cakewright.study", "words.toml")


@cache
def _spoken(kind: str, *, behind: bool) -> re.Pattern[str]:
    listed = sorted(words()["around"][kind], key=len, reverse=True)
    one = "|".join(
        re.escape(word) + (r"(?![^\W\d_])" if word[-1:].isalpha() else "") for word in listed
    )
    if behind:
        return re.compile(rf"^(?P<rest>.*?[\d.,])\s*(?P<word>{one})\s*$", re.IGNORECASE)
    return re.compile(rf"^\s*(?P<word>{one})\s*(?P<rest>.+)$", re.IGNORECASE)


def spoken(text: str, kind: str, *, behind: bool = False) -> tuple[str, str]:
    """A word of this kind before (or behind) a number, and the rest; empty where there is none."""
    match = _spoken(kind, behind=behind).match(text)
    return (match["word"], match["rest"]) if match else ("", text)


@cache
def range_words() -> re.Pattern[str]:
    """The word between two ends."""
    latin = [word for word in words()["around"]["to"] if word.isascii() or word == "à"]
    other = [word for word in words()["around"]["to"] if word not in latin]
    return re.compile(
        rf"\s+(?:{'|'.join(latin)})\s+(?=[\d.,])|\s*(?:{'|'.join(other)})\s*(?=\d)", re.IGNORECASE
    )


@lru_cache(maxsize=1024)
def plain_currency(unit: str, currency: str) -> str:
    """Unit with ``currency`` in the place of a code or sign of the study's own money.

    Raises
    ------
    QuantityError
        If the money is another one: no rate is known here.
    """
    for sign, codes in words()["currencies"].items():
        if sign in unit:
            unit = unit.replace(sign, currency if currency in codes else codes[0])
    for code in _CODE.findall(unit):
        if code != currency and not _known(code):
            wanted = f"; this study is in {currency}" if currency else ""
            raise QuantityError(f"currency {code} without a rate{wanted}")
    if re.fullmatch("[A-Z]{3}", currency):
        for short, times in words()["multiples"].items():
            unit = re.sub(rf"(?<![A-Za-z]){short}{currency}(?![A-Za-z])", f"{times} currency", unit)
        unit = re.sub(rf"(?<![A-Za-z]){currency}(?![A-Za-z])", "currency", unit)
    return unit


def _known(code: str) -> bool:
    """Whether three capitals are a unit rather than money."""
    return code in ("MGD",) or code.casefold() in _aliases()


@cache
def _aliases() -> dict[str, str]:
    return {word.casefold(): unit for unit, said in words()["units"].items() for word in said}


@cache
def _marks() -> tuple[tuple[re.Pattern[str], str, str], ...]:
    marks = words()["marks"]

    def one(kind: str) -> str:
        return "|".join(re.escape(w) for w in sorted(marks[kind], key=len, reverse=True))

    end = r"(?![^\W_])"
    return (
        (re.compile(rf"\b(?:{one('operating_day')}){end}", re.IGNORECASE), "d",
         "per operating day, taken as per producing day"),
        (re.compile(rf"{_MASS}[\s_-]?(?:{one('active')}){end}"), r"\1", "on active substance"),
        (re.compile(rf"%[\s_-]?\(?(?:{one('dry')}){end}\)?"), "%", ""),
        (re.compile(rf"{_MASS}[\s_-]?\(?(?:{one('dry')}){end}\)?"), r"\1", "on dry solids"),
    )  # fmt: skip


@lru_cache(maxsize=2048)
def unit_as_meant(written: str, kinds: tuple[str, ...]) -> Unit:
    """The unit a person means, for one of these kinds of quantity.

    Raises
    ------
    QuantityError
        In words: what the unit is, and what is wanted here.
    """
    if _fits(written, kinds):
        return Unit(written)
    text, remarks = written, []
    for pattern, plain, remark in _marks():
        text, count = pattern.subn(plain, text)
        if count and remark:
            remarks.append(remark)
    for candidate in (text, _renamed(text)):
        if candidate and _fits(candidate, kinds):
            return Unit(candidate, tuple(remarks))
    raise QuantityError(_mismatch(written, text, kinds))


def _renamed(text: str) -> str:
    """Every name as the library writes it; empty where the text is no unit."""
    try:
        return parse_unit(text, lambda name: _aliases().get(name.casefold(), name)).text
    except QuantityError:
        return ""


def _fits(unit: str, kinds: tuple[str, ...]) -> bool:
    for kind in kinds:
        try:
            to_si(1.0, unit, kind)
        except QuantityError:
            continue
        return True
    return False


def _mismatch(written: str, text: str, kinds: tuple[str, ...]) -> str:
    wanted = measures_words(kinds[0])
    for candidate in (text, _renamed(text)):
        if not candidate or not _is_unit(candidate, kinds[0]):
            continue
        for kind, said in words()["kinds"].items():
            if _fits(candidate, (kind,)):
                return f"{written!r} is {said}; here belongs {wanted}"
        return f"{written!r} does not measure what belongs here: {wanted}"
    return f"{written!r} is not a unit known here; here belongs {wanted}"


def _is_unit(text: str, kind: str) -> bool:
    try:
        to_si(1.0, text, kind)
    except QuantityError as error:
        return "does not measure" in str(error)
    return True


def measures_words(si_unit: str) -> str:
    """What a unit measures, for a person."""
    return str(words()["kinds"].get(si_unit, f"a quantity of the kind of {si_unit}"))
