"""Curves over one setting: a response with its band and tests, and costs that cross."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from cakewright.quantities import FloatArray
from cakewright.reports.figures.chart import Axes, draw, label_end, plain_axes
from cakewright.reports.palette import ACCENT, INK, PAPER, QUIET

__all__ = ["Curve", "figure_break_even", "figure_dose_response"]

_DASHES = ("solid", (0, (5, 2)), (0, (1.5, 1.5)), (0, (6, 2, 1.5, 2)), (0, (9, 3)), (0, (3, 4)))


@dataclass(frozen=True, slots=True)
class Curve:
    """One curve with its name; ``low`` and ``high`` are its band."""

    label: str
    values: FloatArray
    low: FloatArray | None = None
    high: FloatArray | None = None
    chosen: bool = False


def figure_dose_response(
    dose: FloatArray,
    response: Curve,
    tests: tuple[FloatArray, FloatArray] | None,
    *,
    x_label: str,
    y_label: str,
    alt: str,
    best: float | None = None,
    best_label: str = "",
    key: str = "dose",
) -> str:
    """Fitted response with its band, the tests as dots, and the dose it leads to."""

    def paint(figure: Axes) -> None:
        axes = figure.subplots()
        _band(axes, dose, response, ACCENT)
        axes.plot(dose, response.values, color=ACCENT)
        if tests is not None:
            axes.plot(*tests, "o", color=PAPER, markeredgecolor=INK, markersize=5.5, zorder=4)
        if best is not None:
            axes.axvline(best, color=INK, linewidth=0.9, linestyle=(0, (4, 3)))
            axes.annotate(
                best_label,
                (best, 0.02),
                xycoords=("data", "axes fraction"),
                xytext=(4, 0),
                textcoords="offset points",
                color=INK,
            )
        axes.margins(x=0.02)
        plain_axes(axes, x_label, y_label)

    return draw(key, alt, paint, width_mm=140, height_mm=85)


def figure_break_even(
    setting: FloatArray,
    curves: Sequence[Curve],
    *,
    x_label: str,
    y_label: str,
    alt: str,
    now: float | None = None,
    now_label: str = "this study",
    key: str = "break-even",
) -> str:
    """Several choices over one setting; told apart by dashes, named at their ends."""

    def paint(figure: Axes) -> None:
        axes = figure.subplots()
        ends = _apart([float(curve.values[-1]) for curve in curves], 0.06 * _range(curves))
        for at, curve in enumerate(curves):
            colour = ACCENT if curve.chosen else INK
            _band(axes, setting, curve, colour)
            dash = "solid" if curve.chosen else _DASHES[1 + at % (len(_DASHES) - 1)]
            axes.plot(setting, curve.values, color=colour, linestyle=dash)
            label_end(axes, float(setting[-1]), ends[at], curve.label, colour=colour)
        if now is not None:
            axes.axvline(now, color=QUIET, linewidth=0.9, linestyle=(0, (2, 2)))
            axes.annotate(
                now_label,
                (now, 1.0),
                xycoords=("data", "axes fraction"),
                xytext=(4, -8),
                textcoords="offset points",
                color=QUIET,
            )
        axes.margins(x=0)
        plain_axes(axes, x_label, y_label)

    return draw(key, alt, paint, width_mm=160, height_mm=90)


def _band(axes: Axes, x: FloatArray, curve: Curve, colour: str) -> None:
    if curve.low is not None and curve.high is not None:
        axes.fill_between(x, curve.low, curve.high, color=colour, alpha=0.16, linewidth=0)


def _range(curves: Sequence[Curve]) -> float:
    every = np.concatenate([curve.values for curve in curves])
    return float(every.max() - every.min()) or 1.0


def _apart(values: Sequence[float], least: float) -> list[float]:
    """The same values moved up just far enough that no two are closer than ``least``."""
    placed = list(values)
    last = -np.inf
    for at in sorted(range(len(values)), key=values.__getitem__):
        placed[at] = max(values[at], last + least)
        last = placed[at]
    return placed
