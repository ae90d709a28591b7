"""What the signs of a diagram mean, drawn below it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from cakewright.reports.drawings.bubbles import BUBBLE, bubbles
from cakewright.reports.drawings.graph import DrawingGraph, LineKind
from cakewright.reports.drawings.running import WEIGHTS
from cakewright.reports.drawings.shapes import (
    LIGHT,
    Box,
    Drawing,
    Shape,
    Stroke,
    Words,
    moved,
    scaled,
    words_box,
)
from cakewright.reports.drawings.symbols import symbol, symbol_size
from cakewright.reports.svg_text import text_width

__all__ = ["with_legend"]

_SIZE, _ROW, _SIGN, _GAP = 2.8, 14.0, 12.0, 8.0
_LINES = {
    LineKind.MAIN: "sludge and cake",
    LineKind.SECONDARY: "liquor, water, solutions, air, oil",
    LineKind.SIGNAL: "signal",
}
_FITTINGS = {
    "isolating valve": "isolating valve, by hand",
    "non-return valve": "non-return valve",
    "relief valve": "relief valve, back to the suction side",
    "drain valve": "drain, closed",
    "sampling valve": "sampling point, closed",
    "flushing valve": "flushing connection, closed",
}


def with_legend(drawing: Drawing, graph: DrawingGraph, notes: Sequence[str] = ()) -> Drawing:
    """The diagram with the signs it uses below, and notes below these."""
    signs = _signs(graph)
    step = _SIGN + _GAP + max(text_width(words, _SIZE) for _, words in signs)
    width = max(drawing.width, step + _GAP)
    across = max(1, int((width - _GAP) // step))
    shapes: list[Shape] = []
    boxes: list[Box] = []
    top = drawing.height + _GAP
    for at, (sign, words) in enumerate(signs):
        row, col = divmod(at, across)
        x, y = _GAP / 2 + col * step + _SIGN / 2, top + row * _ROW + _ROW / 2
        shapes += [moved(shape, x, y) for shape in sign]
        told = Words((x + _SIGN / 2 + 2.0, y + 1.0), words, _SIZE, quiet=True, layer="legend")
        shapes.append(told)
        boxes.append(words_box(told))
    y = top + -(-len(signs) // across) * _ROW + 2.0
    for note in notes:
        y += _SIZE * 1.6
        told = Words((_GAP / 2, y), note, _SIZE, quiet=True, layer="legend")
        shapes.append(told)
        boxes.append(words_box(told))
    rule = Stroke(((_GAP / 2, top - 2.0), (width - _GAP / 2, top - 2.0)), LIGHT, layer="legend")
    return replace(
        drawing,
        width=width,
        height=y + 4.0,
        shapes=(*drawing.shapes, rule, *shapes),
        boxes=(*drawing.boxes, *boxes),
    )


def _signs(graph: DrawingGraph) -> list[tuple[list[Shape], str]]:
    found: list[tuple[list[Shape], str]] = []
    used = {edge.kind for edge in graph.edges}
    for kind, words in _LINES.items():
        if kind in used:
            dashed = kind is LineKind.SIGNAL
            ends = ((-_SIGN / 2, 0.0), (_SIGN / 2, 0.0))
            line = Stroke(ends, WEIGHTS[kind], dashed=dashed, layer="legend")
            found.append(([line], words))
    kinds = {node.kind for node in graph.nodes}
    for fitting, words in _FITTINGS.items():
        if fitting in kinds:
            found.append((symbol(fitting), words))
    if any(node.bubbles for node in graph.nodes):
        held, _ = bubbles((("LIT", "101"),), 0.0, -BUBBLE - 6.0, ())
        found.append((held[1:], "instrument: letters, loop"))
    if "boundary" in kinds:
        factor = _SIGN / symbol_size("boundary")[0]
        found.append(
            (
                [scaled(s, factor) for s in symbol("boundary")],
                "limit of the line, or the other sheet",
            )
        )
    return found
