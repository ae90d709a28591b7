"""Instrument and signal list: tags from a mapping table of letters, ranges from the design."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping, Sequence
from functools import cache
from importlib.resources import files
from typing import Any

from cakewright.errors import UnknownNameError
from cakewright.line.inputs import Letters
from cakewright.line.items import Signal, SignalType

__all__ = ["instrument_tag", "signals"]


def _data(name: str) -> dict[str, Any]:
    text = files("cakewright.line").joinpath("data", name).read_text(encoding="utf-8")
    return tomllib.loads(text)


@cache
def _letters() -> dict[str, Any]:
    return _data("letters.toml")


@cache
def _instruments() -> tuple[dict[str, Any], ...]:
    return tuple(_data("instruments.toml")["instrument"])


def instrument_tag(
    measured: str, functions: Sequence[str], loop: int, letters: Letters = Letters.ISA
) -> str:
    """Tag of one instrument, such as FQIT-107, in either letter code.

    Raises
    ------
    UnknownNameError
        If a measured quantity or function has no letter.
    """
    column = "isa" if letters is Letters.ISA else "iso"
    table = _letters()
    if measured not in table["measured"] or any(f not in table["functions"] for f in functions):
        raise UnknownNameError(
            f"tag: got {measured!r} with {list(functions)}; known: {', '.join(table['measured'])} "
            f"with {', '.join(table['functions'])}; add it to the letter table"
        )
    first = table["measured"][measured][column]
    rest = "".join(table["functions"][f][column] for f in functions)
    return f"{first}{rest}-{loop}"


def signals(
    spans: Mapping[str, float], present: Sequence[str], letters: Letters
) -> tuple[Signal, ...]:
    """Every instrument whose part of the line is present; the range is 0 to 1.25 times the span."""
    other = Letters.ISO if letters is Letters.ISA else Letters.ISA
    found = []
    for row in _instruments():
        if row.get("when", "always") not in (*present, "always"):
            continue
        functions = tuple(row["functions"])
        args = row["measured"], functions, row["loop"]
        kind = SignalType[row["signal"]]
        top = spans[row["span"]] * (1.25 if kind in (SignalType.AI, SignalType.AO) else 1.0)
        found.append(
            Signal(
                tag=instrument_tag(*args, letters),
                tag_other=instrument_tag(*args, other),
                item=row["item"],
                measured=row["measured"],
                functions=functions,
                meaning=row["meaning"],
                signal=kind,
                name=row["name"],
                low=0.0,
                high=top,
                alarms=tuple(row.get("alarms", ())),
            )
        )
    return tuple(found)
