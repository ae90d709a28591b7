"""Figures of the watch: a series with what was expected, and a chart with its limits."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
from numpy.typing import NDArray

from cakewright.jobs.watch import WatchFindings
from cakewright.quantities import FloatArray
from cakewright.reports.figures.chart import Axes, draw
from cakewright.reports.numbers import Units, shown_array
from cakewright.reports.palette import ACCENT, GRID, INK, QUIET
from cakewright.reports.running_small_chart import small_chart
from cakewright.reports.running_words import label_of_indicator, unit_of
from cakewright.running.investigate import Watched
from cakewright.running.watching import ChartKind

__all__ = ["figure_against_expectation", "figure_chart", "figure_closure"]


def _dates(start: NDArray[np.int64]) -> NDArray[np.datetime64]:
    return start.astype("datetime64[s]")


def _date_axis(axes: Axes) -> None:
    from matplotlib import dates

    untyped: Any = dates
    locator = untyped.AutoDateLocator(minticks=3, maxticks=7)
    axes.xaxis.set_major_locator(locator)
    axes.xaxis.set_major_formatter(untyped.ConciseDateFormatter(locator, show_offset=False))


def _expected(
    findings: WatchFindings, name: str
) -> tuple[FloatArray, FloatArray, FloatArray] | None:
    one = findings.watching.expected.get({"cake_solids": "cake_solids", "capture": "loss"}[name])
    if one is None:
        return None
    if name == "capture":
        return 1 - one.high(), 1 - one.mean, 1 - one.low()
    return one.low(), one.mean, one.high()


def _mark(axes: Axes, moment: np.datetime64, words: str) -> None:
    axes.axvline(moment, color=INK, linewidth=0.8, linestyle=(0, (2, 2)))
    axes.annotate(
        words, (moment, 1.0), xycoords=("data", "axes fraction"), xytext=(3, -8),
        textcoords="offset points", color=INK, fontsize=7.5,
    )  # fmt: skip


def figure_against_expectation(
    findings: WatchFindings, name: str, units: Units, weeks: int = 10, height_mm: float = 62.0
) -> str:
    """Shifts of one indicator with the band that feed and settings should give, and the promise."""
    table, found = findings.table, findings.shifts[name]
    rows = table.start >= table.start[-1] - weeks * 7 * 86400
    times = _dates(table.start[rows])
    value = shown_array(name, found.value[rows], units)
    band = _expected(findings, name)

    def paint(figure: Axes) -> None:
        axes = figure.subplots()
        if band is not None:
            low, middle, high = (shown_array(name, line[rows], units) for line in band)
            axes.fill_between(times, low, high, color=QUIET, alpha=0.18, linewidth=0)
            axes.plot(times, middle, color=QUIET, linewidth=1.0)
        axes.plot(times, value, ".", color=ACCENT, markersize=3.5)
        promised = findings.site.promise.values.get(name)
        if promised is not None:
            line = float(shown_array(name, np.array([promised]), units)[0])
            axes.axhline(line, color=INK, linewidth=1.0, linestyle=(0, (5, 3)))
            axes.annotate("promised", (times[0], line), xytext=(2, 3), textcoords="offset points")
        for drift in findings.current[:1]:
            began = _dates(table.start[[drift.began]])[0]
            if rows[drift.began]:
                _mark(axes, began, "moved")
        axes.set_ylabel(f"{label_of_indicator(name)}, {unit_of(name, units)}")
        axes.grid(visible=True, axis="y", color=GRID)
        _date_axis(axes)

    alt = f"{label_of_indicator(name)} per shift, dots, against the band expected on that feed"
    return draw(f"run-{name}", alt, paint, height_mm=height_mm)


def _chart_line(watched: Watched, kind: ChartKind) -> tuple[FloatArray, float]:
    chart = next(c for c in watched.charts if c.kind is kind)
    return chart.statistic, chart.limit


def figure_chart(findings: WatchFindings, watched: Watched, weeks: int = 26) -> str:
    """EWMA of one watched series in standard deviations, with its limits and alarms."""
    table = findings.table
    rows = table.start >= table.start[-1] - weeks * 7 * 86400
    statistic, limit = _chart_line(watched, ChartKind.EWMA)
    sums = [chart.beyond[rows] for chart in watched.charts if chart.kind is ChartKind.CUSUM]
    beyond = sums[0] if sums else np.zeros(int(rows.sum()), dtype=bool)
    z = (watched.series[rows] - watched.usual.level) / watched.usual.scatter
    alt = f"EWMA chart of {watched.label} in standard deviations with limits at {limit:.2g}"
    return small_chart(table.start[rows], z, statistic[rows], limit, beyond, watched.label, alt)


def figure_closure(findings: WatchFindings, weeks: int = 26) -> str:
    """How far the raw solids and water balances stand open, in percent of what enters."""
    table, balance = findings.table, findings.balance
    rows = table.start >= table.start[-1] - weeks * 7 * 86400
    times = _dates(table.start[rows])
    lines: Sequence[tuple[str, FloatArray, str]] = (
        ("solids", balance.gap_solids, ACCENT), ("water", balance.gap_water, INK))  # fmt: skip

    def paint(figure: Axes) -> None:
        axes = figure.subplots()
        for label, gap, colour in lines:
            mark = "." if label == "solids" else "+"
            axes.plot(times, 100 * gap[rows], mark, color=colour, markersize=3.5, label=label)
        axes.axhline(0.0, color=QUIET, linewidth=0.6)
        axes.set_ylabel("in less out, % of in")
        axes.legend(loc="upper left", ncols=2)
        _date_axis(axes)

    return draw(
        "run-closure", "Gaps of the raw solids and water balance per shift", paint, height_mm=55
    )
