"""Curves over one setting: a response with its band and tests, and costs that cross."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from cakewright.quantities import FloatArray
from cakewright.reports.figures.plot import Plot
from cakewright.reports.palette import ACCENT, INK, QUIET
from cakewright.reports.svg_text import text_width

__all__ = [
    "Curve",
    "figure_break_even",
]

_DASHES = ("7 3", "2 2.2", "8 3 2 3", "12 4", "4 5")


@dataclass(frozen=True, slots=True)
class Curve:
    """One curve with its name; ``low`` and ``high`` are its band."""

    label: str
    values: FloatArray
    low: FloatArray | None = None
    high: FloatArray | None = None
    chosen: bool = False

    @property
    def drawn(self) -> list[FloatArray]:
        """Everything of it that takes up room."""
        edges = [edge for edge in (self.low, self.high) if edge is not None]
        return [self.values, *edges]


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
    """Several choices over one setting; told apart by dashes, named at their ends.

    ``key`` names the figure for callers that keep several; the drawing itself needs no names.
    """
    room = max(text_width(curve.label, 9.5) for curve in curves) + 10
    values = [array for curve in curves for array in curve.drawn]
    plot = Plot.over(setting, values, width=380, height=230, right=room)
    parts = [plot.axes(x_label, y_label)]
    if now is not None:
        parts.append(plot.upright(now, now_label, colour=QUIET, dash="2 2.5"))
    names = []
    for at, curve in enumerate(curves):
        colour = ACCENT if curve.chosen else INK
        if curve.low is not None and curve.high is not None:
            parts.append(plot.band(setting, curve.low, curve.high, colour))
        dash = "" if curve.chosen else _DASHES[at % len(_DASHES)]
        weight = 2.0 if curve.chosen else 1.2
        parts.append(plot.curve(setting, curve.values, colour=colour, dash=dash, weight=weight))
        names.append((float(curve.values[-1]), curve.label, colour))
    return plot.drawn([*parts, plot.ends(names)], alt)
