"""Small signs that tell answers apart by shape."""

from __future__ import annotations

from cakewright.jobs.findings import Answer
from cakewright.reports.palette import INK, PAPER
from cakewright.reports.svg_text import circle, document, line, path

__all__ = ["answer_glyph"]

_SIZE = 16.0


def answer_glyph(answer: Answer) -> str:
    """Full disc: suits; half disc: with care; crossed ring: does not suit."""
    middle, radius = _SIZE / 2, 6.0
    ring = circle(middle, middle, radius, fill=PAPER, stroke=INK, stroke_width=1.4)
    parts = [ring]
    if answer is Answer.SUITS:
        parts = [circle(middle, middle, radius, fill=INK, stroke=INK, stroke_width=1.4)]
    elif answer is Answer.WITH_CARE:
        parts.append(path(f"M8 2 A6 6 0 0 0 8 {_SIZE - 2} Z", fill=INK))
    else:
        parts.append(line(3.9, 12.1, 12.1, 3.9, stroke=INK, stroke_width=1.4))
    return document(parts, _SIZE, _SIZE, answer.value)
