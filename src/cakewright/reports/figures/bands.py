"""Bands drawn as bands: a strip for one figure, a chart for one quantity over several choices."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from cakewright.quantities import Band
from cakewright.reports.palette import ACCENT, FAINT, GRID, INK, PAPER, QUIET
from cakewright.reports.svg_text import circle, document, line, rect, text, text_width

__all__ = ["BandRow", "Scale", "band_chart", "band_strip", "round_scale"]

_STRIP_WIDTH, _STRIP_HEIGHT = 160.0, 28.0


@dataclass(frozen=True, slots=True)
class BandRow:
    """One choice: its words, its band and point in shown units, and whether it is chosen."""

    label: str
    band: Band
    point: float
    chosen: bool = False
    faint: bool = False
    value_text: str = ""


@dataclass(frozen=True, slots=True)
class Scale:
    """A round axis from ``low`` to ``high`` in steps."""

    low: float
    high: float
    step: float

    def at(self, value: float, left: float, width: float) -> float:
        """Place of a value, kept inside the axis."""
        share = (value - self.low) / (self.high - self.low)
        return left + min(max(share, 0.0), 1.0) * width

    @property
    def ticks(self) -> tuple[float, ...]:
        """Round values along the axis."""
        count = round((self.high - self.low) / self.step)
        return tuple(self.low + at * self.step for at in range(count + 1))

    def words(self, value: float) -> str:
        """A tick as text."""
        digits = next((d for d in range(9) if _is_whole(self.step * 10**d)), 9)
        return f"{value:.{digits}f}".replace("-", "\u2212")


def _is_whole(value: float) -> bool:
    return abs(value - round(value)) < 1e-6 and round(value) != 0


def round_scale(
    values: Sequence[float],
    *,
    from_zero: bool = False,
    steps: int = 4,
    limits: tuple[float, float] | None = None,
) -> Scale:
    """Axis with round ends that holds all values; ``limits`` are ends it must not pass."""
    low = 0.0 if from_zero and min(values) >= 0 else min(values)
    high = max(values)
    span = (high - low) or abs(high) or 1.0
    rough = span / steps
    power = 10.0 ** math.floor(math.log10(rough))
    step = next(power * m for m in (1, 2, 2.5, 5, 10) if power * m >= rough * 0.999)
    start, end = math.floor(low / step + 1e-9) * step, math.ceil(high / step - 1e-9) * step
    if limits is not None:
        start, end = max(start, limits[0]), min(end, limits[1])
    return Scale(start, end if end > start else start + step, step)


def band_strip(row: BandRow, others: Sequence[BandRow], scale: Scale, alt: str) -> str:
    """One figure as a band on its axis, with the other choices as faint ticks."""
    left, width = 8.0, _STRIP_WIDTH - 16.0
    middle = 10.0
    parts = [line(left, middle, left + width, middle, stroke=GRID, stroke_width=1)]
    for other in others:
        x = scale.at(other.point, left, width)
        parts.append(line(x, middle - 6, x, middle + 6, stroke=QUIET, stroke_width=1))
    low, high = (scale.at(v, left, width) for v in (row.band.p10, row.band.p90))
    parts.append(rect(low, middle - 5, max(high - low, 1.5), 10, fill=ACCENT, rx=1.5))
    x = scale.at(row.point, left, width)
    parts.append(line(x, middle - 9, x, middle + 9, stroke=INK, stroke_width=1.8))
    for value in (scale.low, scale.high):
        at = scale.at(value, left, width)
        words = scale.words(value)
        parts.append(line(at, middle - 3, at, middle + 3, stroke=GRID, stroke_width=1))
        start = value == scale.low
        edge = at - 8 if start else at + 8
        anchor = "start" if start else "end"
        parts.append(text(edge, _STRIP_HEIGHT - 0.8, words, 9, fill=QUIET, text_anchor=anchor))
    return document(parts, _STRIP_WIDTH, _STRIP_HEIGHT, alt)


def band_chart(
    rows: Sequence[BandRow],
    title: str,
    unit: str,
    alt: str,
    *,
    width: float = 340.0,
    limits: tuple[float, float] | None = None,
) -> str:
    """One quantity over several choices: bar from P10 to P90, stroke at the point case."""
    label_width = min(max(text_width(row.label, 10.5) for row in rows) + 16, width * 0.45)
    value_width = max((text_width(row.value_text, 10.5) for row in rows), default=0.0) + 10
    left, span = label_width, width - label_width - value_width
    values = [v for row in rows for v in (row.band.p10, row.band.p90, row.point)]
    scale = round_scale(values, from_zero=min(values) < 0.6 * max(values), steps=3, limits=limits)
    top, step = 26.0, 20.0
    bottom = top + step * len(rows)
    heading = f"{title}, {unit}" if unit else title
    parts = [text(0, 12, heading, 11.5, font_weight="600")]
    for tick in scale.ticks:
        x = scale.at(tick, left, span)
        parts.append(line(x, top - 4, x, bottom, stroke=FAINT, stroke_width=1))
        words = scale.words(tick)
        parts.append(text(x, bottom + 11, words, 9, fill=QUIET, text_anchor="middle"))
    for at, row in enumerate(rows):
        parts += _chart_row(row, scale, left, span, top + step * at + step / 2 - 2, width)
    return document(parts, width, bottom + 16, alt)


def _chart_row(
    row: BandRow, scale: Scale, left: float, span: float, y: float, width: float
) -> list[str]:
    weight = "600" if row.chosen else "400"
    ink = QUIET if row.faint else INK
    low, high = (scale.at(v, left, span) for v in (row.band.p10, row.band.p90))
    bar = rect(
        low,
        y - 4,
        max(high - low, 1.5),
        8,
        fill=ACCENT if row.chosen else PAPER if row.faint else GRID,
        stroke=ACCENT if row.chosen else QUIET,
        stroke_width=1,
        stroke_dasharray="2 2" if row.faint else "none",
        rx=1.5,
    )
    x = scale.at(row.point, left, span)
    mark = line(x, y - 6.5, x, y + 6.5, stroke=INK, stroke_width=1.6)
    dot = [circle(left - 6, y, 2.2, fill=ACCENT)] if row.chosen else []
    words = text(
        left - 12, y + 3.5, row.label, 10.5, text_anchor="end", font_weight=weight, fill=ink
    )
    value = text(
        width, y + 3.5, row.value_text, 10.5, text_anchor="end", font_weight=weight, fill=ink
    )
    return [bar, mark, *dot, words, value]
