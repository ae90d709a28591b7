"""Units as people write them, by a bounded grammar: names, whole or short powers, no arithmetic.

``unit = factor {("*" | "·" | "." | " " | "/" | "per") factor}``,
``factor = name [power] | "(" unit ")" | plain number``. The unit library is asked about single
names only; it never evaluates a text.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Callable
from dataclasses import dataclass, field

from cakewright.errors import QuantityError

__all__ = ["LONGEST_UNIT", "UnitTerms", "parse_unit", "squeezed"]

LONGEST_UNIT = 60
_MOST_FACTORS, _MOST_DEPTH, _MOST_POWER, _LARGEST_NUMBER = 12, 3, 9.0, 1e7
# Names that hold a digit of their own; all other digits behind a name are its power.
_WITH_DIGITS = "inH2O|ftH2O|cmH2O|mmH2O|mH2O"
_TOKEN = re.compile(
    rf"\s*(?:(?P<name>{_WITH_DIGITS}|(?:(?!per\b)[^\W\d]|[%‰°$€£¥])+)"
    r"(?P<power>\s*(?:\*\*|\^)\s*[+-]?\d(?:\.\d{0,8})?|-?\d{1,2}(?![\d.eE]))?"
    r"|(?P<number>\d{1,8}(?:\.\d{1,8})?(?:[eE]\d)?)"
    r"|(?P<sign>[*/·×().])|(?P<per>per\b))"
)
_PLAIN = {"%": "percent", "‰": "permille", "-": "1", "kg/kg": "1"}


@dataclass
class UnitTerms:
    """Powers of named units and a plain factor."""

    powers: dict[str, float] = field(default_factory=dict)
    factor: float = 1.0

    @property
    def single(self) -> str:
        """The one name that stands alone, empty where there is more."""
        (name, power), *rest = list(self.powers.items()) or [("", 0)]
        return name if not rest and power == 1 and self.factor == 1.0 else ""

    @property
    def text(self) -> str:
        """The unit in its plain form, like m3/d or kg/(m2*h)."""
        over = [_power_text(name, power) for name, power in self.powers.items() if power > 0]
        under = [_power_text(name, -power) for name, power in self.powers.items() if power < 0]
        if self.factor != 1.0:
            factor, parts = (self.factor, over) if self.factor > 1 else (1 / self.factor, under)
            parts.insert(0, f"{factor:g}")
        below = under[0] if len(under) == 1 else f"({'*'.join(under)})"
        return ("*".join(over) or "1") + (f"/{below}" if under else "")


def _bounded(factor: float) -> float:
    if not 1e-60 < factor < 1e60:
        raise QuantityError(f"a factor of {factor:g} is no part of a unit")
    return factor


def _add(powers: dict[str, float], name: str, power: float) -> None:
    powers[name] = powers.get(name, 0.0) + power


def _power_text(name: str, power: float) -> str:
    name = {"percent": "%"}.get(name, name)
    return name if power == 1 else f"{name}{power:g}" if power == int(power) else f"{name}**{power}"


def squeezed(text: str) -> str:
    """Text with full-width digits, raised powers and joined signs in their plain form."""
    return unicodedata.normalize("NFKC", text).strip()


def parse_unit(text: str, rename: Callable[[str], str] = str) -> UnitTerms:
    """Powers of the named units in a text; ``rename`` gives the name behind what people write.

    Raises
    ------
    QuantityError
        If it is longer, deeper or stranger than a unit is.
    """
    plain = squeezed(text)
    plain = _PLAIN.get(plain, plain)
    if len(plain) > LONGEST_UNIT:
        raise QuantityError(f"{plain[:40]!r}... is too long for a unit (at most {LONGEST_UNIT})")
    if not plain:
        raise QuantityError("'' is not a unit")
    return _Parser(plain, rename).whole()


class _Parser:
    def __init__(self, text: str, renamed: Callable[[str], str]) -> None:
        self.text, self.renamed = text, renamed
        self.at = self.factors = self.depth = 0

    def whole(self) -> UnitTerms:
        found = self._product()
        if self.text[self.at :].strip():
            raise self._bad()
        return found

    def _bad(self) -> QuantityError:
        return QuantityError(f"{self.text!r} cannot be read as a unit")

    def _peek(self) -> re.Match[str] | None:
        return _TOKEN.match(self.text, self.at)

    def _product(self) -> UnitTerms:
        found = UnitTerms()
        over = 1
        wanted = True
        while (token := self._peek()) is not None:
            sign = token["sign"] or ("/" if token["per"] else "")
            if sign == ")":
                break
            if sign and sign != "(":
                if wanted:
                    raise self._bad()
                self.at, over, wanted = token.end(), -1 if sign == "/" else 1, True
                continue
            self._take(found, token, over)
            # A number and the name behind it are one: lb/1000 gal.
            over, wanted = over if token["number"] else 1, False
        if wanted:
            raise self._bad()
        return found

    def _take(self, found: UnitTerms, token: re.Match[str], over: int) -> None:
        self.factors += 1
        if self.factors > _MOST_FACTORS:
            raise QuantityError(f"{self.text!r} has more than {_MOST_FACTORS} parts")
        self.at = token.end()
        if token["sign"] == "(":
            inner = self._inside()
            for name, power in inner.powers.items():
                _add(found.powers, name, over * power)
            found.factor = _bounded(found.factor * inner.factor**over)
        elif token["number"]:
            number = float(token["number"])
            if not 0 < number <= _LARGEST_NUMBER:
                raise self._bad()
            found.factor = _bounded(found.factor * number**over)
        else:
            name = self.renamed(token["name"])
            name = _PLAIN.get(name, name)
            if name != "1":
                _add(found.powers, name, over * self._power(token["power"]))

    def _inside(self) -> UnitTerms:
        self.depth += 1
        if self.depth > _MOST_DEPTH:
            raise self._bad()
        inner = self._product()
        token = self._peek()
        if token is None or token["sign"] != ")":
            raise self._bad()
        self.at, self.depth = token.end(), self.depth - 1
        return inner

    def _power(self, text: str | None) -> float:
        if not text:
            return 1
        power = float(text.strip().lstrip("*^").strip())
        if not 0 < abs(power) <= _MOST_POWER:
            raise QuantityError(f"{self.text!r}: a power of {power:g} is no part of a unit")
        return power
