"""A small control chart as plain SVG: dozens of them must not take long."""

from __future__ import annotations

from datetime import UTC, datetime

import numpy as np
from numpy.typing import NDArray

from cakewright.quantities import FloatArray
from cakewright.reports.palette import ACCENT, GRID, INK, QUIET
from cakewright.reports.svg_text import document, line, path, text

__all__ = ["small_chart"]

WIDTH, HEIGHT = 240.0, 132.0
LEFT, RIGHT, TOP, BOTTOM = 24.0, 236.0, 18.0, 112.0
REACH = 8.0  # standard deviations shown either way
_MONTHS = "Jan Feb Mar Apr May Jun Jul Aug Sep Oct Nov Dec"
_MOST_LABELS = 7


def _x(times: NDArray[np.int64]) -> FloatArray:
    span = max(float(times[-1] - times[0]), 1.0)
    return np.asarray(LEFT + (RIGHT - LEFT) * (times - times[0]) / span)


def _y(z: FloatArray) -> FloatArray:
    inside = np.clip(z, -REACH, REACH)
    return np.asarray((TOP + BOTTOM) / 2 - (BOTTOM - TOP) / (2 * REACH) * inside)


def _dots(x: FloatArray, y: FloatArray, size: float = 0.8) -> str:
    """Dots as one path: hundreds of elements would bloat the page."""
    good = np.isfinite(y)
    marks = (f"M{a:.1f} {b:.1f}h.01" for a, b in zip(x[good], y[good], strict=True))
    return path(
        "".join(marks), stroke=GRID, stroke_width=2 * size, stroke_linecap="round", fill="none"
    )


def _curve(x: FloatArray, y: FloatArray) -> str:
    good = np.isfinite(y)
    points = " ".join(f"{a:.1f},{b:.1f}" for a, b in zip(x[good], y[good], strict=True))
    return path(f"M{points}" if points else "", fill="none", stroke=ACCENT, stroke_width=1.3)


def _month_marks(times: NDArray[np.int64]) -> list[tuple[int, str]]:
    """First days of months within the range, thinned to a handful."""
    first, last = (datetime.fromtimestamp(int(t), UTC) for t in (times[0], times[-1]))
    found = []
    year, month = first.year, first.month
    while (year, month) <= (last.year, last.month):
        moment = int(datetime(year, month, 1, tzinfo=UTC).timestamp())
        if moment >= times[0]:
            found.append((moment, _MONTHS.split()[month - 1]))
        year, month = (year + 1, 1) if month == 12 else (year, month + 1)
    return found[:: max(1, -(-len(found) // _MOST_LABELS))]


def _frame(times: NDArray[np.int64]) -> list[str]:
    parts = [line(LEFT, TOP, LEFT, BOTTOM, stroke=QUIET, stroke_width=0.6)]
    parts.append(line(LEFT, BOTTOM, RIGHT, BOTTOM, stroke=QUIET, stroke_width=0.6))
    for level in (-5.0, 0.0, 5.0):
        y = float(_y(np.array([level]))[0])
        parts.append(line(LEFT - 3, y, LEFT, y, stroke=QUIET, stroke_width=0.6))
        words = f"{level:.0f}".replace("-", "\u2212")
        parts.append(text(LEFT - 5, y + 2.6, words, 7.5, text_anchor="end"))
    zero = float(_y(np.zeros(1))[0])
    parts.append(line(LEFT, zero, RIGHT, zero, stroke=QUIET, stroke_width=0.5))
    span = max(float(times[-1] - times[0]), 1.0)
    for moment, words in _month_marks(times):
        x = LEFT + (RIGHT - LEFT) * (moment - float(times[0])) / span
        parts.append(line(x, BOTTOM, x, BOTTOM + 3, stroke=QUIET, stroke_width=0.6))
        parts.append(text(x, BOTTOM + 11, words, 7.5, text_anchor="middle"))
    return parts


def small_chart(
    times: NDArray[np.int64],
    values: FloatArray,
    statistic: FloatArray,
    limit: float,
    beyond: NDArray[np.bool_],
    title: str,
    alt: str,
) -> str:
    """Readings as dots, the statistic as a line, limits as dashes, ticks where beyond."""
    x = _x(times)
    parts = [text(LEFT, 10, title, 8.5), *_frame(times), _dots(x, _y(values))]
    parts.append(_curve(x, _y(statistic)))
    for side in (limit, -limit):
        y = float(_y(np.array([side]))[0])
        parts.append(line(LEFT, y, RIGHT, y, stroke=INK, stroke_width=0.9, stroke_dasharray="5 3"))
    if beyond.any():
        ticks = "".join(f"M{a:.1f} {BOTTOM - 5:.0f}v4" for a in x[beyond])
        parts.append(path(ticks, stroke=INK, stroke_width=0.9, fill="none"))
    return document(parts, WIDTH, HEIGHT, alt, natural=False)
