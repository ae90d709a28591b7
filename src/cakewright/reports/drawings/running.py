"""Lines as drawn: broken at crossings, with arrow heads and numbers where there is room."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from itertools import pairwise

from cakewright.reports.drawings.graph import Edge, LineKind
from cakewright.reports.drawings.shapes import (
    HEAVY,
    LIGHT,
    MIDDLE,
    Box,
    Disc,
    Point,
    Shape,
    Stroke,
    Words,
)
from cakewright.reports.svg_text import text_width

__all__ = ["WEIGHTS", "Line", "Tags", "broken_lines", "tag_width", "touch"]

WEIGHTS = {
    LineKind.MAIN: HEAVY,
    LineKind.SECONDARY: MIDDLE,
    LineKind.UTILITY: MIDDLE,
    LineKind.SIGNAL: LIGHT,
}
_ORDER = {kind: at for at, kind in enumerate(LineKind)}
_BREAK = 1.7
_NUMBER = 3.0
_LONG = 34.0


@dataclass(frozen=True, slots=True)
class Line:
    """One line of the diagram with its corner points."""

    edge: Edge
    points: tuple[Point, ...]

    @property
    def weight(self) -> float:
        """Width in millimetres."""
        return WEIGHTS[self.edge.kind]

    @property
    def segments(self) -> list[tuple[Point, Point]]:
        """Straight pieces."""
        return list(pairwise(self.points))


@dataclass
class Tags:
    """The numbers on the lines."""

    shapes: list[Shape] = field(default_factory=list)
    boxes: list[Box] = field(default_factory=list)
    places: dict[str, Box] = field(default_factory=dict)


def _crossing(a: tuple[Point, Point], b: tuple[Point, Point]) -> Point | None:
    """Where a level piece and an upright one cross inside both."""
    for level, upright in ((a, b), (b, a)):
        (x1, y1), (x2, y2) = level
        (x3, y3), (x4, y4) = upright
        if abs(y1 - y2) > 1e-6 or abs(x3 - x4) > 1e-6:
            continue
        inside = min(x1, x2) + 1e-6 < x3 < max(x1, x2) - 1e-6
        if inside and min(y3, y4) + 1e-6 < y1 < max(y3, y4) - 1e-6:
            return x3, y1
    return None


def broken_lines(lines: Sequence[Line], boxes: Sequence[Box]) -> tuple[list[Shape], Tags]:
    """Strokes and arrow heads of all lines, and their numbers."""
    breaks: dict[tuple[int, int], list[Point]] = {}
    crossings: list[Point] = []
    for i, first in enumerate(lines):
        for j in range(i + 1, len(lines)):
            second = lines[j]
            for a, piece in enumerate(first.segments):
                for b, other in enumerate(second.segments):
                    point = _crossing(piece, other)
                    if point is None:
                        continue
                    crossings.append(point)
                    less = _ORDER[first.edge.kind] > _ORDER[second.edge.kind]
                    breaks.setdefault((i, a) if less else (j, b), []).append(point)
    tags = _tags(lines, boxes, crossings)
    shapes: list[Shape] = []
    for i, line in enumerate(lines):
        for a, piece in enumerate(line.segments):
            gaps = [(point, _BREAK) for point in breaks.get((i, a), [])]
            gaps += _under_tag(tags.places.get(line.edge.key), piece)
            shapes += _pieces(line, piece, gaps, last=a == len(line.segments) - 1)
        shapes += _heads(line, crossings)
    return shapes, tags


def _under_tag(box: Box | None, piece: tuple[Point, Point]) -> list[tuple[Point, float]]:
    """The break a line has under its own number."""
    if box is None:
        return []
    middle = ((box.left + box.right) / 2, (box.top + box.bottom) / 2)
    along = abs(math.dist(piece[0], middle) + math.dist(middle, piece[1]) - math.dist(*piece))
    level = abs(piece[0][1] - piece[1][1]) < 1e-6
    half = ((box.right - box.left) if level else (box.bottom - box.top)) / 2
    return [(middle, half)] if along < 1e-6 else []


def _pieces(
    line: Line, piece: tuple[Point, Point], gaps: Iterable[tuple[Point, float]], *, last: bool
) -> list[Shape]:
    (x1, y1), (x2, y2) = piece
    length = math.dist(*piece) or 1.0
    ux, uy = (x2 - x1) / length, (y2 - y1) / length
    stop = length - (_head_length(line) * 0.8 if last else 0.0)
    # Half a width further at a corner, so that the two pieces meet squarely.
    stop += 0.0 if last else line.weight / 2
    at, parts = 0.0, []
    for gap, half in sorted((math.dist((x1, y1), g), half) for g, half in gaps):
        parts.append((at, gap - half))
        at = gap + half
    parts.append((at, stop))
    layer = f"lines {line.edge.kind}"
    return [
        Stroke(
            ((x1 + ux * a, y1 + uy * a), (x1 + ux * b, y1 + uy * b)),
            line.weight,
            dashed=line.edge.kind is LineKind.SIGNAL,
            layer=layer,
        )
        for a, b in parts
        if b > a
    ]


def _head_length(line: Line) -> float:
    if line.edge.plain:
        return 0.0
    return 3.4 if line.edge.kind is LineKind.MAIN else 2.8


def _heads(line: Line, crossings: Sequence[Point]) -> list[Shape]:
    """An arrow head where the line enters an apparatus, and after a corner on a long way."""
    plain = line.edge.plain
    heads = [] if plain else [_head(line, line.points[-2], line.points[-1])]
    for start, end in line.segments[1:-1]:
        if math.dist(start, end) < _LONG:
            continue
        for share in (0.8, 0.25, 0.7):
            tip = (start[0] + (end[0] - start[0]) * share, start[1] + (end[1] - start[1]) * share)
            if all(math.dist(tip, crossing) > 2 * _BREAK + 2 for crossing in crossings):
                heads.append(_head(line, start, tip))
                break
    return heads


def _head(line: Line, start: Point, tip: Point) -> Shape:
    length = _head_length(line)
    size = math.dist(start, tip) or 1.0
    ux, uy = (tip[0] - start[0]) / size, (tip[1] - start[1]) / size
    half = length * 0.32 + line.weight * 0.25
    base = (tip[0] - ux * length, tip[1] - uy * length)
    corners = (
        tip,
        (base[0] - uy * half, base[1] + ux * half),
        (base[0] + uy * half, base[1] - ux * half),
    )
    return Stroke(corners, LIGHT, closed=True, fill="ink", layer=f"lines {line.edge.kind}")


def _tags(lines: Sequence[Line], boxes: Sequence[Box], crossings: Sequence[Point]) -> Tags:
    tags = Tags()
    for line in lines:
        if not line.edge.number:
            continue
        box = _tag_place(line, lines, [*boxes, *tags.boxes], crossings)
        if box is None:
            continue
        middle = ((box.left + box.right) / 2, (box.top + box.bottom) / 2)
        tags.shapes.append(_tag_outline(box))
        at = (middle[0], middle[1] + _NUMBER * 0.35)
        tags.shapes.append(Words(at, line.edge.number, _NUMBER, "middle", layer="stream numbers"))
        tags.boxes.append(box)
        tags.places[line.edge.key] = box
    return tags


def tag_width(number: str) -> float:
    """How wide the number of a line is in its frame. [mm]"""
    return max(4.6, text_width(number, _NUMBER) + 1.8)


def _tag_outline(box: Box) -> Shape:
    height = box.bottom - box.top
    middle = ((box.left + box.right) / 2, (box.top + box.bottom) / 2)
    if box.right - box.left <= height * 1.15:
        return Disc(middle, height / 2, LIGHT, "paper", layer="stream numbers")
    corners = (
        (box.left, box.top),
        (box.right, box.top),
        (box.right, box.bottom),
        (box.left, box.bottom),
    )
    return Stroke(corners, LIGHT, closed=True, fill="paper", layer="stream numbers")


def _tag_place(
    line: Line, lines: Sequence[Line], boxes: Sequence[Box], crossings: Sequence[Point]
) -> Box | None:
    """First free place along the line, longest piece first, nearest its middle."""
    width, height = tag_width(line.edge.number), 4.6
    last = line.segments[-1]
    for start, end in sorted(line.segments, key=lambda piece: -math.dist(*piece)):
        head = _head_length(line) if (start, end) == last else 0.0
        free = math.dist(start, end) - head
        for step in range(21):
            share = 0.5 + (1 if step % 2 else -1) * ((step + 1) // 2) * 0.04
            if free > _LONG and not 0.34 < share < 0.62:
                continue
            along = share * free
            across = width if abs(start[1] - end[1]) < 1e-6 else height
            if along < across / 2 + 0.4 or along > free - across / 2 - 0.2:
                continue
            size = math.dist(start, end)
            x = start[0] + (end[0] - start[0]) * along / size
            y = start[1] + (end[1] - start[1]) * along / size
            box = Box(
                x - width / 2, y - height / 2, x + width / 2, y + height / 2, f"tag {line.edge.key}"
            )
            if _is_free(box, line, lines, boxes, crossings):
                return box
    return None


def _is_free(
    box: Box, line: Line, lines: Sequence[Line], boxes: Sequence[Box], crossings: Sequence[Point]
) -> bool:
    if any(box.meets(other, 0.5) for other in boxes):
        return False
    if any(box.meets(Box(x, y, x, y), _BREAK + 0.3) for x, y in crossings):
        return False
    return not any(
        box.meets(_piece_box(piece), 0.4)
        for other in lines
        if other is not line
        for piece in other.segments
    )


def _piece_box(piece: tuple[Point, Point]) -> Box:
    (x1, y1), (x2, y2) = piece
    return Box(min(x1, x2), min(y1, y2), max(x1, x2), max(y1, y2))


def touch(shapes: Iterable[Shape], point: Point, inward: Point) -> float:
    """How far inward from ``point`` the first outline of a symbol lies."""
    found = []
    for shape in shapes:
        if isinstance(shape, Stroke):
            ring = list(shape.points)
            # A vessel open at the top still ends at its rim.
            ring += [ring[0]] if shape.closed or shape.fill == "paper" else []
            pieces = pairwise(ring)
            found += [d for piece in pieces if (d := _ray(piece, point, inward)) is not None]
        elif isinstance(shape, Disc):
            along = -(point[0] * inward[0] + point[1] * inward[1])
            aside = math.dist(point, (-along * inward[0], -along * inward[1]))
            if aside <= shape.radius:
                found.append(along - math.sqrt(shape.radius**2 - aside**2))
    return min((d for d in found if d >= -1e-6), default=0.0)


def _ray(piece: tuple[Point, Point], point: Point, inward: Point) -> float | None:
    (x1, y1), (x2, y2) = piece
    dx, dy = x2 - x1, y2 - y1
    cross = inward[0] * dy - inward[1] * dx
    if abs(cross) < 1e-9:
        return None
    along = ((x1 - point[0]) * dy - (y1 - point[1]) * dx) / cross
    share = ((x1 - point[0]) * inward[1] - (y1 - point[1]) * inward[0]) / cross
    return along if -1e-6 <= share <= 1 + 1e-6 else None
