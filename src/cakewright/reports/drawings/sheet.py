"""A drawing on a sheet: frame, title strip, and the stream table below the diagram."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from cakewright.reports.drawings.shapes import (
    LIGHT,
    MIDDLE,
    Box,
    Drawing,
    Point,
    Shape,
    Stroke,
    Words,
    moved,
    scaled,
    words_box,
)
from cakewright.reports.svg_text import text_width

__all__ = ["SHEETS", "SheetTable", "on_sheet"]

# Trimmed sheets on their side, in millimetres (ISO 5457), smallest first.
SHEETS = {"A3": (420.0, 297.0), "A2": (594.0, 420.0), "A1": (841.0, 594.0), "A0": (1189.0, 841.0)}
_LEFT, _REST, _STRIP = 20.0, 10.0, 16.0
_SMALLEST = 0.8
_SIZE, _ROW = 2.6, 4.6


@dataclass(frozen=True, slots=True)
class SheetTable:
    """A table of texts; the first two columns are number and words, the rest right-aligned."""

    heads: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]


def on_sheet(
    drawing: Drawing,
    fields: Sequence[tuple[str, str]],
    table: SheetTable | None = None,
    *,
    keep_scale: bool = False,
) -> Drawing:
    """The drawing on the smallest sheet where its texts stay legible.

    ``fields`` are (name, value) pairs of the title strip. With ``keep_scale`` the drawing is not
    made smaller to fit.
    """
    for name, (width, height) in SHEETS.items():
        widths = _table_widths(table) if table else ()
        blocks = _blocks(table, widths, width) if table else ()
        table_height = (max(len(b) for b in blocks) + 1) * _ROW + 6 if blocks else 0.0
        room = (width - _LEFT - _REST - 8, height - 2 * _REST - _STRIP - table_height - 6)
        factor = min(1.0, room[0] / drawing.width, room[1] / drawing.height)
        if factor >= (1.0 if keep_scale else _SMALLEST) or name == "A0":
            break
    shapes, boxes, runs = _placed(drawing, factor, room)
    frame = _frame(width, height, [("sheet", name), *fields])
    strip_boxes = [words_box(s) for s in frame if isinstance(s, Words)]
    top = height - _REST - _STRIP - table_height
    rows = _table_shapes(table, widths, blocks, top) if table else []
    table_boxes = [words_box(s) for s in rows if isinstance(s, Words)]
    return Drawing(
        drawing.title,
        width,
        height,
        (*shapes, *frame, *rows),
        (*boxes, *strip_boxes, *table_boxes),
        runs,
    )


Runs = tuple[tuple[str, tuple[Point, ...]], ...]


def _placed(
    drawing: Drawing, factor: float, room: tuple[float, float]
) -> tuple[list[Shape], list[Box], Runs]:
    dx = _LEFT + 4 + max(0.0, (room[0] - drawing.width * factor) / 2)
    dy = _REST + 3 + max(0.0, (room[1] - drawing.height * factor) / 2)
    shapes = [moved(scaled(shape, factor), dx, dy) for shape in drawing.shapes]
    boxes = [
        Box(
            b.left * factor + dx,
            b.top * factor + dy,
            b.right * factor + dx,
            b.bottom * factor + dy,
            b.what,
        )
        for b in drawing.boxes
    ]
    runs = tuple(
        (key, tuple((x * factor + dx, y * factor + dy) for x, y in points))
        for key, points in drawing.runs
    )
    return shapes, boxes, runs


def _frame(width: float, height: float, fields: Sequence[tuple[str, str]]) -> list[Shape]:
    left, top, right, bottom = _LEFT, _REST, width - _REST, height - _REST
    corners = ((left, top), (right, top), (right, bottom), (left, bottom))
    strip = bottom - _STRIP
    shapes: list[Shape] = [
        Stroke(corners, MIDDLE, closed=True, layer="frame"),
        Stroke(((left, strip), (right, strip)), LIGHT, layer="frame"),
    ]
    weights = [max(len(name), len(value), 5) for name, value in fields]
    x = left
    for (name, value), weight in zip(fields, weights, strict=True):
        space = (right - left) * weight / sum(weights)
        if x > left:
            shapes.append(Stroke(((x, strip), (x, bottom)), LIGHT, layer="frame"))
        shapes.append(Words((x + 2, strip + 4.4), name, 2.2, quiet=True, layer="frame"))
        size = min(4.0, 4.0 * (space - 4) / max(text_width(value, 4.0), 1e-6))
        shapes.append(Words((x + 2, strip + 11.4), value, size, layer="frame"))
        x += space
    return shapes


def _table_widths(table: SheetTable) -> tuple[float, ...]:
    return tuple(
        max(text_width(text, _SIZE) for text in column) + 4.0
        for column in zip(table.heads, *table.rows, strict=True)
    )


def _blocks(
    table: SheetTable, widths: Sequence[float], width: float
) -> tuple[tuple[tuple[str, ...], ...], ...]:
    """Rows dealt into as many columns of rows as stand side by side."""
    most = max(1, int((width - _LEFT - _REST - 8) // (sum(widths) + 8)))
    size = -(-len(table.rows) // most)
    return tuple(table.rows[at : at + size] for at in range(0, len(table.rows), size))


def _table_shapes(
    table: SheetTable,
    widths: Sequence[float],
    blocks: Sequence[Sequence[tuple[str, ...]]],
    top: float,
) -> list[Shape]:
    shapes: list[Shape] = []
    for at, block in enumerate(blocks):
        left = _LEFT + 4 + at * (sum(widths) + 8)
        for line, row in enumerate([table.heads, *block]):
            y = top + (line + 1) * _ROW
            shapes += [replace(w, quiet=line == 0) for w in _row(row, widths, left, y)]
            weight = LIGHT if line else MIDDLE
            end = (left + sum(widths), y + 1.4)
            shapes.append(Stroke(((left, y + 1.4), end), weight * 0.6, layer="table"))
    return shapes


def _row(row: Sequence[str], widths: Sequence[float], left: float, y: float) -> list[Words]:
    words, x = [], left
    for column, (text, width) in enumerate(zip(row, widths, strict=True)):
        right = column > 1
        at = (x + width - 1.0 if right else x + 1.0, y)
        if text:
            words.append(Words(at, text, _SIZE, "end" if right else "start", layer="table"))
        x += width
    return words
