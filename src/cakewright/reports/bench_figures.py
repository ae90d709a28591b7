"""Figures of the bench: readings, fit, band, what was left out; residuals by test."""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache

import numpy as np

from cakewright.bench import Curve, Misfit
from cakewright.quantities import FloatArray, from_si
from cakewright.reports.figures.chart import Axes, draw, plain_axes
from cakewright.reports.numbers import unit_text
from cakewright.reports.palette import ACCENT, FAINT, INK, PAPER, QUIET

__all__ = ["figure_bench_curve", "figure_bench_residuals"]


def _scaled(values: FloatArray, unit: str, shown: str) -> FloatArray:
    return np.asarray(from_si(values, unit, shown))


def _label(words: str, shown: str) -> str:
    unit = unit_text(shown)
    return f"{words} ({unit})" if unit else words


def curve_alt(curve: Curve) -> str:
    """The figure in words."""
    left = int((~curve.used).sum())
    out = f", {left} left out" if left else ""
    return (
        f"{curve.title}: {len(curve.x)} readings{out}; {curve.y_axis.label} against "
        f"{curve.x_axis.label}, with the fit"
    )


@lru_cache(maxsize=256)
def figure_bench_curve(
    curve: Curve, key: str = "", *, width_mm: float = 78.0, height_mm: float = 62.0
) -> str:
    """One test: readings in use, readings left out, fit with its band, the part used."""

    def x_of(values: FloatArray) -> FloatArray:
        return _scaled(values, curve.x_axis.unit, curve.x_axis.shown)

    def y_of(values: FloatArray) -> FloatArray:
        return _scaled(values, curve.y_axis.unit, curve.y_axis.shown)

    def paint(figure: Axes) -> None:
        axes = figure.subplots()
        if curve.x_axis.log:
            axes.set_xscale("log")
        if curve.y_axis.log:
            axes.set_yscale("log")
        if curve.region is not None:
            low, high = x_of(np.array(curve.region))
            axes.axvspan(low, high, color=FAINT, linewidth=0, zorder=0)
        if curve.band_low is not None and curve.band_high is not None:
            axes.fill_between(
                x_of(curve.line_x), y_of(curve.band_low), y_of(curve.band_high),
                color=ACCENT, alpha=0.18, linewidth=0,
            )  # fmt: skip
        axes.plot(x_of(curve.line_x), y_of(curve.line_y), color=ACCENT)
        used = curve.used
        axes.plot(x_of(curve.x[used]), y_of(curve.y[used]), "o", color=PAPER,
                  markeredgecolor=INK, markersize=4.2, zorder=4)  # fmt: skip
        if not used.all():
            axes.plot(x_of(curve.x[~used]), y_of(curve.y[~used]), "x", color=QUIET,
                      markersize=5.0, zorder=4, label="left out")  # fmt: skip
            axes.legend(loc="best", handletextpad=0.2, fontsize=7.5)
        _marks(axes, [(words, float(x_of(np.array(place)))) for words, place in curve.marks])
        _limits(axes, curve)
        plain_axes(
            axes,
            _label(curve.x_axis.label, curve.x_axis.shown),
            _label(curve.y_axis.label, curve.y_axis.shown),
        )
        _plain_ticks(axes, curve)
        axes.set_title(curve.title, loc="left", fontsize=8.5, color=INK)

    return draw(key or curve.key, curve_alt(curve), paint, width_mm=width_mm, height_mm=height_mm)


def _marks(axes: Axes, marks: Sequence[tuple[str, float]]) -> None:
    for step, (words, place) in enumerate(marks):
        dash = (0, (4, 3)) if step == 0 else (0, (1.5, 1.5))
        axes.axvline(place, color=INK, linewidth=0.9, linestyle=dash)
        axes.annotate(
            words,
            (place, 0.98),
            xycoords=("data", "axes fraction"),
            xytext=(4 if step == 0 else -4, 0),
            textcoords="offset points",
            va="top",
            ha="left" if step == 0 else "right",
            color=INK,
            fontsize=7.5,
            bbox={"facecolor": PAPER, "edgecolor": "none", "pad": 0.4, "alpha": 0.85},
        )


def _limits(axes: Axes, curve: Curve) -> None:
    """Room for readings and line; a wide band at the ends must not squeeze them."""
    shown = _scaled(np.concatenate([curve.y, curve.line_y]), curve.y_axis.unit, curve.y_axis.shown)
    low, high = float(np.min(shown)), float(np.max(shown))
    if curve.y_axis.log:
        room = (high / low) ** 0.12 * 1.05
        axes.set_ylim(low / room, high * room)
    else:
        room = 0.12 * (high - low or abs(high) or 1.0)
        axes.set_ylim(max(low - room, 0.0) if low >= 0 else low - room, high + room)


def _plain_ticks(axes: Axes, curve: Curve) -> None:
    """Plain numbers on a logarithmic axis, few enough to read; powers of ten when large."""
    from matplotlib.ticker import FuncFormatter, LogLocator, NullFormatter

    for log, axis, values, of in (
        (curve.x_axis.log, axes.xaxis, (curve.line_x, curve.x), curve.x_axis),
        (curve.y_axis.log, axes.yaxis, (curve.line_y, curve.y), curve.y_axis),
    ):
        if not log:
            continue
        shown = _scaled(np.concatenate(values), of.unit, of.shown)
        low, high = float(np.min(shown)), float(np.max(shown))
        decades = float(np.log10(high / low))
        steps = (1.0,) if decades > 2.2 else ((1.0, 3.0) if decades > 1.2 else (1.0, 2.0, 5.0))
        axis.set_major_locator(LogLocator(subs=steps, numticks=12))
        axis.set_minor_formatter(NullFormatter())
        if high < 1e5:
            axis.set_major_formatter(FuncFormatter(lambda value, _: f"{value:g}"))


def figure_bench_residuals(misfits: Sequence[Misfit], key: str = "bench-residuals") -> str:
    """How far each test sits from the joint law, in its own standard deviations."""
    alt = f"Residuals of {len(misfits)} tests against the joint law, in standard deviations"

    def paint(figure: Axes) -> None:
        axes = figure.subplots()
        axes.axvspan(-2, 2, color=FAINT, linewidth=0, zorder=0)
        axes.axvline(0, color=QUIET, linewidth=0.8)
        for row, misfit in enumerate(reversed(misfits)):
            colour = ACCENT if misfit.contradicts else INK
            axes.plot(misfit.residuals, np.full(len(misfit.residuals), row), "o",
                      color=PAPER, markeredgecolor=colour, markersize=4.2)  # fmt: skip
        axes.set_yticks(range(len(misfits)), [misfit.test for misfit in reversed(misfits)])
        worst = max((float(np.max(np.abs(m.residuals))) for m in misfits), default=0.0)
        axes.set_xlim(-max(3.2, worst * 1.1), max(3.2, worst * 1.1))
        axes.set_ylim(-0.7, len(misfits) - 0.3)
        plain_axes(axes, "residual (standard deviations)", "", grid="x")

    height = 18.0 + 4.6 * max(len(misfits), 3)
    return draw(key, alt, paint, width_mm=160, height_mm=height)
