"""Reading of the packaged tables: CSV with a comment head, and TOML."""

from __future__ import annotations

import csv
import difflib
import tomllib
from collections.abc import Iterable, Mapping
from functools import cache
from importlib.resources import files
from types import MappingProxyType
from typing import Any

from cakewright.errors import UnknownNameError


def _text(name: str) -> str:
    return files("cakewright.reference").joinpath("data", name).read_text(encoding="utf-8")


@cache
def csv_table(name: str) -> tuple[Mapping[str, str], ...]:
    """Rows of one CSV file, as text by column; lines that begin with # are remarks."""
    lines = [line for line in _text(f"{name}.csv").splitlines() if not line.startswith("#")]
    return tuple(MappingProxyType(row) for row in csv.DictReader(lines, strict=True))


@cache
def toml_table(name: str) -> Mapping[str, Any]:
    """One TOML file."""
    return MappingProxyType(tomllib.loads(_text(f"{name}.toml")))


def number(text: str) -> float | None:
    """The number in a cell; None for a blank one."""
    return float(text) if text else None


def factor(unit: str) -> float:
    """What a number in ``unit`` is multiplied by to give coherent SI."""
    return float(toml_table("units")[unit]["factor"])


def si_unit(unit: str) -> str:
    """Coherent SI unit of what ``unit`` measures."""
    return str(toml_table("units")[unit]["si"])


def unknown(name: str, known: Iterable[str], what: str) -> UnknownNameError:
    """The error for a name that is not there, with the nearest one or the whole list."""
    known = sorted(str(one) for one in known)
    near = difflib.get_close_matches(name, known, n=1)
    hint = f"did you mean {near[0]!r}?" if near else f"known: {', '.join(known)}"
    return UnknownNameError(f"{name!r} is not {what}; {hint}")
