"""Findings as JSON for scripts: every number's key ends in its unit, nothing is NaN."""

from __future__ import annotations

import json
import math
from collections.abc import Mapping
from dataclasses import dataclass, fields, is_dataclass
from enum import Enum
from typing import Any

import numpy as np
from numpy.typing import NDArray

from cakewright.errors import OutputError
from cakewright.jobs.findings import Findings
from cakewright.quantities import CalculationLine, Figure, Given, from_si, house_name, house_names
from cakewright.quantities.lines import Term

__all__ = ["SCHEMA_VERSION", "findings_json", "unit_slug"]

SCHEMA_VERSION = 1
_LONGEST = 400
_SLUGS = {"%": "percent", "°C": "degC", "": "", "1": ""}


def findings_json(findings: Findings) -> str:
    """Findings as JSON text, always in the same order.

    A quantity with a house name stands in its shown unit, named at the end of the key; a number
    without one is SI. Samples are given as point and band; null marks the places of a map where
    a machine cannot run.

    Raises
    ------
    OutputError
        If a number is not finite; names its place.
    """
    data = {"schema": "cakewright findings", "schema_version": SCHEMA_VERSION}
    data |= _Plain(findings.samples + 1).record(findings, "findings")
    return json.dumps(data, ensure_ascii=False, allow_nan=False, indent=1) + "\n"


def unit_slug(unit: str) -> str:
    """Unit as the end of a key: ``m3/h`` becomes ``m3_h``.

    >>> unit_slug("kWh/t"), unit_slug("%"), unit_slug("1")
    ('kWh_t', 'percent', '')
    """
    if unit in _SLUGS:
        return _SLUGS[unit]
    text = unit.replace("1/", "per_").replace("/", "_").replace("%", "percent")
    return "".join(char if char.isalnum() or char == "_" else "" for char in text)


def _key(word: str, name: str) -> str:
    slug = unit_slug(house_name(name).shown)
    return f"{word}_{slug}" if slug else word


def _number(value: float, where: str) -> float:
    if not math.isfinite(value):
        raise OutputError(f"{where}: got {value}; only finite numbers are written to findings.json")
    return float(value)


def _shown(name: str, value: float, where: str) -> float:
    entry = house_name(name)
    return _number(float(from_si(value, entry.unit, entry.shown)), where)


def _known(name: object) -> bool:
    # asked for hundreds of keys that are no names: the error would look for the nearest one
    return str(name) in house_names()


@dataclass(frozen=True)
class _Plain:
    """Turns any part of the findings into plain data; ``cases`` is the length of samples.

    Typed Any because the parts that later rooms add are open-ended.
    """

    cases: int

    def of(self, thing: Any, where: str) -> Any:
        """One thing as plain data."""
        match thing:
            case Enum():
                return thing.value
            case None | bool() | int() | str():
                return thing
            case float() | np.floating():
                return _number(float(thing), where)
            case np.integer() | np.bool_():
                return thing.item()
            case np.ndarray():
                return self.array(thing, where)
            case Figure():
                return self.figure(thing, where)
            case Given():
                return self.given(thing, where)
            case CalculationLine():
                return self.line(thing, where)
            case Term():
                return self.term(thing, where)
            case Mapping():
                return {str(key): self.of(v, f"{where}.{key}") for key, v in thing.items()}
            case set() | frozenset():
                # Each process has an order of its own for a set of texts.
                return self.of(sorted(thing, key=str), where)
            case list() | tuple():
                return [self.of(value, f"{where}[{at}]") for at, value in enumerate(thing)]
        if is_dataclass(thing) and not isinstance(thing, type):
            return self.record(thing, where)
        return str(thing)

    def array(self, values: NDArray[Any], where: str) -> Any:
        """Samples as point and band, a map row by row, a long course thinned, else a list."""
        if values.ndim > 1:
            return [[self.place(v) for v in row] for row in values.reshape(len(values), -1)]
        samples = values.size == self.cases and np.issubdtype(values.dtype, np.floating)
        if values.size > _LONGEST and not samples:
            step = -(-values.size // _LONGEST)
            return {"every": step, "values": self.of(values[::step].tolist(), where)}
        if not samples or self.cases < 2:
            return self.of(values.tolist(), where)
        low, middle, high = np.quantile(values[1:], (0.1, 0.5, 0.9))
        point = {"point": values[0], "p10": low, "p50": middle, "p90": high}
        found: dict[str, Any] = {k: _number(float(v), where) for k, v in point.items()}
        return found | {"cases": self.cases}

    def place(self, value: Any) -> Any:
        """One place of a map."""
        plain = value.item()
        return None if isinstance(plain, float) and not math.isfinite(plain) else plain

    def figure(self, figure: Figure, where: str) -> dict[str, Any]:
        """A result with its band."""
        found: dict[str, Any] = {"name": figure.name}
        if figure.exists:
            band = figure.band
            ends = {"point": figure.point, "p10": band.p10, "p50": band.p50, "p90": band.p90}
            for word, value in ends.items():
                found[_key(word, figure.name)] = _shown(figure.name, value, f"{where}.{word}")
        return found | {
            "unit": house_name(figure.name).shown,
            "on": house_name(figure.name).on,
            "cases": int(figure.samples.size),
            "basis": figure.basis.value,
            "mark": figure.mark.value,
            "source": figure.source,
            "note": figure.note,
        }

    def given(self, given: Given, where: str) -> dict[str, Any]:
        """A value that went in."""
        found: dict[str, Any] = {"name": given.name}
        for word in ("value", "low", "high"):
            value = getattr(given, word)
            if value is not None:
                found[_key(word, given.name)] = _shown(given.name, value, f"{where}.{word}")
        rest = ("basis", "mark", "source", "note", "default", "where", "as_written")
        return found | {word: self.of(getattr(given, word), where) for word in rest}

    def term(self, term: Term, where: str) -> dict[str, Any]:
        """A number put into a formula."""
        value = _shown(term.name, term.value, where)
        found = {"symbol": term.symbol, "name": term.name, _key("value", term.name): value}
        return found | {"basis": term.basis}

    def line(self, line: CalculationLine, where: str) -> dict[str, Any]:
        """A calculation line."""
        found: dict[str, Any] = {}
        for field in fields(line):
            value = getattr(line, field.name)
            if field.name == "result":
                found[_key("result", line.name)] = _shown(line.name, value, where)
            else:
                found[field.name] = self.of(value, f"{where}.{field.name}")
        return found

    def record(self, thing: Any, where: str) -> dict[str, Any]:
        """Any other dataclass, field by field."""
        found: dict[str, Any] = {}
        names = {field.name for field in fields(thing)}
        # A bare number beside a house name is a value of that quantity (a rule's value and limit).
        measured = {"value", "limit"} if "name" in names and _known(thing.name) else set()
        for field in fields(thing):
            if not field.metadata.get("json", True):
                continue
            value = getattr(thing, field.name)
            if field.name in measured and isinstance(value, float):
                key = _key(field.name, thing.name)
                found[key] = _shown(thing.name, value, f"{where}.{field.name}")
            else:
                found[field.name] = self.of(value, f"{where}.{field.name}")
        return found
