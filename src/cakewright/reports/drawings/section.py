"""Sections through the rows of a laid-out room, as seen from in front of them."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from cakewright.errors import OutOfRangeError
from cakewright.line.layout import Layout, Place
from cakewright.reports.drawings.plot_plan import measure_line, plan_scale
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

__all__ = ["room_rows", "room_sections"]

_TEXT, _MARGIN, _TOP, _STEP = 2.8, 22.0, 10.0, 3.6
_MOST_STEPS = 6


def room_rows(layout: Layout) -> tuple[tuple[Place, ...], ...]:
    """Items inside the walls by row, from the back."""
    rows: dict[float, list[Place]] = {}
    for place in layout.inside:
        rows.setdefault(round(place.y, 6), []).append(place)
    return tuple(tuple(rows[y]) for y in sorted(rows))


def room_sections(
    layout: Layout, room_height: float, bases: Mapping[str, float], title: str
) -> Drawing:
    """One section for each row at the plan's scale, with heights of items and room.

    Parameters
    ----------
    layout : Layout
        Room and places. [m]
    room_height : float
        Clear height of the room; > 0. [m]
    bases : mapping
        Height of the feet of items that do not stand on the floor, by tag. [m]
    title : str
        Title of the drawing.

    Returns
    -------
    room_sections : Drawing
        The sections one below the other. [mm on the sheet]

    Raises
    ------
    OutOfRangeError
        If nothing stands inside.
    """
    rows = room_rows(layout)
    if not rows:
        raise OutOfRangeError("a section needs at least one item inside; got none")
    mm = 1000.0 / plan_scale(layout)
    shapes: list[Shape] = []
    boxes: list[Box] = []
    y = _TOP
    for number, row in enumerate(rows):
        tallest = max(room_height, *(_base(p, bases) + p.item.height for p in row))
        deepest = -min(0.0, *(_base(p, bases) for p in row))
        floor = y + tallest * mm + 6.0
        made, taken = _section(chr(ord("A") + number), row, layout, room_height, bases, floor, mm)
        shapes += made
        boxes += taken
        y = floor + deepest * mm + 12.0
    return Drawing(title, layout.length * mm + 2 * _MARGIN + 14.0, y, tuple(shapes), tuple(boxes))


def _base(place: Place, bases: Mapping[str, float]) -> float:
    """Feet of an item; twins stand as high as their first."""
    return next((z for tag, z in bases.items() if place.item.tag.startswith(tag)), 0.0)


def _section(
    letter: str,
    row: Sequence[Place],
    layout: Layout,
    room_height: float,
    bases: Mapping[str, float],
    floor: float,
    mm: float,
) -> tuple[list[Shape], list[Box]]:
    left, right = _MARGIN, _MARGIN + layout.length * mm
    soffit = floor - room_height * mm
    head = Words((left - 14.0, soffit + 3.0), f"{letter}–{letter}", 3.4, bold=True)
    shapes: list[Shape] = [
        Stroke(((left, soffit), (left, floor)), HEAVY, layer="walls"),
        Stroke(((right, soffit), (right, floor)), HEAVY, layer="walls"),
        Stroke(((left - 6.0, floor), (right + 6.0, floor)), HEAVY, layer="walls"),
        Stroke(((left, soffit), (right, soffit)), LIGHT, dashed=True, layer="walls"),
        head,
        *measure_line((right + 9.0, soffit), (right + 9.0, floor), f"{room_height:.1f} m"),
    ]
    boxes = [words_box(s) for s in shapes if isinstance(s, Words)]
    bodies = []
    for place in row:
        low = floor - _base(place, bases) * mm
        x = left + place.x * mm
        box = Box(x, low - place.item.height * mm, x + place.item.length * mm, low,
                  f"item {place.item.tag}")  # fmt: skip
        bodies.append(box)
        shapes.append(Stroke(_corners(box), MIDDLE, closed=True, fill="paper", layer="footprints"))
        if low < floor:
            foot = Box(box.left, low, box.right, floor)
            shapes.append(Stroke(_corners(foot), LIGHT, closed=True, layer="plinths"))
    boxes += bodies
    for place, body in zip(row, bodies, strict=True):
        found = _label(place, body, boxes)
        if found:
            shapes += found
            boxes.append(words_box(found[0]))
    return shapes, boxes


def _corners(box: Box) -> tuple[Point, ...]:
    return (
        (box.left, box.top),
        (box.right, box.top),
        (box.right, box.bottom),
        (box.left, box.bottom),
    )


def _label(place: Place, body: Box, taken: Sequence[Box]) -> tuple[Words, Stroke] | None:
    """Tag and height above the item, higher where others stand in the way; None without room."""
    x = (body.left + body.right) / 2
    text = f"{place.item.tag} {place.item.height:.1f} m"
    for step in range(_MOST_STEPS):
        words = Words((x, body.top - 1.4 - step * _STEP), text, _TEXT, "middle", bold=True)
        own = words_box(words)
        if not any(own.meets(other) for other in taken):
            rod = Stroke(((x, own.bottom), (x, body.top)), LIGHT, layer="measures")
            return words, rod
    return None
