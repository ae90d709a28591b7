"""Line of every key of a TOML text, so that a fault can say where it is."""

from __future__ import annotations

import re
from collections import Counter

__all__ = ["key_lines"]

_TABLE = re.compile(r"^\s*\[([^\[\]]+)\]\s*(?:#.*)?$")
_ARRAY = re.compile(r"^\s*\[\[([^\[\]]+)\]\]\s*(?:#.*)?$")
_KEY = re.compile(r"^\s*((?:[A-Za-z0-9_-]+|\"[^\"]*\")(?:\s*\.\s*(?:[A-Za-z0-9_-]+))*)\s*=")


def key_lines(text: str) -> dict[str, int]:
    """Line (from 1) of each dotted key; items of ``[[sludge]]`` are ``sludge.0``, ``sludge.1``."""
    found: dict[str, int] = {}
    seen: Counter[str] = Counter()
    prefix = ""
    for number, line in enumerate(text.splitlines(), start=1):
        if match := _ARRAY.match(line):
            name = match.group(1).strip()
            prefix = f"{name}.{seen[name]}"
            seen[name] += 1
            found.setdefault(prefix, number)
        elif match := _TABLE.match(line):
            prefix = _numbered(match.group(1).strip(), seen)
            found.setdefault(prefix, number)
        elif match := _KEY.match(line):
            key = match.group(1).replace(" ", "").strip('"')
            found.setdefault(f"{prefix}.{key}" if prefix else key, number)
    return found


def _numbered(name: str, seen: Counter[str]) -> str:
    """``sludge.origin`` inside the second ``[[sludge]]`` is ``sludge.1.origin``."""
    head, _, rest = name.partition(".")
    if seen[head] and rest:
        return f"{head}.{seen[head] - 1}.{rest}"
    return name
