"""Bars of a programme: when each step can start and how long it takes."""

from __future__ import annotations

from collections.abc import Sequence

from cakewright.line.programme import Scheduled
from cakewright.quantities.constants import WEEK
from cakewright.reports.palette import ACCENT, GRID, QUIET
from cakewright.reports.svg_text import document, line, rect, text, text_width

__all__ = ["figure_programme"]

_ROW, _BAR, _SIZE, _WIDTH, _TICK = 22.0, 10.0, 11.0, 760.0, 4


def figure_programme(steps: Sequence[Scheduled], alt: str) -> str:
    """Typical durations as bars from the order on; those that decide the end in the accent."""
    left = max(text_width(step.stage.label, _SIZE) for step in steps) + 14.0
    weeks = max(step.end for step in steps) / WEEK
    last = int(-(-weeks // _TICK) * _TICK)
    scale = (_WIDTH - left - 20.0) / last
    foot = 8.0 + _ROW * len(steps)
    parts = []
    for week in range(0, last + 1, _TICK):
        x = left + week * scale
        parts.append(line(x, 4.0, x, foot, stroke=GRID, stroke_width=0.6))
        parts.append(text(x, foot + 14.0, str(week), _SIZE, text_anchor="middle", fill=QUIET))
    for at, step in enumerate(steps):
        y = 8.0 + _ROW * at
        parts.append(text(0.0, y + _BAR, step.stage.label, _SIZE))
        start, end = (left + scale * t / WEEK for t in (step.start, step.end))
        fill = ACCENT if step.decides else QUIET
        parts.append(rect(start, y, max(end - start, 1.5), _BAR, fill=fill))
    told = "weeks from the order"
    parts.append(text(_WIDTH - 20.0, foot + 28.0, told, _SIZE, text_anchor="end", fill=QUIET))
    return document(parts, _WIDTH, foot + 34.0, alt)
