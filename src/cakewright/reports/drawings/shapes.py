"""What a drawing is made of, in millimetres on the sheet, x to the right and y downwards."""

from __future__ import annotations

import math
from dataclasses import dataclass, field, replace

from cakewright.reports.svg_text import text_width

__all__ = [
    "HEAVY",
    "LIGHT",
    "MIDDLE",
    "Box",
    "Disc",
    "Drawing",
    "Insert",
    "Point",
    "Shape",
    "Stroke",
    "Words",
    "arc",
    "moved",
    "scaled",
    "words_box",
]

# Line weights of process flow diagrams: main lines, apparatus and minor lines, fittings.
HEAVY, MIDDLE, LIGHT = 1.0, 0.5, 0.25

Point = tuple[float, float]


@dataclass(frozen=True, slots=True)
class Stroke:
    """A polyline; ``fill`` is "", "ink" or "paper"; ``layer`` names what it belongs to."""

    points: tuple[Point, ...]
    weight: float = MIDDLE
    closed: bool = False
    fill: str = ""
    dashed: bool = False
    layer: str = "apparatus"
    accent: bool = False


@dataclass(frozen=True, slots=True)
class Disc:
    """A circle."""

    centre: Point
    radius: float
    weight: float = MIDDLE
    fill: str = ""
    layer: str = "apparatus"
    accent: bool = False


@dataclass(frozen=True, slots=True)
class Words:
    """One line of text; ``at`` is the start, middle or end of its base line."""

    at: Point
    text: str
    size: float = 3.2
    anchor: str = "start"
    bold: bool = False
    quiet: bool = False
    layer: str = "text"


@dataclass(frozen=True, slots=True)
class Insert:
    """A symbol by its name, its middle ``at`` a point; ``tag`` and ``label`` say what it is.

    Drawn stroke by stroke where a format has no blocks.
    """

    at: Point
    name: str
    factor: float = 1.0
    tag: str = ""
    label: str = ""
    layer: str = "apparatus"


Shape = Stroke | Disc | Words | Insert


@dataclass(frozen=True, slots=True)
class Box:
    """A rectangle that something takes up; ``what`` says it in an error."""

    left: float
    top: float
    right: float
    bottom: float
    what: str = ""

    def meets(self, other: Box, gap: float = 0.0) -> bool:
        """True when the two share more than an edge."""
        apart = (
            self.right + gap <= other.left + 1e-9
            or other.right + gap <= self.left + 1e-9
            or self.bottom + gap <= other.top + 1e-9
            or other.bottom + gap <= self.top + 1e-9
        )
        return not apart


@dataclass(frozen=True, slots=True)
class Drawing:
    """A finished drawing: its shapes and size, and the boxes and lines the check looks at."""

    title: str
    width: float
    height: float
    shapes: tuple[Shape, ...]
    boxes: tuple[Box, ...] = ()
    runs: tuple[tuple[str, tuple[Point, ...]], ...] = field(default=())


def words_box(words: Words) -> Box:
    """Rectangle a text takes up."""
    width = text_width(words.text, words.size) * (1.06 if words.bold else 1.0)
    shift = {"start": 0.0, "middle": width / 2, "end": width}[words.anchor]
    x, y = words.at
    left = x - shift
    return Box(left, y - 0.78 * words.size, left + width, y + 0.22 * words.size, words.text)


def arc(centre: Point, radius: float, start: float, end: float, steps: int = 16) -> list[Point]:
    """Points of an arc; angles in degrees, clockwise from the right."""
    angles = [math.radians(start + (end - start) * at / steps) for at in range(steps + 1)]
    return [
        (centre[0] + radius * math.cos(angle), centre[1] + radius * math.sin(angle))
        for angle in angles
    ]


def moved(shape: Shape, dx: float, dy: float) -> Shape:
    """The same shape elsewhere."""
    match shape:
        case Stroke(points=points):
            return replace(shape, points=tuple((x + dx, y + dy) for x, y in points))
        case Disc(centre=(x, y)):
            return replace(shape, centre=(x + dx, y + dy))
        case Words(at=(x, y)):
            return replace(shape, at=(x + dx, y + dy))
        case Insert(at=(x, y)):
            return replace(shape, at=(x + dx, y + dy))


def scaled(shape: Shape, factor: float) -> Shape:
    """The same shape larger or smaller; line weights stay."""
    match shape:
        case Stroke(points=points):
            return replace(shape, points=tuple((x * factor, y * factor) for x, y in points))
        case Disc(centre=(x, y), radius=radius):
            return replace(shape, centre=(x * factor, y * factor), radius=radius * factor)
        case Words(at=(x, y), size=size):
            return replace(shape, at=(x * factor, y * factor), size=size * factor)
        case Insert(at=(x, y), factor=own):
            return replace(shape, at=(x * factor, y * factor), factor=own * factor)
