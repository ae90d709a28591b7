"""A played week: tank level with its band, the full mark, and when the press ran."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from cakewright.quantities import FloatArray
from cakewright.reports.figures.chart import Axes, draw
from cakewright.reports.palette import ACCENT, INK, QUIET

__all__ = ["figure_week"]

_DAYS = ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun")


def figure_week(
    hours: FloatArray,
    level: FloatArray,
    low: FloatArray,
    high: FloatArray,
    full: float,
    runs: Sequence[tuple[float, float]],
    *,
    y_label: str,
    alt: str,
    key: str = "week",
) -> str:
    """Level of one tank over the hours of a week; ``runs`` are (start, end) of pressing."""

    def paint(figure: Axes) -> None:
        axes, strip = figure.subplots(2, 1, sharex=True, height_ratios=[8, 1])
        axes.fill_between(hours, low, high, color=ACCENT, alpha=0.2, linewidth=0)
        axes.plot(hours, level, color=ACCENT)
        axes.axhline(full, color=INK, linewidth=1.0, linestyle=(0, (5, 3)))
        axes.annotate(
            "full", (float(hours[0]), full), xytext=(3, 3), textcoords="offset points", color=INK
        )
        axes.set_ylim(0, max(full, float(np.max(high))) * 1.12)
        axes.set_ylabel(y_label)
        axes.grid(visible=True, axis="y")
        for start, end in runs:
            strip.axvspan(start, end, ymin=0.2, ymax=0.8, color=INK, linewidth=0)
        strip.set_yticks([0.5], ["press runs"])
        strip.set_ylim(0, 1)
        strip.tick_params(axis="y", length=0)
        strip.spines["left"].set_visible(False)
        days = np.arange(int(hours[0] // 24), int(np.ceil(hours[-1] / 24)))
        strip.set_xticks(days * 24 + 12, [_DAYS[int(day) % 7] for day in days])
        strip.tick_params(axis="x", length=0)
        for panel in (axes, strip):
            panel.set_xlim(float(hours[0]), float(hours[-1]))
            for day in days[1:]:
                panel.axvline(day * 24, color=QUIET, linewidth=0.4)

    return draw(key, alt, paint, width_mm=165, height_mm=85)
