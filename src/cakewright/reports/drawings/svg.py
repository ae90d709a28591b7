"""A drawing as SVG, in millimetres."""

from __future__ import annotations

from cakewright.reports.drawings.shapes import (
    Disc,
    Drawing,
    Insert,
    Shape,
    Stroke,
    Words,
    moved,
    scaled,
)
from cakewright.reports.drawings.symbols import symbol
from cakewright.reports.palette import ACCENT, INK, PAPER, QUIET
from cakewright.reports.svg_text import circle, document, path, text

__all__ = ["drawing_svg"]

_FILLS = {"": "none", "ink": INK, "paper": PAPER}


def _element(shape: Shape) -> str:
    if isinstance(shape, Insert):
        parts = (moved(scaled(part, shape.factor), *shape.at) for part in symbol(shape.name))
        return "".join(_element(part) for part in parts)
    if isinstance(shape, Words):
        return _words(shape)
    ink = ACCENT if shape.accent else INK
    if isinstance(shape, Disc):
        fill = _FILLS[shape.fill]
        return circle(*shape.centre, shape.radius, stroke=ink, stroke_width=shape.weight, fill=fill)
    return path(
        _commands(shape),
        stroke=ink,
        stroke_width=shape.weight,
        fill=_FILLS[shape.fill],
        **({"stroke_dasharray": "1.6 1.2"} if shape.dashed else {}),
    )


def _words(words: Words) -> str:
    return text(
        *words.at,
        words.text,
        words.size,
        fill=QUIET if words.quiet else INK,
        text_anchor=words.anchor,
        font_weight="600" if words.bold else "400",
    )


def _commands(stroke: Stroke) -> str:
    points = " ".join(f"{x:.2f} {y:.2f}" for x, y in stroke.points)
    return f"M{points}" + ("Z" if stroke.closed else "")


def drawing_svg(drawing: Drawing, alt: str) -> str:
    """The drawing as a complete SVG; one unit is one millimetre at full size."""
    parts = [_element(shape) for shape in drawing.shapes]
    return document(parts, drawing.width, drawing.height, alt, natural=False)
