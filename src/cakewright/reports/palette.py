"""The few colours of the house, and how a drawing takes the colours of the page it is on.

Drawings are written in the light colours below. Inside a page each becomes a style variable
that falls back to the same colour, so that one drawing serves light, dark and print.
"""

from __future__ import annotations

import re

__all__ = ["ACCENT", "COLOURS", "FAINT", "FONT", "GRID", "INK", "PAPER", "QUIET", "themed"]

INK = "#1d2427"
QUIET = "#5a6468"
GRID = "#ccd2d4"
FAINT = "#e9ecec"
ACCENT = "#a1441a"
PAPER = "#fefefe"
FONT = "Helvetica Neue, Helvetica, Arial, Liberation Sans, sans-serif"

COLOURS = {
    INK: "ink",
    QUIET: "quiet",
    GRID: "grid",
    FAINT: "faint",
    ACCENT: "accent",
    PAPER: "paper",
}
_COLOUR = re.compile("|".join(COLOURS), re.IGNORECASE)


def themed(svg: str) -> str:
    """The drawing with house colours as style variables, for use inside a page."""
    return _COLOUR.sub(lambda m: f"var(--{COLOURS[m.group(0).lower()]},{m.group(0)})", svg)
