"""Drawings inside a page without inline style: style becomes attributes, colours variables."""

from __future__ import annotations

import re
from html import escape

from markupsafe import Markup

from cakewright.reports.palette import themed

__all__ = ["inline_drawing"]

_STYLE = re.compile(r'\sstyle="([^"]*)"')
_FONT = re.compile(r"(?:(italic|oblique)\s+)?(?:(bold|\d{3})\s+)?([\d.]+)(?:px|pt)?\s+(.+)")


def inline_drawing(svg: str) -> Markup:
    """A drawing made by `reports` (every text in it already escaped), ready to stand in a page."""
    return Markup(themed(_STYLE.sub(_attributes, svg)))


def _attributes(match: re.Match[str]) -> str:
    found: dict[str, str] = {}
    for rule in match.group(1).split(";"):
        name, _, value = (part.strip() for part in rule.partition(":"))
        if name == "font":
            found |= _font(value)
        elif name and value:
            found[name] = value
    return "".join(f' {name}="{escape(value)}"' for name, value in found.items())


def _font(value: str) -> dict[str, str]:
    """The short form of a font is no attribute of its own; its parts are."""
    match = _FONT.match(value.replace("&quot;", '"'))
    if not match:
        return {}
    parts = {
        "font-style": match.group(1),
        "font-weight": match.group(2),
        "font-size": match.group(3),
        "font-family": match.group(4).replace('"', "").replace("'", ""),
    }
    return {name: text for name, text in parts.items() if text}
