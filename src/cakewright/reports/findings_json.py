"""Findings as JSON for scripts: every number's key ends in its unit, nothing is NaN."""

from __future__ import annotations

import json
import math
from collections.abc import Mapping
from dataclasses import fields, is_dataclass
from enum import Enum
from typing import Any

import numpy as np

from cakewright.errors import OutputError, UnknownNameError
from cakewright.jobs.findings import Findings
from cakewright.quantities import CalculationLine, Figure, FloatArray, Given, from_si, house_name
from cakewright.quantities.lines import Term

__all__ = ["SCHEMA_VERSION", "findings_json", "unit_slug"]

SCHEMA_VERSION = 1
_MOST_LISTED = 64
_SLUGS = {"%": "percent", "°C": "degC", "": "", "1": ""}


def findings_json(findings: Findings) -> str:
    """Findings as JSON text, always in the same order.

    Raises
    ------
    OutputError
        If a number is not finite; names its place.
    """
    data = {"schema": "cakewright findings", "schema_version": SCHEMA_VERSION}
    data |= _plain(findings, "findings")
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


def _figure(figure: Figure, where: str) -> dict[str, Any]:
    found: dict[str, Any] = {"name": figure.name}
    if figure.exists:
        band = figure.band
        for word, value in (
            ("point", figure.point),
            ("p10", band.p10),
            ("p50", band.p50),
            ("p90", band.p90),
        ):
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


def _given(given: Given, where: str) -> dict[str, Any]:
    found: dict[str, Any] = {"name": given.name}
    for word in ("value", "low", "high"):
        value = getattr(given, word)
        if value is not None:
            found[_key(word, given.name)] = _shown(given.name, value, f"{where}.{word}")
    rest = ("basis", "mark", "source", "note", "default", "where", "as_written")
    return found | {word: _plain(getattr(given, word), where) for word in rest}


def _term(term: Term, where: str) -> dict[str, Any]:
    value = _shown(term.name, term.value, where)
    found = {"symbol": term.symbol, "name": term.name, _key("value", term.name): value}
    return found | {"basis": term.basis}


def _line(line: CalculationLine, where: str) -> dict[str, Any]:
    found: dict[str, Any] = {}
    for field in fields(line):
        value = getattr(line, field.name)
        if field.name == "result":
            found[_key("result", line.name)] = _shown(line.name, value, where)
        else:
            found[field.name] = _plain(value, f"{where}.{field.name}")
    return found


def _plain(thing: Any, where: str) -> Any:
    """Any part of the findings as plain data; Any because parts of later rooms are open-ended."""
    match thing:
        case None | bool() | int():
            return thing
        case Enum():
            return thing.value
        case str():
            return thing
        case float() | np.floating():
            return _number(float(thing), where)
        case np.integer():
            return int(thing)
        case np.ndarray():
            return _array(thing, where)
        case Figure():
            return _figure(thing, where)
        case Given():
            return _given(thing, where)
        case CalculationLine():
            return _line(thing, where)
        case Term():
            return _term(thing, where)
        case Mapping():
            return {str(key): _plain(value, f"{where}.{key}") for key, value in thing.items()}
        case list() | tuple() | set() | frozenset():
            return [_plain(value, f"{where}[{at}]") for at, value in enumerate(thing)]
    if is_dataclass(thing) and not isinstance(thing, type):
        return _record(thing, where)
    return str(thing)


def _array(values: FloatArray, where: str) -> Any:
    """Samples as point and band; any other array as it is."""
    if values.ndim != 1 or values.size <= _MOST_LISTED:
        return _plain(values.tolist(), where)
    low, middle, high = np.quantile(values[1:], (0.1, 0.5, 0.9))
    return {
        "point": _number(float(values[0]), where),
        "p10": _number(float(low), where),
        "p50": _number(float(middle), where),
        "p90": _number(float(high), where),
        "cases": int(values.size),
    }


def _record(thing: Any, where: str) -> dict[str, Any]:
    found: dict[str, Any] = {}
    names = {field.name for field in fields(thing)}
    for field in fields(thing):
        value = getattr(thing, field.name)
        # A bare number beside a house name is a value of that quantity (a rule's value and limit).
        measured = field.name in ("value", "limit") and "name" in names
        if measured and isinstance(value, float) and _known(thing.name):
            key = _key(field.name, thing.name)
            found[key] = _shown(thing.name, value, f"{where}.{field.name}")
        else:
            found[field.name] = _plain(value, f"{where}.{field.name}")
    return found


def _known(name: str) -> bool:
    try:
        house_name(name)
    except UnknownNameError:
        return False
    return True
