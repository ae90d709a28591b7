"""What a draughtsman would see at once: texts, symbols and lines on top of each other."""

from __future__ import annotations

from itertools import combinations, pairwise

from cakewright.reports.drawings.shapes import Box, Drawing, Point

__all__ = ["overlaps", "shared_runs"]

_SLACK = 0.05


def overlaps(drawing: Drawing) -> list[str]:
    """Every overlap in words; empty when the drawing is clean."""
    found = [
        f"{a.what} on {b.what}" for a, b in combinations(drawing.boxes, 2) if a.meets(b, -_SLACK)
    ]
    found += _lines_on_boxes(drawing)
    found += shared_runs(drawing)
    found += [f"{box.what} outside the sheet" for box in drawing.boxes if _outside(box, drawing)]
    return found


def _outside(box: Box, drawing: Drawing) -> bool:
    return (
        box.left < -_SLACK
        or box.top < -_SLACK
        or box.right > drawing.width + _SLACK
        or box.bottom > drawing.height + _SLACK
    )


def _pieces(points: tuple[Point, ...]) -> list[Box]:
    return [
        Box(min(x1, x2), min(y1, y2), max(x1, x2), max(y1, y2))
        for (x1, y1), (x2, y2) in pairwise(points)
    ]


def _lines_on_boxes(drawing: Drawing) -> list[str]:
    return [
        f"line {key} on {box.what}"
        for key, points in drawing.runs
        for box in drawing.boxes
        if box.what != f"tag {key}"
        for piece in _pieces(points)
        if piece.meets(box, -_SLACK)
    ]


def shared_runs(drawing: Drawing) -> list[str]:
    """Lines that run along each other."""
    found = []
    for (first, a), (second, b) in combinations(drawing.runs, 2):
        for piece in _pieces(a):
            for other in _pieces(b):
                level = piece.top == piece.bottom == other.top == other.bottom
                upright = piece.left == piece.right == other.left == other.right
                shared_x = min(piece.right, other.right) - max(piece.left, other.left)
                shared_y = min(piece.bottom, other.bottom) - max(piece.top, other.top)
                if (level and shared_x > _SLACK) or (upright and shared_y > _SLACK):
                    found.append(f"line {first} along line {second}")
    return found
