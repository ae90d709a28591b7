"""What widens the answer: each input swung alone from its low to its high end."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from cakewright.reports.figures.bands import round_scale
from cakewright.reports.palette import FAINT, INK, PAPER, QUIET
from cakewright.reports.svg_text import document, line, rect, text, text_width

__all__ = ["Swing", "figure_tornado"]


@dataclass(frozen=True, slots=True)
class Swing:
    """One input: the result at its low and at its high end, and those ends in words."""

    label: str
    at_low: float
    at_high: float
    low_words: str
    high_words: str


def figure_tornado(
    swings: Sequence[Swing], base: float, title: str, unit: str, alt: str, *, width: float = 620.0
) -> str:
    """Bars round the point case, widest on top; the high end of each input is filled."""
    ordered = sorted(swings, key=lambda s: -abs(s.at_high - s.at_low))
    label = min(max(text_width(s.label, 10.5) for s in ordered) + 12, width * 0.36)
    ends = [v for s in ordered for v in (s.at_low, s.at_high)] + [base]
    scale = round_scale(ends, steps=4)
    side = max(text_width(w, 9) for s in ordered for w in (s.low_words, s.high_words)) + 8
    left, span = label + side, width - label - 2 * side
    top, step = 28.0, 24.0
    bottom = top + step * len(ordered)
    parts = [text(0, 12, f"{title}, {unit}" if unit else title, 11.5, font_weight="600")]
    parts.append(
        text(
            width,
            12,
            "input at its low end: light; high end: dark",
            9,
            fill=QUIET,
            text_anchor="end",
        )
    )
    for tick in scale.ticks:
        x = scale.at(tick, left, span)
        parts.append(line(x, top - 4, x, bottom, stroke=FAINT))
        words = scale.words(tick)
        parts.append(text(x, bottom + 13, words, 9, fill=QUIET, text_anchor="middle"))
    middle = scale.at(base, left, span)
    for at, swing in enumerate(ordered):
        y = top + step * at + step / 2
        parts.append(text(0, y + 3.5, swing.label, 10.5))
        for value, words, fill in (
            (swing.at_low, swing.low_words, PAPER),
            (swing.at_high, swing.high_words, QUIET),
        ):
            x = scale.at(value, left, span)
            before = value < base or (value == base and fill == PAPER)
            parts.append(rect(min(x, middle), y - 6, abs(x - middle), 12, fill=fill, stroke=QUIET))
            anchor = "end" if before else "start"
            parts.append(
                text(x + (-4 if before else 4), y + 3.2, words, 9, fill=QUIET, text_anchor=anchor)
            )
    parts.append(line(middle, top - 4, middle, bottom, stroke=INK, stroke_width=1.4))
    return document(parts, width, bottom + 18, alt)
