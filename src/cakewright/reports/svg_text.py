"""SVG written by hand: elements as text, and how wide a text will be."""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache
from html import escape

from cakewright.reports.palette import FONT, INK

__all__ = ["circle", "document", "group", "line", "path", "polygon", "rect", "text", "text_width"]

# Advance widths of a common sans face in thousandths of the size, on the wide side.
_NARROW = dict.fromkeys("ijl.,:;'|!", 270) | dict.fromkeys("ftrI()[]/ -\u202f", 330)
_WIDE = dict.fromkeys("mwMW%", 860) | dict.fromkeys("ABCDEFGHKLNOPQRSTUVXYZ&", 710)
_WIDTHS = _NARROW | _WIDE


def text_width(words: str, size: float) -> float:
    """Width of a text in the units of ``size``, a little more than it will take."""
    return _thousandths(words) * size / 1000.0


@lru_cache(maxsize=4096)
def _thousandths(words: str) -> int:
    return sum([_WIDTHS.get(char, 575) for char in words])


def _number(value: float) -> str:
    return f"{value:.2f}".rstrip("0").rstrip(".") if value else "0"


def _attributes(pairs: dict[str, str | float]) -> str:
    return "".join(
        f' {key.rstrip("_").replace("_", "-")}="'
        f'{escape(value) if isinstance(value, str) else _number(value)}"'
        for key, value in pairs.items()
    )


def line(x1: float, y1: float, x2: float, y2: float, **style: str | float) -> str:
    """A straight line."""
    return f"<line{_attributes({'x1': x1, 'y1': y1, 'x2': x2, 'y2': y2, **style})}/>"


def rect(x: float, y: float, width: float, height: float, **style: str | float) -> str:
    """A rectangle."""
    return f"<rect{_attributes({'x': x, 'y': y, 'width': width, 'height': height, **style})}/>"


def circle(x: float, y: float, r: float, **style: str | float) -> str:
    """A circle."""
    return f"<circle{_attributes({'cx': x, 'cy': y, 'r': r, **style})}/>"


def path(commands: str, **style: str | float) -> str:
    """A path."""
    return f"<path{_attributes({'d': commands, **style})}/>"


def polygon(points: Sequence[tuple[float, float]], **style: str | float) -> str:
    """A closed polygon."""
    joined = " ".join(f"{_number(x)},{_number(y)}" for x, y in points)
    return f"<polygon{_attributes({'points': joined, **style})}/>"


def text(x: float, y: float, words: str, size: float = 11.0, **style: str | float) -> str:
    """One line of text; ``style`` may hold anchor, weight and fill."""
    look: dict[str, str | float] = {"x": x, "y": y, "font_size": size, "fill": INK, **style}
    return f"<text{_attributes(look)}>{escape(words, quote=False)}</text>"


def group(parts: Sequence[str], **style: str | float) -> str:
    """Several elements under one style."""
    return f"<g{_attributes(style)}>{''.join(parts)}</g>"


def document(
    parts: Sequence[str], width: float, height: float, alt: str, *, natural: bool = True
) -> str:
    """A complete drawing; without ``natural`` size it fills the place it is given."""
    size = f' width="{_number(width)}" height="{_number(height)}"' if natural else ""
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg"{size} '
        f'viewBox="0 0 {_number(width)} {_number(height)}" role="img" '
        f'aria-label="{escape(alt)}" font-family="{FONT}">{"".join(parts)}</svg>'
    )
