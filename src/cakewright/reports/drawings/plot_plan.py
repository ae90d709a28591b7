"""A simple plot plan: footprints to scale with the free space each needs, in process order."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from cakewright.errors import OutOfRangeError
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

__all__ = ["PlanItem", "plan_scale", "plot_plan"]

_SCALES = (20, 25, 50, 100, 200, 500, 1000)
_STRETCHES = (1.0, 1.2, 1.5, 0.8, 1.9, 0.6)
_ROOM = (355.0, 215.0)
_TEXT, _LINE = 2.8, 3.7
_MARGIN, _TOP = 12.0, 14.0


@dataclass(frozen=True, slots=True)
class PlanItem:
    """One footprint with its free space on each side, in metres; ``front`` is drawn below."""

    tag: str
    label: str
    length: float
    width: float
    front: float = 0.0
    back: float = 0.0
    left: float = 0.0
    right: float = 0.0
    outdoors: bool = False

    @property
    def span(self) -> float:
        """Length with free space. [m]"""
        return self.left + self.length + self.right

    @property
    def depth(self) -> float:
        """Width with free space. [m]"""
        return self.front + self.width + self.back


@dataclass(frozen=True, slots=True)
class _Place:
    item: PlanItem
    x: float
    y: float


def plan_scale(items: Sequence[PlanItem]) -> int:
    """Denominator of the largest scale at which the plan fits a small sheet."""
    return _fitting(items)[0]


def _fitting(items: Sequence[PlanItem]) -> tuple[int, float]:
    """Scale, and how much longer than square the rows are, so that the plan fits."""
    for scale in _SCALES:
        for stretch in _STRETCHES:
            _, width, depth = _arranged(items, scale, stretch)
            mm = 1000.0 / scale
            if width * mm <= _ROOM[0] and depth * mm <= _ROOM[1]:
                return scale, stretch
    return _SCALES[-1], 1.0


def plot_plan(items: Sequence[PlanItem], title: str) -> Drawing:
    """Plan of all items, indoor ones within walls, at `plan_scale`.

    Raises
    ------
    OutOfRangeError
        If there is nothing to draw or a size is not positive.
    """
    if not items:
        raise OutOfRangeError("a plot plan needs at least one footprint; got none")
    for item in items:
        if not (item.length > 0 and item.width > 0):
            raise OutOfRangeError(
                f"{item.tag}: got a footprint of {item.length} m by {item.width} m; both must be "
                "above zero; give the item's size"
            )
    scale, stretch = _fitting(items)
    places, width, depth = _arranged(items, scale, stretch)
    mm = 1000.0 / scale
    shapes: list[Shape] = _walls(places, mm)
    boxes: list[Box] = []
    for place in places:
        new_shapes, new_boxes = _item(place, mm)
        shapes += new_shapes
        boxes += new_boxes
    sheet_width = width * mm + 2 * _MARGIN
    bottom = depth * mm + _TOP
    bar_shapes, bar_boxes = _scale_bar(scale, bottom + 10)
    return Drawing(
        title,
        max(sheet_width, 90.0),
        bottom + 16,
        (*shapes, *bar_shapes),
        (*boxes, *bar_boxes),
    )


def _needed(item: PlanItem, scale: int) -> tuple[float, float]:
    """Span and depth of an item in metres, with room for its words beside small ones."""
    mm = 1000.0 / scale
    words = max(text_width(w, _TEXT) for w in _lines(item)) + 3.0
    tall = len(_lines(item)) * _LINE + 2.0
    inside = words <= item.length * mm and tall <= item.width * mm
    if inside:
        return item.span, item.depth
    return max(item.span, words / mm), item.depth + tall / mm


def _lines(item: PlanItem) -> list[str]:
    return [item.tag, item.label, f"{item.length:.1f} × {item.width:.1f} m"]


def _arranged(
    items: Sequence[PlanItem], scale: int, stretch: float
) -> tuple[list[_Place], float, float]:
    """Items in rows, left to right, indoors above and outdoors below; width and depth in metres."""
    indoors = [item for item in items if not item.outdoors]
    outdoors = [item for item in items if item.outdoors]
    area = sum(math.prod(_needed(item, scale)) for item in items)
    limit = max(
        stretch * math.sqrt(area * _ROOM[0] / _ROOM[1]),
        max(_needed(item, scale)[0] for item in items),
    )
    places: list[_Place] = []
    y = widest = 0.0
    for group in (indoors, outdoors):
        if group and places:
            y += 14.0 * scale / 1000.0
        x = row = 0.0
        for item in group:
            span, depth = _needed(item, scale)
            if x > 0 and x + span > limit + 1e-9:
                x, y, row = 0.0, y + row, 0.0
            places.append(_Place(item, x, y))
            x, row = x + span, max(row, depth)
            widest = max(widest, x)
        y += row
    return places, widest, y


def _walls(places: Sequence[_Place], mm: float) -> list[Shape]:
    inside = [p for p in places if not p.item.outdoors]
    if not inside:
        return []
    scale = round(1000.0 / mm)
    right = max(p.x + _needed(p.item, scale)[0] for p in inside) * mm
    bottom = max(p.y + _needed(p.item, scale)[1] for p in inside) * mm
    left, top = _MARGIN - 3, _TOP - 3
    right, bottom = right + _MARGIN + 3, bottom + _TOP + 3
    corners = ((left, top), (right, top), (right, bottom), (left, bottom))
    size = f"{(right - left - 6) / mm:.1f} × {(bottom - top - 6) / mm:.1f} m inside the walls"
    words = Words((left, top - 2.5), size, _TEXT, quiet=True)
    return [Stroke(corners, HEAVY, closed=True, layer="walls"), words]


def _item(place: _Place, mm: float) -> tuple[list[Shape], list[Box]]:
    item = place.item
    x, y = _MARGIN + place.x * mm, _TOP + place.y * mm
    left, top = x + item.left * mm, y + item.back * mm
    right, bottom = left + item.length * mm, top + item.width * mm
    free = _corners(x, y, x + item.span * mm, y + item.depth * mm)
    body = _corners(left, top, right, bottom)
    shapes: list[Shape] = [
        Stroke(free, LIGHT, closed=True, dashed=True, layer="access"),
        Stroke(body, MIDDLE, closed=True, fill="paper", layer="footprints"),
    ]
    lines = _lines(item)
    wide = max(text_width(line, _TEXT) for line in lines) + 3.0
    tall = len(lines) * _LINE + 2.0
    inside = wide <= right - left and tall <= bottom - top
    boxes = [Box(left, top, right, bottom, f"footprint {item.tag}")]
    at = (left + right) / 2 if inside else x + 1.0
    base = (top + bottom - tall) / 2 + 1.0 if inside else y + item.depth * mm + 0.6
    for number, line in enumerate(lines, 1):
        words = Words(
            (at, base + number * _LINE - 0.8),
            line,
            _TEXT,
            "middle" if inside else "start",
            bold=number == 1,
            quiet=number == 3,
        )
        shapes.append(words)
        boxes += [] if inside else [words_box(words)]
    return shapes, boxes


def _corners(
    left: float, top: float, right: float, bottom: float
) -> tuple[tuple[float, float], ...]:
    return ((left, top), (right, top), (right, bottom), (left, bottom))


def _scale_bar(scale: int, y: float) -> tuple[list[Shape], list[Box]]:
    metres = 5 if scale >= 100 else 2 if scale >= 50 else 1
    length = metres * 1000.0 / scale
    words = Words(
        (_MARGIN + length + 4, y + 1),
        f"{metres} m, 1:{scale}; dashed: space to keep free",
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
