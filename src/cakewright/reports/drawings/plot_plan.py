"""The plot plan: the line's layout to scale, walls, ways and a door, measured."""

from __future__ import annotations

from collections.abc import Sequence

from cakewright.errors import OutOfRangeError
from cakewright.line.layout import Layout, Place
from cakewright.reports.drawings.shapes import (
    HEAVY,
    LIGHT,
    MIDDLE,
    Box,
    Drawing,
    Point,
    Shape,
    Stroke,
    Words,
    words_box,
)
from cakewright.reports.svg_text import text_width

__all__ = ["measure_line", "plan_scale", "plot_plan"]

_SCALES = (20, 25, 50, 100, 200, 500, 1000)
_ROOM = (355.0, 205.0)
_LARGEST = (1120.0, 760.0)
_TEXT = 2.8
_MARGIN, _TOP = 22.0, 16.0
_TICK = 1.5
_DOOR = 1.2


def plan_scale(layout: Layout) -> int:
    """Denominator of the largest scale that fits a small sheet, or at 1:100 a large one."""
    left, right, bottom = _ends(layout)
    width, depth = right - left, bottom
    for scale in _SCALES:
        room = _LARGEST if scale == 100 else _ROOM
        mm = 1000.0 / scale
        if width * mm <= room[0] and depth * mm <= room[1]:
            return scale
    return _SCALES[-1]


def _ends(layout: Layout) -> tuple[float, float, float]:
    """Left, right and bottom end of all that is drawn, in metres from the room's corner."""
    places = (*layout.inside, *layout.outside)
    lefts = [p.x - p.item.access_left for p in places]
    rights = [p.x + p.item.length + p.item.access_right for p in places]
    bottoms = [p.y + p.item.width + p.item.access_front for p in places]
    return min(0.0, *lefts), max(layout.length, *rights), max(layout.width, *bottoms)


def plot_plan(layout: Layout, title: str) -> Drawing:
    """Plan of the layout at `plan_scale`, with the room's measures.

    Raises
    ------
    OutOfRangeError
        If there is nothing to draw.
    """
    places = (*layout.inside, *layout.outside)
    if not places:
        raise OutOfRangeError("a plot plan needs at least one footprint; got none")
    scale = plan_scale(layout)
    mm = 1000.0 / scale
    left, right, bottom = _ends(layout)
    origin = (_MARGIN - left * mm, _TOP)
    shapes: list[Shape] = []
    boxes: list[Box] = []
    if layout.inside:
        shapes += _walls(layout, origin, mm)
        boxes += [words_box(s) for s in shapes if isinstance(s, Words)]
    for place in places:
        body, box = _item(place, origin, mm)
        shapes += body
        boxes.append(box)
    marks = _section_marks(layout, origin, mm, boxes)
    shapes += marks
    # Where no room is left for a tag, the list beside the plan has it.
    prints = boxes[-len(places) :]
    boxes += [words_box(s) for s in marks if isinstance(s, Words)]
    for place, box in zip(places, prints, strict=True):
        tag = _tag(place, box, boxes)
        if tag is not None:
            shapes.append(tag[0])
            boxes += tag[1:]
    foot = origin[1] + bottom * mm + 14
    bar_shapes, bar_boxes = _scale_bar(scale, foot)
    return Drawing(
        title,
        max((right - left) * mm + 2 * _MARGIN, 90.0),
        foot + 6,
        (*shapes, *bar_shapes),
        (*boxes, *bar_boxes),
    )


def _section_marks(layout: Layout, origin: Point, mm: float, taken: Sequence[Box]) -> list[Shape]:
    """Letters of the sections through the rows, outside the wall where there is room."""
    rows = sorted({round(place.y, 6) for place in layout.inside})
    right = origin[0] + layout.length * mm
    marks: list[Shape] = []
    for at, y in enumerate(rows):
        deep = max(p.item.width for p in layout.inside if round(p.y, 6) == y)
        level = origin[1] + (y + deep / 2) * mm
        words = Words((right + 4.5, level + 1.0), chr(ord("A") + at), _TEXT, bold=True)
        if any(_touch(words_box(words), other) for other in taken):
            continue
        marks.append(Stroke(((right + 0.8, level), (right + 3.8, level)), MIDDLE, layer="sections"))
        marks.append(words)
    return marks


