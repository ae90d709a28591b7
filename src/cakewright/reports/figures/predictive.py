"""Readings of trial runs against what the model says before and after them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from cakewright.reports.figures.chart import Axes, draw, plain_axes
from cakewright.reports.palette import ACCENT, FAINT, INK, QUIET

__all__ = ["PredictiveRow", "figure_predictive"]

Triple = tuple[float, float, float]


@dataclass(frozen=True, slots=True)
class PredictiveRow:
    """One run: measured value with its spread, bands (10, 50, 90 %) before and after."""

    label: str
    measured: float
    sd: float
    before: Triple
    after: Triple
    odd: bool = False


def figure_predictive(rows: Sequence[PredictiveRow], *, y_label: str, alt: str, key: str) -> str:
    """Wide pale bars: before the runs; narrow bars: after; points: measured, with 2 sd."""

    def paint(figure: Axes) -> None:
        axes = figure.subplots()
        at = np.arange(len(rows))
        for x, row in zip(at, rows, strict=True):
            axes.bar(x, row.before[2] - row.before[0], 0.62, row.before[0], color=FAINT)
            axes.bar(x, row.after[2] - row.after[0], 0.3, row.after[0], color=ACCENT, alpha=0.45)
            axes.plot([x - 0.15, x + 0.15], [row.after[1]] * 2, color=ACCENT, linewidth=1.6)
            axes.errorbar(
                x, row.measured, 2.0 * row.sd, fmt="x" if row.odd else "o", color=INK,
                markersize=7 if row.odd else 4, elinewidth=1.0, capsize=2.5, zorder=5,
            )  # fmt: skip
        ends = [v for r in rows for v in (r.before[0], r.before[2], r.after[0], r.after[2])]
        ends += [r.measured + side * 2.0 * r.sd for r in rows for side in (-1.0, 1.0)]
        room = 0.05 * (max(ends) - min(ends))
        axes.set_ylim(min(ends) - room, max(ends) + room)
        axes.set_xticks(at, [row.label for row in rows], color=QUIET)
        plain_axes(axes, "run", y_label)

    return draw(key, alt, paint, width_mm=150, height_mm=75)
