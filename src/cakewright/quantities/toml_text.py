"""TOML that others wrote, read within bounds: size, depth and keys of one table."""

from __future__ import annotations

import re
import tomllib
from typing import Any

from cakewright.errors import DataError, Fault

__all__ = ["LONGEST_TOML", "parse_toml", "parse_toml_of"]

LONGEST_TOML = 2_000_000
_MOST_DEPTH, _MOST_DOTS = 12, 8
# Texts and comments, in which brackets mean nothing, then brackets and dotted keys.
_PARTS = re.compile(
    r"\"\"\"(?:\\.|[^\\])*?\"\"\"|'''.*?'''|\"(?:\\.|[^\"\\\n])*\"|'[^'\n]*'|#[^\n]*"
    r"|(?P<open>[\[{])|(?P<close>[\]}])|(?P<dots>(?<![\w-])[\w-]++(?:\s*+\.\s*+[\w-]++)+)",
    re.DOTALL,
)


def parse_toml(text: str) -> dict[str, Any]:
    """Tables of a text.

    Raises
    ------
    tomllib.TOMLDecodeError
        If it is not TOML, or larger or deeper than any file of this program is.
    """
    if len(text) > LONGEST_TOML:
        raise tomllib.TOMLDecodeError(f"longer than {LONGEST_TOML} characters")
    _check_depth(text)
    try:
        return tomllib.loads(text)
    except tomllib.TOMLDecodeError:
        raise
    except (ValueError, RecursionError, OverflowError) as error:
        raise tomllib.TOMLDecodeError(f"a value that cannot be read ({error})") from None


def parse_toml_of(text: str, where: str, advice: str, subject: str = "file") -> dict[str, Any]:
    """Tables of the text of a file, with a fault for its reader if it is not TOML.

    Raises
    ------
    DataError
        If it is not TOML, with ``advice``.
    """
    try:
        return parse_toml(text)
    except tomllib.TOMLDecodeError as error:
        raise DataError(where, [Fault(subject, str(error), "TOML", advice)]) from None


def _check_depth(text: str) -> None:
    depth = 0
    for part in _PARTS.finditer(text):
        if part["open"]:
            depth += 1
        elif part["close"]:
            depth = max(0, depth - 1)
        dots = (part["dots"] or "").count(".")
        if depth > _MOST_DEPTH or dots > _MOST_DOTS:
            line = text.count("\n", 0, part.start()) + 1
            raise tomllib.TOMLDecodeError(f"tables inside tables too deep (at line {line})")