def _walls(layout: Layout, origin: Point, mm: float) -> list[Shape]:
    """Walls, a door at the way in front, and the measures of the room."""
    x, y = origin
    right, bottom = x + layout.length * mm, y + layout.width * mm
    door = bottom - 0.2 * mm
    return [
        Stroke(_corners(x, y, right, bottom), HEAVY, closed=True, layer="walls"),
        Stroke(((right, door - _DOOR * mm), (right, door)), LIGHT, dashed=True, layer="doors"),
        Stroke(
            ((right, door), (right + _DOOR * mm, door), (right, door - _DOOR * mm)),
            LIGHT,
            layer="doors",
        ),
        *measure_line((x, y - 5.0), (right, y - 5.0), f"{layout.length:.1f} m"),
        *measure_line((x - 5.0, y), (x - 5.0, bottom), f"{layout.width:.1f} m"),
    ]


def measure_line(start: Point, end: Point, words: str) -> list[Shape]:
    """A dimension line with a tick at either end and its words beside it."""
    flat = start[1] == end[1]
    dx, dy = (0.0, _TICK) if flat else (_TICK, 0.0)
    ticks = [
        Stroke(((x - dx, y - dy), (x + dx, y + dy)), LIGHT, layer="measures")
        for x, y in (start, end)
    ]
    at = ((start[0] + end[0]) / 2, start[1] - 1.2) if flat else (end[0], end[1] + 4.0)
    return [
        Stroke((start, end), LIGHT, layer="measures"), *ticks, Words(at, words, _TEXT, "middle"),
    ]  # fmt: skip


def _item(place: Place, origin: Point, mm: float) -> tuple[list[Shape], Box]:
    """Footprint and the way it asks for in front."""
    item = place.item
    left, top = origin[0] + place.x * mm, origin[1] + place.y * mm
    right, bottom = left + item.length * mm, top + item.width * mm
    way = _corners(left, bottom, right, bottom + item.access_front * mm)
    body = _corners(left, top, right, bottom)
    shapes: list[Shape] = [
        Stroke(way, LIGHT, closed=True, dashed=True, layer="access"),
        Stroke(body, MIDDLE, closed=True, fill="paper", layer="footprints"),
    ]
    return shapes, Box(left, top, right, bottom, f"footprint {item.tag}")


def _tag(place: Place, box: Box, taken: Sequence[Box]) -> tuple[Words, *tuple[Box, ...]] | None:
    """The tag inside its footprint, or beside, in front of or behind it, where there is room."""
    text = place.item.tag
    middle, level = (box.left + box.right) / 2, (box.top + box.bottom) / 2 + 1.0
    wide = text_width(text, _TEXT) + 1.0
    if wide <= box.right - box.left and box.bottom - box.top >= _TEXT + 2.0:
        return (Words((middle, level), text, _TEXT, "middle", bold=True),)
    for at, anchor in (
        ((box.right + 0.7, level), "start"),
        ((middle, box.bottom + 3.4), "middle"),
        ((middle, box.top - 0.8), "middle"),
    ):
        words = Words(at, text, _TEXT, anchor, bold=True)
        own = words_box(words)
        if not any(_touch(own, other) for other in taken):
            return words, own
    return None


def _touch(one: Box, other: Box) -> bool:
    return (
        one.left < other.right
        and other.left < one.right
        and one.top < other.bottom
        and other.top < one.bottom
    )


def _corners(left: float, top: float, right: float, bottom: float) -> tuple[Point, ...]:
    return ((left, top), (right, top), (right, bottom), (left, bottom))


def _scale_bar(scale: int, y: float) -> tuple[list[Shape], list[Box]]:
    metres = 5 if scale >= 100 else 2 if scale >= 50 else 1
    length = metres * 1000.0 / scale
    words = Words(
        (_MARGIN + length + 4, y + 1),
        f"{metres} m, 1:{scale}; dashed: way to keep free in front of each item",
        _TEXT,
        quiet=True,
    )
    shapes: list[Shape] = [
        Stroke(((_MARGIN, y), (_MARGIN + length, y)), MIDDLE, layer="scale"),
        Stroke(((_MARGIN, y - 1.5), (_MARGIN, y + 1.5)), LIGHT, layer="scale"),
        Stroke(((_MARGIN + length, y - 1.5), (_MARGIN + length, y + 1.5)), LIGHT, layer="scale"),
        words,
    ]
    return shapes, [words_box(words)]
