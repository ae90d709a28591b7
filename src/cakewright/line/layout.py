"""Where the items of a line stand: a room of rows in process order, tanks and skips outside."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from cakewright.errors import OutOfRangeError
from cakewright.line.items import Footprint

__all__ = ["Layout", "Place", "layout_of"]

# Lengths of the room to try, as shares of the side of a square of all floor space.
_TRIES = tuple(0.7 + 0.1 * at for at in range(24))
# Beyond so many items nobody builds the room; its size is told, but no best shape is sought.
_MOST_TRIED = 150
# No room wider than long, nor longer than this many times its width (judgement).
_LONGEST = 2.5


@dataclass(frozen=True, slots=True)
class Place:
    """One item and its back left corner, from the room's back left corner. [m]"""

    item: Footprint
    x: float
    y: float


@dataclass(frozen=True, slots=True)
class Layout:
    """The room [m] with what stands in it, and what stands outside."""

    length: float
    width: float
    inside: tuple[Place, ...]
    outside: tuple[Place, ...]

    @property
    def area(self) -> float:
        """Floor inside the walls. [m2]"""
        return self.length * self.width


def layout_of(prints: Sequence[Footprint]) -> Layout:
    """Rows in process order, neighbours sharing the way between them; of all lengths the least.

    The space in front of a row is the way to it; nothing stands in it, so what is drawn out of a
    machine has its room. What carries cake away stands behind its machine at the wall that the
    skip stands outside of.

    Parameters
    ----------
    prints : sequence
        Footprints of the items with the space each needs. [m]

    Returns
    -------
    layout_of : Layout
        Room and places. [m]

    Raises
    ------
    OutOfRangeError
        If a size is not positive.
    """
    for item in prints:
        if not (item.length > 0 and item.width > 0):
            raise OutOfRangeError(
                f"{item.tag}: got a footprint of {item.length} m by {item.width} m; both must be "
                "above zero; give the item's size"
            )
    indoors = _in_order([p for p in prints if not p.outdoors])
    outdoors = [p for p in prints if p.outdoors]
    if not indoors:
        return Layout(0.0, 0.0, (), tuple(_outside(outdoors, 0.0, 0.0)))
    side = math.sqrt(sum(_span(p) * _depth(p) for p in indoors))
    least = max(_span(p) for p in indoors)
    tries = _TRIES if len(indoors) <= _MOST_TRIED else (1.0,)
    found = [_rows(indoors, max(least, share * side)) for share in tries]
    shaped = [f for f in found if _LONGEST * f[2] >= f[1] >= f[2]] or found
    rows, length, width = min(shaped, key=lambda f: (round(f[1] * f[2], 6), f[1]))
    inside = tuple(place for row in rows for place in _to_the_right(row, length))
    way_out = next((p.y for p in reversed(inside) if _carries_cake(p.item)), 0.0)
    return Layout(length, width, inside, tuple(_outside(outdoors, length, way_out)))


def _span(item: Footprint) -> float:
    return item.access_left + item.length + item.access_right


def _depth(item: Footprint) -> float:
    return item.access_back + item.width + item.access_front


def _carries_cake(item: Footprint) -> bool:
    return item.tag.startswith("H-")


def _in_order(items: Sequence[Footprint]) -> list[Footprint]:
    """Process order, but what carries the cake away directly behind the machines."""
    carriers = [item for item in items if _carries_cake(item)]
    rest = [item for item in items if not _carries_cake(item)]
    machines = [at for at, item in enumerate(rest) if item.tag.startswith("D-")]
    after = machines[-1] + 1 if machines else len(rest)
    return [*rest[:after], *carriers, *rest[after:]]


def _between(one: Footprint, other: Footprint) -> float:
    """The way between two neighbours: the wider of what they ask for, half for long twins."""
    way = max(one.access_right, other.access_left)
    twins = one.tag[:-1] == other.tag[:-1] and one.tag[-1:].isalpha()
    return 0.5 * way if twins and one.length > way else way


def _rows(items: Sequence[Footprint], longest: float) -> tuple[list[list[Place]], float, float]:
    """Rows no longer than asked, with the length and the width of the room they need."""
    groups: list[list[tuple[Footprint, float]]] = []
    end = 0.0
    for item in items:
        if groups:
            last = groups[-1][-1][0]
            x = end + _between(last, item)
            # A row that a carrier leaves by is closed: the carrier ends at the wall.
            open_ = _carries_cake(item) or not _carries_cake(last)
            if open_ and x + item.length + item.access_right <= longest + 1e-9:
                groups[-1].append((item, x))
                end = x + item.length
                continue
        groups.append([(item, item.access_left)])
        end = item.access_left + item.length
    rows: list[list[Place]] = []
    y, front = 0.0, 0.0
    for group in groups:
        # In front of one row is behind the next: one way serves both.
        back = max(item.access_back for item, _ in group)
        y += max(front, back)
        rows.append([Place(item, x, y) for item, x in group])
        y += max(item.width for item, _ in group)
        front = max(item.access_front + item.width for item, _ in group) - max(
            item.width for item, _ in group
        )
    length = max(p.x + p.item.length + p.item.access_right for row in rows for p in row)
    return rows, length, y + front


def _to_the_right(row: Sequence[Place], length: float) -> list[Place]:
    """A row with a carrier ends at the wall of the skip; others stay at the left."""
    if not any(_carries_cake(place.item) for place in row):
        return list(row)
    last = row[-1]
    moved = length - last.x - last.item.length - last.item.access_right
    return [Place(p.item, p.x + moved, p.y) for p in row]


def _outside(items: Sequence[Footprint], length: float, way_out: float) -> list[Place]:
    """Skips at the right where the cake comes out, all else in a column at the left."""
    places: list[Place] = []
    at, y = 0.0, way_out
    for item in items:
        if item.tag.startswith("S-"):
            places.append(Place(item, length + item.access_left, y))
            y += item.width + item.access_back + item.access_front
        else:
            places.append(Place(item, -item.access_right - item.length, at + item.access_back))
            at += _depth(item)
    return places
