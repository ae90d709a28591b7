"""Levels of a line side by side: free surfaces, edges and bases above and below the floor."""

from __future__ import annotations

from collections.abc import Sequence

from cakewright.errors import OutOfRangeError
from cakewright.line.levels import Level
from cakewright.reports.drawings.shapes import (
    HEAVY,
    LIGHT,
    MIDDLE,
    Box,
    Drawing,
    Shape,
    Stroke,
    Words,
    words_box,
)
from cakewright.reports.svg_text import text_width

__all__ = ["level_profile"]

_SCALES = (10, 20, 25, 50, 100, 200)
_ROOM = 150.0
_TEXT, _APART = 2.8, 4.2
_BODY, _REACH, _GAP, _MARGIN = 16.0, 4.0, 9.0, 8.0


def level_profile(levels: Sequence[Level], title: str) -> Drawing:
    """Profile in the order of the flow; heights to scale, lengths not.

    Raises
    ------
    OutOfRangeError
        If there is no level.
    """
    if not levels:
        raise OutOfRangeError("a level profile needs at least one level; got none")
    top, low = max(x.height for x in levels), min(0.0, *(x.height for x in levels))
    scale = next((s for s in _SCALES if (top - low) * 1000.0 / s <= _ROOM), _SCALES[-1])
    mm = 1000.0 / scale
    groups: dict[tuple[str, str], list[Level]] = {}
    for level in levels:
        groups.setdefault((level.item, level.way), []).append(level)
    floor = _MARGIN + 10.0 + top * mm
    shapes: list[Shape] = []
    boxes: list[Box] = []
    x = _MARGIN + 12.0
    for (item, _), held in groups.items():
        made, taken, width = _column(item, held, x, floor, mm)
        shapes += made
        boxes += taken
        x += width + _GAP
    ground = _ground(_MARGIN, x - _GAP + 4.0, floor, boxes)
    foot = max([floor - low * mm, *(box.bottom for box in boxes)]) + 7.0
    words = (
        f"Heights 1:{scale} above the finished floor (0.00 m), lengths not to scale. "
        "Inlets and outlets of the machine are judged until its drawing tells them."
    )
    told = Words((_MARGIN, foot), words, _TEXT, quiet=True)
    zero = Words((_MARGIN, floor - 1.0), "0.00", _TEXT, quiet=True)
    width = max(x, words_box(told).right + _MARGIN)
    boxes += [words_box(told), words_box(zero)]
    return Drawing(title, width, foot + 4.0, (*shapes, *ground, told, zero), tuple(boxes))


def _ground(left: float, right: float, floor: float, boxes: Sequence[Box]) -> list[Shape]:
    """The floor's line, with gaps where words stand on it."""
    gaps = sorted(
        (b.left - 0.8, b.right + 0.8) for b in boxes if b.top - 0.8 < floor < b.bottom + 0.8
    )
    ends = [left, *(x for gap in gaps for x in gap), right]
    return [
        Stroke(((a, floor), (b, floor)), HEAVY, layer="walls")
        for a, b in zip(ends[::2], ends[1::2], strict=True)
        if b > a
    ]


def _column(
    item: str, held: Sequence[Level], x: float, floor: float, mm: float
) -> tuple[list[Shape], list[Box], float]:
    """One item: its levels as lines with their words beside, spread where they would touch."""
    heights = [level.height for level in held]
    top, low = floor - max(heights) * mm, floor - min(heights) * mm
    shapes: list[Shape] = []
    boxes: list[Box] = []
    if low - top > 0.5:
        for side in (x, x + _BODY):
            shapes.append(Stroke(((side, top), (side, low)), MIDDLE, layer="footprints"))
    ordered = sorted(held, key=lambda level: -level.height)
    places = _spread([floor - level.height * mm for level in ordered])
    widest = 0.0
    for level, place in zip(ordered, places, strict=True):
        y = floor - level.height * mm
        shapes.append(Stroke(((x, y), (x + _BODY, y)), LIGHT if level.surface else MIDDLE,
                             layer="levels"))  # fmt: skip
        if level.surface:
            mark = ((x + 6.4, y - 2.6), (x + 9.6, y - 2.6), (x + 8.0, y))
            shapes.append(Stroke(mark, LIGHT, closed=True, layer="levels"))
        end = x + _BODY + _REACH
        shapes.append(Stroke(((x + _BODY, y), (end, place)), LIGHT, layer="levels"))
        words = Words((end + 0.8, place + 1.0), f"{level.height:+.2f} {level.what}", _TEXT)
        shapes.append(words)
        boxes.append(words_box(words))
        widest = max(widest, text_width(words.text, _TEXT))
    tag = Words((x + _BODY / 2, min(top, places[0]) - 4.0), item, _TEXT + 0.6, "middle", bold=True)
    shapes.append(tag)
    boxes.append(words_box(tag))
    return shapes, boxes, _BODY + _REACH + 0.8 + widest


def _spread(wanted: Sequence[float]) -> list[float]:
    """Places of texts from the top, at least one line apart, about where they are wanted."""
    places: list[float] = []
    for y in wanted:
        places.append(max(y, places[-1] + _APART) if places else y)
    if len(places) > 1 and places[-1] > wanted[-1]:
        back = (places[-1] - wanted[-1]) / 2
        places = [p - back for p in places]
    return places
