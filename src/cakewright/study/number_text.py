"""Numbers as people write them; where a point or comma can be read two ways, both are told."""

from __future__ import annotations

import re
from enum import StrEnum

from cakewright.errors import QuantityError

__all__ = ["NUMBER", "Decimals", "decimals_shown", "number_in_text"]

NUMBER = (
    r"[+-]?(?:\d{1,3}(?:[ '’]\d{3})+(?!\d)(?:[.,]\d{1,15})?|\d[\d.,]{0,30}|[.,]\d{1,30})"
    r"(?:[eE][+-]?\d{1,3})?"
)
_SIGNED = re.compile(r"([+-]?)([\d.,]+)((?:[eE][+-]?\d{1,3})?)$")


class Decimals(StrEnum):
    """Which sign a person writes before the decimals; where they have not said, it is asked."""

    ASK = "ask"
    POINT = "point"
    COMMA = "comma"


def number_in_text(raw: str, decimals: Decimals) -> float:
    """Number of a text; a lone point or comma before three digits is read in the style given.

    Raises
    ------
    QuantityError
        If it is no number in any style.
    """
    match = _SIGNED.match(re.sub(r"[ '’]", "", raw))
    if match is None:
        raise QuantityError(f"{raw.strip()!r} is not a number")
    sign, digits, exponent = match.groups()
    whole, cents = _cut(digits, decimals, plain=not exponent)
    return float(f"{sign}{whole or '0'}.{cents or '0'}{exponent}")


def _cut(digits: str, decimals: Decimals, *, plain: bool) -> tuple[str, str]:
    """Digits before and behind the decimal sign."""
    signs = [sign for sign in digits if sign in ".,"]
    if not signs:
        return digits, ""
    last = signs[-1]
    if len(set(signs)) == 2:
        head, _, tail = digits.rpartition(last)
        if last in head:
            raise QuantityError(f"{digits!r} is not a number: two decimal signs")
        return _ungrouped(head, digits), tail
    if len(signs) > 1:
        return _ungrouped(digits, digits), ""
    head, _, tail = digits.partition(last)
    if plain and _two_ways(head, tail) and _style_of(last) is not decimals:
        return head + tail, ""
    return head, tail


def _two_ways(head: str, tail: str) -> bool:
    return len(tail) == 3 and 1 <= len(head) <= 3 and head[0] != "0"


def _style_of(sign: str) -> Decimals:
    return Decimals.POINT if sign == "." else Decimals.COMMA


def _ungrouped(head: str, whole: str) -> str:
    """Digits without their thousands signs, which stand before three digits each."""
    groups = re.split("[.,]", head)
    good = 1 <= len(groups[0]) <= 3 and all(len(group) == 3 for group in groups[1:])
    if not good or (len(groups) > 1 and groups[0][0] == "0"):
        raise QuantityError(f"{whole!r} is not a number: its points and commas do not fit")
    return "".join(groups)


def decimals_shown(raws: list[str]) -> Decimals | None:
    """The style that numbers show by themselves; None where no point or comma tells.

    ``ASK`` where one can be read two ways and no other number of the text tells.
    """
    asked = False
    for raw in raws:
        match = _SIGNED.match(re.sub(r"[ '’]", "", raw))
        digits = match[2] if match else ""
        signs = [sign for sign in digits if sign in ".,"]
        if not signs:
            continue
        grouped = re.search(r"[ '’]", raw.strip())
        if len(set(signs)) == 2 or len(signs) == 1:
            head, _, tail = digits.rpartition(signs[-1])
            two_ways = len(signs) == 1 and _two_ways(head, tail) and not grouped
            if two_ways and match and not match[3]:
                asked = True
                continue
            return _style_of(signs[-1])
        return Decimals.COMMA if signs[0] == "." else Decimals.POINT
    return Decimals.ASK if asked else None
