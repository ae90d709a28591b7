"""Instruments of an apparatus as bubbles above it, joined to it by a thin line."""

from __future__ import annotations

from collections.abc import Sequence

from cakewright.reports.drawings.shapes import LIGHT, Box, Insert, Shape, Stroke, Words
from cakewright.reports.drawings.symbols import symbol_size

__all__ = ["BUBBLE", "bubbles"]

# Diameter of a bubble and the step from one to the next.
BUBBLE = symbol_size("instrument")[0]
_STEP, _RAISE = BUBBLE + 1.2, 3.0
_LETTERS, _NUMBER = 3.0, 2.8
_IN_ROW = 4


def bubbles(
    held: Sequence[tuple[str, str]], width: float, height: float, ports: Sequence[float]
) -> tuple[list[Shape], list[Box]]:
    """Bubbles over a symbol of a size, round (0, 0), clear of the lines that enter at its top.

    Parameters
    ----------
    held : sequence
        Letters and loop number of each instrument.
    width, height : float
        Size of the symbol. [mm]
    ports : sequence
        Where lines enter at the top, from the middle. [mm]

    Returns
    -------
    bubbles : tuple
        Shapes, and the places they take up. [mm]
    """
    shapes: list[Shape] = []
    boxes: list[Box] = []
    if not held:
        return shapes, boxes
    across = min(_IN_ROW, len(held))
    first = -_STEP * (across - 1) / 2
    if ports:
        first = max(ports) + 2.0 + BUBBLE / 2
    foot = -height / 2 - _RAISE - BUBBLE / 2
    # Down to the top where the first stands over it, else to the side of the symbol.
    end = (first, -height / 2) if abs(first) <= width / 2 else (width / 2, -height / 2 + 1.2)
    stem = ((first, foot), (first, end[1]), end)
    shapes.append(Stroke(stem, LIGHT, layer="instruments"))
    for at, (letters, number) in enumerate(held):
        row, col = divmod(at, across)
        x, y = first + col * _STEP, foot - row * _STEP
        before = (x - _STEP, y) if col else (x, y + _STEP)
        if at:
            shapes.insert(0, Stroke((before, (x, y)), LIGHT, layer="instruments"))
        tag = f"{letters}-{number}"
        shapes.append(Insert((x, y), "instrument", tag=tag, layer="instruments"))
        shapes.append(Words((x, y - 0.6), letters, _LETTERS, "middle", layer="instruments"))
        shapes.append(Words((x, y + 3.0), number, _NUMBER, "middle", layer="instruments"))
        half = BUBBLE / 2
        boxes.append(Box(x - half, y - half, x + half, y + half, f"instrument {tag}"))
    return shapes, boxes
