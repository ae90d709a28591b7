"""Operating characteristic: the chance that a test passes, against the true value."""

from __future__ import annotations

from cakewright.quantities import FloatArray
from cakewright.reports.figures.plot import Plot
from cakewright.reports.palette import ACCENT

__all__ = ["figure_characteristic"]


def figure_characteristic(
    true: FloatArray,
    chance: FloatArray,
    promise: float,
    *,
    x_label: str,
    alt: str,
    supplier: float,
    buyer: float,
    key: str,
) -> str:
    """Chance to pass in percent; the promise and both risks are marked.

    ``key`` names the figure for callers that keep several; the drawing itself needs no names.
    """
    plot = Plot.over(true, [100 * chance], width=360, height=250, limits=(0.0, 100.0))
    parts = [
        plot.axes(x_label, "chance to pass, %"),
        plot.level(100 * (1 - supplier), "supplier"),
        plot.level(100 * buyer, "buyer"),
        plot.upright(promise, "promise", dash=""),
        plot.curve(true, 100 * chance, colour=ACCENT, weight=1.8),
    ]
    return plot.drawn(parts, alt)
